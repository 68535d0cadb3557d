package storetest

import (
	"errors"
	"strings"
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
)

func (h *House) reminder(p Place, subject string, after time.Duration) care.Reminder {
	return care.Reminder{
		ID: tracker.ReminderID(NewID()), Kind: "round", Subject: subject, Person: p.Ada.ID, Channel: h.Channel, Account: h.Channel, State: store.Planned, Reason: "due",
		Facts: []byte(`{"horses": ["Bramble"]}`), PlannedAt: noon.Add(after), SendAt: noon.Add(after), UseBy: noon.Add(after + 6*time.Hour),
	}
}

func (h *House) addReminders(t testing.TB, p Place, reminders ...care.Reminder) {
	t.Helper()
	h.write(t, p, func(tx care.Tx) error {
		for _, m := range reminders {
			if err := tx.AddReminder(m); err != nil {
				return err
			}
		}
		return nil
	})
}

func (h *House) reminders(t testing.TB, p Place) (found []care.Reminder) {
	t.Helper()
	h.read(t, p, func(tx care.Tx) (err error) { found, err = tx.Reminders(care.ReminderQuery{}); return err })
	return found
}

// claim takes what is due some time after noon, with a lease of two minutes.
func (h *House) claim(t testing.TB, after time.Duration) []store.Claimed {
	t.Helper()
	found, err := h.DB.Claim(t.Context(), store.Ask{Account: h.Channel, Now: noon.Add(after), Limit: 10, Lease: 2 * time.Minute})
	must(t, err)
	return found
}

func testReminders(t *testing.T, h *House) {
	full := h.reminder(h.Mine, "2026-05-14 morning", 0)
	full.Rung, full.Tries, full.SentAt, full.Answer, full.State = 2, 3, noon.Add(time.Second), "250 ok", store.Sent
	full.Account, full.Carries, full.Horses = "account", []care.Carried{{Kind: "notice", Subject: "x"}}, []tracker.HorseID{h.Mine.Tom.ID}
	full.Token, full.HandOver = NewID(), noon.Add(5*time.Minute)
	wantFilled(t, full)
	newer := h.reminder(h.Mine, "2026-05-14 evening", time.Minute)
	twin := full
	twin.ID, twin.State = tracker.ReminderID(NewID()), store.Planned
	second := twin
	second.ID, second.Person = tracker.ReminderID(NewID()), h.Mine.Bea.ID
	h.addReminders(t, h.Mine, full, newer, twin, second)
	got := h.reminders(t, h.Mine)
	same(t, "reminders, newest first, the same one once", got, []care.Reminder{newer, second, full})
	h.read(t, h.Mine, func(tx care.Tx) error {
		since, err := tx.Reminders(care.ReminderQuery{Since: newer.PlannedAt})
		same(t, "reminders planned from an instant on", since, []care.Reminder{newer})
		return err
	})
	wantKind(t, "an id that another reminder has", h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error {
		other := h.reminder(h.Mine, "another", 0)
		other.ID = full.ID
		return tx.AddReminder(other)
	}), tracker.Conflict)
}

