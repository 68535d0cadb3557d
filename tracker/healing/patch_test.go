package healing

import (
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"leground/tracker"
)

// The rule for patches, its six active and three chronic signs and its steps are this project's own
// proposal; no source is claimed for the numbers here.

// sixes makes one look a day with these active scores, spread over the signs from crust on.
func sixes(scores ...int) Patch {
	var p Patch
	for i, score := range scores {
		signs := tracker.Signs{}
		for _, s := range tracker.ActiveSigns() {
			signs[s] = min(2, score)
			score -= signs[s]
		}
		p.Looks = append(p.Looks, Look{Day: simDay0 + tracker.Date(i), Signs: signs})
	}
	return p
}

func TestPatchLabels(t *testing.T) {
	for name, c := range map[string]struct {
		scores        []int
		label         Label
		before, now   float64
		unchanged     bool
		notClear      bool
		changeOfLooks func(p *Patch)
	}{
		"two days":                     {scores: []int{5, 5}, label: TooEarly},
		"three days alike":             {scores: []int{5, 5, 5}, label: NoChange, before: 5, now: 5},
		"a week alike":                 {scores: []int{5, 5, 5, 5, 6, 5, 5, 5}, label: NoChange, before: 5, now: 5, unchanged: true},
		"fell by two":                  {scores: []int{6, 6, 6, 5, 5, 4, 4, 4}, label: Clearing, before: 6, now: 4},
		"fell by one":                  {scores: []int{6, 6, 6, 5, 5, 5, 5, 5}, label: NoChange, before: 6, now: 5, unchanged: true},
		"rose by two":                  {scores: []int{4, 4, 4, 4, 5, 6, 6, 6}, label: Worse, before: 4, now: 6},
		"one odd look":                 {scores: []int{4, 4, 4, 4, 4, 4, 9, 4}, label: NoChange, before: 4, now: 4, unchanged: true},
		"against a week before":        {scores: []int{12, 12, 12, 6, 6, 6, 6, 6, 6, 6, 6, 6, 6}, label: NoChange, before: 6, now: 6, unchanged: true},
		"clear on two days":            {scores: []int{4, 3, 2, 1, 0, 0}, label: Clear, before: math.NaN(), now: 0},
		"clear on one day":             {scores: []int{4, 4, 4, 2, 1, 0}, label: Clearing, before: 4, now: 1},
		"two weeks and clearing":       {scores: []int{9, 9, 9, 9, 9, 9, 9, 9, 9, 7, 6, 5, 5, 5, 5}, label: Clearing, before: 9, now: 5, notClear: true},
		"not judged is never zero":     {scores: []int{6, 6, 6, 6, 6, 6, 6, 6}, label: NoChange, before: 2, now: 2, unchanged: true, changeOfLooks: func(p *Patch) { dropFrom(p, 5, tracker.Redness, tracker.SkinBreak) }},
		"clear needs the signs judged": {scores: []int{2, 2, 2, 0, 0}, label: NoChange, before: 0, now: 0, changeOfLooks: func(p *Patch) { dropFrom(p, 3, tracker.Crust) }},
		"dark skin can be clear":       {scores: []int{2, 2, 2, 0, 0}, label: Clear, before: math.NaN(), now: 0, changeOfLooks: func(p *Patch) { dropFrom(p, 0, tracker.Redness) }},
		"nothing judged at both ends": {scores: []int{2, 2, 2, 2, 2, 2}, label: TooEarly, changeOfLooks: func(p *Patch) {
			dropFrom(p, 3, tracker.Crust, tracker.Redness, tracker.SkinBreak)
			p.Looks = append(p.Looks[:0:0], p.Looks...)
			for i := range 3 {
				p.Looks[i].Signs = tracker.Signs{tracker.Crust: 2}
			}
		}},
		"a look at chronic signs alone": {scores: []int{2, 2, 2, 2}, label: NoChange, before: 2, now: 2, changeOfLooks: func(p *Patch) { dropFrom(p, 3, tracker.ActiveSigns()...); p.Looks[3].Signs[tracker.Nodules] = 1 }},
		"a sign reached its highest":    {scores: []int{4, 4, 4, 4}, label: Worse, before: 4, now: 4, changeOfLooks: func(p *Patch) { p.Looks[3].Signs[tracker.Pain] = 3 }},
		"it was at its highest before":  {scores: []int{4, 4, 4, 4}, label: NoChange, before: 7, now: 7, changeOfLooks: func(p *Patch) { setAll(p, tracker.Pain, 3) }},
		"fell but a sign rose to three": {scores: []int{9, 9, 9, 3}, label: Worse, before: 9, now: 9, changeOfLooks: func(p *Patch) { p.Looks[3].Signs[tracker.Exudate] = 3 }},
	} {
		p := sixes(c.scores...)
		if c.changeOfLooks != nil {
			c.changeOfLooks(&p)
		}
		j := JudgePatch(p, simDay0+tracker.Date(len(c.scores)-1))
		if c.label == TooEarly {
			c.before, c.now = math.NaN(), math.NaN()
		}
		if j.Label != c.label || !near(j.Before, c.before, 0) || !near(j.Now, c.now, 0) || j.Unchanged != c.unchanged || j.NotClear != c.notClear {
			t.Errorf("%s: %v for %d, %v to %v, unchanged %v, not clear %v; want %v, %v to %v, %v, %v", name, j.Label, j.Reason, j.Before, j.Now, j.Unchanged, j.NotClear, c.label, c.before, c.now, c.unchanged, c.notClear)
		}
		if j.Why() == "" {
			t.Errorf("%s: no reason in words", name)
		}
	}
}

