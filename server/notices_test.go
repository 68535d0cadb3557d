package server

import (
	"strings"
	"testing"
	"time"

	"leground/notify/notifytest"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/mixing"
	"leground/tracker/rounds"
)

// texts gives the plain text of what was taken by somebody about something, oldest first.
func texts(box *notifytest.Recorder, to care.Actor, kind string) (out []string) {
	for _, m := range box.Taken() {
		if strings.Contains(m.To, string(to.Person.ID)) && (kind == "" || string(m.Kind) == kind) {
			out = append(out, m.Text)
		}
	}
	return out
}

// day runs the scene through a whole local day and lets both rounds be received or not.
func (s *scene) day(date time.Time, received bool) {
	s.clock.at = date.Add(4 * time.Hour)
	s.until("07:10")
	if received {
		s.all("morning")
	}
	s.until("18:40")
	if received {
		s.all("evening")
	}
	s.until("23:00")
}

// On a Monday at noon each owner hears how the week went, counted by hand: fourteen rounds from Monday 18 to Sunday
// 24 May 2026, of which ten were received; Ada is asked twice a day, and four evenings and mornings in vain.
func TestWeeklyLine(t *testing.T) {
	mail := &notifytest.Recorder{}
	s := setScene(t, mail, &notifytest.Recorder{Called: "push"})
	for day := range 12 { // Thursday 14 to Monday 25 May
		s.day(time.Date(2026, 5, 14+day, 0, 0, 0, 0, time.UTC), day != 5 && day != 6)
	}
	weeks := texts(mail, s.ada, "weekly")
	if len(weeks) != 1 || len(texts(mail, s.bea, "weekly")) != 0 {
		t.Fatalf("weekly messages: %v", weeks)
	}
	// 20 for the rounds of five good days would be 10; on the two days in vain Ada gets 2 calls and 2 nudges, Bea 2.
	for _, want := range []string{"Mon 18 May to Sun 24 May", "14 rounds due, 10 received.", "22 reminders sent, 10 followed by a record within an hour."} {
		if !strings.Contains(weeks[0], want) {
			t.Errorf("the week does not say %q:\n%s", want, weeks[0])
		}
	}
}

// On the last day of a horse's isolation one person hears of it, in the message of the morning round.
func TestIsolationEnds(t *testing.T) {
	mail := &notifytest.Recorder{}
	s := setScene(t, mail, &notifytest.Recorder{Called: "push"})
	var horse tracker.Horse
	must(t, s.db.Read(t.Context(), s.yard.ID, func(tx care.Tx) (err error) { horse, err = tx.Horse(s.horses[0]); return err }))
	horse.IsolatedUntil = tracker.NewDate(2026, 5, 15)
	must(t, s.care.ChangeHorse(t.Context(), s.ada, horse))
	for day := range 3 {
		s.day(time.Date(2026, 5, 14+day, 0, 0, 0, 0, time.UTC), true)
	}
	const says = "The isolation of Bramble ends on Fri 15 May. Ask your vet before Bramble joins the others."
	said := 0
	for _, m := range mail.Taken() {
		if strings.Contains(m.Text, says) {
			said++
			if m.Subject != "Morning round, Fri 15 May, 07:00, Marlpit Yard" {
				t.Errorf("it is said in %q", m.Subject)
			}
		}
	}
	if said != 1 || len(texts(mail, s.ada, "notice")) != 0 {
		t.Errorf("it was said %d times:\n%s", said, strings.Join(s.states(t, s.db), "\n"))
	}
}

// mixEnds puts a mix into Stores that may be used until an instant.
func (s *scene) mixEnds(t *testing.T, ends time.Time) {
	t.Helper()
	must(t, s.db.Write(t.Context(), s.yard.ID, func(tx care.Tx) error {
		product := tracker.Product{ID: tracker.ProductID(care.NewID()), Name: "Wash concentrate A", Label: "1/20|% w/v|", CreatedAt: s.clock.at, CreatedBy: s.ada.Person.ID, Hash: "x"}
		if err := tx.AddProduct(product); err != nil {
			return err
		}
		bottle := tracker.Bottle{ID: tracker.BottleID(care.NewID()), Product: product.ID, Size: "1000|mL", AddedAt: s.clock.at, AddedBy: s.ada.Person.ID, Hash: "x"}
		if err := tx.AddBottle(bottle); err != nil {
			return err
		}
		return tx.AddMix(tracker.Mix{ID: tracker.MixID(care.NewID()), Product: product.ID, Bottle: bottle.ID, Want: "1/20|% w/v|", Strength: "1/20|% w/v|",
			Concentrate: "12|mL", Total: "500|mL", MadeAt: s.clock.at, By: s.ada.Person.ID, ThrowAway: ends,
			Facts: tracker.MixFacts{Name: "Wash concentrate A, 0.05 g per 100 mL"}, Hash: "x"})
	}))
}

