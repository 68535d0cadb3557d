package rounds

import (
	"time"

	"leground/tracker"
)

// Act is what to do about a message.
type Act int

// The acts.
const (
	Send Act = iota + 1 // now, as the Decision's rung
	Wait                // look again at Until, or when anything changes
	Drop                // nothing more to this person about this
)

// Decision is the answer about one message to one person, with its reason.
type Decision struct {
	Act   Act
	Rung  Rung      // the message it is about; 0 with Drop
	Until time.Time // with Wait
	Why   Reason
}

func drop(why Reason) Decision { return Decision{Act: Drop, Why: why} }

// Facts are what Decide must know of the round: one, or the first of several due at the same instant.
type Facts struct {
	Rules
	Round  tracker.Round
	Tally  Tally // of all rounds asked for together
	Closed bool  // the yard is closed on the day
}

// holdTime is how long "on it", or a record, holds everybody's messages about a round.
const holdTime = time.Hour

// Decide says what becomes of the next message to a person about a round.
//
// The first person is asked when the round is due and nudged once, the second person asked once, at the
// yard's times; nothing goes out after the use-by. "On it" holds everybody on the round for an hour, and so
// does a record of it; if no more is received it goes on where it was. "Later" holds the one person; its
// end sends if still needed, and takes the place of the nudge. Quiet hours hold a message to their end. A
// message held up does not crowd the next: the nudge keeps its distance from it. Days away, a closed yard,
// a spent budget and everything received drop it.
func Decide(f Facts, p Person, h History, now time.Time) Decision {
	if why := f.settled(now); why != "" {
		return drop(why)
	}
	if why := p.barred(f, now); why != "" {
		return drop(why)
	}
	next := f.next(p, h)
	if next.rung == 0 {
		return drop(next.why)
	}
	if until, why := f.held(p, h, next, now); until.After(now) {
		if until.After(f.Round.UseBy) {
			until = f.Round.UseBy
		}
		return Decision{Act: Wait, Rung: next.rung, Until: until, Why: why}
	}
	left := f.Budget - h.today(now, f.Zone)
	if next.rung != FirstCall {
		left -= p.CallsLeft
	}
	if left <= 0 && next.rung < AfterLater {
		return drop(BudgetSpent)
	}
	return Decision{Act: Send, Rung: next.rung, Why: next.why}
}

// settled says why nobody is to be asked about the round any more.
func (f Facts) settled(now time.Time) Reason {
	switch {
	case f.Closed:
		return YardClosed
	case len(f.Tally.Missing) == 0 && len(f.Tally.Done)+len(f.Tally.Skipped) == 0:
		return NothingDue
	case len(f.Tally.Missing) == 0 && f.Tally.State == tracker.RoundSkipped:
		return RoundSkipped
	case len(f.Tally.Missing) == 0:
		return Received
	case !now.Before(f.Round.UseBy):
		return PastUseBy
	}
	return ""
}

// barred says why this person is not to be asked about the round at all.
func (p Person) barred(f Facts, now time.Time) Reason {
	switch {
	case p.Turn == 0 || p.Turn == Second && f.Ladder.Second == Off:
		return NotAsked
	case !p.Reachable:
		return NoChannel
	case p.away(f.Round.Day) || p.away(tracker.DateOf(now.In(f.Zone))):
		return PersonAway
	}
	return ""
}

// step is the next message on a person's ladder, when it may go out and what it waits for until then; with
// rung 0 there is none.
type step struct {
	rung  Rung
	at    time.Time
	waits Reason
	why   Reason
}

// next gives the person's next message about the round.
func (f Facts) next(p Person, h History) step {
	got := h.about(AboutRound, KeyOf(f.Round).String())
	last, due := latest(got), f.Round.DueAt
	calls, nudged := 0, false
	for _, m := range got {
		if m.Rung < AfterLater {
			calls++
		}
		nudged = nudged || m.Rung == Nudge
	}
	later, asked := h.later(f.Round.UseBy, last)
	s := step{waits: NotYet, why: AllAsked}
	switch {
	case calls == 0 && p.Turn == First:
		s = step{FirstCall, due.Add(f.Ladder.First), NotYet, CallDue}
	case calls == 0:
		s = step{SecondPerson, due.Add(f.Ladder.Second), NotYet, SecondDue}
	case asked:
		s = step{AfterLater + Rung(len(got)-calls), later, AskedLater, LaterDue}
	case p.Turn == First && !nudged && len(got) == calls && f.Ladder.Nudge != Off:
		s = step{Nudge, due.Add(f.Ladder.Nudge), NotYet, NudgeDue}
		if spaced := last.Add(f.Ladder.Nudge - f.Ladder.First); spaced.After(s.at) {
			s.at = spaced
		}
	}
	if asked && later.After(s.at) {
		s.at, s.waits = later, AskedLater
	}
	return s
}

// later gives the end of the person's latest "later", if it was pressed after the last message they got.
func (h History) later(useBy, last time.Time) (end time.Time, asked bool) {
	var press Later
	for _, l := range h.Laters {
		if !l.At.Before(last) && l.At.After(press.At) {
			press, asked = l, true
		}
	}
	if press.For == UntilNextSlot {
		return useBy, asked
	}
	return press.At.Add(press.For), asked
}

// held gives the earliest time, not before now, at which the message may go out, and what it waits for.
func (f Facts) held(p Person, h History, next step, now time.Time) (time.Time, Reason) {
	until, why := now, Reason("")
	wait := func(t time.Time, reason Reason) {
		if t.After(until) {
			until, why = t, reason
		}
	}
	wait(next.at, next.waits)
	// A press or record from a clock that was ahead would hold for as long: only what is past counts.
	for _, at := range h.OnIt {
		if !at.After(now.Add(clockSlack)) {
			wait(at.Add(holdTime), SomebodyOnIt)
		}
	}
	if at := h.Received; !at.IsZero() && !at.After(now.Add(clockSlack)) {
		wait(at.Add(holdTime), UnderWay)
	}
	if end, quiet := p.Quiet.End(until, f.Zone); quiet {
		wait(end, QuietHours)
	}
	return until, why
}
