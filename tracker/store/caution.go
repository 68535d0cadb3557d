package store

import (
	"slices"
	"time"

	"leground/tracker"
)

const cautionColumns = `c.caution_id, c.rule, c.level, c.horse_id, c.leg, c.site_id, c.seen, c.why, c.next_step, c.numbers,
	c.check_id, c.later, c.raised_at`

func scanCaution(r row) (c tracker.Caution, err error) {
	var later []sightingJSON
	err = r.Scan(&c.ID, &c.Rule, asCode(&c.Level, tracker.ParseLevel), &c.Horse, asCode(&c.Leg, tracker.ParseLeg), asWord(&c.Site),
		&c.Seen, &c.Why, &c.Next, asJSON(&c.Numbers), &c.Check, asJSON(&later), asInstant(&c.Raised))
	for _, s := range later {
		c.Later = append(c.Later, tracker.Sighting(s))
	}
	return c, err
}

// sightingJSON is how a sighting is stored.
type sightingJSON struct {
	Seen    string            `json:"seen"`
	Numbers map[string]string `json:"numbers"`
	Check   tracker.RecordID  `json:"check,omitempty"`
}

func sightingsJSON(all []tracker.Sighting) value {
	out := make([]sightingJSON, len(all))
	for i, s := range all {
		out[i] = sightingJSON(s)
	}
	return asJSONText(out)
}

// cautions reads the cautions that a condition picks, in an order, and their acts with a second query.
func (t *tx) cautions(condition, order string, args ...any) ([]tracker.Caution, error) {
	found, err := list(t, scanCaution, `SELECT `+cautionColumns+` FROM caution c WHERE c.yard_id = $1`+condition+` ORDER BY `+order, args...)
	if err != nil || len(found) == 0 {
		return nil, err
	}
	place := make(map[tracker.CautionID]int, len(found))
	for i, c := range found {
		place[c.ID] = i
	}
	_, err = list(t, func(r row) (none struct{}, err error) {
		var of tracker.CautionID
		var a tracker.CautionAct
		err = r.Scan(&of, &a.ID, asCode(&a.Kind, tracker.ParseCautionActKind), asInstant(&a.At), &a.By, asInstant(&a.Until), &a.Note)
		if i, ok := place[of]; ok && err == nil {
			found[i].Acts = append(found[i].Acts, a)
		}
		return none, err
	}, `SELECT a.caution_id, a.record_id, a.kind, a.at, a.person_id, a.until, a.note
		FROM caution c CROSS JOIN caution_act a
		WHERE c.yard_id = $1`+condition+` AND a.yard_id = c.yard_id AND a.caution_id = c.caution_id ORDER BY a.at, a.record_id`, args...)
	return found, err
}

// OpenCautions lists those that are not closed, most urgent first, then oldest; with their acts.
func (t *tx) OpenCautions() ([]tracker.Caution, error) {
	return t.cautions(` AND c.closed_at = 0`,
		`CASE c.level WHEN 'ring-now' THEN 1 WHEN 'ring-today' THEN 2 ELSE 3 END, c.raised_at, c.caution_id`, t.yard)
}

// CautionsSince lists those raised from an instant on, of one horse or of every horse, newest first; with their acts.
func (t *tx) CautionsSince(horse tracker.HorseID, since time.Time) ([]tracker.Caution, error) {
	narrow, args := ofHorse("c.horse_id", horse, []any{t.yard, ms(since)})
	return t.cautions(` AND c.raised_at >= $2`+narrow, `c.raised_at DESC, c.caution_id DESC`, args...)
}

// Caution finds a caution, with its acts.
func (t *tx) Caution(id tracker.CautionID) (tracker.Caution, error) {
	found, err := t.cautions(` AND c.caution_id = $2`, `c.raised_at`, t.yard, string(id))
	if err == nil && len(found) == 0 {
		err = missing("caution")
	}
	if err != nil {
		return tracker.Caution{}, err
	}
	return found[0], nil
}

// AddCaution adds a caution and the acts that it comes with.
func (t *tx) AddCaution(c tracker.Caution) error {
	err := t.insert("caution", `yard_id, caution_id, rule, level, horse_id, leg, site_id, seen, why, next_step, numbers, check_id,
		later, raised_at, closed_at`,
		t.yard, string(c.ID), c.Rule, code("level", c.Level), string(c.Horse), codeOrNone("leg", c.Leg), orNull(c.Site), c.Seen, c.Why,
		c.Next, mapJSON(c.Numbers), string(c.Check), sightingsJSON(c.Later), ms(c.Raised), 0)
	for _, act := range c.Acts {
		if err == nil {
			err = t.AddAct(c.ID, act, false)
		}
	}
	return err
}

// AddAct keeps an act and notes when it closed the caution; the same act id twice is one act.
func (t *tx) AddAct(caution tracker.CautionID, a tracker.CautionAct, closes bool) error {
	err := t.insertNew("yard_id, record_id", "caution_act", `yard_id, record_id, caution_id, kind, at, person_id, until, note`,
		t.yard, string(a.ID), string(caution), code("act", a.Kind), ms(a.At), string(a.By), ms(a.Until), a.Note)
	if err != nil {
		return err
	}
	closedAt := int64(0)
	if closes {
		closedAt = ms(a.At)
	}
	// This changes nothing in a caution that is closed, but it must find one that has the act.
	return t.change("act on this caution", `UPDATE caution SET closed_at = CASE WHEN closed_at = 0 THEN $3 ELSE closed_at END
		WHERE yard_id = $1 AND caution_id = $2 AND EXISTS
			(SELECT 1 FROM caution_act a WHERE a.yard_id = $1 AND a.record_id = $4 AND a.caution_id = $2)`,
		t.yard, string(caution), closedAt, string(a.ID))
}

// AddSighting keeps what else met a caution that is open, after everything that it shows already.
func (t *tx) AddSighting(c tracker.Caution, s tracker.Sighting) error {
	return t.change("caution", `UPDATE caution SET later = $3 WHERE yard_id = $1 AND caution_id = $2`, t.yard, string(c.ID),
		sightingsJSON(append(slices.Clip(c.Later), s)))
}

// RaiseLevel lets a caution become more urgent.
func (t *tx) RaiseLevel(caution tracker.CautionID, level tracker.Level) error {
	return t.change("caution", `UPDATE caution SET level = $3 WHERE yard_id = $1 AND caution_id = $2`,
		t.yard, string(caution), code("level", level))
}
