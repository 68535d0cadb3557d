package cautions

import (
	"fmt"
	"math"
	"strings"
	"time"

	"leground/tracker"
)

// vitalsCount is how long a reading of a vital sign speaks for the horse (our own choice, no source).
const vitalsCount = 24 * time.Hour

const (
	srcVitals  = "When to call the vet (owner page of a veterinary practice, undated); Normal equine values (owner page, undated)"
	srcFever   = "Michigan State University, Equine strangles: managing an outbreak (undated)"
	srcPulse   = "Equine vital signs (4-H page, undated)"
	askedVital = "Published advice names this as a reason to call the vet."
)

func vitalRules() []entry {
	const now, today = tracker.RingNow, tracker.RingToday
	rule := func(id string, level tracker.Level, title, source, next string, numbers ...Threshold) Rule {
		return Rule{ID: id, Level: level, Title: title, Why: askedVital, Source: source, Grade: Published,
			Next: next, Thresholds: numbers, Again: nextDay}
	}
	second := Threshold{"second", "minutes without a second reading", 60, "minutes", 60, 60}
	return []entry{
		{rule("temperature-now", now, "Temperature far too high", srcVitals, "Take it again in an hour and write it down.",
			fixed("above", "above", 39.2, "°C")).worsens("temperature", 0.2), temperatureNow},
		{rule("temperature-low", now, "Temperature too low", srcVitals, "Take it again in an hour and write it down.",
			fixed("below", "below", 36.7, "°C")).worsens("temperature", -0.2), temperatureLow},
		{rule("temperature-today", today, "Temperature raised", srcFever,
			"If it goes above 39.2 °C, or a leg swells, ring now.",
			fixed("above", "above", 38.6, "°C"), fixed("most", "up to", 39.2, "°C")).worsens("temperature", 0.2), temperatureToday},
		{rule("pulse-now", now, "Heart rate high at rest", srcVitals, "Keep the horse quiet until the vet answers.",
			fixed("above", "above", 60, "beats a minute")).worsens("pulse", 4), pulseNow},
		{rule("pulse-today", today, "Heart rate still raised at rest", srcPulse, "If it goes above 60 a minute, ring now.",
			fixed("from", "from", 45, "beats a minute"), fixed("most", "up to", 60, "beats a minute"),
			fixed("repeat", "take it again after", 30, "minutes"), second).worsens("pulse", 4), pulseToday},
		{rule("refill-now", now, "Gums very slow to turn pink again", srcVitals, "Keep the horse quiet until the vet answers.",
			fixed("above", "above", 3, "seconds")).worsens("gum refill", 0.5), refill},
		{rule("refill-today", today, "Gums slow to turn pink again", srcVitals, "If it takes more than 3 seconds, ring now.",
			fixed("above", "above", 2, "seconds"), fixed("most", "up to", 3, "seconds")).worsens("gum refill", 0.5), refill},
		{rule("gums", now, "Gums not pink", srcVitals, "Keep the horse quiet until the vet answers."), gums},
		{rule("no-gut-sounds", now, "No gut sounds", srcVitals, "Take feed away until the vet has spoken to you."), vitalTick(
			"no gut sounds were heard", func(vs tracker.Vitals) bool { return vs.NoGutSounds })},
		{rule("laboured-breathing", now, "Laboured breathing", srcVitals, "Keep the horse quiet until the vet answers."), vitalTick(
			"laboured breathing", func(vs tracker.Vitals) bool { return vs.LabouredBreathing })},
	}
}

// worsens names the change in the rule's number that is worse.
func (r Rule) worsens(number string, by float64) Rule {
	r.Worse = []Worse{{number, by}}
	return r
}

// fixed is a threshold that nobody may set.
func fixed(name, words string, value float64, unit string) Threshold {
	return Threshold{name, words, value, unit, value, value}
}

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

func pulseOf(vs tracker.Vitals) int { return vs.PulsePerMinute }

// reading is a Fired about one measured value against its limit.
func (v view) reading(c tracker.Check, what, value, limit string) []Fired {
	f := Fired{Seen: fmt.Sprintf("%s %s on %s. The limit is %s.", what, value, v.when(c.At), limit),
		Numbers: map[string]string{strings.ToLower(what): value, "limit": limit}}
	return []Fired{f.from(c)}
}

func temperatureNow(v view, r Rule) []Fired {
	tenths, c, ok := v.temperature()
	above := inTenths(r.number("above"))
	if !ok || tenths <= above {
		return nil
	}
	return v.reading(c, "Temperature", v.amount(tenths, "°C"), v.amount(above, "°C"))
}

