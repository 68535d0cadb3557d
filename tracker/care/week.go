package care

import (
	"cmp"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// week tells the owners on a Monday at noon how the week before went.
func (d *desk) week() ([]notice, error) {
	monday := weekOf(d.Today)
	noon := rounds.Due(monday, 12*60, d.Zone)
	d.wake(noon)
	n := notice{
		Notice: rounds.Notice{Subject: "week " + (monday - 7).String(), At: noon}, kind: tracker.NewsWeekly, link: "/reminders", owners: true, alone: true,
	}
	if d.Now.Before(noon) || d.Now.Sub(noon) > noticeLife || d.Yard.CreatedAt.After(rounds.Due(monday-6, 0, d.Zone)) {
		return nil, nil
	}
	said := func(c Contact) bool {
		return c.Role != tracker.Owner || slices.ContainsFunc(d.history, func(r Reminder) bool { return r.Person == c.ID && r.Subject == n.Subject })
	}
	if d.looking || !slices.ContainsFunc(d.contacts, func(c Contact) bool { return !said(c) }) {
		return []notice{n}, nil // counted when it was planned
	}
	var err error
	n.week, err = countWeek(d.tx, d.Zone, monday-7)
	return []notice{n}, err
}

// countWeek counts seven days of a yard from a day on.
func countWeek(tx Tx, zone *time.Location, from tracker.Date) (tracker.NewsWeek, error) {
	week := tracker.NewsWeek{Days: tracker.DayName(from) + " to " + tracker.DayName(from+6)}
	begin, end := rounds.Due(from, 0, zone), rounds.Due(from+7, 0, zone)
	var e4 error
	past, e1 := tx.Rounds(from, from+6)
	checks, e2 := tx.Checks(CheckQuery{From: from, To: from + 7})
	rows, e3 := tx.ReminderHistory(begin)
	week.PerhapsSent, e4 = tx.PerhapsSent(begin, end)
	for _, r := range past {
		if r.State == tracker.RoundSkipped && r.Reason == notOfTheDay || r.State == tracker.RoundOpen {
			continue
		}
		week.Rounds++
		if r.State != tracker.RoundNoRecord {
			week.Received++
		}
	}
	recorded := make([]time.Time, len(checks))
	for i, c := range checks {
		recorded[i] = c.At
	}
	sent, undelivered := countMessages(slices.DeleteFunc(rows, func(r Reminder) bool {
		return !r.PlannedAt.Before(end) || r.PlannedAt.Before(begin) || r.Kind == rounds.AboutRingNow || r.Kind == KindTest ||
			r.Rung >= rounds.AfterLater && r.Rung < rounds.Repeat
	}))
	week.Sent, week.ActedOn, week.NotDelivered = len(sent), rounds.ActedOn(sent, recorded), undelivered
	return week, cmp.Or(e1, e2, e3, e4)
}

// countMessages gives when each message went out, however many ways it took, and how many never did.
func countMessages(rows []Reminder) (sent []time.Time, undelivered int) {
	for _, group := range byMessage(rows, "") {
		switch standing(group) {
		case rounds.Sent:
			sent = append(sent, at(group))
		case rounds.GivenUp, rounds.Folded:
			undelivered++
		}
	}
	return sent, undelivered
}
