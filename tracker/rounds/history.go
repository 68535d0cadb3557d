package rounds

import (
	"fmt"
	"time"

	"leground/tracker"
)

// Kind is what a message is about, stored as it stands.
type Kind string

// The kinds of message.
const (
	AboutRound   Kind = "round"      // subject: Key.String of the first of the rounds asked for together
	AboutRingNow Kind = "ring now"   // subject: the caution's id
	AboutToday   Kind = "ring today" // subject: the caution's id
	AboutNotice  Kind = "notice"     // subject: what it is about, such as "trim" and a horse's id
	AboutSummary Kind = "summary"    // subject: the local date
)

// Rung numbers a message among those to one person about one subject: kind, subject, person, channel and
// rung are its identity, so that planning it twice is planning it once.
type Rung int

// The rungs. Messages that may come again are numbered on from the last three, which leave room for it.
const (
	FirstCall    Rung = 1
	Nudge        Rung = 2
	SecondPerson Rung = 3
	AfterLater   Rung = 10   // asked for with "later": the first, then 11 ...
	Repeat       Rung = 1000 // cautions: the first, then 1001 ...
)

// String says which message it is.
func (r Rung) String() string {
	switch {
	case r == FirstCall:
		return "first message"
	case r == Nudge:
		return "nudge"
	case r == SecondPerson:
		return "second person"
	case r >= Repeat:
		return fmt.Sprintf("message %d", r-Repeat+1)
	case r >= AfterLater:
		return "asked for later"
	}
	return fmt.Sprintf("rung %d", int(r))
}

// Message is one that went to the person, or is on its way: a reminder in state sending or sent.
type Message struct {
	Kind    Kind
	Subject string
	Rung    Rung
	At      time.Time
}

// unprompted says whether the message counts against the budget: nobody asked for it, and it is not
// "ring now".
func (m Message) unprompted() bool {
	return m.Kind != AboutRingNow && (m.Rung < AfterLater || m.Rung >= Repeat)
}

// UntilNextSlot, as the length of a Later, means until the round's use-by.
const UntilNextSlot time.Duration = -1

// Later is one press of "later" by the person about the round: 30 minutes, 2 hours or UntilNextSlot.
type Later struct {
	At  time.Time
	For time.Duration
}

// History is what has happened so far. What the person got stays known by its rung, so that a wall clock
// that is put back makes nothing be sent twice.
type History struct {
	Sent     []Message   // to this person in this yard since yesterday, in any order, and all about the subject
	Laters   []Later     // by this person about this round
	OnIt     []time.Time // presses of "on it" by anybody about this round
	Received time.Time   // when the last record of this round was made; zero for none
}

// about gives the messages of a kind about a subject.
func (h History) about(kind Kind, subject string) []Message {
	var found []Message
	for _, m := range h.Sent {
		if m.Kind == kind && m.Subject == subject {
			found = append(found, m)
		}
	}
	return found
}

// today counts the unprompted messages of the local day that t is in.
func (h History) today(t time.Time, zone *time.Location) int {
	day, n := tracker.DateOf(t.In(zone)), 0
	for _, m := range h.Sent {
		if m.unprompted() && tracker.DateOf(m.At.In(zone)) == day {
			n++
		}
	}
	return n
}

// latest gives the time of the last of the messages, zero for none.
func latest(messages []Message) time.Time {
	var last time.Time
	for _, m := range messages {
		if m.At.After(last) {
			last = m.At
		}
	}
	return last
}

// ActedWithin is how soon a record must follow a message for the message to have been of use.
const ActedWithin = time.Hour

// ActedOn counts the messages that were followed by a record within an hour, for the owner's weekly line.
// Where it is under 30 % the page suggests fewer messages.
func ActedOn(sent, recorded []time.Time) int {
	n := 0
	for _, at := range sent {
		for _, r := range recorded {
			if !r.Before(at) && !r.After(at.Add(ActedWithin)) {
				n++
				break
			}
		}
	}
	return n
}
