package draw

import (
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"leground/tracker"
)

var dayOne = tracker.NewDate(2026, 4, 16)

// bramble is the site RH 2 of the made-up horse Bramble: 29 days, a new wash on day 15, two days on
// which nobody looked, one on which it could not be measured, and two people on day 8.
func bramble() Panel {
	p := Panel{
		LabelledBy: "rh2-head rh2-summary", Quantity: "area", Unit: "cm²", Decimal: tracker.Point,
		First: dayOne, Last: dayOne + 28,
		Changes:    []Change{{dayOne + 14, "A", "new wash"}},
		Missed:     []tracker.Date{dayOne + 20, dayOne + 21},
		Unmeasured: []tracker.Date{dayOne + 24},
		Events:     []Event{{dayOne + 5, "F"}, {dayOne + 14, "V"}},
		Signs:      []SignRow{{"Bad smell", []tracker.Date{dayOne + 27, dayOne + 28}, []tracker.Date{dayOne, dayOne + 1, dayOne + 26}}},
	}
	for i := range tracker.Date(29) {
		if i == 20 || i == 21 || i == 24 {
			continue
		}
		area := 9.8 - 0.17*float64(i)
		if i > 20 {
			area = 6.4 + 0.225*float64(i-20)
		}
		p.Points = append(p.Points, Point{Day: dayOne + i, Value: area, Low: area - 1, High: area + 1})
		if i == 7 {
			p.Points = append(p.Points, Point{Day: dayOne + i, Value: area + 0.6, Low: area - 0.4, High: area + 1.6})
		}
	}
	return p
}

// patch is a patch of the made-up horse Old Tom, scored every third day, with two looks at which not
// every sign was judged.
func patch() Panel {
	p := Panel{LabelledBy: "rh1-head rh1-summary", Quantity: "sign score", Decimal: tracker.Comma, First: dayOne, Last: dayOne + 27, Top: ScoreTop}
	for i, score := range []float64{12, 12, 11, 9, 6, 8, 7, 5, 4, 4} {
		p.Points = append(p.Points, Point{Day: dayOne + tracker.Date(3*i), Value: score, Partial: i == 4})
	}
	return p
}

// TestChartShowsEveryReading checks the numbers of the drawing against the numbers given to it.
func TestChartShowsEveryReading(t *testing.T) {
	p := bramble()
	nodes := parse(t, Chart(p))
	if svg := nodes[0]; svg.attrs["role"] != "img" || svg.attrs["aria-labelledby"] != p.LabelledBy {
		t.Errorf("the drawing is not named by its headline and summary: %v", svg.attrs)
	}
	dots := of(nodes, "dot")
	if len(dots) != len(p.Points) || len(dots) != 27 {
		t.Fatalf("%d dots for %d readings", len(dots), len(p.Points))
	}
	top, zero := scaleOf(t, nodes)
	if zero != plotBottom || top != CommonTop(p) {
		t.Errorf("the scale runs from y %v and ends at %v", zero, top)
	}
	for i, dot := range dots {
		value := (zero - dot.number(t, "cy")) / (zero - plotTop) * top
		if math.Abs(value-p.Points[i].Value) > top/1000 {
			t.Errorf("dot %d stands at %v, the reading was %v", i, value, p.Points[i].Value)
		}
	}
	for class, want := range map[string]int{"bar": 27, "missed": 2, "unmeasured": 1, "phase": 1, "bracket": 1, "event": 2, "baseline": 1, "seen": 2, "clear": 3} {
		if got := len(of(nodes, class)); got != want {
			t.Errorf("%d of class %s, want %d", got, class, want)
		}
	}
	last := of(nodes, "last-value")
	if len(last) != 1 || last[0].text != "8.2\u00a0cm²" {
		t.Fatalf("last value: %v", last)
	}
	end := dots[len(dots)-1]
	if dx, dy := last[0].number(t, "x")-end.number(t, "cx"), last[0].number(t, "y")-5-end.number(t, "cy"); dx < 0 || dx > 15 || math.Abs(dy) > 1 {
		t.Errorf("the last value stands %v right of and %v below its dot", dx, dy)
	}
	for _, n := range nodes {
		if n.name == "text" && n.number(t, "font-size") < 14 {
			t.Errorf("%q is written in %s", n.text, n.attrs["font-size"])
		}
	}
}

