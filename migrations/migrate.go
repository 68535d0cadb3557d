// Package migrations holds the database schema as numbered steps, NNNN_name.sql, and brings a database
// up to the newest of them.
//
// A step is one text for SQLite and PostgreSQL. Where PostgreSQL has more, such as row security,
// NNNN_name.postgres.sql beside it runs after it in the same transaction, on PostgreSQL only. Steps go
// forward only, and one that has been released is never edited: the database keeps the SHA-256 of each
// step it was given, and Run refuses a database that was given another text. The schema that results
// is kept under schema/, for reading and for the test.
package migrations

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"embed"
	"encoding/hex"
	"fmt"
	"io/fs"
	"regexp"
	"strconv"
	"time"
)

// Dialect says which database a handle leads to.
type Dialect int

// The two databases.
const (
	SQLite Dialect = iota + 1
	PostgreSQL
)

//go:embed *.sql
var files embed.FS

// Files gives the steps that are built into this program.
func Files() fs.FS { return files }

// Run applies the steps that db lacks, each in a transaction of its own, and tells how many that were.
// What Applied refuses, it refuses too, before any change. Several processes may run it at once on the
// same database; for SQLite db must begin its transactions as immediate ones (_txlock=immediate).
func Run(ctx context.Context, db *sql.DB, d Dialect, now time.Time) (int, error) {
	return RunFiles(ctx, db, d, files, now)
}

// RunFiles is Run with other steps than the built-in ones, for tests of the runner and of upgrades.
func RunFiles(ctx context.Context, db *sql.DB, d Dialect, from fs.FS, now time.Time) (int, error) {
	steps, err := load(from, d)
	if err != nil {
		return 0, err
	}
	// Read before writing, so that an up-to-date database is left alone, even a read-only one.
	have, err := applied(ctx, db, d, steps)
	ours := 0
	for err == nil && have < len(steps) {
		var done bool
		if have, done, err = advance(ctx, db, d, steps, now); done {
			ours++
		}
	}
	return ours, err
}

// Applied tells how many steps db has been given, 0 for an empty one, and changes nothing. It refuses
// a database with a step this program does not have, or had in other words.
func Applied(ctx context.Context, db *sql.DB, d Dialect) (int, error) {
	steps, err := load(files, d)
	if err != nil {
		return 0, err
	}
	return applied(ctx, db, d, steps)
}

// Latest gives the number of the newest built-in step.
func Latest() (int, error) {
	steps, err := load(files, SQLite)
	return len(steps), err
}

// step is one step as one database gets it.
type step struct {
	name  string
	sum   string   // SHA-256 of all its text, hexadecimal
	files []string // the names of its files, in order
	texts []string
}

var fileName = regexp.MustCompile(`^([0-9]{4})_([a-z0-9_]+)(\.postgres)?\.sql$`)

// load reads the steps for a database; steps[i] has number i+1.
func load(from fs.FS, d Dialect) ([]step, error) {
	if d != SQLite && d != PostgreSQL {
		return nil, fmt.Errorf("migrations: no such dialect: %d", d)
	}
	names, err := fs.Glob(from, "*.sql") // sorted, and x.postgres.sql sorts before x.sql
	if err != nil {
		return nil, err
	}
	var steps []step
	for _, name := range names {
		part := fileName.FindStringSubmatch(name)
		if part == nil {
			return nil, fmt.Errorf("migrations: %s is not named like 0001_start.sql or 0001_start.postgres.sql", name)
		}
		if part[3] != "" {
			if _, err := fs.Stat(from, part[1]+"_"+part[2]+".sql"); err != nil {
				return nil, fmt.Errorf("migrations: %s has no common step beside it: %w", name, err)
			}
			continue
		}
		if number, _ := strconv.Atoi(part[1]); number != len(steps)+1 {
			return nil, fmt.Errorf("migrations: %s stands where step %04d is due", name, len(steps)+1)
		}
		s := step{name: part[2], files: []string{name}}
		if more := part[1] + "_" + part[2] + ".postgres.sql"; d == PostgreSQL {
			if _, err := fs.Stat(from, more); err == nil {
				s.files = append(s.files, more)
			}
		}
		if err := s.read(from); err != nil {
			return nil, err
		}
		steps = append(steps, s)
	}
	return steps, nil
}

