package healing

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"leground/tracker"
)

// diff compares judgements; a figure that does not exist is NaN in both.
func diff(a, b any) string { return cmp.Diff(a, b, cmpopts.EquateNaNs()) }

// diffNear compares them up to rounding.
func diffNear(a, b any) string {
	return cmp.Diff(a, b, cmpopts.EquateNaNs(), cmpopts.EquateApprox(1e-9, 1e-9))
}

// ruled makes daily ruler readings with both lengths the same.
func ruled(lengths ...float64) Site {
	s := Site{Distal: true}
	for i, l := range lengths {
		s.Readings = append(s.Readings, Reading{Day: simDay0 + tracker.Date(i), Method: tracker.Ruler, LengthMM: l, WidthMM: l, SkinSeen: true})
	}
	return s
}

func judgeAt(s Site, day int) Judgement {
	return Judge(s, DefaultSettings(), simDay0+tracker.Date(day))
}

// The behaviours B1 to B7 are this project's own requirements.

func TestB1FreshWoundIsNeverWidening(t *testing.T) {
	labels, _ := judgeDaily(freshWound(1.9, 14, false))
	if slices.Contains(labels, Widening) {
		t.Errorf("widening: %v", labels)
	}
	if labels[10] != EarlyWidening || labels[42] != Closing {
		t.Errorf("day 10 %v, want early widening; day 42 %v, want closing", labels[10], labels[42])
	}
}

func TestB2SameCurveWithUnknownOnsetIsWidening(t *testing.T) {
	site := freshWound(1.9, 14, false)
	site.Onset = 0
	if labels, _ := judgeDaily(site); !slices.Contains(labels, Widening) {
		t.Errorf("never widening without an excuse: %v", labels)
	}
	site = freshWound(1.9, 14, false)
	site.Distal = false
	if labels, _ := judgeDaily(site); !slices.Contains(labels, Widening) {
		t.Errorf("never widening off the lower leg: %v", labels)
	}
}

func TestB3TooEarly(t *testing.T) {
	for _, c := range []struct {
		days   []int
		label  Label
		reason Reason
	}{
		{[]int{0, 3, 6, 9}, TooEarly, FewDays},
		{[]int{0, 1, 2, 3, 4, 5, 6}, TooEarly, ShortSpan},
		{[]int{0, 2, 4, 6, 7}, Closing, WideAboveZero},
		{nil, TooEarly, NothingMeasured},
	} {
		var site Site
		for _, d := range c.days {
			site.Readings = append(site.Readings, Reading{Day: simDay0 + tracker.Date(d), Method: tracker.Ruler, LengthMM: 40 - 1.5*float64(d), WidthMM: 30 - 1.5*float64(d)})
		}
		if j := judgeAt(site, 9); j.Label != c.label || j.Reason != c.reason {
			t.Errorf("days %v: %v for %d, want %v for %d", c.days, j.Label, j.Reason, c.label, c.reason)
		}
	}
}

func TestB4ScaleLeavesPercentAndLogSlope(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		site := drawSite(t, 60)
		factor := rapid.Float64Range(0.1, 10).Draw(t, "factor")
		big := site
		big.Readings = slices.Clone(site.Readings)
		for i := range big.Readings {
			big.Readings[i].AreaCM2 *= factor
			big.Readings[i].LengthMM *= math.Sqrt(factor)
			big.Readings[i].WidthMM *= math.Sqrt(factor)
		}
		a, b := judgeAt(site, 59), judgeAt(big, 59)
		for name, pair := range map[string][2]float64{"percent": {a.PercentAreaReduction, b.PercentAreaReduction}, "half-life": {a.HalfLifeDays, b.HalfLifeDays}, "log rate": {a.LogRatePerWeek, b.LogRatePerWeek},
			"rate": {a.Rate * math.Sqrt(factor), b.Rate}, "gilman": {a.GilmanMM * math.Sqrt(factor), b.GilmanMM}} {
			if a.DaysUsed == b.DaysUsed && !near(pair[1], pair[0], 1e-6) && math.Abs(a.LogSlope) > 1e-9 {
				t.Errorf("%s: %v, scaled by %v: %v", name, pair[0], factor, pair[1])
			}
		}
	})
}

