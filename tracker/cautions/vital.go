package cautions

import (
	"math"
	"time"

	"leground/tracker"
)

// vitalsCount is how long a reading of a vital sign speaks for the horse (our own choice, no source).
const vitalsCount = 24 * time.Hour

// inTenths turns a threshold into whole tenths, in which temperatures and times are kept.
func inTenths(value float64) int { return int(math.Round(value * 10)) }

// newest gives the newest reading of one vital sign that still speaks for the horse. Each sign is
// looked for by itself: a later check that took only the pulse hides no temperature.
func (v view) newest(value func(tracker.Vitals) int) (int, tracker.Check, bool) {
	for _, c := range v.Vitals {
		if n := value(c.Vitals); n != 0 {
			return n, c, v.now.Sub(c.At) < vitalsCount
		}
	}
	return 0, tracker.Check{}, false
}

// temperature gives the newest temperature in tenths of a degree Celsius.
func (v view) temperature() (int, tracker.Check, bool) {
	return v.newest(func(vs tracker.Vitals) int { return vs.TemperatureTenthsC })
}
