package store

import (
	"fmt"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

// spanJSON is the stored form of days away, and of a closing with its reason.
type spanJSON struct {
	From string `json:"from"`
	To   string `json:"to,omitempty"`
	Why  string `json:"why,omitempty"`
}

func spanOf(s care.Span, why string) spanJSON { return spanJSON{s.From.String(), s.To.String(), why} }

func (s spanJSON) read() (out care.Span, err error) {
	if out.From, err = tracker.ParseDate(s.From); err == nil && s.To != "" {
		out.To, err = tracker.ParseDate(s.To)
	}
	return out, err
}

// minutes gives the stored form of a length; one that stands for something else than a length is -1.
func minutes(d time.Duration) int64 {
	if d < 0 {
		return -1
	}
	return int64(d / time.Minute)
}

func asMinutes(to *time.Duration) reader {
	return func(src any) error {
		n, ok := src.(int64)
		if !ok {
			return fmt.Errorf("%v is not stored minutes", src)
		}
		if *to = time.Duration(n) * time.Minute; n < 0 {
			*to = -1
		}
		return nil
	}
}

// Contacts lists the owners and carers who are in the yard, in the order in which they joined.
func (t *tx) Contacts() ([]care.Contact, error) {
	return list(t, scanContact, `SELECT p.person_id, p.name, p.email, m.role, m.joined_at, coalesce(c.channels, '[]'), coalesce(c.quiet_from, 0),
			coalesce(c.quiet_to, 0), coalesce(c.away, '[]'), coalesce(c.names, FALSE), coalesce(c.alarm_minutes, 0),
			coalesce(c.mail_stopped_at, 0), coalesce(c.changed_at, 0), coalesce(b.days, 0), coalesce(b.since, '')
		FROM member m JOIN person p ON p.person_id = m.person_id
		LEFT JOIN reminder_choice c ON c.yard_id = m.yard_id AND c.person_id = m.person_id
		LEFT JOIN (SELECT person_id, address, count(*) AS days, min(day) AS since FROM bad_address WHERE yard_id = $1 GROUP BY person_id, address) b
			ON b.person_id = m.person_id AND b.address = p.email
		WHERE m.yard_id = $1 AND m.left_at = 0 AND m.role IN ('owner', 'carer') ORDER BY m.joined_at, p.person_id`, t.yard)
}

func scanContact(r row) (c care.Contact, err error) {
	var away []spanJSON
	err = r.Scan(&c.ID, &c.Name, &c.Email, asCode(&c.Role, tracker.ParseRole), asInstant(&c.Joined), asJSON(&c.Channels), &c.Quiet.From,
		&c.Quiet.To, asJSON(&away), &c.Names, asMinutes(&c.Alarm), asInstant(&c.MailStopped), asInstant(&c.Changed), &c.BadDays, asDay(&c.BadSince))
	for _, stored := range away {
		span, e := stored.read()
		if e != nil {
			return c, e
		}
		c.Away = append(c.Away, span)
	}
	return c, err
}

// SaveChoice keeps what a member chose.
func (t *tx) SaveChoice(person tracker.PersonID, c care.Choice) error {
	var away []spanJSON
	for _, span := range c.Away {
		away = append(away, spanOf(span, ""))
	}
	return t.exec(`INSERT INTO reminder_choice (yard_id, person_id, channels, quiet_from, quiet_to, away, names, alarm_minutes, mail_stopped_at, changed_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)
		ON CONFLICT (yard_id, person_id) DO UPDATE SET channels = excluded.channels, quiet_from = excluded.quiet_from, quiet_to = excluded.quiet_to,
			away = excluded.away, names = excluded.names, alarm_minutes = excluded.alarm_minutes, mail_stopped_at = excluded.mail_stopped_at,
			changed_at = excluded.changed_at`,
		t.yard, string(person), listJSON(c.Channels), int64(c.Quiet.From), int64(c.Quiet.To), listJSON(away), c.Names, minutes(c.Alarm),
		ms(c.MailStopped), ms(c.Changed))
}

const wayColumns = `way_id, person_id, account, body, name, session_id, made_at, proved_at`

// Ways lists the ways of everybody, newest first, without phones that are signed out.
func (t *tx) Ways() ([]care.Way, error) {
	return list(t, func(r row) (w care.Way, err error) {
		return w, r.Scan(&w.ID, &w.Person, &w.Account, &w.Body, &w.Name, &w.Session, asInstant(&w.Made), asInstant(&w.Proved))
	}, `SELECT `+wayColumns+` FROM way WHERE yard_id = $1 AND (session_id = '' OR EXISTS
			(SELECT 1 FROM session s WHERE s.session_id = way.session_id AND s.yard_id = $1 AND s.ended_at = 0))
		ORDER BY made_at DESC, way_id DESC`, t.yard)
}

// AddWay adds a way of a member.
func (t *tx) AddWay(w care.Way) error {
	return t.insert("way", "yard_id, "+wayColumns, t.yard, w.ID, string(w.Person), w.Account, w.Body, w.Name, w.Session, ms(w.Made), ms(w.Proved))
}

// SaveWay keeps another body, name and proof of a way.
func (t *tx) SaveWay(w care.Way) error {
	return t.change("address", `UPDATE way SET body = $3, name = $4, proved_at = $5 WHERE yard_id = $1 AND way_id = $2`,
		t.yard, w.ID, w.Body, w.Name, ms(w.Proved))
}

// DropWay forgets a way.
func (t *tx) DropWay(id string) error {
	return t.change("address", `DELETE FROM way WHERE yard_id = $1 AND way_id = $2`, t.yard, id)
}

// AddBadDay notes a day on which a mail server said that there is no such address.
func (t *tx) AddBadDay(person tracker.PersonID, address string, day tracker.Date) error {
	return t.insertNew("yard_id, person_id, address, day", "bad_address", `yard_id, person_id, address, day`,
		t.yard, string(person), address, day.String())
}

// ClearBadDays forgets a person's.
func (t *tx) ClearBadDays(person tracker.PersonID) error {
	return t.exec(`DELETE FROM bad_address WHERE yard_id = $1 AND person_id = $2`, t.yard, string(person))
}

// ReminderRules gives the yard's rules; found is false when it has made none.
func (t *tx) ReminderRules() (rules care.ReminderRules, found bool, err error) {
	var closed []spanJSON
	rows, err := list(t, func(r row) (none struct{}, err error) {
		return none, r.Scan(asMinutes(&rules.Ladder.First), asMinutes(&rules.Ladder.Nudge), asMinutes(&rules.Ladder.Second), &rules.Budget,
			asJSON(&rules.Turns), asJSON(&closed))
	}, `SELECT first_after, nudge_after, second_after, budget, turns, closed FROM reminder_rule WHERE yard_id = $1`, t.yard)
	for _, stored := range closed {
		span, e := stored.read()
		if e != nil {
			return rules, false, e
		}
		rules.Closed = append(rules.Closed, care.Closing{Span: span, Why: stored.Why})
	}
	return rules, len(rows) > 0, err
}

// SaveReminderRules keeps the yard's rules.
func (t *tx) SaveReminderRules(rules care.ReminderRules) error {
	var closed []spanJSON
	for _, c := range rules.Closed {
		closed = append(closed, spanOf(c.Span, c.Why))
	}
	return t.exec(`INSERT INTO reminder_rule (yard_id, first_after, nudge_after, second_after, budget, turns, closed) VALUES ($1, $2, $3, $4, $5, $6, $7)
		ON CONFLICT (yard_id) DO UPDATE SET first_after = excluded.first_after, nudge_after = excluded.nudge_after,
			second_after = excluded.second_after, budget = excluded.budget, turns = excluded.turns, closed = excluded.closed`,
		t.yard, minutes(rules.Ladder.First), minutes(rules.Ladder.Nudge), minutes(rules.Ladder.Second), rules.Budget, mapJSON(rules.Turns), listJSON(closed))
}

// Presses lists those from an instant on, oldest first.
func (t *tx) Presses(since time.Time) ([]care.Press, error) {
	return list(t, func(r row) (p care.Press, err error) {
		return p, r.Scan(&p.ID, &p.Person, &p.Subject, &p.Kind, asMinutes(&p.For), asInstant(&p.At))
	}, `SELECT press_id, person_id, subject, kind, minutes, at FROM press WHERE yard_id = $1 AND at >= $2 ORDER BY at, press_id`, t.yard, ms(since))
}

// AddPress keeps a press; the same id twice is one.
func (t *tx) AddPress(p care.Press) error {
	return t.insertNew("yard_id, press_id", "press", `yard_id, press_id, person_id, subject, kind, minutes, at`,
		t.yard, p.ID, string(p.Person), p.Subject, string(p.Kind), minutes(p.For), ms(p.At))
}

// RoundChanges lists what the yard's rounds were before, oldest first.
func (t *tx) RoundChanges() ([]care.RoundChange, error) {
	return list(t, func(r row) (c care.RoundChange, err error) {
		var slots []slotJSON
		err = r.Scan(asInstant(&c.At), &c.Zone, asJSON(&slots))
		for _, s := range slots {
			c.Slots = append(c.Slots, tracker.Slot(s))
		}
		return c, err
	}, `SELECT at, zone, slots FROM round_change WHERE yard_id = $1 ORDER BY number`, t.yard)
}

// AddRoundChange adds one.
func (t *tx) AddRoundChange(c care.RoundChange) error {
	return t.exec(`INSERT INTO round_change (yard_id, number, at, zone, slots)
		SELECT $1, coalesce(max(number), 0) + 1, $2, $3, $4 FROM round_change WHERE yard_id = $1`,
		t.yard, ms(c.At), c.Zone, slotsOf(tracker.Yard{Slots: c.Slots}))
}

// WakeAt tells when the worker next has something to do for the yard; the zero time means never.
func (t *tx) WakeAt() (time.Time, error) {
	return one(t, "yard", func(r row) (at time.Time, err error) { return at, r.Scan(asInstant(&at)) },
		`SELECT wake_at FROM yard WHERE yard_id = $1`, t.yard)
}

// WakeBy makes the worker look at an instant at the latest; the zero time changes nothing.
func (t *tx) WakeBy(at time.Time) error {
	if at.IsZero() {
		return nil
	}
	return t.exec(`UPDATE yard SET wake_at = $2 WHERE yard_id = $1 AND (wake_at = 0 OR wake_at > $2)`, t.yard, ms(at))
}