// scaleOf reads the end of the scale and the height of zero from the labels beside the gridlines.
func scaleOf(t *testing.T, nodes []node) (top, zero float64) {
	t.Helper()
	highest := math.Inf(1)
	found := false
	for _, n := range nodes {
		if n.name != "text" || n.attrs["text-anchor"] != "end" || n.number(t, "x") != plotLeft-8 {
			continue
		}
		v, err := strconv.ParseFloat(strings.ReplaceAll(n.text, ",", "."), 64)
		if err != nil {
			t.Fatal(err)
		}
		y := n.number(t, "y") - 5
		if v == 0 {
			zero, found = y, true
		}
		if y < highest {
			highest, top = y, v
		}
	}
	if !found {
		t.Fatal("the scale does not name its zero")
	}
	return top, zero
}

// TestLineBreaks checks that a line never crosses a change of treatment, two missing readings, or a
// score of fewer signs, and that it does cross a single missing reading.
func TestLineBreaks(t *testing.T) {
	p := bramble()
	lines := of(parse(t, Chart(p)), "line")
	// Days 1-8 as one person measured, 8-14 from the other's reading of day 8, 15-20 under the new wash,
	// 23-29 across the single day that could not be measured.
	var lengths []int
	for _, line := range lines {
		lengths = append(lengths, len(pathPoints(t, line.attrs["d"])))
	}
	if len(lengths) != 4 || lengths[0] != 8 || lengths[1] != 7 || lengths[2] != 6 || lengths[3] != 6 {
		t.Errorf("lines of %v readings", lengths)
	}
	scores := parse(t, Chart(patch()))
	if n := len(of(scores, "line")); n != 2 {
		t.Errorf("%d lines, want one on each side of the partly judged look", n)
	}
	if n := len(of(scores, "partial")); n != 1 {
		t.Errorf("%d partly judged looks", n)
	}
	if n := len(of(scores, "bar")); n != 0 {
		t.Errorf("%d bars on scores that have none", n)
	}
	for i := range p.Points[18:] {
		p.Points[18+i].Way = 1 // traced from then on
	}
	if n := len(of(parse(t, Chart(p)), "line")); n != len(lengths)+1 {
		t.Errorf("%d lines with a second way of measuring, want one more than %d", n, len(lengths))
	}
}

