package healing

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Line is an ordinary least squares line y = Intercept + Slope x with its standard errors. Fitted to the
// logarithm of area it is the exponential model; exp of the line is a median, not a mean. It is not
// robust, so it is a cross-check and the drawn band, and makes no label.
type Line struct {
	Slope, Intercept     float64
	SlopeSE, InterceptSE float64
	Residual             float64 // standard deviation of the residuals
	n                    int
	meanX, sxx           float64
}

// FitLine fits the line. With fewer than three points, or all x alike, its fields are NaN.
func FitLine(x, y []float64) Line {
	l := Line{n: len(x)}
	nan := math.NaN()
	meanY := 0.0
	for i := range x {
		l.meanX += x[i] / float64(l.n)
		meanY += y[i] / float64(l.n)
	}
	sxy := 0.0
	for i := range x {
		l.sxx += (x[i] - l.meanX) * (x[i] - l.meanX)
		sxy += (x[i] - l.meanX) * (y[i] - meanY)
	}
	if l.n < 3 || l.sxx == 0 {
		return Line{nan, nan, nan, nan, nan, l.n, nan, nan}
	}
	l.Slope = sxy / l.sxx
	l.Intercept = meanY - l.Slope*l.meanX
	rss := 0.0
	for i := range x {
		e := y[i] - l.At(x[i])
		rss += e * e
	}
	l.Residual = math.Sqrt(rss / float64(l.n-2))
	l.SlopeSE = l.Residual / math.Sqrt(l.sxx)
	l.InterceptSE = l.Residual * math.Sqrt(1/float64(l.n)+l.meanX*l.meanX/l.sxx)
	return l
}

// At gives the line's height at x.
func (l Line) At(x float64) float64 { return l.Intercept + l.Slope*x }

// SlopeInterval gives the two-sided interval of the slope at a level such as 0.95, by Student's t.
func (l Line) SlopeInterval(level float64) (low, high float64) {
	half := l.quantile(level) * l.SlopeSE
	return l.Slope - half, l.Slope + half
}

// Band gives the two-sided prediction interval of one further reading at x.
func (l Line) Band(x, level float64) (low, high float64) {
	half := l.quantile(level) * l.Residual * math.Sqrt(1+1/float64(l.n)+(x-l.meanX)*(x-l.meanX)/l.sxx)
	return l.At(x) - half, l.At(x) + half
}

func (l Line) quantile(level float64) float64 {
	if l.n < 3 {
		return math.NaN()
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(l.n - 2)}.Quantile((1 + level) / 2)
}
