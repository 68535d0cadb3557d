package healing

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"slices"
	"strings"
	"testing"

	"leground/tracker"
)

const (
	simDay0 = tracker.Date(739000)
	simDays = 42
	never   = 999
)

// simWound is a made-up wound and the way it is measured.
type simWound struct {
	radius      float64               // mm on day 0
	rate        float64               // mm a day, positive when closing
	growth      func(day int) float64 // factor of area; nil: by rate
	cv          float64               // of one area
	correlation float64               // between the errors of one reading and the next
	every       int                   // days from one reading to the next
	whole       bool                  // nothing is missing; else a tenth of daily readings is
	onset       bool                  // somebody knows that it happened on day 0
	bandaged    bool
}

// measured gives one run's readings over six weeks. The error of ln area is normal and follows that of the
// reading before it, so a gap does not make it fresh: the harder of the two readings of "correlation".
func (w simWound) measured(rng *rand.Rand) Site {
	sigma := math.Sqrt(math.Log(1 + w.cv*w.cv))
	e := rng.NormFloat64()
	site := Site{Distal: true}
	if w.onset {
		site.Onset = simDay0
	}
	if w.bandaged {
		site.Bandaged = []tracker.Date{simDay0}
	}
	for day := 0; day <= simDays; day += w.every {
		if w.every == 1 && !w.whole && rng.Float64() < 0.1 {
			continue
		}
		r := w.radius - w.rate*float64(day)
		if w.growth != nil {
			r = w.radius * math.Sqrt(w.growth(day))
		}
		if r < 1 {
			break
		}
		e = w.correlation*e + math.Sqrt(1-w.correlation*w.correlation)*rng.NormFloat64()
		site.Readings = append(site.Readings, Reading{Day: simDay0 + tracker.Date(day), Method: tracker.Traced,
			AreaCM2: math.Pi * r * r / 100 * math.Exp(sigma*e)})
	}
	return site
}

// risesThenFalls is the area of a normal fresh wound of radius 14 mm over its first area: a quarter sine
// up to the peak, then an edge that moves in by 0.35 mm a day.
func risesThenFalls(peak float64, at int) func(int) float64 {
	return func(day int) float64 {
		if day <= at {
			return 1 + (peak-1)*math.Sin(math.Pi/2*float64(day)/float64(at))
		}
		r := math.Max(math.Sqrt(peak)-0.35/14*float64(day-at), 0.05)
		return r * r
	}
}

// verdicts is what a rule says after each measured day.
type verdicts struct {
	labels  []Label
	prompts []bool
}

// judgeDaily asks Judge after each measured day.
func judgeDaily(site Site) (labels []Label, prompts []bool) {
	all := site.Readings
	for i := range all {
		site.Readings = all[:i+1]
		j := Judge(site, DefaultSettings(), all[i].Day)
		labels, prompts = append(labels, j.Label), append(prompts, j.Remeasure)
	}
	return labels, prompts
}

// newRule says what Judge says after each measured day without doing the looks before again each time;
// TestNewRuleIsJudge holds the two together.
func newRule(site Site) verdicts { return ruleWith(DefaultSettings(), site) }

// calibrated is newRule in a yard whose blind second readings showed a spread of 1 mm.
func calibrated(site Site) verdicts {
	s := DefaultSettings()
	s.SpreadMM = 1
	return ruleWith(s, site)
}

func ruleWith(s Settings, site Site) verdicts {
	last := site.Readings[len(site.Readings)-1].Day
	c := newCourse(&site, s, last)
	var v verdicts
	shown := Label(0)
	for i := range c.points {
		c.asOf = c.points[i].day
		look := c.look(i, c.asOf)
		c.labels[i] = look.label
		if i == 0 {
			shown = look.label
		} else {
			shown = c.next(shown, i)
		}
		j := Judgement{Label: shown}
		c.facts(&j, look, i)
		v.labels, v.prompts = append(v.labels, shown), append(v.prompts, j.Remeasure)
	}
	return v
}