// panels draws any panel at all, sensible or not.
func panels() *rapid.Generator[Panel] {
	day := rapid.Custom(func(t *rapid.T) tracker.Date {
		if rapid.IntRange(0, 19).Draw(t, "odd") == 0 {
			return tracker.Date(rapid.Int32().Draw(t, "any day"))
		}
		return dayOne + tracker.Date(rapid.IntRange(-3, 45).Draw(t, "day"))
	})
	value := rapid.Custom(func(t *rapid.T) float64 {
		switch rapid.IntRange(0, 11).Draw(t, "kind") {
		case 0:
			return rapid.Float64().Draw(t, "any number")
		case 1:
			return rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, -1, 1e-300, math.MaxFloat64, largest}).Draw(t, "odd number")
		default:
			return float64(rapid.IntRange(0, 400).Draw(t, "tenths")) / 10
		}
	})
	point := rapid.Custom(func(t *rapid.T) Point {
		v := value.Draw(t, "value")
		p := Point{Day: day.Draw(t, "day"), Value: v, Low: v - 1, High: v + 1, Partial: rapid.IntRange(0, 9).Draw(t, "partial") == 0}
		if rapid.IntRange(0, 9).Draw(t, "odd bar") == 0 {
			p.Low, p.High = value.Draw(t, "low"), value.Draw(t, "high")
		}
		return p
	})
	days := rapid.SliceOfN(day, 0, 12)
	words := rapid.String()
	change := rapid.Custom(func(t *rapid.T) Change {
		return Change{day.Draw(t, "day"), words.Draw(t, "letter"), words.Draw(t, "words")}
	})
	event := rapid.Custom(func(t *rapid.T) Event { return Event{day.Draw(t, "day"), words.Draw(t, "letter")} })
	row := rapid.Custom(func(t *rapid.T) SignRow {
		return SignRow{words.Draw(t, "words"), days.Draw(t, "seen"), days.Draw(t, "clear")}
	})
	maybe := func(t *rapid.T, d *tracker.Date, name string) {
		if rapid.Bool().Draw(t, name) {
			*d = day.Draw(t, name+" day")
		}
	}
	return rapid.Custom(func(t *rapid.T) Panel {
		p := Panel{
			LabelledBy: words.Draw(t, "ids"), Quantity: words.Draw(t, "quantity"), Unit: words.Draw(t, "unit"),
			Decimal: rapid.SampledFrom([]tracker.DecimalMark{tracker.Point, tracker.Comma}).Draw(t, "mark"),
			Points:  rapid.SliceOfN(point, 0, 40).Draw(t, "points"), Changes: rapid.SliceOfN(change, 0, 4).Draw(t, "changes"),
			Missed: days.Draw(t, "missed"), Unmeasured: days.Draw(t, "unmeasured"),
			Events: rapid.SliceOfN(event, 0, 6).Draw(t, "events"), Signs: rapid.SliceOfN(row, 0, 3).Draw(t, "signs"),
			OwnScale: rapid.Bool().Draw(t, "own"),
		}
		maybe(t, &p.First, "first")
		maybe(t, &p.Last, "last")
		maybe(t, &p.DayOne, "one")
		if rapid.Bool().Draw(t, "baseline") {
			p.Baseline = value.Draw(t, "baseline value")
		}
		if rapid.Bool().Draw(t, "top") {
			p.Top = value.Draw(t, "top value")
		}
		return p
	})
}

// TestAnyPanel draws whatever it is given: always well-formed XML without a number that is none, one
// dot for each reading that can be drawn, and no line across a change or across two missing days.
func TestAnyPanel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) { checkPanel(t, panels().Draw(t, "panel")) })
}

// FuzzPanel is the same property under the fuzzer of the toolchain.
func FuzzPanel(f *testing.F) {
	f.Fuzz(rapid.MakeFuzz(func(t *rapid.T) { checkPanel(t, panels().Draw(t, "panel")) }))
}

func checkPanel(t *rapid.T, p Panel) {
	drawing, summary := Chart(p), p.Summary()
	nodes := parse(t, drawing)
	if log := LogChart(p); log != "" {
		parse(t, log)
	}
	if strings.Contains(summary, "NaN") || strings.Contains(summary, "Inf") || summary == "" {
		t.Fatalf("summary %q", summary)
	}
	first, last := p.ends()
	want := 0
	for _, point := range p.Points {
		if point.Value >= 0 && point.Value <= largest && first <= point.Day && point.Day <= last {
			want++
		}
	}
	if got := len(of(nodes, "dot")); got != want {
		t.Fatalf("%d dots for %d readings", got, want)
	}
}

