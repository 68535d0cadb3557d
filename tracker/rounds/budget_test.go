package rounds

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"leground/tracker"
)

// simRound is one round of a simulated yard.
type simRound struct {
	tracker.Round
	due      []string    // what the plan has at it
	arrives  []time.Time // when each is recorded; zero for never
	onIt     []time.Time
	called   bool
	over     bool                        // looked at after its use-by
	reasons  map[tracker.PersonID]Reason // the last for each person
	finished map[tracker.PersonID]bool
}

// missing counts what has not been received at an instant, and gives the last record before it.
func (r *simRound) tally(now time.Time) (Tally, time.Time) {
	var answers []Answer
	var last time.Time
	for i, at := range r.arrives {
		if !at.IsZero() && !at.After(now) {
			answers = append(answers, Answer{Item: r.due[i], Done: true})
			if at.After(last) {
				last = at
			}
		}
	}
	return Judge(r.UseBy, r.due, answers, "", now), last
}

// simPerson is one person with what they got and what is folded for them.
type simPerson struct {
	Person
	got    []Message
	folded map[Key]time.Time // when
	laters map[Key][]Later
}

// sim is a yard that is run from wake to wake: as engines do, it sleeps until the next time that a decision
// named or something happens.
type sim struct {
	t        *testing.T
	random   *rand.Rand
	schedule Schedule
	rules    Rules
	steps    []PlanStep
	people   []*simPerson
	closed   []Span
	rounds   []*simRound
	counts   map[string]int
	wake     time.Time
}

// TestBudget (G6) runs random yards with random plans for 10,000 days in all: nobody ever gets more
// unprompted messages on a local day than the budget, and every round is received, asked for, summed up,
// or has a named reason why nobody was asked.
func TestBudget(t *testing.T) {
	yards, days := 200, 50
	if long() {
		yards = 4000
	}
	seed := uint64(10_000)
	t.Logf("seed %d", seed)
	counts := map[string]int{}
	for yard := range yards {
		s := newSim(t, rand.New(rand.NewPCG(seed, uint64(yard))), counts)
		s.run(days)
		if t.Failed() {
			t.Fatalf("yard %d", yard)
		}
	}
	t.Logf("%d days: %v", yards*days, counts)
	for _, what := range []string{"received", "asked", "summed up", "budget spent", "first message", "nudge", "second person", "asked for later", "summary"} {
		if counts[what] < 50 {
			t.Errorf("%q only %d times: the simulation says little", what, counts[what])
		}
	}
}

func newSim(t *testing.T, random *rand.Rand, counts map[string]int) *sim {
	zones := []string{"Europe/London", "America/New_York", "Australia/Lord_Howe", "Africa/Cairo", "Pacific/Chatham", "America/Havana"}
	first := tracker.NewDate(2026, 1, 1) + tracker.Date(random.IntN(330))
	s := &sim{t: t, random: random, counts: counts}
	s.schedule = Schedule{Zone: zone(t, zones[random.IntN(len(zones))]), First: first - 10, Days: Days{Every: 1}}
	for i, at := range random.Perm(24)[:1+random.IntN(6)] {
		s.schedule.Slots = append(s.schedule.Slots, tracker.Slot{Name: fmt.Sprint("slot", i), At: tracker.MinuteOfDay(at*60 + random.IntN(4)*15)})
	}
	s.rules = DefaultRules(s.schedule.Zone)
	s.rules.Budget = 1 + random.IntN(6)
	if random.IntN(3) == 0 {
		s.rules.Ladder = Ladder{0, time.Duration(15+random.IntN(60)) * time.Minute, time.Duration(15+random.IntN(120)) * time.Minute}
	}
	span := func() Span {
		from := first + tracker.Date(random.IntN(60)-5)
		return Span{from, from + tracker.Date(random.IntN(6))}
	}
	for i := range 1 + random.IntN(4) {
		times := 1 + random.IntN(len(s.schedule.Slots))
		s.steps = append(s.steps, PlanStep{ID: fmt.Sprint("step", i), Start: first - 5, Phases: []Phase{
			{Times: times, Days: Days{Every: 1}, End: End{Kind: AfterDays, Count: 1 + random.IntN(20)}},
			{Times: 1, Days: Days{Every: 1 + random.IntN(3)}, End: End{Kind: UntilVetSays}},
		}})
	}
	for i := range 1 + random.IntN(3) {
		p := &simPerson{folded: map[Key]time.Time{}, laters: map[Key][]Later{}}
		p.Person = Person{ID: tracker.PersonID(fmt.Sprint("person", i)), Reachable: random.IntN(12) > 0}
		if random.IntN(2) == 0 {
			p.Quiet = Quiet{tracker.MinuteOfDay(random.IntN(1440)), tracker.MinuteOfDay(random.IntN(1440))}
		}
		for range random.IntN(3) {
			p.Away = append(p.Away, span())
		}
		s.people = append(s.people, p)
	}
	if random.IntN(4) == 0 {
		s.closed = append(s.closed, span())
	}
	return s
}

