package rounds

import (
	"fmt"
	"slices"
	"strings"

	"leground/tracker"
)

// EndKind says what ends a phase.
type EndKind int

// The ends of a phase.
const (
	OnDate          EndKind = iota + 1 // End.Date is its last day
	AfterDays                          // it holds for End.Count calendar days
	AfterTimes                         // it has been due at End.Count rounds
	UntilVetSays                       // the vet ends it
	UntilClosedOver                    // the site being closed over ends it
)

// End says when a phase is over. For the last two kinds Date is zero until the vet has said so or the
// site is closed over, and then that day: nothing more is due from then on, so that no one treats against
// the vet's word. The next phase begins on that day.
type End struct {
	Kind  EndKind
	Date  tracker.Date
	Count int
}

// Check refuses an end that never comes or means nothing.
func (e End) Check() error {
	switch e.Kind {
	case OnDate:
		if e.Date == 0 {
			return fmt.Errorf("the end has no date: give the last day")
		}
	case AfterDays, AfterTimes:
		if e.Count < 1 {
			return fmt.Errorf("the end comes after %d days or times: say at least 1", e.Count)
		}
		if e.Count > longestSpan {
			return fmt.Errorf("the end is more than 100 years away: choose \"until the vet says\"")
		}
	case UntilVetSays, UntilClosedOver:
	default:
		return fmt.Errorf("the phase has no end: give a date, a number of days or times, \"until the vet says\" or \"until closed over\"")
	}
	return nil
}

// String writes the end in words.
func (e End) String() string {
	switch e.Kind {
	case OnDate:
		return "to the end of " + tracker.DayName(e.Date)
	case AfterDays:
		return "for " + counted(e.Count, "day")
	case AfterTimes:
		return counted(e.Count, "time") + " in all"
	case UntilVetSays:
		return "until the vet says"
	case UntilClosedOver:
		return "until closed over"
	}
	return "without an end"
}

func counted(n int, word string) string {
	if n == 1 {
		return "1 " + word
	}
	return fmt.Sprintf("%d %ss", n, word)
}

// Phase is one stretch of a plan step: at some of the yard's slots, on some days, until its end. Exactly
// one of Slots and Times is set.
type Phase struct {
	Slots []string // names of the yard's slots, such as evening
	Times int      // times a day, spread over the yard's slots
	Days  Days     // counted from the day on which the phase begins, which is always the first one for Every
	End   End
}

// Check refuses a phase that a yard with these slots cannot keep.
func (p Phase) Check(slots []tracker.Slot) error {
	if err := p.Days.Check(); err != nil {
		return err
	}
	if err := p.End.Check(); err != nil {
		return err
	}
	if (len(p.Slots) == 0) == (p.Times == 0) {
		return fmt.Errorf("say how many times a day, or tick the rounds")
	}
	if p.Times < 0 || p.Times > len(slots) {
		return fmt.Errorf("%d times a day needs as many rounds a day: this yard has %d", p.Times, len(slots))
	}
	for i, name := range p.Slots {
		if !slices.ContainsFunc(slots, func(s tracker.Slot) bool { return s.Name == name }) {
			return fmt.Errorf("the yard has no %s round: choose from its rounds or add one", name)
		}
		if slices.Contains(p.Slots[:i], name) {
			return fmt.Errorf("the %s round is named twice", name)
		}
	}
	return nil
}

// String writes the phase as "twice a day for 7 days".
func (p Phase) String() string {
	words := strings.Join(p.Slots, " and ")
	switch {
	case p.Times > 1, p.Times == 1 && p.Days.Every == 1:
		words = tracker.TimesADay(p.Times)
	}
	if p.Times == 0 || p.Days.Every != 1 {
		words = strings.TrimSpace(words + " " + p.Days.String())
	}
	return words + " " + p.End.String()
}

// at says whether the phase is due at the i-th of the yard's slots in order of time.
func (p Phase) at(slots []tracker.Slot, i int) bool {
	if len(p.Slots) > 0 {
		return slices.Contains(p.Slots, slots[i].Name)
	}
	if p.Times == 1 {
		return i == 0
	}
	for k := range p.Times {
		// The k-th of Times, spread from the first slot to the last.
		if i == (k*(len(slots)-1)+(p.Times-1)/2)/(p.Times-1) {
			return true
		}
	}
	return false
}

// DueFrom says whether any of the phase's rounds of a day is due at a time of day or later.
func (p Phase) DueFrom(at tracker.MinuteOfDay, slots []tracker.Slot) bool {
	slots = inOrder(slots)
	for i, slot := range slots {
		if slot.At >= at && p.Times <= len(slots) && p.at(slots, i) {
			return true
		}
	}
	return false
}

// PlanStep is one step of a plan, such as a wash or a walk, with the phases in which it tapers off.
type PlanStep struct {
	ID      string // the step's own name within the plan
	Horse   tracker.HorseID
	Start   tracker.Date
	StartAt tracker.MinuteOfDay // slots before it are not due on the first day
	Phases  []Phase             // one after the other, each from the day after the last day of the one before
}

// Check refuses a step that a yard with these slots cannot keep.
func (p PlanStep) Check(slots []tracker.Slot) error {
	if err := checkSlots(slots); err != nil {
		return err
	}
	if p.Start == 0 {
		return fmt.Errorf("the step has no first day")
	}
	if len(p.Phases) == 0 {
		return fmt.Errorf("the step has no phase: say how often and until when")
	}
	begins := p.Start // 0 once only time can tell
	for i, phase := range p.Phases {
		if err := phase.Check(slots); err != nil && len(p.Phases) > 1 {
			return fmt.Errorf("phase %d: %w", i+1, err)
		} else if err != nil {
			return err
		}
		switch phase.End.Kind {
		case OnDate:
			if phase.End.Date < max(begins, p.Start) {
				return fmt.Errorf("phase %d ends on %s, before it begins", i+1, tracker.DayName(phase.End.Date))
			}
			begins = phase.End.Date + 1
		case AfterDays:
			if begins != 0 {
				begins += tracker.Date(phase.End.Count)
			}
		default:
			begins = 0
		}
	}
	return nil
}

// String writes the step's phases as "twice a day for 7 days, then every other day until closed over".
func (p PlanStep) String() string {
	words := make([]string, len(p.Phases))
	for i, phase := range p.Phases {
		words[i] = phase.String()
	}
	return strings.Join(words, ", then ")
}
