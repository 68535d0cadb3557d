package cautions

import (
	"cmp"
	"slices"
	"time"

	"leground/tracker"
)

// Facts are what is known of one horse at a save or at a daily look. The order of lists does not matter.
type Facts struct {
	Horse    tracker.Horse
	LegWords tracker.LegWords
	Mark     tracker.DecimalMark
	Legs     []LegFacts
	Sites    []SiteFacts
	Vitals   []tracker.Check // the horse's checks with vital signs of the last two days or more
	Body     Body
}

// LegFacts are what was seen of one leg and its foot.
type LegFacts struct {
	Leg         tracker.Leg
	Line        tracker.Check   // the newest leg line; zero: never looked at
	Earlier     []tracker.Check // leg lines before it, a week of them where there are
	Foot        tracker.Check   // the newest look at the foot; zero: none
	TreatedDays int             // days since care of this leg began; 0: not treated
	Girths      []Girth         // girth at the leg's marked point
}

// Girth is one reading of a leg's girth, with the moment of the look that took it.
type Girth struct {
	At  time.Time
	Day tracker.Date
	MM  int
}

// SiteFacts are what is known of one site.
type SiteFacts struct {
	Site           tracker.Site
	Place          string            // in words, without the leg: "pastern, back"
	Check          tracker.Check     // the newest look; zero: none yet
	FirstLook      bool              // Check is the first look at it
	Judged         tracker.Judgement // the newest judgement; zero: none yet
	DaysSinceFirst int               // days since the site's first look; a reset does not start it again
	SlowDays       int               // days that the label has been slow, without a break
	OverdueTurn    bool              // a fresh wound that should have turned by now (package healing)
	Reopened       bool              // it opened again since the look before
	JoinedNow      bool              // it has grown together with another site since the look before
}

// Body is what is known of the whole horse beside its vital signs.
type Body struct {
	Scores       []Score       // body condition
	FeedKnown    bool          // what it was fed before it came is known
	Refeeding    bool          // it is being fed up after starvation
	Weak         bool          // weak, wobbly, down or seizing
	FootSoreLook bool          // leans back, shifts weight from foot to foot or will not walk on
	Check        tracker.Check // the look at the horse that noted the last two
}

// Score is one body condition score, 1 to 9 on Henneke's scale; halves are taken. At is the moment of the look.
type Score struct {
	At    time.Time
	Day   tracker.Date
	Value float64
}

// Fired is one rule that the facts meet, with everything a tracker.Caution keeps of it.
type Fired struct {
	Rule    string
	Level   tracker.Level
	Horse   tracker.HorseID
	Leg     tracker.Leg    // 0: the whole horse
	Site    tracker.SiteID // empty: the whole leg
	Seen    string
	Why     string
	Next    string
	Numbers map[string]string
	Check   tracker.RecordID // root of the look that met it; empty: no single look
	At      time.Time        // when that look was
}

// Caution gives what is kept. The caller makes the id.
func (f Fired) Caution(id tracker.CautionID, now time.Time) tracker.Caution {
	return tracker.Caution{ID: id, Rule: f.Rule, Level: f.Level, Horse: f.Horse, Leg: f.Leg, Site: f.Site,
		Seen: f.Seen, Why: f.Why, Next: f.Next, Numbers: f.Numbers, Check: f.Check, Raised: now}
}

// Sighting gives what a caution that waits already keeps of it.
func (f Fired) Sighting() tracker.Sighting {
	return tracker.Sighting{Seen: f.Seen, Numbers: f.Numbers, Check: f.Check}
}

// view is the facts in one order, without retracted looks, and the moment they are looked at.
type view struct {
	Facts
	now   time.Time
	today tracker.Date
}

func newView(f Facts, now time.Time) view {
	if f.Mark.String() == "" {
		f.Mark = tracker.Point // a red flag must not be lost because nobody chose a mark
	}
	f.Legs = slices.Clone(f.Legs)
	for i := range f.Legs {
		leg := &f.Legs[i]
		leg.Line, leg.Foot = counted(leg.Line), counted(leg.Foot)
		leg.Earlier = newestFirst(leg.Earlier)
		leg.Girths = slices.Clone(leg.Girths)
		slices.SortFunc(leg.Girths, func(a, b Girth) int {
			return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.MM, b.MM))
		})
	}
	slices.SortFunc(f.Legs, func(a, b LegFacts) int { return cmp.Compare(a.Leg, b.Leg) })
	f.Sites = slices.Clone(f.Sites)
	for i := range f.Sites {
		f.Sites[i].Check = counted(f.Sites[i].Check)
	}
	slices.SortFunc(f.Sites, func(a, b SiteFacts) int {
		return cmp.Or(cmp.Compare(a.Site.Leg, b.Site.Leg), cmp.Compare(a.Site.Number, b.Site.Number),
			cmp.Compare(a.Site.ID, b.Site.ID))
	})
	f.Vitals = newestFirst(f.Vitals)
	f.Body.Scores = slices.Clone(f.Body.Scores)
	slices.SortFunc(f.Body.Scores, func(a, b Score) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(b.Value, a.Value)) // of two at one moment the worse comes last, as with girths
	})
	return view{Facts: f, now: now, today: tracker.DateOf(now)}
}

// counted drops a retracted look.
func counted(c tracker.Check) tracker.Check {
	if c.Outcome == tracker.Retracted {
		return tracker.Check{}
	}
	return c
}

func newestFirst(checks []tracker.Check) []tracker.Check {
	kept := slices.DeleteFunc(slices.Clone(checks), func(c tracker.Check) bool { return c.Outcome == tracker.Retracted })
	slices.SortFunc(kept, func(a, b tracker.Check) int {
		return cmp.Or(b.At.Compare(a.At), cmp.Compare(b.ID, a.ID))
	})
	return kept
}

// root names the look that a version belongs to.
func root(c tracker.Check) tracker.RecordID {
	if c.Root != "" {
		return c.Root
	}
	return c.ID
}

// from fills in the look that met a rule.
func (f Fired) from(c tracker.Check) Fired {
	f.Check, f.At = root(c), c.At
	return f
}

// fired is a Fired about a site.
func (s SiteFacts) fired(seen string) Fired {
	f := Fired{Leg: s.Site.Leg, Site: s.Site.ID, Seen: seen}
	if s.Check.ID != "" {
		f = f.from(s.Check)
	}
	return f
}

// wounds are the open wounds.
func (v view) wounds() []SiteFacts {
	return slices.DeleteFunc(slices.Clone(v.Sites), func(s SiteFacts) bool {
		return s.Site.Kind != tracker.Wound || !s.Site.Open()
	})
}

// leg finds a leg's facts.
func (v view) leg(leg tracker.Leg) LegFacts {
	for _, l := range v.Legs {
		if l.Leg == leg {
			return l
		}
	}
	return LegFacts{Leg: leg}
}
