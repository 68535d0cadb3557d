package storetest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
)

// together runs do n times at once and waits for all of them.
func together(n int, do func(i int)) {
	var all sync.WaitGroup
	for i := range n {
		all.Go(func() { do(i) })
	}
	all.Wait()
}

// testWriters lets sixteen people save at once: each save is there, and once.
func testWriters(t *testing.T, h *House) {
	const each = 8
	want := make(chan tracker.RecordID, 16*each)
	together(16, func(i int) {
		p := h.Mine
		if i%4 == 3 {
			p = h.Other
		}
		for n := range each {
			c := Look(p, p.Wound, n, tracker.Measured)
			if err := h.DB.Write(t.Context(), p.Yard.ID, func(tx care.Tx) error { return tx.AddCheck(c) }); err != nil {
				t.Error(err)
			}
			want <- c.ID
		}
	})
	close(want)
	found := map[tracker.RecordID]int{}
	for _, c := range append(h.checks(t, h.Mine, care.CheckQuery{}), h.checks(t, h.Other, care.CheckQuery{})...) {
		found[c.ID]++
	}
	for id := range want {
		if found[id] != 1 {
			t.Errorf("check %s is there %d times", id, found[id])
		}
	}
	if len(found) != 16*each {
		t.Errorf("%d checks, want %d", len(found), 16*each)
	}
}

// testBadAmongGood lets writes that fail in several ways come among others that do not: each hears of its own
// failure only, and what the good ones saved is there.
func testBadAmongGood(t *testing.T, h *House) {
	kept := Look(h.Mine, h.Mine.Wound, 0, tracker.Measured)
	h.addChecks(t, h.Mine, kept)
	refusal := tracker.Refuse(tracker.Invalid, "no")
	var mu sync.Mutex
	want := []tracker.RecordID{kept.ID}
	together(16, func(i int) {
		for n := range 6 {
			c := Look(h.Mine, h.Mine.Wound, n, tracker.Measured)
			ctx, cancel := context.WithCancel(t.Context())
			var wrong tracker.ErrorKind
			var then error
			switch (i + n) % 6 {
			case 0:
				wrong, then = tracker.Invalid, refusal // after a change
			case 1:
				wrong, c.ID = tracker.Conflict, kept.ID
			case 2:
				wrong, c.Site = tracker.NotFound, h.Other.Wound.ID
			case 3:
				cancel()
			default:
				mu.Lock()
				want = append(want, c.ID)
				mu.Unlock()
			}
			err := h.DB.Write(ctx, h.Mine.Yard.ID, func(tx care.Tx) error {
				if err := tx.AddCheck(c); err != nil {
					return err
				}
				return then
			})
			switch {
			case ctx.Err() != nil:
				if !errors.Is(err, context.Canceled) {
					t.Errorf("a write whose caller has gone: %v", err)
				}
			case tracker.KindOf(err) != wrong:
				t.Errorf("a write that should be %v: %v", wrong, err)
			}
			cancel()
		}
	})
	var found []tracker.RecordID
	for _, c := range h.checks(t, h.Mine, care.CheckQuery{}) {
		found = append(found, c.ID)
	}
	slices.Sort(want)
	slices.Sort(found)
	same(t, "what is there after writes of which some failed", found, want)
}

// testSerial lets writers read, decide and write: none may decide on what another is about to change.
func testSerial(t *testing.T, h *House) {
	together(12, func(int) {
		err := h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error {
			horses, err := tx.Horses()
			if err != nil {
				return err
			}
			number, err := tx.NextSiteNumber(h.Mine.Tom.ID, tracker.LF)
			if err != nil {
				return err
			}
			if err := tx.AddSite(tracker.Site{ID: tracker.SiteID(NewID()), Horse: h.Mine.Tom.ID, Leg: tracker.LF, Number: number, Region: tracker.Fetlock,
				Aspect: tracker.Dorsal, Kind: tracker.Wound, OpenedAt: noon, OpenedBy: h.Mine.Ada.ID, Record: newRecord()}, ""); err != nil {
				return err
			}
			return tx.AddHorse(tracker.Horse{ID: tracker.HorseID(NewID()), Name: "n", Place: tracker.Here, Position: len(horses) + 1, CreatedAt: noon})
		})
		if err != nil {
			t.Error(err)
		}
	})
	h.read(t, h.Mine, func(tx care.Tx) error {
		horses, err := tx.Horses()
		for i, horse := range horses {
			if horse.Position != i+1 {
				t.Errorf("horse %d of %d has the position %d", i+1, len(horses), horse.Position)
			}
		}
		return err
	})
}

// testSameForm posts one form eight times at once: one record.
func testSameForm(t *testing.T, h *House) {
	c := Look(h.Mine, h.Mine.Wound, 0, tracker.Measured)
	var mu sync.Mutex
	added := 0
	together(8, func(int) {
		new := false
		err := h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error {
			new = false
			if _, err := tx.CheckByRecord(c.ID); tracker.KindOf(err) != tracker.NotFound {
				return err
			}
			new = true
			return tx.AddCheck(c)
		})
		if err != nil {
			t.Error(err)
		}
		if new {
			mu.Lock()
			added++
			mu.Unlock()
		}
	})
	if got := h.checks(t, h.Mine, care.CheckQuery{}); added != 1 || len(got) != 1 {
		t.Errorf("one form posted eight times: %d checks, added %d times", len(got), added)
	}
}

