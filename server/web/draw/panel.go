package draw

import (
	"math"
	"slices"

	"leground/tracker"
)

// Panel is one site's series and what happened along the way, ready to be drawn. Panels that stand
// beside each other share First, Last and, unless each has its own scale, Top.
type Panel struct {
	LabelledBy string // ids of the headline and the summary
	Quantity   string // what is plotted, to begin a sentence: "Area"
	Unit       string // "cm²"; empty for a score
	Decimal    tracker.DecimalMark

	First, Last tracker.Date // the days at the ends of the axis; 0: the first or last reading
	DayOne      tracker.Date // the day that is called day 1; 0: First
	Baseline    float64      // the first reading ever; 0: the first in Points

	Top      float64 // end of the scale; 0: this panel's own
	OwnScale bool    // says so in the panel

	Points     []Point        // standing readings only: a corrected value is not drawn
	Changes    []Change       // of treatment
	Missed     []tracker.Date // planned days on which nobody looked
	Unmeasured []tracker.Date // days on which it could not be measured
	Events     []Event
	Signs      []SignRow
}

// Point is one reading. Low and High are the ends of its give-or-take bar; where High is not above
// Low there is no bar. Points of one day are readings of the same time by two people.
type Point struct {
	Day              tracker.Date
	Value, Low, High float64
	Way              int  // how it was measured: what was measured in two ways is never joined
	Partial          bool // a score of fewer signs than its neighbours: not comparable, so never joined

	nothing bool // of no size at all, on a log scale
}

// Change is a treatment that was in use from a day on. It breaks the line before the reading of that day.
type Change struct {
	Day    tracker.Date
	Letter string // A, B, C
	Words  string // "new wash"
}

// Event is something else that happened: farrier, vet visit, storm. The chart shows its letter only.
type Event struct {
	Day    tracker.Date
	Letter string
}

// SignRow is the row of squares of one sign under a panel: filled where it was seen, empty where
// somebody looked and it was not there, nothing where nobody looked.
type SignRow struct {
	Words       string
	Seen, Clear []tracker.Date
}

// ScoreTop is the end of the scale of a patch's sign score: six active signs of 0 to 3.
const ScoreTop = 18.0

// largest is far above any area or score; a value beyond it is not drawn.
const largest = 1e6

// tops are the round ends that a scale may have, times a power of ten, each with its step.
var tops = [...][2]float64{{1, 0.5}, {1.5, 0.5}, {1.8, 0.6}, {2, 0.5}, {3, 1}, {4, 1}, {5, 1}, {6, 2}, {8, 2}, {10, 5}}

// CommonTop gives the end of the scale that panels share: a round number at least a tenth above the
// highest bar of any of them.
func CommonTop(panels ...Panel) float64 {
	highest := 0.0
	for _, p := range panels {
		for _, point := range p.drawable() {
			highest = max(highest, point.Value, point.High)
		}
	}
	if highest <= 0 {
		return 1
	}
	wanted := highest * 1.1
	power := math.Pow(10, math.Floor(math.Log10(wanted)))
	for _, t := range tops {
		if top := t[0] * power; t[0] != 1.8 && top >= wanted*(1-1e-12) {
			return top
		}
	}
	return 10 * power
}

// step gives the distance of the gridlines of a scale.
func step(top float64) float64 {
	power := math.Pow(10, math.Floor(math.Log10(top)+1e-9))
	for _, t := range tops {
		if math.Abs(top-t[0]*power) < 1e-9*top {
			return t[1] * power
		}
	}
	return top / 2
}

// top gives the end of the panel's scale.
func (p Panel) top() float64 {
	if p.Top > 0 && p.Top <= 2*largest {
		return p.Top
	}
	return CommonTop(p)
}

// ends gives the first and last day of the axis.
func (p Panel) ends() (first, last tracker.Date) {
	first, last = p.First, p.Last
	for _, point := range p.Points {
		if p.First == 0 && (first == 0 || point.Day < first) {
			first = point.Day
		}
		if p.Last == 0 && point.Day > last {
			last = point.Day
		}
	}
	return first, max(first, last)
}

// drawable gives the readings that lie on the axis and can be drawn, by day. A bar that cannot be
// drawn is left out; one that reaches below nothing is cut there, since a scale starts at zero.
func (p Panel) drawable() []Point {
	first, last := p.ends()
	var points []Point
	for _, point := range p.Points {
		if point.Day < first || point.Day > last || !within(point.Value) {
			continue
		}
		if !(point.High > point.Low) || !within(point.High) {
			point.Low, point.High = point.Value, point.Value
		}
		point.Low = max(point.Low, 0)
		points = append(points, point)
	}
	slices.SortStableFunc(points, func(a, b Point) int { return int(int64(a.Day) - int64(b.Day)) })
	return points
}

// within tells a value that a scale from zero can hold; no number is within.
func within(v float64) bool { return v >= 0 && v <= largest }

// baseline gives the value that percentages and the thin line refer to.
func (p Panel) baseline(points []Point) (float64, bool) {
	if within(p.Baseline) && p.Baseline > 0 {
		return p.Baseline, true
	}
	if len(points) == 0 {
		return 0, false
	}
	return points[0].Value, true
}

// joined tells whether a line may run between two neighbouring readings: at most one planned reading
// is missing between them, no treatment changed, and both mean the same thing.
func (p Panel) joined(a, b Point) bool {
	if a.Day == b.Day || a.Way != b.Way || a.Partial || b.Partial || a.nothing || b.nothing {
		return false
	}
	for _, c := range p.Changes {
		if a.Day < c.Day && c.Day <= b.Day {
			return false
		}
	}
	missing := map[tracker.Date]bool{}
	for _, days := range [][]tracker.Date{p.Missed, p.Unmeasured} {
		for _, day := range days {
			if a.Day < day && day < b.Day {
				missing[day] = true
			}
		}
	}
	return len(missing) <= 1
}

// runs cuts the readings into stretches that one line may run through.
func (p Panel) runs(points []Point) [][]int {
	var runs [][]int
	for i := range points {
		if i > 0 && p.joined(points[i-1], points[i]) {
			runs[len(runs)-1] = append(runs[len(runs)-1], i)
		} else {
			runs = append(runs, []int{i})
		}
	}
	return runs
}

// days gives the days of a list that lie on the axis, each once, in order.
func (p Panel) days(list []tracker.Date) []tracker.Date {
	first, last := p.ends()
	var days []tracker.Date
	for _, day := range list {
		if first <= day && day <= last && day != 0 {
			days = append(days, day)
		}
	}
	slices.Sort(days)
	return slices.Compact(days)
}

// Say writes a value of the panel for people, with its unit: to a tenth below 10, whole from there on.
// A small open wound is never written as 0.
func (p Panel) Say(value float64) string {
	if p.Unit == "" {
		return p.bare(value)
	}
	return p.bare(value) + "\u00a0" + p.Unit
}

func (p Panel) bare(value float64) string { return tracker.FormatArea(value, p.Decimal) }
