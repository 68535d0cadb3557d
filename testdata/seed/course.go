package seed

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"

	"leground/tracker"
)

const (
	firstSeed = 20260514 // any number: another one draws other reading errors
	// lengthError is the relative standard deviation of one reading of a length or a width, made up so that
	// an area is off by 8 in 100.
	lengthError = 0.055
	// signError is how often a sign is scored one step off.
	signError = 0.05
)

// drawsOf gives the source of errors of one look alone, so that a change to one line of the text leaves
// the numbers of all other looks as they were.
func drawsOf(horse string, s *site, day, round int) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprint(h, horse, s.tag(), day, round)
	return rand.New(rand.NewPCG(firstSeed, h.Sum64()))
}

// trueSize gives the length and width on a day without reading errors, in mm. The edge moves in alike all
// round, so that the equivalent radius sqrt(length x width)/2 falls by the rate and the shape stays.
func (s *site) trueSize(day int) (length, width float64) {
	start := math.Sqrt(s.length*s.width) / 2
	radius := start
	for d := s.found + 1; d <= day; d++ {
		rate := 0.0
		for _, e := range s.edges {
			if e.from <= d {
				rate = e.rate
			}
		}
		radius -= rate
	}
	scale := max(0, radius) / start
	return s.length * scale, s.width * scale
}

// read gives what somebody reads off the ruler on a day, in whole mm, the longest way first.
func (s *site) read(day int, draws *rand.Rand) (length, width int) {
	l, w := s.trueSize(day)
	off := func(mm float64) int {
		return max(1, int(math.Round(mm*(1+lengthError*draws.NormFloat64()))))
	}
	length, width = off(l), off(w)
	return max(length, width), min(length, width)
}

// score gives the signs that somebody sees on a day: now and then one step off, but never on its own at
// the worst step.
func (s *site) score(day int, draws *rand.Rand) tracker.Signs {
	var stand tracker.Signs
	for _, from := range s.signs {
		if from.from <= day {
			stand = from.signs
		}
	}
	out := tracker.Signs{}
	for _, sign := range append(append(tracker.ActiveSigns(), tracker.ChronicSigns()...), tracker.Thrush) {
		level, judged := stand[sign]
		if !judged {
			continue
		}
		if chance := draws.Float64(); chance < signError/2 && level > 0 {
			level--
		} else if chance > 1-signError/2 && level < 2 {
			level++
		}
		out[sign] = level
	}
	if s.chronic != nil && (day-s.found)%7 == 0 {
		for sign, level := range s.chronic {
			out[sign] = level
		}
	}
	return out
}

// bed gives the bed level on a day; 0 when the text says nothing of it.
func (s *site) bed(day int) tracker.Bed {
	var bed tracker.Bed
	for _, b := range s.beds {
		if b.from <= day {
			bed = b.bed
		}
	}
	return bed
}

// sized tells whether a size is taken at a day's first round: of a wound daily, of a patch weekly.
func (s *site) sized(day int) bool { return s.kind == tracker.Wound || (day-s.found)%7 == 0 }
