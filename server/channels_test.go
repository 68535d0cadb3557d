package server

import (
	"context"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leground/notify"
	"leground/notify/notifytest"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/rounds"
)

// setScene opens a yard in London at 05:00 on Thursday 14 May 2026.
func setScene(t *testing.T, mail, push *notifytest.Recorder) *scene {
	t.Helper()
	zone, err := time.LoadLocation("Europe/London")
	must(t, err)
	db := openFile(t)
	c := &clock{time.Date(2026, 5, 14, 4, 0, 0, 0, time.UTC)}
	r := newRig(t, db, c.now, mail, push)
	return &scene{r, newPlace(t, db, "Europe/London", tracker.DefaultSlots(), c.at), c, zone}
}

// until turns the engine every five minutes until a local time of the scene's day.
func (s *scene) until(clockTime string) {
	s.t.Helper()
	minute, err := tracker.ParseMinuteOfDay(clockTime)
	must(s.t, err)
	end := rounds.Due(tracker.DateOf(s.clock.at.In(s.zone)), minute, s.zone)
	for s.clock.at.Before(end) {
		s.turn()
		s.send()
		s.clock.at = s.clock.at.Add(5 * time.Minute)
	}
	s.turn()
	s.send() // sending has turns of its own, every few seconds
}

func (s *scene) phone(a care.Actor, name string) care.Way {
	s.t.Helper()
	a.Session = care.NewID()
	must(s.t, s.db.Across(s.t.Context(), func(g care.Gate) error {
		return g.AddSession(care.Session{ID: a.Session, Yard: a.Yard, Person: a.Person, Created: s.clock.at, Seen: s.clock.at}, a.Session)
	}))
	way, err := s.care.AddWay(s.t.Context(), a, care.ChannelPush, name+".example", name+" of "+string(a.Person.ID), name)
	must(s.t, err)
	return way
}

func (s *scene) want(boxes []*notifytest.Recorder, want ...string) {
	s.t.Helper()
	if diff := cmp.Diff(want, told(s.place, s.zone, boxes...)); diff != "" {
		s.t.Errorf("sent (-want +got):\n%s\n%s", diff, strings.Join(s.states(s.t, s.db), "\n"))
	}
}

func (s *scene) wantState(texts ...string) {
	s.t.Helper()
	have := strings.Join(s.states(s.t, s.db), "\n")
	for _, text := range texts {
		if !strings.Contains(have, text) {
			s.t.Errorf("no %q in\n%s", text, have)
		}
	}
}

