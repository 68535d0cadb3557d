package cautions

import (
	"fmt"
	"slices"

	"leground/tracker"
)

const (
	srcStocking = "Limb swelling, The Horse, November 2019"
	srcCall     = "Bonner, First response, EQUUS, March 2017"
	srcLaminae  = "Laminitis, EQUUS, April 2017"
	srcEquine   = "Equine Clinical Medicine, Surgery and Reproduction, 2nd edition"
	srcBandage  = "Performance Equine Vets, bandaging page (undated); Sussex Equine Hospital, Bandaging (undated)"
	srcThrush   = "O'Grady, Equine thrush: a closer look, 2018"
	srcLymph    = "Affolter, Draft horse lymphedema (book chapter)"
)

func legRules() []entry {
	const now, today, visit = tracker.RingNow, tracker.RingToday, tracker.NextVisit
	return []entry{
		{Rule{ID: "sudden-swelling", Level: now, Title: "One leg suddenly swollen", Source: srcCellulit, Grade: Published,
			Why: "Published advice: contact the vet at once when one leg suddenly swells.", Again: nextDay,
			Next: "Take the temperature while you wait.",
			Thresholds: []Threshold{fixed("rise", "rise of filling", 2, "steps"), fixed("full", "filling to the knee or hock", 3, "steps"),
				fixed("days", "within", 1, "day")}}, suddenSwelling},
		{Rule{ID: "swelling-fever", Level: now, Title: "Any swelling with fever", Source: srcCellulit, Grade: Published,
			Why: "Published advice: a swollen leg with fever is a reason to ring at once.", Again: nextDay,
			Next: "Do not make the horse walk.", Thresholds: []Threshold{feverAbove()}}, swellingFever},
		{Rule{ID: "foot-sore", Level: now, Title: "Foot-sore stance, warm feet or bounding pulses", Source: srcLaminae, Grade: Published,
			Why: "Published advice treats these signs together as an emergency.", Again: nextDay,
			Next: "Do not make the horse walk.", Thresholds: []Threshold{fixed("legs", "legs with a bounding pulse", 2, "legs")}}, footSore},
		{Rule{ID: "new-lameness", Level: today, Title: "Newly unsure or lame at the trot", Source: srcWound, Grade: Published,
			Why: "Published advice: ring about new lameness.", Again: nextDay,
			Next: "If the horse is lame at the walk or will not stand on it, ring now."}, newLameness},
		{Rule{ID: "leg-fills", Level: today, Title: "A leg with a sore starts to fill", Source: srcCall, Grade: Published,
			Why: "Published advice on sore pasterns: call when the leg starts to swell.", Again: nextDay,
			Next: "If it is hot and painful, spreads fast or comes with fever, ring now."}, legFills},
		{Rule{ID: "bandage-rub", Level: today, Title: "Bandage slipped or tight, with swelling or a new sore", Source: srcBandage, Grade: Published,
			Why: "Published advice: a slipped or tight bandage can hurt skin and tendon.", Again: nextDay,
			Next: "Take the bandage off. If the horse is lame, ring now."}, flagged(tracker.BandageRub, "bandage slipped or tight, with swelling or a new sore")},
		{Rule{ID: "frog-growth", Level: today, Title: "Frog tissue that grows", Source: srcThrush, Grade: Published,
			Why: "Published advice: thrush shrinks the frog, so a growing frog needs the vet.", Again: nextWeek,
			Next: "Show it to the farrier as well."}, flagged(tracker.FrogGrowth, "growing frog tissue")},
		{Rule{ID: "thrush-3", Level: today, Title: "Thrush with pain, blood, lameness or a split into the heels", Source: srcThrush, Grade: Published,
			Why: "Published advice: thrush that reaches live tissue is severe.", Again: nextWeek,
			Next:       "Tell the farrier as well. If the horse is lame at the walk, ring now.",
			Thresholds: []Threshold{fixed("grade", "grade of", 3, "steps")}}, thrush(3, 3)},
		{Rule{ID: "thrush-1-2", Level: visit, Title: "Thrush", Grade: OwnChoice, Again: nextMonth, Weaken: true,
			Why: "Our own choice, with no published grade behind it.", Next: "If there is pain or blood, ring today.",
			Thresholds: []Threshold{{"grade", "grade from", 1, "steps", 1, 2}}}, thrush(1, 2)},
		{Rule{ID: "itch", Level: visit, Title: "Itch: rubbing or stamping", Source: srcEquine, Grade: Published, Again: nextWeek, Weaken: true,
			Why:  "A veterinary textbook: itchy feathered legs may have mites.",
			Next: "Keep the horse's kit apart. If it rubs itself raw, ring today."}, flagged(tracker.Itch, "rubbing or stamping")},
		{Rule{ID: "fills-at-rest", Level: visit, Title: "Legs fill at rest and clear with walking", Source: srcStocking, Grade: Published,
			Again: nextMonth, Weaken: true, Why: "Published advice: filling of several legs that clears with walking is no emergency.",
			Next: "If it does not clear with walking, or one leg fills alone, ring today."}, fillsAtRest},
		{Rule{ID: "unsure-walk", Level: visit, Title: "Still unsure, or lame only at the trot", Grade: OwnChoice, Again: nextWeek, Weaken: true,
			Why: "Our own choice, with no source.", Next: "If it gets worse, ring today. If the horse is lame at the walk, ring now."}, unsureWalk},
		{Rule{ID: "girth", Level: visit, Title: "A leg slowly gets thicker", Source: srcLymph, Grade: Published, Again: nextMonth, Weaken: true,
			Why:        "Published: slow thickening is a sign of a lasting lymph disease of heavy horses.",
			Next:       "If a leg thickens within days, ring today.",
			Thresholds: []Threshold{{"rise", "gain in girth", 10, "mm", 5, 50}, {"days", "over at least", 28, "days", 14, 90}}}, girth},
	}
}

