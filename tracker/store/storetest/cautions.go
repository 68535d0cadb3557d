package storetest

import (
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

func caution(p Place, level tracker.Level, after time.Duration) tracker.Caution {
	return tracker.Caution{
		ID: tracker.CautionID(NewID()), Rule: "maggots", Level: level, Horse: p.Bramble.ID, Leg: tracker.RH, Site: p.Wound.ID,
		Seen: "Maggots on RH 1.", Why: "a rule", Next: "keep it clean", Numbers: map[string]string{"area": "8.2 cm²"}, Check: newRecord(), Raised: noon.Add(after),
	}
}

func act(p Place, kind tracker.CautionActKind, after time.Duration) tracker.CautionAct {
	return tracker.CautionAct{ID: newRecord(), Kind: kind, At: noon.Add(after), By: p.Ada.ID, Until: noon.Add(after + time.Hour), Note: "spoke to the vet"}
}

func (h *House) addCautions(t testing.TB, p Place, cautions ...tracker.Caution) {
	t.Helper()
	h.write(t, p, func(tx care.Tx) error {
		for _, c := range cautions {
			if err := tx.AddCaution(c); err != nil {
				return err
			}
		}
		return nil
	})
}

func testCautions(t *testing.T, h *House) {
	today1, now1, now2 := caution(h.Mine, tracker.RingToday, 0), caution(h.Mine, tracker.RingNow, time.Minute), caution(h.Mine, tracker.RingNow, 2*time.Minute)
	visit := tracker.Caution{ID: tracker.CautionID(NewID()), Rule: "thrush", Level: tracker.NextVisit, Horse: h.Mine.Tom.ID, Raised: noon.Add(-time.Hour)}
	now1.Acts = []tracker.CautionAct{act(h.Mine, tracker.WillRingAt, 0)}
	now1.Later = []tracker.Sighting{{Seen: "Maggots on RH 1 still.", Numbers: map[string]string{"area": "9 cm²"}, Check: newRecord()}}
	wantFilled(t, now1)
	wantFilled(t, now1.Acts[0])
	h.addCautions(t, h.Mine, visit, today1, now2, now1)
	open := func() (found []tracker.Caution) {
		h.read(t, h.Mine, func(tx care.Tx) (err error) { found, err = tx.OpenCautions(); return err })
		return found
	}
	same(t, "open cautions, most urgent first, then oldest", open(), []tracker.Caution{now1, now2, today1, visit})

	rang := act(h.Mine, tracker.Rang, time.Hour)
	for range 2 { // the same act twice is one
		h.write(t, h.Mine, func(tx care.Tx) error { return tx.AddAct(now1.ID, rang, true) })
	}
	later := act(h.Mine, tracker.VetKnows, 2*time.Hour)
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.AddAct(now2.ID, later, false) })
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.RaiseLevel(visit.ID, tracker.RingToday) })
	for _, seen := range []string{"once more", "and again"} {
		more := tracker.Sighting{Seen: seen, Numbers: map[string]string{"area": seen}}
		h.write(t, h.Mine, func(tx care.Tx) error { return tx.AddSighting(now2, more) })
		now2.Later = append(now2.Later, more)
	}
	now1.Acts, now2.Acts, visit.Level = append(now1.Acts, rang), []tracker.CautionAct{later}, tracker.RingToday
	same(t, "open cautions after acts", open(), []tracker.Caution{now2, visit, today1})
	h.read(t, h.Mine, func(tx care.Tx) error {
		got, err := tx.Caution(now1.ID)
		must(t, err)
		same(t, "a closed caution with its acts", got, now1)
		list, err := tx.CautionsSince("", noon)
		must(t, err)
		same(t, "cautions since noon, newest first", list, []tracker.Caution{now2, now1, today1})
		list, err = tx.CautionsSince(h.Mine.Tom.ID, noon.Add(-time.Hour))
		must(t, err)
		same(t, "cautions of a horse", list, []tracker.Caution{visit})
		_, err = tx.Caution(tracker.CautionID(NewID()))
		wantKind(t, "an unknown caution", err, tracker.NotFound)
		return nil
	})
	for what, do := range map[string]func(care.Tx) error{
		"an act on an unknown caution": func(tx care.Tx) error {
			return tx.AddAct(tracker.CautionID(NewID()), act(h.Mine, tracker.Rang, 0), true)
		},
		"more of an unknown caution": func(tx care.Tx) error { return tx.AddSighting(caution(h.Mine, tracker.RingNow, 0), tracker.Sighting{}) },
		"raising an unknown caution": func(tx care.Tx) error { return tx.RaiseLevel(tracker.CautionID(NewID()), tracker.RingNow) },
	} {
		wantKind(t, what, h.DB.Write(t.Context(), h.Mine.Yard.ID, do), tracker.NotFound)
	}
}

func testRounds(t *testing.T, h *House) {
	morning := tracker.Round{Day: today, Slot: "morning", DueAt: noon.Add(-5 * time.Hour), UseBy: noon.Add(6 * time.Hour), State: tracker.RoundSkipped, Reason: "a storm"}
	wantFilled(t, morning)
	evening := tracker.Round{Day: today, Slot: "evening", DueAt: noon.Add(6 * time.Hour), UseBy: noon.Add(19 * time.Hour), State: tracker.RoundOpen}
	tomorrow := tracker.Round{Day: today + 1, Slot: "morning", DueAt: noon.Add(19 * time.Hour), UseBy: noon.Add(30 * time.Hour), State: tracker.RoundOpen}
	rounds := func(from, to tracker.Date) (found []tracker.Round) {
		h.read(t, h.Mine, func(tx care.Tx) (err error) { found, err = tx.Rounds(from, to); return err })
		return found
	}
	other := morning
	other.State, other.Reason = tracker.RoundOpen, ""
	h.write(t, h.Mine, func(tx care.Tx) error {
		for _, r := range []tracker.Round{tomorrow, evening, morning, other} { // the last is there already
			must(t, tx.AddRound(r))
		}
		return nil
	})
	same(t, "rounds by due time", rounds(today, today+1), []tracker.Round{morning, evening, tomorrow})
	same(t, "rounds of a day", rounds(today+1, today+1), []tracker.Round{tomorrow})
	evening.DueAt, evening.UseBy, evening.State, evening.Reason = noon.Add(7*time.Hour), noon.Add(18*time.Hour), tracker.RoundPartDone, "one leg"
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.SaveRound(evening) })
	same(t, "rounds after a change", rounds(today, today), []tracker.Round{morning, evening})
	wantKind(t, "saving an unknown round", h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error {
		return tx.SaveRound(tracker.Round{Day: today, Slot: "noon", State: tracker.RoundOpen})
	}), tracker.NotFound)
}