// TestB5DecimalSlip: a slip by ten in one of 14 good points leaves the label. Good points here are daily, of
// a wound whose way is plain: 3 % error, 0.4 mm a day in or out, or none. Within a hair's breadth of a boundary
// one slip can still tip a label, since it moves 13 of the 91 pairwise slopes.
func TestB5DecimalSlip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 3))
		rate := rapid.SampledFrom([]float64{-0.4, 0, 0.4}).Draw(t, "rate")
		site := Site{Distal: true}
		for day := range 14 {
			r := 15 - rate*float64(day)
			site.Readings = append(site.Readings, Reading{Day: simDay0 + tracker.Date(day), Method: tracker.Traced, AreaCM2: math.Pi * r * r / 100 * math.Exp(0.03*rng.NormFloat64())})
		}
		clean := judgeAt(site, 13)
		k := rapid.IntRange(0, 13).Draw(t, "slipped")
		slipped := site
		slipped.Readings = slices.Clone(site.Readings)
		slipped.Readings[k].AreaCM2 *= rapid.SampledFrom([]float64{10, 0.1}).Draw(t, "slip")
		if j := judgeAt(slipped, 13); j.Label != clean.Label {
			t.Errorf("slip at %d of rate %v: %v, was %v (%+v)", k, rate, j.Label, clean.Label, j)
		}
	})
}

func TestB6ZeroIsClosedAndNoLogarithm(t *testing.T) {
	site := ruled(30, 27, 24, 20, 17, 13, 10, 7, 4, 0)
	j := judgeAt(site, 9)
	if j.Label == ClosedOver || !j.ClosedOnce || j.AreaCM2 != 0 || j.PercentAreaReduction != 100 {
		t.Errorf("after one zero: %+v", j)
	}
	if math.IsInf(j.LogSlope, 0) || math.IsInf(j.LogRatePerWeek, 0) || j.DaysUsed != 9 {
		t.Errorf("a zero reached a logarithm: slope %v, rate %v, %d days", j.LogSlope, j.LogRatePerWeek, j.DaysUsed)
	}
	site = ruled(30, 27, 24, 20, 17, 13, 10, 7, 4, 0, 0)
	if j := judgeAt(site, 10); j.Label != ClosedOver || j.Reason != ZeroTwice {
		t.Errorf("after two zeros: %v", j.Label)
	}
	slit := Reading{Day: simDay0 + 10, Method: tracker.Ruler, WidthMM: 5, SkinSeen: true}
	site.Readings[10] = slit
	if j := judgeAt(site, 10); j.Label == ClosedOver || slit.Valid() {
		t.Errorf("0 mm by 5 mm counted as no open skin: %v", j.Label)
	}
	site = ruled(30, 27, 24, 20, 17, 13, 10, 7, 4, 0, 0)
	for name, change := range map[string]func(*Reading){
		"skin not seen": func(r *Reading) { r.SkinSeen = false },
		"scab on":       func(r *Reading) { r.ScabOn = true },
		"bandage on":    func(r *Reading) { r.BandageOn = true },
	} {
		hidden := site
		hidden.Readings = slices.Clone(site.Readings)
		change(&hidden.Readings[10])
		if j := judgeAt(hidden, 10); j.Label == ClosedOver {
			t.Errorf("closed over with %s", name)
		}
	}
}

