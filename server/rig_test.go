package server

import (
	"context"
	"errors"
	"fmt"
	"os"
	"slices"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"leground/notify"
	"leground/notify/notifytest"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
)

// rig is the engine of reminders without pages: a store, care, the outbox and the sending, with channels that
// write down what they are given. Its clock is whatever now gives.
type rig struct {
	t       testing.TB
	db      *store.DB
	now     func() time.Time
	care    *care.Service
	deliver *notify.Deliver
	mail    *notifytest.Recorder
	push    *notifytest.Recorder
	killed  *atomic.Bool // nothing of this process reaches the database any more
	unsaid  sync.Map     // ids of messages that were taken and could not be marked sent
}

// newRig makes an engine over a database with mail and push. Calling it again is starting the program again.
func newRig(t testing.TB, db *store.DB, now func() time.Time, mail, push *notifytest.Recorder) *rig {
	r := &rig{t: t, db: db, now: now, mail: mail, push: push, killed: &atomic.Bool{}}
	r.care = care.New(mortalStore{db, r.killed}, now).Serving(care.ChannelEmail, care.ChannelPush)
	box := &outbox{db: db, care: r.care, base: "https://yard.example", host: "yard.example", count: func(string, string) {}}
	s := &Server{settings: Settings{Now: now}}
	r.deliver = s.newDeliver(mortalBox{box, r}, []notify.Channel{mail, push})
	r.deliver.Jitter = func(time.Duration) time.Duration { return 0 }
	r.deliver.Pace = map[string]notify.Pace{care.ChannelEmail: {PerMinute: 600_000, Burst: 100_000}, care.ChannelPush: {PerMinute: 600_000, Burst: 100_000}}
	return r
}

var errKilled = errors.New("this process was killed")

// mortalStore is a store as one process sees it: once it is killed, its transactions are rolled back.
type mortalStore struct {
	*store.DB
	dead *atomic.Bool
}

func (s mortalStore) Write(ctx context.Context, yard tracker.YardID, do func(care.Tx) error) error {
	return s.DB.Write(ctx, yard, func(tx care.Tx) error {
		if err := do(tx); err != nil || !s.dead.Load() {
			return err
		}
		return errKilled
	})
}

// mortalBox is an outbox as one process sees it: once it is killed, nothing is claimed or marked.
type mortalBox struct {
	notify.Outbox
	r *rig
}

func (b mortalBox) Accounts(ctx context.Context, now time.Time) ([]notify.Account, error) {
	if b.r.killed.Load() {
		return nil, errKilled
	}
	return b.Outbox.Accounts(ctx, now)
}

func (b mortalBox) Claim(ctx context.Context, ask notify.Ask) ([]notify.Claimed, error) {
	if b.r.killed.Load() {
		return nil, errKilled
	}
	return b.Outbox.Claim(ctx, ask)
}

func (b mortalBox) Mark(ctx context.Context, c notify.Claimed, o notify.Outcome) error {
	if b.r.killed.Load() {
		if o.State == notify.Sent {
			b.r.unsaid.Store(c.Message.ID, true)
		}
		return errKilled
	}
	return b.Outbox.Mark(ctx, c, o)
}

// turn does what the worker does each time it wakes.
func (r *rig) turn() {
	r.t.Helper()
	if err := r.care.Tick(r.t.Context()); err != nil && !r.killed.Load() {
		r.t.Fatal(err)
	}
	r.send()
}

func (r *rig) send() {
	r.t.Helper()
	if err := r.deliver.RunOnce(r.t.Context(), r.now()); err != nil && !r.killed.Load() {
		r.t.Fatal(err)
	}
	r.deliver.Wait()
}

// place is a made-up yard of a rig.
type place struct {
	yard   tracker.Yard
	ada    care.Actor // the owner
	bea    care.Actor
	horses []tracker.HorseID
}

