package picture

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
)

// The four quarters of the test picture, as they stand in the file.
var (
	red   = color.RGBA{255, 0, 0, 255}
	green = color.RGBA{0, 255, 0, 255}
	blue  = color.RGBA{0, 0, 255, 255}
	white = color.RGBA{255, 255, 255, 255}
)

// quarters draws red and green over blue and white.
func quarters(w, h int) *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			img.SetRGBA(x, y, [][]color.RGBA{{red, green}, {blue, white}}[2*y/h][2*x/w])
		}
	}
	return img
}

// scene draws something with the detail of a photo: shades, edges and fine noise.
func scene(w, h int) *image.RGBA {
	img, noise := image.NewRGBA(image.Rect(0, 0, w, h)), rand.New(rand.NewPCG(1, 2))
	for y := range h {
		for x := range w {
			n := int(noise.Uint32() & 31)
			base := x*160/w + (x/97+y/61)%2*40
			o := img.PixOffset(x, y)
			img.Pix[o], img.Pix[o+1], img.Pix[o+2], img.Pix[o+3] = uint8(base+n), uint8(y*160/h+n), uint8(90+n), 255
		}
	}
	return img
}

func asJPEG(t testing.TB, img image.Image, quality int) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := jpeg.Encode(&out, img, &jpeg.Options{Quality: quality}); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func asPNG(t testing.TB, img image.Image) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := png.Encode(&out, img); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func file(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// gpsText stands in the made EXIF block where a phone writes where it was.
const gpsText = "51 30 26 N"

// exif writes a TIFF block with an orientation, the GPS position of a phone and a thumbnail's directory
// that says something else about the orientation.
func exif(orientation int) []byte {
	var b bytes.Buffer
	put := func(values ...any) {
		for _, v := range values {
			binary.Write(&b, binary.BigEndian, v)
		}
	}
	const ifd0, gps, ifd1, text = 8, 8 + 2 + 24 + 4, 8 + 30 + 2 + 12 + 4, 8 + 30 + 18 + 18
	put([]byte("MM"), uint16(42), uint32(ifd0))
	put(uint16(2), uint16(0x0112), uint16(3), uint32(1), uint16(orientation), uint16(0)) // Orientation
	put(uint16(0x8825), uint16(4), uint32(1), uint32(gps), uint32(ifd1))                 // GPS directory; next directory
	put(uint16(1), uint16(0x0002), uint16(2), uint32(len(gpsText)+1), uint32(text), uint32(0))
	put(uint16(1), uint16(0x0112), uint16(3), uint32(1), uint16(3), uint16(0), uint32(0))
	b.WriteString(gpsText + "\x00")
	return b.Bytes()
}

func segment(marker byte, content []byte) []byte {
	return append([]byte{0xff, marker, byte((len(content) + 2) >> 8), byte(len(content) + 2)}, content...)
}

// withSegments puts segments after the JPEG's first marker.
func withSegments(posted []byte, segments ...[]byte) []byte {
	return bytes.Join([][]byte{posted[:2], bytes.Join(segments, nil), posted[2:]}, nil)
}

func exifSegment(orientation int) []byte {
	return segment(0xe1, append([]byte("Exif\x00\x00"), exif(orientation)...))
}

// chunk writes a chunk of a PNG file.
func chunk(name string, content []byte) []byte {
	body := append([]byte(name), content...)
	out := binary.BigEndian.AppendUint32(nil, uint32(len(content)))
	return binary.BigEndian.AppendUint32(append(out, body...), crc32.ChecksumIEEE(body))
}

// pngWithEXIF puts an eXIf chunk after the header.
func pngWithEXIF(posted []byte, orientation int) []byte {
	const afterHeader = 8 + 25
	return bytes.Join([][]byte{posted[:afterHeader], chunk("eXIf", exif(orientation)), posted[afterHeader:]}, nil)
}

// webpWithEXIF wraps a simple WebP file of a size in the extended form with an EXIF chunk.
func webpWithEXIF(posted []byte, w, h, orientation int) []byte {
	riff := func(name string, content []byte) []byte {
		out := binary.LittleEndian.AppendUint32([]byte(name), uint32(len(content)))
		return append(append(out, content...), make([]byte, len(content)%2)...)
	}
	const exifFlag = 8
	head := []byte{exifFlag, 0, 0, 0, byte(w - 1), byte((w - 1) >> 8), 0, byte(h - 1), byte((h - 1) >> 8), 0}
	body := bytes.Join([][]byte{[]byte("WEBP"), riff("VP8X", head), posted[12:], riff("EXIF", exif(orientation))}, nil)
	return append(binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(len(body))), body...)
}
