package storetest

import (
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/rounds"
	"leground/tracker/store"
)

// reached is how the people of a yard are reminded.
type reached struct {
	choice care.Choice // Ada's
	phone  care.Way    // Ada's, on a session of hers
	hook   care.Way    // Bea's
	rules  care.ReminderRules
	press  care.Press
	change care.RoundChange
}

// reach adds one of everything; session is a running one of Ada's.
func (h *House) reach(t testing.TB, p Place, session string) reached {
	t.Helper()
	r := reached{
		choice: care.Choice{Channels: []string{"email", "push"}, Quiet: rounds.Quiet{From: 22 * 60, To: 6 * 60},
			Away: []care.Span{{From: today, To: today + 2}, {From: today + 9}}, Names: true, Alarm: 15 * time.Minute, MailStopped: noon, Changed: noon},
		phone: care.Way{ID: "push " + NewID(), Person: p.Ada.ID, Account: "push phones.example", Body: `{"endpoint":"x"}`, Name: "Ada's phone",
			Session: session, Made: noon.Add(time.Second), Proved: noon},
		hook: care.Way{ID: "webhook " + NewID(), Person: p.Bea.ID, Account: "webhook hook.example", Body: `{"url":"y"}`, Name: "hook.example", Made: noon},
		rules: care.ReminderRules{Ladder: rounds.Ladder{First: 5 * time.Minute, Nudge: rounds.Off, Second: 90 * time.Minute}, Budget: 3,
			Turns: map[string][]tracker.PersonID{"morning": {p.Bea.ID, p.Ada.ID}}, Closed: []care.Closing{{Span: care.Span{From: today + 3, To: today + 4}, Why: "show"}}},
		press:  care.Press{ID: NewID(), Person: p.Ada.ID, Subject: "2026-05-14 morning", Kind: care.Later, For: 2 * time.Hour, At: noon},
		change: care.RoundChange{At: noon, Zone: "Europe/Berlin", Slots: tracker.DefaultSlots()},
	}
	h.write(t, p, func(tx care.Tx) error {
		must(t, tx.SaveChoice(p.Ada.ID, r.choice))
		must(t, tx.AddWay(r.phone))
		must(t, tx.AddWay(r.hook))
		must(t, tx.AddBadDay(p.Bea.ID, p.Bea.Email, today))
		must(t, tx.AddBadDay(p.Bea.ID, p.Bea.Email, today-1))
		must(t, tx.AddBadDay(p.Bea.ID, p.Bea.Email, today)) // the same day counts once
		must(t, tx.AddBadDay(p.Bea.ID, "old@example.test", today-5))
		must(t, tx.SaveReminderRules(r.rules))
		must(t, tx.AddPress(r.press))
		must(t, tx.AddPress(r.press))
		return tx.AddRoundChange(r.change)
	})
	return r
}

