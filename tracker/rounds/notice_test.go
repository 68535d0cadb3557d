package rounds

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"leground/tracker"
)

// day14 is a history and a person on 14 May 2026 in London, at local times.
type day14 struct {
	t      *testing.T
	rules  Rules
	person Person
	past   History
}

func newDay14(t *testing.T) *day14 {
	return &day14{t, DefaultRules(zone(t, "Europe/London")), Person{ID: "ada", Turn: First, Reachable: true}, History{}}
}

// at reads "07:30" on 14 May or "15 07:30" on another day of May.
func (d *day14) at(text string) time.Time {
	day, clock, other := strings.Cut(text, " ")
	if !other {
		day, clock = "14", text
	}
	return Due(tracker.NewDate(2026, 5, number(d.t, day)), minute(d.t, clock), d.rules.Zone)
}

func (d *day14) sent(kind Kind, subject string, rung Rung, at string) {
	d.past.Sent = append(d.past.Sent, Message{kind, subject, rung, d.at(at)})
}

func (d *day14) want(now, want string, got Decision) {
	d.t.Helper()
	words := map[Act]string{Send: "send", Wait: "wait", Drop: "drop"}[got.Act]
	if got.Act == Wait {
		words += " to " + strings.TrimPrefix(got.Until.In(d.rules.Zone).Format("2 15:04"), "14 ")
	}
	if words += ": " + string(got.Why); words != want {
		d.t.Errorf("at %s: got %q, want %q", now, words, want)
	}
}

// TestRingNow is the yard's own rule: at once, again after 15 minutes, then the second person; no cap, no
// hold; only "rang" closes; "will ring at" opens it again at that time.
func TestRingNow(t *testing.T) {
	d := newDay14(t)
	c := tracker.Caution{ID: "c", Level: tracker.RingNow, Raised: d.at("02:00")}
	// Nothing holds it: quiet hours, days away, no budget.
	d.person.Quiet, d.person.Away, d.rules.Budget = Quiet{21 * 60, 6 * 60}, []Span{{1, 0}}, 0
	second := d.person
	second.Turn = Second
	ask := func(p Person, now, want string) Decision {
		t.Helper()
		got := DecideRingNow(c, p, d.past, d.at(now))
		d.want(now, want, got)
		return got
	}
	ask(d.person, "02:00", "send: ring now")
	ask(second, "02:00", "wait to 02:30: not time yet")
	ask(second, "02:30", "send: ring now, second person")
	d.sent(AboutRingNow, "c", Repeat, "02:00")
	if got := ask(d.person, "02:14", "wait to 02:15: not time yet"); got.Rung != Repeat+1 {
		t.Errorf("the second message is numbered %d", got.Rung)
	}
	ask(d.person, "02:15", "send: ring now again")
	d.sent(AboutRingNow, "c", Repeat+1, "02:15")
	ask(d.person, "04:00", "drop: asked as often as planned")
	c.Acts = []tracker.CautionAct{{Kind: tracker.WillRingAt, At: d.at("02:20"), Until: d.at("08:00")}}
	ask(d.person, "03:00", "wait to 08:00: somebody will ring")
	ask(second, "07:59", "wait to 08:00: somebody will ring")
	if got := ask(d.person, "08:00", "send: ring now"); got.Rung != Repeat+2 {
		t.Errorf("the message at the promised time is numbered %d", got.Rung)
	}
	ask(second, "08:00", "wait to 08:30: not time yet")
	d.sent(AboutRingNow, "c", Repeat+2, "08:00")
	ask(d.person, "08:15", "send: ring now again")
	c.Acts = append(c.Acts, tracker.CautionAct{Kind: tracker.VetKnows})
	ask(d.person, "08:15", "send: ring now again")
	c.Acts = append(c.Acts, tracker.CautionAct{Kind: tracker.Rang})
	ask(d.person, "08:15", "drop: caution acted on")
	c.Acts = nil
	second.Turn = 0
	ask(second, "09:00", "drop: not asked")
	second.Turn, second.Reachable = First, false
	ask(second, "09:00", "drop: no working channel")
}

