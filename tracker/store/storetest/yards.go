package storetest

import (
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

func testYards(t *testing.T, h *House) {
	wantFilled(t, h.Mine.Yard)
	h.read(t, h.Mine, func(tx care.Tx) error {
		yard, err := tx.Yard()
		same(t, "the yard as added", yard, h.Mine.Yard)
		return err
	})
	changed := h.Mine.Yard
	changed.Name, changed.Zone, changed.Order = "Marlpit", "Europe/Berlin", tracker.WalkingOrder{tracker.LH, tracker.LF, tracker.RF, tracker.RH}
	changed.LegWords, changed.Mark, changed.RingName, changed.RingNumber = tracker.NearOff, tracker.Comma, "the vet", ""
	changed.Slots, changed.SpreadMM, changed.SizeEvery, changed.MadeUp = []tracker.Slot{{Name: "noon", At: 720}}, 2.345, 7, false
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.SaveYard(changed) })
	h.read(t, h.Mine, func(tx care.Tx) error {
		yard, err := tx.Yard()
		same(t, "the yard as changed", yard, changed)
		return err
	})
	h.read(t, h.Other, func(tx care.Tx) error {
		yard, err := tx.Yard()
		same(t, "the yard next door", yard, h.Other.Yard)
		return err
	})
}

func testWake(t *testing.T, h *House) {
	awake := func(now time.Time, limit int) (ids []tracker.YardID) {
		must(t, h.DB.AcrossRead(t.Context(), func(g care.Gate) (err error) {
			ids, err = g.YardsToWake(now, limit)
			return err
		}))
		return ids
	}
	if got := awake(noon, 10); len(got) != 2 {
		t.Errorf("%d new yards wait to be looked at, want 2", len(got))
	}
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.SetWake(noon.Add(2 * time.Hour)) })
	h.write(t, h.Other, func(tx care.Tx) error { return tx.SetWake(noon.Add(time.Hour)) })
	for _, c := range []struct {
		after time.Duration
		limit int
		want  []tracker.YardID
	}{
		{time.Hour - time.Millisecond, 10, nil},
		{time.Hour, 10, []tracker.YardID{h.Other.Yard.ID}},
		{3 * time.Hour, 10, []tracker.YardID{h.Other.Yard.ID, h.Mine.Yard.ID}},
		{3 * time.Hour, 1, []tracker.YardID{h.Other.Yard.ID}},
	} {
		same(t, "yards to wake after "+c.after.String(), awake(noon.Add(c.after), c.limit), c.want)
	}
	h.write(t, h.Other, func(tx care.Tx) error { return tx.SetWake(time.Time{}) })
	same(t, "yards to wake when one never wakes", awake(far, 10), []tracker.YardID{h.Mine.Yard.ID})

	lookedAt := func() (at time.Time) {
		h.read(t, h.Mine, func(tx care.Tx) (err error) { at, err = tx.LookedAt(); return err })
		return at
	}
	same(t, "the first look", lookedAt(), time.Time{})
	for _, at := range []time.Time{noon, noon.Add(time.Minute)} {
		h.across(t, func(g care.Gate) error { return g.SetLookedAt(at) })
		same(t, "the last look", lookedAt(), at)
	}
}

func testNoYard(t *testing.T, h *House) {
	for _, yard := range []tracker.YardID{"", "*", "' OR 1=1 --", tracker.YardID(NewID()[:35] + "G")} {
		called := false
		do := func(care.Tx) error { called = true; return nil }
		wantKind(t, "a read of yard "+string(yard), h.DB.Read(t.Context(), yard, do), tracker.NotFound)
		wantKind(t, "a write of yard "+string(yard), h.DB.Write(t.Context(), yard, do), tracker.NotFound)
		if called {
			t.Errorf("a transaction was had without a yard: %q", yard)
		}
	}
	nobody := tracker.YardID(NewID())
	wantKind(t, "an unknown yard", h.DB.Read(t.Context(), nobody, func(tx care.Tx) error {
		if horses, err := tx.Horses(); err != nil || len(horses) > 0 {
			t.Errorf("an unknown yard has horses: %v %v", horses, err)
		}
		_, err := tx.Yard()
		return err
	}), tracker.NotFound)
	wantKind(t, "a horse for an unknown yard", h.DB.Write(t.Context(), nobody, func(tx care.Tx) error {
		return tx.AddHorse(tracker.Horse{ID: tracker.HorseID(NewID()), Place: tracker.Here})
	}), tracker.NotFound)
}
