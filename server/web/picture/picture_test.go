package picture

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"math/rand/v2"
	"runtime"
	"strings"
	"testing"
	"testing/iotest"

	"leground/tracker"
)

func prepare(t testing.TB, posted []byte) Ready {
	t.Helper()
	ready, err := Prepare(bytes.NewReader(posted))
	if err != nil {
		t.Fatal(err)
	}
	check(t, ready)
	return ready
}

// check holds what is promised of every picture. The limits are the project's own. The markers
// are those of a bare baseline JPEG (ITU-T T.81, table B.1): a picture without other segments has no place
// for metadata.
func check(t testing.TB, ready Ready) {
	t.Helper()
	for _, part := range []struct {
		data              []byte
		w, h, edge, bytes int
	}{{ready.Full, ready.Width, ready.Height, 1600, 350 * 1024}, {ready.Thumb, ready.ThumbWidth, ready.ThumbHeight, 320, 20 * 1024}} {
		img, err := jpeg.Decode(bytes.NewReader(part.data))
		if err != nil {
			t.Fatal(err)
		}
		if size := img.Bounds().Size(); size != image.Pt(part.w, part.h) {
			t.Errorf("the JPEG is %v, Ready says %dx%d", size, part.w, part.h)
		}
		if max(part.w, part.h) > part.edge || min(part.w, part.h) < 1 {
			t.Errorf("%dx%d does not fit in %d", part.w, part.h, part.edge)
		}
		if len(part.data) > part.bytes {
			t.Errorf("%d bytes, more than %d", len(part.data), part.bytes)
		}
		for _, marker := range markers(part.data) {
			if !bytes.Contains([]byte{0xd8, 0xdb, 0xc0, 0xc4, 0xda, 0xd9}, []byte{marker}) {
				t.Errorf("marker %x: only SOI, DQT, SOF0, DHT, SOS and EOI may stand in a stored picture", marker)
			}
		}
	}
	if sum := sha256.Sum256(ready.Full); ready.SHA256 != hex.EncodeToString(sum[:]) {
		t.Error("SHA256 is not that of the stored bytes")
	}
}

// markers lists a JPEG's markers, walking by the lengths of its segments.
func markers(data []byte) []byte {
	var out []byte
	for i := 0; i+1 < len(data); {
		if data[i] != 0xff || data[i+1] == 0 {
			i++
			continue
		}
		out = append(out, data[i+1])
		i += 2
		if m := data[i-1]; m != 0xd8 && m != 0xd9 && i+1 < len(data) {
			i += int(binary.BigEndian.Uint16(data[i:]))
		}
	}
	return out
}

// corners names the colour in the middle of each quarter: top left, top right, bottom left, bottom right.
func corners(t testing.TB, data []byte) string {
	t.Helper()
	img, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	w, h := img.Bounds().Dx(), img.Bounds().Dy()
	var names []string
	for _, p := range []image.Point{{w / 4, h / 4}, {3 * w / 4, h / 4}, {w / 4, 3 * h / 4}, {3 * w / 4, 3 * h / 4}} {
		names = append(names, name(img.At(p.X, p.Y)))
	}
	return strings.Join(names, " ")
}

func name(c color.Color) string {
	for n, want := range map[string]color.RGBA{"red": red, "green": green, "blue": blue, "white": white} {
		r, g, b, _ := c.RGBA()
		if near(r, want.R) && near(g, want.G) && near(b, want.B) {
			return n
		}
	}
	return fmt.Sprint(c)
}

func near(have uint32, want uint8) bool {
	d := int(have>>8) - int(want)
	return d > -40 && d < 40
}

// The eight orientations in the words of TIFF 6.0 (Adobe, 1992), tag 274: which visual side the file's
// 0th row and 0th column stand for. The file's 0th row is red green, its 0th column red blue.
func TestTurnsUpright(t *testing.T) {
	tests := []struct {
		row, column string
		upright     string // top left, top right, bottom left, bottom right
	}{
		1: {"top", "left", "red green blue white"},
		2: {"top", "right", "green red white blue"},
		3: {"bottom", "right", "white blue green red"},
		4: {"bottom", "left", "blue white red green"},
		5: {"left", "top", "red blue green white"},
		6: {"right", "top", "blue red white green"},
		7: {"right", "bottom", "white green blue red"},
		8: {"left", "bottom", "green white red blue"},
	}
	plain := asJPEG(t, quarters(60, 40), 95)
	for o, tc := range tests[1:] {
		o++
		t.Run(fmt.Sprintf("%d row %s column %s", o, tc.row, tc.column), func(t *testing.T) {
			for kind, posted := range map[string][]byte{
				"jpeg":        withSegments(plain, exifSegment(o)),
				"progressive": withSegments(file(t, "progressive.jpg"), exifSegment(o)),
				"png":         pngWithEXIF(asPNG(t, quarters(60, 40)), o),
				"webp":        webpWithEXIF(file(t, "plain.webp"), 60, 40, o),
			} {
				ready := prepare(t, posted)
				want := image.Pt(60, 40)
				if tc.row == "left" || tc.row == "right" {
					want = image.Pt(40, 60)
				}
				if have := image.Pt(ready.Width, ready.Height); have != want {
					t.Errorf("%s: %v, want %v", kind, have, want)
				}
				for part, data := range map[string][]byte{"full": ready.Full, "thumb": ready.Thumb} {
					if have := corners(t, data); have != tc.upright {
						t.Errorf("%s %s: %s, want %s", kind, part, have, tc.upright)
					}
				}
			}
		})
	}
}

