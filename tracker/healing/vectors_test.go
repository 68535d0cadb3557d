package healing

import (
	"bytes"
	"encoding/json"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"slices"
	"strconv"
	"strings"
	"testing"

	"leground/tracker"
)

// python is Debian's, which has scipy.
const python = "/usr/bin/python3"

// vectorRows reads a file of vectors: a header of "key: value" lines, an empty line, then rows of fields
// parted by bars. A header key that is not known fails the test.
func vectorRows(t *testing.T, name string, fields int) [][]string {
	t.Helper()
	text, err := os.ReadFile("../../testdata/vectors/healing/" + name)
	if err != nil {
		t.Fatal(err)
	}
	var rows [][]string
	header, sourced := true, false
	for line := range strings.Lines(string(text)) {
		line = strings.TrimSpace(line)
		switch {
		case line == "":
			header = false
		case header:
			key, _, _ := strings.Cut(line, ":")
			if !slices.Contains([]string{"source", "columns", "note"}, key) {
				t.Fatalf("%s: unknown header %q", name, key)
			}
			sourced = sourced || key == "source"
		case strings.HasPrefix(line, "#"):
		default:
			row := strings.Split(line, " | ")
			if len(row) != fields {
				t.Fatalf("%s: %d fields, want %d: %s", name, len(row), fields, line)
			}
			rows = append(rows, row)
		}
	}
	if !sourced || len(rows) == 0 {
		t.Fatalf("%s: no source or no rows", name)
	}
	return rows
}

// call splits "name 1 2 3" into its name and numbers.
func call(t *testing.T, text string) (string, []float64) {
	t.Helper()
	words := strings.Fields(text)
	return words[0], numbers(t, words[1:])
}

func numbers(t *testing.T, words []string) []float64 {
	t.Helper()
	var all []float64
	for _, w := range words {
		x, err := strconv.ParseFloat(w, 64)
		if err != nil {
			t.Fatal(err)
		}
		all = append(all, x)
	}
	return all
}

func near(got, want, relative float64) bool {
	return math.IsNaN(got) && math.IsNaN(want) || math.Abs(got-want) <= relative*math.Max(1e-12, math.Abs(want))+1e-12
}

func TestSizeVectors(t *testing.T) {
	figures := map[string]func(a []float64) float64{
		"ellipse-area":           func(a []float64) float64 { return EllipseAreaCM2(a[0], a[1]) },
		"ellipse-perimeter":      func(a []float64) float64 { return EllipsePerimeterMM(a[0], a[1]) },
		"margin-to-centre":       func(a []float64) float64 { return 200 * EllipseAreaCM2(a[0], a[1]) / EllipsePerimeterMM(a[0], a[1]) },
		"rectangle-over-ellipse": func(a []float64) float64 { return a[0] * a[1] / 100 / EllipseAreaCM2(a[0], a[1]) },
		"ratio":                  func(a []float64) float64 { return EllipseAreaCM2(a[0], 10) * 4 / math.Pi / a[1] * 10 },
		"ellipse-of-rectangle":   func(a []float64) float64 { return EllipseAreaCM2(100*a[0], 1) },
		"radius":                 func(a []float64) float64 { return RadiusMM(a[0]) },
		"give-or-take-percent":   func(a []float64) float64 { return 100 * GiveOrTakeCM2(a[0], a[1], a[2]) / EllipseAreaCM2(a[0], a[1]) },
		"cv-percent": func(a []float64) float64 {
			return 100 * GiveOrTakeCM2(a[0], a[1], a[2]) / 1.96 / EllipseAreaCM2(a[0], a[1])
		},
	}
	for _, row := range vectorRows(t, "size.txt", 5) {
		checkFigure(t, row, figures)
	}
}

func checkFigure(t *testing.T, row []string, figures map[string]func([]float64) float64) {
	t.Helper()
	name, args := call(t, row[1])
	f, ok := figures[name]
	if !ok {
		t.Fatalf("%s: unknown figure %q", row[0], name)
	}
	want := numbers(t, row[2:4])
	if got := f(args); !near(got, want[0], want[1]) {
		t.Errorf("%s %s: got %v, want %v (%s)", row[0], row[1], got, want[0], row[4])
	}
}