func TestRingToday(t *testing.T) {
	d := newDay14(t)
	slots := []tracker.Slot{threeSlots[2], threeSlots[0]}
	c := tracker.Caution{ID: "c", Level: tracker.RingToday, Raised: d.at("09:10")}
	ask := func(now, want string) {
		t.Helper()
		d.want(now, want, DecideRingToday(c, d.rules, slots, d.person, d.past, d.at(now)))
	}
	ask("09:10", "wait to 18:30: not time yet")
	ask("18:30", "send: ring today")
	d.sent(AboutToday, "c", Repeat, "18:31")
	ask("18:32", "wait to 15 18:30: not time yet")
	d.sent(AboutToday, "c", Repeat+1, "15 18:30")
	ask("15 20:00", "wait to 16 18:30: not time yet")
	c.Acts = []tracker.CautionAct{{Kind: tracker.WillRingAt, Until: d.at("17 09:00")}}
	ask("15 20:00", "wait to 17 09:00: somebody will ring")
	c.Acts, d.past.Sent = nil, nil
	c.Raised = d.at("19:00")
	ask("19:00", "wait to 15 07:00: not time yet")
	d.person.Quiet = Quiet{21 * 60, 8 * 60}
	ask("19:00", "wait to 15 08:00: quiet hours")
	for i := range 4 {
		d.sent(AboutNotice, fmt.Sprint(i), FirstCall, "15 06:00")
	}
	ask("15 09:00", "wait to 16 08:00: quiet hours")
	c.Acts = []tracker.CautionAct{{Kind: tracker.VetKnows}}
	ask("15 09:00", "drop: caution acted on")
	c.Acts, d.person.Turn = nil, Second
	ask("15 09:00", "drop: not asked")
}

func TestNotice(t *testing.T) {
	d := newDay14(t)
	n := Notice{Subject: "trim bramble", At: d.at("07:00"), UseBy: d.at("20 00:00")}
	ask := func(now, want string) {
		t.Helper()
		d.want(now, want, DecideNotice(n, d.rules, d.person, d.past, d.at(now)))
	}
	ask("06:00", "wait to 07:00: not time yet")
	ask("07:00", "send: notice due")
	d.person.Quiet = Quiet{21 * 60, 8 * 60}
	ask("07:00", "wait to 08:00: quiet hours")
	d.person.Away = []Span{{tracker.NewDate(2026, 5, 14), tracker.NewDate(2026, 5, 16)}}
	ask("07:00", "wait to 17 08:00: quiet hours")
	d.person.Quiet = Quiet{}
	ask("07:00", "wait to 17 00:00: away until another day")
	d.person.Away[0].To = tracker.NewDate(2026, 5, 25)
	ask("07:00", "wait to 20 00:00: away until another day")
	ask("20 00:00", "drop: past its use-by")
	d.person.Away[0].To = 0
	ask("07:00", "drop: person away")
	d.person.Away = nil
	d.person.CallsLeft = 4
	ask("07:00", "wait to 15 00:00: enough messages today")
	d.person.CallsLeft = 3
	ask("07:00", "send: notice due")
	d.sent(AboutNotice, "trim tom", FirstCall, "06:00")
	ask("07:00", "wait to 15 00:00: enough messages today")
	d.sent(AboutNotice, "trim bramble", FirstCall, "07:00")
	ask("08:00", "drop: asked as often as planned")
	d.past.Sent, d.rules.Budget = nil, 0
	ask("08:00", "drop: budget spent")
	d.person.Reachable = false
	ask("08:00", "drop: no working channel")
}

func TestSummary(t *testing.T) {
	d := newDay14(t)
	morning, evening := Key{tracker.NewDate(2026, 5, 13), "morning"}, Key{tracker.NewDate(2026, 5, 13), "evening"}
	folded := []Key{morning, evening}
	ask := func(now, want string) {
		t.Helper()
		d.want(now, want, DecideSummary(folded, d.rules, d.person, d.past, d.at(now)))
	}
	ask("07:00", "send: summary due")
	d.sent(AboutRound, morning.String(), FirstCall, "13 09:00")
	ask("07:00", "send: summary due")
	d.sent(AboutRound, evening.String(), FirstCall, "13 20:00")
	ask("07:00", "drop: nothing to sum up")
	d.past.Sent = nil
	d.sent(AboutSummary, "2026-05-14", FirstCall, "06:00")
	ask("07:00", "wait to 15 00:00: enough messages today")
	ask("15 00:00", "send: summary due")
	d.person.Quiet = Quiet{21 * 60, 8 * 60}
	ask("15 00:00", "wait to 15 08:00: quiet hours")
	folded = nil
	ask("15 00:00", "drop: nothing to sum up")
	d.person.Reachable = false
	ask("15 00:00", "drop: no working channel")
}

// TestWhenFreeOverMidnight takes the clock of St John's in 2010, which was put back from 00:01 to 23:01 of
// the day before (IANA time zone database, file northamerica), so that midnight comes before an evening.
func TestWhenFreeOverMidnight(t *testing.T) {
	rules := DefaultRules(zone(t, "America/St_Johns"))
	now := instant(t, "2010-11-07T02:45:00Z") // 23:15, the second time
	p := Person{Turn: First, Reachable: true, CallsLeft: rules.Budget}
	d := DecideNotice(Notice{Subject: "trim", At: now}, rules, p, History{}, now)
	if d.Act != Wait || !d.Until.After(now) || d.Until.After(now.Add(2*time.Hour)) {
		t.Errorf("%+v", d)
	}
}