// A mix that is past its throw-away time and still there is said to one person then, and named in the message of the
// round during which it passes.
func TestMixToThrowAway(t *testing.T) {
	mail := &notifytest.Recorder{}
	s := setScene(t, mail, &notifytest.Recorder{Called: "push"})
	s.mixEnds(t, time.Date(2026, 5, 14, 9, 30, 0, 0, time.UTC))
	s.until("07:05")
	s.all("morning")
	s.until("12:00")
	morning := texts(mail, s.ada, "round")
	if len(morning) != 1 || !strings.Contains(morning[0], "MIXES TO THROW AWAY\nWash concentrate A, 0.05 g per 100 mL: throw away at 10:30 today.") {
		t.Errorf("the morning message: %v", morning)
	}
	notices := texts(mail, s.ada, "notice")
	if len(notices) != 1 || !strings.Contains(notices[0], "was to be thrown away at 10:30.") || len(texts(mail, s.bea, "")) != 0 {
		t.Errorf("notices: %v\n%s", notices, strings.Join(s.states(t, s.db), "\n"))
	}
	for _, row := range s.reminders(t, s.db) {
		if row.Kind == rounds.AboutNotice && row.SentAt.Format("15:04") != "09:30" {
			t.Errorf("it was said at %s", row.SentAt)
		}
	}
}

// A mix that ends at midnight is said by the day that ends.
func TestMixThatEndsAtMidnight(t *testing.T) {
	mail := &notifytest.Recorder{}
	s := setScene(t, mail, &notifytest.Recorder{Called: "push"})
	s.mixEnds(t, time.Date(2026, 5, 15, 0, 0, 0, 0, s.zone))
	s.until("23:30")
	if all := strings.Join(texts(mail, s.ada, "round"), "\n"); !strings.Contains(all, "throw away at the end of Thu 14 May.") || strings.Contains(all, "00:00") {
		t.Errorf("the messages of the rounds:\n%s", all)
	}
}

// What the plans use and what will not last until a delivery is said to the owner in the morning, by what the plan takes: a
// batch of 500 mL at each round takes 12.5 mL of the bottle, 13 of them come in the 7 days of a delivery, and 150 mL are
// enough for 12.
func TestSupplyRunsOut(t *testing.T) {
	mail := &notifytest.Recorder{}
	s := setScene(t, mail, &notifytest.Recorder{Called: "push"})
	product, bottle := care.NewRecord(), care.NewRecord()
	must(t, s.care.AddProduct(t.Context(), s.ada, care.Form{Record: product}, tracker.Product{Name: "Wash concentrate A", Label: "2|% w/v|chlorhexidine gluconate", Facts: tracker.ProductFacts{Form: "solution"}}))
	size, err := mixing.ParseAmount("150 mL")
	must(t, err)
	must(t, s.care.AddBottle(t.Context(), s.ada, care.Form{Record: bottle}, care.NewBottle{Product: tracker.ProductID(product), Size: size, Strength: "2% w/v"}))
	must(t, s.care.ActOnBottle(t.Context(), s.bea, care.Form{Record: care.NewRecord()}, tracker.BottleID(bottle), tracker.StoreAct{Kind: tracker.LabelRead}, "2% w/v"))
	_, err = s.care.SavePlan(t.Context(), s.ada, care.PlanDraft{Record: care.NewRecord(), Horse: s.horses[0], Legs: []tracker.Leg{tracker.RF}, Source: tracker.SetByVet, SetName: "Marl vets", Hash: "a",
		Steps: []care.StepDraft{{Field: "s1_", ID: care.NewID(), Kind: tracker.StepWash, Of: "chlorhexidine gluconate", Strength: "0.05% w/v", Phases: []tracker.PlanPhase{{Times: 2, Every: 1, Until: tracker.EndsVet}}}}})
	must(t, err)
	s.day(time.Date(2026, 5, 14, 0, 0, 0, 0, time.UTC), true)
	const says = "Wash concentrate A: 150 mL left that may be used: enough for 6 days. By the plans about 163 mL go in the 7 days until a delivery comes: order now."
	said := 0
	for _, m := range mail.Taken() {
		if text := strings.Join(strings.Fields(m.Text), " "); strings.Contains(text, says) && strings.Contains(m.To, string(s.ada.Person.ID)) {
			said++
		} else if strings.Contains(text, "order now") {
			t.Errorf("to %s: %s", m.To, text)
		}
	}
	if said != 1 {
		t.Errorf("it was said %d times:\n%v\n%s", said, texts(mail, s.ada, ""), strings.Join(s.states(t, s.db), "\n"))
	}
}