func TestMeasureVectors(t *testing.T) {
	area := func(a []float64, i int) float64 { return EllipseAreaCM2(a[i], a[i+1]) }
	gilman := func(a []float64) float64 {
		return GilmanMM(area(a, 0), EllipsePerimeterMM(a[0], a[1]), area(a, 2), EllipsePerimeterMM(a[2], a[3]))
	}
	figures := map[string]func(a []float64) float64{
		"par-ellipses":      func(a []float64) float64 { return PercentAreaReduction(area(a, 0), area(a, 2)) },
		"par-areas":         func(a []float64) float64 { return PercentAreaReduction(a[0], a[1]) },
		"par-radii":         func(a []float64) float64 { return PercentAreaReduction(a[0]*a[0], a[1]*a[1]) },
		"gilman-ellipses":   gilman,
		"gilman-per-day":    func(a []float64) float64 { return gilman(a) / a[4] },
		"gilman-rectangles": func(a []float64) float64 { return GilmanMM(a[0]*a[1]/100, 2*(a[0]+a[1]), a[2]*a[3]/100, 2*(a[2]+a[3])) },
		"log-rate-per-day":  func(a []float64) float64 { return LogRatePerWeek(area(a, 0), area(a, 2), a[4]) / 7 },
		"half-life": func(a []float64) float64 {
			return HalfLifeDays(-LogRatePerWeek(area(a, 0), area(a, 2), a[4]) / 7)
		},
		"half-life-of-slope":      func(a []float64) float64 { return HalfLifeDays(a[0]) },
		"log-rate-per-week-areas": func(a []float64) float64 { return LogRatePerWeek(a[0], a[1], a[2]) },
	}
	for _, row := range vectorRows(t, "measures.txt", 5) {
		checkFigure(t, row, figures)
	}
}

// series reads "name [tail 0.05] [log|radius] x: ... y: ...".
func series(t *testing.T, text string) (name string, tail float64, x, y []float64) {
	t.Helper()
	head, rest, _ := strings.Cut(text, "x:")
	xs, ys, _ := strings.Cut(rest, "y:")
	x, y = numbers(t, strings.Fields(xs)), numbers(t, strings.Fields(ys))
	words := strings.Fields(head)
	for i, w := range words {
		switch w {
		case "tail":
			tail = numbers(t, words[i+1:i+2])[0]
		case "log":
			for k := range y {
				y[k] = math.Log(y[k])
			}
		case "radius":
			for k := range y {
				y[k] = RadiusMM(y[k])
			}
		}
	}
	return words[0], tail, x, y
}

// theilSen gives the median of all pairwise slopes of y over x and the exact-rank interval that leaves at
// most tail outside each end. The x are distinct. Without two points the slope is NaN, without enough
// for the interval its ends are.
func theilSen(x, y []float64, tail float64) (slope, low, high float64) {
	slopes := make([]float64, 0, len(x)*(len(x)-1)/2)
	for i := range x {
		for j := range i {
			slopes = append(slopes, (y[i]-y[j])/(x[i]-x[j]))
		}
	}
	if tail == oneTail && len(x) <= maxRanked {
		return middle(slopes, exactRanks[len(x)])
	}
	return middle(slopes, ExactRank(len(x), tail))
}

// kendallTail gives the exact chance that Kendall's S of n untied values in random order is s or more.
func kendallTail(n, s int) float64 {
	sum := 0.0
	for inv, chance := range inversions(n) {
		if n*(n-1)/2-2*inv >= s {
			sum += chance
		}
	}
	return math.Min(sum, 1)
}

func TestStatisticsVectors(t *testing.T) {
	for _, row := range vectorRows(t, "statistics.txt", 5) {
		name, tail, x, y := series(t, row[1])
		slope, low, high := theilSen(x, y, tail)
		got := map[string]float64{"slope": slope, "low": low, "high": high}
		value, ok := got[name]
		want := numbers(t, row[2:4])
		if !ok || !near(value, want[0], want[1]) {
			t.Errorf("%s %s: got %v, want %v (%s)", row[0], row[1], value, want[0], row[4])
		}
	}
}

