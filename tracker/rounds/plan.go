package rounds

import (
	"cmp"
	"fmt"
	"slices"

	"leground/tracker"
)

// Span is a run of local dates. A zero To has no end.
type Span struct {
	From, To tracker.Date
}

// Has says whether the day is within the span.
func (s Span) Has(day tracker.Date) bool { return day >= s.From && (s.To == 0 || day <= s.To) }

// Absence is a time in which a horse is not asked about: away, at the clinic or dead. Without a horse the
// whole yard is closed.
type Absence struct {
	Horse tracker.HorseID
	Span
}

// Occurrence is one plan step at one round, with the reason why it is due there or not.
type Occurrence struct {
	Day   tracker.Date
	Slot  tracker.Slot
	Step  string
	Horse tracker.HorseID
	Why   Reason
}

// Due says whether the step is due at the round.
func (o Occurrence) Due() bool { return o.Why == DueByPlan }

// Expand says for every step, local date from one to another and slot whether the step is due there, by
// date, time of day and the order of the steps. It looks at the calendar alone: which rounds were kept
// does not change what the plan says.
func Expand(steps []PlanStep, slots []tracker.Slot, absences []Absence, from, to tracker.Date) ([]Occurrence, error) {
	if to < from || to-from >= longestSpan {
		return nil, fmt.Errorf("%s to %s is no span of days, or more than 100 years: ask for less at once", from, to)
	}
	slots = inOrder(slots)
	var all []Occurrence
	for _, step := range steps {
		if err := step.Check(slots); err != nil {
			return nil, fmt.Errorf("%s: %w", step.ID, err)
		}
		if to-step.Start >= longestSpan {
			return nil, fmt.Errorf("%s began on %s, more than 100 years before: ask for less at once", step.ID, step.Start)
		}
		all = append(all, step.expand(slots, absences, from, to)...)
	}
	slices.SortStableFunc(all, func(a, b Occurrence) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Slot.At, b.Slot.At))
	})
	return all, nil
}

// expand walks the days from the step's start, since a phase's place depends on all before it, but passes over
// those before from on which nothing is counted.
func (p PlanStep) expand(slots []tracker.Slot, absences []Absence, from, to tracker.Date) []Occurrence {
	var all []Occurrence
	at := progress{step: p, slots: slots, absences: absences, began: p.Start}
	for day := min(p.Start, from); day <= to; day = at.next(day, from) {
		at.turn(day)
		for i, slot := range slots {
			why := at.why(day, i)
			if why == DueByPlan {
				at.times++
			}
			if day >= from {
				all = append(all, Occurrence{Day: day, Slot: slot, Step: p.ID, Horse: p.Horse, Why: why})
			}
		}
	}
	return all
}

// progress is how far a step has come on a day.
type progress struct {
	step     PlanStep
	slots    []tracker.Slot
	absences []Absence
	phase    int
	began    tracker.Date // the first day of the phase
	times    int          // how often the phase has been due
}

// next gives the day after a day, or before from the next one that matters: where a phase is over by the calendar.
// Only a phase that counts its times must see each day.
func (at *progress) next(day, from tracker.Date) tracker.Date {
	to := from
	if at.phase < len(at.step.Phases) {
		switch end := at.step.Phases[at.phase].End; end.Kind {
		case AfterTimes:
			to = day
		case OnDate:
			to = min(from, end.Date+1)
		case AfterDays:
			to = min(from, at.began+tracker.Date(end.Count))
		default:
			if end.Date != 0 {
				to = min(from, end.Date)
			}
		}
	}
	return max(day+1, to)
}

// turn begins the next phase on a day on which the one before is over.
func (at *progress) turn(day tracker.Date) {
	for at.phase < len(at.step.Phases) && at.over(day) {
		at.phase, at.began, at.times = at.phase+1, day, 0
	}
}

func (at *progress) over(day tracker.Date) bool {
	end := at.step.Phases[at.phase].End
	switch end.Kind {
	case OnDate:
		return day > end.Date
	case AfterDays:
		return int(day-at.began) >= end.Count
	case AfterTimes:
		return at.times >= end.Count
	default:
		return end.Date != 0 && day >= end.Date
	}
}

// why says whether the step is due on a day at the i-th slot.
func (at *progress) why(day tracker.Date, i int) Reason {
	if day < at.step.Start || day == at.step.Start && at.slots[i].At < at.step.StartAt {
		return PlanNotBegun
	}
	if at.phase == len(at.step.Phases) {
		return PlanOver
	}
	phase := at.step.Phases[at.phase]
	switch {
	case !phase.Days.Fall(at.began, day):
		return NotThisDay
	case !phase.at(at.slots, i):
		return NotThisSlot
	case phase.End.Kind == AfterTimes && at.times >= phase.End.Count:
		return PhaseOver
	}
	return at.absent(day)
}

func (at *progress) absent(day tracker.Date) Reason {
	why := DueByPlan
	for _, a := range at.absences {
		switch {
		case !a.Has(day):
		case a.Horse == "":
			return YardClosed
		case a.Horse == at.step.Horse:
			why = HorseAway
		}
	}
	return why
}

// SizeDue says whether a size is due: never measured, or every so many days (1 daily, 2 every second day,
// 7 weekly) since the day of the last. It is due at most once a day, since measuring lifts scabs.
func SizeDue(every int, last, today tracker.Date) bool {
	return last == 0 || today >= NextSize(every, last)
}

// NextSize gives the day on which a size is due after one taken on the day last.
func NextSize(every int, last tracker.Date) tracker.Date {
	return last + tracker.Date(max(every, 1))
}
