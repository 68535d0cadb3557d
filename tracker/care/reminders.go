package care

import (
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// Reminder is one message to one person over one way about one thing, with the life it had.
type Reminder struct {
	ID        tracker.ReminderID
	Kind      rounds.Kind
	Subject   string // the round "2026-05-14 morning", a caution id, ...
	Person    tracker.PersonID
	Channel   string // the way it takes: "email", or the id of a Way
	Account   string // whose pace and trouble it shares
	Rung      rounds.Rung
	State     rounds.Life
	Reason    rounds.Reason // why it is in that state
	Facts     []byte        // JSON of what the message says, frozen when it was planned
	Carries   []Carried
	Horses    []tracker.HorseID // it is about
	Token     string            // secret of its links; gone when it has ended
	PlannedAt time.Time
	SendAt    time.Time
	UseBy     time.Time
	HandOver  time.Time // when the next channel takes over; zero: never
	Tries     int
	SentAt    time.Time
	Answer    string // what the server said last, in words for people
}

// messageName is what rows that carry one message on several ways have in common.
type messageName struct {
	kind    rounds.Kind
	subject string
	person  tracker.PersonID
	rung    rounds.Rung
}

func (r Reminder) name() messageName { return messageName{r.Kind, r.Subject, r.Person, r.Rung} }

// byMessage sorts rows to a person, or to everybody when person is empty, by the message that they carry.
func byMessage(rows []Reminder, person tracker.PersonID) map[messageName][]Reminder {
	out := map[messageName][]Reminder{}
	for _, r := range rows {
		if person == "" || r.Person == person {
			out[r.name()] = append(out[r.name()], r)
		}
	}
	return out
}

// Carried is something else that a message says, so that it needs no message of its own.
type Carried struct {
	Kind    rounds.Kind `json:"kind"`
	Subject string      `json:"subject"`
}

// KindTest is "send me one now".
const KindTest rounds.Kind = "test"

// Try is one try to send a reminder.
type Try struct {
	Reminder tracker.ReminderID
	Number   int
	At       time.Time
	Result   string // the state that came of it
	Answer   string // what the server said, in words for people
}

// ReminderQuery picks reminders for a page. Empty fields do not narrow it.
type ReminderQuery struct {
	Person tracker.PersonID
	Horse  tracker.HorseID
	State  string
	Since  time.Time // planned then or later
	Limit  int       // newest first
}

// Reminders are messages to people.
type Reminders interface {
	// AddReminder adds one unless one with its kind, subject, person, channel and rung is there.
	AddReminder(Reminder) error
	// Reminders lists what a query picks, newest first.
	Reminders(ReminderQuery) ([]Reminder, error)
	// ReminderHistory lists those planned from an instant on, those that have not ended, and all about cautions
	// that are not closed, newest first, without their facts.
	ReminderHistory(since time.Time) ([]Reminder, error)
	Reminder(tracker.ReminderID) (Reminder, error)
	// Tries lists the tries of a reminder, oldest first.
	Tries(tracker.ReminderID) ([]Try, error)
	// MoveReminder keeps the state, reason, send time and, unless it is empty, the secret of a reminder that is
	// still in state from; otherwise it stays as it is.
	MoveReminder(m Reminder, from string) error
	// Withdraw ends every reminder of a kind and subject that has not been sent, with a reason.
	Withdraw(kind, subject, reason string) error
	// PerhapsSent counts reminders planned in a span of time that may have arrived twice or not at all.
	PerhapsSent(from, to time.Time) (int, error)
}