func TestB7ResetLeavesEarlierPointsOut(t *testing.T) {
	var lengths []float64
	for i := range 14 {
		lengths = append(lengths, 40-float64(i))
	}
	for i := range 10 {
		lengths = append(lengths, 45-2*float64(i)) // larger once the dead tissue is gone
	}
	site := ruled(lengths...)
	site.Resets = []tracker.Date{simDay0 + 14}
	j := judgeAt(site, 23)
	if j.DaysUsed != 10 || j.SpanDays != 9 || !near(j.Rate, 1, 1e-9) || j.Reset != simDay0+14 || j.Label != Closing {
		t.Errorf("%d days, rate %v, label %v", j.DaysUsed, j.Rate, j.Label)
	}
	if want := EllipseAreaCM2(45, 45); j.FirstAreaCM2 != want || j.FirstDay != simDay0+14 {
		t.Errorf("first area %v on %s, want that of the reset's day", j.FirstAreaCM2, j.FirstDay)
	}
	if at := judgeAt(site, 15); at.Label != TooEarly || at.Reason != FewDays {
		t.Errorf("two days after the reset: %v", at.Label)
	}
	if j.SinceFirst != 23 {
		t.Errorf("%d days since the first reading: a reset must not start the count again", j.SinceFirst)
	}
}

// TestResetsDoNotHideAWoundThatStandsStill: with dead tissue trimmed each week and a half the wound is called
// not closing as soon as there is a rate at all, since its two weeks ran on.
func TestResetsDoNotHideAWoundThatStandsStill(t *testing.T) {
	lengths := slices.Repeat([]float64{40}, 40)
	site := ruled(lengths...)
	site.Resets = []tracker.Date{simDay0 + 12, simDay0 + 24}
	j := judgeAt(site, 34)
	if j.Label != NotClosing || j.DaysUsed != 11 {
		t.Errorf("%v on %d days", j.Label, j.DaysUsed)
	}
}

func TestReopenedBeginsANewSeries(t *testing.T) {
	site := ruled(20, 15, 10, 5, 0, 0, 18, 18, 19)
	j := judgeAt(site, 8)
	if j.Reset != simDay0+6 || j.DaysUsed != 3 || j.Label != TooEarly {
		t.Errorf("after re-opening: reset %s, %d days, %v", j.Reset, j.DaysUsed, j.Label)
	}
	once := ruled(20, 19, 18, 17, 0, 16, 15, 14, 13)
	if j := judgeAt(once, 8); j.Reset != 0 || j.DaysUsed != 8 {
		t.Errorf("one zero is no closing: reset %s, %d days", j.Reset, j.DaysUsed)
	}
}

func TestMethodsAreNeverMixed(t *testing.T) {
	site := ruled(40, 39, 38, 37, 36, 35, 34, 33, 32, 31)
	for i := range 4 {
		site.Readings = append(site.Readings, Reading{Day: simDay0 + tracker.Date(10+i), Method: tracker.Traced, AreaCM2: 20})
	}
	j := judgeAt(site, 13)
	if j.DaysUsed != 10 || j.LastDay != simDay0+9 || j.Label != Closing {
		t.Errorf("with four tracings: %d days to %s, %v", j.DaysUsed, j.LastDay, j.Label)
	}
	site.Readings = append(site.Readings, Reading{Day: simDay0 + 14, Method: tracker.Traced, AreaCM2: 20})
	if j = judgeAt(site, 14); j.DaysUsed != 5 || j.LastDay != simDay0+14 || !near(j.FirstAreaCM2, 20, 1e-12) {
		t.Errorf("with five tracings: %d days to %s", j.DaysUsed, j.LastDay)
	}
}

func TestDayIsTheMedianOfItsReadings(t *testing.T) {
	site := ruled(40, 38, 36, 34, 32, 30, 28, 26)
	site.Readings = append(site.Readings, Reading{Day: simDay0 + 7, Method: tracker.Ruler, LengthMM: 260, WidthMM: 26}, Reading{Day: simDay0 + 7, Method: tracker.Ruler, LengthMM: 26.5, WidthMM: 26.5})
	if j := judgeAt(site, 7); !near(j.AreaCM2, EllipseAreaCM2(26.5, 26.5), 1e-12) || j.DaysUsed != 8 {
		t.Errorf("area %v on %d days", j.AreaCM2, j.DaysUsed)
	}
}