func (s *sim) run(days int) {
	first := s.schedule.First + 10
	now := Due(first, 0, s.schedule.Zone)
	since, end := now, Due(first+tracker.Date(days), 0, s.schedule.Zone)
	looked := now
	for now.Before(end) {
		looked = now
		fresh, err := s.schedule.Expected(since, now)
		if err != nil {
			s.t.Fatal(err)
		}
		since = now.Add(Horizon)
		for _, r := range fresh {
			s.rounds = append(s.rounds, s.newRound(r))
		}
		s.wake = now.Add(6 * time.Hour)
		for _, r := range s.rounds {
			if !r.over && !r.DueAt.After(now.Add(time.Hour)) {
				s.ask(r, now)
				r.over = !now.Before(r.UseBy)
			}
		}
		for _, p := range s.people {
			s.sumUp(p, now)
		}
		if s.random.IntN(300) == 0 {
			s.wake = now.Add(time.Duration(s.random.IntN(72*60)) * time.Minute) // an outage
		}
		now = laterOf(s.wake, now.Add(time.Second))
	}
	s.check(looked) // an outage may have lasted to the end
}

func (s *sim) newRound(r tracker.Round) *simRound {
	all, err := Expand(s.steps, s.schedule.Slots, nil, r.Day, r.Day)
	if err != nil {
		s.t.Fatal(err)
	}
	out := &simRound{Round: r, reasons: map[tracker.PersonID]Reason{}, finished: map[tracker.PersonID]bool{}}
	kept := s.random.IntN(3) > 0
	for _, o := range all {
		if o.Slot.Name != r.Slot || !o.Due() {
			continue
		}
		out.due = append(out.due, o.Step)
		at := time.Time{}
		if kept || s.random.IntN(4) == 0 {
			at = r.DueAt.Add(time.Duration(s.random.IntN(300)-30) * time.Minute)
		}
		out.arrives = append(out.arrives, at)
	}
	if s.random.IntN(5) == 0 {
		out.onIt = append(out.onIt, r.DueAt.Add(time.Duration(s.random.IntN(120)-10)*time.Minute))
	}
	return out
}

func (s *sim) isClosed(day tracker.Date) bool {
	return slices.ContainsFunc(s.closed, func(c Span) bool { return c.Has(day) })
}

// soon makes the yard wake by t.
func (s *sim) soon(now, t time.Time) {
	if t.After(now) && t.Before(s.wake) {
		s.wake = t
	}
}

// turns gives the people of a round, each with their turn.
func (s *sim) turns(r *simRound) map[tracker.PersonID]Turn {
	people := make([]Person, len(s.people))
	for i, p := range s.people {
		people[i] = p.Person
	}
	asked, _ := Turns(r.Round, s.schedule.Zone, people)
	turns := map[tracker.PersonID]Turn{}
	for _, p := range asked {
		turns[p.ID] = p.Turn
	}
	return turns
}

// callsLeft gives the person's first messages still to come today.
func (s *sim) callsLeft(p *simPerson, now time.Time) int {
	var first []tracker.Round
	for _, r := range s.rounds {
		if !r.over && r.DueAt.Before(now.Add(30*time.Hour)) && len(r.due) > 0 && !s.isClosed(r.Day) && s.turns(r)[p.ID] == First {
			first = append(first, r.Round)
		}
	}
	return s.rules.CallsLeft(p.Person, first, now)
}

