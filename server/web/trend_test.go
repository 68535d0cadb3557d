package web_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"leground/server/webtest"
	"leground/tracker"
	"leground/tracker/care"
)

// followed is a horse whose sites were looked at for four weeks up to yesterday, with two missed days, a wash
// change and a farrier, and a photo of each site.
type followed struct {
	site  *webtest.Site
	owner *webtest.Person
	carer *webtest.Person
	actor care.Actor
	horse tracker.HorseID
	sites []tracker.SiteID
}

// follow plays wounds, and patches after them, through care: made through the pages it would take minutes.
func follow(t *testing.T, wounds, patches int) *followed {
	t.Helper()
	site := webtest.Start(t, webtest.Options{Now: webtest.Noon().AddDate(0, 0, -29)})
	f := &followed{site: site, owner: site.OpenYard("Marlpit Yard", "Ada")}
	f.carer = f.owner.Invites("Bea", "carer")
	f.horse = f.owner.TakesIn("Bramble")
	var err error
	f.actor, err = site.Care.Actor(t.Context(), f.owner.Session())
	no(t, err)
	legs := tracker.Legs()
	for i := range wounds + patches {
		kind, region := tracker.Wound, tracker.UpperCannon
		if i >= wounds {
			kind, region = tracker.Patch, tracker.Pastern
		}
		s, err := site.Care.AddSite(t.Context(), f.actor, care.NewSite{Record: care.NewRecord(), Horse: f.horse, Leg: legs[i%4], Region: region, Aspect: tracker.Lateral, Kind: kind})
		no(t, err)
		f.sites = append(f.sites, s.ID)
	}
	for day := range 29 {
		if day > 0 {
			site.Clock.Set(site.Clock.Now().AddDate(0, 0, 1))
		}
		if day == 20 || day == 21 {
			continue // nobody came
		}
		for i, id := range f.sites {
			f.look(t, id, i >= wounds, day, i)
		}
		switch day {
		case 14:
			f.event(t, tracker.TreatmentChange, "wash concentrate A in place of plain water on every leg")
		case 17:
			f.event(t, tracker.FarrierVisit, "")
		}
	}
	site.Clock.Set(webtest.Noon())
	return f
}