func TestWindow(t *testing.T) {
	daily := steady(30, 0.1, 60)
	if j := judgeAt(daily, 59); j.DaysUsed != 21 || j.SpanDays != 20 {
		t.Errorf("daily: %d days over %d", j.DaysUsed, j.SpanDays)
	}
	thin := func(every, count int) Site {
		s := Site{}
		for i := range count {
			s.Readings = append(s.Readings, Reading{Day: simDay0 + tracker.Date(i*every), Method: tracker.Ruler, LengthMM: 50, WidthMM: 40})
		}
		return s
	}
	if j := judgeAt(thin(3, 20), 57); j.DaysUsed != 8 || j.SpanDays != 21 {
		t.Errorf("every third day: %d days over %d, want 8 over 21", j.DaysUsed, j.SpanDays)
	}
	if j := judgeAt(thin(7, 12), 77); j.DaysUsed != 6 || j.SpanDays != 35 {
		t.Errorf("weekly: %d days over %d, want 6 over 35: six weeks at most", j.DaysUsed, j.SpanDays)
	}
	if j := judgeAt(daily, 59+30); j.DaysUsed != 8 {
		t.Errorf("a month later: %d days, want the window stretched back to 8", j.DaysUsed)
	}
	if j := judgeAt(daily, 59+60); j.Label != TooEarly || j.Reason != NothingMeasured || !math.IsNaN(j.Rate) {
		t.Errorf("two months later: %v for %d", j.Label, j.Reason)
	}
}

func TestOverdueTurn(t *testing.T) {
	grows := func(bandaged bool) Site {
		w := simWound{radius: 14, growth: func(d int) float64 { return 1 + 0.02*float64(d) }, every: 1, whole: true, onset: true, bandaged: bandaged}
		return w.measured(rand.New(rand.NewPCG(1, 1)))
	}
	for _, c := range []struct {
		site Site
		day  int
		want bool
	}{{grows(false), 20, false}, {grows(false), 21, true}, {grows(true), 27, false}, {grows(true), 28, true}, {freshWound(1.5, 12, false), 24, false}} {
		if got := judgeAt(c.site, c.day).OverdueTurn; got != c.want {
			t.Errorf("day %d: overdue %v, want %v", c.day, got, c.want)
		}
	}
}

func TestBeyondPublishedGrowth(t *testing.T) {
	w := simWound{radius: 14, growth: func(d int) float64 { return 1 + 0.16*float64(d) }, every: 1, whole: true, onset: true, bandaged: true}
	labels, prompts := judgeDaily(w.measured(rand.New(rand.NewPCG(1, 1))))
	prompt, wide := slices.Index(prompts, true), slices.Index(labels, Widening)
	if prompt < 0 || wide < 0 || prompt > wide || wide > 16 {
		t.Errorf("three times its area by day 12: prompt on day %d, widening on day %d", prompt, wide)
	}
}

func TestJumpIsAPromptAndNoLabel(t *testing.T) {
	site := ruled(40, 40, 40, 41, 40, 39, 40, 40, 40, 55)
	if j := judgeAt(site, 9); j.Jump || j.Remeasure {
		t.Error("one high reading is a slip")
	}
	site = ruled(40, 40, 40, 41, 40, 39, 40, 40, 40, 55, 55)
	if j := judgeAt(site, 10); !j.Jump || !j.Remeasure || j.Label == Widening || j.Prompt() == "" {
		t.Errorf("two high readings: jump %v, %v", j.Jump, j.Label)
	}
}

