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

// modelPerson is one person in a model of the rules that keeps counters minute by minute, where Decide
// looks at a history. Minutes count from the round's due time.
type modelPerson struct {
	turn               Turn
	away               bool
	stops              int // minute at which they stop messages
	quietFrom, quietTo int // minutes of the local day
	calls, replies     int
	nudged             bool
	last               int
	laterEnd           int
	laterWaits         bool
	callsLeft          int
	today              map[int]int // unprompted messages by local day
	folded             map[string]bool
	promised           int // minute to which Decide waits, unless something happens
	hist               History
	settings           Person
}

// model is one round with its people and what happens, minute by minute.
type model struct {
	base, end      int // the due time as minute of the day, and the use-by
	first, nudge   int
	second, budget int
	nudgeOff       bool
	holdEnd        int
	missing        int
	closed         bool
	people         []*modelPerson
}

// wants says which message the model sends to p at minute m, empty for none.
func (w *model) wants(p *modelPerson, m int) string {
	switch {
	case w.closed, w.missing == 0, m >= w.end, p.away, m >= p.stops, m < w.holdEnd, m < p.laterEnd:
		return ""
	}
	clock := ((w.base+m)%1440 + 1440) % 1440
	for at := p.quietFrom; at != p.quietTo; at = (at + 1) % 1440 {
		if at == clock {
			return ""
		}
	}
	message := ""
	switch {
	case p.calls == 0 && p.turn == First && m >= w.first:
		message = "first message"
	case p.calls == 0 && p.turn == Second && m >= w.second:
		message = "second person"
	case p.calls > 0 && p.laterWaits:
		return "asked for later"
	case p.calls > 0 && p.turn == First && !w.nudgeOff && !p.nudged && p.replies == 0 && m >= w.nudge && m >= p.last+w.nudge-w.first:
		message = "nudge"
	}
	if message == "" || p.folded[message] {
		return ""
	}
	reserve := p.callsLeft
	if message == "first message" {
		reserve = 0
	}
	if p.today[w.day(m)]+reserve >= w.budget {
		p.folded[message] = true
		return ""
	}
	return message
}

// day numbers the local day of minute m.
func (w *model) day(m int) int { return (w.base + m + 1440) / 1440 }

func (w *model) note(p *modelPerson, m int, message string) {
	p.last, p.laterWaits, p.laterEnd = m, false, -1<<30
	switch message {
	case "asked for later":
		p.replies++
		return
	case "nudge":
		p.nudged = true
	}
	p.calls++
	p.today[w.day(m)]++
}

// TestDecideModel (G7) compares Decide with the model over generated cases of "on it", "later", quiet hours,
// days away, stopped messages, records, budgets and outages, at every minute. It also checks that Decide
// waits exactly as long as it says, that order and a restart do not matter, and the state written at the end.
func TestDecideModel(t *testing.T) {
	cases := 200
	if long() {
		cases = 20_000
	}
	seed := uint64(2026)
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 7))
	sent := map[string]int{}
	for i := range cases {
		runModel(t, i, random, sent)
	}
	for _, message := range []string{"first message", "nudge", "second person", "asked for later"} {
		if sent[message] < cases/40 {
			t.Errorf("only %d messages %q in %d cases: the cases say little", sent[message], message, cases)
		}
	}
	t.Logf("messages: %v", sent)
}

func newModel(random *rand.Rand) (*model, Facts, time.Time) {
	zone := time.FixedZone("model", 3600)
	w := &model{base: 7 * 60, end: 690, missing: 2, holdEnd: -1 << 30, budget: 1 + random.IntN(5), closed: random.IntN(30) == 0}
	slot := "morning"
	if random.IntN(2) == 0 {
		w.base, w.end, slot = 18*60+30, 750, "evening"
	}
	w.first = random.IntN(3) * 10
	w.nudge, w.second = w.first+15+random.IntN(60), w.first+15+random.IntN(120)
	w.nudgeOff = random.IntN(6) == 0
	day := tracker.NewDate(2026, 5, 14)
	due := Due(day, tracker.MinuteOfDay(w.base), zone)
	minutes := func(n int) time.Duration { return time.Duration(n) * time.Minute }
	f := Facts{
		Rules:  Rules{Zone: zone, Ladder: Ladder{minutes(w.first), minutes(w.nudge), minutes(w.second)}, Budget: w.budget},
		Round:  tracker.Round{Day: day, Slot: slot, DueAt: due, UseBy: due.Add(minutes(w.end))},
		Closed: w.closed,
	}
	if w.nudgeOff {
		f.Ladder.Nudge = Off
	}
	for turn := First; turn <= Second; turn++ {
		p := &modelPerson{turn: turn, stops: 1 << 30, laterEnd: -1 << 30, promised: -1 << 30, today: map[int]int{}, folded: map[string]bool{},
			away: random.IntN(12) == 0, callsLeft: random.IntN(3)}
		if random.IntN(8) == 0 {
			p.stops = random.IntN(300) - 100
		}
		if random.IntN(2) == 0 {
			p.quietFrom = random.IntN(1440)
			p.quietTo = (p.quietFrom + 1 + random.IntN(500)) % 1440
		}
		for k := range random.IntN(4) {
			p.hist.Sent = append(p.hist.Sent, Message{AboutNotice, fmt.Sprint("trim ", k), FirstCall, due.Add(minutes(-61))})
			p.today[w.day(-61)]++
		}
		p.settings = Person{ID: "p", Turn: turn, Reachable: true, CallsLeft: p.callsLeft,
			Quiet: Quiet{tracker.MinuteOfDay(p.quietFrom), tracker.MinuteOfDay(p.quietTo)}}
		if p.away {
			p.settings.Away = []Span{{day - 1, day + 1}}
		}
		w.people = append(w.people, p)
	}
	return w, f, due
}