func testReach(t *testing.T, h *House) {
	session := care.Session{ID: NewID(), Yard: h.Mine.Yard.ID, Person: h.Mine.Ada, Created: noon, Seen: noon}
	h.across(t, func(g care.Gate) error { return g.AddSession(session, "token of "+session.ID) })
	h.read(t, h.Mine, func(tx care.Tx) error {
		people, err := tx.Contacts()
		must(t, err)
		if len(people) != 2 || !people[0].Changed.IsZero() || people[0].Channels != nil {
			t.Errorf("people who have not chosen: %+v", people)
		}
		_, found, err := tx.ReminderRules()
		if found {
			t.Error("a new yard has rules of its own")
		}
		return err
	})
	r := h.reach(t, h.Mine, session.ID)
	wantFilled(t, r.choice)
	wantFilled(t, r.phone)
	wantFilled(t, r.rules)
	wantFilled(t, r.press)
	wantFilled(t, r.change)
	h.read(t, h.Mine, func(tx care.Tx) error {
		people, err := tx.Contacts()
		must(t, err)
		byName := map[string]care.Contact{}
		for _, c := range people {
			byName[c.Name] = c
		}
		same(t, "a choice", byName["Ada"].Choice, r.choice)
		if bea := byName["Bea"]; bea.BadDays != 2 || bea.BadSince != today-1 || bea.Role != tracker.Carer || bea.Email != h.Mine.Bea.Email {
			t.Errorf("Bea's address: %+v", bea)
		}
		ways, err := tx.Ways()
		must(t, err)
		same(t, "ways, newest first", ways, []care.Way{r.phone, r.hook})
		rules, found, err := tx.ReminderRules()
		must(t, err)
		same(t, "rules", rules, r.rules)
		if !found {
			t.Error("the rules were not found")
		}
		presses, err := tx.Presses(noon)
		must(t, err)
		same(t, "presses", presses, []care.Press{r.press})
		none, err := tx.Presses(noon.Add(time.Millisecond))
		must(t, err)
		if len(none) > 0 {
			t.Errorf("presses after the last: %v", none)
		}
		changes, err := tx.RoundChanges()
		same(t, "changes of the rounds", changes, []care.RoundChange{r.change})
		return err
	})
	h.reachChanges(t, r, session)
}

// reachChanges changes what reach has added.
func (h *House) reachChanges(t *testing.T, r reached, session care.Session) {
	proved := r.hook
	proved.Proved, proved.Body, proved.Name = noon, "{}", "another"
	h.write(t, h.Mine, func(tx care.Tx) error {
		must(t, tx.SaveWay(proved))
		must(t, tx.ClearBadDays(h.Mine.Bea.ID))
		later := r.press
		later.ID, later.For = NewID(), rounds.UntilNextSlot
		must(t, tx.AddPress(later))
		return tx.AddRoundChange(care.RoundChange{At: noon, Zone: "Europe/London"})
	})
	h.read(t, h.Mine, func(tx care.Tx) error {
		ways, err := tx.Ways()
		must(t, err)
		same(t, "a way that was proved", ways[1], proved)
		people, err := tx.Contacts()
		must(t, err)
		if people[0].BadDays+people[1].BadDays != 0 {
			t.Errorf("bad days that were cleared: %+v", people)
		}
		presses, err := tx.Presses(noon)
		must(t, err)
		if len(presses) != 2 || presses[0].For+presses[1].For != 2*time.Hour+rounds.UntilNextSlot {
			t.Errorf("presses: %+v", presses)
		}
		changes, err := tx.RoundChanges()
		must(t, err)
		if len(changes) != 2 || changes[1].Zone != "Europe/London" {
			t.Errorf("changes in their order: %+v", changes)
		}
		return nil
	})
	// A phone that is signed out is no way any more.
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.EndSession(session.ID, noon) })
	h.read(t, h.Mine, func(tx care.Tx) error {
		ways, err := tx.Ways()
		same(t, "ways without the phone", ways, []care.Way{proved})
		return err
	})
	h.write(t, h.Mine, func(tx care.Tx) error { return tx.DropWay(r.hook.ID) })
	wantKind(t, "a way that is gone", h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error { return tx.DropWay(r.hook.ID) }), tracker.NotFound)
}

// testSecrets keeps secrets of the server: the first one given stays.
func testSecrets(t *testing.T, h *House) {
	name := "keys " + NewID()
	for range 2 {
		h.across(t, func(g care.Gate) error {
			got, err := g.ServerSecret(name, "first")
			if got != "first" {
				t.Errorf("the secret is %q", got)
			}
			return err
		})
	}
	h.across(t, func(g care.Gate) error {
		got, err := g.ServerSecret(name, "second")
		if got != "first" {
			t.Errorf("the secret was replaced by %q", got)
		}
		return err
	})
}

