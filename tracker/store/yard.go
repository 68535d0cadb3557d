package store

import (
	"fmt"
	"math"
	"time"

	"leground/tracker"
)

const yardColumns = `yard_id, name, zone, walking_order, leg_words, decimal_mark, ring_name, ring_number, slots,
	spread_um, size_every, made_up, created_at`

// slotJSON is the stored form of a tracker.Slot.
type slotJSON struct {
	Name string              `json:"name"`
	At   tracker.MinuteOfDay `json:"at"`
}

func scanYard(r row) (y tracker.Yard, err error) {
	var slots []slotJSON
	var spread int64
	err = r.Scan(&y.ID, &y.Name, &y.Zone, asCode(&y.Order, tracker.ParseWalkingOrder), &y.LegWords, &y.Mark,
		&y.RingName, &y.RingNumber, asJSON(&slots), &spread, &y.SizeEvery, &y.MadeUp, asInstant(&y.CreatedAt))
	for _, s := range slots {
		y.Slots = append(y.Slots, tracker.Slot(s))
	}
	y.SpreadMM = float64(spread) / 1000
	if err == nil {
		err = checkChoices(y)
	}
	return y, err
}

// checkChoices refuses a yard without a walking order, a decimal mark or words for its legs.
func checkChoices(y tracker.Yard) error {
	if len(y.Order) == 0 {
		return fmt.Errorf("a yard cannot be without a walking order")
	}
	if y.Mark != tracker.Point && y.Mark != tracker.Comma {
		return fmt.Errorf("a yard cannot have the decimal mark %d", int(y.Mark))
	}
	if y.LegWords != tracker.LeftRight && y.LegWords != tracker.NearOff {
		return fmt.Errorf("a yard cannot have the leg words %d", int(y.LegWords))
	}
	return nil
}

func slotsOf(y tracker.Yard) value {
	var slots []slotJSON
	for _, s := range y.Slots {
		slots = append(slots, slotJSON(s))
	}
	return listJSON(slots)
}

// micrometres gives the stored form of a spread.
func micrometres(mm float64) int64 { return int64(math.Round(mm * 1000)) }

// Yard gives the yard of the transaction.
func (t *tx) Yard() (tracker.Yard, error) {
	return one(t, "yard", scanYard, `SELECT `+yardColumns+` FROM yard WHERE yard_id = $1`, t.yard)
}

// SaveYard changes the yard of the transaction.
func (t *tx) SaveYard(y tracker.Yard) error {
	if string(y.ID) != t.yard {
		return missing("yard")
	}
	if err := checkChoices(y); err != nil {
		return err
	}
	return t.change("yard", `UPDATE yard SET name = $2, zone = $3, walking_order = $4, leg_words = $5, decimal_mark = $6,
		ring_name = $7, ring_number = $8, slots = $9, spread_um = $10, size_every = $11, made_up = $12
		WHERE yard_id = $1`,
		t.yard, y.Name, y.Zone, orderOrNone(y.Order), int64(y.LegWords), int64(y.Mark),
		y.RingName, y.RingNumber, slotsOf(y), micrometres(y.SpreadMM), y.SizeEvery, y.MadeUp)
}

// SetWake says when the worker next has something to do for the yard; the zero time means never.
func (t *tx) SetWake(at time.Time) error {
	return t.change("yard", `UPDATE yard SET wake_at = $2 WHERE yard_id = $1`, t.yard, ms(at))
}

// LookedAt tells when the worker last looked for what is due, in any yard.
func (t *tx) LookedAt() (at time.Time, err error) {
	_, err = list(t, func(r row) (none struct{}, err error) { return none, r.Scan(asInstant(&at)) },
		`SELECT at FROM heartbeat WHERE name = 'reminders'`)
	return at, err
}

// AnyYard tells whether there is a yard at all.
func (g gate) AnyYard() (bool, error) {
	found, err := list(g.t, func(r row) (n int, err error) { return n, r.Scan(&n) }, `SELECT 1 FROM yard LIMIT 1`)
	return len(found) > 0, err
}

// AddYard adds a yard, which the worker looks at first thing.
func (g gate) AddYard(y tracker.Yard) error {
	if !tracker.ValidID(string(y.ID)) {
		return fmt.Errorf("%q is not an id that a yard can have", y.ID)
	}
	if err := checkChoices(y); err != nil {
		return err
	}
	return g.t.insert("yard", yardColumns+`, wake_at`,
		string(y.ID), y.Name, y.Zone, orderOrNone(y.Order), int64(y.LegWords), int64(y.Mark), y.RingName, y.RingNumber,
		slotsOf(y), micrometres(y.SpreadMM), y.SizeEvery, y.MadeUp, ms(y.CreatedAt), ms(y.CreatedAt))
}

// YardsToWake lists up to limit yards whose wake time is not after now, earliest first.
func (g gate) YardsToWake(now time.Time, limit int) ([]tracker.YardID, error) {
	return list(g.t, func(r row) (id tracker.YardID, err error) { return id, r.Scan(&id) },
		`SELECT yard_id FROM yard WHERE wake_at > 0 AND wake_at <= $1 ORDER BY wake_at, yard_id LIMIT $2`, ms(now), limit)
}

// SetLookedAt notes when the worker last looked for what is due.
func (g gate) SetLookedAt(at time.Time) error {
	return g.t.exec(`INSERT INTO heartbeat (name, at) VALUES ('reminders', $1) ON CONFLICT (name) DO UPDATE SET at = $1`, ms(at))
}

// LookedAt tells when the worker last looked for what is due.
func (g gate) LookedAt() (time.Time, error) { return g.t.LookedAt() }