// newPlace opens a yard at an instant, with an owner, a carer and a horse without a sore.
func newPlace(t testing.TB, db *store.DB, zone string, slots []tracker.Slot, at time.Time) *place {
	t.Helper()
	p := &place{yard: tracker.Yard{ID: tracker.YardID(care.NewID()), Name: "Marlpit Yard", Zone: zone, Order: tracker.Legs(), LegWords: tracker.LeftRight,
		Mark: tracker.Point, RingName: "Marlpit vet", RingNumber: "01234 000000", Slots: slots, SpreadMM: 2, SizeEvery: 1, MadeUp: true, CreatedAt: at}}
	person := func(name string, role tracker.Role) care.Actor {
		id := tracker.PersonID(care.NewID())
		return care.Actor{Yard: p.yard.ID, Role: role, Person: tracker.Person{ID: id, Name: name, Email: string(id) + "@" + name + ".test"}}
	}
	p.ada, p.bea = person("Ada", tracker.Owner), person("Bea", tracker.Carer)
	must(t, db.Across(t.Context(), func(g care.Gate) error {
		if err := g.AddYard(p.yard); err != nil {
			return err
		}
		for i, a := range []care.Actor{p.ada, p.bea} {
			if err := g.AddPerson(a.Person, "hash", at); err != nil {
				return err
			}
			if err := g.AddMember(p.yard.ID, a.Person.ID, a.Role, at.Add(time.Duration(i)*time.Second)); err != nil {
				return err
			}
		}
		return nil
	}))
	p.addHorse(t, db, "Bramble", at)
	return p
}

func (p *place) addHorse(t testing.TB, db *store.DB, name string, at time.Time) {
	t.Helper()
	h := tracker.Horse{ID: tracker.HorseID(care.NewID()), Name: name, Place: tracker.Here, Position: len(p.horses) + 1, CreatedAt: at}
	must(t, db.Write(t.Context(), p.yard.ID, func(tx care.Tx) error { return tx.AddHorse(h) }))
	p.horses = append(p.horses, h.ID)
}

// records adds leg lines of a round as if a phone had sent them now: all of them, or the first few.
func (p *place) records(t testing.TB, db *store.DB, r tracker.Round, now time.Time, most int) {
	t.Helper()
	var lines []tracker.Check
	for _, horse := range p.horses {
		for _, leg := range tracker.Legs() {
			id := tracker.RecordID(care.NewID())
			lines = append(lines, tracker.Check{ID: id, Root: id, Version: 1, Subject: tracker.OfLeg, Outcome: tracker.Looked, Horse: horse, Leg: leg, At: now,
				Day: r.Day, ServerAt: now, RoundDay: r.Day, Slot: r.Slot, By: p.bea.Person.ID, Looker: p.bea.Person.ID, Hash: string(id)})
		}
	}
	must(t, db.Write(t.Context(), p.yard.ID, func(tx care.Tx) error {
		for _, check := range lines[:min(most, len(lines))] {
			if err := tx.AddCheck(check); err != nil {
				return err
			}
		}
		return tx.WakeBy(now)
	}))
}

// rounds lists the yard's rounds of some days.
func (p *place) rounds(t testing.TB, db *store.DB, from, to tracker.Date) (out []tracker.Round) {
	t.Helper()
	must(t, db.Read(t.Context(), p.yard.ID, func(tx care.Tx) (err error) { out, err = tx.Rounds(from, to); return err }))
	return out
}

// reminders lists everything that was ever planned in the yard, oldest first.
func (p *place) reminders(t testing.TB, db *store.DB) (out []care.Reminder) {
	t.Helper()
	must(t, db.Read(t.Context(), p.yard.ID, func(tx care.Tx) (err error) { out, err = tx.Reminders(care.ReminderQuery{}); return err }))
	slices.Reverse(out)
	return out
}

// states puts reminders into words: "round 2026-05-14 morning, first message, Ada by email: sent (accepted)".
func (p *place) states(t testing.TB, db *store.DB) (out []string) {
	t.Helper()
	names := map[tracker.PersonID]string{p.ada.Person.ID: "Ada", p.bea.Person.ID: "Bea"}
	for _, r := range p.reminders(t, db) {
		out = append(out, fmt.Sprintf("%s %s, %s, %s by %s: %s (%s)", r.Kind, r.Subject, r.Rung, names[r.Person], care.ChannelOf(r.Channel), r.State, r.Reason))
	}
	return out
}

func must(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// openFile opens a fresh SQLite file, in memory where the machine has a place for that: simulations write much.
func openFile(t testing.TB) *store.DB {
	t.Helper()
	folder := t.TempDir()
	if shm, err := os.MkdirTemp("/dev/shm", "leground-test-"); err == nil {
		t.Cleanup(func() { os.RemoveAll(shm) })
		folder = shm
	}
	db, err := store.Open(context.Background(), folder, noon)
	must(t, err)
	t.Cleanup(func() { must(t, db.Close()) })
	return db
}

var noon = time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)

func long() bool { return os.Getenv("LEGROUND_LONG") == "1" }

// clock is a clock that a test sets.
type clock struct{ at time.Time }

func (c *clock) now() time.Time { return c.at }
