package cautions

import (
	"fmt"
	"math/big"
	"strconv"
	"time"

	"leground/tracker"
)

// NotADiagnosis stands once at the foot of every slab, always in these words.
const NotADiagnosis = "This is not a diagnosis. Only your vet can say what it means."

// NothingMet is what stands where no rule was met in a slot, such as "morning". It never claims that
// all is well.
func NothingMet(slot string) string {
	switch slot {
	case "morning", "afternoon", "evening":
		return "Nothing in your vet's rules was met this " + slot + "."
	case "":
		return "Nothing in your vet's rules was met."
	}
	return "Nothing in your vet's rules was met at the " + slot + " round."
}

// NoData is the plain line about a site, by its tag, that nobody has looked at for some days. It is no
// caution.
func NoData(tag string, days int) string {
	return fmt.Sprintf("%s has not been looked at for %s. We cannot say how it is doing.", tag, tracker.Count(days, "day"))
}

// SayLines are what to say on the telephone, in three lines. where is the leg and place in words, such
// as "right hind, pastern, back", or empty for the whole horse. The caution's time is worded in its own
// location, which must be the yard's.
func SayLines(horse, where string, c tracker.Caution) []string {
	about := "It is about the whole horse."
	if where != "" {
		about = "It is about the " + where + "."
	}
	return []string{
		"My horse is " + horse + ". " + about,
		c.Words(),
		"The record was made on " + tracker.TimeName(c.Raised, c.Raised.Location()) + ". When can you come?",
	}
}

// where is a site in words: "right hind, pastern, back (RH 2)".
func (v view) where(s SiteFacts) string {
	text := tracker.LegName(s.Site.Leg, v.LegWords)
	if s.Place != "" {
		text += ", " + s.Place
	}
	return text + " (" + s.Site.Tag() + ")"
}

// isOn is the sentence that says where a site is.
func (v view) isOn(s SiteFacts) string { return "It is on the " + v.where(s) + "." }

// when is a moment in words, in the yard's zone: "Tue 14 May, 07:40".
func (v view) when(at time.Time) string { return tracker.TimeName(at, v.now.Location()) }

// amount writes tenths of a unit: 387 and "°C" are 38.7 °C.
func (v view) amount(tenths int, unit string) string {
	return tracker.FormatAmount(big.NewRat(int64(tenths), 10), 1, unit, v.Mark)
}

// plain writes a threshold as it stands in settings.
func plain(value float64) string { return strconv.FormatFloat(value, 'f', -1, 64) }
