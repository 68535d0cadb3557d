package care

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// askAll keeps the state of every round that is on or has just ended, and asks about it.
func (d *desk) askAll() error {
	var on []tracker.Round
	for _, r := range d.rounds {
		if d.live(r) {
			on = append(on, r)
		}
	}
	for _, part := range rounds.Together(on) {
		if err := d.ask(part); err != nil {
			return err
		}
	}
	return nil
}

// live tells whether a round is on, or has ended since the yard was last looked at.
func (d *desk) live(r tracker.Round) bool {
	switch {
	case r.DueAt.After(d.Now), r.Reason == notOfTheDay:
		return false
	case r.UseBy.After(d.Now), r.State == tracker.RoundOpen:
		return true
	}
	return r.State == tracker.RoundPartDone && !r.UseBy.Before(d.since)
}

// asked is what must be known of rounds that are asked for in one message.
type asked struct {
	rounds   []tracker.Round
	tally    rounds.Tally
	received time.Time // when the last record was made
}

// ask keeps the state of rounds that are due together and tells people about them in one message.
func (d *desk) ask(part []tracker.Round) error {
	group, err := d.tallyAll(part)
	if err != nil {
		return err
	}
	m := d.roundMessage(group)
	for _, c := range d.contacts {
		decision, err := d.settle(m, c, func(told []rounds.Message) rounds.Decision { return d.decideRound(group, c, told) })
		if err != nil {
			return err
		}
		if rung := d.folds(m, c, decision); rung != 0 {
			if err := d.fold(m, c, rung, decision.Why); err != nil {
				return err
			}
		}
	}
	return nil
}

// tallyAll works out how rounds stand together and keeps the state of each.
func (d *desk) tallyAll(part []tracker.Round) (asked, error) {
	group := asked{rounds: part}
	var due []string
	var answers []rounds.Answer
	for i, r := range part {
		checks, err := d.checksOf(r)
		if err != nil {
			return group, err
		}
		own := d.tally(r, checks)
		if fresh := roundState(r, own, d.set, d.Now); fresh.State != r.State || fresh.Reason != r.Reason {
			if err := d.saveRound(fresh); err != nil {
				return group, err
			}
			part[i] = fresh
		}
		name := rounds.KeyOf(r).String() + " "
		for _, item := range slices.Concat(own.Done, own.Skipped, own.Missing) {
			due = append(due, name+item)
		}
		for _, item := range own.Done {
			answers = append(answers, rounds.Answer{Item: name + item, Done: true})
		}
		for _, item := range own.Skipped {
			answers = append(answers, rounds.Answer{Item: name + item, Why: own.Reason})
		}
		for _, c := range checks {
			group.received = latest(group.received, c.At)
		}
	}
	group.tally = rounds.Judge(part[0].UseBy, due, answers, "", d.Now)
	return group, nil
}

// saveRound keeps a round's state, unless the desk only looks.
func (d *desk) saveRound(r tracker.Round) error {
	if d.looking {
		return nil
	}
	for i := range d.rounds {
		if rounds.KeyOf(d.rounds[i]) == rounds.KeyOf(r) {
			d.rounds[i] = r
		}
	}
	return d.tx.SaveRound(r)
}

// checksOf gives the checks of a round.
func (d *desk) checksOf(r tracker.Round) ([]tracker.Check, error) {
	if r.Day < d.Today-1 { // after an outage
		return d.tx.Checks(CheckQuery{RoundDay: r.Day, Slot: r.Slot})
	}
	return slices.DeleteFunc(slices.Clone(d.recent), func(c tracker.Check) bool { return c.RoundDay != r.Day || c.Slot != r.Slot }), nil
}

// dueAt lists what is due at a round: every leg line and open site of the horses that are here, and what plans
// ask for there beside these.
func (st yardState) dueAt(r tracker.Round) []string {
	var due []string
	for _, horse := range st.horses {
		if st.awayOn(horse.ID, r.Day) {
			continue
		}
		for _, leg := range horse.OrderIn(st.Yard) {
			due = append(due, lineItem(horse.ID, leg))
		}
	}
	for _, site := range st.sites {
		if site.Open() && !site.OpenedAt.After(r.DueAt) && st.horseAt(site.Horse) >= 0 && !st.awayOn(site.Horse, r.Day) {
			due = append(due, string(site.ID))
		}
	}
	for _, a := range st.askedIn(r) {
		due = append(due, a.When.ID)
	}
	return due
}

// lineItem names a leg line among the things that are due.
func lineItem(horse tracker.HorseID, leg tracker.Leg) string { return string(horse) + leg.String() }

// tally holds what was recorded for a round against what was due at it.
func (st yardState) tally(r tracker.Round, checks []tracker.Check) rounds.Tally {
	var answers []rounds.Answer
	for _, c := range checks {
		item := string(c.Site)
		if c.Subject == tracker.OfLeg {
			item = lineItem(c.Horse, c.Leg)
		}
		answers = append(answers, rounds.Answer{Item: item, Done: c.Outcome == tracker.Looked, Why: c.Skip})
	}
	answers = append(answers, st.planAnswers(st.askedIn(r), checks)...)
	skipped := ""
	if r.State == tracker.RoundSkipped { // by a person, with the reason; what was recorded all the same counts
		skipped = r.Reason
	}
	return rounds.Judge(r.UseBy, st.dueAt(r), answers, skipped, st.Now)
}

