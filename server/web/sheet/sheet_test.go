package sheet

import (
	"bytes"
	"compress/zlib"
	"html/template"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"leground/server/web/draw"
	"leground/tracker"
)

func picture(t *testing.T, wide, high int) Photo {
	t.Helper()
	img := image.NewGray(image.Rect(0, 0, wide, high))
	for i := range img.Pix {
		img.Pix[i] = uint8(i)
	}
	img.SetGray(0, 0, color.Gray{})
	var out bytes.Buffer
	if err := jpeg.Encode(&out, img, nil); err != nil {
		t.Fatal(err)
	}
	return Photo{Caption: "RH 2, Tue 12 May, 07:40", JPEG: out.Bytes(), Width: wide, Height: high}
}

// chart has everything that a chart can have, so that every stroke of a drawing is drawn.
func chart() template.HTML {
	day := tracker.NewDate(2026, 5, 1)
	p := draw.Panel{LabelledBy: "h s", Quantity: "Area", Unit: "cm²", Decimal: tracker.Point, First: day, Last: day + 27, Missed: []tracker.Date{day + 9, day + 10}, Unmeasured: []tracker.Date{day + 12},
		Changes: []draw.Change{{Day: day + 14, Letter: "A", Words: "new wash"}}, Events: []draw.Event{{Day: day + 15, Letter: "V"}},
		Signs: []draw.SignRow{{Words: "Wet", Seen: []tracker.Date{day}, Clear: []tracker.Date{day + 1}}, {Words: "Bad smell", Seen: []tracker.Date{day + 2}}}}
	for i := range 9 {
		at := day + tracker.Date(3*i)
		p.Points = append(p.Points, draw.Point{Day: at, Value: 8 - 0.4*float64(i), Low: 7 - 0.4*float64(i), High: 9 - 0.4*float64(i)})
	}
	p.Points = append(p.Points, draw.Point{Day: day + 24, Value: 4, Low: 3, High: 5}, draw.Point{Day: day + 26, Value: 3, Partial: true})
	return draw.Chart(p)
}

// full is a sheet of so many sites, charts and photos.
func full(t *testing.T, sites, photos int) Sheet {
	t.Helper()
	var posts []draw.Post
	s := Sheet{Title: "Bramble", Sub: "Mare, about 740 kg", Yard: "Marlpit Yard", MadeUp: true, Made: "Made Thu 14 May 2026, 13:00 by Ada.", MadeAt: time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC),
		Why: []string{"Ring the vet today: RH 2 was 6.4 cm² on Wed 6 May and 8.2 cm² on Thu 14 May: widening."}, Background: []string{"Came on Thu 16 Apr 2026.", "Vet last here on Thu 30 Apr 2026."},
		Done: []string{"RH: washed 26 times."}, Word: []string{"Marl vets, Thu 30 Apr: wash once a day."}, Question: "Is a visit needed today?", Method: "The bars are give or take.",
		Ring: "Marl vets, 01234 000000", Link: "", Phases: []string{"A: new wash, from Thu 30 Apr."}}
	labels := draw.Labels()
	for i := range sites {
		tag := tracker.Legs()[i%4].String() + "\u00a0" + string(rune('1'+i/4))
		label := labels[i%len(labels)]
		s.Rows = append(s.Rows, Row{Tag: tag, Place: "pastern, back (plantar)", Label: label, Size: "8.2 cm², give or take 1.5 cm²; was 6.4 cm² on Wed 6 May", Rate: "−0.33 mm a day (−0.47 to −0.2), 18 days measured", Note: "wet or runny 2"})
		posts = append(posts, draw.Post{Leg: tracker.Legs()[i%4], Tag: tag, Label: label})
		if len(s.Panels) < 6 {
			s.Panels = append(s.Panels, Panel{Headline: tag + ": widening, 6.4 to 8.2 cm² in 8 days", SVG: chart()})
		}
	}
	plan, err := draw.FourPosts("p", "l", posts)
	if err != nil {
		t.Fatal(err)
	}
	s.Plan = plan
	for i := range photos {
		if i%2 == 0 {
			s.Photos = append(s.Photos, picture(t, 1600, 1200))
		} else {
			s.Photos = append(s.Photos, picture(t, 900, 1200))
		}
	}
	return s
}

