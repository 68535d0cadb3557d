package server

import (
	gocmp "cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leground/notify"
	"leground/notify/notifytest"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/rounds"
)

// told lists what channels took: "07:00 Ada round".
func told(p *place, zone *time.Location, boxes ...*notifytest.Recorder) []string {
	type took struct {
		at   time.Time
		text string
	}
	var all []took
	for _, box := range boxes {
		for _, m := range box.Taken() {
			who := "Ada"
			if strings.Contains(m.To, string(p.bea.Person.ID)) || strings.Contains(m.To, "bea's") {
				who = "Bea"
			}
			all = append(all, took{m.TriedAt, fmt.Sprintf("%s %s %s by %s", m.TriedAt.In(zone).Format("15:04"), who, m.Kind, box.Name())})
		}
	}
	slices.SortFunc(all, func(a, b took) int { return gocmp.Or(a.at.Compare(b.at), strings.Compare(a.text, b.text)) })
	var out []string
	for _, x := range all {
		out = append(out, x.text)
	}
	return out
}

// story is one day of a yard in London with its two rounds, 07:00 and 18:30: what people do at times of the day,
// and what is sent. Everything is worked out by hand from the rules: first at once, a nudge after 45 minutes, a
// second person after 90, an hour's hold by "on it" or a record, at most 4 messages a day.
type story struct {
	name string
	do   map[string]func(*scene)
	want []string
}

// scene is what a story may act on.
type scene struct {
	*rig
	*place
	clock *clock
	zone  *time.Location
}

func (s *scene) round(slot string) tracker.Round {
	for _, r := range s.place.rounds(s.t, s.db, tracker.DateOf(s.clock.at.In(s.zone)), tracker.DateOf(s.clock.at.In(s.zone))) {
		if r.Slot == slot {
			return r
		}
	}
	s.t.Fatalf("there is no %s round", slot)
	return tracker.Round{}
}

func (s *scene) all(slot string)         { s.place.records(s.t, s.db, s.round(slot), s.clock.at, 100) }
func (s *scene) some(slot string, n int) { s.place.records(s.t, s.db, s.round(slot), s.clock.at, n) }

func (s *scene) press(a care.Actor, slot string, kind care.PressKind, d time.Duration) {
	must(s.t, s.care.Press(s.t.Context(), a, rounds.KeyOf(s.round(slot)).String(), kind, d))
}

func (s *scene) choose(a care.Actor, change func(*care.Choice)) {
	view, err := s.care.Reminded(s.t.Context(), a)
	must(s.t, err)
	change(&view.Me.Choice)
	must(s.t, s.care.ChooseReminders(s.t.Context(), a, view.Me.Choice))
}

