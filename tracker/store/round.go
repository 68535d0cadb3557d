package store

import (
	"leground/tracker"
	"leground/tracker/care"
)

const roundColumns = `yard_id, day, slot, due_at, use_by, state, reason`

const selectRounds = `SELECT day, slot, due_at, use_by, state, reason FROM round
	WHERE yard_id = $1 AND day >= $2 AND day <= $3 ORDER BY due_at, day, slot`

func scanRound(r row) (o tracker.Round, err error) {
	return o, r.Scan(asDay(&o.Day), &o.Slot, asInstant(&o.DueAt), asInstant(&o.UseBy), asCode(&o.State, tracker.ParseRoundState), &o.Reason)
}

// Rounds lists the rounds of a span of days, both included, by due time.
func (t *tx) Rounds(from, to tracker.Date) ([]tracker.Round, error) {
	return list(t, scanRound, selectRounds, t.yard, from.String(), to.String())
}

// AddRound adds a round unless it is there already.
func (t *tx) AddRound(o tracker.Round) error {
	return t.insertNew("yard_id, day, slot", "round", roundColumns,
		t.yard, code("day", o.Day), o.Slot, ms(o.DueAt), ms(o.UseBy), code("round state", o.State), o.Reason)
}

// SaveRound changes a round.
func (t *tx) SaveRound(o tracker.Round) error {
	return t.change("round", `UPDATE round SET due_at = $4, use_by = $5, state = $6, reason = $7
		WHERE yard_id = $1 AND day = $2 AND slot = $3`,
		t.yard, code("day", o.Day), o.Slot, ms(o.DueAt), ms(o.UseBy), code("round state", o.State), o.Reason)
}

// AddAudit adds a line about a change. Lines are never changed.
func (t *tx) AddAudit(a care.Audit) error {
	return t.insert("audit", `yard_id, audit_id, at, person_id, device, action, subject, detail`,
		t.yard, a.ID, ms(a.At), string(a.By), a.Device, a.Action, a.Subject, a.Detail)
}
