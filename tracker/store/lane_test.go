package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgconn"

	"leground/migrations"
	"leground/tracker"
	"leground/tracker/care"
)

// book is an engine that keeps what is committed as a list of words, so that a test sees which writes went together
// and can let commits fail.
type book struct {
	mu      sync.Mutex
	commits [][]string
	broken  []error // of the next commits; nil: it goes well
}

func (b *book) dialect() migrations.Dialect { return migrations.PostgreSQL }
func (b *book) ping(context.Context) error  { return nil }
func (b *book) close() error                { return nil }
func (b *book) begin(context.Context, string, access) (session, error) {
	return &page{book: b}, nil
}

// page is a transaction of a book.
type page struct {
	session
	book  *book
	words []string
}

func (p *page) change(_ context.Context, text string, _ []any, _ func(int64) error) error {
	p.words = append(p.words, text)
	return nil
}

func (p *page) commit(context.Context) error {
	p.book.mu.Lock()
	defer p.book.mu.Unlock()
	if len(p.book.broken) > 0 {
		err := p.book.broken[0]
		if p.book.broken = p.book.broken[1:]; err != nil {
			return err
		}
	}
	p.book.commits = append(p.book.commits, p.words)
	return nil
}

func (p *page) rollback() { p.words = nil }

// kept lists the words of all commits, sorted.
func (b *book) kept() (words []string) {
	for _, c := range b.commits {
		words = append(words, c...)
	}
	slices.Sort(words)
	return words
}

const aYard = tracker.YardID("01a22903-aa83-7dba-bf4a-ae2ea1529a9b")

// behind runs writes that all wait while a first one runs, and gives what became of each. The context of a write
// that is named "gone" is over before its turn comes.
func behind(t *testing.T, db *DB, writes map[string]func(*tx) error) map[string]error {
	t.Helper()
	errs := map[string]error{}
	var mu sync.Mutex
	var all sync.WaitGroup
	run := func(ctx context.Context, name string, do func(*tx) error) {
		err := func() (err error) {
			defer func() {
				if p := recover(); p != nil {
					err = fmt.Errorf("panic: %v", p)
				}
			}()
			return db.Write(ctx, aYard, func(x care.Tx) error { return do(x.(*tx)) })
		}()
		mu.Lock()
		defer mu.Unlock()
		errs[name] = err
	}
	started, free, once := make(chan struct{}), make(chan struct{}), sync.Once{}
	all.Go(func() {
		run(t.Context(), "first", func(x *tx) error {
			once.Do(func() { close(started); <-free })
			return x.exec("first")
		})
	})
	<-started
	l := db.lanes.enter(string(aYard))
	gone, leave := context.WithCancel(t.Context())
	for name, do := range writes {
		ctx := t.Context()
		if name == "gone" {
			ctx = gone
		}
		all.Go(func() { run(ctx, name, do) })
	}
	for int(l.waiting.Load()) < len(writes) {
		time.Sleep(time.Millisecond)
	}
	leave()
	close(free)
	all.Wait()
	db.lanes.leave(string(aYard), l)
	if len(db.lanes.busy) > 0 {
		t.Error("a lane is left over")
	}
	return errs
}

func word(name string) func(*tx) error { return func(x *tx) error { return x.exec(name) } }

// Writes that wait for one another share a commit, and each is told after it.
func TestWritesGoTogether(t *testing.T) {
	b := &book{}
	writes := map[string]func(*tx) error{}
	for i := range 20 {
		writes[fmt.Sprint("w", i)] = word(fmt.Sprint("w", i))
	}
	for name, err := range behind(t, newDB(b, ""), writes) {
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	if kept := b.kept(); len(kept) != 21 || len(slices.Compact(kept)) != 21 {
		t.Errorf("kept: %v", kept)
	}
	if len(b.commits) != 2 || len(b.commits[0]) != mostShared {
		t.Errorf("21 writes took these commits: %v", b.commits)
	}
}

// One that fails takes nothing with it but itself: the others run again by themselves.
func TestOneFailsAndTheOthersAreKept(t *testing.T) {
	b := &book{}
	refused := tracker.Refuse(tracker.Invalid, "no")
	errs := behind(t, newDB(b, ""), map[string]func(*tx) error{
		"a": word("a"), "b": word("b"), "c": word("c"), "gone": word("gone"),
		"refused": func(x *tx) error { x.exec("refused"); return refused },
		"panics":  func(x *tx) error { x.exec("panics"); panic("oh") },
	})
	if kept := b.kept(); !slices.Equal(kept, []string{"a", "b", "c", "first"}) {
		t.Errorf("kept: %v", kept)
	}
	if !errors.Is(errs["refused"], refused) || errs["panics"] == nil || errs["panics"].Error() != "panic: oh" || !errors.Is(errs["gone"], context.Canceled) {
		t.Errorf("those that failed: %v", errs)
	}
	if err := errors.Join(errs["a"], errs["b"], errs["c"], errs["first"]); err != nil {
		t.Errorf("the others: %v", err)
	}
}

// A commit that the database refused has kept nothing, so each write tries again by itself. Of one whose connection
// broke nobody knows: nothing is written twice, and all are told.
func TestCommitFails(t *testing.T) {
	b := &book{broken: []error{&pgconn.PgError{Code: "23514"}}}
	if errs := behind(t, newDB(b, ""), map[string]func(*tx) error{"a": word("a"), "b": word("b")}); errors.Join(errs["a"], errs["b"], errs["first"]) != nil {
		t.Errorf("after a refused commit: %v", errs)
	}
	if kept := b.kept(); !slices.Equal(kept, []string{"a", "b", "first"}) {
		t.Errorf("kept: %v", kept)
	}
	b = &book{broken: []error{pgconn.ErrConnClosed, pgconn.ErrConnClosed, pgconn.ErrConnClosed}}
	for name, err := range behind(t, newDB(b, ""), map[string]func(*tx) error{"a": word("a"), "b": word("b")}) {
		if tracker.KindOf(err) != tracker.Unavailable {
			t.Errorf("%s after a commit that nobody knows of: %v", name, err)
		}
	}
	if len(b.commits) > 0 {
		t.Errorf("written again: %v", b.commits)
	}
}
