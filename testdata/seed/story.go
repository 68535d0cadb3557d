package seed

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"leground/tracker"
	"leground/tracker/care"
)

// story is what marlpit.txt says.
type story struct {
	yard   care.SetUp // without what the yard's page would ask besides
	carer  person
	days   int
	rounds []visit
	missed []int
	horses []*horse

	measures []string // what is measured with, as package mixing reads it
	cautions []string // lines for the label of a mix
	wash     *wash    // nil: nothing is mixed
}

type person struct{ name, email string }

// visit is a round of each day and when it begins.
type visit struct {
	slot  string
	start tracker.MinuteOfDay
}

type horse struct {
	tracker.Horse
	arrived  int    // day
	first    string // round of that day in which it is first looked at; one that was here before: of day 1
	tetanus  *int   // day of the last dose; nil: not known
	isolated int    // days from arrival; 0: not
	care     []careLine
	lines    []moment // notes on leg lines
	events   []happening
	wholes   []whole
	answers  []answer
	sites    []*site
}

type careLine struct {
	leg  tracker.Leg
	slot string
	acts []tracker.CareAct
}

// whole is what was taken of the whole horse at the end of a day's round.
type whole struct {
	day    int
	vitals tracker.Vitals
}

// happening is an event of a day on the whole horse.
type happening struct {
	day  int
	kind tracker.EventKind
	note string
}

// answer is what the owner did on a day about every caution of the horse that was open.
type answer struct {
	day  int
	kind tracker.CautionActKind
	note string
}

type site struct {
	leg           tracker.Leg
	number        int
	kind          tracker.SiteKind
	region        tracker.Region
	aspect        tracker.Aspect
	found         int
	length, width float64 // mm, on the day it was found
	edges         []edge
	signs         []signsFrom
	chronic       tracker.Signs
	beds          []bedFrom
	photos        []int
	moments       []moment
	id            tracker.SiteID // once it has been found
}

func (s *site) tag() string { return tracker.Site{Leg: s.leg, Number: s.number}.Tag() }

// edge says how fast the edge moves in from a day on, in mm a day; negative is out.
type edge struct {
	from int
	rate float64
}

type signsFrom struct {
	from  int
	signs tracker.Signs
}

type bedFrom struct {
	from int
	bed  tracker.Bed
}

// moment is something at one look. What is one of the words that marlpit.txt explains.
type moment struct {
	day  int
	slot string
	leg  tracker.Leg // of a leg line
	what string
	text string
}

// reader reads a story line by line; horse and site are those that the last such line began.
type reader struct {
	story *story
	horse *horse
	site  *site
}

// read reads a story. An error names the line.
func read(text string) (*story, error) {
	r := &reader{story: &story{}}
	for i, line := range strings.Split(text, "\n") {
		line = strings.TrimSpace(line)
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		word, rest, _ := strings.Cut(line, " ")
		if err := r.line(word, strings.TrimSpace(rest)); err != nil {
			return nil, fmt.Errorf("line %d, %q: %w", i+1, line, err)
		}
	}
	return r.story, r.story.check()
}

func (r *reader) line(word, rest string) error {
	known, err := r.ofYard(word, rest)
	if !known && r.site != nil {
		known, err = r.ofSite(word, rest)
	}
	if !known && r.horse != nil {
		known, err = r.ofHorse(word, rest)
	}
	if !known {
		return fmt.Errorf("%q is not known here", word)
	}
	return err
}

func (r *reader) ofYard(word, rest string) (known bool, err error) {
	s := r.story
	switch word {
	case "yard":
		s.yard.YardName = rest
	case "zone":
		s.yard.Zone = rest
	case "ring":
		s.yard.RingName, s.yard.RingNumber, _ = strings.Cut(rest, ", ")
	case "owner":
		s.yard.PersonName, s.yard.Email, _ = strings.Cut(rest, " ")
	case "carer":
		s.carer.name, s.carer.email, _ = strings.Cut(rest, " ")
	case "days":
		s.days, err = strconv.Atoi(rest)
	case "round":
		slot, start, _ := strings.Cut(rest, " ")
		v := visit{slot: slot}
		v.start, err = tracker.ParseMinuteOfDay(start)
		s.rounds = append(s.rounds, v)
	case "missed":
		var day int
		day, err = strconv.Atoi(rest)
		s.missed = append(s.missed, day)
	case "measure":
		s.measures = append(s.measures, rest)
	case "caution":
		s.cautions = append(s.cautions, rest)
	case "wash":
		s.wash, err = readWash(rest)
	case "horse":
		r.horse, r.site = &horse{Horse: tracker.Horse{Name: rest}}, nil
		s.horses = append(s.horses, r.horse)
	default:
		return false, nil
	}
	return true, err
}

