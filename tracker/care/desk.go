package care

import (
	"cmp"
	"encoding/json"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// desk is what must be known of a yard to decide who is told what: the yard as it stands, its rules and
// people, and what they were told. It is read with a constant number of queries.
type desk struct {
	yardState
	tx       Tx
	service  *Service
	rules    rounds.Rules
	set      ReminderRules
	contacts []Contact
	ways     []Way
	presses  []Press
	rounds   []tracker.Round // by day and time of day
	history  []Reminder
	notices  []notice
	mixes    []tracker.Mix // that are there and not long past their time, newest first
	turned   map[rounds.Key]map[tracker.PersonID]rounds.Person
	empty    map[rounds.Key]bool // nothing is due at it
	since    time.Time           // when the yard was last to be looked at
	next     time.Time           // when to look again
	looking  bool                // nothing is changed
}

// How far back a desk looks: at what people were told, and for what they pressed.
const (
	historyDays = 7 // a summary may have to wait out a stop of days and then its mail server
	pressDays   = 2
	lookAgain   = 24 * time.Hour // at the latest
)

// open reads all of it. since is when the yard was last to be looked at.
func (s *Service) open(tx Tx, now, since time.Time) (*desk, error) {
	d := &desk{tx: tx, service: s, since: since, turned: map[rounds.Key]map[tracker.PersonID]rounds.Person{}, empty: map[rounds.Key]bool{}, next: now.Add(lookAgain)}
	var err error
	if d.yardState, err = readBrief(tx, now); err != nil {
		return nil, err
	}
	var errs [6]error
	d.set, errs[0] = reminderRules(tx, d.Zone)
	d.contacts, errs[1] = contacts(tx)
	d.ways, errs[2] = tx.Ways()
	d.presses, errs[3] = tx.Presses(now.AddDate(0, 0, -pressDays))
	d.history, errs[4] = tx.ReminderHistory(d.historyFrom())
	d.rounds, errs[5] = tx.Rounds(tracker.DateOf(since.In(d.Zone))-1, d.Today+4)
	if err := cmp.Or(errs[:]...); err != nil {
		return nil, err
	}
	d.rules = rounds.Rules{Zone: d.Zone, Ladder: d.set.Ladder, Budget: d.set.Budget}
	d.sortRounds()
	return d, nil
}

// readBrief is readYard without what only pages need, and with the horses that are away.
func readBrief(tx Tx, now time.Time) (st yardState, err error) {
	if st.Moment, err = momentOf(tx, now); err != nil {
		return st, err
	}
	st.round = st.roundAt(now)
	from := min(st.Today, st.round.Day) - 1
	var e1, e2, e3, e4, e5 error
	st.all, e1 = tx.Horses()
	st.sites, e2 = tx.Sites("")
	st.recent, e3 = tx.Checks(CheckQuery{From: from})
	st.cautions, e4 = tx.OpenCautions()
	st.planned, e5 = readPlanned(tx, from)
	st.horses = inWalkingOrder(st.all, st.Today)
	return st, cmp.Or(e1, e2, e3, e4, e5)
}

// contacts lists the people, with the usual choice for those who have not chosen.
func contacts(tx Tx) ([]Contact, error) {
	people, err := tx.Contacts()
	for i := range people {
		if people[i].Changed.IsZero() {
			people[i].Channels = Channels()
		}
	}
	return people, err
}

// reminderRules gives the yard's rules, or those of a new yard.
func reminderRules(tx Tx, zone *time.Location) (ReminderRules, error) {
	set, found, err := tx.ReminderRules()
	if err == nil && !found {
		start := rounds.DefaultRules(zone)
		set = ReminderRules{Ladder: start.Ladder, Budget: start.Budget}
	}
	return set, err
}

// historyFrom is since when messages matter. What is folded for somebody who is away waits for them.
func (d *desk) historyFrom() time.Time {
	from := d.Today - historyDays
	for _, c := range d.contacts {
		for _, span := range c.Away {
			if span.Has(d.Today) || span.Has(d.Today-1) || span.Has(d.Today-2) {
				from = min(from, max(span.From-1, d.Today-30))
			}
		}
	}
	return rounds.Due(from, 0, d.Zone)
}

func (d *desk) sortRounds() {
	at := map[string]tracker.MinuteOfDay{}
	for _, slot := range d.Yard.Slots {
		at[slot.Name] = slot.At
	}
	slices.SortFunc(d.rounds, func(a, b tracker.Round) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(at[a.Slot], at[b.Slot]), cmp.Compare(a.Slot, b.Slot))
	})
}

// wake makes sure that the yard is looked at again at an instant.
func (d *desk) wake(at time.Time) {
	if at.After(d.Now) && at.Before(d.next) {
		d.next = at
	}
}

// reachable tells whether a message would reach the contact at all.
func (d *desk) reachable(c Contact) bool {
	ways, _ := d.service.firstWays(c, d.ways)
	return len(ways) > 0
}

