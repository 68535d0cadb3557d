package picture

import (
	"bytes"
	"image"
	"image/jpeg"

	"golang.org/x/image/draw"

	"leground/tracker"
)

// decodeSmall decodes a picture, makes it small enough to be stored and turns it upright. The large
// picture is garbage when it returns.
func (k kind) decodeSmall(posted []byte) (*image.RGBA, error) {
	large, err := k.decode(bytes.NewReader(posted))
	if err != nil || large.Bounds().Empty() {
		return nil, unreadable()
	}
	return turn(onWhite(shrink(large, tracker.PhotoEdge)), k.orientation(posted)), nil
}

// shrink makes the longer edge at most edge pixels. It halves while the picture is at least twice as large
// as wanted and then takes one last step: the quick scaler looks at four pixels for each new one, which is
// all of them when it halves.
func shrink(src image.Image, edge int) *image.RGBA {
	want := fit(src.Bounds().Size(), edge)
	for {
		size := src.Bounds().Size()
		next := want
		if max(size.X, size.Y) >= 2*max(want.X, want.Y) {
			next = image.Pt(max(1, size.X/2), max(1, size.Y/2))
		}
		dst := image.NewRGBA(image.Rectangle{Max: next})
		draw.ApproxBiLinear.Scale(dst, dst.Bounds(), src, src.Bounds(), draw.Src, nil)
		if next == want {
			return dst
		}
		src = dst
	}
}

// fit gives the size of a picture whose longer edge is at most edge. It never enlarges.
func fit(size image.Point, edge int) image.Point {
	long := max(size.X, size.Y)
	if long <= edge {
		return size
	}
	scaled := func(n int) int { return max(1, (n*edge+long/2)/long) }
	return image.Pt(scaled(size.X), scaled(size.Y))
}

// onWhite puts white behind what is transparent, which a JPEG would show black.
func onWhite(img *image.RGBA) *image.RGBA {
	if img.Opaque() {
		return img
	}
	out := image.NewRGBA(img.Bounds())
	draw.Draw(out, out.Bounds(), image.White, image.Point{}, draw.Src)
	draw.Draw(out, out.Bounds(), img, image.Point{}, draw.Over)
	return out
}

// turn brings a picture upright. The orientation is that of TIFF 6.0, tag 274: from 5 on rows and columns
// are exchanged; then the picture is mirrored across, both ways or down.
func turn(src *image.RGBA, orientation int) *image.RGBA {
	if orientation == 1 {
		return src
	}
	size := src.Bounds().Size()
	exchange := orientation >= 5
	across, down := orientation == 2 || orientation == 3 || orientation == 6 || orientation == 7,
		orientation == 3 || orientation == 4 || orientation == 7 || orientation == 8
	to := size
	if exchange {
		to = image.Pt(size.Y, size.X)
	}
	dst := image.NewRGBA(image.Rectangle{Max: to})
	for y := range size.Y {
		for x := range size.X {
			p := image.Pt(x, y)
			if exchange {
				p = image.Pt(y, x)
			}
			if across {
				p.X = to.X - 1 - p.X
			}
			if down {
				p.Y = to.Y - 1 - p.Y
			}
			from, into := src.PixOffset(x, y), dst.PixOffset(p.X, p.Y)
			copy(dst.Pix[into:into+4], src.Pix[from:from+4])
		}
	}
	return dst
}

// The JPEG qualities that are tried, best first.
const (
	bestQuality  = 85
	worstQuality = 45
	qualityStep  = 5
)

// packed is a picture as it is stored.
type packed struct {
	jpeg []byte
	size image.Point
}

// pack writes a picture as a JPEG of at most so many bytes: with less quality, and a picture of nothing
// but noise also smaller.
func pack(img *image.RGBA, most int) (packed, error) {
	for {
		for quality := bestQuality; quality >= worstQuality; quality -= qualityStep {
			var out bytes.Buffer
			if err := jpeg.Encode(&out, img, &jpeg.Options{Quality: quality}); err != nil {
				return packed{}, err
			}
			if out.Len() <= most {
				return packed{out.Bytes(), img.Bounds().Size()}, nil
			}
		}
		size := img.Bounds().Size()
		img = shrink(img, max(1, max(size.X, size.Y)*3/4))
	}
}
