package server

import (
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"
	_ "time/tzdata"

	"leground/notify"
	"leground/notify/notifytest"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/rounds"
	"leground/tracker/store"
)

// The zones of the simulation: ordinary ones, half hours, quarter hours, a change by 30 minutes, one at midnight, none.
var simZones = strings.Fields("Europe/London America/New_York Pacific/Chatham Australia/Lord_Howe Africa/Cairo America/Havana Asia/Kolkata Europe/Berlin")

// TestSimulation (G1) runs yards in eight zones for simulated time while the program is killed at random, stops for
// hours and days, and its mail server fails, and holds everything against a model that knows nothing of how it is
// done: it walks every minute of the local clocks for the rounds, and keeps a book of what people were sent.
//
//   - no round is missing and none is doubled, each due at the instant that the walk finds;
//   - every reminder ends sent, withdrawn, folded or given up, with a reason that has a sentence;
//   - nobody gets the same message twice, but for one for each time that the program was killed before it could note
//     that it was sent; nobody gets more than their budget but for those; nothing goes out after its use-by;
//   - a round of which nothing was received is asked for, or named in a summary, or its people were away or had it
//     put off, or nothing worked.
func TestSimulation(t *testing.T) {
	yards, days := 8, 33 // over every change of a clock in spring
	if long() {
		yards, days = 50, 3*365
	}
	seed := uint64(20261024)
	if text := os.Getenv("LEGROUND_SEED"); text != "" {
		if _, err := fmt.Sscan(text, &seed); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("seed %d, %d yards, %d days", seed, yards, days)
	synctest.Test(t, func(t *testing.T) {
		s := newSim(t, seed, yards)
		s.run(days)
		s.check(days)
		t.Logf("%v", s.counts)
		for _, what := range []string{"sent", "killed", "outages", "mail outages", "asked", "received", "folded", "summed up"} {
			if s.counts[what] == 0 {
				t.Errorf("%q never happened: the simulation says little", what)
			}
		}
	})
}

type sim struct {
	t      *testing.T
	random *rand.Rand
	db     *store.DB
	rig    *rig
	mail   *notifytest.Recorder
	push   *notifytest.Recorder
	start  time.Time
	yards  []*simYard
	counts map[string]int

	mailDown, mailWorks time.Time // it fails between them

	answering sync.Mutex     // mail and push answer at the same time
	dice      *rand.Rand     // what they answer
	doubled   map[string]int // messages taken more often than the program could note, by id
}

type simYard struct {
	*place
	zone   *time.Location
	plain  bool // nobody is ever away, on it, quiet or wants it later
	events map[rounds.Key][]simEvent
	made   map[rounds.Key]bool
	next   time.Time // when people next do something
}

// simEvent is something that people do about a round.
type simEvent struct {
	at   time.Time
	what int // records: how many lines; -1 on it; -2 later
	done bool
}

func newSim(t *testing.T, seed uint64, yards int) *sim {
	s := &sim{t: t, random: rand.New(rand.NewPCG(seed, 1)), dice: rand.New(rand.NewPCG(seed, 2)), counts: map[string]int{}, doubled: map[string]int{}}
	time.Sleep(time.Until(time.Date(2026, 3, 5, 11, 59, 30, 0, time.UTC))) // the bubble begins in 2000
	s.start = time.Now()
	s.db = openFile(t)
	s.mail, s.push = &notifytest.Recorder{Answer: s.answer}, &notifytest.Recorder{Called: "push", Answer: s.answer}
	s.rig = newRig(t, s.db, time.Now, s.mail, s.push)
	for i := range yards {
		zone, err := time.LoadLocation(simZones[i%len(simZones)])
		must(t, err)
		slots := []tracker.Slot{{Name: "morning", At: tracker.MinuteOfDay(15 * s.random.IntN(40))}}
		slots = append(slots, tracker.Slot{Name: "evening", At: slots[0].At + tracker.MinuteOfDay(15*(8+s.random.IntN(40)))})
		if i%4 == 3 { // one that the clock jumps over
			slots[0].At = 2*60 + 15
		}
		y := &simYard{place: newPlace(t, s.db, zone.String(), slots, s.start), zone: zone, plain: i%2 == 0,
			events: map[rounds.Key][]simEvent{}, made: map[rounds.Key]bool{}}
		s.habits(y)
		s.yards = append(s.yards, y)
	}
	return s
}

// habits lets people of yards that are not plain choose.
func (s *sim) habits(y *simYard) {
	if y.plain {
		return
	}
	for _, a := range []care.Actor{y.ada, y.bea} {
		view, err := s.rig.care.Reminded(s.t.Context(), a)
		must(s.t, err)
		choice := view.Me.Choice
		if s.random.IntN(2) == 0 {
			choice.Quiet = rounds.Quiet{From: tracker.MinuteOfDay(s.random.IntN(1440)), To: tracker.MinuteOfDay(s.random.IntN(1440))}
		}
		must(s.t, s.rig.care.ChooseReminders(s.t.Context(), a, choice))
		if s.random.IntN(2) == 0 {
			scene := &scene{s.rig, y.place, &clock{time.Now()}, y.zone}
			scene.phone(a, "phone")
		}
		for range s.random.IntN(3) {
			from := tracker.DateOf(time.Now()) + tracker.Date(s.random.IntN(60))
			must(s.t, s.rig.care.GoAway(s.t.Context(), a, care.Span{From: from, To: from + tracker.Date(s.random.IntN(5))}))
		}
	}
}

// answer is what the servers say: both fail while mail is down, and now and then the program is killed in the
// middle of it.
func (s *sim) answer(_ context.Context, m notify.Message) error {
	if now := time.Now(); now.After(s.mailDown) && now.Before(s.mailWorks) {
		return &notify.Failure{Class: notify.ServerTrouble, What: "Nothing answers."}
	}
	s.answering.Lock()
	defer s.answering.Unlock()
	switch s.dice.IntN(200) {
	case 0:
		s.rig.killed.Store(true)
	case 1:
		return &notify.Failure{Class: notify.Passing, What: "Not now.", Answer: "451 4.7.1 later"}
	case 2:
		s.doubled[m.ID]++
		return &notify.Failure{Class: notify.Unknown, What: "The link broke."}
	}
	return nil
}

// run goes from one instant at which something happens to the next.
func (s *sim) run(days int) {
	end := s.start.AddDate(0, 0, days)
	for time.Now().Before(end) {
		s.happen()
		s.rig.turn()
		if s.random.IntN(60) == 0 {
			s.secondTurn()
		}
		if s.rig.killed.Load() {
			s.counts["killed"]++
			s.rig.unsaid.Range(func(id, _ any) bool { s.doubled[id.(string)]++; return true })
			s.rig = newRig(s.t, s.db, time.Now, s.mail, s.push)
			time.Sleep(time.Duration(30+s.random.IntN(400)) * time.Second)
			continue
		}
		if s.random.IntN(400) == 0 { // the program stops
			s.counts["outages"]++
			length := time.Duration(s.random.IntN(60*60)) * time.Minute
			time.Sleep(length)
			continue
		}
		if s.random.IntN(300) == 0 && time.Now().After(s.mailWorks) {
			s.counts["mail outages"]++
			s.mailDown, s.mailWorks = time.Now(), time.Now().Add(time.Duration(s.random.IntN(14*60))*time.Minute)
		}
		time.Sleep(s.pause())
	}
}

// pause is until something is due, at least 20 seconds.
func (s *sim) pause() time.Duration {
	now := time.Now()
	next := now.Add(3 * time.Hour)
	var first []tracker.YardID
	must(s.t, s.db.AcrossRead(s.t.Context(), func(g care.Gate) (err error) { first, err = g.YardsToWake(next, 1); return err }))
	for _, yard := range first {
		must(s.t, s.db.Read(s.t.Context(), yard, func(tx care.Tx) (err error) { next, err = tx.WakeAt(); return err }))
	}
	for _, y := range s.yards {
		if y.next.Before(next) {
			next = y.next
		}
	}
	waiting, err := s.db.DueAccounts(s.t.Context(), now.Add(30*time.Minute))
	must(s.t, err)
	if soon := now.Add(2 * time.Minute); len(waiting) > 0 && soon.Before(next) {
		next = soon
	}
	return max(next.Sub(now), 20*time.Second)
}

// happen makes up what people do about rounds that are near, and lets what is due happen.
func (s *sim) happen() {
	now := time.Now()
	for _, y := range s.yards {
		if y.next.After(now) {
			continue
		}
		y.next = now.Add(5 * time.Hour)
		today := tracker.DateOf(now.In(y.zone))
		for _, r := range y.rounds(s.t, s.db, today-1, today+1) {
			key := rounds.KeyOf(r)
			if !y.made[key] {
				y.made[key] = true
				s.makeUp(y, r)
			}
			for i, e := range y.events[key] {
				if !e.done && !e.at.After(now) {
					y.events[key][i].done = true
					s.let(y, r, e)
				} else if !e.done && e.at.Before(y.next) {
					y.next = e.at
				}
			}
			if r.UseBy.Before(now.Add(-24 * time.Hour)) {
				delete(y.events, key)
			}
		}
	}
}

func (s *sim) makeUp(y *simYard, r tracker.Round) {
	after := func(minutes int) time.Time {
		return r.DueAt.Add(time.Duration(s.random.IntN(minutes)-20) * time.Minute)
	}
	switch s.random.IntN(4) {
	case 0: // nobody does anything
	case 1:
		y.events[rounds.KeyOf(r)] = append(y.events[rounds.KeyOf(r)], simEvent{at: after(200), what: 2})
	default:
		y.events[rounds.KeyOf(r)] = append(y.events[rounds.KeyOf(r)], simEvent{at: after(240), what: 100})
	}
	if !y.plain && s.random.IntN(4) == 0 {
		y.events[rounds.KeyOf(r)] = append(y.events[rounds.KeyOf(r)], simEvent{at: r.DueAt.Add(time.Duration(s.random.IntN(150)) * time.Minute), what: -1 - s.random.IntN(2)})
	}
}

func (s *sim) let(y *simYard, r tracker.Round, e simEvent) {
	subject, who := rounds.KeyOf(r).String(), y.ada
	if s.random.IntN(2) == 0 {
		who = y.bea
	}
	var err error
	switch {
	case e.what >= 0:
		y.records(s.t, s.db, r, time.Now(), e.what)
	case e.what == -1:
		err = s.rig.care.Press(s.t.Context(), who, subject, care.OnIt, 0)
	default:
		err = s.rig.care.Press(s.t.Context(), who, subject, care.Later, []time.Duration{30 * time.Minute, 2 * time.Hour, rounds.UntilNextSlot}[s.random.IntN(3)])
	}
	if err != nil && tracker.KindOf(err) != tracker.Invalid { // the round may be over by now
		s.t.Fatal(err)
	}
}

// secondTurn turns a yard twice at the same instant: the second turn may change nothing.
func (s *sim) secondTurn() {
	if s.rig.killed.Load() {
		return
	}
	y := s.yards[s.random.IntN(len(s.yards))]
	turn := func() []string {
		must(s.t, s.db.Write(s.t.Context(), y.yard.ID, func(tx care.Tx) error { return tx.WakeBy(time.Now()) }))
		must(s.t, s.rig.care.Tick(s.t.Context()))
		return y.states(s.t, s.db)
	}
	if before, after := turn(), turn(); !slices.Equal(before, after) {
		s.t.Fatalf("a second turn at %s changes\n%s\ninto\n%s", time.Now(), strings.Join(before, "\n"), strings.Join(after, "\n"))
	}
	s.counts["second turns"]++
}