func set(t *testing.T, s Sheet, paper Paper) string {
	t.Helper()
	data, err := PDF(s, paper)
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	if shots := os.Getenv("LEGROUND_SHOTS"); shots != "" {
		folder = shots
	}
	file := filepath.Join(folder, strings.ReplaceAll(t.Name(), "/", "-")+map[Paper]string{A4: "-a4", Letter: "-letter"}[paper]+".pdf")
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
	return file
}

func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	if _, err := exec.LookPath(name); err != nil {
		if os.Getenv("LEGROUND_NO_SKIP") == "1" {
			t.Fatalf("%s is missing (Debian: apt-get install poppler-utils)", name)
		}
		t.Skipf("%s is missing (Debian: apt-get install poppler-utils)", name)
	}
	out, err := exec.Command(name, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
	return string(out)
}

// A sheet never takes more than two pages, whatever is on it; four sites and four photos take exactly two. The
// count is poppler's.
func TestAtMostTwoPages(t *testing.T) {
	long := full(t, 12, 4)
	for range 30 {
		long.Why = append(long.Why, strings.Repeat("A long sentence about the leg. ", 12))
		long.Done = append(long.Done, strings.Repeat("Washed and dried. ", 20))
		long.Word = append(long.Word, strings.Repeat("The vet said a lot. ", 60))
	}
	long.Question = strings.Repeat("Why? ", 200)
	long.Phases = []string{strings.Repeat("A: a wash with a very long name. ", 10)}
	for name, c := range map[string]struct {
		sheet Sheet
		pages string
	}{
		"nothing": {Sheet{}, "1"}, "one site": {full(t, 1, 0), "2"}, "four sites and four photos": {full(t, 4, 4), "2"}, "six of each": {full(t, 6, 4), "2"},
		"twelve sites": {full(t, 12, 4), "2"}, "far too much": {long, "2"}, "photos only": {Sheet{Photos: full(t, 0, 4).Photos}, "2"},
	} {
		t.Run(name, func(t *testing.T) {
			for _, paper := range []Paper{A4, Letter} {
				file := set(t, c.sheet, paper)
				info := tool(t, "pdfinfo", file)
				if !regexp.MustCompile(`Pages:\s+` + c.pages + `\n`).MatchString(info) {
					t.Errorf("paper %d:\n%s", paper, info)
				}
				want := map[Paper]string{A4: "595.28 x 841.89", Letter: "612 x 792"}[paper]
				if !strings.Contains(info, want) {
					t.Errorf("paper %d is no %s:\n%s", paper, want, info)
				}
				for i := 1; i <= int(c.pages[0]-'0'); i++ {
					page := string(rune('0' + i))
					words := tool(t, "pdftotext", "-f", page, "-l", page, "-bbox", file, "-")
					for _, m := range regexp.MustCompile(`yMax="([\d.]+)">([^<]*)<`).FindAllStringSubmatch(words, -1) {
						if high := map[Paper]float64{A4: 841.89, Letter: 792}[paper]; number(m[1]) > high-margin/pointMM+3 {
							t.Errorf("paper %d, page %d: %q stands at %s points, in the margin", paper, i, m[2], m[1])
						}
					}
				}
			}
		})
	}
	if text := tool(t, "pdftotext", set(t, long, A4), "-"); !strings.Contains(text, "Not all of it fits") {
		t.Errorf("what was left out is not said:\n%s", text)
	}
}

// Everything of an ordinary sheet stands on it, read back by poppler, in its order.
func TestWhatTheSheetSays(t *testing.T) {
	text := strings.Join(strings.Fields(tool(t, "pdftotext", "-layout", set(t, full(t, 4, 4), A4), "-")), " ")
	at := 0
	for _, words := range []string{"MADE-UP YARD: nothing here is real", "Bramble", "Marlpit Yard: sheet for the vet", "Why we are asking", "RH 2 was 6.4 cm²", "Background", "Came on Thu 16 Apr 2026.",
		"What we see, leg by leg", "LF 1 pastern, back", "closing", "What has been done", "washed 26 times", "What the vet said before", "What we want to know", "Is a visit needed today?", "We ring: Marl vets, 01234 000000",
		"Made Thu 14 May 2026, 13:00 by Ada.", "page 1 of 2", "MADE-UP YARD", "LF 1: widening", "day 1", "new wash", "RH 2, Tue 12 May, 07:40", "A: new wash, from Thu 30 Apr.", "The bars are give or take.", "page 2 of 2"} {
		i := strings.Index(text[at:], words)
		if i < 0 {
			t.Fatalf("after %q there is no %q in\n%s", text[max(0, at-40):at], words, text[at:])
		}
		at += i
	}
}

