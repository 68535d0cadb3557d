package healing

import "math"

// oneTail is the chance left at each end of the exact interval: two one-sided 5 % tests.
const oneTail = 0.05

// maxRanked is the longest series whose exact ranks are kept ready; the window never holds more.
const maxRanked = longDays

// exactRanks holds, for each number of points, the rank of the sorted pairwise slopes at which the exact
// 5 % interval begins; 0 where there are too few points for one.
var exactRanks = rankTable(maxRanked)

func rankTable(n int) []int {
	ranks := make([]int, n+1)
	for i := range ranks {
		ranks[i] = ExactRank(i, oneTail)
	}
	return ranks
}

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

// ExactRank gives M such that the M-th smallest and M-th largest of the n(n-1)/2 pairwise slopes of n points
// bound the slope with a chance of at most tail outside each end: M = (N - k + 2) / 2, where k is the
// smallest S with P(S >= k) <= tail (Hollander and Wolfe, from memory; checked by inverting the test). It
// is 0 when even the outermost slopes leave more than that.
func ExactRank(n int, tail float64) int {
	sum := 0.0
	for inv, chance := range inversions(n) {
		if sum += chance; sum > tail {
			return inv
		}
	}
	return 0
}

// middle gives the median and the rank-th value from each end of slopes, which it reorders.
func middle(slopes []float64, rank int) (mid, low, high float64) {
	low, high = math.NaN(), math.NaN()
	rest := slopes
	if rank > 0 {
		low = selectNth(rest, rank-1)
		rest = rest[rank-1:]
		high = selectNth(rest, len(slopes)-rank-(rank-1))
		rest = rest[:len(slopes)-rank-(rank-1)+1]
	}
	return median(rest), low, high
}

// median gives the middle value, or the mean of the two middle ones, and reorders its argument; NaN of
// nothing.
func median(a []float64) float64 {
	n := len(a)
	if n == 0 {
		return math.NaN()
	}
	upper := selectNth(a, n/2)
	if n%2 == 1 {
		return upper
	}
	lower := a[0]
	for _, v := range a[:n/2] {
		lower = math.Max(lower, v)
	}
	return (lower + upper) / 2
}

// selectNth gives the value that would stand at index k if a were sorted, and puts it there with nothing
// larger before it and nothing smaller after it (quickselect). Most of the time of a judgement is spent
// here, so the inner loops have no branches that a processor could guess wrong.
func selectNth(a []float64, k int) float64 {
	lo, hi := 0, len(a)-1
	for hi-lo > 12 {
		mid := (lo + hi) / 2
		pivot := middle3(a[lo], a[mid], a[hi])
		switch pivot {
		case a[lo]:
			mid = lo
		case a[hi]:
			mid = hi
		}
		a[mid], a[hi] = a[hi], pivot
		at := lo + moveBelow(a[lo:hi], pivot)
		a[at], a[hi] = pivot, a[at]
		switch {
		case k == at:
			return pivot
		case k < at:
			hi = at - 1
		default:
			few := at-lo < (hi-lo)/8
			if lo = at + 1; few { // perhaps because many are alike
				if lo += moveUpTo(a[lo:hi+1], pivot); k < lo {
					return pivot
				}
			}
		}
	}
	for i := lo + 1; i <= hi; i++ {
		v := a[i]
		j := i
		for ; j > lo && a[j-1] > v; j-- {
			a[j] = a[j-1]
		}
		a[j] = v
	}
	return a[k]
}

// moveBelow puts what is below the pivot first and gives how many there are. The sign bit of a difference
// is 1 when it is negative; finite values of a differ by no NaN.
func moveBelow(a []float64, pivot float64) int {
	n := 0
	for i, v := range a {
		a[i], a[n] = a[n], v
		n += int(math.Float64bits(v-pivot) >> 63)
	}
	return n
}

// moveUpTo puts what is not above the pivot first and gives how many there are.
func moveUpTo(a []float64, pivot float64) int {
	n := 0
	for i, v := range a {
		a[i], a[n] = a[n], v
		n += 1 - int(math.Float64bits(pivot-v)>>63)
	}
	return n
}