func TestExactRanks(t *testing.T) {
	figures := map[string]func(a []float64) float64{
		"tail":      func(a []float64) float64 { return kendallTail(int(a[0]), int(a[1])) },
		"rank":      func(a []float64) float64 { return float64(ExactRank(int(a[0]), 0.05)) },
		"last-rank": func(a []float64) float64 { return a[0]*(a[0]-1)/2 - float64(ExactRank(int(a[0]), 0.05)) + 1 },
		"confidence": func(a []float64) float64 {
			n := int(a[0])
			return 100 * (1 - 2*kendallTail(n, n*(n-1)/2-2*(ExactRank(n, 0.05)-1)))
		},
		"limit": func(a []float64) float64 { return kendallTail(int(a[0]), int(a[1])) },
	}
	for _, row := range vectorRows(t, "ranks.txt", 4) {
		name, args := call(t, row[1])
		want := numbers(t, row[2:4])
		if got := figures[name](args); math.Abs(got-want[0]) > want[1] {
			t.Errorf("%s %s: got %v, want %v", row[0], row[1], got, want[0])
		}
		if name == "limit" && figures[name](args) > 0.2 {
			t.Errorf("%s: the regulation's limit leaves more than 20 percent", row[0])
		}
	}
}

// missing skips a test whose outside tool is not there, or fails it where none may be missing.
func missing(t testing.TB, what string) {
	t.Helper()
	if os.Getenv("LEGROUND_NO_SKIP") == "1" {
		t.Fatal("missing: ", what)
	}
	t.Skip("missing: ", what)
}

// askPython runs a script on what is put in as JSON and reads its answer.
func askPython(t testing.TB, script string, in, out any) {
	t.Helper()
	if err := exec.Command(python, "-c", "import scipy").Run(); err != nil {
		missing(t, "python3-scipy: "+err.Error())
	}
	data, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(python, "-c", script)
	cmd.Stdin = bytes.NewReader(data)
	cmd.Stderr = os.Stderr
	answer, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(answer, out); err != nil {
		t.Fatal(err)
	}
}

type randomSeries struct{ X, Y []float64 }

func someSeries(count int) []randomSeries {
	rng := rand.New(rand.NewPCG(4, 2))
	var all []randomSeries
	for range count {
		var s randomSeries
		x := 0.0
		for range 4 + rng.IntN(22) {
			x += float64(1 + rng.IntN(4))
			s.X, s.Y = append(s.X, x), append(s.Y, 14-0.1*x+rng.NormFloat64())
		}
		all = append(all, s)
	}
	return all
}

// TestAgainstScipy compares the slope with scipy on random series, and the exact interval with what comes of
// inverting scipy's exact test at its ends.
func TestAgainstScipy(t *testing.T) {
	all := someSeries(300)
	var want []struct{ Slope, Inside, Outside float64 }
	type question struct {
		randomSeries
		Low, High float64
	}
	var ask []question
	for _, s := range all {
		_, low, high := theilSen(s.X, s.Y, oneTail)
		ask = append(ask, question{s, low, high})
	}
	askPython(t, `
import json, sys
import numpy as np
from scipy import stats
out = []
for s in json.load(sys.stdin):
    x, y = np.array(s["X"]), np.array(s["Y"])
    slope = stats.theilslopes(y, x)[0]
    one = lambda b, side: stats.kendalltau(x, y - b * x, method="exact", alternative=side)[1]
    eps = 1e-9
    inside = min(one(s["Low"] + eps, "greater"), one(s["High"] - eps, "less"))
    outside = max(one(s["Low"] - eps, "greater"), one(s["High"] + eps, "less"))
    out.append({"Slope": slope, "Inside": inside, "Outside": outside})
json.dump(out, sys.stdout)
`, ask, &want)
	for i, s := range all {
		slope, _, _ := theilSen(s.X, s.Y, oneTail)
		w := want[i]
		if !near(slope, w.Slope, 1e-9) {
			t.Errorf("series %d of %d points: slope %v, scipy %v", i, len(s.X), slope, w.Slope)
		}
		if w.Inside <= oneTail || w.Outside > oneTail {
			t.Errorf("series %d of %d points: p just inside the interval %v, just outside %v; the test's limit is %v", i, len(s.X), w.Inside, w.Outside, oneTail)
		}
	}
}

