package store

import (
	"time"

	"leground/tracker"
)

const absenceColumns = `record_id, horse_id, from_on, to_on, why, person_id, at, content_hash`

func scanAbsence(r row) (a tracker.Absence, err error) {
	return a, r.Scan(&a.ID, &a.Horse, asDay(&a.From), asDay(&a.To), &a.Why, &a.By, asInstant(&a.At), &a.Hash)
}

// Absences lists those that reach a day or a later one, by their first day.
func (t *tx) Absences(from tracker.Date) ([]tracker.Absence, error) {
	return list(t, scanAbsence, `SELECT `+absenceColumns+` FROM absence WHERE yard_id = $1 AND to_on = '' OR yard_id = $1 AND to_on >= $2
		ORDER BY from_on, record_id`, t.yard, from.String())
}

// AbsenceByRecord finds one by its form.
func (t *tx) AbsenceByRecord(id tracker.RecordID) (tracker.Absence, error) {
	return one(t, "absence", scanAbsence, `SELECT `+absenceColumns+` FROM absence WHERE yard_id = $1 AND record_id = $2`, t.yard, string(id))
}

// AddAbsence adds one.
func (t *tx) AddAbsence(a tracker.Absence) error {
	return t.insert("absence", `yard_id, `+absenceColumns, t.yard, string(a.ID), string(a.Horse), code("first day", a.From), a.To.String(), a.Why,
		string(a.By), ms(a.At), a.Hash)
}

// EndAbsence sets the last day of one.
func (t *tx) EndAbsence(id tracker.RecordID, last tracker.Date) error {
	return t.change("absence", `UPDATE absence SET to_on = $3 WHERE yard_id = $1 AND record_id = $2`, t.yard, string(id), code("last day", last))
}

const oneOffColumns = `record_id, kind, horse_id, day, at_minute, what, person_id, made_at, settled_at, content_hash`

// anyTime stands for a one-off without a time of day.
const anyTime = -1

func scanOneOff(r row) (o tracker.OneOff, err error) {
	minute := 0
	err = r.Scan(&o.ID, asKnown("one-off", &o.Kind), asWord(&o.Horse), asDay(&o.Day), &minute, &o.What, &o.By, asInstant(&o.MadeAt), asInstant(&o.Settled), &o.Hash)
	if minute != anyTime {
		o.At, o.Timed = tracker.MinuteOfDay(minute), true
	}
	return o, err
}

// OneOffs lists those that stand, and those from a day on that do not, by day and time.
func (t *tx) OneOffs(from tracker.Date) ([]tracker.OneOff, error) {
	return list(t, scanOneOff, `SELECT `+oneOffColumns+` FROM one_off WHERE yard_id = $1 AND day >= $2
		UNION ALL SELECT `+oneOffColumns+` FROM one_off WHERE yard_id = $1 AND settled_at = 0 AND day < $2
		ORDER BY day, at_minute, record_id`, t.yard, from.String())
}

// OneOffByRecord finds one by its form.
func (t *tx) OneOffByRecord(id tracker.RecordID) (tracker.OneOff, error) {
	return one(t, "one-off", scanOneOff, `SELECT `+oneOffColumns+` FROM one_off WHERE yard_id = $1 AND record_id = $2`, t.yard, string(id))
}

// AddOneOff adds one.
func (t *tx) AddOneOff(o tracker.OneOff) error {
	minute := anyTime
	if o.Timed {
		minute = int(o.At)
	}
	return t.insert("one_off", `yard_id, `+oneOffColumns, t.yard, string(o.ID), known("one-off", o.Kind), orNull(o.Horse), code("day", o.Day), minute, o.What,
		string(o.By), ms(o.MadeAt), ms(o.Settled), o.Hash)
}

// SettleOneOff notes when one was done or called off; the zero time lets it stand again.
func (t *tx) SettleOneOff(id tracker.RecordID, at time.Time) error {
	return t.change("one-off", `UPDATE one_off SET settled_at = $3 WHERE yard_id = $1 AND record_id = $2`, t.yard, string(id), ms(at))
}

const tickColumns = `record_id, outcome, items, day, slot, of_record, why, person_id, at, content_hash`

func scanTick(r row) (o tracker.TickOff, err error) {
	return o, r.Scan(&o.ID, asKnown("outcome of a tick", &o.Outcome), asJSON(&o.Items), asDay(&o.Day), &o.Slot, &o.Of, &o.Why, &o.By, asInstant(&o.At), &o.Hash)
}

// TickOffs lists the ticks of what was due from a day on, and those of any time of a day from an earlier day
// on, oldest first.
func (t *tx) TickOffs(from, anyTimeFrom tracker.Date) ([]tracker.TickOff, error) {
	return list(t, scanTick, `SELECT `+tickColumns+` FROM tick_off WHERE yard_id = $1 AND day >= $2
		UNION ALL SELECT `+tickColumns+` FROM tick_off WHERE yard_id = $1 AND day >= $3 AND day < $2 AND slot = ''
		ORDER BY at, record_id`, t.yard, from.String(), anyTimeFrom.String())
}

// TickOffByRecord finds a tick by its form.
func (t *tx) TickOffByRecord(id tracker.RecordID) (tracker.TickOff, error) {
	return one(t, "tick", scanTick, `SELECT `+tickColumns+` FROM tick_off WHERE yard_id = $1 AND record_id = $2`, t.yard, string(id))
}

// AddTickOff adds a tick.
func (t *tx) AddTickOff(o tracker.TickOff) error {
	return t.insert("tick_off", `yard_id, `+tickColumns, t.yard, string(o.ID), known("outcome of a tick", o.Outcome), listJSON(o.Items), code("day", o.Day), o.Slot,
		string(o.Of), o.Why, string(o.By), ms(o.At), o.Hash)
}
