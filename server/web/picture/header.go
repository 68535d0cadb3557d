package picture

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"math"
	"slices"
	"time"

	"github.com/bep/imagemeta"
	"golang.org/x/image/webp"
)

const (
	maxPixels = 50_000_000
	// maxMemory is what decoding one picture may take, in bytes. It is why a progressive JPEG, which is held
	// as coefficients first, may have fewer pixels than a plain one.
	maxMemory = 200_000_000
	// maxScans is far above what programs write (about 10). Each scan of a progressive JPEG visits the whole
	// picture however few bytes it has, so that a small file could keep the machine busy for hours.
	maxScans = 100
)

// kind is a sort of picture file that can be read.
type kind struct {
	format imagemeta.ImageFormat
	config func(io.Reader) (image.Config, error)
	decode func(io.Reader) (image.Image, error)
	weigh  func(posted []byte, config image.Config) (bytesPerPixel float64, err error)
}

// sniff tells from the first bytes what a file is, whatever it was called.
func sniff(posted []byte) (kind, error) {
	at := func(offset int, text string) bool {
		return len(posted) >= offset+len(text) && string(posted[offset:offset+len(text)]) == text
	}
	switch {
	case len(posted) == 0:
		return kind{}, refuse("The photo is empty. Take it again.")
	case len(posted) > maxPosted:
		return kind{}, refuse("The photo is larger than 20 MB. Set the camera to a smaller picture size and take it again.")
	case at(0, "\xff\xd8\xff"):
		return kind{imagemeta.JPEG, jpeg.DecodeConfig, jpeg.Decode, weighJPEG}, nil
	case at(0, "\x89PNG\r\n\x1a\n"):
		return kind{imagemeta.PNG, png.DecodeConfig, png.Decode, weighPNG}, nil
	case at(0, "RIFF") && at(8, "WEBP"):
		return kind{imagemeta.WebP, webp.DecodeConfig, webp.Decode, weighWebP}, nil
	case at(4, "ftyp") && len(posted) >= 12 && slices.Contains(heicBrands(), string(posted[8:12])):
		return kind{}, refuse("The photo is a HEIC file, which cannot be read here. Set the phone's camera to save JPEG (“most compatible”) and take it again.")
	}
	return kind{}, refuse("This file is not a photo that can be read here. Choose a JPEG, PNG or WebP picture.")
}

// heicBrands are the major brands of HEIF files with HEVC pictures (ISO/IEC 23008-12, from memory).
func heicBrands() []string {
	return []string{"heic", "heix", "heim", "heis", "hevc", "hevx", "hevm", "hevs", "mif1", "msf1"}
}

// checkHeader refuses a picture that says it is too large, before anything of it is decoded.
func (k kind) checkHeader(posted []byte) error {
	config, err := k.config(bytes.NewReader(posted))
	if err != nil || config.Width < 1 || config.Height < 1 {
		return unreadable()
	}
	weight, err := k.weigh(posted, config)
	if err != nil {
		return err
	}
	pixels, most := float64(config.Width)*float64(config.Height), min(maxPixels, maxMemory/weight)
	if pixels > most {
		return refuse("The photo has %.0f million pixels. From a file of its kind at most %.0f million can be read: set the camera to a smaller picture size and take it again.",
			math.Ceil(pixels/1e6), math.Floor(most/1e6))
	}
	return nil
}

// weighJPEG walks the file's markers as the decoder does. Planes are subsampled; a progressive file is
// held as coefficients of 32 bits besides; four planes, and three full ones that may be RGB, are copied
// into one of four bytes a pixel.
func weighJPEG(posted []byte, _ image.Config) (float64, error) {
	weight, scans := 0.0, 0
	for at := 2; ; {
		for at < len(posted) && posted[at] != 0xff {
			at++
		}
		for at < len(posted) && posted[at] == 0xff {
			at++
		}
		if at+2 >= len(posted) || posted[at] == 0xd9 { // end of image
			break
		}
		marker := posted[at]
		at++
		if marker == 0 || marker >= 0xd0 && marker <= 0xd8 { // a stuffed byte, or a marker without a segment
			continue
		}
		end := at + int(posted[at])<<8 + int(posted[at+1])
		switch marker {
		case 0xc0, 0xc1, 0xc2:
			if end > len(posted) || end < at+8 {
				return 0, unreadable()
			}
			weight = max(weight, weighFrame(posted[at+7:end], marker == 0xc2))
		case 0xda:
			scans++
		}
		at = max(at, end)
	}
	if scans > maxScans || weight == 0 {
		return 0, unreadable()
	}
	return weight, nil
}

// weighFrame reads the sampling factors of a frame's components.
func weighFrame(components []byte, progressive bool) float64 {
	samples, h, v := 0, 1, 1
	n := int(components[0])
	for i := range n {
		if 2+3*i >= len(components) {
			break
		}
		factors := components[2+3*i]
		samples += int(factors>>4) * int(factors&15)
		h, v = max(h, int(factors>>4)), max(v, int(factors&15))
	}
	weight := max(1, float64(samples)/float64(h*v))
	if progressive {
		weight *= 5
	}
	if n == 4 || n == 3 && samples == 3*h*v {
		weight += 4
	}
	return weight
}

// weighPNG counts an interlaced picture twice: its passes are decoded apart.
func weighPNG(posted []byte, config image.Config) (float64, error) {
	const interlace = 28 // where the header says whether
	weight := 4.0
	switch config.ColorModel {
	case color.Gray16Model, color.RGBA64Model, color.NRGBA64Model:
		weight = 8
	}
	if posted[interlace] != 0 {
		weight *= 2
	}
	return weight, nil
}

// weighWebP counts two pictures of four bytes a pixel, which the lossless decoder and a lossy picture's
// transparency need, and the subsampled planes.
func weighWebP([]byte, image.Config) (float64, error) { return 9.5, nil }

// orientation gives how the camera was held, 1 to 8, as EXIF says it; 1 when it says nothing that can be
// read: whatever is wrong with the metadata, the picture is still a picture.
func (k kind) orientation(posted []byte) int {
	found := make(chan int, 1) // a decoder that runs into its timeout goes on for a moment
	_, _ = imagemeta.Decode(imagemeta.Options{
		R: bytes.NewReader(posted), ImageFormat: k.format, Sources: imagemeta.EXIF,
		LimitNumTags: 1000, LimitTagSize: 1000, Timeout: 2 * time.Second,
		ShouldHandleTag: func(tag imagemeta.TagInfo) bool { return tag.Tag == "Orientation" && tag.Namespace == "IFD0" },
		HandleTag: func(tag imagemeta.TagInfo) error {
			if value, ok := tag.Value.(uint16); ok && value >= 1 && value <= 8 {
				found <- int(value)
			}
			return imagemeta.ErrStopWalking
		},
	})
	select {
	case value := <-found:
		return value
	default:
		return 1
	}
}
