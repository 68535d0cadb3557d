package rounds

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"leground/tracker"
)

// Answer is what was recorded for one thing that may be due in a round: done, or skipped and why.
type Answer struct {
	Item string
	Done bool
	Why  string // why it was skipped
}

// Tally is how a round stands. Done, Skipped and Missing part what was due, each in the order it was due.
type Tally struct {
	State   tracker.RoundState
	Reason  string // why it was skipped, or was not done as a whole
	Done    []string
	Skipped []string
	Missing []string // not received
}

// nothingDue is the reason of a round at which nothing was due.
const nothingDue = "nothing was due"

// Judge says how a round stands at now from what was due and what was recorded, whenever it arrived:
// a late record counts. skipped is why the round as a whole was skipped, empty when it was not. Where one
// person did a thing and another skipped it, it was done; what was not due changes nothing.
func Judge(useBy time.Time, due []string, answers []Answer, skipped string, now time.Time) Tally {
	done, skips, whys := map[string]bool{}, map[string]bool{}, []string{}
	for _, a := range answers {
		switch {
		case a.Done:
			done[a.Item] = true
		case slices.Contains(due, a.Item):
			skips[a.Item] = true
			if a.Why != "" && !slices.Contains(whys, a.Why) {
				whys = append(whys, a.Why)
			}
		}
	}
	t := Tally{Reason: cmp.Or(skipped, strings.Join(whys, "; "))}
	for i, item := range due {
		switch {
		case slices.Contains(due[:i], item):
		case done[item]:
			t.Done = append(t.Done, item)
		case skips[item] || skipped != "":
			t.Skipped = append(t.Skipped, item)
		default:
			t.Missing = append(t.Missing, item)
		}
	}
	if len(due) == 0 {
		t.Reason = cmp.Or(skipped, nothingDue)
	} else if len(t.Skipped) == 0 {
		t.Reason = ""
	}
	t.State = t.state(now.Before(useBy))
	return t
}

func (t Tally) state(usable bool) tracker.RoundState {
	done, skipped, missing := len(t.Done), len(t.Skipped), len(t.Missing)
	switch {
	case done == 0 && missing == 0:
		return tracker.RoundSkipped
	case skipped == 0 && missing == 0:
		return tracker.RoundDone
	case done+skipped > 0:
		return tracker.RoundPartDone
	case usable:
		return tracker.RoundOpen
	}
	return tracker.RoundNoRecord
}

// longestEarly is how long before a round is due a record may count for it.
const longestEarly = 12 * time.Hour

// Place gives the round to which something recorded at an instant belongs, however late it arrived: the
// round whose time it was. A round's time is from its due time to its use-by, and the last quarter of the
// gap before it, at most 12 hours, since people start early. Rounds due at the same instant are all given.
// None is given between the use-by of one round and the early time of the next. rounds are those of at
// least three days around, in any order.
func Place(rounds []tracker.Round, at time.Time) []tracker.Round {
	parts := Together(rounds)
	slices.SortFunc(parts, func(a, b []tracker.Round) int { return a[0].DueAt.Compare(b[0].DueAt) })
	for i := len(parts) - 1; i >= 0; i-- {
		r, early := parts[i][0], longestEarly
		if i > 0 {
			early = min(early, r.DueAt.Sub(parts[i-1][0].DueAt)/4)
		}
		if !at.Before(r.DueAt.Add(-early)) {
			if at.Before(r.UseBy) {
				return parts[i]
			}
			return nil
		}
	}
	return nil
}