// Ring today is said again at the yard's evening slot until somebody acts: in the evening round's message where there
// is one, else in a message of its own.
func TestRingToday(t *testing.T) {
	mail := &notifytest.Recorder{}
	s := setScene(t, mail, &notifytest.Recorder{Called: "push"})
	s.until("07:00")
	id := tracker.CautionID(care.NewID())
	must(t, s.db.Write(t.Context(), s.yard.ID, func(tx care.Tx) error {
		if err := tx.AddCaution(tracker.Caution{ID: id, Rule: "made-up", Level: tracker.RingToday, Horse: s.horses[0], Leg: tracker.LF, Seen: "Something was seen.",
			Why: "Made up.", Next: "Ring.", Raised: s.clock.at}); err != nil {
			return err
		}
		return tx.WakeBy(s.clock.at)
	}))
	s.all("morning")
	s.until("18:20")
	s.all("evening") // received before it is due, so that no message of the round is there to carry it
	s.until("22:00")
	if got := texts(mail, s.ada, "caution"); len(got) != 1 || !strings.Contains(got[0], "Ring the vet today: Bramble") {
		t.Errorf("on the first evening: %v\n%s", got, strings.Join(s.states(t, s.db), "\n"))
	}
	s.day(time.Date(2026, 5, 15, 0, 0, 0, 0, time.UTC), true)
	if got := texts(mail, s.ada, "caution"); len(got) != 1 {
		t.Errorf("on the second evening it is said beside the round's message: %v", got)
	}
	evening := texts(mail, s.ada, "round")
	if len(evening) == 0 || !strings.Contains(evening[len(evening)-1], "Ring the vet today: Bramble") {
		t.Errorf("the second evening's message: %v", evening)
	}
	must(t, s.care.Act(t.Context(), s.ada, id, tracker.CautionAct{ID: care.NewRecord(), Kind: tracker.Rang}))
	s.day(time.Date(2026, 5, 16, 0, 0, 0, 0, time.UTC), true)
	last := texts(mail, s.ada, "round")
	if strings.Contains(last[len(last)-1], "Ring the vet today") {
		t.Error("it is said after somebody rang")
	}
}

