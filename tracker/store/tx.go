package store

import (
	"cmp"
	"context"
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
	return db.inYard(ctx, yard, reads, func(t *tx) error { return do(t) })
}

// Write runs do in a transaction of one yard and makes it durable. Writes of one yard follow one
// another. It runs do again when the database asks for it. A change that fails may tell so only later, at
// the latest when Write returns; the transaction is rolled back even if do finds the failure unimportant.
func (db *DB) Write(ctx context.Context, yard tracker.YardID, do func(care.Tx) error) error {
	return db.inYard(ctx, yard, writes, func(t *tx) error { return do(t) })
}

// Across runs do in a transaction that belongs to no yard. Those that write follow one another.
func (db *DB) Across(ctx context.Context, do func(care.Gate) error) error {
	return db.run(ctx, everyYard, writes, func(t *tx) error { return do(gate{t}) })
}

// AcrossRead is Across for looking things up; it waits for no writer, and each look-up sees its own moment.
func (db *DB) AcrossRead(ctx context.Context, do func(care.Gate) error) error {
	return db.run(ctx, everyYard, glances, func(t *tx) error { return do(gate{t}) })
}

// inYard runs a transaction of one yard. It refuses a name that can be no yard's, among them everyYard.
func (db *DB) inYard(ctx context.Context, yard tracker.YardID, how access, do func(*tx) error) error {
	if !tracker.ValidID(string(yard)) {
		return missing("yard")
	}
	return db.run(ctx, string(yard), how, do)
}

// run tries a transaction until it is through, something else than bad luck stops it, or its tries are
// used up. A connection that broke before the commit left nothing behind, so it is bad luck too.
func (db *DB) run(ctx context.Context, yard string, how access, do func(*tx) error) error {
	wait, alone := firstWait, false
	for try := 1; ; try++ {
		committing, err := db.once(ctx, yard, how, alone, do)
		if errors.Is(err, errShared) {
			alone = true
			continue
		}
		if err == nil || try >= mostTries || !db.again(err, committing, try) {
			return refusal(err)
		}
		select {
		case <-ctx.Done():
			return refusal(err)
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
		return !committing && db.dialect() == migrations.PostgreSQL
	case taken:
		return try == 1 && db.dialect() == migrations.PostgreSQL
	}
	return false
}

// once runs one transaction, or a part of one. committing tells that the error came from the commit itself.
func (db *DB) once(ctx context.Context, yard string, how access, alone bool, do func(*tx) error) (committing bool, err error) {
	counts := countsIn(ctx)
	counts.add(1, 0, 0)
	through := func(s session) error {
		t := &tx{ctx: ctx, session: s, yard: yard, counts: counts}
		if err := do(t); err != nil {
			return err
		}
		if t.unsure {
			_ = t.answers() // it notes what failed
		}
		return cmp.Or(t.failed, ctx.Err()) // what a caller asked for that has gone is not kept
	}
	if how == writes {
		return db.write(ctx, yard, alone, through)
	}
	s, err := db.begin(ctx, yard, how)
	if err != nil {
		return false, err
	}
	ended := false
	defer func() {
		if !ended { // do failed or panicked
			s.rollback()
		}
	}()
	if err := through(s); err != nil {
		return false, err
	}
	ended = true
	return true, s.commit(ctx)
}

// tx is one transaction of one yard, or of none.
type tx struct {
	ctx     context.Context
	session session
	yard    string
	failed  error // of a change: such a transaction can only be rolled back
	unsure  bool  // something that was not answered yet may say no, or be read into a variable
	counts  *Counts
}

// exec runs a statement.
func (t *tx) exec(text string, args ...any) error { return t.execThen(nil, text, args) }

// change runs a statement that must change something: else there is no such thing in the yard.
func (t *tx) change(what, text string, args ...any) error {
	return t.execThen(func(rows int64) error {
		if rows == 0 {
			return missing(what)
		}
		return nil
	}, text, args)
}

func (t *tx) execThen(done func(rows int64) error, text string, args []any) error {
	t.counts.add(0, 1, 0)
	args, err := plain(args)
	if err == nil {
		t.unsure = t.unsure || done != nil
		err = t.session.change(t.ctx, text, args, done)
	}
	return t.note(err)
}

// note remembers the first failure.
func (t *tx) note(err error) error {
	if t.failed == nil {
		t.failed = err
	}
	return err
}

// insert adds a row of the named columns, which are as many as args.
func (t *tx) insert(table, columns string, args ...any) error {
	return t.exec("INSERT INTO "+table+" ("+columns+") VALUES ("+places(len(args))+")", args...)
}

// insertNew is insert for a row that may be there already, by the key named: then nothing changes.
func (t *tx) insertNew(key, table, columns string, args ...any) error {
	return t.exec("INSERT INTO "+table+" ("+columns+") VALUES ("+places(len(args))+") ON CONFLICT ("+key+") DO NOTHING", args...)
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

// ask runs a query whose rows stand in out at the latest when answers returns.
func ask[T any](t *tx, out *[]T, scan func(row) (T, error), text string, args ...any) {
	t.counts.add(0, 1, 0)
	args, err := plain(args)
	if err == nil {
		t.unsure = true
		err = t.session.ask(t.ctx, text, args, func(r row) error {
			t.counts.add(0, 0, 1)
			one, err := scan(r)
			*out = append(*out, one)
			return err
		})
	}
	t.note(err)
}

// answers waits for everything that was asked, in one journey to the database.
func (t *tx) answers() error {
	if t.failed != nil {
		return t.failed
	}
	t.unsure = false
	return t.note(t.session.answers(t.ctx))
}

// list reads every row of a query.
func list[T any](t *tx, scan func(row) (T, error), text string, args ...any) ([]T, error) {
	var out []T
	ask(t, &out, scan, text, args...)
	if err := t.answers(); err != nil {
		return nil, err
	}
	return out, nil
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

// wider is a row of which more columns are read than its scan asks for.
type wider struct {
	row
	more []any
}

func (w wider) Scan(into ...any) error { return w.row.Scan(append(into, w.more...)...) }

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