// TestLines walks sensible months, one reading a day at most, and finds from the drawing which
// neighbouring readings are joined: exactly those with at most one missing planned day between them
// and no change of treatment.
func TestLines(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const length = 40
		p := Panel{LabelledBy: "a", Decimal: tracker.Point, First: dayOne, Last: dayOne + length - 1}
		var reading, missing, change [length]bool
		for i := range length {
			day := dayOne + tracker.Date(i)
			switch rapid.IntRange(0, 9).Draw(t, "what") {
			case 0, 1, 2, 3, 4:
				reading[i] = true
				p.Points = append(p.Points, Point{Day: day, Value: rapid.Float64Range(0, 30).Draw(t, "area")})
			case 5, 6:
				missing[i] = true
				p.Missed = append(p.Missed, day)
			case 7:
				missing[i] = true
				p.Unmeasured = append(p.Unmeasured, day)
			}
			if rapid.IntRange(0, 14).Draw(t, "change") == 0 {
				change[i] = true
				p.Changes = append(p.Changes, Change{Day: day, Letter: "A"})
			}
		}
		joined := map[[2]int]bool{}
		dayAt := func(x float64) int { return int(math.Round((x - plotLeft) / (plotRight - plotLeft) * (length - 1))) }
		for _, line := range of(parse(t, Chart(p)), "line") {
			points := pathPoints(t, line.attrs["d"])
			for i := 1; i < len(points); i++ {
				joined[[2]int{dayAt(points[i-1][0]), dayAt(points[i][0])}] = true
			}
		}
		before := -1
		for i := range length {
			if !reading[i] {
				continue
			}
			if before >= 0 {
				want, missed := true, 0
				for k := before + 1; k <= i; k++ {
					want = want && !change[k]
					if missing[k] {
						missed++
					}
				}
				want = want && missed <= 1
				if pair := [2]int{before, i}; joined[pair] != want {
					t.Fatalf("days %d and %d: joined %v, want %v", before+1, i+1, joined[pair], want)
				}
				delete(joined, [2]int{before, i})
			}
			before = i
		}
		if len(joined) > 0 {
			t.Fatalf("lines that join no neighbours: %v", joined)
		}
	})
}

