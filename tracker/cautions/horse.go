package cautions

import (
	"fmt"
	"slices"

	"leground/tracker"
)

const (
	srcTetanus = "Equine Health Update 21(1), tetanus article"
	srcThin    = "MSD Veterinary Manual, Body condition score 1: emaciated; UC Davis refeeding schedule, as a rescue carries it"
	srcRefeed  = "Stull, Refeeding instructions, as a rescue carries them"
)

func horseRules() []entry {
	const now, today, visit = tracker.RingNow, tracker.RingToday, tracker.NextVisit
	return []entry{
		{Rule{ID: "weak", Level: now, Title: "Weak, wobbly, down or seizing", Source: srcRefeed, Grade: Published, Again: nextDay,
			Why: "Published advice on feeding up starved horses: these signs need the vet at once.", Next: "Give no more feed until the vet has spoken to you."}, weak},
		{Rule{ID: "tetanus", Level: today, Title: "A wound, and tetanus cover old or unknown", Source: srcTetanus, Grade: Published, Again: nextWeek,
			Why: "Published advice: ask at once when the last tetanus dose is older than 6 months.", Next: "Ask the vet whether the horse needs tetanus cover now.",
			Thresholds: []Threshold{fixed("months", "months since the last dose", 6, "months")}}, tetanus},
		{Rule{ID: "white-skin", Level: today, Title: "White skin sore on legs and nose", Source: srcEquine, Grade: Published, Again: nextWeek,
			Why: "A veterinary textbook: white skin sore in several places may mean plants or liver.", Next: "Keep the horse out of the sun until the vet has spoken to you."}, whiteSkin},
		{Rule{ID: "thin", Level: today, Title: "Very thin, or thin and its feeding unknown", Source: srcThin, Grade: Published, Again: nextMonth, Worse: lowerScore(),
			Why: "Published advice: feeding up a starved horse is dangerous and needs the vet first.", Next: "Ring before the first big feed. If the horse is weak or wobbly, ring now.",
			Thresholds: []Threshold{fixed("below", "condition score below", 3, "points"), fixed("unknown", "feeding unknown: score up to", 3, "points")}}, thin},
		{Rule{ID: "not-gaining", Level: visit, Title: "Condition not rising in four weeks", Grade: OwnChoice, Again: nextMonth, Weaken: true, Worse: lowerScore(),
			Why: "Our own choice, with no source.", Next: "If the score falls, ring today.",
			Thresholds: []Threshold{{"days", "days between scores", 28, "days", 14, 56}, {"below", "condition score below", 5, "points", 3, 6}}}, notGaining},
	}
}

// lowerScore is a condition score that fell: scores are taken in halves.
func lowerScore() []Worse { return []Worse{{"condition score", -0.5}} }

func weak(v view, _ Rule) []Fired {
	if !v.Body.Weak {
		return nil
	}
	seen := "The horse is weak, wobbly, down or seizing."
	if v.Body.Refeeding {
		seen += " It is being fed up after starvation."
	}
	return []Fired{Fired{Seen: seen}.from(v.Body.Check)}
}

// tetanus is asked about the wound that was found last: a new wound asks again, an old one does not.
func tetanus(v view, r Rule) []Fired {
	wounds := v.wounds()
	if len(wounds) == 0 {
		return nil
	}
	newest := slices.MaxFunc(wounds, func(a, b SiteFacts) int {
		if c := a.Site.OpenedAt.Compare(b.Site.OpenedAt); c != 0 {
			return c
		}
		return int(a.Site.Leg-b.Site.Leg)*1000 + a.Site.Number - b.Site.Number
	})
	last := v.Horse.Tetanus.Last
	if last == 0 || last > v.today {
		f := newest.fired("There is an open wound, and no date of a tetanus dose. " + v.isOn(newest))
		f.Next = "Ask the vet whether the horse needs tetanus cover now. Say that nobody knows its last dose."
		f.Numbers = map[string]string{"last dose": "not known"}
		return []Fired{f}
	}
	if tracker.DateOf(last.Time().AddDate(0, int(r.number("months")), 0)) >= v.today {
		return nil
	}
	days := int(v.today - last)
	f := newest.fired(fmt.Sprintf("There is an open wound. The last tetanus dose was on %s, %s ago. %s",
		last.Time().Format("2 Jan 2006"), tracker.Count(days, "day"), v.isOn(newest)))
	f.Numbers = map[string]string{"last dose": last.String(), "days": fmt.Sprint(days)}
	return []Fired{f}
}

func whiteSkin(v view, r Rule) []Fired {
	all := flagged(tracker.WhiteSkin, "white skin sore on legs and nose")(v, r)
	for _, c := range v.Vitals {
		if hasFlag(c, tracker.WhiteSkin) {
			all = append(all, Fired{Seen: v.tickedWords(c, "white skin sore on legs and nose")}.from(c))
		}
	}
	for i := range all {
		all[i].Leg, all[i].Site = 0, "" // one call for the horse, wherever it was ticked
	}
	return all
}

func thin(v view, r Rule) []Fired {
	if len(v.Body.Scores) == 0 {
		return nil
	}
	last := v.Body.Scores[len(v.Body.Scores)-1]
	unknown := !v.Body.FeedKnown && last.Value <= r.number("unknown")
	if last.Value >= r.number("below") && !unknown {
		return nil
	}
	score := tracker.FormatFloat(last.Value, 1, v.Mark)
	seen := fmt.Sprintf("Condition score %s of 9 on %s.", score, tracker.DayName(last.Day))
	if unknown {
		seen += " What the horse was fed before is not known."
	}
	return []Fired{{Seen: seen, Numbers: map[string]string{"condition score": score}}}
}

// notGaining compares the newest score with the last one that is old enough. One that fell is for today.
func notGaining(v view, r Rule) []Fired {
	if len(v.Body.Scores) == 0 {
		return nil
	}
	scores := slices.Clone(v.Body.Scores)
	slices.Reverse(scores)
	last := scores[0]
	i := slices.IndexFunc(scores, func(s Score) bool { return last.Day-s.Day >= tracker.Date(r.number("days")) })
	if i < 0 || last.Value >= r.number("below") || last.Value > scores[i].Value {
		return nil
	}
	now, before := tracker.FormatFloat(last.Value, 1, v.Mark), tracker.FormatFloat(scores[i].Value, 1, v.Mark)
	seen := fmt.Sprintf("Condition score %s on %s and %s on %s.", before, tracker.DayName(scores[i].Day), now, tracker.DayName(last.Day))
	f := Fired{Seen: seen, Numbers: map[string]string{"condition score": now, "condition score before": before}}
	if last.Value < scores[i].Value {
		f.Level, f.Next = tracker.RingToday, "The score fell. If the horse is weak or wobbly, ring now."
	}
	return []Fired{f}
}
