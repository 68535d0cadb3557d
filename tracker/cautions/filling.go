package cautions

import (
	"fmt"
	"slices"

	"leground/tracker"
)

// before gives the lowest value that a sign had in the day before the newest leg line or, when nobody
// looked that day, its last known value.
func (l LegFacts) before(sign tracker.Sign) (value int, day tracker.Date, known bool) {
	for _, c := range l.Earlier {
		n, judged := c.Signs[sign]
		if !judged {
			continue
		}
		if known && c.Day < l.Line.Day-1 {
			break
		}
		if !known || n < value {
			value, day, known = n, c.Day, true
		}
	}
	return value, day, known
}

// suddenly tells whether a leg filled fast: by two steps, or up to the knee or hock. A leg found hot and
// full that nobody looked at before counts: nobody can say that it is old.
func (l LegFacts) suddenly(r Rule) bool {
	filling, was, known := 0, 0, false
	filling = l.Line.Signs[tracker.Filling]
	was, _, known = l.before(tracker.Filling)
	full := filling >= int(r.number("full"))
	if !known {
		return full && l.Line.Signs[tracker.Heat] > 0
	}
	return filling-was >= int(r.number("rise")) || full && was < filling
}

func suddenSwelling(v view, r Rule) []Fired {
	sudden := v.suddenLegs(r)
	var all []Fired
	for _, l := range sudden {
		hot := l.Line.Signs[tracker.Heat] > 0
		if len(sudden) > 1 && !hot {
			continue // several legs that fill together without heat: see fills-at-rest
		}
		filling := l.Line.Signs[tracker.Filling]
		seen := v.fillingWords(l)
		numbers := map[string]string{"filling": fmt.Sprint(filling)}
		if was, day, known := l.before(tracker.Filling); known {
			seen += wasWords(was, day)
			numbers["filling before"] = fmt.Sprint(was)
		} else {
			seen += " It is hot, and nobody looked at it before."
		}
		all = append(all, l.legFired(seen, numbers))
	}
	return all
}

func (v view) fillingWords(l LegFacts) string {
	return fmt.Sprintf("Filling of the %s on %s: %s.", tracker.LegName(l.Leg, v.LegWords), v.when(l.Line.At),
		tracker.SignStep(tracker.Filling, l.Line.Signs[tracker.Filling]))
}

func wasWords(was int, day tracker.Date) string {
	return fmt.Sprintf(" Before, on %s: %s.", tracker.DayName(day), tracker.SignStep(tracker.Filling, was))
}

func (v view) suddenLegs(r Rule) []LegFacts {
	return slices.DeleteFunc(slices.Clone(v.Legs), func(l LegFacts) bool { return !l.suddenly(r) })
}

// swellingFever is about the whole horse: whichever leg it is, there is one telephone call.
func swellingFever(v view, r Rule) []Fired {
	tenths, c, ok := v.temperature()
	if !ok || tenths <= inTenths(r.number("fever")) {
		return nil
	}
	var swollen []string
	for _, leg := range tracker.Legs() {
		if v.swollen(leg) {
			swollen = append(swollen, tracker.LegName(leg, v.LegWords))
		}
	}
	if len(swollen) == 0 {
		return nil
	}
	temperature := v.amount(tenths, "°C")
	seen := fmt.Sprintf("Temperature %s on %s. Swollen: %s.", temperature, v.when(c.At), tracker.List(swollen))
	return []Fired{Fired{Seen: seen, Numbers: map[string]string{"temperature": temperature}}.from(c)}
}

func (v view) swollen(leg tracker.Leg) bool {
	line := v.leg(leg).Line
	if line.Signs[tracker.Filling] > 0 || line.Has(tracker.HotSwelling) {
		return true
	}
	return slices.ContainsFunc(v.Sites, func(s SiteFacts) bool {
		return s.Site.Leg == leg && (s.Check.Signs[tracker.Swelling] > 0 || s.Check.Has(tracker.HotSwelling))
	})
}

// legFills leaves out a leg that fills at rest together with another and clears with walking, when it is
// not hot: that is stocking up.
func legFills(v view, _ Rule) []Fired {
	filled := 0
	for _, l := range v.Legs {
		filled += min(1, l.Line.Signs[tracker.Filling])
	}
	var all []Fired
	for _, l := range v.Legs {
		filling := l.Line.Signs[tracker.Filling]
		was, day, known := l.before(tracker.Filling)
		stocking := hasFlag(l.Line, tracker.FillsAtRest) && filled > 1 && l.Line.Signs[tracker.Heat] == 0
		sore := slices.ContainsFunc(v.Sites, func(s SiteFacts) bool { return s.Site.Leg == l.Leg && s.Site.Open() })
		if !known || filling <= was || stocking || !sore {
			continue
		}
		all = append(all, l.legFired(v.fillingWords(l)+wasWords(was, day), map[string]string{"filling": fmt.Sprint(filling), "filling before": fmt.Sprint(was)}))
	}
	return all
}

// fillsAtRest is about the whole horse. Several legs that filled together count even when nobody has
// walked the horse yet.
func fillsAtRest(v view, _ Rule) []Fired {
	sudden, _ := RuleByID("sudden-swelling")
	legs := v.suddenLegs(sudden)
	together := len(legs) > 1
	if !together {
		legs = nil
	}
	for _, l := range v.Legs {
		if hasFlag(l.Line, tracker.FillsAtRest) && !slices.ContainsFunc(legs, func(have LegFacts) bool { return have.Leg == l.Leg }) {
			legs = append(legs, l)
		}
	}
	if len(legs) == 0 {
		return nil
	}
	slices.SortFunc(legs, func(a, b LegFacts) int { return int(a.Leg - b.Leg) })
	var names []string
	newest := legs[0].Line
	for _, l := range legs {
		names = append(names, tracker.LegName(l.Leg, v.LegWords))
		if l.Line.At.After(newest.At) {
			newest = l.Line
		}
	}
	seen := fmt.Sprintf("Fills at rest on %s: %s.", v.when(newest.At), tracker.List(names))
	if together {
		seen = fmt.Sprintf("Several legs filled together on %s: %s.", v.when(newest.At), tracker.List(names))
	}
	return []Fired{Fired{Seen: seen, Numbers: map[string]string{"legs": fmt.Sprint(len(legs))}}.from(newest)}
}