// oldRule is the rule that this one replaces: the exact interval alone, shown when three looks in a row
// agree, the prompt at any look that says widening.
func oldRule(site Site) verdicts {
	last := site.Readings[len(site.Readings)-1].Day
	s := DefaultSettings()
	c := newCourse(&site, s, last)
	var v verdicts
	var alone []Label
	shown := TooEarly
	for i := range c.points {
		n := c.collect(i, c.points[i].day)
		m := c.measure(c.window(0, n), n)
		l := Unclear
		switch {
		case c.tooShort(&m) != 0:
			l = TooEarly
		case m.high < 0:
			l = Widening
		case m.low > 0 && m.rate >= s.ClosingMM:
			l = Closing
		case m.low > 0:
			l = Slow
		case m.n >= 8 && m.span >= 14 && (m.rate < s.NotClosingMM || m.high < s.ClosingMM),
			int(c.points[i].day-c.first) >= s.UnclearDays:
			l = NotClosing
		}
		alone = append(alone, l)
		if i >= 2 && alone[i-1] == l && alone[i-2] == l {
			shown = l
		}
		v.labels, v.prompts = append(v.labels, shown), append(v.prompts, l == Widening)
	}
	return v
}

// outcome is what a rule said of many runs: the first day of each label, never where there was none.
type outcome struct {
	first    map[Label][]int
	moves    []int // first day of closing or slow
	prompted int
}

func simulate(w simWound, runs int, seed uint64, rules ...func(Site) verdicts) []outcome {
	rng := rand.New(rand.NewPCG(seed, 1))
	out := make([]outcome, len(rules))
	for i := range out {
		out[i].first = map[Label][]int{}
	}
	for range runs {
		site := w.measured(rng)
		for i, rule := range rules {
			v := rule(site)
			day := func(of ...Label) int {
				k := slices.IndexFunc(v.labels, func(l Label) bool { return slices.Contains(of, l) })
				if k < 0 {
					return never
				}
				return int(site.Readings[k].Day - simDay0)
			}
			for _, l := range []Label{Widening, Closing, NotClosing} {
				out[i].first[l] = append(out[i].first[l], day(l))
			}
			out[i].moves = append(out[i].moves, day(Closing, Slow))
			if slices.Contains(v.prompts, true) {
				out[i].prompted++
			}
		}
	}
	return out
}

func ever(days []int) float64 {
	n := 0
	for _, d := range days {
		if d != never {
			n++
		}
	}
	return 100 * float64(n) / float64(len(days))
}

// middleDay is the median first day, never counted as late.
func middleDay(days []int) int {
	days = slices.Clone(days)
	slices.Sort(days)
	return days[len(days)/2]
}

// goalWound is the cell that the goals are about.
func goalWound(rate, correlation float64) simWound {
	return simWound{radius: 14, rate: rate, cv: 0.15, correlation: correlation, every: 1}
}

// TestGoals holds the rule to what was asked of it. The wounds are made up; the goals are this project's.
func TestGoals(t *testing.T) {
	runs := 500
	if os.Getenv("LEGROUND_LONG") == "1" {
		runs = 4000
	}
	of := func(w simWound) outcome { return simulate(w, runs, 20, newRule)[0] }
	atMost := func(what string, got, limit float64) {
		t.Logf("%s: %.1f, at most %v", what, got, limit)
		if got > limit {
			t.Errorf("%s: %.1f, at most %v", what, got, limit)
		}
	}
	still := of(goalWound(0, 0.4))
	atMost("still wound ever called widening, percent", ever(still.first[Widening]), 5)
	atMost("still wound ever shown the prompt, percent", 100*float64(still.prompted)/float64(runs), 15)
	atMost("-0.15 mm a day called widening, median day", float64(middleDay(of(goalWound(-0.15, 0.4)).first[Widening])), 20)
	good := of(goalWound(0.2, 0))
	atMost("+0.2 mm a day called closing, median day", float64(middleDay(good.first[Closing])), 15)
	atMost("+0.2 mm a day ever called widening, percent", ever(good.first[Widening]), 1)
	for _, fresh := range freshCells() {
		w := fresh.wound
		atMost(fresh.name+" ever called widening, percent", ever(of(w).first[Widening]), 2)
	}
}

type freshCell struct {
	name  string
	wound simWound
}

// freshCells are normal fresh wounds whose injury is known.
func freshCells() []freshCell {
	var all []freshCell
	for _, bandaged := range []bool{false, true} {
		for _, peak := range []float64{1.4, 1.9} {
			for _, at := range []int{14, 21} {
				name := fmt.Sprintf("normal fresh wound, bare,     %.1f times by day %d", peak, at)
				if bandaged {
					name = strings.Replace(name, "bare,    ", "bandaged,", 1)
				}
				all = append(all, freshCell{name, simWound{radius: 14, growth: risesThenFalls(peak, at), cv: 0.15, correlation: 0.4, every: 1,
					onset: true, bandaged: bandaged}})
			}
		}
	}
	return all
}

