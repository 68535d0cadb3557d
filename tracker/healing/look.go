package healing

import (
	"math"

	"leground/tracker"
)

// The boundaries of widening and of closing, and the share of the widening one at which a carer is asked
// to measure again.
const (
	wideningEarly, wideningLate = 2.40, 3.30
	closingEarly, closingLate   = 2.20, 3.20
	remeasureShare              = 0.85
)

const (
	stretchTo = 8 // measured days that the window is stretched back to hold
	// A fresh wound of the lower leg widens at first: bandaged ones for three weeks, others for two (Dart et
	// al., Aust Vet J 2009;87:215), to about twice their size at worst (Wilmink et al., Equine Vet J
	// 1999;31:53).
	freshDays, freshBareDays = 21, 14
	freshGrowth              = 2.2 // area over first area that is still expected
	freshSure                = 1.7 // standard errors by which it must be passed before it is called widening
)

// verdict is what one look alone says, with its numbers. Rates are in mm a day, positive when closing, NaN
// where there is none.
type verdict struct {
	label     Label
	reason    Reason
	rate      float64
	low, high float64 // exact-rank interval
	wideLow   float64 // the interval that closing and widening rest on
	wideHigh  float64
	smallest  float64 // the smallest rate that these readings could show
	n, span   int     // measured days used and the days between the first and the last
	longSpan  int     // days that the wider interval spans, where it rests on more than the window
	from, to  int     // indices of the first and last point used; from > to when there is none
	se        float64 // standard error of rate, errors running together
	sigma     float64 // error of ln area
	prompt    bool    // possible widening: measure again today
}

// work is room for one look's numbers, used again for the next.
type work struct {
	x, y, expected, area [longDays]float64
	index                [longDays]int
	rest, off            [longDays]float64
	slopes               [longDays * (longDays - 1) / 2]float64
}

// collect gathers the open points of the series of point i in the long stretch that ends with a day, and
// gives how many there are.
func (c *course) collect(i int, end tracker.Date) int {
	w := &c.work
	k := longDays
	for ; i >= 0 && c.points[i].day > end-longDays; i-- {
		if p := &c.points[i]; !p.closed {
			k--
			w.x[k], w.y[k], w.expected[k], w.area[k], w.index[k] = float64(p.day-end), p.radius, p.variance, p.area, i
		}
		if c.points[i].starts {
			break
		}
	}
	copy(w.x[:], w.x[k:])
	copy(w.y[:], w.y[k:])
	copy(w.expected[:], w.expected[k:])
	copy(w.area[:], w.area[k:])
	copy(w.index[:], w.index[k:])
	return longDays - k
}

// window gives where the ordinary window begins among n collected points, from a first one on: the last
// WindowDays days, stretched back to hold eight measured days.
func (c *course) window(from, n int) int {
	at := n
	for at > from && (c.work.x[at-1] > -float64(c.settings.WindowDays) || n-at < stretchTo) {
		at--
	}
	return at
}

// look judges point i alone, as of a day not before it; i is -1 where there is no point.
func (c *course) look(i int, end tracker.Date) verdict {
	if c.closedOver(i) {
		return verdict{label: ClosedOver, reason: ZeroTwice}.unmeasured()
	}
	n, from := c.collect(i, end), 0
	v := c.measure(c.window(from, n), n)
	if v.reason = c.tooShort(&v); v.reason != 0 {
		v.label = TooEarly
		return v
	}
	age := int(end - c.site.Onset)
	known := c.site.Onset > 0 && age >= 0 && c.site.Distal
	if !known {
		c.decide(&v, i, 0, n, end)
		return v
	}
	excused := age <= freshBareDays || age <= freshDays && c.bandaged(end)
	whole, growth := v, c.growth(n)
	beyond := growth > freshGrowth
	if age <= freshDays && growth > freshGrowth*math.Exp(freshSure*v.sigma*medianOf3) {
		whole.label, whole.reason, whole.prompt = Widening, BeyondFreshGrowth, true
		return whole
	}
	from, turned := c.peak(n, end)
	v = c.measure(c.window(from, n), n)
	if c.tooShort(&v) == 0 {
		c.decide(&v, i, from, n, end)
	} else if v.label, v.reason = TooEarly, SincePeak; !turned && !c.points[i].closed {
		v.reason = NotTurned
	}
	open := v.label == TooEarly || v.label == Unclear
	v.prompt = v.prompt || beyond && (age <= freshDays || open && !(v.rate > 0))
	if excused && v.label != Closing && v.label != Slow {
		if growth > 1 {
			v = whole
			v.label, v.reason, v.prompt = EarlyWidening, FreshGrowth, beyond
		} else {
			v.label, v.reason = TooEarly, FreshWound
		}
	}
	return v
}

