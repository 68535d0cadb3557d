package rounds

import (
	"fmt"
	"slices"
	"time"
)

// Life is the state of a reminder, stored as it stands. The zero Life is none.
type Life string

// The states of a reminder. The last four are ends, out of which a person brings it back; one that was
// withdrawn also comes back when the cause of that is taken back, such as a record or a day away.
const (
	Planned   Life = "planned"
	Sending   Life = "sending"
	Sent      Life = "sent"      // a server accepted it
	GivenUp   Life = "given up"  // it cannot be sent this way: somebody is told
	Withdrawn Life = "withdrawn" // it is no longer wanted
	Folded    Life = "folded"    // its time is over: it goes into a summary if the person was not asked at all
)

// String gives the stored word.
func (l Life) String() string { return string(l) }

// reasons lists why a reminder may go from one state to another; nothing where it may not.
func (l Life) reasons(to Life) []Reason {
	putOff := []Reason{NotYet, SomebodyOnIt, UnderWay, AskedLater, QuietHours, WillRing, DayOff, EnoughToday, ServerTrouble, SetUpFault}
	unwanted := []Reason{
		Received, RoundSkipped, NothingDue, YardClosed, PersonAway, NotAsked, AllAsked, CautionClosed, NothingHeld,
		PersonStopped, PersonLeft, PlanChanged,
	}
	over := []Reason{PastUseBy, BudgetSpent, InSummary}
	switch [2]Life{l, to} {
	case [2]Life{Planned, Sending}:
		return []Reason{Claimed}
	case [2]Life{Planned, Planned}:
		return putOff
	case [2]Life{Planned, Withdrawn}, [2]Life{Sending, Withdrawn}:
		return unwanted
	case [2]Life{Planned, Folded}, [2]Life{Sending, Folded}:
		return over
	case [2]Life{Planned, GivenUp}:
		return []Reason{NoChannel}
	case [2]Life{Sending, Sent}:
		return []Reason{Accepted}
	case [2]Life{Sending, Planned}:
		return append(putOff, NotNow, PerhapsSent, LeaseRanOut)
	case [2]Life{Sending, GivenUp}:
		return []Reason{NoChannel, AddressRefused, ContentRefused, TooManyTries, ChannelGone, HandedOver}
	case [2]Life{Withdrawn, Planned}:
		return []Reason{AskedAgain, WantedAgain}
	case [2]Life{Sent, Planned}, [2]Life{GivenUp, Planned}, [2]Life{Folded, Planned}:
		return []Reason{AskedAgain}
	}
	return nil
}

// Move refuses a change of state that the life of a reminder does not have, or not for that reason.
func (l Life) Move(to Life, why Reason) error {
	switch allowed := l.reasons(to); {
	case len(allowed) == 0:
		return fmt.Errorf("a reminder that is %s cannot become %s", l, to)
	case !slices.Contains(allowed, why):
		return fmt.Errorf("a reminder that is %s cannot become %s because of %q", l, to, string(why))
	}
	return nil
}

// Life gives the state in which a planned reminder ends when it is dropped for the reason: withdrawn,
// folded or given up; Planned for a reason that drops nothing.
func (r Reason) Life() Life {
	for _, end := range []Life{Withdrawn, Folded, GivenUp} {
		if slices.Contains(Planned.reasons(end), r) {
			return end
		}
	}
	return Planned
}

// NextTry gives the time of the next try after a number of failed ones, from 1: after 1, 2, 5, 10, 20 and
// 30 minutes, then every 30. It is false when that is not before the use-by; then the reminder is folded.
func NextTry(now time.Time, failed int, useBy time.Time) (time.Time, bool) {
	minutes := [...]time.Duration{1, 2, 5, 10, 20, 30}
	next := now.Add(minutes[min(max(failed, 1), len(minutes))-1] * time.Minute)
	return next, next.Before(useBy)
}