// roundState gives a round the state that its tally means. Only its end says that nothing was due at it, or
// that the yard was closed: until then that may change.
func roundState(r tracker.Round, t rounds.Tally, set ReminderRules, now time.Time) tracker.Round {
	nothing := len(t.Done)+len(t.Skipped)+len(t.Missing) == 0
	if nothing && now.Before(r.UseBy) {
		r.State, r.Reason = tracker.RoundOpen, ""
		return r
	}
	r.State, r.Reason = t.State, t.Reason
	for _, c := range set.Closed {
		if c.Has(r.Day) && r.State == tracker.RoundNoRecord {
			r.State, r.Reason = tracker.RoundSkipped, cmp.Or(c.Why, "the yard was closed")
		}
	}
	return r
}

// decideRound decides about the next message to somebody about rounds that are asked for together.
func (d *desk) decideRound(group asked, c Contact, told []rounds.Message) rounds.Decision {
	first := group.rounds[0]
	f := rounds.Facts{Rules: d.rules, Round: first, Tally: group.tally, Closed: d.set.ClosedOn(first.Day)}
	p := d.turns(first)[c.ID]
	p.CallsLeft = d.callsLeft(p)
	h := rounds.History{Sent: told, Received: group.received}
	for _, press := range d.presses {
		if !slices.ContainsFunc(group.rounds, func(r tracker.Round) bool { return rounds.KeyOf(r).String() == press.Subject }) {
			continue
		}
		switch {
		case press.Kind == OnIt:
			h.OnIt = append(h.OnIt, press.At)
		case press.Kind == Later && press.Person == c.ID:
			h.Laters = append(h.Laters, rounds.Later{At: press.At, For: press.For})
		}
	}
	return rounds.Decide(f, p, h, d.Now)
}

// folds gives the rung that will not be sent any more though it was due; 0: none. What is spent stays so:
// the same message is not sent when the next day brings another budget.
func (d *desk) folds(m message, c Contact, decided rounds.Decision) rounds.Rung {
	told := slices.DeleteFunc(d.told(c.ID, m.kind, m.subject, 0), func(x rounds.Message) bool { return x.Kind != m.kind || x.Subject != m.subject })
	first := d.turnAbout(m, c) == rounds.First
	switch {
	case decided.Act != rounds.Drop || decided.Why.Life() != rounds.Folded:
	case first && len(told) == 0:
		return rounds.FirstCall
	case decided.Why != rounds.BudgetSpent:
	case first:
		return rounds.Nudge
	default:
		return rounds.SecondPerson
	}
	return 0
}

// turnAbout gives somebody's turn about the rounds of a message.
func (d *desk) turnAbout(m message, c Contact) rounds.Turn {
	for _, r := range d.rounds {
		if rounds.KeyOf(r).String() == m.subject {
			return d.turns(r)[c.ID].Turn
		}
	}
	return 0
}

// roundMessage gives the message about rounds that are due together. Its subject is the first of them.
func (d *desk) roundMessage(group asked) message {
	first := group.rounds[0]
	m := message{kind: rounds.AboutRound, subject: rounds.KeyOf(first).String(), useBy: first.UseBy}
	for _, horse := range d.horses {
		m.horses = append(m.horses, horse.ID)
	}
	m.says = func(c Contact, rung rounds.Rung) (tracker.News, []Carried) {
		says := d.newsOfRound(group)
		switch {
		case rung == rounds.Nudge:
			says.Kind = tracker.NewsNudge
		case rung == rounds.SecondPerson:
			says.Kind, says.Asked = tracker.NewsSecondPerson, d.askedBefore(m.kind, m.subject)
		}
		return says, d.carry(&says, c)
	}
	return m
}

// askedBefore says who was told about something and when: "Ada at 07:00 and 07:45". In a night in which the
// clocks change it says by which of them.
func (d *desk) askedBefore(kind rounds.Kind, subject string) string {
	var out []string
	for _, c := range d.contacts {
		var times []time.Time
		for _, row := range d.history { // what waits for its server was said to nobody yet
			if row.Person == c.ID && row.Kind == kind && row.Subject == subject && row.State == rounds.Sent && row.Rung != rounds.AfterLater {
				times = append(times, row.SentAt.In(d.Zone).Truncate(time.Minute))
			}
		}
		slices.SortFunc(times, time.Time.Compare)
		times = slices.Compact(times) // two phones
		var words []string
		for _, t := range times {
			layout := "15:04"
			if t.Format("MST") != times[0].Format("MST") || t.Format("MST") != d.Now.In(d.Zone).Format("MST") {
				layout = "15:04 MST"
			}
			words = append(words, t.Format(layout))
		}
		if len(words) > 0 {
			out = append(out, fmt.Sprintf("%s at %s", c.Name, strings.Join(words, " and ")))
		}
	}
	return strings.Join(out, ", ")
}