func testClaims(t *testing.T, h *House) {
	early, late, theirs := h.reminder(h.Mine, "early", 0), h.reminder(h.Mine, "late", time.Hour), h.reminder(h.Other, "early", time.Minute)
	push := h.reminder(h.Mine, "push", 0)
	push.Channel, push.Account = "push "+h.Channel, "push "+h.Channel
	h.addReminders(t, h.Mine, late, early, push)
	h.addReminders(t, h.Other, theirs)
	channels := func(after time.Duration) []string {
		found, err := h.DB.DueAccounts(t.Context(), noon.Add(after))
		must(t, err)
		mine := []string{}
		for _, c := range found {
			if strings.HasSuffix(c.Account, h.Channel) {
				mine = append(mine, c.Account)
			}
		}
		return mine
	}
	same(t, "channels before anything is due", channels(-time.Millisecond), []string{})
	same(t, "channels with something due", channels(0), []string{h.Channel, push.Channel})
	if got := h.claim(t, -time.Millisecond); got != nil {
		t.Errorf("claimed before anything is due: %v", got)
	}
	got := h.claim(t, time.Minute)
	early.State, early.Tries, theirs.State, theirs.Tries = store.Sending, 1, store.Sending, 1
	same(t, "claims of every yard, earliest first", got, []store.Claimed{
		{Reminder: early, Yard: h.Mine.Yard.ID, YardName: "Marlpit Yard", To: h.Mine.Ada.Email, Claim: 1},
		{Reminder: theirs, Yard: h.Other.Yard.ID, YardName: "Sandpit Yard", To: h.Other.Ada.Email, Claim: 1},
	})
	same(t, "channels while all is held", channels(time.Minute), []string{push.Channel})
	if again := h.claim(t, time.Minute); again != nil {
		t.Errorf("claimed twice: %v", again)
	}

	must(t, h.DB.Mark(t.Context(), got[0], store.Outcome{State: store.Sent, At: noon.Add(2 * time.Minute), Reason: "taken", Answer: "250 ok"}, nil))
	must(t, h.DB.Mark(t.Context(), got[1], store.Outcome{State: store.Planned, At: noon.Add(2 * time.Minute), Next: noon.Add(5 * time.Minute), Reason: "busy", Answer: "451 later"}, nil))
	early.State, early.Reason, early.SentAt, early.Answer = store.Sent, "taken", noon.Add(2*time.Minute), "250 ok"
	same(t, "reminders after one was sent", h.reminders(t, h.Mine)[1:], []care.Reminder{push, early})
	if again := h.claim(t, 4*time.Minute); again != nil {
		t.Errorf("claimed before the next try is due: %v", again)
	}
	again := h.claim(t, 5*time.Minute)
	if len(again) != 1 || again[0].ID != theirs.ID || again[0].Tries != 2 || again[0].Claim != 2 || again[0].PerhapsSent != 0 {
		t.Fatalf("the second try: %+v", again)
	}
	must(t, h.DB.Mark(t.Context(), again[0], store.Outcome{State: store.Planned, At: noon, Next: noon.Add(6 * time.Minute), Reason: "the account waits", PutBack: true}, nil))
	again = h.claim(t, 6*time.Minute)
	if len(again) != 1 || again[0].Tries != 2 {
		t.Fatalf("the second try after it was put back: %+v", again)
	}
	must(t, h.DB.Mark(t.Context(), again[0], store.Outcome{State: store.GivenUp, At: noon.Add(7 * time.Minute), Reason: "no such address", Answer: "550"}, nil))
	if got := h.reminders(t, h.Other); len(got) != 1 || got[0].State != store.GivenUp || got[0].Reason != "no such address" || !got[0].SentAt.IsZero() {
		t.Errorf("a reminder that was given up: %+v", got)
	}
	if got := h.claim(t, 24*time.Hour); len(got) != 1 || got[0].ID != late.ID {
		t.Errorf("claimed after all but one have ended: %v", got)
	}
}

func testLeases(t *testing.T, h *House) {
	h.addReminders(t, h.Mine, h.reminder(h.Mine, "one", 0))
	first := h.claim(t, 0)[0]
	if withdrawn, err := h.DB.Renew(t.Context(), first, noon.Add(4*time.Minute)); withdrawn != "" || err != nil {
		t.Fatalf("renewing a lease: %q, %v", withdrawn, err)
	}
	if got := h.claim(t, 3*time.Minute); got != nil {
		t.Errorf("claimed under a renewed lease: %v", got)
	}
	second := h.claim(t, 4*time.Minute)
	if len(second) != 1 || second[0].Claim <= first.Claim || second[0].PerhapsSent != 1 || second[0].Tries != 2 {
		t.Fatalf("a claim after the lease ran out: %+v", second)
	}
	if _, err := h.DB.Renew(t.Context(), first, noon.Add(time.Hour)); !errors.Is(err, store.ErrLost) {
		t.Errorf("the first worker renewed a lease that it lost: %v", err)
	}
	if err := h.DB.Mark(t.Context(), first, store.Outcome{State: store.Sent, At: noon}, nil); !errors.Is(err, store.ErrLost) {
		t.Errorf("the first worker marked what it lost: %v", err)
	}
	if got := h.reminders(t, h.Mine)[0]; got.State != store.Sending || !got.SentAt.IsZero() {
		t.Errorf("after a stale mark: %+v", got)
	}
	must(t, h.DB.Mark(t.Context(), second[0], store.Outcome{State: store.Planned, At: noon.Add(5 * time.Minute), Next: noon.Add(6 * time.Minute), Perhaps: true}, nil))
	if err := h.DB.Mark(t.Context(), second[0], store.Outcome{State: store.Sent, At: noon}, nil); !errors.Is(err, store.ErrLost) {
		t.Errorf("a claim was marked twice: %v", err)
	}
	third := h.claim(t, 6*time.Minute)
	if len(third) != 1 || third[0].PerhapsSent != 2 || third[0].Tries != 3 {
		t.Errorf("a claim after an end that nobody knows: %+v", third)
	}
}