// Files that another program wrote (ImageMagick 6.9.11), of the same four quarters.
func TestReadsOtherProgramsFiles(t *testing.T) {
	for _, name := range []string{"progressive.jpg", "cmyk.jpg", "plain.webp", "lossless.webp"} {
		if have := corners(t, prepare(t, file(t, name)).Full); have != "red green blue white" {
			t.Errorf("%s: %s", name, have)
		}
	}
}

func TestTwelveMegapixels(t *testing.T) {
	posted := withSegments(asJPEG(t, scene(4000, 3000), 92), exifSegment(6))
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	ready, err := Prepare(bytes.NewReader(posted))
	if err != nil {
		t.Fatal(err)
	}
	runtime.ReadMemStats(&after)
	check(t, ready)
	// All that was allocated, freed or not, is more than the peak. The bound lets an idle process of 80 MB
	// take a photo on a computer with 256 MB.
	if cost := (after.TotalAlloc - before.TotalAlloc) >> 20; cost > 100 {
		t.Errorf("%d MB posted, %d MB allocated", len(posted)>>20, cost)
	}
	if ready.Width != 1200 || ready.Height != 1600 || ready.ThumbWidth != 240 || ready.ThumbHeight != 320 {
		t.Errorf("%d x %d and %d x %d, want 1200 x 1600 and 240 x 320", ready.Width, ready.Height, ready.ThumbWidth, ready.ThumbHeight)
	}
	if sum := sha256.Sum256(posted); ready.PostedSHA256 != hex.EncodeToString(sum[:]) {
		t.Error("PostedSHA256 is not that of the posted bytes")
	}
	if again := prepare(t, posted); !bytes.Equal(again.Full, ready.Full) || !bytes.Equal(again.Thumb, ready.Thumb) {
		t.Error("the same photo twice gave two pictures")
	}
}

// A picture of nothing but noise is the worst case of a JPEG encoder.
func TestNoiseFits(t *testing.T) {
	noise, img := rand.New(rand.NewPCG(3, 4)), image.NewRGBA(image.Rect(0, 0, 1600, 1600))
	for i := range img.Pix {
		img.Pix[i] = byte(noise.Uint32()) | byte(i%4/3*255)
	}
	ready := prepare(t, asJPEG(t, img, 95))
	if ready.Width < 800 {
		t.Errorf("only %d pixels are left", ready.Width)
	}
}

func TestSmallAndOddShapes(t *testing.T) {
	for _, tc := range []struct{ w, h, wantW, wantH int }{
		{1, 1, 1, 1}, {300, 200, 300, 200}, {1600, 900, 1600, 900}, {1601, 3, 1600, 3}, {3, 6000, 1, 1600}, {9000, 1, 1600, 1}, {3199, 2000, 1600, 1000},
	} {
		ready := prepare(t, asJPEG(t, scene(tc.w, tc.h), 80))
		if ready.Width != tc.wantW || ready.Height != tc.wantH {
			t.Errorf("%dx%d gave %dx%d, want %dx%d", tc.w, tc.h, ready.Width, ready.Height, tc.wantW, tc.wantH)
		}
	}
}

func TestTransparentIsWhite(t *testing.T) {
	img := image.NewNRGBA(image.Rect(0, 0, 40, 40)) // see-through black
	if have := corners(t, prepare(t, asPNG(t, img)).Full); have != "white white white white" {
		t.Error(have)
	}
}

