package healing

import (
	"math"
	"math/rand/v2"
	"testing"

	"leground/tracker"
)

func TestCalibrate(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 6))
	read := func(who string, spread float64) Reading {
		return Reading{Day: simDay0, Method: tracker.Ruler, LengthMM: 40 + spread*rng.NormFloat64(), WidthMM: 30 + spread*rng.NormFloat64(), Measurer: who}
	}
	var pairs []Pair
	for range 4000 {
		pairs = append(pairs, Pair{read("Ada", 1), read("Bea", 3)}, Pair{read("Ada", 1), read("Cis", 1)}, Pair{read("Bea", 3), read("Cis", 1)})
	}
	s := Calibrate(pairs)
	// Each pair of two people has the mean of their variances as its square; the yard's is the mean of all.
	if got, want := s[SpreadKey{tracker.Ruler, ""}], math.Sqrt(11./3); !near(got, want, 0.03) {
		t.Errorf("yard %v, want %v", got, want)
	}
	ada, bea := s[SpreadKey{tracker.Ruler, "Ada"}], s[SpreadKey{tracker.Ruler, "Bea"}]
	if ada >= bea || bea < 2 || ada > 2 {
		t.Errorf("Ada %v, Bea %v", ada, bea)
	}
	// Dahlberg's formula on two pairs by hand: differences 2 0, 1 1, and eight of nothing, n = 10 lengths.
	hand := []Pair{}
	for _, d := range [][2]float64{{2, 0}, {1, 1}, {0, 0}, {0, 0}, {0, 0}} {
		hand = append(hand, Pair{Reading{Day: 1, Method: tracker.Ruler, LengthMM: 40, WidthMM: 30}, Reading{Day: 1, Method: tracker.Ruler, LengthMM: 40 + d[0], WidthMM: 30 + d[1]}})
	}
	if got, want := Calibrate(hand)[SpreadKey{tracker.Ruler, ""}], math.Sqrt(6./20); !near(got, want, 1e-12) {
		t.Errorf("by hand %v, want %v", got, want)
	}
	if got := Calibrate(hand[:4]); len(got) != 0 {
		t.Errorf("four pairs are too few: %v", got)
	}
	settings := DefaultSettings()
	settings.Spreads = s
	if settings.Spread(tracker.Ruler, "Bea") != bea || settings.Spread(tracker.Ruler, "Dot") != s[SpreadKey{tracker.Ruler, ""}] || settings.Spread(tracker.Traced, "Bea") != 2 {
		t.Error("the wrong spread is used")
	}
	// A traced pair: an area of 10 cm2 whose lengths have a spread of s has a log error of s sqrt(2)/d.
	var traced []Pair
	d := 2 * RadiusMM(10)
	for range 4000 {
		traced = append(traced, Pair{Reading{Day: 1, Method: tracker.Traced, AreaCM2: 10 * math.Exp(2*math.Sqrt2/d*rng.NormFloat64())}, Reading{Day: 1, Method: tracker.Traced, AreaCM2: 10 * math.Exp(2*math.Sqrt2/d*rng.NormFloat64())}})
	}
	if got := Calibrate(traced)[SpreadKey{tracker.Traced, ""}]; !near(got, 2, 0.03) {
		t.Errorf("traced %v, want 2", got)
	}
}

// TestSpreadMatters: a yard that measures well is believed sooner.
func TestSpreadMatters(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 2))
	site := goalWound(-0.15, 0.4).measured(rng)
	careful, rough := DefaultSettings(), DefaultSettings()
	careful.SpreadMM, rough.SpreadMM = 1, 4
	a, b := Judge(site, careful, simDay0+30), Judge(site, rough, simDay0+30)
	if a.Smallest >= b.Smallest || a.Rate != b.Rate || a.Low != b.Low || a.GiveOrTakeCM2*4 > b.GiveOrTakeCM2*1.0001 {
		t.Errorf("smallest rate %v with 1 mm, %v with 4 mm", a.Smallest, b.Smallest)
	}
}
