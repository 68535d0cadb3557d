package care

import (
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// The kinds of reminder.
const (
	ReminderRound   = "round"
	ReminderCaution = "caution"
)

// The first channel that reaches everybody.
const channelEmail = "email"

// cautionUse is how long a message about ring now is worth sending.
const cautionUse = 18 * time.Hour

// newReminder plans one message for now. Kind, subject, person, channel and rung together name it, so
// that planning it twice is one message.
func newReminder(kind, subject string, person tracker.PersonID, rung int, facts []byte, now, useBy time.Time) Reminder {
	return Reminder{
		ID: tracker.ReminderID(NewID()), Kind: kind, Subject: subject, Person: person, Channel: channelEmail, Rung: rung,
		State: rounds.Planned.String(), Facts: facts, PlannedAt: now, SendAt: now, UseBy: useBy,
	}
}