// A phone gets the message; mail is for when no phone takes it: none is there, its subscription has ended, or
// nothing is accepted within five minutes. Two phones get it both, and mail only when neither takes it.
func TestNextChannel(t *testing.T) {
	t.Run("taken", func(t *testing.T) {
		mail, push := &notifytest.Recorder{}, &notifytest.Recorder{Called: "push"}
		s := setScene(t, mail, push)
		s.phone(s.ada, "one")
		s.phone(s.ada, "two")
		s.until("07:20")
		s.want([]*notifytest.Recorder{mail, push}, "07:00 Ada round by push", "07:00 Ada round by push")
	})
	t.Run("gone", func(t *testing.T) {
		mail := &notifytest.Recorder{}
		s := setScene(t, mail, refuse("push", notify.Gone))
		s.phone(s.ada, "one")
		s.until("07:00")
		s.want([]*notifytest.Recorder{mail}, "07:00 Ada round by email")
		s.wantState("first message, Ada by push: given up (device gone)", "first message, Ada by email: sent (accepted)")
		view, err := s.care.Reminded(t.Context(), s.ada)
		must(t, err)
		if len(view.Ways) != 0 {
			t.Errorf("a subscription that has ended is kept: %+v", view.Ways)
		}
	})
	t.Run("one of two gone", func(t *testing.T) {
		mail := &notifytest.Recorder{}
		push := &notifytest.Recorder{Called: "push", Answer: func(_ context.Context, m notify.Message) error {
			if strings.HasPrefix(m.To, "one ") {
				return &notify.Failure{Class: notify.Gone, What: "Gone."}
			}
			return nil
		}}
		s := setScene(t, mail, push)
		s.phone(s.ada, "one")
		s.phone(s.ada, "two")
		s.until("07:20")
		s.want([]*notifytest.Recorder{mail, push}, "07:00 Ada round by push")
	})
	t.Run("push service down", func(t *testing.T) {
		mail := &notifytest.Recorder{}
		s := setScene(t, mail, refuse("push", notify.ServerTrouble))
		s.phone(s.ada, "one")
		s.until("07:10")
		s.want([]*notifytest.Recorder{mail}, "07:05 Ada round by email")
		s.wantState("Ada by push: given up (next channel takes over)")
	})
	t.Run("signed out", func(t *testing.T) {
		mail, push := &notifytest.Recorder{}, &notifytest.Recorder{Called: "push"}
		s := setScene(t, mail, push)
		way := s.phone(s.ada, "one")
		must(t, s.db.Write(t.Context(), s.yard.ID, func(tx care.Tx) error { return tx.EndSession(way.Session, s.clock.at) }))
		s.until("07:00")
		s.want([]*notifytest.Recorder{mail, push}, "07:00 Ada round by email")
	})
	t.Run("nobody", func(t *testing.T) {
		mail, push := &notifytest.Recorder{}, &notifytest.Recorder{Called: "push"}
		s := setScene(t, mail, push)
		for _, a := range []care.Actor{s.ada, s.bea} {
			s.choose(a, func(c *care.Choice) { c.Channels = nil })
		}
		s.until("08:35")
		s.want([]*notifytest.Recorder{mail, push})
		view, err := s.care.Board(t.Context(), s.ada)
		must(t, err)
		if !view.Nobody {
			t.Error("the Board does not say that nobody can be reminded")
		}
	})
}

// An address that a server refuses on three different days is left alone, and the owner hears of the first time
// and of the last.
func TestBadAddress(t *testing.T) {
	mail := &notifytest.Recorder{}
	s := setScene(t, mail, &notifytest.Recorder{Called: "push"})
	mail.Answer = func(_ context.Context, m notify.Message) error {
		if strings.Contains(m.To, string(s.bea.Person.ID)) {
			return &notify.Failure{Class: notify.BadAddress, What: "There is no such address.", Answer: "550 5.1.1 no such person"}
		}
		return nil
	}
	for day := range 5 {
		s.clock.at = time.Date(2026, 5, 14+day, 5, 0, 0, 0, time.UTC)
		s.until("22:00")
	}
	tried := 0
	for _, m := range mail.Tried() {
		if strings.Contains(m.To, string(s.bea.Person.ID)) {
			tried++
		}
	}
	// Nothing is ever recorded: Bea is asked second about each of two rounds on three days, and then no more.
	if tried < 3 || tried > 6 {
		t.Errorf("Bea's address was tried %d times", tried)
	}
	var notices []string
	for _, r := range s.reminders(t, s.db) {
		if r.Kind == rounds.AboutNotice && r.Person == s.ada.Person.ID && strings.HasPrefix(r.Subject, "address") {
			notices = append(notices, string(r.State))
		}
	}
	carried := 0
	for _, r := range s.reminders(t, s.db) {
		for _, c := range r.Carries {
			if strings.HasPrefix(c.Subject, "address") && r.Person == s.ada.Person.ID && r.State == "sent" {
				carried++
			}
		}
	}
	if len(notices)+carried != 2 {
		t.Errorf("the owner heard of it %d times in messages of their own and %d times in others, want twice in all", len(notices), carried)
	}
	s.wantState("second person, Bea by email: given up (address refused)")
	view, err := s.care.Reminded(t.Context(), s.bea)
	must(t, err)
	if !view.Me.MailMarked() || len(view.Reach) != 0 {
		t.Errorf("the address is not left alone: %+v", view)
	}
	// Sending a test that is taken makes it good again.
	test, err := s.care.PrepareTest(t.Context(), s.bea, care.ChannelEmail)
	must(t, err)
	must(t, s.care.NoteTest(t.Context(), s.bea, test, care.TestResult{Taken: true, Words: "250"}))
	if view, err = s.care.Reminded(t.Context(), s.bea); err != nil || view.Me.MailMarked() {
		t.Errorf("after a test that was taken: %+v, %v", view.Me, err)
	}
}

