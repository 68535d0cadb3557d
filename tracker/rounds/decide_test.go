package rounds

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"leground/tracker"
)

// ladderCase is the state of one row of ladder.txt.
type ladderCase struct {
	due    time.Time
	facts  Facts
	person Person
	past   History
}

func newLadderCase(t *testing.T, who string) *ladderCase {
	london := zone(t, "Europe/London")
	s := Schedule{Zone: london, Days: Days{Every: 1}, First: date(t, "2026-05-01"), Slots: []tracker.Slot{
		{Name: "morning", At: 7 * 60}, {Name: "evening", At: 18*60 + 30},
	}}
	all, err := s.Rounds(date(t, "2026-05-14"), date(t, "2026-05-14"))
	if err != nil {
		t.Fatal(err)
	}
	turns := map[string]Turn{"first": First, "second": Second, "third": 0}
	turn, known := turns[who]
	if !known {
		t.Fatalf("who is %q", who)
	}
	return &ladderCase{
		due: all[0].DueAt,
		facts: Facts{Rules: DefaultRules(london), Round: all[0],
			Tally: Tally{State: tracker.RoundOpen, Missing: []string{"LF", "RF"}}},
		person: Person{ID: "ada", Turn: turn, Reachable: true},
	}
}

func (c *ladderCase) minute(n int) time.Time { return c.due.Add(time.Duration(n) * time.Minute) }

// take adds one thing that has happened.
func (c *ladderCase) take(t *testing.T, text string) {
	t.Helper()
	words := strings.Fields(text)
	arg := func(i int) int { return number(t, words[i]) }
	switch what := words[0]; {
	case what == "done":
		c.facts.Tally = Tally{State: tracker.RoundDone, Done: []string{"LF", "RF"}}
	case what == "skipped":
		c.facts.Tally = Tally{State: tracker.RoundSkipped, Skipped: []string{"LF", "RF"}}
	case what == "nothing":
		c.facts.Tally = Tally{State: tracker.RoundSkipped}
	case what == "closed":
		c.facts.Closed = true
	case what == "away":
		c.person.Away = []Span{{c.facts.Round.Day, c.facts.Round.Day}}
	case what == "unreachable":
		c.person.Reachable = false
	case what == "no" && words[1] == "nudge":
		c.facts.Ladder.Nudge = Off
	case what == "no" && words[1] == "second":
		c.facts.Ladder.Second = Off
	case what == "sent":
		rung := FirstCall
		if len(words) > 2 {
			rung = map[string]Rung{"nudge": Nudge, "second": SecondPerson, "later": AfterLater}[words[2]]
		}
		c.past.Sent = append(c.past.Sent, Message{AboutRound, KeyOf(c.facts.Round).String(), rung, c.minute(arg(1))})
	case what == "on":
		c.past.OnIt = append(c.past.OnIt, c.minute(arg(2)))
	case what == "part":
		c.past.Received = c.minute(arg(1))
		c.facts.Tally = Tally{State: tracker.RoundPartDone, Done: []string{"LF"}, Missing: []string{"RF"}}
	case what == "later" && words[2] == "slot":
		c.past.Laters = append(c.past.Laters, Later{c.minute(arg(1)), UntilNextSlot})
	case what == "later":
		c.past.Laters = append(c.past.Laters, Later{c.minute(arg(1)), time.Duration(arg(2)) * time.Minute})
	case what == "quiet":
		from, to, _ := strings.Cut(words[1][1:], "-")
		c.person.Quiet = Quiet{From: tracker.MinuteOfDay(7*60 + number(t, words[1][:1]+from)), To: tracker.MinuteOfDay(7*60 + number(t, to))}
	case what == "budget":
		for i := range arg(1) {
			c.past.Sent = append(c.past.Sent, Message{AboutNotice, fmt.Sprint("trim ", i), FirstCall, c.minute(-i - 1)})
		}
	case what == "calls":
		c.person.CallsLeft = arg(1)
	default:
		t.Fatalf("%q cannot happen", text)
	}
}

func TestDecideVectors(t *testing.T) {
	acts := map[Act]string{Send: "send", Wait: "wait", Drop: "drop"}
	for _, row := range vectorRows(t, "ladder.txt", 7) {
		c := newLadderCase(t, row[0])
		for what := range strings.SplitSeq(row[1], ", ") {
			if what != "" {
				c.take(t, what)
			}
		}
		d := Decide(c.facts, c.person, c.past, c.minute(number(t, row[2])))
		rung, until := "", ""
		if d.Rung != 0 {
			rung = d.Rung.String()
		}
		if !d.Until.IsZero() {
			until = fmt.Sprint(int(d.Until.Sub(c.due).Minutes()))
		}
		got := strings.Join([]string{acts[d.Act], rung, until, string(d.Why)}, " | ")
		if want := strings.Join(row[3:], " | "); got != want {
			t.Errorf("%s\n got %s\nwant %s", strings.Join(row[:3], " | "), got, want)
		}
	}
}

