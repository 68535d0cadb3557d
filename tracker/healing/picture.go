package healing

import (
	"slices"

	"leground/tracker"
)

// Standing is one site with how it goes, for the picture of a leg and of a horse.
type Standing struct {
	Site       tracker.Site
	Label      Label
	Remeasure  bool // the prompt "possible widening, measure again today" is shown
	Active     Score
	Chronic    Score
	Reopened   bool         // it opened again since it was closed over
	First      tracker.Date // day of its first look
	LegTreated tracker.Date // day on which care of its leg began; zero: not treated
}

// Picture is how several sites go together, of one leg or of the whole horse. Each list is in the order of
// legs and site numbers. Active and chronic scores are summed apart. It never lowers what one site says.
type Picture struct {
	Leg       tracker.Leg // zero: the whole horse
	Sites     int         // looked at; one that has joined another counts as that other
	Worse     []tracker.SiteID
	Together  bool // two or more get worse, which says more than each alone
	Worst     tracker.SiteID
	Active    Score
	Chronic   Score
	New       []tracker.SiteID // first seen within the last week, on a leg under care for three days or more
	Reopened  []tracker.SiteID
	AllClosed bool // every site is closed over or clear
}

const (
	newWithin   = 7 // days for which a site is new
	treatedFrom = 3 // days of care after which a new site is more than was there already
)

// Whole gives the picture of the horse and those of its legs that have a site, in the order of legs.
func Whole(sites []Standing, asOf tracker.Date) (horse Picture, legs []Picture) {
	sites = slices.DeleteFunc(slices.Clone(sites), func(s Standing) bool { return s.Site.Joined != "" })
	slices.SortStableFunc(sites, func(a, b Standing) int {
		if a.Site.Leg != b.Site.Leg {
			return int(a.Site.Leg) - int(b.Site.Leg)
		}
		return a.Site.Number - b.Site.Number
	})
	horse = together(sites, asOf)
	for len(sites) > 0 {
		n := 1
		for n < len(sites) && sites[n].Site.Leg == sites[0].Site.Leg {
			n++
		}
		p := together(sites[:n], asOf)
		p.Leg = sites[0].Site.Leg
		legs = append(legs, p)
		sites = sites[n:]
	}
	return horse, legs
}

func together(sites []Standing, asOf tracker.Date) Picture {
	p := Picture{Sites: len(sites), AllClosed: len(sites) > 0}
	worst := -1
	for i, s := range sites {
		if s.Label == Widening || s.Label == Worse || s.Remeasure {
			p.Worse = append(p.Worse, s.Site.ID)
		}
		if worst < 0 || graver(s, sites[worst]) {
			worst = i
		}
		p.Active.Sum, p.Active.Judged = p.Active.Sum+s.Active.Sum, p.Active.Judged+s.Active.Judged
		p.Chronic.Sum, p.Chronic.Judged = p.Chronic.Sum+s.Chronic.Sum, p.Chronic.Judged+s.Chronic.Judged
		if s.First > asOf-newWithin && s.LegTreated != 0 && s.First >= s.LegTreated+treatedFrom {
			p.New = append(p.New, s.Site.ID)
		}
		if s.Reopened {
			p.Reopened = append(p.Reopened, s.Site.ID)
		}
		p.AllClosed = p.AllClosed && (s.Label == ClosedOver || s.Label == Clear)
	}
	p.Together = len(p.Worse) >= 2
	if worst >= 0 {
		p.Worst = sites[worst].Site.ID
	}
	return p
}

// graver tells whether a needs the vet before b: by label, then the prompt, then the active score.
func graver(a, b Standing) bool {
	if ga, gb := a.Label.Gravity(), b.Label.Gravity(); ga != gb {
		return ga > gb
	}
	if a.Remeasure != b.Remeasure {
		return a.Remeasure
	}
	return a.Active.Sum > b.Active.Sum
}

// Gravity orders labels for lists that show the worst first; higher is worse, and no label is -1.
func (l Label) Gravity() int {
	switch l {
	case Widening, Worse:
		return 5
	case NotClosing, NoChange:
		return 4
	case Slow, Unclear, EarlyWidening:
		return 3
	case TooEarly:
		return 2
	case Closing, Clearing:
		return 1
	case ClosedOver, Clear:
		return 0
	}
	return -1
}