func (r *reader) ofHorse(word, rest string) (known bool, err error) {
	h := r.horse
	f := fields{strings.Fields(rest), nil}
	switch word {
	case "sort":
		h.Sort = rest
	case "handling":
		h.Handling = rest
	case "arrived":
		h.arrived, h.first = f.whole(), f.word()
	case "tetanus":
		day := f.whole()
		h.tetanus = &day
	case "isolated":
		h.isolated = f.whole()
	case "care":
		line := careLine{leg: parsed(&f, tracker.ParseLeg), slot: f.word()}
		for len(f.words) > 0 {
			line.acts = append(line.acts, tracker.CareAct(f.word()))
		}
		h.care = append(h.care, line)
	case "line":
		h.lines = append(h.lines, moment{day: f.whole(), slot: f.word(), leg: parsed(&f, tracker.ParseLeg), text: f.rest()})
	case "event":
		h.events = append(h.events, happening{day: f.whole(), kind: tracker.EventKind(f.word()), note: f.rest()})
	case "whole":
		h.wholes = append(h.wholes, whole{f.whole(), f.vitals()})
	case "answer":
		a := answer{day: f.whole(), kind: tracker.VetKnows}
		if f.word() == "rang" {
			a.kind = tracker.Rang
		}
		a.note = f.rest()
		h.answers = append(h.answers, a)
	case "site":
		r.site = &site{leg: parsed(&f, tracker.ParseLeg), number: f.whole(), kind: parsed(&f, tracker.ParseSiteKind), region: parsed(&f, tracker.ParseRegion), aspect: parsed(&f, tracker.ParseAspect)}
		h.sites = append(h.sites, r.site)
	default:
		return false, nil
	}
	return true, f.err
}

func (r *reader) ofSite(word, rest string) (known bool, err error) {
	s := r.site
	f := fields{strings.Fields(rest), nil}
	switch word {
	case "found":
		s.found = f.whole()
	case "size":
		s.length, _, s.width = f.number(), f.word(), f.number()
	case "edge":
		e := edge{from: f.whole()}
		way := f.word()
		e.rate = f.number()
		switch way {
		case "out":
			e.rate = -e.rate
		case "in":
		default:
			f.fail(fmt.Errorf("the edge moves in or out, not %q", way))
		}
		s.edges = append(s.edges, e)
	case "signs":
		s.signs = append(s.signs, signsFrom{f.whole(), f.signs()})
	case "chronic":
		s.chronic = f.signs()
	case "bed":
		s.beds = append(s.beds, bedFrom{f.whole(), parsed(&f, tracker.ParseBed)})
	case "photo":
		for len(f.words) > 0 {
			s.photos = append(s.photos, f.whole())
		}
	case "on":
		s.moments = append(s.moments, moment{day: f.whole(), slot: f.word(), what: f.word(), text: f.rest()})
	default:
		return false, nil
	}
	return true, f.err
}

// firstVisit gives the day and the round of that day in which a horse is first looked at. One that was
// there before day 1 is taken into the yard's book on day 1.
func (s *story) firstVisit(h *horse) (day, index int) {
	return max(1, h.arrived), s.roundNamed(h.first)
}

// roundNamed gives the index of a round, -1 when there is none of that name.
func (s *story) roundNamed(slot string) int {
	return slices.IndexFunc(s.rounds, func(v visit) bool { return v.slot == slot })
}

// check refuses a story that cannot be played as it says.
func (s *story) check() error {
	if s.days < 1 || len(s.rounds) == 0 || len(s.horses) == 0 {
		return errors.New("days, a round and a horse are needed")
	}
	for _, h := range s.horses {
		if s.roundNamed(h.first) < 0 {
			return fmt.Errorf("%s needs the day and round of its arrival", h.Name)
		}
		numbers := map[tracker.Leg]int{}
		for _, site := range h.sites {
			numbers[site.leg]++
			if site.number != numbers[site.leg] {
				return fmt.Errorf("%s %s: the sites of a leg are numbered 1, 2, ... in the order in which they are found", h.Name, site.tag())
			}
			if err := s.checkSite(h, site); err != nil {
				return fmt.Errorf("%s %s: %w", h.Name, site.tag(), err)
			}
		}
	}
	return nil
}

func (s *story) checkSite(h *horse, site *site) error {
	day, _ := s.firstVisit(h)
	switch {
	case site.found < day || slices.Contains(s.missed, site.found):
		return errors.New("it is found on a day on which nobody looks at the horse")
	case site.length < site.width || site.width <= 0:
		return errors.New("it needs a size, longest way first")
	case len(site.signs) == 0 || site.signs[0].from > site.found:
		return errors.New("it needs signs from the day on which it is found")
	}
	for _, m := range site.moments {
		if s.roundNamed(m.slot) < 0 || !slices.Contains([]string{"note", "skip", "bandage", "slip", "twice"}, m.what) {
			return fmt.Errorf("there is no %s at %s", m.what, m.slot)
		}
	}
	return nil
}
