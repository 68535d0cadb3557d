package store

import (
	"context"
	"errors"
	"sync"
	"sync/atomic"
	"time"

	"leground/migrations"
)

// Most of what a small write costs is the way to the disk, so writes that come at the same time go together. The
// writes of one yard (on SQLite, which has one writer, those of all yards) follow one another in a lane. One that is
// through while another waits leaves its transaction to that one, and the last commits what all of them did. Each is
// told only then. When one fails, nothing of the transaction is kept and the others run again, each in a
// transaction of its own: none is refused for what another did.

const (
	mostShared   = 16               // writes in one transaction: the first waits for the last
	commitWithin = 30 * time.Second // whoever asked for it may be gone, but others wait for it too
)

// errShared tells a write that nothing of it was kept because another failed that it shared a transaction with.
var errShared = errors.New("another write failed in the same transaction")

// lanes are those in which something is written just now.
type lanes struct {
	mu   sync.Mutex
	busy map[string]*lane
}

// lane lets one write run at a time.
type lane struct {
	here    int          // how many run or wait; guarded by lanes.mu
	waiting atomic.Int32 // how many will yet have their turn

	turn sync.Mutex // held by the one that runs; it guards the rest
	open *shared    // left by the one before; whoever leaves one knows that another waits
}

// shared is a transaction and the writes in it that wait for its commit.
type shared struct {
	session session
	through []chan error
}

// inTurn waits for a turn in a lane and gives it up afterwards, also when do panics.
func (all *lanes) inTurn(name string, do func(*lane) error) error {
	l := all.enter(name)
	defer all.leave(name, l)
	l.waiting.Add(1)
	l.turn.Lock()
	l.waiting.Add(-1)
	defer l.turn.Unlock()
	return do(l)
}

func (all *lanes) enter(name string) *lane {
	all.mu.Lock()
	defer all.mu.Unlock()
	l := all.busy[name]
	if l == nil {
		l = &lane{}
		all.busy[name] = l
	}
	l.here++
	return l
}

func (all *lanes) leave(name string, l *lane) {
	all.mu.Lock()
	defer all.mu.Unlock()
	if l.here--; l.here == 0 {
		delete(all.busy, name)
	}
}

// write runs a write in its yard's lane; alone, in a transaction of its own. committing tells that an error came from
// the commit itself.
func (db *DB) write(ctx context.Context, yard string, alone bool, do func(session) error) (committing bool, err error) {
	name := yard
	if db.dialect() == migrations.SQLite {
		name = everyYard
	}
	committed := make(chan error, 1)
	err = db.lanes.inTurn(name, func(l *lane) error {
		if alone || ctx.Err() != nil && l.waiting.Load() == 0 {
			l.commit(ctx)
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if l.open == nil {
			s, err := db.begin(ctx, yard, writes)
			if err != nil {
				return err
			}
			l.open = &shared{session: s}
		}
		if err := l.run(do, committed); err != nil {
			return err
		}
		if alone || l.waiting.Load() == 0 || len(l.open.through) == mostShared {
			l.commit(ctx)
		}
		return nil
	})
	if err != nil {
		return false, err
	}
	return true, <-committed // also when the caller has gone: what it asked for is on its way to the disk
}

// run runs one write in the open transaction; when it fails, or panics, that is rolled back.
func (l *lane) run(do func(session) error, committed chan error) (err error) {
	s, through := l.open, false
	defer func() {
		if through {
			s.through = append(s.through, committed)
			return
		}
		l.open = nil
		s.session.rollback()
		s.tell(errShared)
	}()
	if err := do(s.session); err != nil {
		if len(s.through) > 0 { // it may be the fault of another
			return errShared
		}
		return err
	}
	through = true
	return nil
}

// commit ends what is open and tells those who wait for it.
func (l *lane) commit(ctx context.Context) {
	s := l.open
	if s == nil {
		return
	}
	l.open = nil
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), commitWithin)
	defer cancel()
	err := s.session.commit(ctx)
	if trouble := troubleOf(err); err != nil && len(s.through) > 1 && trouble != lost && trouble != cancelled {
		err = errShared // it was refused, which any of them may have caused
	}
	s.tell(err)
}

func (s *shared) tell(err error) {
	for _, committed := range s.through {
		committed <- err
	}
}