// people gives those who may be asked about a slot, in the yard's order for it.
func (d *desk) people(slot string) []rounds.Person {
	order := func(c Contact) int {
		if i := slices.Index(d.set.Turns[slot], c.ID); i >= 0 {
			return i
		}
		return len(d.set.Turns[slot])
	}
	sorted := slices.Clone(d.contacts)
	slices.SortStableFunc(sorted, func(a, b Contact) int { return cmp.Compare(order(a), order(b)) })
	people := make([]rounds.Person, len(sorted))
	for i, c := range sorted {
		people[i] = rounds.Person{ID: c.ID, Reachable: d.reachable(c), Quiet: c.Quiet, Away: c.Away}
	}
	return people
}

// turns gives everybody with their turn about a round; those who are not asked have none.
func (d *desk) turns(r tracker.Round) map[tracker.PersonID]rounds.Person {
	if turns, known := d.turned[rounds.KeyOf(r)]; known {
		return turns
	}
	all := d.people(r.Slot)
	asked, _ := rounds.Turns(r, d.Zone, all)
	turns := map[tracker.PersonID]rounds.Person{}
	for _, p := range slices.Concat(all, asked) {
		turns[p.ID] = p
	}
	d.turned[rounds.KeyOf(r)] = turns
	return turns
}

// callsLeft counts the first messages still to come to somebody today.
func (d *desk) callsLeft(p rounds.Person) int {
	var first []tracker.Round
	for _, r := range d.rounds {
		if r.DueAt.Before(d.Now.Add(30*time.Hour)) && r.UseBy.After(d.Now) && !d.set.ClosedOn(r.Day) && r.State != tracker.RoundSkipped &&
			d.turns(r)[p.ID].Turn == rounds.First && !d.isEmpty(r) {
			first = append(first, r)
		}
	}
	return d.rules.CallsLeft(p, first, d.Now)
}

// isEmpty tells whether nothing is due at a round. It is asked for every person, and worked out once.
func (d *desk) isEmpty(r tracker.Round) bool {
	key := rounds.KeyOf(r)
	if _, known := d.empty[key]; !known {
		d.empty[key] = len(d.dueAt(r)) == 0
	}
	return d.empty[key]
}

// message is one thing that a person may be told.
type message struct {
	kind    rounds.Kind
	subject string
	useBy   time.Time
	horses  []tracker.HorseID
	without string // a channel that cannot carry it; empty: none
	says    func(c Contact, rung rounds.Rung) (tracker.News, []Carried)
}

// group gives the rows of one message to a person: one for each way it was planned on.
func (d *desk) group(m message, person tracker.PersonID, rung rounds.Rung) []Reminder {
	want := messageName{m.kind, m.subject, person, rung}
	var rows []Reminder
	for _, row := range d.history {
		if row.name() == want {
			rows = append(rows, row)
		}
	}
	return rows
}

// standing gives the state of a message that may have been planned on several ways: the best that became of
// any of them.
func standing(rows []Reminder) rounds.Life {
	for _, state := range []rounds.Life{rounds.Sent, rounds.Sending, rounds.Planned, rounds.GivenUp, rounds.Folded, rounds.Withdrawn} {
		if slices.ContainsFunc(rows, func(r Reminder) bool { return r.State == state }) {
			return state
		}
	}
	return ""
}

// at is when a message went out, or is meant to.
func at(rows []Reminder) time.Time {
	var when time.Time
	for _, row := range rows {
		t := row.SentAt
		if t.IsZero() {
			t = row.SendAt
		}
		if when.IsZero() || t.Before(when) {
			when = t
		}
	}
	return when
}

// told gives what a person was told, as a decision about a subject must know it. What is planned about
// another subject counts too: it will be sent. A message that no way could carry counts as told, so that the
// next one is still tried; but one about the very thing that is being decided, and not out yet, does not.
func (d *desk) told(person tracker.PersonID, kind rounds.Kind, subject string, but rounds.Rung) []rounds.Message {
	var out []rounds.Message
	for n, rows := range byMessage(d.history, person) {
		state, own := standing(rows), n.kind == kind && n.subject == subject
		counts := state == rounds.Sent || state == rounds.Sending || state == rounds.GivenUp || state == rounds.Planned && !own
		if !counts || own && n.rung == but {
			continue
		}
		out = append(out, rounds.Message{Kind: n.kind, Subject: n.subject, Rung: n.rung, At: at(rows)})
		for _, c := range rows[0].Carries { // not one of the day's messages: it came with one
			out = append(out, rounds.Message{Kind: c.Kind, Subject: c.Subject, Rung: rounds.AfterLater, At: at(rows)})
		}
	}
	return out
}

