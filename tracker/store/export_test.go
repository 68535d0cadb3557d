package store

import (
	"context"
	"database/sql"
	"sync"
	"testing"
	"time"

	"leground/migrations"
)

// The kind of lock is chosen before the first one is taken, whichever test comes first and opens a file by itself.
func init() {
	if err := lockByDescription(); err != nil {
		panic(err)
	}
}

// Statement is one query that a spied database was given.
type Statement struct {
	Text string
	Args []any
}

// Spy gives the same database with a book in which it notes every query.
func Spy(db *DB) (*DB, *[]Statement) {
	book := &[]Statement{}
	return newDB(spyEngine{db.engine, book, &sync.Mutex{}}, db.file), book
}

type spyEngine struct {
	engine
	book *[]Statement
	mu   *sync.Mutex
}

func (e spyEngine) begin(ctx context.Context, yard string, how access) (session, error) {
	s, err := e.engine.begin(ctx, yard, how)
	return spySession{s, e}, err
}

type spySession struct {
	session
	spyEngine
}

func (s spySession) ask(ctx context.Context, text string, args []any, scan func(row) error) error {
	s.mu.Lock()
	*s.book = append(*s.book, Statement{text, args})
	s.mu.Unlock()
	return s.session.ask(ctx, text, args, scan)
}

// Dialect tells which database db is.
func Dialect(db *DB) migrations.Dialect { return db.dialect() }

// CopyBefore makes the copy that an upgrade makes first.
func (db *DB) CopyBefore(ctx context.Context, have int, now time.Time) error {
	return db.copyBefore(ctx, have, now)
}

// Connection is one connection of a SQLite database's pools.
type Connection struct {
	*sql.Conn
	Reader bool
}

// Connections takes hold of every connection that a SQLite database may have, until the test ends.
func Connections(t testing.TB, db *DB) (all []Connection) {
	e := db.engine.(*sqliteEngine)
	for _, p := range []*pool{e.write, e.read} {
		for range p.Stats().MaxOpenConnections {
			c, err := p.Conn(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { c.Close() })
			all = append(all, Connection{c, p == e.read})
		}
	}
	return all
}

// OnWriter runs a statement on the one connection of a SQLite database that writes.
func OnWriter(db *DB, text string) error {
	_, err := db.engine.(*sqliteEngine).write.Exec(text)
	return err
}