// testClaimsAtOnce lets eight workers empty the outbox: each reminder goes to one of them.
func testClaimsAtOnce(t *testing.T, h *House) {
	const reminders = 60
	for i := range reminders {
		p := h.Mine
		if i%3 == 0 {
			p = h.Other
		}
		h.addReminders(t, p, h.reminder(p, fmt.Sprint(i), 0))
	}
	var mu sync.Mutex
	claimed := map[tracker.ReminderID]int{}
	together(8, func(int) {
		for {
			got, err := h.DB.Claim(t.Context(), store.Ask{Account: h.Channel, Now: noon, Limit: 3, Lease: time.Hour})
			if err != nil {
				t.Error(err)
				return
			}
			if len(got) == 0 {
				return
			}
			for _, c := range got {
				mu.Lock()
				claimed[c.ID]++
				mu.Unlock()
				if err := h.DB.Mark(t.Context(), c, store.Outcome{State: store.Sent, At: noon}, nil); err != nil {
					t.Error(err)
				}
			}
		}
	})
	// A worker may stop early because all that was left was being claimed by others.
	for _, c := range h.claim(t, 0) {
		claimed[c.ID]++
	}
	for id, n := range claimed {
		if n != 1 {
			t.Errorf("reminder %s was claimed %d times", id, n)
		}
	}
	if len(claimed) != reminders {
		t.Errorf("%d reminders were claimed, want %d", len(claimed), reminders)
	}
}

// testReaders holds a write open: readers do not wait for it and do not see it, and a reader that began
// before a commit sees one state to its end.
func testReaders(t *testing.T, h *House) {
	count := func(tx care.Tx) int {
		horses, err := tx.Horses()
		if err != nil {
			t.Error(err)
		}
		return len(horses)
	}
	more := tracker.Horse{ID: tracker.HorseID(NewID()), Name: "more", Place: tracker.Here, CreatedAt: noon}
	h.read(t, h.Mine, func(outer care.Tx) error {
		same(t, "horses at first", count(outer), 3)
		h.write(t, h.Mine, func(tx care.Tx) error {
			must(t, tx.AddHorse(more))
			ctx, cancel := context.WithTimeout(t.Context(), 10*time.Second)
			defer cancel()
			must(t, h.DB.Read(ctx, h.Mine.Yard.ID, func(inner care.Tx) error {
				same(t, "horses while a write is open", count(inner), 3)
				return nil
			}))
			must(t, h.DB.AcrossRead(ctx, func(g care.Gate) error { _, err := g.AnyYard(); return err }))
			return nil
		})
		same(t, "horses in a read that began before the commit", count(outer), 3)
		return nil
	})
	h.read(t, h.Mine, func(tx care.Tx) error { same(t, "horses after the commit", count(tx), 4); return nil })
	if err := h.DB.Read(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error { return tx.SaveHorse(more) }); err == nil {
		t.Error("a read changed a horse")
	}
	must(t, h.DB.Ping(t.Context()))
}

// testRollback lets writes fail in every way: nothing of them stays.
func testRollback(t *testing.T, h *House) {
	horse := tracker.Horse{ID: tracker.HorseID(NewID()), Name: "gone", Place: tracker.Here, CreatedAt: noon}
	mine := errors.New("a reason of my own")
	if err := h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error { must(t, tx.AddHorse(horse)); return mine }); !errors.Is(err, mine) {
		t.Errorf("the error of a write: %v", err)
	}
	func() {
		defer func() {
			if got := recover(); got != "oh" {
				t.Errorf("a panic in a write became %v", got)
			}
		}()
		_ = h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error { must(t, tx.AddHorse(horse)); panic("oh") })
	}()
	ctx, cancel := context.WithCancel(t.Context())
	if err := h.DB.Write(ctx, h.Mine.Yard.ID, func(tx care.Tx) error { must(t, tx.AddHorse(horse)); cancel(); return nil }); err == nil {
		t.Error("a write went through although its caller had gone")
	}
	refusal := tracker.Refuse(tracker.Forbidden, "no")
	err := h.DB.Across(t.Context(), func(g care.Gate) error {
		must(t, g.AddPerson(tracker.Person{ID: "p", Email: "gone@example.test"}, "", noon))
		return refusal
	})
	wantKind(t, "a refusal out of a write", err, tracker.Forbidden)
	wantKind(t, "a person of a write that was refused", h.DB.Across(t.Context(), func(g care.Gate) error { _, err := g.AccountByID("p"); return err }), tracker.NotFound)
	h.read(t, h.Mine, func(tx care.Tx) error {
		horses, err := tx.Horses()
		same(t, "horses after writes that failed", len(horses), 3)
		return err
	})
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.AddHorse(horse) }) // and the database still works
}