// A mail server that refuses the settings stops nobody's row: they wait, and the owner hears by phone.
func TestSetUpFault(t *testing.T) {
	var broken atomic.Bool
	broken.Store(true)
	mail := &notifytest.Recorder{Answer: func(context.Context, notify.Message) error {
		if broken.Load() {
			return &notify.Failure{Class: notify.SetUpFault, What: "The mail server refuses the password.", Answer: "535 5.7.8 wrong"}
		}
		return nil
	}}
	push := &notifytest.Recorder{Called: "push"}
	s := setScene(t, mail, push)
	s.choose(s.ada, func(c *care.Choice) { c.Channels = []string{"email", "push"} })
	s.choose(s.bea, func(c *care.Choice) { c.Channels = []string{"email"} })
	s.phone(s.ada, "one")
	view, err := s.care.ReminderRules(t.Context(), s.ada)
	must(t, err)
	view.Rules.Turns = map[string][]tracker.PersonID{"morning": {s.bea.Person.ID}}
	must(t, s.care.ChangeReminderRules(t.Context(), s.ada, view.Rules))
	s.until("07:15")
	s.want([]*notifytest.Recorder{mail, push}, "07:05 Ada notice by push")
	s.wantState("first message, Bea by email: planned (settings refused)")
	board, err := s.care.Board(t.Context(), s.ada)
	must(t, err)
	if len(board.Stuck) != 1 || !strings.Contains(board.Stuck[0].Answer, "535 5.7.8 wrong") {
		t.Errorf("the Board says %+v", board.Stuck)
	}
	broken.Store(false)
	s.until("07:50") // the account rests 30 minutes
	if got := told(s.place, s.zone, mail); !slices.Contains(got, "07:30 Bea round by email") {
		t.Errorf("after the password was put right: %v\n%s", got, strings.Join(s.states(t, s.db), "\n"))
	}
}

// Ring now goes out in the transaction that raises it, again after 15 minutes, and to a second person after 30,
// through quiet hours, days away and a spent budget. Only "rang" ends it; "will ring at" opens it again.
func TestRingNow(t *testing.T) {
	raise := func(s *scene) tracker.CautionID {
		entry := care.Entry{Check: tracker.Check{ID: care.NewRecord(), Subject: tracker.OfLeg, Outcome: tracker.Looked, Horse: s.horses[0], Leg: tracker.LF,
			Dangers: []tracker.Danger{tracker.NotBearing}, Hash: "x"}}
		saved, err := s.care.Record(s.t.Context(), s.bea, entry)
		must(s.t, err)
		for _, c := range saved.Raised {
			if c.Level == tracker.RingNow {
				return c.ID
			}
		}
		s.t.Fatalf("raised %+v", saved.Raised)
		return ""
	}
	act := func(s *scene, id tracker.CautionID, kind tracker.CautionActKind, until time.Time) {
		must(s.t, s.care.Act(s.t.Context(), s.ada, id, tracker.CautionAct{ID: care.NewRecord(), Kind: kind, Until: until}))
	}
	t.Run("nobody rings", func(t *testing.T) {
		mail := &notifytest.Recorder{}
		s := setScene(t, mail, &notifytest.Recorder{Called: "push"})
		s.choose(s.ada, func(c *care.Choice) { c.Quiet = rounds.Quiet{From: 20 * 60, To: 9 * 60} })
		s.until("05:30")
		raise(s)
		s.send() // no turn of the worker in between
		s.until("06:30")
		// Ada has quiet hours, so the round's first person is Bea; Ada is its owner, and the second.
		s.want([]*notifytest.Recorder{mail}, "05:30 Ada caution by email", "05:30 Bea caution by email", "05:45 Bea caution by email")
	})
	t.Run("the owner is first", func(t *testing.T) {
		mail := &notifytest.Recorder{}
		s := setScene(t, mail, &notifytest.Recorder{Called: "push"})
		s.until("05:30")
		id := raise(s)
		s.send()
		s.until("05:50")
		act(s, id, tracker.WillRingAt, s.clock.at.Add(40*time.Minute))
		s.until("06:40")
		s.want([]*notifytest.Recorder{mail}, "05:30 Ada caution by email", "05:45 Ada caution by email", "06:30 Ada caution by email")
		act(s, id, tracker.Rang, time.Time{})
		s.until("06:55")
		if n := len(mail.Taken()); n != 3 {
			t.Errorf("%d messages after somebody rang, want 3", n)
		}
	})
}