func (s *step) read(from fs.FS) error {
	sum := sha256.New()
	for _, name := range s.files {
		text, err := fs.ReadFile(from, name)
		if err != nil {
			return err
		}
		sum.Write(text)
		s.texts = append(s.texts, string(text))
	}
	s.sum = hex.EncodeToString(sum.Sum(nil))
	return nil
}

// queryer is what a database and a transaction have in common here.
type queryer interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// applied counts the steps that the database was given and holds each against ours.
func applied(ctx context.Context, q queryer, d Dialect, steps []step) (int, error) {
	tables := "SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name = 'schema_step'"
	if d == PostgreSQL {
		tables = "SELECT count(*) FROM pg_tables WHERE schemaname = current_schema() AND tablename = 'schema_step'"
	}
	var found int
	if err := q.QueryRowContext(ctx, tables).Scan(&found); err != nil || found == 0 {
		return 0, err
	}
	rows, err := q.QueryContext(ctx, "SELECT number, name, sha256, applied_at FROM schema_step ORDER BY number")
	if err != nil {
		return 0, err
	}
	defer rows.Close()
	n := 0
	for ; rows.Next(); n++ {
		var number int
		var at int64
		var name, sum string
		if err := rows.Scan(&number, &name, &sum, &at); err != nil {
			return 0, err
		}
		when := time.UnixMilli(at).UTC().Format("2006-01-02")
		switch {
		case number > len(steps):
			return 0, fmt.Errorf("this database was last used by a newer version: it got schema step %04d (%s) on %s, and this program ends at step %04d. "+
				"Run that newer version, or restore a backup made before %s", number, name, when, len(steps), when)
		case number != n+1:
			return 0, fmt.Errorf("this database's list of schema steps is damaged: step %04d is not in it. Restore a backup", n+1)
		case sum != steps[n].sum:
			return 0, fmt.Errorf("schema step %04d (%s) was given to this database on %s in other words than this program has. "+
				"Run the version that was used on that day, or restore a backup made before it", number, name, when)
		}
	}
	return n, rows.Err()
}

const stepTable = `CREATE TABLE IF NOT EXISTS schema_step (
	number     BIGINT PRIMARY KEY,
	name       TEXT NOT NULL,
	sha256     TEXT NOT NULL,
	applied_at BIGINT NOT NULL
)`

// advance applies the next step, if another process has not been quicker, and tells how many the
// database has then and whether one was done here. SQLite's immediate transaction lets in one process at a time; PostgreSQL needs a lock that
// exists before the first table does, so it is an advisory one. Its number only has to be our own.
func advance(ctx context.Context, db *sql.DB, d Dialect, steps []step, now time.Time) (have int, done bool, err error) {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return 0, false, err
	}
	defer tx.Rollback() // after a commit it does nothing
	if d == PostgreSQL {
		// LEGROUND on a telephone's keys.
		if _, err := tx.ExecContext(ctx, "SELECT pg_advisory_xact_lock(53476863)"); err != nil {
			return 0, false, err
		}
	}
	if _, err := tx.ExecContext(ctx, stepTable); err != nil {
		return 0, false, err
	}
	have, err = applied(ctx, tx, d, steps)
	if err != nil || have == len(steps) {
		return have, false, err
	}
	next := steps[have]
	for i, text := range next.texts {
		// Without arguments both drivers take several statements at once.
		if _, err := tx.ExecContext(ctx, text); err != nil {
			return have, false, fmt.Errorf("schema step %s: %w", next.files[i], err)
		}
	}
	if _, err := tx.ExecContext(ctx, "INSERT INTO schema_step (number, name, sha256, applied_at) VALUES ($1, $2, $3, $4)",
		have+1, next.name, next.sum, now.UnixMilli()); err != nil {
		return have, false, err
	}
	if err := tx.Commit(); err != nil {
		return have, false, err
	}
	return have + 1, true, nil
}
