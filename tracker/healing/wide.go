package healing

import "math"

// The wider interval. The exact Theil-Sen interval takes each day's measuring error as new. Real errors run
// together from one day to the next (stance, wet hair, who measures), and a wound that is looked at every
// day gets many chances to cross zero by accident. So closing and widening rest on a wider interval,
//
//	rate +- c x se,  se^2 = sigma^2 k / (0.95 Sxx) x (mean radius / 2)^2
//
// where sigma is the error of ln area, k is what a correlation of 0.4 between neighbouring readings does to
// the variance of a slope, 0.95 is the efficiency of Theil-Sen against least squares, and c is the boundary.
const (
	// assumedCorrelation is between one reading and the next. It is assumed, not estimated: twenty points
	// cannot tell 0.4 from 0, and to believe 0 costs the false alarms that this is about.
	assumedCorrelation = 0.4
	correlationReach   = 10 // readings apart at which it no longer matters: 0.4^10 is 0.0001
	// priorWeight is how many readings the expected error counts for beside the site's own residuals.
	priorWeight = 8
	efficiency  = 0.95
	// earlyDays is how long a series is young: while it fits the ordinary window, more readings mean more
	// knowledge; after that more looks only mean more chances.
	earlyDays = 20
)

// bound is how many standard errors a rate must lie from zero, by the days that the readings span. The
// numbers come from the simulation in the tests: the widening ones leave a wound that stands still (15 %
// error, correlation 0.4, radius 14 mm, daily) a chance of about 4 % ever to be called widening in six weeks.
type bound struct{ early, late float64 }

// at gives the boundary for a series whose first reading is age days old and whose stretch spans span days.
func (b bound) at(age, span float64) float64 {
	if age > earlyDays {
		return b.late
	}
	return b.early * math.Sqrt(earlyDays/span)
}

// spread works out the standard error of a slope of radius over days, in mm a day, and the error of ln area
// that the readings show: their residuals around the slope, winsorised so that one slip counts little,
// pooled with the expected variance as if that came from priorWeight further readings.
func (w *work) spread(x, y, expected []float64, slope float64) (se, sigma float64) {
	n := len(x)
	rest := w.rest[:n]
	for i := range y {
		rest[i] = y[i] - slope*x[i]
	}
	level := median(rest)
	meanX, meanFit, prior := 0.0, 0.0, 0.0
	off, size := w.off[:n], rest
	for i := range y {
		fit := math.Max(level+slope*x[i], y[i]/4)
		off[i] = 2 * (y[i] - fit) / fit
		size[i] = math.Abs(off[i])
		meanX += x[i]
		meanFit += fit
		prior += expected[i]
	}
	meanX, meanFit, prior = meanX/float64(n), meanFit/float64(n), prior/float64(n)
	most := 2.5 * math.Max(1.4826*median(size), 0.03)
	squares, sxx := 0.0, 0.0
	for i, e := range off {
		e = math.Min(math.Abs(e), most)
		squares += e * e
		off[i] = x[i] - meanX
		sxx += off[i] * off[i]
	}
	level1, slope1 := 1.0, 1.0
	together := 1.0
	for lag := 1; lag <= correlationReach && lag < n; lag++ {
		together *= assumedCorrelation
		cross := 0.0
		for i := lag; i < n; i++ {
			cross += off[i] * off[i-lag]
		}
		level1 += 2 * together * (1 - float64(lag)/float64(n))
		slope1 += 2 * together * cross / sxx
	}
	// Residuals around a fitted line are smaller than the errors, the more so the more these run together.
	free := math.Max(float64(n)-level1-slope1, 1)
	variance := (squares + priorWeight*prior) / (free + priorWeight)
	return meanFit / 2 * math.Sqrt(variance*slope1/(efficiency*sxx)), math.Sqrt(variance)
}