func no(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func (f *followed) event(t *testing.T, kind tracker.EventKind, note string) {
	t.Helper()
	no(t, f.site.Care.AddEvent(t.Context(), f.actor, tracker.Event{ID: care.NewRecord(), Kind: kind, Horse: f.horse, Note: note}))
}

// look records one look: the first site widens, the second stays, the others close; a patch clears.
func (f *followed) look(t *testing.T, id tracker.SiteID, patch bool, day, i int) {
	t.Helper()
	c := tracker.Check{ID: care.NewRecord(), Subject: tracker.OfSite, Outcome: tracker.Looked, Site: id, SkinSeen: true, Hash: "x", Size: tracker.Size{Answer: tracker.NotDue}}
	wobble := float64((day*7+i*3)%5-2) * 0.4
	length := 30.0 + wobble
	switch i {
	case 0:
		length += 0.8 * float64(max(0, day-10))
	case 1:
	default:
		length -= 0.6 * float64(day)
	}
	c.Signs = tracker.Signs{tracker.Exudate: 1, tracker.Pain: day % 2}
	if patch {
		for _, s := range tracker.ActiveSigns() {
			c.Signs[s] = max(0, 2-day/10)
		}
	}
	if !patch || day%7 == 0 {
		c.Size = tracker.Size{Answer: tracker.Measured, LengthMM: int(length), WidthMM: int(length * 0.7), Method: tracker.Ruler}
	}
	if day == 9 && !patch {
		c.Size = tracker.Size{Answer: tracker.HairHides}
	}
	entry := care.Entry{Check: c}
	if day == 27 {
		data := picture(t, 640, 480)
		entry.Photo = &care.NewPhoto{Photo: tracker.Photo{ID: tracker.PhotoID(care.NewID()), Width: 640, Height: 480, ThumbW: 640, ThumbH: 480}, Full: data, Thumb: data}
	}
	_, err := f.site.Care.Record(t.Context(), f.actor, entry)
	no(t, err)
}

func (f *followed) path(rest string) string { return "/horse/" + string(f.horse) + rest }

// Every dot of a chart is a row of the table behind it, no line runs over two missed days or a change of
// treatment, the scale begins at 0, the last value stands at the last dot, and headline and summary name the
// chart.
func TestTrendCharts(t *testing.T) {
	f := follow(t, 4, 2)
	for _, query := range []string{"", "?span=2", "?span=all", "?scale=own", "?log=1", "?by=leg", "?tables=1&span=all&by=leg&scale=own&log=1"} {
		sheet := f.owner.Get(f.path("/trend" + query)).Is(200)
		root, charts := sheet.Root(), 0
		for _, figure := range root.Named("figure") {
			for _, svg := range figure.Named("svg") {
				if svg.Attr["role"] != "img" {
					continue // the mark of a label
				}
				for _, id := range strings.Fields(svg.Attr["aria-labelledby"]) {
					if named := root.ID(id); named == nil || named.Text() == "" {
						t.Errorf("%s: %q names a chart and is not there", query, id)
					}
				}
				if strings.Contains(svg.Attr["class"], "chart-log") {
					continue
				}
				charts++
				f.chart(t, query, figure, svg, strings.HasSuffix(svg.Attr["aria-labelledby"], "-r"))
			}
		}
		if want := 6 + 2; charts != want {
			t.Errorf("%s: %d charts, want %d: one a site, and the reach of each patch", query, charts, want)
		}
	}
	f.owner.Get(f.path("/trend?log=1")).Says("each step is a halving")
	f.owner.Get(f.path("/trend?by=leg")).Says("RH right hind", "LH left hind")
	f.owner.Get(f.path("/trend?scale=own")).Says("own scale")
	f.owner.Get(f.path("/trend")).Says("LF 1 left fore, upper cannon, outside: widening,", "A: wash concentrate A in place of plain water on every leg, from", "readings since, from",
		"H: Farrier was here", "No reading on 2 planned days.", "Could not be measured on 1 day.", "Its reach, a series of its own.", "by our measuring spread of 2 mm")
}

// chart holds one drawing against the table beside it.
func (f *followed) chart(t *testing.T, query string, figure, svg *webtest.Node, reach bool) {
	t.Helper()
	var dots []float64 // their places along the axis
	for _, c := range svg.Classed("dot") {
		x, err := strconv.ParseFloat(c.Attr["cx"], 64)
		no(t, err)
		dots = append(dots, x)
	}
	rows := figure.Classed("sized")
	if !reach && len(dots) != len(rows) {
		t.Errorf("%s %s: %d dots and %d rows with a value", query, figure.Attr["id"], len(dots), len(rows))
	}
	phases := svg.Classed("phase")
	for _, line := range svg.Classed("line") {
		xs := alongX(t, line.Attr["d"])
		for i := 1; i < len(xs); i++ {
			if reach {
				continue // measured weekly: nothing was planned between
			}
			if gap := math.Round((xs[i] - xs[i-1]) / f.perDay(svg)); gap > 2 {
				t.Errorf("%s %s: a line runs over %v days", query, figure.Attr["id"], gap)
			}
		}
		for _, phase := range phases {
			at := alongX(t, phase.Attr["d"])[0]
			if xs[0] < at && at < xs[len(xs)-1] {
				t.Errorf("%s %s: a line runs over the change of treatment", query, figure.Attr["id"])
			}
		}
	}
	if texts := svg.Named("text"); texts[0].Text() != "0" {
		t.Errorf("%s %s: the scale begins at %q", query, figure.Attr["id"], texts[0].Text())
	}
	last := svg.Classed("last-value")
	if len(last) != 1 || len(dots) == 0 {
		t.Fatalf("%s %s: %d last values, %d dots", query, figure.Attr["id"], len(last), len(dots))
	}
	x, err := strconv.ParseFloat(last[0].Attr["x"], 64)
	no(t, err)
	if d := x - dots[len(dots)-1]; d < 0 || d > 12 {
		t.Errorf("%s %s: the last value stands %v units from the last dot", query, figure.Attr["id"], d)
	}
}

var coordinate = regexp.MustCompile(`(-?[\d.]+),(-?[\d.]+)`)

func alongX(t *testing.T, path string) []float64 {
	t.Helper()
	var out []float64
	for _, m := range coordinate.FindAllStringSubmatch(path, -1) {
		x, err := strconv.ParseFloat(m[1], 64)
		no(t, err)
		out = append(out, x)
	}
	return out
}

// perDay is the width of a day in a chart: the axis says the day numbers at its ends.
func (f *followed) perDay(svg *webtest.Node) float64 {
	var days []float64
	for _, text := range svg.Named("text") {
		var n int
		if _, err := fmt.Sscanf(text.Text(), "day %d,", &n); err == nil {
			days = append(days, float64(n))
		}
	}
	return (258 - 42) / (days[len(days)-1] - days[0])
}

// A sheet of all days reads a bounded number of them, and says where the rest is.
func TestTrendIsBounded(t *testing.T) {
	f := follow(t, 1, 0)
	f.owner.Get(f.path("/trend?span=all")).Silent("A sheet holds 400 days")
	f.site.Clock.Set(webtest.Noon().AddDate(2, 0, 0))
	f.look(t, f.sites[0], false, 1, 1)
	email := f.owner.Email
	f.owner.Send(f.owner.Get("/sign-in").Form("/sign-in").With("email", email).With("password", webtest.Password)).Redirects("/")
	later := f.owner.Get(f.path("/trend?span=all")).Is(200).Says("A sheet holds 400 days")
	if n := len(later.Root().Classed("sized")); n != 1 {
		t.Errorf("%d readings of two years are on the sheet, want those of 400 days: 1", n)
	}
}

// pages gives how many pages a page of the site prints on, and the file.
func printed(t *testing.T, tab *webtest.Tab, path, paper string) (pages int, file string) {
	t.Helper()
	tab.Open(path)
	tab.Until(`[...document.images].every(i => i.complete || i.loading === 'lazy')`)
	size := map[string][2]float64{"A4": {8.27, 11.69}, "Letter": {8.5, 11}}[paper]
	var pdf []byte
	tab.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		made, err := chromedp.Call(ctx, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: size[0], PaperHeight: size[1]})
		pdf = made.Data
		return err
	}))
	folder := t.TempDir()
	if shots := os.Getenv("LEGROUND_SHOTS"); shots != "" {
		folder = shots
	}
	file = filepath.Join(folder, paper+strings.NewReplacer("/", "-", "?", "-").Replace(path[7+36:])+".pdf")
	no(t, os.WriteFile(file, pdf, 0o644))
	return pagesOf(t, file), file
}