// TestAnchors judges wounds that close steadily at the mean advance of published experiments: bounds that
// any label rule for a horse's lower leg must respect.
func TestAnchors(t *testing.T) {
	for _, row := range vectorRows(t, "anchors.txt", 5) {
		n := numbers(t, row[1:4])
		start := RadiusMM(n[0])
		speed := start / n[1]
		if math.Abs(speed-n[2]) > 0.005 {
			t.Errorf("%s: %.3f mm a day, want %v", row[0], speed, n[2])
		}
		site := steady(start, speed, 36)
		j := Judge(site, DefaultSettings(), simDay0+35)
		if j.Label != Closing || !near(j.Rate, speed, 1e-9) {
			t.Errorf("%s: %v at %.3f mm a day, want closing at %.3f", row[0], j.Label, j.Rate, speed)
		}
		due := simDay0 + tracker.Date(math.Ceil(n[1]))
		if j.ClosesFrom == 0 || j.ClosesFrom > due || j.ClosesTo < due {
			t.Errorf("%s: closes %s to %s, published %s", row[0], j.ClosesFrom, j.ClosesTo, due)
		}
		if early := Judge(site, DefaultSettings(), simDay0+34); early.ClosesFrom != 0 {
			t.Errorf("%s: a closing date before five weeks", row[0])
		}
	}
	// Edsberg et al. 2011 and Hill et al. 2004 give 0.021 and 0.046 cm a week for human ulcers that mostly
	// did not close; what the rule may never call them is closing.
	for _, cmPerWeek := range []float64{0.021, 0.046} {
		site := steady(14, cmPerWeek*10/7, 36)
		if j := Judge(site, DefaultSettings(), simDay0+35); j.Label == Closing {
			t.Errorf("%v cm a week is called closing", cmPerWeek)
		}
	}
}

// steady is a wound without measuring error, seen daily.
func steady(radius, rate float64, days int) Site {
	site := Site{Distal: true}
	for day := range days {
		d := 2 * (radius - rate*float64(day))
		site.Readings = append(site.Readings, Reading{Day: simDay0 + tracker.Date(day), Method: tracker.Ruler, LengthMM: d, WidthMM: d})
	}
	return site
}

// TestFreshAnchors gives wounds with a known injury the widening that was published.
func TestFreshAnchors(t *testing.T) {
	for _, row := range vectorRows(t, "fresh.txt", 5) {
		n := numbers(t, row[1:3])
		site := freshWound(n[0], int(n[1]), row[3] == "yes")
		labels, _ := judgeDaily(site)
		if slices.Contains(labels, Widening) || !slices.Contains(labels, EarlyWidening) || labels[len(labels)-1] != Closing {
			t.Errorf("%s: %v", row[0], labels)
		}
	}
}

// freshWound widens smoothly to its peak and then closes by 0.35 mm a day.
func freshWound(peak float64, at int, bandaged bool) Site {
	w := simWound{radius: 14, growth: risesThenFalls(peak, at), every: 1, onset: true, bandaged: bandaged, whole: true}
	return w.measured(rand.New(rand.NewPCG(1, 1)))
}

// TestSelectNth compares with the standard library's sort, with many values alike.
func TestSelectNth(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 4000 {
		a := make([]float64, 1+rng.IntN(400))
		alike := 1 + rng.IntN(60)
		for i := range a {
			a[i] = float64(rng.IntN(alike)-alike/2) / 8
			if alike == 60 {
				a[i] = rng.NormFloat64()
			}
		}
		sorted := slices.Sorted(slices.Values(a))
		k := rng.IntN(len(a))
		if got := selectNth(a, k); got != sorted[k] || a[k] != got || slices.Max(a[:k+1]) > got || slices.Min(a[k:]) < got {
			t.Fatalf("rank %d of %d: %v, want %v", k, len(a), got, sorted[k])
		}
		if got := median(a); got != (sorted[(len(a)-1)/2]+sorted[len(a)/2])/2 {
			t.Fatalf("median of %d: %v", len(a), got)
		}
	}
}