// decide labels a wound without an excuse from its collected points from to n.
func (c *course) decide(v *verdict, i, from, n int, end tracker.Date) {
	if c.direction(v, from, n); v.label == 0 {
		c.patience(v, i, from, end)
	}
}

// unmeasured fills in that there is no figure.
func (v verdict) unmeasured() verdict {
	nan := math.NaN()
	v.rate, v.low, v.high, v.wideLow, v.wideHigh, v.smallest, v.sigma, v.se = nan, nan, nan, nan, nan, nan, nan, nan
	v.to = -1
	return v
}

// measure works out the rate of the collected points at to n, its exact interval and its standard error.
func (c *course) measure(at, n int) verdict {
	w := &c.work
	v := verdict{n: n - at}.unmeasured()
	if v.n == 0 {
		return v
	}
	v.from, v.to = w.index[at], w.index[n-1]
	v.span = int(w.x[n-1] - w.x[at])
	slope, low, high := middle(w.pairwise(w.y[:], at, n, 0), exactRanks[v.n])
	v.rate, v.low, v.high = -slope, -high, -low
	if v.n >= c.settings.FewestDays {
		v.se, v.sigma = w.spread(w.x[at:n], w.y[at:n], w.expected[at:n], slope)
	}
	return v
}

// pairwise gives the slopes of y over x between every two of the points at to n that lie at least so many
// days apart.
func (w *work) pairwise(y []float64, at, n int, apart float64) []float64 {
	k := 0
	for i := at + 1; i < n; i++ {
		for j := at; j < i && w.x[i]-w.x[j] >= apart; j++ {
			w.slopes[k] = (y[i] - y[j]) / (w.x[i] - w.x[j])
			k++
		}
	}
	return w.slopes[:k]
}

// tooShort gives why the points are too few for a rate, 0 when they are not.
func (c *course) tooShort(v *verdict) Reason {
	switch {
	case v.n == 0:
		return NothingMeasured
	case v.n < c.settings.FewestDays:
		return FewDays
	case v.span < c.settings.FewestSpan:
		return ShortSpan
	}
	return 0
}

// direction labels a wound whose edge is shown to move: the exact interval and the wider one lie on one
// side of zero. In a series older than the window the wider one may also rest on up to six weeks, which
// finds a slow drift that three weeks cannot; the exact one still keeps it from calling what is over.
func (c *course) direction(v *verdict, from, n int) {
	w := &c.work
	age := -w.x[from]
	out := bound{wideningEarly, wideningLate}.at(age, float64(v.span))
	in := bound{closingEarly, closingLate}.at(age, float64(v.span))
	v.smallest = out * v.se
	v.wideLow, v.wideHigh = math.Min(v.low, v.rate-in*v.se), math.Max(v.high, v.rate+out*v.se)
	v.prompt = v.prompt || v.rate+remeasureShare*out*v.se < 0
	below, above := WideBelowZero, WideAboveZero
	if age > earlyDays && (v.high < 0 && v.wideHigh >= 0 || v.low > 0 && v.wideLow <= 0) {
		// Readings half the stretch apart or more: a quarter of the pairs, and no less exact.
		slope := median(w.pairwise(w.y[:], from, n, (w.x[n-1]-w.x[from])/2))
		se, _ := w.spread(w.x[from:n], w.y[from:n], w.expected[from:n], slope)
		low, high := -slope-in*se, -slope+out*se
		v.prompt = v.prompt || v.high < 0 && -slope+remeasureShare*out*se < 0
		if v.high < 0 && high < 0 || v.low > 0 && low > 0 {
			v.wideLow, v.wideHigh = low, high
			v.longSpan = int(w.x[n-1] - w.x[from])
			below, above = LongBelowZero, LongAboveZero
		}
	}
	switch {
	case v.wideHigh < 0:
		v.label, v.reason = Widening, below
	case v.wideLow > 0 && v.rate >= c.settings.ClosingMM:
		v.label, v.reason = Closing, above
	case v.wideLow > 0:
		v.label, v.reason = Slow, AboveZeroSlow
	}
}

