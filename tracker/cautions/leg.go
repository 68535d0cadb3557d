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
			Why: "Published advice: ring about new lameness.", Again: nextDay, Worse: []Worse{{"walk grade", 1}},
			Next: "If the horse is lame at the walk or will not stand on it, ring now."}, newLameness},
		{Rule{ID: "leg-fills", Level: today, Title: "A leg with a sore starts to fill", Source: srcCall, Grade: Published,
			Why: "Published advice on sore pasterns: call when the leg starts to swell.", Again: nextDay, Worse: []Worse{{"filling", 1}},
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
			Worse: []Worse{{"thrush", 1}}, Why: "Our own choice, with no published grade behind it.", Next: "If there is pain or blood, ring today.",
			Thresholds: []Threshold{{"grade", "grade from", 1, "steps", 1, 2}}}, thrush(1, 2)},
		{Rule{ID: "itch", Level: visit, Title: "Itch: rubbing or stamping", Source: srcEquine, Grade: Published, Again: nextWeek, Weaken: true,
			Why:  "A veterinary textbook: itchy feathered legs may have mites.",
			Next: "Keep the horse's kit apart. If it rubs itself raw, ring today."}, flagged(tracker.Itch, "rubbing or stamping")},
		{Rule{ID: "fills-at-rest", Level: visit, Title: "Legs fill at rest and clear with walking", Source: srcStocking, Grade: Published,
			Again: nextMonth, Weaken: true, Worse: []Worse{{"legs", 1}}, Why: "Published advice: filling of several legs that clears with walking is no emergency.",
			Next: "If it does not clear with walking, or one leg fills alone, ring today."}, fillsAtRest},
		{Rule{ID: "unsure-walk", Level: visit, Title: "Still unsure, or lame only at the trot", Grade: OwnChoice, Again: nextWeek, Weaken: true, Worse: []Worse{{"walk grade", 1}},
			Why: "Our own choice, with no source.", Next: "If it gets worse, ring today. If the horse is lame at the walk, ring now."}, unsureWalk},
		{Rule{ID: "girth", Level: visit, Title: "A leg slowly gets thicker", Source: srcLymph, Grade: Published, Again: nextMonth, Weaken: true,
			Why:        "Published: slow thickening is a sign of a lasting lymph disease of heavy horses.",
			Next:       "If a leg thickens within days, ring today.",
			Worse:      []Worse{{"girth", 10}},
			Thresholds: []Threshold{{"rise", "gain in girth", 10, "mm", 5, 50}, {"days", "over at least", 28, "days", 14, 90}}}, girth},
	}
}

// legFired is a Fired about a leg, from its line.
func (l LegFacts) legFired(seen string, numbers map[string]string) Fired {
	return Fired{Leg: l.Leg, Seen: seen, Numbers: numbers}.from(l.Line)
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
	seen := fmt.Sprintf("Bounding pulses on %s: %s.", v.when(newest.At), tracker.List(bounding))
	if warm > 0 {
		seen += fmt.Sprintf(" Warm legs among them: %d.", warm)
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

// eachLeg is about how a leg walks.
func (v view) eachLeg(met func(LegFacts) bool, words func(LegFacts) string) []Fired {
	var all []Fired
	for _, l := range v.Legs {
		if met(l) {
			all = append(all, l.legFired(words(l), map[string]string{"walk grade": fmt.Sprint(l.Line.Signs[tracker.Walk])}))
		}
	}
	return all
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
