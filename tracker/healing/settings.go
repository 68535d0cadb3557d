package healing

import (
	"fmt"
	"math"

	"leground/tracker"
)

// Settings are a yard's own limits, which a vet may change for a site. The zero Settings are no settings:
// start from DefaultSettings. The figures for false alarms in the package comment are of the defaults.
type Settings struct {
	ClosingMM      float64 // mm a day from which a wound that closes is closing, below it slow
	NotClosingMM   float64 // mm a day below which a wound is not closing
	WindowDays     int     // calendar days, the judged one included, that the rate is worked out from
	FewestDays     int     // measured days without which it is too early to say
	FewestSpan     int     // days from the first to the last of them
	NotClosingDays int     // measured days without which nothing is called not closing
	NotClosingSpan int     // days since the site's first reading before it is
	UnclearDays    int     // days since the site's first reading from which unclear counts as not closing
	SpreadMM       float64 // measuring spread of one length, where Spreads has none

	// Spreads are the calibrated measuring spreads, by method and measurer, from Calibrate. May be nil.
	Spreads map[SpreadKey]float64
}

// DefaultSettings gives the limits a yard starts with. 0.10 and 0.05 mm a day are a judgement: between
// published good rates (0.15 to 0.34 of experimental horse wounds, 0.23 of human ones) and poor (0.03).
func DefaultSettings() Settings {
	return Settings{ClosingMM: 0.10, NotClosingMM: 0.05, WindowDays: 21, FewestDays: 5, FewestSpan: 7,
		NotClosingDays: 8, NotClosingSpan: 14, UnclearDays: 28, SpreadMM: 2}
}

// Check gives an error that names the first setting out of its range.
func (s Settings) Check() error {
	for _, f := range []struct {
		name             string
		value, low, high float64
		unit             string
	}{
		{"closing from", s.ClosingMM, 0.01, 1, "mm a day"},
		{"not closing below", s.NotClosingMM, 0.01, s.ClosingMM, "mm a day"},
		{"window", float64(s.WindowDays), 14, longDays, "days"},
		{"fewest measured days", float64(s.FewestDays), 5, 10, "days"},
		{"fewest days of span", float64(s.FewestSpan), 7, 13, "days"},
		{"measured days for not closing", float64(s.NotClosingDays), float64(s.FewestDays), 20, "days"},
		{"days for not closing", float64(s.NotClosingSpan), 7, 28, "days"},
		{"days for unclear", float64(s.UnclearDays), 14, 56, "days"},
		{"measuring spread", s.SpreadMM, 0.2, 10, "mm"},
	} {
		if !(f.value >= f.low && f.value <= f.high) {
			return fmt.Errorf("%s is %v: choose between %v and %v %s", f.name, f.value, f.low, f.high, f.unit)
		}
	}
	return nil
}

// Spread gives the measuring spread in mm of one length: the measurer's own where it was calibrated, else
// everybody's with that method, else SpreadMM.
func (s Settings) Spread(method tracker.Method, measurer string) float64 {
	if s.Spreads != nil {
		if mm, ok := s.Spreads[SpreadKey{method, measurer}]; ok {
			return mm
		}
		if mm, ok := s.Spreads[SpreadKey{method, ""}]; ok {
			return mm
		}
	}
	return s.SpreadMM
}

// GiveOrTake gives the 95 % measuring error of the reading's area, in cm2.
func (s Settings) GiveOrTake(r Reading) float64 {
	length, width := r.Axes()
	return GiveOrTakeCM2(length, width, s.Spread(r.Method, r.Measurer))
}

const (
	// ordinaryError is the relative error of area to expect of ordinary hands before the readings of the
	// site have shown their own: published repeatability is 5 to 7 % with care, 15 to 20 % without.
	ordinaryError = 0.15
	// ordinarySpread is the spread in mm at which ordinaryError is expected; a yard that was calibrated
	// to less gets less in proportion.
	ordinarySpread = 2
)

// expectedVariance gives the variance of ln area to expect of a reading before looking at its neighbours.
// Blind second readings see neither stance, wet hair nor the other hand of the next day, so the yard's
// spread alone would be too hopeful for a large wound.
func (s Settings) expectedVariance(r Reading) float64 {
	mm := s.Spread(r.Method, r.Measurer)
	length, width := r.Axes()
	ordinary := ordinaryError * math.Min(1, mm/ordinarySpread)
	spread := math.Max(ordinary*ordinary, mm*mm*(1/(length*length)+1/(width*width)))
	return math.Min(spread, 1) // below a few mm the formula says no more than "anything"
}
