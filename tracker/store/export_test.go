package store

import (
	"context"
	"sync"
	"time"

	"leground/migrations"
)

// Statement is one query that a spied database was given.
type Statement struct {
	Text string
	Args []any
}

// Spy gives the same database with a book in which it notes every query.
func Spy(db *DB) (*DB, *[]Statement) {
	book := &[]Statement{}
	return &DB{spyEngine{db.engine, book, &sync.Mutex{}}, db.file}, book
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

func (s spySession) query(text string, args []any, scan func(row) error) error {
	s.mu.Lock()
	*s.book = append(*s.book, Statement{text, args})
	s.mu.Unlock()
	return s.session.query(text, args, scan)
}

// Dialect tells which database db is.
func Dialect(db *DB) migrations.Dialect { return db.dialect() }

// CopyBefore makes the copy that an upgrade makes first.
func (db *DB) CopyBefore(ctx context.Context, have int, now time.Time) error {
	return db.copyBefore(ctx, have, now)
}
