// Package store keeps a yard's records in SQLite or PostgreSQL. It holds every SQL statement of the
// program, one text for both databases; what differs stands in sqlite.go, postgres.go and dialect.go.
//
// [Open] gives a [DB], which is care's Store. Records are reached only inside a transaction that is
// bound to one yard ([DB.Read], [DB.Write]); yard_id stands in every WHERE, in every key and in every
// reference, and PostgreSQL's row security is a second wall. [DB.Across] is the one door that belongs
// to no yard. The reminders of all yards wait in an outbox ([DB.Claim], [DB.Renew], [DB.Mark]).
//
// Writes of one yard follow one another, on both databases: SQLite has one writer, and PostgreSQL takes
// a lock on the yard. So a use case that reads, decides and writes needs no locks of its own.
//
// An acknowledged write is on the disk: on both databases a write returns when the log is flushed past its
// commit. Writes that come at the same time share a transaction, and with it the flush (lane.go).
package store

import (
	"context"
	"errors"
	"path/filepath"
	"strings"
	"time"

	"leground/migrations"
	"leground/tracker/care"
)

// FileName is the database file in the folder of a yard's data.
const FileName = "leground.db"

// DB is an open database. Its methods may be used by several goroutines at once.
type DB struct {
	engine
	lanes *lanes
	file  string // of SQLite
}

var _ care.Store = (*DB)(nil)

func newDB(e engine, file string) *DB { return &DB{e, &lanes{busy: map[string]*lane{}}, file} }

// engine is one of the two databases.
type engine interface {
	dialect() migrations.Dialect
	// begin starts a transaction bound to a yard, whose name is an id or everyYard.
	begin(ctx context.Context, yard string, how access) (session, error)
	ping(ctx context.Context) error
	close() error
}

// access is what a transaction is for.
type access int

const (
	reads   access = iota + 1
	writes         // waits for the yard's other writes
	works          // writes to rows that a worker holds, or takes hold of, by a token of its own
	glances        // reads of which each may see another state
)

// session is a begun transaction. Its methods take plain values only.
type session interface {
	// ask runs a query and hands each row of its answer to scan, at the latest when answers is called.
	ask(ctx context.Context, text string, args []any, scan func(row) error) error
	// change runs a statement and tells done how many rows it changed, at once or together with later answers;
	// done may be nil. Failures, those of done too, come out of whatever waits for the answer.
	change(ctx context.Context, text string, args []any, done func(rows int64) error) error
	// answers waits for everything that was asked and changed.
	answers(ctx context.Context) error
	// commit ends the transaction and returns when it is on the disk.
	commit(ctx context.Context) error
	// rollback ends the transaction and forgets it.
	rollback()
}

// row is what can be read into variables.
type row interface{ Scan(into ...any) error }

// Open opens a database and brings its schema up to date. Where is a PostgreSQL address such as
// postgres://leground@host/leground, a folder for a file named FileName, or a path of a file that ends
// in .db; a folder and file that are missing are made. An existing file is copied before its schema is
// changed. now is only noted beside the schema steps and in the name of that copy.
func Open(ctx context.Context, where string, now time.Time) (*DB, error) {
	if strings.HasPrefix(where, "postgres://") || strings.HasPrefix(where, "postgresql://") {
		return openPostgres(ctx, where, now)
	}
	file, err := FileIn(where)
	if err != nil {
		return nil, err
	}
	return openSQLite(ctx, file, now)
}

// FileIn gives the absolute path of the SQLite file that Open takes where to mean.
func FileIn(where string) (string, error) {
	if where == "" {
		return "", errors.New("name the folder in which the records are kept")
	}
	if strings.Contains(where, "://") {
		return "", errors.New("the records are kept in a folder or in PostgreSQL, whose address begins with postgres://")
	}
	if !strings.HasSuffix(where, ".db") {
		where = filepath.Join(where, FileName)
	}
	return filepath.Abs(where)
}

// Close closes every connection.
func (db *DB) Close() error { return db.close() }

// Ping tells whether the database answers.
func (db *DB) Ping(ctx context.Context) error { return refusal(db.ping(ctx)) }