// testLives moves reminders from state to state, finds them by the secret of their links, and follows their tries.
func testLives(t *testing.T, h *House) {
	m := h.reminder(h.Mine, "2026-05-14 morning", 0)
	m.Token = NewID()
	c := caution(h.Mine, tracker.RingNow, -10*24*time.Hour)
	old := h.reminder(h.Mine, string(c.ID), -10*24*time.Hour)
	old.Kind = "ring now"
	h.addCautions(t, h.Mine, c)
	h.addReminders(t, h.Mine, m, old)
	find := func(token string) (tracker.YardID, care.Reminder) { return h.byToken(t, token) }
	if yard, found := find(m.Token); yard != h.Mine.Yard.ID || found.ID != m.ID || found.Token != m.Token {
		t.Errorf("a reminder by its secret: %s, %+v", yard, found)
	}
	wantKind(t, "no secret", h.DB.Across(t.Context(), func(g care.Gate) error { _, _, err := g.ReminderByToken(""); return err }), tracker.NotFound)
	h.read(t, h.Mine, func(tx care.Tx) error {
		rows, err := tx.ReminderHistory(noon)
		must(t, err)
		if len(rows) != 2 || rows[0].ID != m.ID || rows[1].ID != old.ID || len(rows[0].Facts) > 0 {
			t.Errorf("the history has %+v, want today's and the one about the open caution, without facts", rows)
		}
		return nil
	})
	moved := m
	moved.State, moved.Reason, moved.Token = "withdrawn", "received", ""
	again := moved
	again.State, again.Reason, again.SendAt, again.Token = "planned", "sent again by hand", noon.Add(time.Hour), NewID()
	stale := moved
	stale.State = "folded"
	for _, step := range []struct {
		to    care.Reminder
		from  string
		token string // by which it is found afterwards
		want  care.Reminder
	}{{moved, "planned", m.Token, moved}, {stale, "planned", m.Token, moved}, {again, "withdrawn", again.Token, again}} {
		h.write(t, h.Mine, func(tx care.Tx) error { return tx.MoveReminder(step.to, step.from) })
		_, got := find(step.token)
		same(t, "a reminder that was moved from "+step.from, got, step.want)
	}
	h.livesEnd(t, m)
	if _, got := find(again.Token); got.Token != "" || got.State != "given up" {
		t.Errorf("the secret of one that has ended is kept: %+v", got)
	}
	h.read(t, h.Mine, func(tx care.Tx) error {
		mine, err := tx.Reminders(care.ReminderQuery{Person: h.Mine.Ada.ID, State: "given up", Limit: 1})
		must(t, err)
		if len(mine) != 1 || mine[0].ID != m.ID {
			t.Errorf("a narrowed list: %+v", mine)
		}
		none, err := tx.Reminders(care.ReminderQuery{Horse: h.Mine.Tom.ID})
		if len(none) != 0 {
			t.Errorf("about a horse that none is about: %+v", none)
		}
		return err
	})
}

func (h *House) byToken(t *testing.T, token string) (yard tracker.YardID, found care.Reminder) {
	t.Helper()
	h.across(t, func(g care.Gate) (err error) { yard, found, err = g.ReminderByToken(care.HashToken(token)); return err })
	return yard, found
}

// livesEnd gives up every reminder that is due, with something that follows from it.
func (h *House) livesEnd(t *testing.T, m care.Reminder) {
	held := h.claim(t, time.Hour)
	if len(held) != 2 {
		t.Fatalf("claimed %d", len(held))
	}
	ran := ""
	for _, row := range held {
		end := store.Outcome{State: store.GivenUp, At: noon.Add(time.Hour), Reason: "address refused", Answer: "no such address"}
		state := "" // a write may run twice
		must(t, h.DB.Mark(t.Context(), row, end, func(tx care.Tx) error {
			got, err := tx.Reminder(row.ID)
			state = string(got.State)
			return err
		}))
		ran += state + " "
	}
	if ran != "given up given up " {
		t.Errorf("what follows ran with %q", ran)
	}
	h.read(t, h.Mine, func(tx care.Tx) error {
		tries, err := tx.Tries(m.ID)
		must(t, err)
		same(t, "tries", tries, []care.Try{{Reminder: m.ID, Number: 1, At: noon.Add(time.Hour), Result: "given up", Answer: "no such address"}})
		n, err := tx.PerhapsSent(noon, far)
		if n != 0 {
			t.Errorf("%d perhaps sent", n)
		}
		return err
	})
}