func TestSlowDaysRunOnThroughAReset(t *testing.T) {
	site := steady(14, 0.07, 80)
	without := judgeAt(site, 79)
	site.Resets = []tracker.Date{simDay0 + 60}
	with := judgeAt(site, 79)
	if without.Label != Slow || with.Label != Slow || without.SlowDays < 28 || with.SlowDays < 28 {
		t.Errorf("slow for %d days, with a reset %v for %d", without.SlowDays, with.Label, with.SlowDays)
	}
	if early := judgeAt(steady(14, 0.07, 80), 45); early.Label == Slow && early.SlowDays >= 45 {
		t.Errorf("slow for %d of 45 days", early.SlowDays)
	}
}

// TestThreeInARow: one odd look does not change a label that says no direction.
func TestThreeInARow(t *testing.T) {
	var lengths []float64
	for range 30 {
		lengths = append(lengths, 40)
	}
	for i := range 20 {
		lengths = append(lengths, 40-0.8*float64(i))
	}
	site := ruled(lengths...)
	before := Label(0)
	for day := 20; day < 50; day++ {
		j := judgeAt(site, day)
		if before != 0 && j.Label != before && j.Label != Closing && j.Label != Slow {
			if k := judgeAt(site, day-1); k.Alone == before {
				t.Errorf("day %d: %v became %v although the look before said %v", day, before, j.Label, k.Alone)
			}
		}
		before = j.Label
	}
	if before != Closing {
		t.Errorf("at the end %v", before)
	}
}

// TestWideningIsKeptUntilThreeLooksAgree checks the side that is chosen for the horse.
func TestWideningIsKeptUntilThreeLooksAgree(t *testing.T) {
	var lengths []float64
	for i := range 30 {
		lengths = append(lengths, 30+0.6*float64(i))
	}
	for i := range 25 {
		lengths = append(lengths, 48-1.5*float64(i))
	}
	site := ruled(lengths...)
	other := 0
	for day := 29; day < 55; day++ {
		j := judgeAt(site, day)
		if j.Alone != Widening {
			other++
		}
		if other > 0 && other < 3 && j.Label != Widening {
			t.Errorf("day %d: %v after %d looks that say otherwise", day, j.Label, other)
		}
	}
	if other == 0 {
		t.Error("the wound never turned")
	}
}

func TestTreatmentIsMarkedAndNoReset(t *testing.T) {
	site := steady(30, 0.2, 30)
	site.Treatments = []tracker.Date{simDay0 + 5, simDay0 + 26, simDay0 + 99}
	j := judgeAt(site, 29)
	if j.Treatment != simDay0+26 || j.DaysSinceTreated != 4 || j.DaysUsed != 21 || j.Reset != 0 {
		t.Errorf("treatment %s, %d days since, %d used, reset %s", j.Treatment, j.DaysSinceTreated, j.DaysUsed, j.Reset)
	}
}

func TestSettings(t *testing.T) {
	if err := DefaultSettings().Check(); err != nil {
		t.Error(err)
	}
	if err := (Settings{}).Check(); err == nil || !strings.Contains(err.Error(), "closing from is 0: choose between 0.01 and 1 mm a day") {
		t.Errorf("unset settings: %v", err)
	}
	site := steady(20, 0.12, 30)
	s := DefaultSettings()
	s.ClosingMM = 0.15
	if a, b := Judge(site, DefaultSettings(), simDay0+29), Judge(site, s, simDay0+29); a.Label != Closing || b.Label != Slow {
		t.Errorf("0.12 mm a day is %v at 0.10 and %v at 0.15", a.Label, b.Label)
	}
	defer func() {
		if recover() == nil {
			t.Error("unset settings were used")
		}
	}()
	Judge(site, Settings{}, simDay0)
}

