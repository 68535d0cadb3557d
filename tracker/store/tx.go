package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"math/rand/v2"
	"strconv"
	"strings"
	"time"

	"leground/migrations"
	"leground/tracker"
	"leground/tracker/care"
)

// How often a write is tried when something stands in its way, and how long it waits before the second
// try; each later wait is twice as long.
const (
	mostTries = 5
	firstWait = 5 * time.Millisecond
)

// Read runs do in a transaction of one yard that changes nothing and sees one state throughout.
func (db *DB) Read(ctx context.Context, yard tracker.YardID, do func(care.Tx) error) error {
	return db.inYard(yard, func(name string) error {
		return db.run(ctx, name, reads, func(t *tx) error { return do(t) })
	})
}

// Write runs do in a transaction of one yard and makes it durable. Writes of one yard follow one
// another. It runs do again when the database asks for it.
func (db *DB) Write(ctx context.Context, yard tracker.YardID, do func(care.Tx) error) error {
	return db.inYard(yard, func(name string) error {
		return db.run(ctx, name, writes, func(t *tx) error { return do(t) })
	})
}

// Across runs do in a transaction that belongs to no yard. Those that write follow one another.
func (db *DB) Across(ctx context.Context, do func(care.Gate) error) error {
	return db.run(ctx, everyYard, writes, func(t *tx) error { return do(gate{t}) })
}

// AcrossRead is Across for reading only; it waits for no writer.
func (db *DB) AcrossRead(ctx context.Context, do func(care.Gate) error) error {
	return db.run(ctx, everyYard, reads, func(t *tx) error { return do(gate{t}) })
}

// inYard refuses a name that can be no yard's, among them the one that stands for every yard.
func (db *DB) inYard(yard tracker.YardID, do func(name string) error) error {
	if !tracker.ValidID(string(yard)) {
		return missing("yard")
	}
	return do(string(yard))
}

// run tries a transaction until it is through, something else than bad luck stops it, or its tries are
// used up. A connection that broke before the commit left nothing behind, so it is bad luck too.
func (db *DB) run(ctx context.Context, yard string, how access, do func(*tx) error) error {
	wait := firstWait
	for try := 1; ; try++ {
		committing, err := db.once(ctx, yard, how, do)
		if err == nil || try == mostTries || !db.again(err, committing, try) {
			return db.refusal(err)
		}
		select {
		case <-ctx.Done():
			return db.refusal(err)
		case <-time.After(wait + rand.N(wait)):
			wait *= 2
		}
	}
}

// again tells whether the same transaction may go well when tried once more. On PostgreSQL a key that
// is taken may have been taken since do looked, by something outside the yard's lock; so it looks again.
func (db *DB) again(err error, committing bool, try int) bool {
	switch troubleOf(err) {
	case busy:
		return true
	case lost:
		return !committing && db.dialect == migrations.PostgreSQL
	case taken:
		return try == 1 && db.dialect == migrations.PostgreSQL
	}
	return false
}

// once runs one transaction. committing tells that the error came from the commit itself.
func (db *DB) once(ctx context.Context, yard string, how access, do func(*tx) error) (committing bool, err error) {
	began, err := db.begin(ctx, yard, how)
	if err != nil {
		return false, err
	}
	done := false
	defer func() {
		if !done { // do failed or panicked
			if e := began.Rollback(); e != nil && !errors.Is(e, sql.ErrTxDone) {
				err = errors.Join(err, e)
			}
		}
	}()
	t := &tx{ctx: ctx, sql: began, pool: db.read, yard: yard, counts: countsIn(ctx)}
	if how != reads {
		t.pool = db.write
	}
	t.counts.add(1, 0, 0)
	if err := do(t); err != nil {
		return false, err
	}
	done = true
	if err := began.Commit(); err != nil {
		return true, err
	}
	// The work is done: a statement that cannot be prepared now is prepared another time.
	_ = t.pool.prepare(ctx, t.fresh)
	return true, nil
}

// tx is one transaction of one yard, or of none.
type tx struct {
	ctx    context.Context
	sql    *sql.Tx
	pool   *pool
	yard   string
	fresh  []string // texts that no connection has prepared yet
	counts *Counts
}

// row is what can be read into variables.
type row interface{ Scan(into ...any) error }