func dropFrom(p *Patch, look int, signs ...tracker.Sign) {
	for _, l := range p.Looks[look:] {
		for _, s := range signs {
			delete(l.Signs, s)
		}
	}
}

func setAll(p *Patch, s tracker.Sign, value int) {
	for _, l := range p.Looks {
		l.Signs[s] = value
	}
}

func TestChronicSignsAreApart(t *testing.T) {
	p := sixes(8, 8, 8, 6, 5, 4, 3, 2)
	setAll(&p, tracker.Thickening, 3)
	setAll(&p, tracker.HairLoss, 2)
	dropFrom(&p, 6, tracker.Thickening, tracker.HairLoss, tracker.Nodules)
	j := JudgePatch(p, simDay0+7)
	if j.Label != Clearing || j.Active != (Score{2, 6}) || j.Chronic != (Score{5, 2}) || j.Form != Proliferative {
		t.Errorf("%v, active %v, chronic %v, %v", j.Label, j.Active, j.Chronic, j.Form)
	}
}

func TestForm(t *testing.T) {
	for want, signs := range map[Form]tracker.Signs{
		NoForm:        {tracker.Crust: 0},
		Mild:          {tracker.Crust: 3, tracker.SkinBreak: 1, tracker.Thickening: 1},
		Exudative:     {tracker.Crust: 1, tracker.SkinBreak: 2},
		Proliferative: {tracker.Exudate: 3, tracker.Nodules: 1},
	} {
		if j := JudgePatch(Patch{[]Look{{Day: 1, Signs: signs}}}, 1); j.Form != want {
			t.Errorf("%v: %v, want %v", signs, j.Form, want)
		}
	}
	if j := JudgePatch(Patch{[]Look{{Day: 1, Signs: tracker.Signs{tracker.Exudate: 1}}}}, 1); j.Form != Exudative || j.Form.String() != "exudative" {
		t.Error(j.Form)
	}
}

func TestReachIsItsOwnSeries(t *testing.T) {
	p := sixes(4, 4, 4)
	p.Looks[0].LengthMM, p.Looks[0].WidthMM = 100, 60
	p.Looks[2].LengthMM, p.Looks[2].WidthMM = 80, 50
	j := JudgePatch(p, simDay0+2)
	if len(j.Reach) != 2 || !near(j.Reach[1].AreaCM2, 31.41593, 1e-6) || j.Reach[0].Day != simDay0 || j.Label != NoChange {
		t.Errorf("%v, %v", j.Reach, j.Label)
	}
}

// TestTwoLooksADay: looks of one day count one by one, in their order.
func TestTwoLooksADay(t *testing.T) {
	p := sixes(4, 4, 4, 4)
	evening := Look{Day: simDay0 + 3, At: time.Unix(1000, 0), Signs: tracker.Signs{tracker.Crust: 3}}
	p.Looks = append([]Look{evening}, p.Looks...)
	j := JudgePatch(p, simDay0+3)
	if j.Active != (Score{3, 1}) || !slices.Equal(j.Highest, []tracker.Sign{tracker.Crust}) || j.Label != Worse || !slices.Equal(j.Risen, []tracker.Sign{tracker.Crust}) {
		t.Errorf("%+v", j)
	}
}