// reachLeaks are the leak cases of how people are reminded.
func reachLeaks(h *House, theirs filled, cases map[string]func(care.Tx) leak) map[string]func(care.Tx) leak {
	p, r := h.Other, theirs.reached
	cases["Contacts"] = func(tx care.Tx) leak {
		people, err := tx.Contacts()
		for _, c := range people {
			if c.ID == p.Ada.ID || c.ID == p.Bea.ID || !c.Changed.IsZero() || c.BadDays > 0 {
				return leak{err, true}
			}
		}
		return leak{err, len(people) != 2}
	}
	cases["SaveChoice"] = func(tx care.Tx) leak { return refused(tx.SaveChoice(p.Ada.ID, r.choice)) }
	cases["Ways"] = func(tx care.Tx) leak { return listed(tx.Ways()) }
	cases["AddWay"] = func(tx care.Tx) leak { w := r.phone; w.ID = "push x"; return refused(tx.AddWay(w)) }
	cases["SaveWay"] = func(tx care.Tx) leak { return refused(tx.SaveWay(r.phone)) }
	cases["DropWay"] = func(tx care.Tx) leak { return refused(tx.DropWay(r.phone.ID)) }
	cases["AddBadDay"] = func(tx care.Tx) leak { return refused(tx.AddBadDay(p.Bea.ID, p.Bea.Email, today+1)) }
	cases["ClearBadDays"] = func(tx care.Tx) leak { return quiet(tx.ClearBadDays(p.Bea.ID)) }
	cases["ReminderRules"] = func(tx care.Tx) leak { _, found, err := tx.ReminderRules(); return leak{err, found} }
	cases["SaveReminderRules"] = func(tx care.Tx) leak { return quiet(tx.SaveReminderRules(care.ReminderRules{})) } // its own
	cases["Presses"] = func(tx care.Tx) leak { return listed(tx.Presses(time.Time{})) }
	cases["AddPress"] = func(tx care.Tx) leak { x := r.press; x.ID = NewID(); return refused(tx.AddPress(x)) }
	cases["RoundChanges"] = func(tx care.Tx) leak { l, err := tx.RoundChanges(); return leak{err, len(l) != 1} } // its own, added before
	cases["AddRoundChange"] = func(tx care.Tx) leak { return quiet(tx.AddRoundChange(r.change)) }                // its own
	cases["WakeAt"] = func(tx care.Tx) leak { at, err := tx.WakeAt(); return leak{err, at.Equal(noon.Add(time.Hour))} }
	cases["WakeBy"] = func(tx care.Tx) leak { return quiet(tx.WakeBy(noon.Add(-time.Hour))) }
	cases["Reminder"] = func(tx care.Tx) leak { return looked(tx.Reminder(theirs.reminder.ID)) }
	cases["ReminderHistory"] = func(tx care.Tx) leak { return listed(tx.ReminderHistory(time.Time{})) }
	cases["Tries"] = func(tx care.Tx) leak { return listed(tx.Tries(theirs.reminder.ID)) }
	cases["PerhapsSent"] = func(tx care.Tx) leak { n, err := tx.PerhapsSent(time.Time{}, far); return leak{err, n != 0} }
	cases["MoveReminder"] = func(tx care.Tx) leak {
		m := theirs.reminder
		m.State = "withdrawn"
		return quiet(tx.MoveReminder(m, "planned"))
	}
	return cases
}
