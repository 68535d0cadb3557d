package healing

import "math"

// PercentAreaReduction gives 100 x (first - last) / first; it is negative for a wound that grew and NaN
// without a first area.
func PercentAreaReduction(firstCM2, lastCM2 float64) float64 {
	if firstCM2 <= 0 {
		return math.NaN()
	}
	return 100 * (firstCM2 - lastCM2) / firstCM2
}

// GilmanMM gives the linear advance of the edge in mm, positive when it moved inwards: change of area over
// mean perimeter. It does not depend on the size of the wound (Gilman TH, Wounds 1990;2:95, from memory).
// Areas are in cm2, perimeters in mm.
func GilmanMM(area1, perimeter1, area2, perimeter2 float64) float64 {
	if perimeter1+perimeter2 <= 0 {
		return math.NaN()
	}
	return 100 * (area1 - area2) / ((perimeter1 + perimeter2) / 2)
}

// LogRatePerWeek gives the natural logarithm of first over last area per week, positive when closing; NaN
// where an area is zero or no day has passed.
func LogRatePerWeek(firstCM2, lastCM2, days float64) float64 {
	if firstCM2 <= 0 || lastCM2 <= 0 || days <= 0 {
		return math.NaN()
	}
	return 7 * math.Log(firstCM2/lastCM2) / days
}

// HalfLifeDays gives the days in which the area halves, from a slope of its natural logarithm per day;
// NaN unless the slope is negative.
func HalfLifeDays(logSlopePerDay float64) float64 {
	if !(logSlopePerDay < 0) {
		return math.NaN()
	}
	return -math.Ln2 / logSlopePerDay
}
