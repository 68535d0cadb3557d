package healing

import (
	"math"

	"leground/tracker"
)

// chance95 is the normal quantile that leaves 2.5 % in each tail.
const chance95 = 1.96

// EllipseAreaCM2 gives the area in cm2 of an ellipse from its greatest length and the greatest width at
// right angles to it, in mm. Length times width alone overstates a perfect ellipse by 27 %.
func EllipseAreaCM2(lengthMM, widthMM float64) float64 { return math.Pi / 400 * lengthMM * widthMM }

// EllipsePerimeterMM gives the exact perimeter in mm of an ellipse from its two axes in mm, by the
// arithmetic-geometric mean for the complete elliptic integral (Abramowitz and Stegun 17.6, from memory).
func EllipsePerimeterMM(lengthMM, widthMM float64) float64 {
	long, short := math.Max(lengthMM, widthMM), math.Min(lengthMM, widthMM)
	if short <= 0 {
		return 2 * long // a slit, seen from both sides
	}
	a, g := 1.0, short/long
	sum, weight := (1-g*g)/2, 0.5
	for a-g > 1e-15 {
		c := (a - g) / 2
		a, g = (a+g)/2, math.Sqrt(a*g)
		weight *= 2
		sum += weight * c * c
	}
	return math.Pi / a * (1 - sum) * long
}

// RadiusMM gives the equivalent radius: that of a circle of the same area, in mm.
func RadiusMM(areaCM2 float64) float64 { return math.Sqrt(100 * areaCM2 / math.Pi) }

// GiveOrTakeCM2 gives the 95 % measuring error of an ellipse area, in cm2: area x 1.96 x
// sqrt((s/L)^2 + (s/W)^2), where s is the measuring spread in mm of one length. It is half the bar.
func GiveOrTakeCM2(lengthMM, widthMM, spreadMM float64) float64 {
	return chance95 * spreadMM * math.Pi / 400 * math.Hypot(lengthMM, widthMM)
}

// Reading is one size of one wound. A ruler gives LengthMM and WidthMM, an outline gives AreaCM2. Both
// lengths or the area at zero says that no open skin was seen. A reading that cannot be a size (no day,
// no method, a negative number, one over a million, one length of two at zero) is left out of every
// judgement; Valid tells.
type Reading struct {
	Day       tracker.Date
	Method    tracker.Method
	LengthMM  float64 // greatest length
	WidthMM   float64 // greatest width at right angles to it
	AreaCM2   float64 // of the traced outline, with Method Traced
	Measurer  string  // who measured; "" is nobody in particular
	ScabOn    bool
	BandageOn bool
	SkinSeen  bool // the skin itself was seen: without it nothing is closed over
}

// Valid tells whether the reading can be a size.
func (r Reading) Valid() bool {
	for _, x := range [...]float64{r.LengthMM, r.WidthMM, r.AreaCM2} {
		if !(x >= 0 && x <= largest) {
			return false
		}
	}
	if r.Method != tracker.Traced && (r.LengthMM > 0) != (r.WidthMM > 0) {
		return false
	}
	return r.Day > 0 && r.Method.String() != ""
}

// Area gives the area in cm2: of the outline where one was traced, else of the ellipse.
func (r Reading) Area() float64 {
	if r.Method == tracker.Traced {
		return r.AreaCM2
	}
	return EllipseAreaCM2(r.LengthMM, r.WidthMM)
}

// Axes gives the length and width in mm; an outline without them counts as a circle of its area.
func (r Reading) Axes() (lengthMM, widthMM float64) {
	if r.LengthMM > 0 && r.WidthMM > 0 {
		return r.LengthMM, r.WidthMM
	}
	d := 2 * RadiusMM(r.Area())
	return d, d
}

// PerimeterMM gives the perimeter in mm of the ellipse of the reading's axes.
func (r Reading) PerimeterMM() float64 { return EllipsePerimeterMM(r.Axes()) }

// closed tells whether no open skin was seen.
func (r Reading) closed() bool { return r.Area() < smallest }

// What a reading may be: sizes beyond largest (mm or cm2) are no sizes, areas under smallest (cm2) are none.
const largest, smallest = 1e6, 1e-9

// clear tells whether a closed reading may count towards closed over.
func (r Reading) clear() bool { return r.closed() && r.SkinSeen && !r.ScabOn && !r.BandageOn }