// legFired is a Fired about a leg, from its line.
func (l LegFacts) legFired(seen string, numbers map[string]string) Fired {
	return Fired{Leg: l.Leg, Seen: seen, Numbers: numbers}.from(l.Line)
}

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
		seen := fmt.Sprintf("Filling of the %s: %s on %s.", tracker.LegName(l.Leg, v.LegWords), tracker.SignStep(tracker.Filling, filling), v.when(l.Line.At))
		numbers := map[string]string{"filling": fmt.Sprint(filling)}
		if was, day, known := l.before(tracker.Filling); known {
			seen += fmt.Sprintf(" It was %s on %s.", tracker.SignStep(tracker.Filling, was), tracker.DayName(day))
			numbers["filling before"] = fmt.Sprint(was)
		} else {
			seen += " It is hot, and nobody looked at it before."
		}
		all = append(all, l.legFired(seen, numbers))
	}
	return all
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
	seen := fmt.Sprintf("Temperature %s on %s. Swollen: %s.", temperature, v.when(c.At), listed(swollen))
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

// footSore fires for the stance by itself, and for bounding pulses in two legs or more that are warm or
// step unsurely.
func footSore(v view, r Rule) []Fired {
	if v.Body.FootSoreLook {
		return []Fired{Fired{Seen: "The horse leans back, shifts weight from foot to foot or will not walk on."}.from(v.Body.Check)}
	}
	var bounding []string
	var newest tracker.Check
	warm, unsure := 0, false
	for _, l := range v.Legs {
		if l.Line.Signs[tracker.Pulse] < 3 {
			continue
		}
		bounding = append(bounding, tracker.LegName(l.Leg, v.LegWords))
		warm += min(1, l.Line.Signs[tracker.Heat])
		unsure = unsure || l.Line.Signs[tracker.Walk] > 0
		if l.Line.At.After(newest.At) {
			newest = l.Line
		}
	}
	legs := int(r.number("legs"))
	if len(bounding) < legs || warm < legs && !unsure {
		return nil
	}
	seen := fmt.Sprintf("Bounding pulses on %s: %s.", v.when(newest.At), listed(bounding))
	if warm > 0 {
		seen += fmt.Sprintf(" Warm: %s of them.", count(warm, "leg"))
	}
	return []Fired{Fired{Seen: seen, Numbers: map[string]string{"bounding pulses": fmt.Sprint(len(bounding))}}.from(newest)}
}

// trotLame tells whether a leg line shows lameness short of the walk, and whether that is new.
func (l LegFacts) trotLame() (lame, isNew bool) {
	walk := l.Line.Signs[tracker.Walk]
	was, known := 0, false
	for _, c := range l.Earlier {
		if was, known = c.Signs[tracker.Walk]; known {
			break
		}
	}
	return walk > 0 && walk < 4, !known || walk > was
}

func (v view) walkWords(l LegFacts) string {
	return fmt.Sprintf("Unsure, or lame only at the trot, on the %s: %s.", tracker.LegName(l.Leg, v.LegWords), v.when(l.Line.At))
}