func testWithdrawn(t *testing.T, h *House) {
	waits, held, taken, other := h.reminder(h.Mine, "waits", time.Hour), h.reminder(h.Mine, "held", 0), h.reminder(h.Mine, "taken", 0), h.reminder(h.Mine, "other", time.Hour)
	h.addReminders(t, h.Mine, waits, held, taken, other)
	claims := map[string]store.Claimed{}
	for _, c := range h.claim(t, 0) {
		claims[c.Subject] = c
	}
	h.write(t, h.Mine, func(tx care.Tx) error {
		for _, subject := range []string{"waits", "held", "taken"} {
			must(t, tx.Withdraw("round", subject, "received"))
		}
		return tx.Withdraw("caution", "other", "of another kind")
	})
	if withdrawn, err := h.DB.Renew(t.Context(), claims["held"], noon.Add(time.Hour)); withdrawn != "received" || err != nil {
		t.Errorf("looking again at what was withdrawn: %q, %v", withdrawn, err)
	}
	must(t, h.DB.Mark(t.Context(), claims["held"], store.Outcome{State: store.Planned, At: noon, Next: noon.Add(time.Minute)}, nil))
	must(t, h.DB.Mark(t.Context(), claims["taken"], store.Outcome{State: store.Sent, At: noon, Reason: "taken"}, nil))
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.Withdraw("round", "taken", "too late") })
	want := map[string]string{"waits": store.Withdrawn, "held": store.Withdrawn, "taken": store.Sent, "other": store.Planned}
	for _, m := range h.reminders(t, h.Mine) {
		if string(m.State) != want[m.Subject] {
			t.Errorf("%s is %s, want %s", m.Subject, m.State, want[m.Subject])
		}
	}
	if got := h.claim(t, 2*time.Hour); len(got) != 1 || got[0].Subject != "other" {
		t.Fatalf("claimed after the withdrawal: %v", got)
	} else {
		h.write(t, h.Mine, func(tx care.Tx) error { return tx.SetLeft(h.Mine.Ada.ID, noon) })
		if withdrawn, err := h.DB.Renew(t.Context(), got[0], far); withdrawn == "" || err != nil {
			t.Errorf("looking again at a reminder to somebody who left: %q, %v", withdrawn, err)
		}
	}
}

func testLate(t *testing.T, h *House) {
	late, fresh := h.reminder(h.Mine, "late", 0), h.reminder(h.Mine, "fresh", 0)
	late.UseBy = noon.Add(time.Hour)
	h.addReminders(t, h.Mine, late, fresh)
	ask := store.Ask{Account: h.Channel, Now: noon.Add(time.Hour), Limit: 10, Lease: time.Minute, OnlyLate: true}
	got, err := h.DB.Claim(t.Context(), ask)
	must(t, err)
	if len(got) != 1 || got[0].Subject != "late" {
		t.Fatalf("claimed of those past their use-by: %v", got)
	}
	must(t, h.DB.Mark(t.Context(), got[0], store.Outcome{State: store.Folded, At: ask.Now, Reason: "too late"}, nil))
	ask.OnlyLate, ask.Limit = false, 1
	got, err = h.DB.Claim(t.Context(), ask)
	must(t, err)
	if len(got) != 1 || got[0].Subject != "fresh" {
		t.Errorf("claimed of the rest: %v", got)
	}
}
