package notify

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"
)

// Limits of the engine.
const (
	batch     = 50              // rows claimed at once
	mostLanes = 128             // accounts served side by side
	mostTries = 5               // of a message that we cannot compose
	mostMaybe = 3               // tries that may have been accepted
	jitterTop = 2 * time.Minute // random part of a wait
	stopGrace = 5 * time.Second // for a send that is under way when the engine stops
	markGrace = 4 * time.Second // for recording an outcome, whatever happens
	laterLook = time.Hour       // for a kind of reminder that this program does not know
)

// Deliver takes due reminders from the outbox and sends them. Each account has a lane of its own, so that
// a server that hangs delays nobody else. The zero value lacks its parts: fill Outbox, Channels, NextTry,
// Jitter and Clock before the first RunOnce and change nothing afterwards.
type Deliver struct {
	Outbox   Outbox
	Channels []Channel
	// NextTry tells when a row that failed at now is tried again; the zero time when its schedule is over.
	// Use-by, hand-over and jitter are looked after here.
	NextTry func(c Claimed, now time.Time) time.Time
	// Jitter gives a random time from 0 to most, so that rows that failed together come back one by one.
	Jitter func(most time.Duration) time.Duration
	// Clock tells the time while messages are being sent.
	Clock func() time.Time
	// Pace sets the pace of a channel's accounts; DefaultPace where it has no entry.
	Pace map[string]Pace
	// Compose puts content into words; nil for the function Compose of this package.
	Compose func(Content) (Words, error)
	Lease   time.Duration // how long a claim holds; 0: 2 minutes
	// Patience is how long RunOnce waits for lanes that are still at work; 0: 1 second.
	Patience time.Duration
	Log      *slog.Logger // nil: no log. Nothing personal is logged.

	mu       sync.Mutex
	accounts map[Account]*account
	atWork   int // lanes
	lanes    sync.WaitGroup
}

// RunOnce serves every account that has rows due at now and is not being served yet. It returns when all
// lanes that it started are done, or when its patience is over; a lane that hangs goes on by itself and
// its account is left alone until then. Call it again and again, every few seconds. When ctx ends, lanes
// stop after the message under way; Wait waits for them.
func (d *Deliver) RunOnce(ctx context.Context, now time.Time) error {
	due, err := d.Outbox.Accounts(ctx, now)
	if err != nil {
		return fmt.Errorf("looking for due reminders: %w", err)
	}
	patience := time.NewTimer(orElse(d.Patience, time.Second))
	defer patience.Stop()
	done := make(chan error, len(due))
	running := 0
	var problems []error
	for len(due) > 0 || running > 0 {
		if len(due) > 0 {
			answer := d.begin(due[0])
			if answer == started {
				running++
				d.start(ctx, due[0], done)
			}
			if answer != allBusy || running == 0 {
				due = due[1:]
				continue
			}
		}
		select {
		case err := <-done:
			running--
			problems = append(problems, err)
		case <-patience.C:
			return errors.Join(problems...)
		}
	}
	return errors.Join(problems...)
}

// start runs the lane of an account that begin has taken.
func (d *Deliver) start(ctx context.Context, a Account, done chan<- error) {
	d.lanes.Go(func() {
		err := d.lane(ctx, a)
		if err != nil {
			d.log().Error("reminders: a lane stopped", "channel", a.Channel, "error", err)
		}
		d.end(a)
		done <- err
	})
}

// Wait returns when no lane is at work any more. Within 10 seconds after the context of RunOnce has ended
// every lane has stopped.
func (d *Deliver) Wait() { d.lanes.Wait() }

// Health tells what is known of each account that was served since the start, in no order.
func (d *Deliver) Health() []Health {
	d.mu.Lock()
	defer d.mu.Unlock()
	all := make([]Health, 0, len(d.accounts))
	for _, a := range d.accounts {
		all = append(all, a.health)
	}
	return all
}

// Retry ends an account's rest, as after its settings were changed.
func (d *Deliver) Retry(a Account) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if state := d.accounts[a]; state != nil {
		state.health.Until = time.Time{}
	}
}

// What begin answers.
type beginning int

const (
	started beginning = iota + 1
	notNow            // it has a lane, or it is in trouble and others come first
	allBusy           // there are as many lanes as there may be
)

// begin takes an account for one lane. Accounts in trouble, whose servers may hang, take at most half of
// the lanes.
func (d *Deliver) begin(a Account) beginning {
	d.mu.Lock()
	defer d.mu.Unlock()
	state := d.accounts[a]
	if state == nil {
		pace, set := d.Pace[a.Channel]
		if !set {
			pace = DefaultPace()
		}
		if d.accounts == nil {
			d.accounts = map[Account]*account{}
		}
		state = newAccount(a, pace)
		d.accounts[a] = state
	}
	switch {
	case state.busy, state.health.Class != 0 && d.atWork >= mostLanes/2:
		return notNow
	case d.atWork >= mostLanes:
		return allBusy
	}
	state.busy = true
	d.atWork++
	return started
}

// end gives an account back.
func (d *Deliver) end(a Account) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.accounts[a].busy = false
	d.atWork--
}

// withAccount runs f on the state of an account that has a lane.
func (d *Deliver) withAccount(a Account, f func(*account)) {
	d.mu.Lock()
	defer d.mu.Unlock()
	f(d.accounts[a])
}

// channel finds a channel by its name; nil when this program has none of that name.
func (d *Deliver) channel(name string) Channel {
	for _, c := range d.Channels {
		if c.Name() == name {
			return c
		}
	}
	return nil
}

func (d *Deliver) lease() time.Duration { return orElse(d.Lease, 2*time.Minute) }

func (d *Deliver) log() *slog.Logger {
	if d.Log == nil {
		return slog.New(slog.DiscardHandler)
	}
	return d.Log
}

func orElse(d, standard time.Duration) time.Duration {
	if d == 0 {
		return standard
	}
	return d
}