// statement gives the prepared form of text in this transaction, nil when there is none. A text that is
// new to the pool is noted and prepared after the transaction, whose connection may be the only one.
func (t *tx) statement(text string) *sql.Stmt {
	if t.pool.prepared == nil {
		return nil
	}
	kept, ok := t.pool.prepared.Load(text)
	if !ok {
		t.fresh = append(t.fresh, text)
		return nil
	}
	return t.sql.StmtContext(t.ctx, kept.(*sql.Stmt))
}

// prepare keeps statements of the texts ready on each of the pool's connections.
func (p *pool) prepare(ctx context.Context, texts []string) error {
	for _, text := range texts {
		stmt, err := p.PrepareContext(ctx, text)
		if err != nil {
			return err
		}
		if _, had := p.prepared.LoadOrStore(text, stmt); had {
			if err := stmt.Close(); err != nil {
				return err
			}
		}
	}
	return nil
}

// exec runs a statement and tells how many rows it changed.
func (t *tx) exec(text string, args ...any) (int64, error) {
	args, err := plain(args)
	if err != nil {
		return 0, err
	}
	t.counts.add(0, 1, 0)
	var result sql.Result
	if stmt := t.statement(text); stmt != nil {
		result, err = stmt.ExecContext(t.ctx, args...)
	} else {
		result, err = t.sql.ExecContext(t.ctx, text, args...)
	}
	if err != nil {
		return 0, err
	}
	return result.RowsAffected()
}

// change runs a statement that must change something: else there is no such thing in the yard.
func (t *tx) change(what, text string, args ...any) error {
	n, err := t.exec(text, args...)
	if err == nil && n == 0 {
		err = missing(what)
	}
	return err
}

// insert adds a row of the named columns, which are as many as args.
func (t *tx) insert(table, columns string, args ...any) error {
	_, err := t.exec("INSERT INTO "+table+" ("+columns+") VALUES ("+places(len(args))+")", args...)
	return err
}

// insertNew is insert for a row that may be there already, by the key named: then nothing changes.
func (t *tx) insertNew(key, table, columns string, args ...any) (added bool, err error) {
	n, err := t.exec("INSERT INTO "+table+" ("+columns+") VALUES ("+places(len(args))+") ON CONFLICT ("+key+") DO NOTHING", args...)
	return n > 0, err
}

// places writes $1, $2, ... up to n.
func places(n int) string {
	var text strings.Builder
	for i := 1; i <= n; i++ {
		if i > 1 {
			text.WriteString(", ")
		}
		text.WriteString("$" + strconv.Itoa(i))
	}
	return text.String()
}

// list reads every row of a query.
func list[T any](t *tx, scan func(row) (T, error), text string, args ...any) ([]T, error) {
	args, err := plain(args)
	if err != nil {
		return nil, err
	}
	t.counts.add(0, 1, 0)
	var rows *sql.Rows
	if stmt := t.statement(text); stmt != nil {
		rows, err = stmt.QueryContext(t.ctx, args...)
	} else {
		rows, err = t.sql.QueryContext(t.ctx, text, args...)
	}
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var out []T
	for rows.Next() {
		one, err := scan(rows)
		if err != nil {
			return nil, err
		}
		out = append(out, one)
	}
	t.counts.add(0, 0, len(out))
	return out, rows.Err()
}

// one reads the only row of a query; none means that there is no such thing in the yard.
func one[T any](t *tx, what string, scan func(row) (T, error), text string, args ...any) (T, error) {
	found, err := list(t, scan, text, args...)
	if err == nil && len(found) == 0 {
		err = missing(what)
	}
	if err != nil {
		var none T
		return none, err
	}
	return found[0], nil
}

// missing is the answer for whatever is not in the yard, also when it is in another.
func missing(what string) error {
	return tracker.Refuse(tracker.NotFound, "There is no such "+what+" in this yard. It may have been removed: load the page again.")
}

// plain replaces values of our own by what both drivers take, and reports those that cannot be kept.
func plain(args []any) ([]any, error) {
	for i, arg := range args {
		if v, ok := arg.(driver.Valuer); ok {
			value, err := v.Value()
			if err != nil {
				return nil, err
			}
			args[i] = value
		}
	}
	return args, nil
}