func pagesOf(t *testing.T, file string) int {
	t.Helper()
	m := regexp.MustCompile(`Pages:\s+(\d+)`).FindStringSubmatch(tool(t, "pdfinfo", file))
	if m == nil {
		t.Fatalf("pdfinfo says nothing of pages of %s", file)
	}
	n, err := strconv.Atoi(m[1])
	no(t, err)
	return n
}

// Six panels print on one page, and the vet sheet of four sites and four photos on two, on both papers, with
// every word there and no ink but black outside the photos.
func TestSheetsPrint(t *testing.T) {
	six, four := follow(t, 5, 1), follow(t, 3, 1)
	link := linkFor(t, four.owner, four.horse, "Is a visit needed today?")
	browser := webtest.StartChromium(t)
	for _, c := range []struct {
		what  string
		f     *followed
		path  string
		pages int
		says  []string
		never []string
	}{
		{"the trend sheet", six, six.path("/trend?span=4"), 1, []string{"LF 1", "LF 2", "RH 1", "RF 2", "widening", "A: wash concentrate A", "give or take"}, []string{"Table of every reading", "Own scale each", "2 weeks"}},
		{"the page of a link", four, link, 2, []string{"Why we are asking", "Is a visit needed today?", "LF 1: widening"}, []string{"Write to the yard", "Photos, oldest first"}},
		{"the vet sheet", four, four.path("/vet"), 2, []string{"Why we are asking", "Background", "What we see, leg by leg", "What has been done", "What we want to know", "hatched", "LF 1: widening"},
			[]string{"Show the sheet so", "Write down what the vet said", "As a PDF"}},
	} {
		tab := browser.Tab(t, c.f.site, 1280, 900)
		tab.SignIn(c.f.owner)
		for _, paper := range []string{"A4", "Letter"} {
			n, file := printed(t, tab, c.path, paper)
			if n != c.pages {
				t.Errorf("%s on %s takes %d pages, want %d", c.what, paper, n, c.pages)
			}
			text := strings.Join(strings.Fields(tool(t, "pdftotext", "-layout", file, "-")), " ")
			for _, words := range c.says {
				if !strings.Contains(text, words) {
					t.Errorf("%s on %s does not say %q:\n%s", c.what, paper, words, text)
				}
			}
			for _, words := range c.never {
				if strings.Contains(text, words) {
					t.Errorf("%s on %s prints %q", c.what, paper, words)
				}
			}
			onlyBlack(t, file)
			if size := smallestLetters(t, file); size < 8.9 {
				t.Errorf("%s on %s has letters of %.1f points", c.what, paper, size)
			}
		}
	}
}