// TestScale checks that a scale ends on a round number at least a tenth above the highest bar, with
// two to five steps, and begins at nothing.
func TestScale(t *testing.T) {
	for highest, want := range map[float64]float64{8.2: 10, 9.2: 15, 18.1: 20, 18.2: 30, 0.83: 1, 90.9: 100, 91: 150, 0.012: 0.015, 7: 8, 1000: 1500} {
		p := Panel{Decimal: tracker.Point, Points: []Point{{Day: dayOne, Value: highest}}}
		if got := CommonTop(p); math.Abs(got-want) > 1e-9*want {
			t.Errorf("CommonTop of %v is %v, want %v", highest, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		highest := rapid.Float64Range(1e-6, largest).Draw(t, "highest")
		top := CommonTop(Panel{Points: []Point{{Day: dayOne, Value: highest / 2, Low: 0, High: highest}}})
		if top < 1.1*highest*(1-1e-9) || top > 2.2*highest {
			t.Fatalf("a bar up to %v on a scale up to %v", highest, top)
		}
		if n := top / step(top); n < 1.999 || n > 5.001 || math.Abs(n-math.Round(n)) > 1e-6 {
			t.Fatalf("a scale up to %v in %v steps", top, n)
		}
	})
}

// TestCommonScale gives panels that stand side by side the same height for the same area.
func TestCommonScale(t *testing.T) {
	small, large := bramble(), bramble()
	for i := range large.Points {
		large.Points[i].Value, large.Points[i].Low, large.Points[i].High = 2*large.Points[i].Value, 2*large.Points[i].Low, 2*large.Points[i].High
	}
	top := CommonTop(small, large)
	small.Top, large.Top = top, top
	a, b := of(parse(t, Chart(small)), "dot"), of(parse(t, Chart(large)), "dot")
	for i := range a {
		if half := (plotBottom - b[i].number(t, "cy")) / 2; math.Abs(half-(plotBottom-a[i].number(t, "cy"))) > 0.15 {
			t.Fatalf("dot %d: half the area is not half the height", i)
		}
		if a[i].attrs["cx"] != b[i].attrs["cx"] {
			t.Fatalf("dot %d stands on another day", i)
		}
	}
}

// TestLogChart checks that each halving is the same step, and that a closed site reaches no logarithm.
func TestLogChart(t *testing.T) {
	p := Panel{LabelledBy: "a b", Quantity: "area", Unit: "cm²", Decimal: tracker.Point, First: dayOne, Last: dayOne + 6}
	for i, v := range []float64{16, 8, 4, 2, 0, 3, 1} {
		p.Points = append(p.Points, Point{Day: dayOne + tracker.Date(i), Value: v})
	}
	nodes := parse(t, LogChart(p))
	dots := of(nodes, "dot")
	if len(dots) != 7 || len(of(nodes, "nothing")) != 1 {
		t.Fatalf("%d dots", len(dots))
	}
	for i := 1; i < 4; i++ {
		if fall := dots[i].number(t, "cy") - dots[i-1].number(t, "cy"); math.Abs(fall-(plotBottom-plotTop)/4) > 0.15 {
			t.Errorf("halving %d is a step of %v", i, fall)
		}
	}
	if n := len(of(nodes, "line")); n != 2 {
		t.Errorf("%d lines: the closed day must end one", n)
	}
	var labels []string
	for _, n := range nodes {
		if n.name == "text" && n.attrs["text-anchor"] == "end" && n.attrs["x"] == num(plotLeft-8) {
			labels = append(labels, n.text)
		}
	}
	if got := strings.Join(labels, " "); got != "100 50 25 12.5 6.25" {
		t.Errorf("gridlines %q", got)
	}
	if got := LogChart(Panel{Decimal: tracker.Point}); got != "" {
		t.Errorf("a log view of nothing: %s", got)
	}
}

func TestSummary(t *testing.T) {
	flat := Panel{Quantity: "area", Unit: "cm²", Decimal: tracker.Comma, Points: []Point{
		{dayOne, 9.8, 8.8, 10.8, 0, false, false}, {dayOne + 1, 10.6, 9.6, 11.6, 0, false, false}, {dayOne + 2, 9.6, 8.6, 10.6, 0, false, false}}}
	for name, c := range map[string]struct {
		panel Panel
		want  string
	}{
		"turn":  {bramble(), "27 readings from 16 Apr to 14 May. Area fell from 9.8 to 6.6\u00a0cm² by 5 May, then rose to 8.2\u00a0cm². A new wash on 30 Apr. No reading on 2 planned days. Could not be measured on 1 day."},
		"score": {patch(), "10 readings from 16 Apr to 13 May. Sign score fell from 12 to 4."},
		"flat":  {flat, "3 readings from 16 Apr to 18 Apr. Area was 9,8 at first and 9,6\u00a0cm² at last."},
		"none":  {Panel{Decimal: tracker.Point, First: dayOne, Last: dayOne + 3, Missed: []tracker.Date{dayOne}}, "No reading yet. No reading on 1 planned day."},
		"one":   {Panel{Quantity: "area", Unit: "cm²", Decimal: tracker.Point, Points: flat.Points[:1]}, "1 reading on 16 Apr. Area was 9.8\u00a0cm²."},
	} {
		if got := c.panel.Summary(); got != c.want {
			t.Errorf("%s:\ngot  %s\nwant %s", name, got, c.want)
		}
	}
}

func TestSay(t *testing.T) {
	p := Panel{Unit: "cm²", Decimal: tracker.Comma}
	for value, want := range map[float64]string{0: "0", 0.03: "less than 0,1", 0.05: "0,1", 8: "8", 8.24: "8,2", 9.94: "9,9", 9.96: "10", 18.8: "19", 1256: "1\u202f256"} {
		if got := p.Say(value); got != want+"\u00a0cm²" {
			t.Errorf("%v reads %q", value, got)
		}
	}
}