// Letters that the fonts lack, and those past U+FFFF that break the PDF library, become a box; nothing is lost
// without a trace and nothing panics.
func TestOddLetters(t *testing.T) {
	s := full(t, 2, 1)
	s.Title, s.Question, s.Done = "Bramble 🐴", "日本 \u202e \x00 ok?", []string{"½ ± ≥ Ωé Ж 𝛼"}
	s.Photos[0].Caption = "🩹 RH 2"
	s.Panels[0].Headline = "RH 2 🐎: widening"
	text := tool(t, "pdftotext", "-layout", set(t, s, A4), "-")
	for _, words := range []string{"Bramble □", "□□", "½ ± ≥ Ωé Ж □", "□ RH 2", "RH 2 □: widening"} {
		if !strings.Contains(text, words) {
			t.Errorf("there is no %q in\n%s", words, text)
		}
	}
}

// The same values give the same bytes, and every ink is black: no operator sets another colour.
func TestBlackAndTheSameTwice(t *testing.T) {
	one, err := PDF(full(t, 6, 2), A4)
	if err != nil {
		t.Fatal(err)
	}
	two, err := PDF(full(t, 6, 2), A4)
	if err != nil || !bytes.Equal(one, two) {
		t.Errorf("the same sheet gives other bytes, %v", err)
	}
	streams := 0
	for _, m := range regexp.MustCompile(`(?s)/FlateDecode /Length \d+>>\nstream\n(.*?)\nendstream`).FindAllSubmatch(one, -1) {
		in, err := zlib.NewReader(bytes.NewReader(m[1]))
		if err != nil {
			continue
		}
		text, err := io.ReadAll(in)
		if err != nil || !bytes.Contains(text, []byte(" re")) && !bytes.Contains(text, []byte(" l\n")) {
			continue // a font
		}
		streams++
		for _, ink := range regexp.MustCompile(`(?m)([\d.]+(?: [\d.]+)*) (rg|RG|g|G|k|K)$`).FindAllSubmatch(text, -1) {
			if strings.Trim(string(ink[1]), "0. ") != "" {
				t.Errorf("an ink of %s", ink[0])
			}
		}
	}
	if streams != 2 {
		t.Errorf("%d pages were looked at for colours, want 2", streams)
	}
}

// A drawing with a stroke that the press does not know is refused, not drawn in part.
func TestUnknownStrokes(t *testing.T) {
	for name, svg := range map[string]string{
		"an ellipse": `<svg viewBox="0 0 9 9"><ellipse cx="1" cy="1" rx="1" ry="1"/></svg>`, "a curve": `<svg viewBox="0 0 9 9"><path d="M1,1Q2,2 3,3" fill="currentColor"/></svg>`,
		"another arc": `<svg viewBox="0 0 9 9"><path d="M1,1a2,3 0 0 0 4,0Z" fill="currentColor"/></svg>`, "a turn": `<svg viewBox="0 0 9 9"><g transform="rotate(45)"></g></svg>`,
		"no view box": `<svg></svg>`, "half an element": `<svg viewBox="0 0 9 9"><path`,
	} {
		s := full(t, 1, 0)
		s.Panels[0].SVG = template.HTML(svg)
		if _, err := PDF(s, A4); err == nil {
			t.Errorf("%s was set", name)
		}
	}
	if _, err := PDF(full(t, 1, 0), 0); err == nil {
		t.Error("a sheet was set on no paper")
	}
	bad := full(t, 1, 1)
	bad.Photos[0].JPEG = []byte("no picture")
	if _, err := PDF(bad, A4); err == nil {
		t.Error("a photo that is none was set")
	}
}