// Where the photo was taken, in each of the places that phones and programs write it.
func TestMetadataIsGone(t *testing.T) {
	posted := withSegments(asJPEG(t, scene(200, 100), 90), exifSegment(1),
		segment(0xe1, []byte("http://ns.adobe.com/xap/1.0/\x00<x:xmpmeta><exif:GPSLatitude>51,30.4N</exif:GPSLatitude></x:xmpmeta>")),
		segment(0xe2, []byte("ICC_PROFILE\x00\x01\x01a profile")),
		segment(0xed, []byte("Photoshop 3.0\x008BIM\x04\x04 Marlpit Yard")),
		segment(0xfe, []byte("a comment about Marlpit Yard")))
	posted = append(posted, "a second picture after the first: "+gpsText...)
	ready := prepare(t, posted)
	for _, mark := range []string{"Exif", gpsText, "xmpmeta", "ns.adobe.com", "GPSLatitude", "ICC_PROFILE", "Photoshop", "Marlpit"} {
		if !bytes.Contains(posted, []byte(mark)) {
			t.Fatalf("the test does not post %q", mark)
		}
		if bytes.Contains(ready.Full, []byte(mark)) || bytes.Contains(ready.Thumb, []byte(mark)) {
			t.Errorf("%q is still there", mark)
		}
	}
}

func TestBrokenMetadataIsNoReason(t *testing.T) {
	plain, whole := asJPEG(t, quarters(60, 40), 90), exif(6)
	for _, broken := range [][]byte{
		nil, []byte("MM"), whole[:9], whole[:20], exif(0), exif(9), exif(65535),
		bytes.Replace(whole, []byte{0, 0, 0, 8}, []byte{0xff, 0xff, 0xff, 0xff}, 1), // a directory outside
		bytes.Replace(whole, []byte{0, 2, 1, 0x12}, []byte{0xff, 0xff, 1, 0x12}, 1), // 65,535 tags
		bytes.Replace(whole, []byte{0, 0, 0, 56}, []byte{0, 0, 0, 8}, 1),            // directories in a ring
	} {
		prepare(t, withSegments(plain, segment(0xe1, append([]byte("Exif\x00\x00"), broken...))))
	}
}

func TestRefusesWithASentence(t *testing.T) {
	whole := asJPEG(t, scene(400, 300), 85)
	header := func(w, h uint32, depth, colour, interlace byte) []byte {
		ihdr := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)
		return append([]byte("\x89PNG\r\n\x1a\n"), chunk("IHDR", append(ihdr, depth, colour, 0, 0, interlace))...)
	}
	// A JPEG header of three components with the given sampling of the first.
	frame := func(marker byte, w, h uint16, sampling byte) []byte {
		content := []byte{8, byte(h >> 8), byte(h), byte(w >> 8), byte(w), 3, 1, sampling, 0, 2, 0x11, 0, 3, 0x11, 0}
		scan := segment(0xda, []byte{3, 1, 0, 2, 0x11, 3, 0x11, 0, 63, 0})
		return bytes.Join([][]byte{{0xff, 0xd8}, segment(marker, content), scan, {0xff, 0xd9}}, nil)
	}
	const unread, large = "could not be read", "million pixels"
	for what, tc := range map[string]struct {
		posted []byte
		says   string
	}{
		"nothing":               {nil, "is empty"},
		"text":                  {[]byte("hello, this is no picture"), "not a photo"},
		"a film":                {[]byte("\x00\x00\x00\x18ftypisom\x00\x00\x02\x00isomiso2"), "not a photo"},
		"HEIC":                  {[]byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"), "HEIC"},
		"GIF":                   {[]byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;"), "JPEG, PNG or WebP"},
		"too many bytes":        {make([]byte, 20<<20+1), "larger than 20 MB"},
		"half a JPEG":           {whole[:len(whole)/2], unread},
		"a JPEG's first bytes":  {whole[:20], unread},
		"JPEG 65535 x 65535":    {frame(0xc0, 65535, 65535, 0x22), "4295 million pixels"},
		"JPEG 51 Mpx":           {frame(0xc0, 8500, 6000, 0x22), "at most 50 million"},
		"progressive 27 Mpx":    {frame(0xc2, 6000, 4500, 0x22), "at most 26 million"},
		"full planes 30 Mpx":    {frame(0xc0, 6000, 5000, 0x11), "at most 28 million"},
		"no pixels":             {frame(0xc0, 0, 10, 0x22), unread},
		"PNG 60,000 x 60,000":   {header(60000, 60000, 8, 2, 0), large},
		"PNG 2 billion wide":    {header(1<<31-1, 1, 8, 2, 0), large},
		"PNG 16 bits 30 Mpx":    {header(6000, 5000, 16, 6, 0), "at most 25 million"},
		"PNG interlaced 30 Mpx": {header(6000, 5000, 8, 6, 1), "at most 25 million"},
		"PNG without a picture": {header(60, 50, 8, 6, 0), unread},
		"WebP 16,384 square":    {[]byte("RIFF\x1e\x00\x00\x00WEBPVP8L\x05\x00\x00\x00\x2f\xff\xff\xff\x0f\x00"), "269 million pixels"},
		"WebP small outside":    {append([]byte("RIFF\x2a\x00\x00\x00WEBPVP8X\x0a\x00\x00\x00\x00\x00\x00\x00\x07\x00\x00\x07\x00\x00"), "VP8L\x05\x00\x00\x00\x2f\xff\xff\xff\x0f\x00"...), unread},
		"too many scans":        {manyScans(file(t, "progressive.jpg")), unread},
	} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		_, err := Prepare(bytes.NewReader(tc.posted))
		runtime.ReadMemStats(&after)
		if err == nil {
			t.Errorf("%s: taken", what)
			continue
		}
		if tracker.KindOf(err) != tracker.Invalid || !strings.Contains(err.Error(), tc.says) {
			t.Errorf("%s: %q does not say %q", what, err, tc.says)
		}
		if text := err.Error(); !strings.HasSuffix(text, ".") || !strings.Contains(text, "hoose ") && !strings.Contains(text, "take it again") && !strings.Contains(text, "Take it again") {
			t.Errorf("%s: %q does not say what to do", what, text)
		}
		// Reading 20 MB costs at most that much again for each doubling of its buffer.
		if cost := after.TotalAlloc - before.TotalAlloc; cost > 2<<20+6*uint64(len(tc.posted)) {
			t.Errorf("%s: refused only after %d bytes of memory", what, cost)
		}
	}
}