// TestBoundedPatch: the last weeks and the first three looks are enough, and what comes later changes nothing.
func TestBoundedPatch(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 90).Draw(t, "days")
		var p Patch
		for i := range n {
			for range rapid.IntRange(i%2, 2).Draw(t, "looks") {
				signs := tracker.Signs{}
				for _, s := range append(tracker.ActiveSigns(), tracker.ChronicSigns()...) {
					signs[s] = rapid.IntRange(0, 3).Draw(t, "sign")
				}
				p.Looks = append(p.Looks, Look{Day: simDay0 + tracker.Date(i), At: time.Unix(int64(len(p.Looks)), 0), Signs: signs})
			}
		}
		asOf := simDay0 + tracker.Date(n-1)
		short := Patch{slices.Clone(p.Looks[:min(3, len(p.Looks))])}
		for _, l := range p.Looks[min(3, len(p.Looks)):] {
			if l.Day > asOf-PatchHorizonDays {
				short.Looks = append(short.Looks, l)
			}
		}
		if d := diff(JudgePatch(p, asOf), JudgePatch(short, asOf)); d != "" {
			t.Errorf("with everything (-), bounded (+): %s", d)
		}
		p.Looks = append(p.Looks, Look{Day: asOf + 1, Signs: tracker.Signs{tracker.Pain: 3}})
		if d := diff(JudgePatch(short, asOf), JudgePatch(p, asOf)); d != "" {
			t.Errorf("with what came later (+): %s", d)
		}
	})
}

func TestPatchFromTheRecord(t *testing.T) {
	signs := tracker.Signs{tracker.Crust: 2, tracker.Pain: 1}
	p := NewPatch([]tracker.Check{
		{Outcome: tracker.Looked, Day: 5, Signs: signs, Size: tracker.Size{Answer: tracker.Measured, LengthMM: 100, WidthMM: 60}},
		{Outcome: tracker.Retracted, Day: 6, Signs: tracker.Signs{tracker.Pain: 3}},
		{Outcome: tracker.Skipped, Day: 7},
	})
	if len(p.Looks) != 1 || p.Looks[0].LengthMM != 100 {
		t.Fatalf("%+v", p)
	}
	r := JudgePatch(p, 5).Record("site", time.Unix(0, 0))
	if r.Label != "too early to say" || r.Active != 3 || r.ActiveJudged != 2 || r.HasRate || r.Reason == "" {
		t.Errorf("%+v", r)
	}
}

func TestPicture(t *testing.T) {
	site := func(leg tracker.Leg, n int, id string) tracker.Site {
		return tracker.Site{ID: tracker.SiteID(id), Leg: leg, Number: n}
	}
	legs := tracker.Legs()
	today := simDay0 + 30
	merged := site(legs[0], 3, "gone")
	merged.Joined = "a"
	horse, byLeg := Whole([]Standing{
		{Site: site(legs[2], 1, "c"), Label: Widening, First: simDay0},
		{Site: site(legs[0], 1, "a"), Label: Closing, Remeasure: true, First: simDay0},
		{Site: site(legs[0], 2, "b"), Label: NoChange, Active: Score{7, 6}, Chronic: Score{4, 3}, First: today - 2, LegTreated: today - 10},
		{Site: merged, Label: Widening},
		{Site: site(legs[2], 2, "d"), Label: Worse, Active: Score{9, 6}, Reopened: true, First: today - 2, LegTreated: today - 3},
	}, today)
	if horse.Sites != 4 || !horse.Together || !slices.Equal(horse.Worse, []tracker.SiteID{"a", "c", "d"}) || horse.Worst != "d" || horse.Active != (Score{16, 12}) || horse.Chronic != (Score{4, 3}) || horse.AllClosed {
		t.Errorf("horse: %+v", horse)
	}
	if !slices.Equal(horse.New, []tracker.SiteID{"b"}) || !slices.Equal(horse.Reopened, []tracker.SiteID{"d"}) {
		t.Errorf("new %v, reopened %v", horse.New, horse.Reopened)
	}
	if len(byLeg) != 2 || byLeg[0].Leg != legs[0] || byLeg[0].Together || byLeg[0].Worst != "b" || !byLeg[1].Together {
		t.Errorf("legs: %+v", byLeg)
	}
	if h, _ := Whole([]Standing{{Site: site(legs[0], 1, "a"), Label: ClosedOver}, {Site: site(legs[1], 1, "b"), Label: Clear}}, today); !h.AllClosed || h.Together {
		t.Errorf("all closed: %+v", h)
	}
	if h, l := Whole(nil, today); h.AllClosed || h.Worst != "" || l != nil {
		t.Errorf("no sites: %+v", h)
	}
}
