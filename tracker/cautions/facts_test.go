package cautions

import (
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"leground/tracker"
)

// rows reads a vector file: a header of known words, an empty line, rows of fields between bars. Lines
// that begin with # are headings.
func rows(t testing.TB, name string, fields int) [][]string {
	t.Helper()
	path := "../../testdata/vectors/cautions/" + name
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	header, body, found := strings.Cut(string(data), "\n\n")
	if !found || !strings.HasPrefix(header, "source: ") {
		t.Fatalf("%s must begin with its source and have an empty line after the header", path)
	}
	for line := range strings.SplitSeq(header, "\n") {
		if word, _, _ := strings.Cut(line, ": "); word != "source" && word != "columns" && word != "note" {
			t.Fatalf("%s: unknown header %q", path, line)
		}
	}
	var all [][]string
	for line := range strings.SplitSeq(strings.TrimSpace(body), "\n") {
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		row := strings.Split(line, "|")
		if len(row) != fields {
			t.Fatalf("%s: %q has %d fields, want %d", path, line, len(row), fields)
		}
		for i := range row {
			row[i] = strings.TrimSpace(row[i])
		}
		if row[0] == "" {
			t.Fatalf("%s: %q names no source", path, line)
		}
		all = append(all, row)
	}
	return all
}

// scene builds Facts from the words of a vector row.
type scene struct {
	t     testing.TB
	facts Facts
	n     int // checks made
}

func parseFacts(t testing.TB, text string) Facts {
	t.Helper()
	s := &scene{t: t}
	s.facts.Horse = tracker.Horse{ID: "bramble", Name: "Bramble", Tetanus: tracker.Tetanus{Last: tracker.DateOf(morning) - 100}}
	s.facts.Body.FeedKnown = true
	for part := range strings.SplitSeq(text, ";") {
		s.read(strings.TrimSpace(part))
	}
	return s.facts
}

func (s *scene) check(at time.Time) tracker.Check {
	s.n++
	return check(fmt.Sprintf("c%02d", s.n), at)
}

func (s *scene) int(text string) int {
	s.t.Helper()
	n, err := strconv.Atoi(strings.TrimRight(text, "dm"))
	if err != nil {
		s.t.Fatal(err)
	}
	return n
}

func (s *scene) float(text string) float64 {
	s.t.Helper()
	x, err := strconv.ParseFloat(text, 64)
	if err != nil {
		s.t.Fatal(err)
	}
	return x
}

func (s *scene) leg(tag string) *LegFacts {
	s.t.Helper()
	leg, err := tracker.ParseLeg(tag)
	if err != nil {
		s.t.Fatal(err)
	}
	i := slices.IndexFunc(s.facts.Legs, func(l LegFacts) bool { return l.Leg == leg })
	if i < 0 {
		line := s.check(morning)
		line.Signs = tracker.Signs{}
		s.facts.Legs = append(s.facts.Legs, LegFacts{Leg: leg, Line: line})
		i = len(s.facts.Legs) - 1
	}
	return &s.facts.Legs[i]
}

func (s *scene) vitals(words []string, i int) *tracker.Vitals {
	at := morning
	if len(words) > i {
		at = morning.Add(-time.Duration(s.int(words[i])) * time.Minute)
	}
	s.facts.Vitals = append(s.facts.Vitals, s.check(at))
	return &s.facts.Vitals[len(s.facts.Vitals)-1].Vitals
}

// ago is some days before the morning, at word i, and the minutes that may follow.
func (s *scene) ago(words []string, i int) time.Time {
	s.t.Helper()
	at := morning.AddDate(0, 0, -s.int(words[i]))
	if len(words) > i+1 {
		at = at.Add(-time.Duration(s.int(words[i+1])) * time.Minute)
	}
	return at
}

