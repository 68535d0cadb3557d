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

// sideways is a large photo as a phone that was held upright stores it: lying on its side, with a note of how
// to turn it (Exif orientation 6, "rotate 90 degrees clockwise", CIPA DC-008) and of where it was taken.
func sideways(tb testing.TB) []byte {
	tb.Helper()
	plain := picture(tb, 2400, 1800)
	// "Exif", a little-endian TIFF header, and one directory of two entries: orientation, and a pointer to a
	// place whose directory is empty.
	exif := []byte("Exif\x00\x00II*\x00\x08\x00\x00\x00\x02\x00" +
		"\x12\x01\x03\x00\x01\x00\x00\x00\x06\x00\x00\x00" + "\x25\x88\x04\x00\x01\x00\x00\x00\x26\x00\x00\x00" + "\x00\x00\x00\x00" + "\x00\x00\x00\x00\x00\x00" + "SECRET PLACE 51.5N 0.1W")
	length := len(exif) + 2
	out := append([]byte{0xFF, 0xD8, 0xFF, 0xE1, byte(length >> 8), byte(length)}, exif...)
	return append(out, plain[2:]...)
}

// upright fails unless a stored photo of sideways stands: dark above light, taller than wide, nothing of its
// metadata left, and no longer than most (0: not looked at).
func upright(tb testing.TB, data []byte, most int) {
	tb.Helper()
	img, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		tb.Fatal(err)
	}
	size := img.Bounds().Size()
	if size.Y <= size.X || most > 0 && size.Y != most {
		tb.Errorf("the stored photo is %d wide and %d high", size.X, size.Y)
	}
	luma := func(y int) uint8 { return color.GrayModel.Convert(img.At(size.X/2, y)).(color.Gray).Y }
	if luma(size.Y/4) > luma(3*size.Y/4) {
		tb.Errorf("the stored photo stands on its head: %d above, %d below", luma(size.Y/4), luma(3*size.Y/4))
	}
	if bytes.Contains(data, []byte("SECRET")) || bytes.Contains(data, []byte("Exif")) {
		tb.Error("the stored photo still has its metadata")
	}
}