// TestOutsideTheBudget counts neither "ring now" nor what somebody asked to be told later.
func TestOutsideTheBudget(t *testing.T) {
	c := newLadderCase(t, "first")
	for i := range 20 {
		c.past.Sent = append(c.past.Sent,
			Message{AboutRingNow, "c", Repeat + Rung(i), c.due.Add(-time.Minute)},
			Message{AboutRound, "2026-05-13 evening", AfterLater + Rung(i), c.due.Add(-time.Minute)},
			Message{AboutNotice, fmt.Sprint(i), FirstCall, c.due.Add(-24 * time.Hour)})
	}
	if d := Decide(c.facts, c.person, c.past, c.due); d.Act != Send {
		t.Errorf("%+v", d)
	}
}

// TestClockPutBack decides again on a clock that was put back after messages went out.
func TestClockPutBack(t *testing.T) {
	c := newLadderCase(t, "first")
	c.take(t, "sent 0")
	c.take(t, "sent 45 nudge")
	for _, back := range []int{44, 0, -600} {
		if d := Decide(c.facts, c.person, c.past, c.minute(back)); d.Act == Send {
			t.Errorf("clock at %d: sent again: %+v", back, d)
		}
	}
}

func TestQuiet(t *testing.T) {
	berlin := zone(t, "Europe/Berlin")
	for _, c := range []struct {
		from, to, at, end string
	}{
		{"21:00", "06:30", "2026-05-14T20:59:59+02:00", ""},
		{"21:00", "06:30", "2026-05-14T21:00:00+02:00", "2026-05-15T06:30:00+02:00"},
		{"21:00", "06:30", "2026-05-15T06:29:59+02:00", "2026-05-15T06:30:00+02:00"},
		{"21:00", "06:30", "2026-05-15T06:30:00+02:00", ""},
		{"12:00", "14:00", "2026-05-14T13:00:00+02:00", "2026-05-14T14:00:00+02:00"},
		{"12:00", "14:00", "2026-05-14T11:00:00+02:00", ""},
		{"07:00", "07:00", "2026-05-14T07:00:00+02:00", ""},
		{"00:00", "23:59", "2026-05-14T00:00:00+02:00", "2026-05-14T23:59:00+02:00"},
		// The night with 25 hours: 02:30 comes twice, and quiet hours end at the first.
		{"21:00", "02:30", "2026-10-25T02:20:00+02:00", "2026-10-25T02:30:00+02:00"},
		{"21:00", "02:30", "2026-10-25T02:20:00+01:00", ""},
		{"02:30", "07:00", "2026-10-25T02:20:00+01:00", "2026-10-25T07:00:00+01:00"},
		// The night with 23 hours: 02:30 is skipped, and they end at 03:30.
		{"21:00", "02:30", "2026-03-29T01:59:00+01:00", "2026-03-29T03:30:00+02:00"},
		{"21:00", "02:30", "2026-03-29T03:10:00+02:00", "2026-03-29T03:30:00+02:00"},
	} {
		q := Quiet{minute(t, c.from), minute(t, c.to)}
		end, quiet := q.End(instant(t, c.at), berlin)
		if quiet != (c.end != "") || quiet && !end.Equal(instant(t, c.end)) {
			t.Errorf("%s to %s at %s: %v, to %s, want to %q", c.from, c.to, c.at, quiet, end, c.end)
		}
	}
}

