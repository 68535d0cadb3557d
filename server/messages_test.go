package server

import (
	"context"
	"flag"
	"fmt"
	"os"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leground/notify"
	"leground/notify/notifytest"
	"leground/tracker"
	"leground/tracker/care"
)

var update = flag.Bool("update", false, "write the golden files anew")

// address is where a link of a message leads, which differs from run to run.
var address = regexp.MustCompile(`https://yard\.example/\S+`)

// TestEveryMessage plays days in which everything happens that people are told about, and holds every message as it
// reaches them, mail and lock screen, against a file that a person has read. Read the differences, then run with -update.
func TestEveryMessage(t *testing.T) {
	down := false
	mail := &notifytest.Recorder{}
	s := setScene(t, mail, &notifytest.Recorder{Called: "push"})
	mail.Answer = func(context.Context, notify.Message) error {
		if down {
			return &notify.Failure{Class: notify.ServerTrouble, What: "Nothing answers."}
		}
		return nil
	}
	var got strings.Builder
	said, people := 0, map[string]string{string(s.ada.Person.ID): "Ada, the owner", string(s.bea.Person.ID): "Bea"}
	show := func(chapter string) {
		fmt.Fprintf(&got, "######## %s\n\n", chapter)
		for _, m := range mail.Taken()[said:] {
			to := people[m.To[:36]]
			fmt.Fprintf(&got, "==== %s to %s\nOn the lock screen: %s | %s\nSubject: %s\n\n%s\n", m.TriedAt.In(s.zone).Format("Mon 15:04"), to, m.Title, m.Short, m.Subject, address.ReplaceAllString(m.Text, "(link)"))
		}
		said = len(mail.Taken())
	}
	storyOfPlans(t, s)
	s.until("09:00")
	show("A morning with a plan, and nobody records")
	storyOfTwo(t, s)
	s.until("10:30")
	show("The same care twice")
	storyOfRingNow(t, s, show)
	s.addHorse(t, s.db, "Old Tom", s.clock.at)
	warm := care.NewRecord()
	look := tracker.Check{ID: warm, Subject: tracker.OfHorse, Outcome: tracker.Looked, Horse: s.horses[1], Vitals: tracker.Vitals{TemperatureTenthsC: 388}, Hash: string(warm)}
	_, err := s.care.Record(t.Context(), s.bea, care.Entry{Check: look})
	must(t, err)
	s.until("23:00")
	show("An evening, with a horse that has been warm since noon")
	down = true
	for day := range 2 {
		s.clock.at = time.Date(2026, 5, 15+day, 4, 0, 0, 0, time.UTC)
		s.until("23:00")
	}
	down = false
	s.clock.at = time.Date(2026, 5, 17, 4, 0, 0, 0, time.UTC)
	s.until("06:00")
	show("Mail was down for two days")
	must(t, s.care.StopMail(t.Context(), tokenOf(mail, s.bea)))
	s.until("23:00")
	show("Bea stops mail")
	for day := range 7 {
		s.day(time.Date(2026, 5, 18+day, 0, 0, 0, 0, time.UTC), true)
	}
	said = len(mail.Taken())
	s.clock.at = time.Date(2026, 5, 25, 11, 30, 0, 0, time.UTC)
	s.until("13:00")
	show("Monday noon")
	const golden = "testdata/messages.txt"
	if *update {
		must(t, os.WriteFile(golden, []byte(got.String()), 0o644))
	}
	want, err := os.ReadFile(golden)
	must(t, err)
	if got.String() != string(want) {
		t.Errorf("the messages are not those of %s:\n%s", golden, cmp.Diff(string(want), got.String()))
	}
}

