package rounds

import (
	"fmt"
	"slices"
	"time"

	"leground/tracker"
)

// Off, as a time of a ladder, leaves that message out.
const Off time.Duration = -1

// Ladder says how long after a round is due its messages go out if it is not received.
type Ladder struct {
	First  time.Duration // the first person; 0 is when the round is due
	Nudge  time.Duration // the first person once more, or Off
	Second time.Duration // a second person, once, or Off
}

// Rules are a yard's own choices about messages.
type Rules struct {
	Zone   *time.Location
	Ladder Ladder
	Budget int // unprompted messages a person may get on one local day; "ring now" is outside it
}

// DefaultRules are those of a new yard (our own choice, no source).
func DefaultRules(zone *time.Location) Rules {
	return Rules{Zone: zone, Ladder: Ladder{0, 45 * time.Minute, 90 * time.Minute}, Budget: 4}
}

// shortestRung is the least time between two messages about one round.
const shortestRung = 15 * time.Minute

// Check refuses rules that would nag or mean nothing.
func (r Rules) Check() error {
	l := r.Ladder
	switch {
	case r.Zone == nil:
		return fmt.Errorf("the yard has no time zone: choose one, such as Europe/London")
	case r.Budget < 0 || r.Budget > 24:
		return fmt.Errorf("%d messages a day is not possible: choose 0 to 24", r.Budget)
	case l.First < 0 || l.First > LongestUse:
		return fmt.Errorf("the first message cannot come %s after the round is due: choose 0 minutes to 18 hours", l.First)
	case l.Nudge != Off && l.Nudge < l.First+shortestRung:
		return fmt.Errorf("the nudge must come at least 15 minutes after the first message, or not at all")
	case l.Second != Off && l.Second < l.First+shortestRung:
		return fmt.Errorf("the second person must be asked at least 15 minutes after the first, or not at all")
	}
	return nil
}

// Quiet is a person's quiet hours, from one local time to another, over midnight where To is before From.
// Equal times mean none.
type Quiet struct {
	From, To tracker.MinuteOfDay
}

// End gives the end of the quiet hours that hold t, and whether there are any.
func (q Quiet) End(t time.Time, zone *time.Location) (time.Time, bool) {
	if q.From == q.To {
		return t, false
	}
	overnight := tracker.Date(0)
	if q.To < q.From {
		overnight = 1
	}
	today := tracker.DateOf(t.In(zone))
	for day := today - 1; day <= today; day++ {
		if end := Due(day+overnight, q.To, zone); !t.Before(Due(day, q.From, zone)) && t.Before(end) {
			return end, true
		}
	}
	return t, false
}

// Turn is a person's place among those asked about a round.
type Turn int

// The turns. The zero Turn is not asked.
const (
	First Turn = iota + 1
	Second
)

// Person is what must be known of somebody who may be asked.
type Person struct {
	ID        tracker.PersonID
	Turn      Turn // about this round, see Turns
	Reachable bool // at least one channel works and they have not stopped it
	Quiet     Quiet
	Away      []Span
	CallsLeft int // see Rules.CallsLeft; nudges and second calls leave that much of the budget
}

func (p Person) away(day tracker.Date) bool {
	return slices.ContainsFunc(p.Away, func(s Span) bool { return s.Has(day) })
}

// CallsLeft counts the first messages still to come to a person on the local day of now, about the rounds
// at which it is their turn first and something is due. A message that quiet hours would hold beyond the
// day or the use-by is not to come: to keep part of the budget for it would starve everything else.
func (r Rules) CallsLeft(p Person, first []tracker.Round, now time.Time) int {
	n := 0
	for _, round := range first {
		at := round.DueAt.Add(r.Ladder.First)
		if end, quiet := p.Quiet.End(at, r.Zone); quiet {
			at = end
		}
		today := tracker.DateOf(at.In(r.Zone)) == tracker.DateOf(now.In(r.Zone))
		if at.After(now) && today && at.Before(round.UseBy) && !p.away(round.Day) {
			n++
		}
	}
	return n
}

// Warning says that a person cannot be asked about a round when it is due, or, without a person, that
// nobody can.
type Warning struct {
	Person tracker.PersonID
	Why    Reason
}

// Turns chooses who is asked about a round, from people in the yard's order for its slot: who cannot be
// reached is passed over; who has quiet hours when it is due comes after those who have not; who is away
// comes last, for "ring now" alone, since Decide never asks them. The warnings belong beside the plan, and
// NobodyReachable on the Board at once.
func Turns(r tracker.Round, zone *time.Location, people []Person) ([]Person, []Warning) {
	var free, quiet, away []Person
	var warnings []Warning
	for _, p := range people {
		p.Turn = 0
		_, held := p.Quiet.End(r.DueAt, zone)
		switch {
		case !p.Reachable:
			warnings = append(warnings, Warning{p.ID, NoChannel})
		case p.away(r.Day):
			warnings = append(warnings, Warning{p.ID, PersonAway})
			away = append(away, p)
		case held:
			warnings = append(warnings, Warning{p.ID, QuietHours})
			quiet = append(quiet, p)
		default:
			free = append(free, p)
		}
	}
	if len(free)+len(quiet) == 0 {
		warnings = append(warnings, Warning{Why: NobodyReachable})
	}
	asked := slices.Concat(free, quiet, away)
	for i := range min(len(asked), 2) {
		asked[i].Turn = First + Turn(i)
	}
	return asked, warnings
}
