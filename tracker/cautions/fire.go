package cautions

import (
	"cmp"
	"slices"
	"time"

	"leground/tracker"
)

// Fire looks at the facts with every rule and lists what they meet, most urgent first, then by leg,
// site and rule. It knows nothing of what was raised before: see [Hold]. now must be in the yard's zone.
func Fire(f Facts, s Settings, now time.Time) []Fired {
	v := newView(f, now)
	var all []Fired
	for _, e := range book() {
		rule, on := s.apply(e.Rule)
		if !on {
			continue
		}
		for _, fired := range e.when(v, rule) {
			fired.Rule, fired.Horse, fired.Why = rule.ID, f.Horse.ID, rule.Why
			fired.Level = mostUrgent(fired.Level, rule.Level)
			fired.Next = cmp.Or(fired.Next, rule.Next)
			if fired.Numbers == nil {
				fired.Numbers = map[string]string{}
			}
			all = append(all, fired)
		}
	}
	return oncePerSubject(all)
}

// mostUrgent gives the more urgent of two levels; 0 is none.
func mostUrgent(a, b tracker.Level) tracker.Level {
	if a == 0 || b == 0 {
		return max(a, b)
	}
	return min(a, b)
}

// oncePerSubject keeps of one rule and one subject the most urgent, then the newest look: the same
// danger can be ticked on a leg line and on a card.
func oncePerSubject(all []Fired) []Fired {
	slices.SortStableFunc(all, func(a, b Fired) int {
		return cmp.Or(cmp.Compare(a.Level, b.Level), cmp.Compare(a.Leg, b.Leg), cmp.Compare(a.Site, b.Site),
			cmp.Compare(a.Rule, b.Rule), b.At.Compare(a.At), cmp.Compare(a.Check, b.Check), cmp.Compare(a.Seen, b.Seen))
	})
	type subject struct {
		rule string
		leg  tracker.Leg
		site tracker.SiteID
	}
	seen := map[subject]bool{}
	return slices.DeleteFunc(all, func(f Fired) bool {
		s := subject{f.Rule, f.Leg, f.Site}
		known := seen[s]
		seen[s] = true
		return known
	})
}