// manyScans repeats the last scan of a progressive JPEG.
func manyScans(whole []byte) []byte {
	last := bytes.LastIndex(whole, []byte{0xff, 0xda})
	return bytes.Join([][]byte{whole[:last], bytes.Repeat(whole[last:len(whole)-2], 120), {0xff, 0xd9}}, nil)
}

func TestABrokenConnection(t *testing.T) {
	_, err := Prepare(io.MultiReader(strings.NewReader("\xff\xd8\xff"), iotest.ErrReader(errors.New("connection reset"))))
	if tracker.KindOf(err) != tracker.Unavailable || !strings.Contains(err.Error(), "Send it again.") || !strings.Contains(err.Error(), "connection reset") {
		t.Error(err)
	}
}

func TestOneAtATime(t *testing.T) {
	desk := NewDesk()
	reached, release := make(chan struct{}), make(chan struct{})
	first := make(chan error)
	go func() {
		_, err := desk.Prepare(context.Background(), slow{bytes.NewReader(asJPEG(t, quarters(8, 8), 90)), reached, release})
		first <- err
	}()
	<-reached
	gone, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := desk.Prepare(gone, iotest.ErrReader(errors.New("read while another photo was at the desk"))); !errors.Is(err, context.Canceled) {
		t.Errorf("a second photo did not wait: %v", err)
	}
	close(release)
	if err := <-first; err != nil {
		t.Error(err)
	}
	if _, err := desk.Prepare(context.Background(), bytes.NewReader(asJPEG(t, quarters(8, 8), 90))); err != nil {
		t.Errorf("the desk is not free again: %v", err)
	}
}

// slow tells when it is first read and then waits.
type slow struct {
	io.Reader
	reached, release chan struct{}
}

func (s slow) Read(p []byte) (int, error) {
	select {
	case s.reached <- struct{}{}:
		<-s.release
	case <-s.release:
	}
	return s.Reader.Read(p)
}

func FuzzPrepare(f *testing.F) {
	plain := asJPEG(f, quarters(24, 16), 80)
	for _, seed := range [][]byte{
		plain, withSegments(plain, exifSegment(6)), plain[:len(plain)/2], asPNG(f, quarters(24, 16)), pngWithEXIF(asPNG(f, quarters(24, 16)), 5),
		webpWithEXIF(file(f, "plain.webp"), 60, 40, 8), file(f, "lossless.webp"), file(f, "progressive.jpg"), file(f, "cmyk.jpg"),
		manyScans(file(f, "progressive.jpg")), []byte("\x00\x00\x00\x18ftypheic"),
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, posted []byte) {
		ready, err := Prepare(bytes.NewReader(posted))
		if err != nil {
			if tracker.KindOf(err) != tracker.Invalid {
				t.Errorf("%v is no sentence for people", err)
			}
			return
		}
		check(t, ready)
	})
}