// happen lets something happen at minute m, or nothing, and says what.
func (w *model) happen(random *rand.Rand, m int, now time.Time) string {
	what := random.IntN(1500)
	who := w.people[random.IntN(2)]
	switch {
	case what < 3:
		w.holdEnd = max(w.holdEnd, m+60)
		for _, p := range w.people {
			p.hist.OnIt = append(p.hist.OnIt, now)
		}
		return "on it"
	case what < 5 && w.missing > 0:
		w.missing--
		if random.IntN(3) == 0 {
			w.missing = 0
		}
		w.holdEnd = max(w.holdEnd, m+60)
		for _, p := range w.people {
			p.hist.Received = now
		}
		return fmt.Sprintf("a record, %d missing", w.missing)
	case what < 9:
		lengths := []int{30, 120, w.end - m}
		n := random.IntN(3)
		press := Later{now, time.Duration(lengths[n]) * time.Minute}
		if n == 2 {
			press.For = UntilNextSlot
		}
		who.hist.Laters = append(who.hist.Laters, press)
		who.laterEnd, who.laterWaits = m+lengths[n], true
		return fmt.Sprintf("later by %d, %d min", who.turn, lengths[n])
	case m == who.stops:
		return "stopped"
	}
	return ""
}

func runModel(t *testing.T, number int, random *rand.Rand, sent map[string]int) {
	t.Helper()
	w, f, due := newModel(random)
	var story []string
	down := -1 << 30
	for m := -60; m <= w.end; m++ {
		now := due.Add(time.Duration(m) * time.Minute)
		what := w.happen(random, m, now)
		if random.IntN(300) == 0 {
			down = m + random.IntN(200) // an outage
			what += " outage"
		}
		if m < down && m < w.end {
			what += " down"
		}
		for _, p := range w.people {
			p.settings.Reachable = m < p.stops
			if what != "" || m == p.stops {
				p.promised = -1 << 30
			}
		}
		if what != "" {
			story = append(story, fmt.Sprintf("%d %s", m, what))
		}
		if strings.HasSuffix(what, "down") {
			continue
		}
		f.Tally = Tally{State: tracker.RoundOpen, Missing: make([]string, w.missing), Done: make([]string, 2-w.missing)}
		for _, p := range w.people {
			if message := decideOnce(t, number, w, f, p, m, now, random, story); message != "" {
				story = append(story, fmt.Sprintf("%d sent to %d: %s", m, p.turn, message))
				sent[message]++
			}
		}
	}
}

// decideOnce decides for one person at one minute, compares with the model and keeps what was sent.
func decideOnce(t *testing.T, number int, w *model, f Facts, p *modelPerson, m int, now time.Time, random *rand.Rand, story []string) string {
	t.Helper()
	fail := func(d Decision, want string) {
		t.Helper()
		t.Fatalf("case %d, minute %d, person %d: %+v, the model says %q\nmodel %+v\nperson %+v\n%s", number, m, p.turn, d, want, *w, *p, strings.Join(story, "\n"))
	}
	random.Shuffle(len(p.hist.Sent), func(i, j int) { p.hist.Sent[i], p.hist.Sent[j] = p.hist.Sent[j], p.hist.Sent[i] })
	d := Decide(f, p.settings, p.hist, now)
	want := w.wants(p, m)
	got := ""
	if d.Act == Send && !p.folded[d.Rung.String()] {
		got = d.Rung.String()
	}
	if got != want {
		fail(d, want)
	}
	if _, quiet := p.settings.Quiet.End(now, f.Zone); quiet && d.Act == Send {
		fail(d, "quiet hours")
	}
	if waits := p.promised > m; p.promised >= m && waits != (d.Act == Wait) {
		fail(d, fmt.Sprintf("a wait to %d", p.promised))
	}
	p.promised = -1 << 30
	if d.Act == Wait {
		p.promised = m + int(d.Until.Sub(now).Minutes())
	}
	if m == w.end {
		end := map[bool]Reason{true: YardClosed, false: PastUseBy}[w.closed]
		if !w.closed && w.missing == 0 {
			end = Received
		}
		state := map[Reason]Life{YardClosed: Withdrawn, Received: Withdrawn, PastUseBy: Folded}[end]
		if d.Act != Drop || d.Why != end || d.Why.Life() != state {
			fail(d, "the end: "+string(end))
		}
	}
	if got != "" {
		p.hist.Sent = append(p.hist.Sent, Message{AboutRound, KeyOf(f.Round).String(), d.Rung, now})
		if slices.ContainsFunc(p.hist.Sent[:len(p.hist.Sent)-1], func(o Message) bool {
			return o.Kind == AboutRound && o.Rung == d.Rung
		}) {
			fail(d, "no rung twice")
		}
		w.note(p, m, got)
	}
	return got
}
