package healing

import (
	"math"
	"slices"

	"leground/tracker"
)

// Judgement is how one wound goes as of a day. Rates are in mm a day and positive when the edge moves in;
// a figure that does not exist is NaN.
type Judgement struct {
	AsOf   tracker.Date
	Label  Label
	Alone  Label // what the last look alone says; three looks in a row change some labels
	Reason Reason

	Rate, Low, High     float64 // Theil-Sen rate of the equivalent radius with its exact-rank interval
	LabelLow, LabelHigh float64 // the wider interval that closing and widening rest on
	Smallest            float64 // the smallest rate these measurements could show: one of that size has an even chance of it
	DaysUsed, SpanDays  int     // measured days that the rate rests on, and days from the first to the last
	LabelSpanDays       int     // days that the wider interval rests on
	NeedDays, NeedSpan  int     // measured days and days of span that a rate needs, by the settings in force

	Remeasure bool // possible widening, measure again today: neither a label nor a caution
	Jump      bool // because of two readings well above those before

	AreaCM2, FirstAreaCM2 float64 // of the last measured day, and of the first since the latest reset
	GiveOrTakeCM2         float64 // 95 % measuring error of AreaCM2
	LastDay, FirstDay     tracker.Date
	PercentAreaReduction  float64 // from FirstAreaCM2 to AreaCM2; negative when it grew
	GilmanMM              float64 // mm a day from the first day used to the last
	LogRatePerWeek        float64 // natural logarithm, positive when closing, from the first day used to the last
	LogSlope              float64 // Theil-Sen slope of ln area per day, negative when closing
	HalfLifeDays          float64

	ClosesFrom, ClosesTo tracker.Date // range in which it may close, after five weeks of closing; else zero

	SinceFirst       int          // days since the site's first reading, whatever was reset
	SlowDays         int          // days since the label became slow, without closing, widening or closed over since; a reset does not start it again
	ClosedOnce       bool         // no open skin on the last measured day only: look again
	Fresh            bool         // known injury of the lower leg not older than three weeks
	OverdueTurn      bool         // a fresh wound that should have turned by now and has not
	Reset            tracker.Date // the series began here; zero: with the first reading
	Treatment        tracker.Date // latest change of treatment; zero: none
	DaysSinceTreated int          // measured days since then; fewer than five are too few to compare
}

// settleSpan is the days of one series before a closing date is given, and then only as a range: earlier
// ones are not reliable (Cukjati et al., Med Biol Eng Comput 2001;39:263).
const settleSpan = 35

// Judge judges a wound as of the end of a day, by the readings and events up to it. It is the one function
// behind every page, caution and command that shows a label. Settings that Check refuses are a fault of the
// program.
func Judge(site Site, s Settings, asOf tracker.Date) Judgement {
	if err := s.Check(); err != nil {
		panic("healing: " + err.Error())
	}
	c := newCourse(&site, s, asOf)
	last := len(c.points) - 1
	v := c.look(last, asOf)
	j := Judgement{AsOf: asOf, Label: v.label, Alone: v.label, Reason: v.reason, Rate: v.rate, Low: v.low, High: v.high,
		LabelLow: v.wideLow, LabelHigh: v.wideHigh, Smallest: v.smallest, DaysUsed: v.n, SpanDays: v.span,
		LabelSpanDays: max(v.span, v.longSpan), NeedDays: s.FewestDays, NeedSpan: s.FewestSpan, Reset: c.reset}
	if last >= 0 {
		c.labels[last] = v.label
		c.history(&j, last)
		c.figures(&j, v)
	} else {
		j.unmeasured()
	}
	if c.first != 0 {
		j.SinceFirst = int(asOf - c.first)
	}
	c.facts(&j, v, last)
	return j
}

// history gives the label that is shown, after the looks before this one.
func (c *course) history(j *Judgement, last int) {
	before := Label(0)
	j.Label = c.run(last, last, func(i int, l Label) {
		if i < last {
			before = l
		}
	})
	if j.Label != j.Alone {
		if j.Reason = Held; j.Label != before {
			j.Reason = NoAgreement
		}
	}
	if j.Label != Slow {
		return
	}
	from := last
	for from > 0 && c.points[from].day > c.asOf-slowReach {
		from--
	}
	since := tracker.Date(0)
	c.run(from, last, func(i int, l Label) {
		switch {
		case l == Slow && since == 0:
			since = c.points[i].day
		case l == Closing || l == Widening || l == ClosedOver:
			since = 0
		}
	})
	j.SlowDays = int(c.asOf - since)
}

// slowReach is how many days back SlowDays looks; what it counts past four weeks changes nothing.
const slowReach = 32