func TestTurns(t *testing.T) {
	london := zone(t, "Europe/London")
	c := newLadderCase(t, "first")
	day := c.facts.Round.Day
	ada := Person{ID: "ada", Reachable: true}
	bea := Person{ID: "bea", Reachable: true}
	asleep := Person{ID: "cid", Reachable: true, Quiet: Quiet{22 * 60, 9 * 60}}
	away := Person{ID: "dot", Reachable: true, Away: []Span{{day, day}}}
	silent := Person{ID: "eve"}
	for _, row := range []struct {
		people []Person
		want   string
	}{
		{[]Person{ada, bea}, "ada=1 bea=2"},
		{[]Person{ada, bea, asleep}, "ada=1 bea=2 cid=0 | cid: quiet hours"},
		{[]Person{asleep, ada, bea}, "ada=1 bea=2 cid=0 | cid: quiet hours"},
		{[]Person{asleep, ada}, "ada=1 cid=2 | cid: quiet hours"},
		{[]Person{asleep}, "cid=1 | cid: quiet hours"},
		{[]Person{away, silent, bea}, "bea=1 dot=2 | dot: person away, eve: no working channel"},
		{[]Person{away}, "dot=1 | dot: person away, : nobody reachable"},
		{[]Person{silent}, " | eve: no working channel, : nobody reachable"},
		{nil, " | : nobody reachable"},
	} {
		asked, warnings := Turns(c.facts.Round, london, row.people)
		var people, words []string
		for _, p := range asked {
			people = append(people, fmt.Sprintf("%s=%d", p.ID, p.Turn))
		}
		for _, w := range warnings {
			words = append(words, fmt.Sprintf("%s: %s", w.Person, w.Why))
		}
		got := strings.Join(people, " ")
		if len(words) > 0 {
			got += " | " + strings.Join(words, ", ")
		}
		if got != row.want {
			t.Errorf("got %q, want %q", got, row.want)
		}
	}
}

func TestCallsLeft(t *testing.T) {
	london := zone(t, "Europe/London")
	rules := DefaultRules(london)
	day := date(t, "2026-05-14")
	s := Schedule{Zone: london, Days: Days{Every: 1}, First: day - 1, Slots: []tracker.Slot{
		{Name: "morning", At: 7 * 60}, {Name: "noon", At: 12 * 60}, {Name: "night", At: 22 * 60},
	}}
	first, err := s.Rounds(day-1, day+1)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		quiet Quiet
		away  []Span
		now   string
		want  int
	}{
		{Quiet{}, nil, "2026-05-14T06:59:00+01:00", 3},
		{Quiet{}, nil, "2026-05-14T07:00:00+01:00", 2},
		{Quiet{}, nil, "2026-05-14T22:00:00+01:00", 0},
		{Quiet{}, []Span{{day, day}}, "2026-05-14T06:59:00+01:00", 0},
		{Quiet{21 * 60, 8 * 60}, nil, "2026-05-14T00:30:00+01:00", 2}, // morning at 08:00, noon; night not before its use-by
		{Quiet{21 * 60, 6 * 60}, nil, "2026-05-14T00:30:00+01:00", 3}, // yesterday's night at 06:00, morning, noon
		{Quiet{6 * 60, 12 * 60}, nil, "2026-05-14T00:30:00+01:00", 2}, // morning not before noon, when its time is over
		{Quiet{6 * 60, 11 * 60}, nil, "2026-05-14T10:00:00+01:00", 3}, // morning still to come at 11:00
		{Quiet{6*60 + 35, 293}, nil, "2026-05-14T05:00:00+01:00", 0},  // all day: none
	} {
		p := Person{Turn: First, Reachable: true, Quiet: c.quiet, Away: c.away}
		if got := rules.CallsLeft(p, first, instant(t, c.now)); got != c.want {
			t.Errorf("quiet %v, away %v, at %s: %d to come, want %d", c.quiet, c.away, c.now, got, c.want)
		}
	}
}

func TestRulesRefusals(t *testing.T) {
	good := DefaultRules(time.UTC)
	if err := good.Check(); err != nil {
		t.Fatal(err)
	}
	for words, change := range map[string]func(*Rules){
		"no time zone":                func(r *Rules) { r.Zone = nil },
		"-1 messages a day":           func(r *Rules) { r.Budget = -1 },
		"the first message cannot":    func(r *Rules) { r.Ladder.First = -time.Minute },
		"the nudge must come":         func(r *Rules) { r.Ladder.Nudge = 14 * time.Minute },
		"the second person must be":   func(r *Rules) { r.Ladder.Second = 0 },
		"the nudge must come at leas": func(r *Rules) { r.Ladder = Ladder{} },
	} {
		r := good
		change(&r)
		if err := r.Check(); err == nil || !strings.Contains(err.Error(), words) {
			t.Errorf("want a refusal with %q, got %v", words, err)
		}
	}
	good.Ladder = Ladder{First: time.Hour, Nudge: Off, Second: Off}
	if err := good.Check(); err != nil {
		t.Errorf("one message alone: %v", err)
	}
}

func TestActedOn(t *testing.T) {
	at := func(minutes ...int) (all []time.Time) {
		for _, m := range minutes {
			all = append(all, time.Unix(int64(m)*60, 0))
		}
		return all
	}
	if got := ActedOn(at(0, 100, 200, 300), at(60, 161, 199, 205, 210)); got != 2 {
		t.Errorf("%d messages were acted on, want those at 0 and 200", got)
	}
}