// After two days without the program each person gets one summary, nothing is sent late, and every round is there.
func TestProgramDown(t *testing.T) {
	mail := &notifytest.Recorder{}
	s := setScene(t, mail, &notifytest.Recorder{Called: "push"})
	s.until("06:00")
	s.clock.at = time.Date(2026, 5, 16, 9, 0, 0, 0, time.UTC) // Saturday 10:00
	s.turn()
	s.send()
	var got []string
	for _, m := range mail.Taken() {
		got = append(got, string(m.Kind)+": "+m.Subject)
	}
	// The morning round of Saturday is on, so its first message goes out, and names what could not be said. It has
	// been due for so long that a second person is asked at once.
	want := []string{"round: Morning round, Sat 16 May, 07:00, Marlpit Yard", "second-person: Can you look? Morning round not received yet, Marlpit Yard"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("sent (-want +got):\n%s\n%s", diff, strings.Join(s.states(t, s.db), "\n"))
	}
	for _, line := range []string{"Thu 14 May, morning round: no record.", "Thu 14 May, evening round: no record.", "Fri 15 May, morning round: no record.", "Fri 15 May, evening round: no record."} {
		if len(mail.Taken()) == 0 || !strings.Contains(mail.Taken()[0].Text, line) {
			t.Errorf("the message does not say %q", line)
		}
	}
	states := map[string]int{}
	for _, r := range s.place.rounds(t, s.db, tracker.NewDate(2026, 5, 14), tracker.NewDate(2026, 5, 16)) {
		states[tracker.RoundStateName(r.State)]++
	}
	if states["no record"] != 4 || states["open"] != 2 {
		t.Errorf("rounds after the outage: %v", states)
	}
}

// A record that comes after a round's time counts for it, and taking it back takes that back.
func TestLateRecords(t *testing.T) {
	s := setScene(t, &notifytest.Recorder{}, &notifytest.Recorder{Called: "push"})
	s.until("19:00")
	state := func() string { return tracker.RoundStateName(s.round("morning").State) }
	if got := state(); got != "no record" {
		t.Fatalf("the morning round is %q", got)
	}
	morning := s.round("morning")
	var records []tracker.RecordID
	for _, leg := range tracker.Legs() {
		entry := care.Entry{Check: tracker.Check{ID: care.NewRecord(), Subject: tracker.OfLeg, Outcome: tracker.Looked, Horse: s.horses[0], Leg: leg,
			RoundDay: morning.Day, Slot: morning.Slot, DeviceAt: morning.DueAt.Add(10 * time.Minute), Hash: "x"}}
		_, err := s.care.Record(t.Context(), s.bea, entry)
		must(t, err)
		records = append(records, entry.Check.ID)
		if got := state(); len(records) < 4 && got != "part done" {
			t.Errorf("after %d late records the round is %q", len(records), got)
		}
	}
	if got := state(); got != "done" {
		t.Errorf("after all late records the round is %q", got)
	}
	must(t, s.care.Retract(t.Context(), s.bea, care.NewRecord(), records[0]))
	if got := state(); got != "part done" {
		t.Errorf("after one was taken back the round is %q", got)
	}
}