// newLameness leaves a leg with an open wound to the rule wound-lame, which is for now.
func newLameness(v view, _ Rule) []Fired {
	return v.eachLeg(func(l LegFacts) bool {
		lame, isNew := l.trotLame()
		return lame && isNew && !v.woundOn(l.Leg)
	}, v.walkWords)
}

func unsureWalk(v view, _ Rule) []Fired {
	return v.eachLeg(func(l LegFacts) bool {
		lame, isNew := l.trotLame()
		return lame && !isNew
	}, func(l LegFacts) string { return v.walkWords(l) + " It was so at the look before." })
}

func (v view) woundOn(leg tracker.Leg) bool {
	return slices.ContainsFunc(v.wounds(), func(s SiteFacts) bool { return s.Site.Leg == leg })
}

func (v view) eachLeg(met func(LegFacts) bool, words func(LegFacts) string) []Fired {
	var all []Fired
	for _, l := range v.Legs {
		if met(l) {
			all = append(all, l.legFired(words(l), nil))
		}
	}
	return all
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
		seen := fmt.Sprintf("The %s fills: %s on %s. It was %s on %s.", tracker.LegName(l.Leg, v.LegWords),
			tracker.SignStep(tracker.Filling, filling), v.when(l.Line.At), tracker.SignStep(tracker.Filling, was), tracker.DayName(day))
		all = append(all, l.legFired(seen, map[string]string{"filling": fmt.Sprint(filling), "filling before": fmt.Sprint(was)}))
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
	seen := fmt.Sprintf("Fills at rest on %s: %s.", v.when(newest.At), listed(names))
	if together {
		seen = fmt.Sprintf("Several legs filled together on %s: %s.", v.when(newest.At), listed(names))
	}
	return []Fired{Fired{Seen: seen, Numbers: map[string]string{"legs": fmt.Sprint(len(legs))}}.from(newest)}
}

// flagged fires for a flag, on leg lines, looks at feet and site cards.
func flagged(flag tracker.Flag, what string) func(view, Rule) []Fired {
	return func(v view, _ Rule) []Fired {
		var all []Fired
		for _, l := range v.Legs {
			for _, c := range []tracker.Check{l.Line, l.Foot} {
				if hasFlag(c, flag) {
					seen := v.tickedWords(c, what+", "+tracker.LegName(l.Leg, v.LegWords))
					all = append(all, Fired{Leg: l.Leg, Seen: seen}.from(c))
				}
			}
		}
		for _, s := range v.Sites {
			if hasFlag(s.Check, flag) {
				all = append(all, s.fired(v.tickedWords(s.Check, what)+" "+v.isOn(s)))
			}
		}
		return all
	}
}

// thrush fires for a grade between two, both included; a rule that may be set takes its own lower bound.
func thrush(from, to int) func(view, Rule) []Fired {
	return func(v view, r Rule) []Fired {
		var all []Fired
		for _, l := range v.Legs {
			for _, c := range []tracker.Check{l.Line, l.Foot} {
				grade := c.Signs[tracker.Thrush]
				if grade < max(from, int(r.number("grade"))) || grade > to {
					continue
				}
				seen := fmt.Sprintf("Thrush of the %s foot: %d of 3 on %s.", tracker.LegName(l.Leg, v.LegWords), grade, v.when(c.At))
				all = append(all, Fired{Leg: l.Leg, Seen: seen, Numbers: map[string]string{"thrush": fmt.Sprint(grade)}}.from(c))
			}
		}
		return all
	}
}

// girth compares a leg with itself, never with another leg.
func girth(v view, r Rule) []Fired {
	var all []Fired
	for _, l := range v.Legs {
		if len(l.Girths) == 0 {
			continue
		}
		last := l.Girths[len(l.Girths)-1]
		i := slices.IndexFunc(l.Girths, func(g Girth) bool { return last.Day-g.Day >= tracker.Date(r.number("days")) })
		if i < 0 || float64(last.MM-l.Girths[i].MM) < r.number("rise") {
			continue
		}
		first := l.Girths[i]
		seen := fmt.Sprintf("The %s was %d mm round on %s and %d mm on %s.", tracker.LegName(l.Leg, v.LegWords),
			first.MM, tracker.DayName(first.Day), last.MM, tracker.DayName(last.Day))
		all = append(all, Fired{Leg: l.Leg, Seen: seen,
			Numbers: map[string]string{"girth": fmt.Sprintf("%d mm", last.MM), "first girth": fmt.Sprintf("%d mm", first.MM)}})
	}
	return all
}