// Two people record the same care in one round, and both tick off the same medicine: each owner is asked once, at once.
// What one person says twice is one thing, and what was taken back is none.
func TestGivenTwice(t *testing.T) {
	mail := &notifytest.Recorder{}
	s := setScene(t, mail, &notifytest.Recorder{Called: "push"})
	give := care.StepDraft{Field: "s1_", ID: care.NewID(), Kind: tracker.StepGive, Of: "Paste B", Order: care.OrderDraft{Label: "100 mg/mL", PerKG: "5", Weight: "740", MaxPerKG: "5"},
		Phases: []tracker.PlanPhase{{Times: 2, Every: 1, Until: tracker.EndsDays, Count: 5}}}
	s.until("06:50")
	_, err := s.care.SavePlan(t.Context(), s.ada, care.PlanDraft{Record: care.NewRecord(), Horse: s.horses[0], Whole: true, Source: tracker.SetByVet, SetName: "Marlpit vet", Steps: []care.StepDraft{give}})
	must(t, err)
	look := func(who care.Actor, leg tracker.Leg) tracker.RecordID {
		id := care.NewRecord()
		_, err := s.care.Record(t.Context(), who, care.Entry{Check: tracker.Check{ID: id, Subject: tracker.OfLeg, Outcome: tracker.Looked, Horse: s.horses[0], Leg: leg, Care: []tracker.CareAct{tracker.Washed}, Hash: string(id)}})
		must(t, err)
		return id
	}
	due, err := s.care.Due(t.Context(), s.ada, 0)
	must(t, err)
	items := due.Groups[0].Rows[0].Items // both have the list open
	tick := func(who care.Actor) {
		round := s.round("morning")
		must(t, s.care.TickOff(t.Context(), who, tracker.TickOff{ID: care.NewRecord(), Outcome: tracker.TickDone, Items: items, Day: round.Day, Slot: round.Slot}, false))
	}
	s.until("07:10")
	look(s.ada, tracker.RF)
	tick(s.ada)
	s.until("07:20")
	if said := texts(mail, s.ada, "notice"); len(said) != 0 {
		t.Fatalf("nothing is given twice, and Ada hears %v", said)
	}
	look(s.bea, tracker.RF)
	tick(s.bea)
	must(t, s.care.Retract(t.Context(), s.bea, care.NewRecord(), look(s.bea, tracker.LH)))
	look(s.ada, tracker.LH)
	s.until("07:30")
	look(s.bea, tracker.RF)
	s.until("12:00")
	said := texts(mail, s.ada, "notice")
	if len(said) != 1 || len(texts(mail, s.bea, "notice")) != 0 {
		t.Fatalf("Ada hears %v, Bea %v", said, texts(mail, s.bea, "notice"))
	}
	for _, want := range []string{"Given twice? Bramble, morning round", "RF: washed by Ada at 07:10 and by Bea at 07:20.", "Paste B given by Ada at 07:10 and by Bea at 07:20.", "Both records are kept."} {
		if !strings.Contains(said[0], want) {
			t.Errorf("the message does not say %q:\n%s", want, said[0])
		}
	}
	if strings.Contains(said[0], "LH:") {
		t.Errorf("what was taken back is asked about:\n%s", said[0])
	}
	due, err = s.care.Due(t.Context(), s.ada, 0)
	must(t, err)
	if line := strings.Join(due.Groups[0].Rows[0].Said, " "); !strings.Contains(line, "Given twice? Ada ticked it off at 07:10 too.") {
		t.Errorf("the Due list says %q", line)
	}
}

// A message about ring now that goes out again says the newest number beside the first.
func TestAMessageHasTheNewestNumber(t *testing.T) {
	mail := &notifytest.Recorder{}
	s := setScene(t, mail, &notifytest.Recorder{Called: "push"})
	for _, tenths := range []int{393, 410} {
		id := care.NewRecord()
		hot := tracker.Check{ID: id, Subject: tracker.OfHorse, Outcome: tracker.Looked, Horse: s.horses[0], Vitals: tracker.Vitals{TemperatureTenthsC: tenths}, Hash: string(id)}
		_, err := s.care.Record(t.Context(), s.bea, care.Entry{Check: hot})
		must(t, err)
		s.clock.at = s.clock.at.Add(time.Minute)
	}
	s.until("11:00")
	sent := mail.Taken()
	if len(sent) == 0 {
		t.Fatal("nobody was told")
	}
	if last := sent[len(sent)-1].Text; !strings.Contains(last, "Temperature 39.3") || !strings.Contains(last, "Since then: Temperature 41") {
		t.Errorf("the last message says:\n%s", last)
	}
}

// The owner reads for which day somebody else promised to ring.
func TestAPromiseIsToldWithItsDay(t *testing.T) {
	mail := &notifytest.Recorder{}
	s := setScene(t, mail, &notifytest.Recorder{Called: "push"})
	s.clock.at = time.Date(2026, 5, 14, 23, 50, 0, 0, s.zone)
	id := care.NewRecord()
	hot := tracker.Check{ID: id, Subject: tracker.OfHorse, Outcome: tracker.Looked, Horse: s.horses[0], Vitals: tracker.Vitals{TemperatureTenthsC: 393}, Hash: string(id)}
	saved, err := s.care.Record(t.Context(), s.bea, care.Entry{Check: hot})
	must(t, err)
	act := tracker.CautionAct{ID: care.NewRecord(), Kind: tracker.WillRingAt, Until: s.clock.at.Add(40 * time.Minute)}
	must(t, s.care.Act(t.Context(), s.bea, saved.Raised[0].ID, act))
	s.clock.at = s.clock.at.Add(time.Minute)
	s.until("23:55")
	if all := strings.Join(texts(mail, s.ada, ""), "\n"); !strings.Contains(all, "Bea will ring the vet at 00:30 on Fri 15 May") {
		t.Errorf("the owner was told:\n%s", all)
	}
}
