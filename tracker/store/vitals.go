package store

import (
	"context"
	"database/sql"
	"errors"
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

// NoteBackup notes in a database file, or the folder of one, when a good copy of it was made. It works on an
// older schema too, since a copy is made before an upgrade.
func NoteBackup(ctx context.Context, where string, at time.Time) error {
	file, err := FileIn(where)
	if err != nil {
		return err
	}
	if err := lockByDescription(); err != nil {
		return err
	}
	db, err := sql.Open("sqlite", address(file))
	if err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, `INSERT INTO heartbeat (name, at) VALUES ('backup', $1) ON CONFLICT (name) DO UPDATE SET at = $1`, ms(at))
	return errors.Join(err, db.Close())
}
