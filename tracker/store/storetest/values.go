package storetest

import (
	"maps"
	"math"
	"testing"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
)

// pointers are the ways in which a row of one yard can point into the other.
func pointers(h *House, theirs filled) map[string]func(care.Tx) error {
	return map[string]func(care.Tx) error{
		"a site of their horse": func(tx care.Tx) error {
			s := h.Mine.Wound
			s.ID, s.Record, s.Horse = "s", "r", h.Other.Tom.ID
			return tx.AddSite(s, "")
		},
		"a check of their site": func(tx care.Tx) error { return tx.AddCheck(Look(h.Mine, h.Other.Wound, 0, tracker.Measured)) },
		"a check on their site only": func(tx care.Tx) error {
			c := Look(h.Mine, h.Mine.Wound, 0, 0)
			c.Site = h.Other.Wound.ID
			return tx.AddCheck(c)
		},
		"a check of their horse only": func(tx care.Tx) error {
			c := Look(h.Mine, h.Mine.Wound, 0, 0)
			c.Horse = h.Other.Tom.ID
			return tx.AddCheck(c)
		},
		"a check by their person": func(tx care.Tx) error {
			c := Look(h.Mine, h.Mine.Wound, 0, 0)
			c.By = h.Other.Ada.ID
			return tx.AddCheck(c)
		},
		"an event on their site": func(tx care.Tx) error {
			e := event(h.Mine, tracker.Clipping, 0)
			e.Site = h.Other.Wound.ID
			return tx.AddEvent(e)
		},
		"an event by their person": func(tx care.Tx) error {
			e := event(h.Mine, tracker.Clipping, 0)
			e.By = h.Other.Ada.ID
			return tx.AddEvent(e)
		},
		"a photo of their site": func(tx care.Tx) error { return tx.AddPhoto(photo(h.Mine, h.Other.Wound.ID, 0), []byte{1}, []byte{1}) },
		"a photo of their horse": func(tx care.Tx) error {
			p := photo(h.Mine, "", 0)
			p.Horse = h.Other.Tom.ID
			return tx.AddPhoto(p, []byte{1}, []byte{1})
		},
		"a photo by their person": func(tx care.Tx) error {
			p := photo(h.Mine, "", 0)
			p.By = h.Other.Ada.ID
			return tx.AddPhoto(p, []byte{1}, []byte{1})
		},
		"a caution on their site": func(tx care.Tx) error {
			c := caution(h.Mine, tracker.RingNow, 0)
			c.Site = h.Other.Wound.ID
			return tx.AddCaution(c)
		},
		"a caution on their horse": func(tx care.Tx) error {
			c := caution(h.Mine, tracker.RingNow, 0)
			c.Horse = h.Other.Tom.ID
			return tx.AddCaution(c)
		},
		"an act on their caution":   func(tx care.Tx) error { return tx.AddAct(theirs.caution.ID, act(h.Mine, tracker.Rang, 0), true) },
		"a judgement of their site": func(tx care.Tx) error { return tx.SaveJudgement(fullJudgement(h.Other.Wound.ID, today)) },
		"a reminder to their person": func(tx care.Tx) error {
			m := h.reminder(h.Mine, "x", 0)
			m.Person = h.Other.Ada.ID
			return tx.AddReminder(m)
		},
		"a conflict of their person": func(tx care.Tx) error {
			return tx.AddConflict(care.Conflict{ID: "c", Record: "r", By: h.Other.Ada.ID, Hash: "x"})
		},
		"a person who is in their yard": func(tx care.Tx) error { return tx.SetLeft(h.Other.Bea.ID, noon) },
	}
}

// testReferences points from one yard into the other in every way that a row can: keys that carry the yard
// refuse it.
func testReferences(t *testing.T, h *House) {
	theirs := h.fill(t, h.Other)
	before := h.contents(t, h.Mine)
	all := pointers(h, theirs)
	maps.Copy(all, vetPointers(h))
	for what, do := range all {
		wantKind(t, what, h.DB.Write(t.Context(), h.Mine.Yard.ID, do), tracker.NotFound)
	}
	same(t, "my yard after all that", h.contents(t, h.Mine), before)
}

