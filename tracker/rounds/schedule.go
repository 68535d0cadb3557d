package rounds

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"leground/tracker"
)

const (
	// MostPerDay is how many rounds a yard may have on one local date. More is a slip or a fault, and
	// would become more messages than anybody reads.
	MostPerDay = 24
	// Horizon is how far ahead rounds are made.
	Horizon = 48 * time.Hour
	// LongestUse is how long after it was due a round may be recorded against when no other follows.
	LongestUse = 18 * time.Hour
	// longestSpan is how many days may be worked out at once: 100 years and a little.
	longestSpan = 36600
)

// Schedule says when a yard's rounds happen.
type Schedule struct {
	Zone  *time.Location
	Slots []tracker.Slot // 1 to MostPerDay, each with its own name and time
	Days  Days
	First tracker.Date // counted from for Every; there are no rounds before it
	Last  tracker.Date // the last day with rounds; zero for no end
}

// Key is the identity of a round within its yard. It is civil, not an instant, and holds the name of the
// slot: a yard may move "morning" from 07:00 to 07:30 and today's morning round stays the same round.
type Key struct {
	Day  tracker.Date
	Slot string
}

// KeyOf gives the identity of a round.
func KeyOf(r tracker.Round) Key { return Key{r.Day, r.Slot} }

// String names the round as the subject of a message: "2026-05-14 morning".
func (k Key) String() string { return k.Day.String() + " " + k.Slot }

// Check refuses a schedule that cannot be kept, with the reason in words.
func (s Schedule) Check() error {
	if s.Zone == nil {
		return fmt.Errorf("the schedule has no time zone: choose the yard's, such as Europe/London")
	}
	if s.First == 0 {
		return fmt.Errorf("the schedule has no first day: say from which date on it holds")
	}
	if s.Last != 0 && s.Last < s.First {
		return fmt.Errorf("the last day, %s, is before the first, %s", s.Last, s.First)
	}
	if err := s.Days.Check(); err != nil {
		return err
	}
	return checkSlots(s.Slots)
}

func checkSlots(slots []tracker.Slot) error {
	if len(slots) == 0 {
		return fmt.Errorf("there is no time of day: give at least one, such as 07:00")
	}
	if len(slots) > MostPerDay {
		return fmt.Errorf("%d rounds a day are too many: at most %d, so nothing was planned", len(slots), MostPerDay)
	}
	for i, slot := range slots {
		if slot.At < 0 || slot.At >= 24*60 {
			return fmt.Errorf("slot %q is %d minutes after midnight: a day has 0 to 1439", slot.Name, slot.At)
		}
		if strings.TrimSpace(slot.Name) == "" {
			return fmt.Errorf("the slot at %s has no name", slot.At)
		}
		for _, other := range slots[:i] {
			if other.At == slot.At {
				return fmt.Errorf("%s is given twice: each time of day once", slot.At)
			}
			if other.Name == slot.Name {
				return fmt.Errorf("two slots are called %q: each needs its own name", slot.Name)
			}
		}
	}
	return nil
}

// inOrder gives slots by time of day.
func inOrder(slots []tracker.Slot) []tracker.Slot {
	return slices.SortedFunc(slices.Values(slots), func(a, b tracker.Slot) int { return cmp.Compare(a.At, b.At) })
}

// Rounds gives every round from one local date to another, both included, by date and time of day. Over
// a clock change their due times may be equal or out of that order.
func (s Schedule) Rounds(from, to tracker.Date) ([]tracker.Round, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	if to < from {
		return nil, fmt.Errorf("the last day, %s, is before the first, %s", to, from)
	}
	if to-from >= longestSpan {
		return nil, fmt.Errorf("%s to %s is more than 100 years: ask for less at once", from, to)
	}
	// A few days on either side, so that the next round of each is known.
	const margin = 3
	all := s.dates(from-margin, to+margin)
	setUseBy(all)
	return slices.DeleteFunc(all, func(r tracker.Round) bool { return r.Day < from || r.Day > to }), nil
}

// dates gives the rounds of a span of local dates without their use-by.
func (s Schedule) dates(from, to tracker.Date) []tracker.Round {
	if s.Last != 0 {
		to = min(to, s.Last)
	}
	slots := inOrder(s.Slots)
	var all []tracker.Round
	for day := max(from, s.First); day <= to; day++ {
		if !s.Days.Fall(s.First, day) {
			continue
		}
		for _, slot := range slots {
			all = append(all, tracker.Round{
				Day: day, Slot: slot.Name, DueAt: Due(day, slot.At, s.Zone), State: tracker.RoundOpen,
			})
		}
	}
	return all
}

// setUseBy ends each round at the next due time that is later than its own.
func setUseBy(all []tracker.Round) {
	dues := make([]time.Time, len(all))
	for i, r := range all {
		dues[i] = r.DueAt
	}
	slices.SortFunc(dues, time.Time.Compare)
	for i := range all {
		all[i].UseBy = all[i].DueAt.Add(LongestUse)
		next, _ := slices.BinarySearchFunc(dues, all[i].DueAt.Add(1), time.Time.Compare)
		if next < len(dues) && dues[next].Before(all[i].UseBy) {
			all[i].UseBy = dues[next]
		}
	}
}

// Expected gives every round that should exist at now: those due after since, the instant up to which
// rounds were made before, and not after now plus Horizon. Asking twice gives the same rounds, and
// after an outage those of the outage are among them. When zone, slots or days have changed, ask again
// with since at now.
func (s Schedule) Expected(since, now time.Time) ([]tracker.Round, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	// A skipped day can move a due time by a whole day.
	const margin = 2
	until := now.Add(Horizon)
	from := max(tracker.DateOf(since.In(s.Zone))-margin, s.First)
	to := tracker.DateOf(until.In(s.Zone)) + margin
	if to < from {
		return nil, nil
	}
	all, err := s.Rounds(from, to)
	return slices.DeleteFunc(all, func(r tracker.Round) bool { return !r.DueAt.After(since) || r.DueAt.After(until) }), err
}
