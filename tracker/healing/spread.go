package healing

import (
	"math"

	"leground/tracker"
)

// minPairs is how many blind second readings a calibration needs: five, ten lengths measured twice.
const minPairs = 5

// Pair is one site measured twice on one day, the second time without seeing the first. The two readings
// share their method.
type Pair struct{ A, B Reading }

// SpreadKey names whose measuring spread is meant: one measurer's with one method, or everybody's with
// that method when Measurer is empty.
type SpreadKey struct {
	Method   tracker.Method
	Measurer string
}

// Calibrate works out measuring spreads in mm from blind second readings: s = sqrt(sum d^2 / 2n) over the
// n lengths that were measured twice (Dahlberg's formula, from memory), for each method with at least
// five pairs. A person who took part in at least five pairs of two different people gets a spread of
// their own, their pairs' mean square less what the others share of it, at least half the yard's. Of an
// outline the equivalent diameter is compared; its error is 1/sqrt(2) of that of one ruled length.
func Calibrate(pairs []Pair) map[SpreadKey]float64 {
	type sum struct {
		squares float64
		lengths int
		pairs   int
	}
	sums := make(map[SpreadKey]sum)
	for _, p := range pairs {
		if !p.A.Valid() || !p.B.Valid() || p.A.Method != p.B.Method || p.A.closed() || p.B.closed() {
			continue
		}
		squares, lengths := p.squares()
		keys := []SpreadKey{{p.A.Method, ""}}
		if p.A.Measurer != p.B.Measurer {
			keys = append(keys, SpreadKey{p.A.Method, p.A.Measurer}, SpreadKey{p.A.Method, p.B.Measurer})
		}
		for i, k := range keys {
			if i == 0 || k.Measurer != "" {
				s := sums[k]
				sums[k] = sum{s.squares + squares, s.lengths + lengths, s.pairs + 1}
			}
		}
	}
	spreads := make(map[SpreadKey]float64)
	for k, s := range sums {
		all := sums[SpreadKey{k.Method, ""}]
		if s.pairs < minPairs || all.pairs < minPairs {
			continue
		}
		yard := all.squares / float64(2*all.lengths)
		if k.Measurer == "" {
			spreads[k] = math.Sqrt(yard)
		} else {
			spreads[k] = math.Sqrt(math.Max(s.squares/float64(s.lengths)-yard, yard/4))
		}
	}
	return spreads
}

// squares sums the squared differences of the pair's lengths in mm.
func (p Pair) squares() (sum float64, lengths int) {
	al, aw := p.A.Axes()
	bl, bw := p.B.Axes()
	if p.A.Method == tracker.Traced {
		d := 2 * (RadiusMM(p.A.Area()) - RadiusMM(p.B.Area()))
		return 2 * d * d, 1
	}
	return (al-bl)*(al-bl) + (aw-bw)*(aw-bw), 2
}