// patience labels a wound whose edge is not shown to move. The counts of eight days, two weeks and four
// weeks begin with the site's first reading whatever was reset since, but of a fresh wound that widened
// where it turned, collected point from.
func (c *course) patience(v *verdict, i, from int, end tracker.Date) {
	s := c.settings
	start := c.first
	if from > 0 {
		start = c.points[c.work.index[from]].day
	}
	days, since := 0, int(end-start)
	for ; i >= 0 && c.points[i].day > end-longDays && c.points[i].day >= start; i-- {
		if !c.points[i].closed {
			days++
		}
	}
	v.label, v.reason = Unclear, NotShown
	enough := days >= s.NotClosingDays && since >= s.NotClosingSpan
	switch {
	case enough && v.rate < s.NotClosingMM:
		v.label, v.reason = NotClosing, LowRate
	case enough && v.high < s.ClosingMM:
		v.label, v.reason = NotClosing, LowCeiling
	case since >= s.UnclearDays:
		v.label, v.reason = NotClosing, UnclearTooLong
	}
}

// closedOver tells whether point i and the measured day before it both found no open skin.
func (c *course) closedOver(i int) bool {
	return i > 0 && c.points[i].clear && c.points[i].closed && c.points[i-1].clear && c.points[i-1].closed
}

// bandaged tells whether the wound was ever bandaged from its injury to a day.
func (c *course) bandaged(day tracker.Date) bool {
	for _, b := range c.site.Bandaged {
		if b >= c.site.Onset && b <= day {
			return true
		}
	}
	return false
}

// medianOf3 is the standard error of the logarithm of one median of three readings over another, in
// standard errors of one reading: sqrt(2 x 0.6) with neighbours that correlate by 0.4.
const medianOf3 = 1.1

// growth gives the median area of the last three collected days over that of the first three.
func (c *course) growth(n int) float64 {
	a := c.work.area[:n]
	return middle3(a[n-3], a[n-2], a[n-1]) / middle3(a[0], a[1], a[2])
}

// peak finds where a fresh wound turned: the largest running median of three of its radius up to day 21
// after the injury. It gives the collected point to start from: the one after the peak, since the peak
// of noisy readings is one that came out too large; 0 when the wound never grew. It also tells whether the
// wound has turned at all: the running median that ends with the last point is below the largest.
func (c *course) peak(n int, end tracker.Date) (from int, turned bool) {
	w := &c.work
	limit := float64(c.site.Onset + freshDays - end)
	at, best, largest, last := 0, 0.0, 0.0, 0.0
	for i := 1; i+1 < n; i++ {
		last = middle3(w.y[i-1], w.y[i], w.y[i+1])
		if last > best && w.x[i] <= limit {
			best, at = last, i
		}
		largest = math.Max(largest, last)
	}
	turned = last < largest
	if at <= 1 {
		return 0, turned
	}
	return at + 1, turned
}

func middle3(a, b, c float64) float64 {
	return math.Max(math.Min(a, b), math.Min(math.Max(a, b), c))
}
