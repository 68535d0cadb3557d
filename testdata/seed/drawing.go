package seed

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math"

	"golang.org/x/image/draw"
	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"

	"leground/server/web/picture"
	"leground/tracker"
	"leground/tracker/care"
)

// The drawing's paper: 160 x 120 mm at 3 pixels a mm.
const (
	perMM      = 3
	paperW     = 160 * perMM
	paperH     = 120 * perMM
	legHalf    = 46 * perMM // half the leg's breadth
	letterSize = 3          // how many times larger than the font's 7 x 13
	boundary   = 1.25       // where the sore skin round a site ends, in its own radius
	grain      = 5          // pixels of one crust
	scaleMM    = 50
)

var (
	straw   = color.RGBA{214, 200, 160, 255}
	coat    = color.RGBA{120, 88, 60, 255}
	skin    = color.RGBA{196, 140, 122, 255}
	bed     = color.RGBA{170, 44, 48, 255}
	crust   = color.RGBA{150, 112, 60, 255}
	sore    = color.RGBA{206, 120, 104, 255}
	inkDark = color.RGBA{20, 20, 20, 255}
	inkPale = color.RGBA{250, 250, 250, 255}
)

// drawPhoto draws what stands for a photo: a leg, the sore at the size that was read, a scale bar, and the
// words MADE UP. It goes through the same door as a posted photo.
func drawPhoto(horse string, s *site, size tracker.Size) (care.NewPhoto, error) {
	img := image.NewRGBA(image.Rect(0, 0, paperW, paperH))
	drawLeg(img, s, size)
	drawScale(img)
	write(img, 12, 12, "MADE UP")
	write(img, 12, paperH-50, fmt.Sprintf("%s %s", horse, s.tag()))
	var posted bytes.Buffer
	if err := jpeg.Encode(&posted, img, &jpeg.Options{Quality: 92}); err != nil {
		return care.NewPhoto{}, err
	}
	ready, err := picture.Prepare(&posted)
	return care.NewPhoto{
		Photo: tracker.Photo{
			ID: tracker.PhotoID(care.NewID()), Width: ready.Width, Height: ready.Height, ThumbW: ready.ThumbWidth, ThumbH: ready.ThumbHeight,
			SHA256: ready.SHA256, Posted: ready.PostedSHA256,
		},
		Full: ready.Full, Thumb: ready.Thumb,
	}, err
}

// drawLeg fills the paper: straw, the coat of a leg that is darker at its edges, and the sore in it, longest
// way along the leg.
func drawLeg(img *image.RGBA, s *site, size tracker.Size) {
	wobble := float64(s.number) + 2*float64(s.leg)
	for y := range paperH {
		narrow := 15 * math.Sin(math.Pi*float64(y)/paperH) // a cannon is narrower in its middle
		for x := range paperW {
			across := float64(x-paperW/2) / (legHalf - narrow)
			if math.Abs(across) > 1 {
				img.SetRGBA(x, y, shade(straw, 1-0.06*float64((x/30+y/45)%3)))
				continue
			}
			light := 0.55 + 0.45*math.Sqrt(1-across*across)
			dx, dy := float64(x-paperW/2)/(perMM*float64(size.WidthMM)/2), float64(y-paperH/2)/(perMM*float64(size.LengthMM)/2)
			out := math.Hypot(dx, dy)
			if out < 2*boundary { // near enough for its ragged edge to matter
				angle := math.Atan2(dy, dx)
				out *= 1 + 0.05*math.Sin(3*angle+wobble) + 0.03*math.Sin(7*angle+2*wobble)
			}
			img.SetRGBA(x, y, shade(surface(s.kind, out, x, y), light))
		}
	}
}

// surface gives the colour at a place; out is how far it lies from the middle, 1 at the edge of the sore.
func surface(kind tracker.SiteKind, out float64, x, y int) color.RGBA {
	switch {
	case out > boundary:
		return shade(coat, 1-0.05*float64(x/8%3))
	case out > 1:
		return skin
	case kind == tracker.Wound:
		return bed
	case scattered(x/grain, y/grain) < 6:
		return crust
	}
	return sore
}

// scattered gives 0 to 9 without a pattern that the eye finds.
func scattered(x, y int) int {
	n := uint32(x)*2654435761 ^ uint32(y)*2246822519
	n ^= n >> 15
	return int(n * 3266489917 >> 16 % 10)
}

func shade(c color.RGBA, light float64) color.RGBA {
	dim := func(v uint8) uint8 { return uint8(float64(v) * light) }
	return color.RGBA{dim(c.R), dim(c.G), dim(c.B), 255}
}

// drawScale draws a bar of 50 mm in steps of 10 mm.
func drawScale(img *image.RGBA) {
	const left, top, height = paperW - (scaleMM+6)*perMM, paperH - 22, 12
	frame := image.Rect(left-3, top-3, left+scaleMM*perMM+3, top+height+3)
	draw.Draw(img, frame, image.NewUniform(inkDark), image.Point{}, draw.Src)
	for step := range scaleMM / 10 {
		ink := inkPale
		if step%2 == 1 {
			ink = inkDark
		}
		box := image.Rect(left+step*10*perMM, top, left+(step+1)*10*perMM, top+height)
		draw.Draw(img, box, image.NewUniform(ink), image.Point{}, draw.Src)
	}
	write(img, left, top-44, fmt.Sprintf("%d mm", scaleMM))
}

// write puts a line of large letters on a dark strip, its left top corner at x, y.
func write(img *image.RGBA, x, y int, text string) {
	face := basicfont.Face7x13
	small := image.NewRGBA(image.Rect(0, 0, face.Advance*len(text)+2, face.Height))
	draw.Draw(small, small.Bounds(), image.NewUniform(inkDark), image.Point{}, draw.Src)
	pen := font.Drawer{Dst: small, Src: image.NewUniform(inkPale), Face: face, Dot: fixed.P(1, face.Ascent)}
	pen.DrawString(text)
	size := small.Bounds().Size().Mul(letterSize)
	draw.NearestNeighbor.Scale(img, image.Rectangle{image.Pt(x, y), image.Pt(x, y).Add(size)}, small, small.Bounds(), draw.Src, nil)
}
