package healing

import (
	"math"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"leground/tracker"
)

// benchSites makes sites of so many daily measured days that closed, slowed, stood still or widened for the
// last sixty of them.
func benchSites(count, days int) []Site {
	rng := rand.New(rand.NewPCG(11, 12))
	rates := []float64{0.2, 0.07, 0, -0.15, 0.1}
	sites := make([]Site, count)
	for i := range sites {
		sites[i].Distal = true
		e := 0.0
		for day := range days {
			e = 0.4*e + 0.9165*rng.NormFloat64()
			r := 18 - rates[i%len(rates)]*float64(max(day-days+1, -60))
			d := 2 * r * math.Exp(0.075*e)
			sites[i].Readings = append(sites[i].Readings, Reading{Day: simDay0 + tracker.Date(day), Method: tracker.Ruler, LengthMM: d, WidthMM: 0.8 * d})
		}
	}
	return sites
}

func judgeAll(sites []Site, times int, asOf tracker.Date) {
	s := DefaultSettings()
	for range times {
		for _, site := range sites {
			Judge(site, s, asOf)
		}
	}
}

// BenchmarkJudge judges 10,000 sites of 60 points. The bar is one second on one core.
func BenchmarkJudge(b *testing.B) {
	sites := benchSites(500, 60)
	b.ReportAllocs()
	for b.Loop() {
		judgeAll(sites, 20, simDay0+59)
	}
}

// BenchmarkJudgeTwoMonths and BenchmarkJudgeFiveYears judge 500 sites that were measured daily for so long,
// trimmed as a reader of the last HorizonDays days has them. The bar is 1.3 times.
func BenchmarkJudgeTwoMonths(b *testing.B) { benchAfter(b, 61) }

// BenchmarkJudgeFiveYears is the other half of that pair.
func BenchmarkJudgeFiveYears(b *testing.B) { benchAfter(b, 1826) }

func benchAfter(b *testing.B, days int) {
	sites, asOf := trimmedSites(days)
	for b.Loop() {
		judgeAll(sites, 1, asOf)
	}
}

func trimmedSites(days int) ([]Site, tracker.Date) {
	sites := benchSites(500, days)
	asOf := simDay0 + tracker.Date(days-1)
	for i := range sites {
		sites[i].Trim(asOf)
	}
	return sites, asOf
}

// TestFiveYearsCostNoMore compares the two, best of several turns each, since the machine may be busy. The
// bar of 1.3 is checked in the long run; a short one only finds what is badly wrong.
func TestFiveYearsCostNoMore(t *testing.T) {
	limit, turns := 2.0, 6
	if os.Getenv("LEGROUND_LONG") == "1" {
		limit, turns = 1.3, 40
	}
	short, shortDay := trimmedSites(61)
	long, longDay := trimmedSites(1826)
	least := [2]float64{math.Inf(1), math.Inf(1)}
	for range turns {
		for i, run := range []func(){func() { judgeAll(short, 1, shortDay) }, func() { judgeAll(long, 1, longDay) }} {
			least[i] = math.Min(least[i], seconds(run))
		}
	}
	ratio := least[1] / least[0]
	t.Logf("after two months %.1f us a site, after five years %.1f: %.2f times", least[0]*2000, least[1]*2000, ratio)
	if ratio > limit {
		t.Errorf("%.2f times, at most %v", ratio, limit)
	}
}

func seconds(run func()) float64 {
	start := time.Now()
	run()
	return time.Since(start).Seconds()
}

// BenchmarkAgainstScipy works out the slope and its interval of 1,000 windows of 21 points here and with
// scipy's theilslopes, and reports how many times longer scipy takes. Its interval is by a normal
// approximation, so the work is not quite the same.
func BenchmarkAgainstScipy(b *testing.B) {
	var windows []randomSeries
	for _, site := range benchSites(1000, 21) {
		var s randomSeries
		for _, r := range site.Readings {
			s.X, s.Y = append(s.X, float64(r.Day)), append(s.Y, RadiusMM(r.Area()))
		}
		windows = append(windows, s)
	}
	var scipy float64
	askPython(b, `
import json, sys, time
import numpy as np
from scipy import stats
sets = [(np.array(s["X"]), np.array(s["Y"])) for s in json.load(sys.stdin)]
stats.theilslopes(sets[0][1], sets[0][0], 0.9)
start = time.process_time()
for x, y in sets:
    stats.theilslopes(y, x, 0.9)
json.dump(time.process_time() - start, sys.stdout)
`, windows, &scipy)
	for b.Loop() {
		for _, s := range windows {
			theilSen(s.X, s.Y, oneTail)
		}
	}
	ours := b.Elapsed().Seconds() / float64(b.N)
	b.ReportMetric(scipy/ours, "scipy/ours")
	b.ReportMetric(1000*scipy, "scipy-us/window")
}