// temperatureLow is a rule of its own: while somebody is about to ring about a cold horse, a hot one is news.
func temperatureLow(v view, r Rule) []Fired {
	tenths, c, ok := v.temperature()
	below := inTenths(r.number("below"))
	if !ok || tenths >= below {
		return nil
	}
	all := v.reading(c, "Temperature", v.amount(tenths, "°C"), v.amount(below, "°C"))
	all[0].Seen += " It is below the limit."
	return all
}

func temperatureToday(v view, r Rule) []Fired {
	tenths, c, ok := v.temperature()
	above := inTenths(r.number("above"))
	if !ok || tenths <= above || tenths > inTenths(r.number("most")) {
		return nil
	}
	return v.reading(c, "Temperature", v.amount(tenths, "°C"), v.amount(above, "°C"))
}

func pulseNow(v view, r Rule) []Fired {
	pulse, c, ok := v.newest(pulseOf)
	if !ok || float64(pulse) <= r.number("above") {
		return nil
	}
	return v.reading(c, "Pulse", beats(pulse), beats(int(r.number("above"))))
}

func beats(n int) string { return fmt.Sprintf("%d a minute", n) }

// raisedPulse finds the run of raised readings up to the newest, with no reading below the limit and no
// gap of a day between them. ok is false when the newest is not raised, or no longer speaks for the horse.
func (v view) raisedPulse(r Rule) (first, last tracker.Check, ok bool) {
	for _, c := range v.Vitals {
		pulse := float64(c.Vitals.PulsePerMinute)
		switch {
		case pulse == 0:
			continue
		case pulse < r.number("from"):
			return first, last, ok
		case !ok && (pulse > r.number("most") || v.now.Sub(c.At) >= vitalsCount):
			return first, last, false
		case !ok:
			first, last, ok = c, c, true
		case first.At.Sub(c.At) >= vitalsCount:
			return first, last, true
		default:
			first = c
		}
	}
	return first, last, ok
}

// pulseToday fires when a raised pulse is still so half an hour after it was first found, or nobody took
// it again within the hour.
func pulseToday(v view, r Rule) []Fired {
	first, last, ok := v.raisedPulse(r)
	if !ok {
		return nil
	}
	seen := fmt.Sprintf("Pulse %s on %s.", beats(last.Vitals.PulsePerMinute), v.when(last.At))
	numbers := map[string]string{"pulse": beats(last.Vitals.PulsePerMinute), "limit": beats(int(r.number("from")))}
	apart := last.At.Sub(first.At)
	switch {
	case apart >= time.Duration(r.number("repeat"))*time.Minute:
		seen += fmt.Sprintf(" It was %s first, on %s.", beats(first.Vitals.PulsePerMinute), v.when(first.At))
		numbers["first pulse"] = beats(first.Vitals.PulsePerMinute)
	case v.now.Sub(first.At) >= time.Duration(r.number("second"))*time.Minute:
		seen += fmt.Sprintf(" No later reading within %d minutes shows that it came down.", int(r.number("second")))
	default:
		return nil
	}
	return []Fired{Fired{Seen: seen, Numbers: numbers}.from(last)}
}

// refill serves both rules about the time the gums take to turn pink again: the lower one has a "most".
func refill(v view, r Rule) []Fired {
	tenths, c, ok := v.newest(func(vs tracker.Vitals) int { return vs.RefillTenthsSecond })
	above := inTenths(r.number("above"))
	if !ok || tenths <= above {
		return nil
	}
	if r.ID == "refill-today" && tenths > inTenths(r.number("most")) {
		return nil
	}
	return v.reading(c, "Gum refill", v.amount(tenths, "seconds"), v.amount(above, "seconds"))
}

// gums fires for any colour but pink: a word that is not known is not taken for a good one.
func gums(v view, _ Rule) []Fired {
	for _, c := range v.Vitals {
		colour := strings.ToLower(strings.TrimSpace(c.Vitals.Gums))
		if colour == "" {
			continue
		}
		if colour == "pink" || v.now.Sub(c.At) >= vitalsCount {
			return nil
		}
		seen := fmt.Sprintf("Gums were %s on %s, not pink.", colour, v.when(c.At))
		return []Fired{Fired{Seen: seen, Numbers: map[string]string{"gums": colour}}.from(c)}
	}
	return nil
}

// vitalTick fires for a sign that is ticked. A later look that did not tick it may not have looked for
// it, so each look of the day counts.
func vitalTick(what string, ticked func(tracker.Vitals) bool) func(view, Rule) []Fired {
	return func(v view, _ Rule) []Fired {
		var all []Fired
		for _, c := range v.Vitals {
			if ticked(c.Vitals) && v.now.Sub(c.At) < vitalsCount {
				all = append(all, Fired{Seen: v.tickedWords(c, what)}.from(c))
			}
		}
		return all
	}
}