func (s *sim) ask(r *simRound, now time.Time) {
	tally, last := r.tally(now)
	f := Facts{Rules: s.rules, Round: r.Round, Tally: tally, Closed: s.isClosed(r.Day)}
	for _, at := range slices.Concat(r.arrives, r.onIt) {
		s.soon(now, at)
	}
	turns := s.turns(r)
	for _, p := range s.people {
		if r.finished[p.ID] {
			continue
		}
		person := p.Person
		person.Turn, person.CallsLeft = turns[p.ID], s.callsLeft(p, now)
		h := History{Sent: p.got, Laters: p.laters[KeyOf(r.Round)], Received: last}
		for _, at := range r.onIt {
			if !at.After(now) {
				h.OnIt = append(h.OnIt, at)
			}
		}
		d := Decide(f, person, h, now)
		r.reasons[p.ID] = d.Why
		switch d.Act {
		case Wait:
			s.soon(now, d.Until)
		case Drop:
			r.finished[p.ID] = d.Why != AllAsked && d.Why != NotAsked
			if d.Why.Life() == Folded && person.Turn == First && len(h.about(AboutRound, KeyOf(r.Round).String())) == 0 {
				p.folded[KeyOf(r.Round)] = now
			}
			if d.Why == BudgetSpent {
				s.counts[string(d.Why)]++
			}
		case Send:
			s.send(p, Message{AboutRound, KeyOf(r.Round).String(), d.Rung, now})
			s.counts[d.Rung.String()]++
			if f.Closed || len(tally.Missing) == 0 || now.Before(r.DueAt) || !now.Before(r.UseBy) || p.away(r.Day) {
				s.t.Errorf("%s at %s: %+v", KeyOf(r.Round), now, d)
			}
			r.called = true
			s.soon(now, now.Add(time.Minute))
			if s.random.IntN(6) == 0 {
				length := []time.Duration{30 * time.Minute, 2 * time.Hour, UntilNextSlot}[s.random.IntN(3)]
				p.laters[KeyOf(r.Round)] = append(p.laters[KeyOf(r.Round)], Later{now, length})
			}
		}
	}
	s.soon(now, r.DueAt)
	s.soon(now, r.UseBy)
}

// send delivers a message, which also carries what is folded, and checks what holds for every message.
func (s *sim) send(p *simPerson, m Message) {
	for _, old := range p.got {
		if old.Kind == m.Kind && old.Subject == m.Subject && (old.Rung == m.Rung || m.At.Sub(old.At) < shortestRung) {
			s.t.Errorf("%s got %s of %s at %s and %s at %s", p.ID, old.Rung, m.Subject, old.At, m.Rung, m.At)
		}
	}
	p.got = append(p.got, m)
	h := History{Sent: p.got}
	if n := h.today(m.At, s.schedule.Zone); n > s.rules.Budget {
		s.t.Errorf("%s got %d messages on the day of %s, the budget is %d", p.ID, n, m.At, s.rules.Budget)
	}
	if _, quiet := p.Quiet.End(m.At, s.schedule.Zone); quiet || !p.Reachable || p.away(tracker.DateOf(m.At.In(s.schedule.Zone))) {
		s.t.Errorf("%s got %s of %s at %s, in quiet hours, away or without a channel", p.ID, m.Rung, m.Subject, m.At)
	}
	s.counts["summed up"] += len(p.folded)
	clear(p.folded)
}

func (s *sim) sumUp(p *simPerson, now time.Time) {
	var folded []Key
	for k := range p.folded {
		folded = append(folded, k)
	}
	person := p.Person
	person.Turn, person.CallsLeft = First, s.callsLeft(p, now)
	switch d := DecideSummary(folded, s.rules, person, History{Sent: p.got}, now); d.Act {
	case Wait:
		s.soon(now, d.Until)
	case Send:
		s.send(p, Message{AboutSummary, tracker.DateOf(now.In(s.schedule.Zone)).String(), d.Rung, now})
		s.counts["summary"]++
	}
}

// check looks at every round that is over at the end.
func (s *sim) check(end time.Time) {
	present := func(p *simPerson, since time.Time) int { // whole days on which they could have been told
		n := 0
		for day := tracker.DateOf(since.In(s.schedule.Zone)) + 1; day < tracker.DateOf(end.In(s.schedule.Zone)); day++ {
			if !p.away(day) {
				n++
			}
		}
		return n
	}
	for _, p := range s.people {
		for key, at := range p.folded {
			if present(p, at) > 4 {
				s.t.Errorf("%s was never told of %s, folded at %s", p.ID, key, at)
			}
		}
	}
	for _, r := range s.rounds {
		if !r.UseBy.Before(end.Add(-24 * time.Hour)) {
			continue
		}
		tally, _ := r.tally(end)
		switch {
		case len(tally.Missing) == 0 && tally.State == tracker.RoundDone:
			s.counts["received"]++
		case r.called:
			s.counts["asked"]++
		default:
			var why []string
			for _, p := range s.people {
				reason := r.reasons[p.ID]
				if reason.Sentence() == "" || reason.Life() == Planned {
					s.t.Errorf("%s was not asked for, and for %s the reason is %q", KeyOf(r.Round), p.ID, reason)
				}
				why = append(why, string(reason))
			}
			s.counts["not asked: "+strings.Join(slices.Compact(slices.Sorted(slices.Values(why))), ", ")]++
		}
	}
}
