package healing

import (
	"cmp"
	"math"
	"slices"

	"leground/tracker"
)

// Site is what is known of one wound. The order of lists does not matter.
//
// Judge needs every reading of the HorizonDays days that end with the judged day. Of older ones it needs
// First, and for each method the readings of the first day since the latest reset on which open skin was
// measured. With those its answer is the same as with everything ever measured; Trim drops the rest. A
// re-opening older than the horizon must be one of Resets.
type Site struct {
	Readings   []Reading
	First      tracker.Date   // the site's first measured day, where Readings no longer hold it; else zero
	Onset      tracker.Date   // day of the injury where somebody knows it; zero counts as old
	Distal     bool           // on the lower leg, where fresh wounds are known to widen at first
	Bandaged   []tracker.Date // days on which a bandage went on or was on
	Resets     []tracker.Date // days on which a new series began; that day's readings belong to it
	Treatments []tracker.Date // days on which the treatment changed: marked, never a reset
}

const (
	longDays = 42 // the longest stretch that any label rests on
	backDays = 48 // how far back earlier looks count towards today's label

	// HorizonDays is how many days, the judged one included, can still bear on a label.
	HorizonDays = backDays + longDays
)

// NewSite gathers a wound from its record: checks of the site in their newest versions, and events of the
// site. Checks without a size, skipped or retracted, give no reading.
func NewSite(site tracker.Site, checks []tracker.Check, events []tracker.Event) Site {
	s := Site{Onset: site.Onset, Distal: site.Region.Distal()}
	for _, c := range checks {
		if c.Outcome != tracker.Looked {
			continue
		}
		if c.Bandage || c.Size.Answer == tracker.UnderBandage {
			s.Bandaged = append(s.Bandaged, c.Day)
		}
		closed := c.Size.Answer == tracker.ClosedOver
		if !closed && !c.Size.Answer.HasLengths() {
			continue
		}
		r := Reading{Day: c.Day, Method: max(c.Size.Method, tracker.Ruler), Measurer: string(c.Looker),
			ScabOn: c.Scab, BandageOn: c.Bandage, SkinSeen: c.SkinSeen}
		if !closed {
			r.LengthMM, r.WidthMM, r.AreaCM2 = float64(c.Size.LengthMM), float64(c.Size.WidthMM), float64(c.Size.AreaMM2)/100
		}
		s.Readings = append(s.Readings, r)
	}
	for _, e := range events {
		switch {
		case e.Kind.Resets() || e.Kind == tracker.Joined:
			s.Resets = append(s.Resets, e.Day)
		case e.Kind == tracker.TreatmentChange:
			s.Treatments = append(s.Treatments, e.Day)
		case e.Kind == tracker.BandageOn:
			s.Bandaged = append(s.Bandaged, e.Day)
		}
	}
	return s
}

// Trim drops what cannot bear on a judgement as of a day or later, so that a site needs the same memory
// however long it is followed.
func (s *Site) Trim(asOf tracker.Date) {
	s.Readings = ordered(s.Readings, math.MaxInt32)
	s.Resets = append(s.Resets, reopenings(s.Readings)...)
	slices.Sort(s.Resets)
	s.Resets = slices.Compact(s.Resets)
	from := asOf - HorizonDays + 1
	reset := s.latestReset(asOf)
	s.First = s.firstDay()
	base := map[tracker.Method]tracker.Date{}
	for _, r := range s.Readings {
		if day := base[r.Method]; !r.closed() && r.Day >= reset && (day == 0 || r.Day < day) {
			base[r.Method] = r.Day
		}
	}
	s.Readings = slices.DeleteFunc(s.Readings, func(r Reading) bool {
		return r.Day < from && (r.Day != base[r.Method] || r.closed())
	})
	s.Resets = lately(s.Resets, from)
	s.Treatments = lately(s.Treatments, from)
	s.Bandaged = lately(s.Bandaged, max(s.Onset, from-longDays))
}

// firstDay gives the first day on which the site was measured, zero if never.
func (s *Site) firstDay() tracker.Date {
	first := s.First
	for _, r := range s.Readings {
		if r.Valid() && (first == 0 || r.Day < first) {
			first = r.Day
		}
	}
	return first
}

// lately keeps the days from a day on and the last one before it.
func lately(days []tracker.Date, from tracker.Date) []tracker.Date {
	slices.Sort(days)
	i, _ := slices.BinarySearch(days, from)
	return days[max(0, i-1):]
}

// latestReset gives the day on which the series that a day belongs to began; zero when it was never reset.
// A known injury begins a series too: what was measured before it was not this wound.
func (s *Site) latestReset(day tracker.Date) tracker.Date {
	latest := tracker.Date(0)
	if s.Onset <= day {
		latest = s.Onset
	}
	for _, r := range s.Resets {
		if r <= day {
			latest = max(latest, r)
		}
	}
	return latest
}

// reopenings finds, in readings sorted by day, the days on which open skin was measured again after the
// site was closed over, which begins a new series. One zero between two sizes is a slip or a scab, and no
// closing.
func reopenings(readings []Reading) []tracker.Date {
	var again []tracker.Date
	closed := 0 // measured days in a row that may count towards closed over
	for i := 0; i < len(readings); {
		day, shut := readings[i].Day, true
		for ; i < len(readings) && readings[i].Day == day; i++ {
			shut = shut && readings[i].clear()
		}
		if shut {
			closed++
			continue
		}
		if closed >= 2 {
			again = append(again, day)
		}
		closed = 0
	}
	return again
}

// ordered gives the valid readings up to a day, by day and area.
func ordered(readings []Reading, asOf tracker.Date) []Reading {
	kept := make([]Reading, 0, len(readings))
	for _, r := range readings {
		if r.Day <= asOf && r.Valid() {
			kept = append(kept, r)
		}
	}
	slices.SortFunc(kept, func(a, b Reading) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Area(), b.Area()))
	})
	return kept
}
