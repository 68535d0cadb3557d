package draw

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"os"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/image/vector"

	"leground/tracker"
)

// update rewrites the golden drawings and the icon files instead of comparing with them.
var update = flag.Bool("update", false, "rewrite golden files and icons")

type iconShape struct {
	light  bool // paper on ink, or ink again
	points [][2]float64
}

var iconInk, iconPaper = color.RGBA{0x14, 0x18, 0x1D, 0xFF}, color.RGBA{0xFB, 0xF8, 0xF1, 0xFF}

// iconShapes gives the icon in a field of 512 by 512: the lower leg of the leg drawing cut like a
// stencil, beside a horse's four posts seen from above, the right hind one filled. All of it lies in
// the middle circle of four fifths, so that a phone may round the corners.
func iconShapes(t *testing.T) []iconShape {
	const scale = 1.72
	at := func(x, y float64) [2]float64 { return [2]float64{110 + scale*x, 256 + scale*(y-208)} }
	var shapes []iconShape
	for _, b := range foreSide()[3:] {
		var points [][2]float64
		for _, pair := range strings.Fields(b.shapes[0]) {
			xs, ys, _ := strings.Cut(pair, ",")
			x, errX := strconv.ParseFloat(xs, 64)
			y, errY := strconv.ParseFloat(ys, 64)
			if errX != nil || errY != nil {
				t.Fatal(pair)
			}
			points = append(points, at(x, y))
		}
		shapes = append(shapes, iconShape{true, points})
	}
	for _, cut := range [][4]float64{{20, 168, 80, 168}, {20, 206, 80, 206}, {8, 238.5, 70, 247.8}, {0, 248.2, 72, 257.8}} {
		const half = 1.6
		shapes = append(shapes, iconShape{false, [][2]float64{at(cut[0], cut[1]-half), at(cut[2], cut[3]-half), at(cut[2], cut[3]+half), at(cut[0], cut[1]+half)}})
	}
	box := func(light bool, x, y, w, h float64) {
		shapes = append(shapes, iconShape{light, [][2]float64{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}})
	}
	box(true, 332, 150, 16, 222)
	box(true, 304, 150, 72, 16)
	for _, leg := range tracker.Legs() {
		x, y := 270.0, 196.0
		if !leg.Left() {
			x = 364
		}
		if !leg.Fore() {
			y = 306
		}
		box(true, x, y, 46, 46)
		if leg != tracker.RH {
			box(false, x+11, y+11, 24, 24)
		}
	}
	return shapes
}

func iconSVG(shapes []iconShape) []byte {
	s := new(svg)
	s.WriteString(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 512 512"><path fill="#14181d" d="M0,0H512V512H0Z"/>`)
	for _, shape := range shapes {
		fill := "#14181d"
		if shape.light {
			fill = "#fbf8f1"
		}
		words := make([]string, len(shape.points))
		for i, p := range shape.points {
			words[i] = num(p[0]) + "," + num(p[1])
		}
		s.add(`<path fill="%s" d="M%sZ"/>`, fill, strings.Join(words, " "))
	}
	s.WriteString("</svg>\n")
	return []byte(s.String())
}

// iconPNG paints the icon at a size in sixteen steps from ink to paper.
func iconPNG(t *testing.T, shapes []iconShape, size int) []byte {
	picture := image.NewRGBA(image.Rect(0, 0, size, size))
	draw.Draw(picture, picture.Bounds(), image.NewUniform(iconInk), image.Point{}, draw.Src)
	k := float32(size) / 512
	for _, shape := range shapes {
		z := vector.NewRasterizer(size, size)
		for i, p := range shape.points {
			if i == 0 {
				z.MoveTo(float32(p[0])*k, float32(p[1])*k)
			} else {
				z.LineTo(float32(p[0])*k, float32(p[1])*k)
			}
		}
		z.ClosePath()
		ink := iconInk
		if shape.light {
			ink = iconPaper
		}
		z.Draw(picture, picture.Bounds(), image.NewUniform(ink), image.Point{})
	}
	var palette color.Palette
	for i := range 16 {
		mix := func(a, b uint8) uint8 { return uint8((int(a)*(15-i) + int(b)*i) / 15) }
		palette = append(palette, color.RGBA{mix(iconInk.R, iconPaper.R), mix(iconInk.G, iconPaper.G), mix(iconInk.B, iconPaper.B), 0xFF})
	}
	small := image.NewPaletted(picture.Bounds(), palette)
	draw.Draw(small, small.Bounds(), picture, image.Point{}, draw.Src)
	var out bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&out, small); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// TestIcon keeps the committed icon files equal to what the leg drawing gives. The PNGs are compared
// by pixel, since compression may change between releases of Go, and within one step of sixteen,
// since the rasterizer has a variant in assembly.
func TestIcon(t *testing.T) {
	shapes := iconShapes(t)
	for _, shape := range shapes {
		for _, p := range shape.points {
			if dx, dy := p[0]-256, p[1]-256; shape.light && dx*dx+dy*dy > 205*205 {
				t.Errorf("%v lies outside the middle four fifths", p)
			}
		}
	}
	golden(t, "../static/icon.svg", iconSVG(shapes))
	for _, size := range []int{192, 512} {
		name := fmt.Sprintf("../static/icon-%d.png", size)
		want := iconPNG(t, shapes, size)
		if *update {
			if err := os.WriteFile(name, want, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		file, err := os.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		got, err := png.Decode(file)
		file.Close()
		if err != nil {
			t.Fatal(err)
		}
		wanted, err := png.Decode(bytes.NewReader(want))
		if err != nil {
			t.Fatal(err)
		}
		if got.Bounds() != wanted.Bounds() {
			t.Fatalf("%s is %v", name, got.Bounds())
		}
		for y := range size {
			for x := range size {
				a, _, _, _ := got.At(x, y).RGBA()
				b, _, _, _ := wanted.At(x, y).RGBA()
				if d := int(a>>8) - int(b>>8); d > 20 || d < -20 {
					t.Fatalf("%s differs at %d,%d: go test -run Icon -update draws it again", name, x, y)
				}
			}
		}
	}
}

// golden compares with a committed file, or writes it with -update.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	if *update {
		if err := os.WriteFile(name, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s has changed. Look at the drawing; if it is meant, run go test -update in this folder.\ngot  %.600s\nwant %.600s", name, got, want)
	}
}
