package rounds

import (
	"time"

	"leground/tracker"
)

const (
	// ringAgain is how long after a caution to ring now was raised it is said again.
	ringAgain = 15 * time.Minute
	// ringSecond is how long after it a second person is told.
	ringSecond = 30 * time.Minute
)

// DecideRingNow says what becomes of the next message to a person about a caution to ring now: the first
// person at once and again after 15 minutes, the second person 15 minutes after that. Nothing holds it: no
// quiet hours, days away or budget; only "rang" ends it. "Will ring at" holds it to the promised time,
// and then it begins anew. Turns for it are those of the round that is on.
func DecideRingNow(c tracker.Caution, p Person, h History, now time.Time) Decision {
	switch {
	case c.Closed():
		return drop(CautionClosed)
	case p.Turn == 0:
		return drop(NotAsked)
	case !p.Reachable:
		return drop(NoChannel)
	}
	since := c.Raised
	if promised := promise(c); promised.After(now) {
		return Decision{Act: Wait, Rung: Repeat, Until: promised, Why: WillRing}
	} else if promised.After(since) {
		since = promised
	}
	sent := h.about(AboutRingNow, string(c.ID))
	told := 0
	for _, m := range sent {
		if !m.At.Before(since) {
			told++
		}
	}
	at, why := since, RingDue
	switch {
	case p.Turn == Second && told == 0:
		at, why = since.Add(ringSecond), RingSecond
	case p.Turn == First && told == 1:
		at, why = laterOf(since, latest(sent)).Add(ringAgain), RingAgain
	case told > 0:
		return drop(AllAsked)
	}
	rung := Repeat + Rung(len(sent))
	if at.After(now) {
		return Decision{Act: Wait, Rung: rung, Until: at, Why: NotYet}
	}
	return Decision{Act: Send, Rung: rung, Why: why}
}

// promise gives the time at which somebody last said that they would ring, zero for none.
func promise(c tracker.Caution) time.Time {
	for i := len(c.Acts) - 1; i >= 0; i-- {
		if c.Acts[i].Kind == tracker.WillRingAt {
			return c.Acts[i].Until
		}
	}
	return time.Time{}
}

func laterOf(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// DecideRingToday says what becomes of the next message to a person about a caution to ring today that has
// not been acted on: one to the first person at the yard's evening slot, its last of the day, each day. One
// raised after that slot is said at the first slot of the next day. It goes into the message of that round
// where there is one, and counts against the budget otherwise.
func DecideRingToday(c tracker.Caution, r Rules, slots []tracker.Slot, p Person, h History, now time.Time) Decision {
	sent := h.about(AboutToday, string(c.ID))
	switch {
	case c.Closed():
		return drop(CautionClosed)
	case p.Turn != First || len(slots) == 0:
		return drop(NotAsked)
	case !p.Reachable:
		return drop(NoChannel)
	}
	rung := Repeat + Rung(len(sent))
	if promised := promise(c); promised.After(now) {
		return Decision{Act: Wait, Rung: rung, Until: promised, Why: WillRing}
	}
	slots = inOrder(slots)
	last := slots[len(slots)-1].At
	raised := tracker.DateOf(c.Raised.In(r.Zone))
	at := Due(raised, last, r.Zone)
	if at.Before(c.Raised) {
		at = Due(raised+1, slots[0].At, r.Zone)
	}
	if told := latest(sent); !told.IsZero() {
		day := tracker.DateOf(told.In(r.Zone))
		if at = Due(day, last, r.Zone); !at.After(told) {
			at = Due(day+1, last, r.Zone)
		}
	}
	return r.whenFree(p, h, Decision{Send, rung, at, TodayDue}, now)
}

// Notice is anything else that one person is told once: a trim that is due, a mix past its throw-away
// time, a bottle running out before the plan ends, a plan or isolation ending, a calibration to repeat.
// Those due at a slot go into that round's message where there is one.
type Notice struct {
	Subject string
	At      time.Time
	UseBy   time.Time // after it, it would only confuse; zero for never
}

// DecideNotice says what becomes of a notice to a person. It waits for quiet hours, days away and a spent
// budget to be over.
func DecideNotice(n Notice, r Rules, p Person, h History, now time.Time) Decision {
	switch {
	case p.Turn != First:
		return drop(NotAsked)
	case !p.Reachable:
		return drop(NoChannel)
	case len(h.about(AboutNotice, n.Subject)) > 0:
		return drop(AllAsked)
	case !n.UseBy.IsZero() && !now.Before(n.UseBy):
		return drop(PastUseBy)
	}
	d := r.whenFree(p, h, Decision{Send, FirstCall, n.At, NoticeDue}, now)
	if d.Act == Wait && !n.UseBy.IsZero() && d.Until.After(n.UseBy) {
		d.Until = n.UseBy
	}
	return d
}

// DecideSummary says what becomes of one message to a person that sums up the rounds whose messages were
// folded, after an outage or a spent budget: at most one a local day, and none when the person was asked
// about each of them after all. folded are the rounds not yet summed up; any other message to the person may
// name them too, and then they are summed up.
func DecideSummary(folded []Key, r Rules, p Person, h History, now time.Time) Decision {
	if !p.Reachable {
		return drop(NoChannel)
	}
	waiting := false
	for _, k := range folded {
		waiting = waiting || len(h.about(AboutRound, k.String())) == 0
	}
	if !waiting {
		return drop(NothingHeld)
	}
	today := tracker.DateOf(now.In(r.Zone))
	at := now
	if len(h.about(AboutSummary, today.String())) > 0 {
		at = Due(today+1, 0, r.Zone)
	}
	d := r.whenFree(p, h, Decision{Send, FirstCall, at, SummaryDue}, now)
	if d.Act == Wait && d.Why == NotYet {
		d.Why = EnoughToday
	}
	return d
}

// whenFree sends d at its Until, or when the person is free from then on: no quiet hours, not away, budget
// left. Rounds to come that day keep their part of the budget.
func (r Rules) whenFree(p Person, h History, d Decision, now time.Time) Decision {
	at, why := now, Reason("")
	if d.Until.After(now) {
		at, why = d.Until, NotYet
	}
	// Each turn moves on to a later day or to the end of quiet hours; an absence without end is cut off.
	for range longestSpan {
		day := tracker.DateOf(at.In(r.Zone))
		tomorrow := Due(day+1, 0, r.Zone)
		if !tomorrow.After(at) { // a clock put back over midnight
			tomorrow = at.Add(time.Hour)
		}
		end, quiet := p.Quiet.End(at, r.Zone)
		switch {
		case p.away(day) && endless(p.Away, day):
			return drop(PersonAway)
		case p.away(day):
			at, why = tomorrow, DayOff
		case h.today(at, r.Zone)+p.callsLeft(at, now, r.Zone) >= r.Budget:
			if r.Budget == 0 {
				return drop(BudgetSpent)
			}
			at, why = tomorrow, EnoughToday
		case quiet:
			at, why = end, QuietHours
		case at.After(now):
			return Decision{Wait, d.Rung, at, why}
		default:
			return Decision{Act: Send, Rung: d.Rung, Why: d.Why}
		}
	}
	return drop(PersonAway)
}

func endless(away []Span, day tracker.Date) bool {
	for _, s := range away {
		if s.Has(day) && s.To == 0 {
			return true
		}
	}
	return false
}

// callsLeft gives the rounds still to be asked about on the day of t, known for today alone.
func (p Person) callsLeft(t, now time.Time, zone *time.Location) int {
	if tracker.DateOf(t.In(zone)) == tracker.DateOf(now.In(zone)) {
		return p.CallsLeft
	}
	return 0
}