func (s *scene) read(text string) {
	s.t.Helper()
	w := strings.Fields(text)
	today := tracker.DateOf(morning)
	switch w[0] {
	case "temp":
		s.vitals(w, 2).TemperatureTenthsC = inTenths(s.float(w[1]))
	case "pulse":
		s.vitals(w, 2).PulsePerMinute = s.int(w[1])
	case "refill":
		s.vitals(w, 2).RefillTenthsSecond = inTenths(s.float(w[1]))
	case "gums":
		s.vitals(w, 9).Gums = strings.Join(w[1:], " ")
	case "no":
		s.vitals(w, 9).NoGutSounds = true
	case "laboured":
		s.vitals(w, 9).LabouredBreathing = true
	case "weak":
		s.facts.Body.Weak, s.facts.Body.Check = true, s.check(morning)
	case "stance":
		s.facts.Body.FootSoreLook, s.facts.Body.Check = true, s.check(morning)
	case "refeeding":
		s.facts.Body.Refeeding = true
	case "feed":
		s.facts.Body.FeedKnown = false
	case "score":
		at := s.ago(w, 2)
		s.facts.Body.Scores = append(s.facts.Body.Scores, Score{at, tracker.DateOf(at), s.float(w[1])})
	case "girth":
		l := s.leg(w[1])
		at := s.ago(w, 3)
		l.Girths = append(l.Girths, Girth{at, tracker.DateOf(at), s.int(w[2])})
	case "treated":
		s.leg(w[1]).TreatedDays = s.int(w[2])
	case "tetanus":
		s.facts.Horse.Tetanus.Last = 0
		if w[1] != "unknown" {
			s.facts.Horse.Tetanus.Last = today - tracker.Date(s.int(w[1]))
		}
	case "wound", "patch":
		s.site(w)
	default:
		if _, err := strconv.Atoi(w[1]); err == nil {
			s.onSite(w)
		} else {
			s.onLeg(w)
		}
	}
}

func (s *scene) site(w []string) {
	s.t.Helper()
	kind, err := tracker.ParseSiteKind(w[0])
	if err != nil {
		s.t.Fatal(err)
	}
	region, err := tracker.ParseRegion(w[3])
	if err != nil {
		s.t.Fatal(err)
	}
	aspect, err := tracker.ParseAspect(w[4])
	if err != nil {
		s.t.Fatal(err)
	}
	leg := s.leg(w[1]).Leg
	if err := tracker.CheckPlace(leg, region, aspect); err != nil {
		s.t.Fatal(err)
	}
	c := s.check(morning)
	c.Signs = tracker.Signs{}
	site := tracker.Site{ID: tracker.SiteID(w[1] + w[2]), Horse: "bramble", Leg: leg, Number: s.int(w[2]), Region: region, Aspect: aspect, Kind: kind}
	s.facts.Sites = append(s.facts.Sites, SiteFacts{Site: site, Place: tracker.RegionName(leg, region) + ", " + tracker.AspectName(aspect), Check: c})
}

func (s *scene) onSite(w []string) {
	s.t.Helper()
	i := slices.IndexFunc(s.facts.Sites, func(f SiteFacts) bool { return string(f.Site.ID) == w[0]+w[1] })
	if i < 0 {
		s.t.Fatalf("%q: no such site", w)
	}
	f := &s.facts.Sites[i]
	switch w[2] {
	case "tick":
		f.Check.Dangers = append(f.Check.Dangers, tracker.Danger(w[3]))
	case "flag":
		f.Check.Flags = append(f.Check.Flags, tracker.Flag(w[3]))
	case "bed":
		if w[3] == "above" {
			f.Check.Bed = tracker.BedAbove
		} else {
			f.Check.Size.BedMM = s.int(w[3])
		}
	case "closed":
		f.Site.ClosedOn = tracker.DateOf(morning) - 1
	case "label":
		f.Judged = tracker.Judgement{Label: strings.Join(w[3:], " "), Day: tracker.DateOf(morning)}
	case "days":
		f.DaysSinceFirst = s.int(w[3])
	case "slow":
		f.SlowDays = s.int(w[3])
	case "first":
		f.FirstLook = true
	case "overdue":
		f.OverdueTurn = true
	case "reopened":
		f.Reopened = true
	case "joined":
		f.JoinedNow = true
	default:
		s.sign(f.Check.Signs, w[2], w[3])
	}
}

func (s *scene) sign(signs tracker.Signs, name, value string) {
	s.t.Helper()
	sign, n := tracker.Sign(name), s.int(value)
	if !slices.Contains(sign.Levels(), n) {
		s.t.Fatalf("%s cannot be %d", name, n)
	}
	signs[sign] = n
}

func (s *scene) onLeg(w []string) {
	s.t.Helper()
	l := s.leg(w[0])
	switch w[1] {
	case "tick":
		l.Line.Dangers = append(l.Line.Dangers, tracker.Danger(w[2]))
	case "flag":
		l.Line.Flags = append(l.Line.Flags, tracker.Flag(w[2]))
	case "was":
		c := s.check(morning.AddDate(0, 0, -s.int(w[4])).Add(-time.Hour))
		c.Signs = tracker.Signs{}
		s.sign(c.Signs, w[2], w[3])
		l.Earlier = append(l.Earlier, c)
	default:
		s.sign(l.Line.Signs, w[1], w[2])
	}
}