func stories() []story {
	evening := func(s *scene) { s.all("evening") }
	plain := []string{"07:00 Ada round by email", "07:45 Ada nudge by email", "08:30 Bea second-person by email", "18:30 Ada round by email"}
	return []story{
		{"nothing is received in the morning", map[string]func(*scene){"18:35": evening}, plain},
		{"received at once", map[string]func(*scene){"07:10": func(s *scene) { s.all("morning") }, "18:35": evening}, []string{plain[0], plain[3]}},
		{"received before it is due", map[string]func(*scene){"06:50": func(s *scene) { s.all("morning") }, "18:35": evening}, []string{plain[3]}},
		{"records come in and stop", map[string]func(*scene){"07:40": func(s *scene) { s.some("morning", 2) }, "18:35": evening},
			[]string{plain[0], "08:40 Ada nudge by email", "08:40 Bea second-person by email", plain[3]}},
		{"Bea is on it and does it", map[string]func(*scene){"07:20": func(s *scene) { s.press(s.bea, "morning", care.OnIt, 0) },
			"08:10": func(s *scene) { s.all("morning") }, "18:35": evening}, []string{plain[0], plain[3]}},
		{"Ada is on it and nothing comes", map[string]func(*scene){"07:20": func(s *scene) { s.press(s.ada, "morning", care.OnIt, 0) }, "18:35": evening},
			[]string{plain[0], "08:20 Ada nudge by email", plain[2], plain[3]}},
		{"Ada wants it later", map[string]func(*scene){"07:05": func(s *scene) { s.press(s.ada, "morning", care.Later, 2*time.Hour) }, "18:35": evening},
			[]string{plain[0], plain[2], "09:05 Ada round by email", plain[3]}},
		{"not before the next round", map[string]func(*scene){"07:05": func(s *scene) { s.press(s.ada, "morning", care.Later, rounds.UntilNextSlot) }, "18:35": evening},
			[]string{plain[0], plain[2], plain[3]}},
		{"Ada is away", map[string]func(*scene){"06:00": func(s *scene) {
			must(s.t, s.care.GoAway(s.t.Context(), s.ada, care.Span{From: tracker.DateOf(s.clock.at), To: tracker.DateOf(s.clock.at)}))
		}, "18:35": evening}, []string{"07:00 Bea round by email", "07:45 Bea nudge by email", "18:30 Bea round by email"}},
		{"Ada has quiet hours, so Bea is asked first", map[string]func(*scene){"06:00": func(s *scene) {
			s.choose(s.ada, func(c *care.Choice) { c.Quiet = rounds.Quiet{From: 22 * 60, To: 9 * 60} })
		}, "18:35": evening}, []string{"07:00 Bea round by email", "07:45 Bea nudge by email", "09:00 Ada second-person by email", plain[3]}},
		{"the yard is closed", map[string]func(*scene){"06:00": func(s *scene) {
			today := tracker.DateOf(s.clock.at)
			must(s.t, s.care.CloseDays(s.t.Context(), s.ada, care.Closing{Span: care.Span{From: today, To: today}, Why: "a show"}, true))
		}}, nil},
		{"the round is skipped", map[string]func(*scene){"07:10": func(s *scene) {
			must(s.t, s.care.SkipRound(s.t.Context(), s.bea, rounds.KeyOf(s.round("morning")).String(), "the vet said to leave them"))
		}, "18:35": evening}, []string{plain[0], plain[3]}},
		{"Bea is asked first by the yard's order", map[string]func(*scene){"06:00": func(s *scene) {
			view, err := s.care.ReminderRules(s.t.Context(), s.ada)
			must(s.t, err)
			view.Rules.Turns = map[string][]tracker.PersonID{"morning": {s.bea.Person.ID, s.ada.Person.ID}}
			must(s.t, s.care.ChangeReminderRules(s.t.Context(), s.ada, view.Rules))
		}, "18:35": evening}, []string{"07:00 Bea round by email", "07:45 Bea nudge by email", "08:30 Ada second-person by email", plain[3]}},
		{"only the first is asked, by the yard's rules", map[string]func(*scene){"06:00": func(s *scene) {
			must(s.t, s.care.ChangeReminderRules(s.t.Context(), s.ada, care.ReminderRules{Ladder: rounds.Ladder{First: 10 * time.Minute, Nudge: rounds.Off, Second: rounds.Off}, Budget: 4}))
		}, "18:35": evening}, []string{"07:10 Ada round by email"}},
		{"Ada stops mail", map[string]func(*scene){"07:10": func(s *scene) {
			must(s.t, s.care.StopMail(s.t.Context(), token(s.t, s.mail.Taken()[0].Unsubscribe)))
		}, "18:35": evening}, []string{plain[0], "07:10 Bea round by email", "07:55 Bea nudge by email", "18:30 Bea round by email"}},
	}
}

// token takes the secret out of a link in a message.
func token(t testing.TB, link string) string {
	t.Helper()
	parts := strings.Split(link, "/")
	if len(parts) < 2 {
		t.Fatalf("no link: %q", link)
	}
	return parts[len(parts)-2]
}

func TestLadder(t *testing.T) {
	zone, err := time.LoadLocation("Europe/London")
	must(t, err)
	for _, story := range stories() {
		t.Run(story.name, func(t *testing.T) {
			t.Parallel()
			db := openFile(t)
			c := &clock{time.Date(2026, 5, 14, 4, 0, 0, 0, time.UTC)}
			mail := &notifytest.Recorder{}
			r := newRig(t, db, c.now, mail, &notifytest.Recorder{Called: "push"})
			p := newPlace(t, db, "Europe/London", tracker.DefaultSlots(), c.at)
			s := &scene{r, p, c, zone}
			for end := c.at.Add(19 * time.Hour); c.at.Before(end); c.at = c.at.Add(5 * time.Minute) {
				if do := story.do[c.at.In(zone).Format("15:04")]; do != nil {
					do(s)
				}
				r.turn()
				again(t, s)
			}
			if diff := cmp.Diff(story.want, told(p, zone, mail)); diff != "" {
				t.Errorf("(-want +got):\n%s\n%s", diff, strings.Join(p.states(t, db), "\n"))
			}
			for _, line := range p.states(t, db) {
				if strings.Contains(line, "()") {
					t.Errorf("without a reason: %s", line)
				}
			}
		})
	}
}

// again turns the engine once more at the same instant: nothing may change.
func again(t *testing.T, s *scene) {
	t.Helper()
	before := s.place.states(t, s.db)
	must(t, s.db.Write(t.Context(), s.yard.ID, func(tx care.Tx) error { return tx.WakeBy(s.clock.at) }))
	s.turn()
	if diff := cmp.Diff(before, s.place.states(t, s.db)); diff != "" {
		t.Fatalf("a second turn at %s changes something:\n%s", s.clock.at, diff)
	}
}

// refuse makes a channel that refuses everything in one way.
func refuse(name string, class notify.Class) *notifytest.Recorder {
	return &notifytest.Recorder{Called: name, Answer: func(context.Context, notify.Message) error {
		return &notify.Failure{Class: class, What: "It failed: " + class.String() + ".", Answer: "550 5.1.1 no such person"}
	}}
}
