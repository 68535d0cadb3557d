package web_test

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"testing"
)

// picture makes a photo: a dark left half and a light right half, so that its way up can be told.
func picture(tb testing.TB, width, height int) []byte {
	tb.Helper()
	img := image.NewRGBA(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			img.Set(x, y, color.Gray{Y: uint8(40 + 150*(2*x/width))})
		}
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, img, nil); err != nil {
		tb.Fatal(err)
	}
	return out.Bytes()
}