// TestFromTheRecord: a wound gathered from checks is judged as one made of readings.
func TestFromTheRecord(t *testing.T) {
	want := ruled(30, 29, 28, 27, 26, 25, 24, 23, 22)
	want.Bandaged, want.Resets, want.Treatments = []tracker.Date{simDay0 + 3}, []tracker.Date{simDay0 + 2}, []tracker.Date{simDay0 + 4}
	var checks []tracker.Check
	for i, r := range want.Readings {
		c := tracker.Check{Outcome: tracker.Looked, Day: r.Day, SkinSeen: true, Size: tracker.Size{Answer: tracker.Measured, LengthMM: int(r.LengthMM), WidthMM: int(r.WidthMM), Method: tracker.Ruler}}
		retracted, bare := c, c
		retracted.Outcome, retracted.Size.LengthMM = tracker.Retracted, 300
		bare.Size = tracker.Size{Answer: tracker.NotDue}
		if i == 3 {
			bare.Size.Answer = tracker.UnderBandage
		}
		checks = append(checks, retracted, c, bare)
	}
	site := tracker.Site{Region: tracker.Pastern, Kind: tracker.Wound}
	events := []tracker.Event{{Kind: tracker.Debridement, Day: simDay0 + 2}, {Kind: tracker.TreatmentChange, Day: simDay0 + 4}, {Kind: tracker.VetVisit, Day: simDay0 + 5}}
	if d := diff(want, NewSite(site, checks, events)); d != "" {
		t.Error(d)
	}
	closed := NewSite(site, []tracker.Check{{Outcome: tracker.Looked, Day: simDay0, SkinSeen: true, Size: tracker.Size{Answer: tracker.ClosedOver}}}, nil)
	if len(closed.Readings) != 1 || !closed.Readings[0].clear() {
		t.Errorf("closed over is read as %+v", closed.Readings)
	}
	j := judgeAt(want, 8)
	record := j.Record("site", tracker.Point, time.Unix(0, 0))
	if record.Label != j.Label.String() || record.Rate != j.Rate || !record.HasRate || record.AreaCM2 != j.AreaCM2 || record.Reason != j.Why(tracker.Point) {
		t.Errorf("kept %+v", record)
	}
	if none := judgeAt(Site{}, 0).Record("site", tracker.Point, time.Unix(0, 0)); none.HasRate || none.Rate != 0 || none.AreaCM2 != 0 {
		t.Errorf("of nothing is kept %+v", none)
	}
}

// TestFreshWoundThatNeverTurns: from the end of its excuse until it is called widening, a fresh wound whose
// every day is its largest is never said to have turned, and asks to be measured again from 2.2 times its
// first area on (rule 3 of the design). That widening comes as late as day 34 to 40 is what its simulation found.
func TestFreshWoundThatNeverTurns(t *testing.T) {
	site := Site{Distal: true, Onset: simDay0}
	for day := range 41 {
		d := float64(day)
		site.Readings = append(site.Readings, Reading{Day: simDay0 + tracker.Date(day), Method: tracker.Ruler,
			LengthMM: math.Round(30 + d), WidthMM: math.Round(25 + 0.7*d), SkinSeen: true})
	}
	found := 0
	for day := range site.Readings {
		j := judgeAt(site, day)
		if found == 0 && j.Label == Widening {
			found = day
		}
		if j.Reason == SincePeak {
			t.Errorf("day %d, its largest: %s", day, j.Why(tracker.Point))
		}
		// Every day is the largest, so the medians of three are those of the day before and of day 1.
		beyond := day >= 3 && site.Readings[day-1].Area() > 2.2*site.Readings[1].Area()
		if beyond && found == 0 && !j.Remeasure {
			t.Errorf("day %d, %.1f cm2, %v: not asked to measure again", day, j.AreaCM2, j.Label)
		}
	}
	if found == 0 || found > 40 {
		t.Errorf("called widening on day %d", found)
	}
	j := judgeAt(site, 21)
	if want := "2.7 times its first"; j.Reason != NotTurned || !strings.Contains(j.Why(tracker.Point), want) {
		t.Errorf("day 21: %s", j.Why(tracker.Point))
	}
}