// TestNewRuleIsJudge checks that the simulation simulates Judge.
func TestNewRuleIsJudge(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 1))
	for i, w := range []simWound{goalWound(0, 0.4), goalWound(-0.15, 0.4), goalWound(0.1, 0), {radius: 8, cv: 0.2, every: 3}, freshCells()[1].wound, freshCells()[7].wound} {
		for range 10 {
			site := w.measured(rng)
			labels, prompts := judgeDaily(site)
			if v := newRule(site); !slices.Equal(v.labels, labels) || !slices.Equal(v.prompts, prompts) {
				t.Fatalf("wound %d: simulated %v, judged %v", i, v, labels)
			}
		}
	}
}

// TestGrid runs the whole grid, 2,000 runs a cell, when LEGROUND_LONG=1, and compares it with the table in
// the package comment. LEGROUND_RUNS changes the number of runs and then compares nothing.
func TestGrid(t *testing.T) {
	if os.Getenv("LEGROUND_LONG") != "1" {
		t.Skip("LEGROUND_LONG=1 runs the whole grid")
	}
	runs, whole := 2000, true
	if text := os.Getenv("LEGROUND_RUNS"); text != "" {
		whole = false
		if _, err := fmt.Sscan(text, &runs); err != nil {
			t.Fatal(err)
		}
	}
	var table []string
	for _, every := range []int{1, 3} {
		for _, correlation := range []float64{0, 0.4} {
			for _, cv := range []float64{0.07, 0.15, 0.2} {
				for _, radius := range []float64{8, 14, 25, 40} {
					table = append(table, gridRow(simWound{radius: radius, cv: cv, correlation: correlation, every: every}, runs, newRule))
				}
			}
		}
	}
	for _, radius := range []float64{14, 25, 40} {
		table = append(table, gridRow(simWound{radius: radius, cv: 0.07, correlation: 0.4, every: 1}, runs, calibrated)+"  calibrated to 1 mm")
	}
	for _, fresh := range freshCells() {
		o := simulate(fresh.wound, runs, 20, newRule)[0]
		table = append(table, fmt.Sprintf("%s  widening %.1f  closing %s  prompt %.1f", fresh.name, ever(o.first[Widening]), dayWord(o.first[Closing]),
			100*float64(o.prompted)/float64(runs)))
	}
	t.Log("\n" + strings.Join(table, "\n"))
	if !whole || runtime.GOARCH != "amd64" {
		return
	}
	doc, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range table {
		if !strings.Contains(string(doc), row+"\n") {
			t.Errorf("the table in doc.go does not hold %q", row)
		}
	}
}

// gridRow is one line of the table: what a still wound is ever called, and the median day on which one that
// moves is found, old rule before new.
func gridRow(w simWound, runs int, rule func(Site) verdicts) string {
	cell := func(rate float64) []outcome {
		w := w
		w.rate = rate
		return simulate(w, runs, 20, oldRule, rule)
	}
	still := cell(0)
	row := fmt.Sprintf("%d  %.1f  %2.0f  %2.0f", w.every, w.correlation, 100*w.cv, w.radius)
	row += fmt.Sprintf(" | %4.1f %4.1f | %4.1f %4.1f | %4.1f |", ever(still[0].first[Widening]), ever(still[1].first[Widening]),
		ever(still[0].moves), ever(still[1].moves), 100*float64(still[1].prompted)/float64(runs))
	for _, rate := range []float64{-0.1, -0.15, -0.2} {
		o := cell(rate)
		row += fmt.Sprintf(" %s %s |", dayWord(o[0].first[Widening]), dayWord(o[1].first[Widening]))
	}
	for _, rate := range []float64{0.1, 0.2, 0.3} {
		o := cell(rate)
		row += fmt.Sprintf(" %s %s |", dayWord(o[0].moves), dayWord(o[1].moves))
	}
	return strings.TrimSuffix(row, " |")
}

func dayWord(days []int) string {
	if d := middleDay(days); d != never {
		return fmt.Sprintf("%2d", d)
	}
	return " -"
}
