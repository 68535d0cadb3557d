package healing

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"leground/tracker"
)

// drawSite draws any wound a yard could enter: gaps, repeats, two methods, resets, zeros, slips.
func drawSite(t *rapid.T, days int) Site {
	seed := rapid.Uint64().Draw(t, "seed")
	rng := rand.New(rand.NewPCG(seed, 9))
	site := Site{Distal: rng.IntN(4) > 0}
	r, rate := 3+25*rng.Float64(), 0.5*(rng.Float64()-0.4)
	keep := rapid.Float64Range(0.1, 1).Draw(t, "keep")
	for day := range days {
		if rng.IntN(30) == 0 {
			rate = 0.6 * (rng.Float64() - 0.4)
		}
		r = math.Max(0, r-rate)
		date := simDay0 + tracker.Date(day)
		if rng.IntN(25) == 0 {
			site.Resets = append(site.Resets, date)
		}
		if rng.IntN(25) == 0 {
			site.Treatments = append(site.Treatments, date)
		}
		if rng.IntN(40) == 0 {
			site.Onset, r = date, 10+10*rng.Float64()
		}
		if rng.IntN(25) == 0 {
			site.Bandaged = append(site.Bandaged, date)
		}
		for rng.Float64() < keep {
			reading := Reading{Day: date, Method: tracker.Ruler, LengthMM: math.Round(2 * r * math.Exp(0.1*rng.NormFloat64())), SkinSeen: true}
			reading.WidthMM = math.Round(reading.LengthMM * 0.8)
			if rng.IntN(12) == 0 {
				reading = Reading{Day: date, Method: tracker.Traced, AreaCM2: reading.Area(), SkinSeen: true}
			}
			site.Readings = append(site.Readings, reading)
			if rng.IntN(3) > 0 {
				break
			}
		}
	}
	return site
}

// TestBoundedWindow: what Trim drops changes nothing, at any day from its own on.
func TestBoundedWindow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		site := drawSite(t, 400)
		first := 60 + rapid.IntRange(0, 200).Draw(t, "trimmed at")
		trimmed := Site{Onset: site.Onset, Distal: site.Distal, Bandaged: slices.Clone(site.Bandaged), Resets: slices.Clone(site.Resets), Treatments: slices.Clone(site.Treatments)}
		// As a stream would: readings arrive, and what is old is dropped now and then.
		next := 0
		for day := first; day < first+60; day += 7 {
			for next < len(site.Readings) && site.Readings[next].Day <= simDay0+tracker.Date(day) {
				trimmed.Readings = append(trimmed.Readings, site.Readings[next])
				next++
			}
			trimmed.Trim(simDay0 + tracker.Date(day))
			if d := diff(judgeAt(site, day), judgeAt(trimmed, day)); d != "" {
				t.Fatalf("day %d: with everything (-), trimmed (+): %s", day, d)
			}
		}
		if len(trimmed.Readings) > 6*(HorizonDays+10) {
			t.Errorf("%d readings kept", len(trimmed.Readings))
		}
	})
}

func TestOrderAndTimeShift(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		site := drawSite(t, 100)
		day := rapid.IntRange(0, 110).Draw(t, "day")
		want := judgeAt(site, day)
		shuffled := site
		shuffled.Readings = rapid.Permutation(site.Readings).Draw(t, "order")
		if d := diffNear(want, judgeAt(shuffled, day)); d != "" {
			t.Errorf("in another order: %s", d)
		}
		const by = 1000
		move := func(days []tracker.Date) (moved []tracker.Date) {
			for _, d := range days {
				moved = append(moved, d+by)
			}
			return moved
		}
		later := Site{Distal: site.Distal, Resets: move(site.Resets), Treatments: move(site.Treatments), Bandaged: move(site.Bandaged)}
		if site.Onset != 0 {
			later.Onset = site.Onset + by
		}
		for _, r := range site.Readings {
			r.Day += by
			later.Readings = append(later.Readings, r)
		}
		got := judgeAt(later, day+by)
		for _, d := range []*tracker.Date{&got.AsOf, &got.LastDay, &got.FirstDay, &got.ClosesFrom, &got.ClosesTo, &got.Reset, &got.Treatment} {
			if *d != 0 {
				*d -= by
			}
		}
		if d := diffNear(want, got); d != "" {
			t.Errorf("a thousand days later: %s", d)
		}
	})
}

// TestFuture: what happens after the judged day does not reach it.
func TestFuture(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		site := drawSite(t, 120)
		day := rapid.IntRange(0, 119).Draw(t, "day")
		upTo := Site{Distal: site.Distal}
		date := simDay0 + tracker.Date(day)
		if site.Onset <= date {
			upTo.Onset = site.Onset
		}
		until := func(days []tracker.Date) (kept []tracker.Date) {
			for _, d := range days {
				if d <= date {
					kept = append(kept, d)
				}
			}
			return kept
		}
		upTo.Resets, upTo.Treatments, upTo.Bandaged = until(site.Resets), until(site.Treatments), until(site.Bandaged)
		for _, r := range site.Readings {
			if r.Day <= date {
				upTo.Readings = append(upTo.Readings, r)
			}
		}
		if d := diff(judgeAt(upTo, day), judgeAt(site, day)); d != "" {
			t.Errorf("without (-) and with (+) what came later: %s", d)
		}
	})
}

// TestAnythingIsJudged: no input makes nonsense of the figures.
func TestAnythingIsJudged(t *testing.T) {
	odd := []float64{0, 1, 17, 400, -3, math.NaN(), math.Inf(1), 1e-300, 1e30, 1e300}
	rapid.Check(t, func(t *rapid.T) {
		site := drawSite(t, 70)
		for range rapid.IntRange(0, 20).Draw(t, "odd ones") {
			pick := func(name string) float64 { return rapid.SampledFrom(odd).Draw(t, name) }
			site.Readings = append(site.Readings, Reading{Day: simDay0 + tracker.Date(rapid.IntRange(-3, 80).Draw(t, "day")),
				Method: tracker.Method(rapid.IntRange(0, 4).Draw(t, "method")), LengthMM: pick("length"), WidthMM: pick("width"), AreaCM2: pick("area")})
		}
		j := judgeAt(site, rapid.IntRange(0, 90).Draw(t, "as of"))
		if j.Label < TooEarly || j.Label > ClosedOver || j.Reason == 0 || j.Why(tracker.Point) == "" {
			t.Errorf("label %v, reason %d", j.Label, j.Reason)
		}
		if j.Low > j.Rate || j.Rate > j.High || j.LabelSpanDays == j.SpanDays && (j.LabelLow > j.Low || j.LabelHigh < j.High) || j.LabelLow > j.LabelHigh {
			t.Errorf("rate %v in %v to %v, wider %v to %v", j.Rate, j.Low, j.High, j.LabelLow, j.LabelHigh)
		}
		for _, x := range []float64{j.Rate, j.Low, j.High, j.LabelLow, j.LabelHigh, j.Smallest, j.LogSlope, j.GilmanMM, j.LogRatePerWeek, j.HalfLifeDays} {
			if math.IsInf(x, 0) {
				t.Errorf("an infinite figure: %+v", j)
			}
		}
		if j.Alone == Widening && !(j.High < 0) && j.Reason != BeyondFreshGrowth && j.Label == Widening && j.Reason != Held {
			t.Errorf("widening although the exact interval reaches %v", j.High)
		}
		if j.Label == Widening && j.Remeasure {
			t.Error("both the label and the prompt")
		}
	})
}
