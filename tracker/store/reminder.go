package store

import (
	"database/sql/driver"
	"fmt"
	"strings"
	"time"

	"leground/tracker"
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

const (
	reminderHead    = `reminder_id, kind, subject, person_id, channel, account, rung, state, reason`
	reminderTail    = `carries, horses, token, planned_at, send_at, use_by, hand_over_at, tries, sent_at, answer`
	reminderColumns = reminderHead + `, facts, ` + reminderTail
)

func reminderFields(m *care.Reminder) []any {
	return []any{&m.ID, &m.Kind, &m.Subject, &m.Person, &m.Channel, &m.Account, &m.Rung, &m.State, &m.Reason,
		asText(func(text string) error { m.Facts = []byte(text); return nil }), asJSON(&m.Carries), asJSON(&m.Horses), &m.Token,
		asInstant(&m.PlannedAt), asInstant(&m.SendAt), asInstant(&m.UseBy), asInstant(&m.HandOver), &m.Tries, asInstant(&m.SentAt), &m.Answer}
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

// tokenHash gives what is found by the secret of a reminder's links.
func tokenHash(token string) string {
	if token == "" {
		return ""
	}
	return care.HashToken(token)
}

// AddReminder adds a reminder unless one with its kind, subject, person, channel and rung is there.
func (t *tx) AddReminder(m care.Reminder) error {
	return t.insertNew("yard_id, kind, subject, person_id, channel, rung", "reminder",
		`yard_id, `+reminderColumns+`, token_hash, perhaps_sent, lease_until, lease_token`,
		t.yard, string(m.ID), string(m.Kind), m.Subject, string(m.Person), m.Channel, m.Account, int(m.Rung), stateWord(string(m.State)), string(m.Reason), string(m.Facts),
		listJSON(m.Carries), listJSON(m.Horses), m.Token,
		ms(m.PlannedAt), ms(m.SendAt), ms(m.UseBy), ms(m.HandOver), m.Tries, ms(m.SentAt), m.Answer, tokenHash(m.Token), 0, 0, 0)
}

// Reminders lists what a query picks, newest first.
func (t *tx) Reminders(q care.ReminderQuery) ([]care.Reminder, error) {
	where, args := []string{"yard_id = $1", "planned_at >= $2"}, []any{t.yard, ms(q.Since)}
	pick := func(column, operator, value string) {
		if value != "" {
			args = append(args, value)
			where = append(where, fmt.Sprintf("%s %s $%d", column, operator, len(args)))
		}
	}
	pick("person_id", "=", string(q.Person))
	pick("state", "=", q.State)
	if q.Horse != "" {
		pick("horses", "LIKE", `%"`+string(q.Horse)+`"%`)
	}
	limit := ""
	if q.Limit > 0 {
		args = append(args, q.Limit)
		limit = fmt.Sprintf(" LIMIT $%d", len(args))
	}
	return list(t, scanReminder, `SELECT `+reminderColumns+` FROM reminder
		WHERE `+strings.Join(where, " AND ")+` ORDER BY planned_at DESC, reminder_id DESC`+limit, args...)
}

// ReminderHistory lists those planned from an instant on, those that have not ended, and all about cautions
// that are not closed, newest first, without their facts.
func (t *tx) ReminderHistory(since time.Time) ([]care.Reminder, error) {
	const columns = reminderHead + `, '' AS facts, ` + reminderTail
	return list(t, scanReminder, `SELECT `+columns+` FROM reminder WHERE yard_id = $1 AND planned_at >= $2
		UNION ALL SELECT `+columns+` FROM reminder WHERE yard_id = $1 AND planned_at < $2 AND kind IN ('ring now', 'ring today')
			AND subject IN (SELECT caution_id FROM caution WHERE yard_id = $1 AND closed_at = 0)
		ORDER BY planned_at DESC, reminder_id DESC`, t.yard, ms(since))
}

// Reminder gives one reminder.
func (t *tx) Reminder(id tracker.ReminderID) (care.Reminder, error) {
	return one(t, "reminder", scanReminder, `SELECT `+reminderColumns+` FROM reminder WHERE yard_id = $1 AND reminder_id = $2`, t.yard, string(id))
}

// Tries lists the tries of a reminder, oldest first.
func (t *tx) Tries(id tracker.ReminderID) ([]care.Try, error) {
	return list(t, func(r row) (y care.Try, err error) {
		return y, r.Scan(&y.Reminder, &y.Number, asInstant(&y.At), &y.Result, &y.Answer)
	}, `SELECT reminder_id, number, at, result, answer FROM reminder_try WHERE yard_id = $1 AND reminder_id = $2 ORDER BY number`,
		t.yard, string(id))
}

// MoveReminder keeps the state, reason, send time and, unless it is empty, the secret of a reminder that is
// still in state from; otherwise it stays as it is.
func (t *tx) MoveReminder(m care.Reminder, from string) error {
	return t.exec(`UPDATE reminder SET state = $4, reason = $5, send_at = $6, token = CASE WHEN $4 = 'planned' THEN $7 ELSE '' END,
			token_hash = CASE WHEN $8 = '' THEN token_hash ELSE $8 END
		WHERE yard_id = $1 AND reminder_id = $2 AND state = $3`,
		t.yard, string(m.ID), from, stateWord(string(m.State)), string(m.Reason), ms(m.SendAt), m.Token, tokenHash(m.Token))
}

// Withdraw ends every reminder of a kind and subject that has not been sent, with a reason. One that a
// worker holds is withdrawn too: the worker learns it from Renew. If a server has taken it by then, Mark
// still notes that it was sent.
func (t *tx) Withdraw(kind, subject, reason string) error {
	return t.exec(`UPDATE reminder SET state = 'withdrawn', reason = $4
		WHERE yard_id = $1 AND kind = $2 AND subject = $3 AND state IN ('planned', 'sending')`, t.yard, kind, subject, reason)
}

// PerhapsSent counts reminders planned in a span of time that may have arrived twice or not at all.
func (t *tx) PerhapsSent(from, to time.Time) (int, error) {
	found, err := list(t, func(r row) (n int, err error) { return n, r.Scan(&n) }, `SELECT count(*) FROM reminder
		WHERE yard_id = $1 AND planned_at >= $2 AND planned_at < $3 AND perhaps_sent > 0`, t.yard, ms(from), ms(to))
	if err != nil {
		return 0, err
	}
	return found[0], nil
}

// ReminderByToken finds a reminder of any yard, whatever its state, by the hash of the secret in its links.
func (g gate) ReminderByToken(hash string) (yard tracker.YardID, m care.Reminder, err error) {
	m, err = one(g.t, "message", func(r row) (m care.Reminder, err error) {
		return m, r.Scan(append(reminderFields(&m), &yard)...)
	}, `SELECT `+reminderColumns+`, yard_id FROM reminder WHERE token_hash = $1 AND token_hash <> ''`, hash)
	return yard, m, err
}

// ServerSecret gives a secret of the server by name, keeping fresh when there is none yet.
func (g gate) ServerSecret(name, fresh string) (string, error) {
	if err := g.t.insertNew("name", "server_secret", "name, body", name, fresh); err != nil {
		return "", err
	}
	return one(g.t, "secret", func(r row) (body string, err error) { return body, r.Scan(&body) },
		`SELECT body FROM server_secret WHERE name = $1`, name)
}