// storyOfPlans has a plan that ends, a trim, a weighing, the farrier, the end of an isolation and a mix in one morning.
func storyOfPlans(t *testing.T, s *scene) {
	t.Helper()
	ctx, horse := t.Context(), s.horses[0]
	step := func(kind tracker.StepKind, every int, until tracker.PhaseEnd, count int) care.StepDraft {
		return care.StepDraft{Field: "s_", ID: care.NewID(), Kind: kind, Phases: []tracker.PlanPhase{{Times: 1, Every: every, Until: until, Count: count}}}
	}
	apply := step(tracker.StepApply, 1, tracker.EndsDays, 2)
	apply.Of = "barrier cream"
	draft := care.PlanDraft{Record: care.NewRecord(), Horse: horse, Legs: []tracker.Leg{tracker.RF}, Source: tracker.SetByVet, SetName: "Marlpit vet", Steps: []care.StepDraft{apply}}
	_, err := s.care.SavePlan(ctx, s.ada, draft)
	must(t, err)
	draft = care.PlanDraft{Record: care.NewRecord(), Horse: horse, Whole: true, Source: tracker.SetByOwner,
		Steps: []care.StepDraft{step(tracker.StepWeigh, 7, tracker.EndsVet, 0), step(tracker.StepTrim, 28, tracker.EndsVet, 0), step(tracker.StepWalk, 1, tracker.EndsVet, 0)}}
	_, err = s.care.SavePlan(ctx, s.ada, draft)
	must(t, err)
	must(t, s.care.AddOneOff(ctx, s.bea, tracker.OneOff{ID: care.NewRecord(), Kind: tracker.FarrierComes, Horse: horse, Day: tracker.NewDate(2026, 5, 14), At: 15 * 60, Timed: true}))
	var whole tracker.Horse
	must(t, s.db.Read(ctx, s.yard.ID, func(tx care.Tx) (err error) { whole, err = tx.Horse(horse); return err }))
	whole.IsolatedUntil = tracker.NewDate(2026, 5, 14)
	must(t, s.care.ChangeHorse(ctx, s.ada, whole))
}

// storyOfTwo lets both wash the same leg.
func storyOfTwo(t *testing.T, s *scene) {
	t.Helper()
	for _, who := range []care.Actor{s.ada, s.bea} {
		id := care.NewRecord()
		check := tracker.Check{ID: id, Subject: tracker.OfLeg, Outcome: tracker.Looked, Horse: s.horses[0], Leg: tracker.RF, Care: []tracker.CareAct{tracker.Washed}, Hash: string(id)}
		_, err := s.care.Record(t.Context(), who, care.Entry{Check: check})
		must(t, err)
	}
}

// storyOfRingNow lets Bea see a danger, of which nobody says that they rang until Bea does.
func storyOfRingNow(t *testing.T, s *scene, show func(string)) {
	t.Helper()
	id := care.NewRecord()
	check := tracker.Check{ID: id, Subject: tracker.OfLeg, Outcome: tracker.Looked, Horse: s.horses[0], Leg: tracker.LH, Dangers: []tracker.Danger{tracker.NotBearing}, Hash: string(id)}
	saved, err := s.care.Record(t.Context(), s.bea, care.Entry{Check: check})
	must(t, err)
	s.until("11:10")
	show("Ring now, and nobody says that they rang")
	act := tracker.CautionAct{ID: care.NewRecord(), Kind: tracker.WillRingAt, Until: s.clock.at.Add(time.Hour)}
	must(t, s.care.Act(t.Context(), s.bea, saved.Raised[0].ID, act))
	act = tracker.CautionAct{ID: care.NewRecord(), Kind: tracker.Rang, Note: "She comes at two."}
	must(t, s.care.Act(t.Context(), s.bea, saved.Raised[0].ID, act))
	s.until("11:20")
	show("Bea says that she will ring, and that she rang")
}

// tokenOf gives the secret in the links of the last mail to somebody.
func tokenOf(mail *notifytest.Recorder, to care.Actor) (token string) {
	for _, m := range mail.Taken() {
		if strings.HasPrefix(m.To, string(to.Person.ID)) {
			token = strings.TrimSuffix(m.Unsubscribe[strings.LastIndex(m.Unsubscribe, "/message/")+len("/message/"):], "/stop")
		}
	}
	return token
}
