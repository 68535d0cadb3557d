package healing

import "math"

// exactLimit is the longest series whose Kendall test uses the exact distribution.
const exactLimit = 25

// inversions gives the chance of each number of inversions in a random order of n things. It recurses on
// probabilities, since 21! no longer fits 64 bits.
func inversions(n int) []float64 {
	p := []float64{1}
	for m := 2; m <= n; m++ {
		next := make([]float64, len(p)+m-1)
		for i, chance := range p {
			for j := range m {
				next[i+j] += chance / float64(m)
			}
		}
		p = next
	}
	return p
}

// KendallTail gives the exact chance that Kendall's S of n untied values in random order is s or more.
func KendallTail(n, s int) float64 {
	sum := 0.0
	for inv, chance := range inversions(n) {
		if n*(n-1)/2-2*inv >= s {
			sum += chance
		}
	}
	return math.Min(sum, 1)
}

// Kendall is the outcome of a Mann-Kendall test for a trend in time.
type Kendall struct {
	S        int     // pairs that rise less pairs that fall
	Variance float64 // of S in random order, corrected for ties
	Tau      float64 // tau-b: S over the root of untied pairs by all pairs
	P        float64 // two-sided
	Exact    bool    // P is exact; else by the normal approximation with continuity correction
}

// MannKendall tests values in time order. P is exact up to 25 values without ties. It ignores how the
// values are spaced and assumes that their errors are independent, so it is a cross-check and makes no
// label.
func MannKendall(y []float64) Kendall {
	n := len(y)
	k := Kendall{Variance: float64(n*(n-1)*(2*n+5)) / 18, P: 1, Tau: math.NaN()}
	untied := 0
	for i := range y {
		alike, before := 0, 0
		for j := range y {
			if y[j] == y[i] {
				alike++
				if j < i {
					before++
				}
			}
			if j > i {
				k.S += sign(y[j] - y[i])
				if y[j] != y[i] {
					untied++
				}
			}
		}
		if before == 0 {
			k.Variance -= float64(alike*(alike-1)*(2*alike+5)) / 18
		}
	}
	pairs := n * (n - 1) / 2
	if untied == 0 {
		return k
	}
	k.Tau = float64(k.S) / math.Sqrt(float64(untied)*float64(pairs))
	if n <= exactLimit && untied == pairs {
		k.Exact = true
		k.P = math.Min(1, 2*KendallTail(n, abs(k.S)))
	} else if k.S != 0 {
		z := float64(abs(k.S)-1) / math.Sqrt(k.Variance)
		k.P = math.Erfc(z / math.Sqrt2)
	}
	return k
}

func sign(x float64) int {
	switch {
	case x > 0:
		return 1
	case x < 0:
		return -1
	}
	return 0
}

func abs(n int) int { return max(n, -n) }