// onlyBlack fails when the first page of a PDF, which has no photo, has an ink that is not a grey.
func onlyBlack(t *testing.T, file string) {
	t.Helper()
	tool(t, "pdftoppm", "-r", "60", "-f", "1", "-l", "1", "-singlefile", file, file)
	data, err := os.ReadFile(file + ".ppm")
	no(t, err)
	var wide, high, most int
	if _, err := fmt.Sscanf(string(data[:64]), "P6\n%d %d\n%d\n", &wide, &high, &most); err != nil || most != 255 {
		t.Fatalf("%s.ppm is no picture that is known here: %v", file, err)
	}
	ink := 0
	for pixels := data[len(data)-3*wide*high:]; len(pixels) > 0; pixels = pixels[3:] {
		if r, g, b := int(pixels[0]), int(pixels[1]), int(pixels[2]); max(r, g, b)-min(r, g, b) > 3 {
			t.Fatalf("%s has a pixel of red %d, green %d, blue %d", file, r, g, b)
		} else if r < 128 {
			ink++
		}
	}
	if ink < wide*high/200 {
		t.Errorf("%s has hardly any ink: %d of %d pixels", file, ink, wide*high)
	}
}

// smallestLetters gives the smallest font size in points that a PDF sets words in.
func smallestLetters(t *testing.T, file string) float64 {
	t.Helper()
	tool(t, "pdftotext", "-bbox-layout", file, file+".xml")
	data, err := os.ReadFile(file + ".xml")
	no(t, err)
	least := math.Inf(1)
	for _, m := range regexp.MustCompile(`<word xMin="[\d.]+" yMin="([\d.]+)" xMax="[\d.]+" yMax="([\d.]+)">`).FindAllStringSubmatch(string(data), -1) {
		top, err := strconv.ParseFloat(m[1], 64)
		no(t, err)
		bottom, err := strconv.ParseFloat(m[2], 64)
		no(t, err)
		least = min(least, (bottom-top)/1.117) // the box of a word is the font's ascent and descent: 1.117 of its size in Liberation Sans, more in others here
	}
	return least
}