// settle does what was decided about the next message to a person. decide gives the decision as if the next
// message had been told too, for the time to look again.
func (d *desk) settle(m message, c Contact, decide func(told []rounds.Message) rounds.Decision) (rounds.Decision, error) {
	told := d.told(c.ID, m.kind, m.subject, 0)
	now := decide(told)
	switch now.Act {
	case rounds.Wait:
		d.wake(now.Until)
		return now, d.move(m, c.ID, now)
	case rounds.Drop:
		return now, d.move(m, c.ID, now)
	}
	if err := d.move(m, c.ID, now); err != nil {
		return now, err
	}
	after := decide(append(slices.Clip(told), rounds.Message{Kind: m.kind, Subject: m.subject, Rung: now.Rung, At: d.Now}))
	if after.Act == rounds.Wait {
		d.wake(after.Until)
	}
	return now, d.plan(m, c, now.Rung)
}

// move puts off or ends what is planned about a subject to a person, as was decided. What another decision
// planned before, and is not the next message any more, is withdrawn.
func (d *desk) move(m message, person tracker.PersonID, decided rounds.Decision) error {
	for i, row := range d.history {
		if row.Kind != m.kind || row.Subject != m.subject || row.Person != person || row.State != rounds.Planned ||
			row.Reason == rounds.AskedAgain { // a person wants it
			continue
		}
		to, why := decided.Why.Life(), decided.Why
		switch {
		case decided.Act == rounds.Drop && to == rounds.Planned:
			continue
		case decided.Act != rounds.Drop && row.Rung != decided.Rung:
			to, why = rounds.Withdrawn, rounds.PlanChanged
		case decided.Act == rounds.Send || decided.Act == rounds.Wait && !row.SendAt.Before(decided.Until):
			continue
		case decided.Act == rounds.Wait:
			to, row.SendAt = rounds.Planned, decided.Until
		}
		moved, err := moveReminder(d.tx, row, to, why)
		if err != nil {
			return err
		}
		d.history[i] = moved
	}
	return nil
}

// moveReminder changes the state of a reminder in a way that the life of a reminder has.
func moveReminder(tx Tx, m Reminder, to rounds.Life, why rounds.Reason) (Reminder, error) {
	from := m.State
	if err := from.Move(to, why); err != nil {
		return m, err
	}
	m.State, m.Reason = to, why
	return m, tx.MoveReminder(m, string(from))
}

// plan plans a message for now, on every way of the person's first channel, unless it is under way or has
// ended. What was withdrawn comes back.
func (d *desk) plan(m message, c Contact, rung rounds.Rung) error {
	rows := d.group(m, c.ID, rung)
	switch standing(rows) {
	case "":
		return d.add(m, c, rung, rounds.Planned, "")
	case rounds.Withdrawn:
		for i, row := range d.history {
			if !slices.ContainsFunc(rows, func(r Reminder) bool { return r.ID == row.ID }) {
				continue
			}
			row.SendAt = d.Now
			row.Token, _ = newToken()
			moved, err := moveReminder(d.tx, row, rounds.Planned, rounds.WantedAgain)
			if err != nil {
				return err
			}
			d.history[i] = moved
		}
	}
	return nil
}

// fold notes a message that is not sent any more, for the next summary.
func (d *desk) fold(m message, c Contact, rung rounds.Rung, why rounds.Reason) error {
	if standing(d.group(m, c.ID, rung)) != "" {
		return nil
	}
	return d.add(m, c, rung, rounds.Folded, why)
}

// handOverAfter is how long one channel may take before the next takes over.
const handOverAfter = 5 * time.Minute

func (d *desk) add(m message, c Contact, rung rounds.Rung, state rounds.Life, why rounds.Reason) error {
	ways, more := d.service.firstWays(c, d.ways, m.without)
	if state == rounds.Folded {
		ways, more = []Way{{ID: ChannelEmail, Account: ChannelEmail}}, false
	}
	if len(ways) == 0 {
		if m.kind != rounds.AboutRingNow {
			return nil // the Board says that nobody can be told
		}
		ways, state, why = []Way{{ID: "none", Account: "none"}}, rounds.GivenUp, rounds.NoChannel
	}
	says, carries := m.says(c, rung)
	says.Names = c.Names
	facts, err := json.Marshal(says)
	if err != nil {
		return err
	}
	for _, way := range ways {
		row := Reminder{
			ID: tracker.ReminderID(NewID()), Kind: m.kind, Subject: m.subject, Person: c.ID, Channel: way.ID, Account: way.Account,
			Rung: rung, State: state, Reason: why, Facts: facts, Carries: carries, Horses: m.horses,
			PlannedAt: d.Now, SendAt: d.Now, UseBy: m.useBy,
		}
		if state == rounds.Planned {
			row.Token, _ = newToken()
		}
		if more {
			row.HandOver = d.Now.Add(handOverAfter)
		}
		if err := d.tx.AddReminder(row); err != nil {
			return err
		}
		d.history = append(d.history, row)
	}
	return nil
}
