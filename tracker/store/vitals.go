package store

import (
	"context"
	"time"
)

// Vitals are what the metrics tell of the database, of all yards together.
type Vitals struct {
	LookedAt   time.Time // when the worker last looked for what is due; zero: never
	BackedUpAt time.Time // when the last good backup was made; zero: never
	Due        []DueCount
}

// DueCount is how many reminders are due and have not ended, in one state for one reason.
type DueCount struct {
	State, Reason string
	Count         int64
}

// Vitals reads them. It costs as much as there is due.
func (db *DB) Vitals(ctx context.Context, now time.Time) (v Vitals, err error) {
	err = db.run(ctx, everyYard, reads, func(t *tx) error {
		if v.LookedAt, err = t.beat("reminders"); err != nil {
			return err
		}
		if v.BackedUpAt, err = t.beat("backup"); err != nil {
			return err
		}
		v.Due, err = list(t, func(r row) (d DueCount, err error) { return d, r.Scan(&d.State, &d.Reason, &d.Count) },
			`SELECT state, reason, count(*) FROM reminder WHERE state IN ('planned', 'sending') AND send_at <= $1 GROUP BY state, reason ORDER BY state, reason`, ms(now))
		return err
	})
	return v, err
}

func (t *tx) beat(name string) (at time.Time, err error) {
	_, err = list(t, func(r row) (none struct{}, err error) { return none, r.Scan(asInstant(&at)) }, `SELECT at FROM heartbeat WHERE name = $1`, name)
	return at, err
}

// SetBackedUp notes when a good backup was made.
func (db *DB) SetBackedUp(ctx context.Context, at time.Time) error {
	return db.run(ctx, everyYard, writes, func(t *tx) error {
		return t.exec(`INSERT INTO heartbeat (name, at) VALUES ('backup', $1) ON CONFLICT (name) DO UPDATE SET at = $1`, ms(at))
	})
}
