package store

import (
	"database/sql/driver"
	"fmt"
	"time"

	"leground/tracker/care"
)

// The states of a reminder, as stored.
const (
	Planned   = "planned"   // waits for its send time
	Sending   = "sending"   // held by a worker under a lease
	Sent      = "sent"      // a server took it
	GivenUp   = "given up"  // will not be sent
	Withdrawn = "withdrawn" // no longer wanted
	Folded    = "folded"    // its use-by passed: goes into the person's next summary
)

const reminderColumns = `reminder_id, kind, subject, person_id, channel, rung, state, reason, facts, planned_at, send_at, use_by,
	tries, sent_at, answer`

func reminderFields(m *care.Reminder) []any {
	return []any{&m.ID, &m.Kind, &m.Subject, &m.Person, &m.Channel, &m.Rung, &m.State, &m.Reason,
		asText(func(text string) error { m.Facts = []byte(text); return nil }),
		asInstant(&m.PlannedAt), asInstant(&m.SendAt), asInstant(&m.UseBy), &m.Tries, asInstant(&m.SentAt), &m.Answer}
}

func scanReminder(r row) (m care.Reminder, err error) { return m, r.Scan(reminderFields(&m)...) }

// stateWord is a state as stored; any other word is refused.
func stateWord(state string) value {
	return func() (driver.Value, error) {
		switch state {
		case Planned, Sending, Sent, GivenUp, Withdrawn, Folded:
			return state, nil
		}
		return nil, fmt.Errorf("%q is not a state of a reminder", state)
	}
}

// AddReminder adds a reminder unless one with its kind, subject, person, channel and rung is there.
func (t *tx) AddReminder(m care.Reminder) error {
	return t.insertNew("yard_id, kind, subject, person_id, channel, rung", "reminder",
		`yard_id, `+reminderColumns+`, perhaps_sent, lease_until, lease_token`,
		t.yard, string(m.ID), m.Kind, m.Subject, string(m.Person), m.Channel, m.Rung, stateWord(m.State), m.Reason, string(m.Facts),
		ms(m.PlannedAt), ms(m.SendAt), ms(m.UseBy), m.Tries, ms(m.SentAt), m.Answer, 0, 0, 0)
}

// Reminders lists those planned from an instant on, newest first.
func (t *tx) Reminders(since time.Time) ([]care.Reminder, error) {
	return list(t, scanReminder, `SELECT `+reminderColumns+` FROM reminder
		WHERE yard_id = $1 AND planned_at >= $2 ORDER BY planned_at DESC, reminder_id DESC`, t.yard, ms(since))
}

// Withdraw ends every reminder of a kind and subject that has not been sent, with a reason. One that a
// worker holds is withdrawn too: the worker learns it from Renew. If a server has taken it by then, Mark
// still notes that it was sent.
func (t *tx) Withdraw(kind, subject, reason string) error {
	return t.exec(`UPDATE reminder SET state = 'withdrawn', reason = $4
		WHERE yard_id = $1 AND kind = $2 AND subject = $3 AND state IN ('planned', 'sending')`, t.yard, kind, subject, reason)
}
