package rounds

import (
	"time"

	"leground/tracker"
)

// Change says what a new zone, new zone rules or new slots mean for a round that was made before.
type Change int

// The changes.
const (
	Kept  Change = iota + 1 // its times stand
	Moved                   // it has new times
	Gone                    // the schedule no longer has it; while open and unasked it may be removed
)

// Recompute gives a round its times under the schedule as it is now. A round that is not open, or about
// which a message has already gone out, keeps the times people were told.
func (s Schedule) Recompute(r tracker.Round, asked bool) (tracker.Round, Change, error) {
	if r.State != tracker.RoundOpen || asked {
		return r, Kept, nil
	}
	day, err := s.Rounds(r.Day, r.Day)
	if err != nil {
		return r, Kept, err
	}
	for _, fresh := range day {
		if fresh.Slot != r.Slot {
			continue
		}
		if fresh.DueAt.Equal(r.DueAt) && fresh.UseBy.Equal(r.UseBy) {
			return r, Kept, nil
		}
		r.DueAt, r.UseBy = fresh.DueAt, fresh.UseBy
		return r, Moved, nil
	}
	return r, Gone, nil
}

// Together parts rounds into those that are asked for in one message: the same due time. The order is
// kept, so that the first of each part, whose key names the message, is the same every time the rounds
// are given by date and time of day.
func Together(rounds []tracker.Round) [][]tracker.Round {
	var parts [][]tracker.Round
	index := make(map[int64]int, len(rounds))
	for _, r := range rounds {
		at := r.DueAt.UnixMilli()
		i, seen := index[at]
		if !seen {
			i = len(parts)
			index[at] = i
			parts = append(parts, nil)
		}
		parts[i] = append(parts[i], r)
	}
	return parts
}

// clockSlack is how far clocks may differ before it is worth a word.
const clockSlack = 5 * time.Minute

// ClockBack says whether the wall clock was put back by more than 5 minutes since the engine last
// looked. Nothing is sent twice because of it, since what was sent is known by its rung and not by its
// time; but somebody should know.
func ClockBack(last, now time.Time) bool { return now.Before(last.Add(-clockSlack)) }