// figures fills in sizes and the rates that are shown beside the label.
func (c *course) figures(j *Judgement, v verdict) {
	j.unmeasured()
	p := c.points[len(c.points)-1]
	j.AreaCM2, j.GiveOrTakeCM2, j.LastDay, j.ClosedOnce = p.area, p.error, p.day, p.closed && j.Label != ClosedOver
	if c.base.day != 0 {
		j.FirstAreaCM2, j.FirstDay = c.base.area, c.base.day
		j.PercentAreaReduction = PercentAreaReduction(c.base.area, p.area)
	}
	if v.from >= v.to {
		return
	}
	first, last := c.points[v.from], c.points[v.to]
	days := float64(last.day - first.day)
	j.GilmanMM = GilmanMM(first.area, c.perimeter(first), last.area, c.perimeter(last)) / days
	j.LogRatePerWeek = LogRatePerWeek(first.area, last.area, days)
	w := &c.work
	n := 0
	for i := v.from; i <= v.to; i++ {
		if p := c.points[i]; !p.closed {
			w.x[n], w.y[n] = float64(p.day-first.day), math.Log(p.area)
			n++
		}
	}
	j.LogSlope = median(w.pairwise(w.y[:], 0, n, 0))
	j.HalfLifeDays = HalfLifeDays(j.LogSlope)
	if (j.Label == Closing || j.Label == Slow) && v.wideLow > 0 && c.base.day != 0 && last.day-c.base.day >= settleSpan {
		j.ClosesFrom = last.day + tracker.Date(math.Ceil(last.radius/v.wideHigh))
		j.ClosesTo = last.day + tracker.Date(math.Min(math.Ceil(last.radius/v.wideLow), 3650))
	}
}

func (j *Judgement) unmeasured() {
	nan := math.NaN()
	j.AreaCM2, j.FirstAreaCM2, j.PercentAreaReduction, j.GiveOrTakeCM2 = nan, nan, nan, nan
	j.GilmanMM, j.LogRatePerWeek, j.LogSlope, j.HalfLifeDays = nan, nan, nan, nan
}

// facts fills in what other rules ask of a wound beside its label.
func (c *course) facts(j *Judgement, v verdict, last int) {
	age := int(c.asOf - c.site.Onset)
	fresh := c.site.Onset > 0 && age >= 0 && c.site.Distal
	j.Fresh = fresh && age <= freshDays
	j.OverdueTurn = fresh && c.overdue(age)
	if j.Label != Widening && j.Label != ClosedOver {
		j.Jump = j.Label != EarlyWidening && c.jumped(last, v.sigma)
		j.Remeasure = v.prompt || j.Jump
	}
	for _, t := range c.site.Treatments {
		if t <= c.asOf {
			j.Treatment = max(j.Treatment, t)
		}
	}
	if j.Treatment != 0 {
		for _, p := range c.points {
			if p.day >= j.Treatment {
				j.DaysSinceTreated++
			}
		}
	}
}

// overdueUntil is the last day after an injury on which its turn can be overdue; the labels take over.
const overdueUntil = 60

// overdue tells whether a fresh wound should have turned: published leg wounds stop growing within two
// weeks, three with a bandage (Dart et al., Aust Vet J 2009;87:215), so a week later the median of three
// days should be below that of the second week's end.
func (c *course) overdue(age int) bool {
	due := freshDays
	if c.bandaged(c.asOf) {
		due += 7
	}
	if age < due || age > overdueUntil {
		return false
	}
	var open, before []float64
	for i := len(c.points) - 1; i >= 0 && c.points[i].day >= c.site.Onset; i-- {
		switch p := c.points[i]; {
		case p.closed:
			return false
		case p.day <= c.site.Onset+freshBareDays:
			before = append(before, p.area)
		default:
			open = append(open, p.area)
		}
	}
	if len(open) < 3 || len(before) < 3 {
		return false
	}
	return median(open[:3]) >= median(before[:3])
}

// jumped tells whether the last two readings both stand well above those before them: more than 2.5
// errors of ln area over the median of up to seven earlier days of the window.
func (c *course) jumped(last int, sigma float64) bool {
	var recent [9]float64
	n := 0
	for i := last; i >= 0 && n < len(recent) && c.points[i].day > c.asOf-tracker.Date(c.settings.WindowDays); i-- {
		if !c.points[i].closed {
			recent[n] = c.points[i].area
			n++
		}
		if c.points[i].starts {
			break
		}
	}
	if n < 5 {
		return false
	}
	limit := median(slices.Clone(recent[2:n])) * math.Exp(jumpErrors*math.Max(sigma, jumpFloor))
	return recent[0] > limit && recent[1] > limit
}

const (
	jumpErrors = 2.5
	jumpFloor  = 0.07
)