// testBadValues gives values that cannot be kept: each is an error and never a zero.
func testBadValues(t *testing.T, h *House) {
	before := h.contents(t, h.Mine)
	check := func(spoil func(*tracker.Check)) func(care.Tx) error {
		return func(tx care.Tx) error {
			c := Look(h.Mine, h.Mine.Wound, 0, tracker.Measured)
			spoil(&c)
			return tx.AddCheck(c)
		}
	}
	judgement := func(rate float64) func(care.Tx) error {
		return func(tx care.Tx) error {
			j := fullJudgement(h.Mine.Wound.ID, today)
			j.Rate = rate
			return tx.SaveJudgement(j)
		}
	}
	yard := func(spoil func(*tracker.Yard)) func(care.Tx) error {
		return func(tx care.Tx) error { y := h.Mine.Yard; spoil(&y); return tx.SaveYard(y) }
	}
	for what, do := range map[string]func(care.Tx) error{
		"a check of no subject":          check(func(c *tracker.Check) { c.Subject = 0 }),
		"a check without an outcome":     check(func(c *tracker.Check) { c.Outcome = 99 }),
		"a check of no day":              check(func(c *tracker.Check) { c.Day = 0 }),
		"a check of a fifth leg":         check(func(c *tracker.Check) { c.Leg = 5 }),
		"a check with an unknown bed":    check(func(c *tracker.Check) { c.Bed = -1 }),
		"a check with an unknown answer": check(func(c *tracker.Check) { c.Size.Answer = 99 }),
		"a check with an unknown method": check(func(c *tracker.Check) { c.Size.Method = 99 }),
		"a rate that is no number":       judgement(math.NaN()),
		"a rate without end":             judgement(math.Inf(1)),
		"a horse that is nowhere":        func(tx care.Tx) error { horse := h.Mine.Tom; horse.Place = 0; return tx.SaveHorse(horse) },
		"a horse's order of two legs": func(tx care.Tx) error {
			horse := h.Mine.Tom
			horse.Order = tracker.WalkingOrder{tracker.LF, tracker.RF}
			return tx.SaveHorse(horse)
		},
		"a site of no kind":              func(tx care.Tx) error { site := h.Mine.Wound; site.Kind = 0; return tx.SaveSite(site) },
		"a site in no region":            func(tx care.Tx) error { site := h.Mine.Wound; site.Region = 99; return tx.SaveSite(site) },
		"a caution of no level":          func(tx care.Tx) error { return tx.AddCaution(caution(h.Mine, 0, 0)) },
		"a round in no state":            func(tx care.Tx) error { return tx.AddRound(tracker.Round{Day: today, Slot: "morning"}) },
		"a yard without a walking order": yard(func(y *tracker.Yard) { y.Order = nil }),
		"a yard without a decimal mark":  yard(func(y *tracker.Yard) { y.Mark = 0 }),
		"a yard without words for legs":  yard(func(y *tracker.Yard) { y.LegWords = 3 }),
		"a reminder in no known state":   func(tx care.Tx) error { m := h.reminder(h.Mine, "x", 0); m.State = "lost"; return tx.AddReminder(m) },
	} {
		if err := h.DB.Write(t.Context(), h.Mine.Yard.ID, do); err == nil {
			t.Errorf("%s was kept", what)
		} else if kind := tracker.KindOf(err); kind != 0 {
			t.Errorf("%s: a fault of the program is shown to people as %v (kind %d)", what, err, kind)
		}
	}
	same(t, "the yard after all that", h.contents(t, h.Mine), before)
}

// testFailedChange makes a change that fails and goes on as if nothing were: nothing of it stays, on either
// database and whenever the failure came to light.
func testFailedChange(t *testing.T, h *House) {
	before := h.contents(t, h.Mine)
	for what, c := range map[string]struct {
		fails func(care.Tx) error
		kind  tracker.ErrorKind
	}{
		"a horse that is there": {func(tx care.Tx) error { return tx.AddHorse(h.Mine.Tom) }, tracker.Conflict},
		"an unknown horse":      {func(tx care.Tx) error { return tx.SaveHorse(tracker.Horse{ID: "h", Place: tracker.Here}) }, tracker.NotFound},
		"an unknown site": {func(tx care.Tx) error {
			return tx.AddCheck(Look(h.Mine, tracker.Site{Horse: h.Mine.Tom.ID, ID: "s"}, 0, tracker.NotDue))
		}, tracker.NotFound},
	} {
		for _, readOn := range []bool{false, true} {
			wantKind(t, what, h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error {
				_ = tx.AddHorse(tracker.Horse{ID: tracker.HorseID(NewID()), Place: tracker.Here})
				_ = c.fails(tx)
				if readOn {
					_, _ = tx.Horses()
				}
				_ = tx.SetWake(far)
				return nil
			}), c.kind)
		}
	}
	same(t, "the yard after failures that were overlooked", h.contents(t, h.Mine), before)
}

// testCounts holds lists to their number of statements, whatever they list.
func testCounts(t *testing.T, h *House) {
	h.fill(t, h.Mine)
	for name, c := range map[string]struct {
		statements int64
		call       func(care.Tx) error
	}{
		"Yard":          {1, func(tx care.Tx) error { _, err := tx.Yard(); return err }},
		"Members":       {1, func(tx care.Tx) error { _, err := tx.Members(); return err }},
		"Sites":         {1, func(tx care.Tx) error { _, err := tx.Sites(""); return err }},
		"Judgements":    {1, func(tx care.Tx) error { _, err := tx.Judgements(""); return err }},
		"Checks":        {1, func(tx care.Tx) error { _, err := tx.Checks(care.CheckQuery{}); return err }},
		"FirstSizes":    {1, func(tx care.Tx) error { _, err := tx.FirstSizes(""); return err }},
		"LastSizes":     {1, func(tx care.Tx) error { _, err := tx.LastSizes(""); return err }},
		"LastLooks":     {1, func(tx care.Tx) error { _, err := tx.LastLooks(""); return err }},
		"LastPhotos":    {1, func(tx care.Tx) error { _, err := tx.LastPhotos(""); return err }},
		"OpenCautions":  {2, func(tx care.Tx) error { _, err := tx.OpenCautions(); return err }},
		"CautionsSince": {2, func(tx care.Tx) error { _, err := tx.CautionsSince("", noon); return err }},
		"Rounds":        {1, func(tx care.Tx) error { _, err := tx.Rounds(1, today); return err }},
		"Plans":         {2, func(tx care.Tx) error { return second(tx.Plans("", 1)) }},
		"TickOffs":      {1, func(tx care.Tx) error { return second(tx.TickOffs(1, 1)) }},
		"OneOffs":       {1, func(tx care.Tx) error { return second(tx.OneOffs(1)) }},
		"Absences":      {1, func(tx care.Tx) error { return second(tx.Absences(1)) }},
	} {
		var counts store.Counts
		must(t, h.DB.Read(store.Counting(t.Context(), &counts), h.Mine.Yard.ID, c.call))
		if got := counts.Statements.Load(); got != c.statements || counts.Transactions.Load() != 1 {
			t.Errorf("Tx.%s took %d statements in %d transactions, want %d in 1", name, got, counts.Transactions.Load(), c.statements)
		}
		if counts.Rows.Load() == 0 {
			t.Errorf("Tx.%s read no row", name)
		}
	}
}
