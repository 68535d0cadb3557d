package care

import (
	"cmp"
	"context"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// RemindersView is the life of a yard's messages.
type RemindersView struct {
	Moment
	LookedAt  time.Time
	Rows      []Reminder // newest first
	People    []tracker.Member
	Horses    []tracker.Horse
	Cautions  map[tracker.CautionID]tracker.Caution // those that rows are about
	Round     tracker.Round                         // that is on
	Open      bool                                  // it is due, and can be pressed about or skipped
	OnIt      []string
	Week      tracker.NewsWeek // the last seven days, for owners
	Nobody    bool             // nobody can be reminded at all
	Unreached []string         // the names of those who cannot
}

// reminderRows is how many messages the page shows at most.
const reminderRows = 200

// ReminderList gives the page of messages of the last days, narrowed by person, horse and state.
func (s *Service) ReminderList(ctx context.Context, a Actor, q ReminderQuery) (RemindersView, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (view RemindersView, err error) {
		d, err := s.open(tx, now, now)
		if err != nil {
			return view, err
		}
		q.Since, q.Limit = now.AddDate(0, 0, -feedBack), reminderRows
		view.Moment, view.Horses, view.Round = d.Moment, d.horses, d.round
		var errs [5]error
		view.Rows, errs[0] = tx.Reminders(q)
		view.LookedAt, errs[1] = tx.LookedAt()
		view.People, errs[2] = tx.Members()
		view.Cautions, errs[3] = cautionsOf(tx, q.Since)
		view.Nobody, view.Unreached = d.unreached()
		errs[4] = view.readRound(tx, d, a)
		return view, cmp.Or(errs[:]...)
	})
}

func (view *RemindersView) readRound(tx Tx, d *desk, a Actor) (err error) {
	for _, r := range d.rounds {
		if rounds.KeyOf(r) == rounds.KeyOf(d.round) {
			view.Round = r
			view.Open = !r.DueAt.After(d.Now) && r.UseBy.After(d.Now) && (r.State == tracker.RoundOpen || r.State == tracker.RoundPartDone)
		}
	}
	if view.OnIt, err = whoIsOnIt(tx, rounds.KeyOf(d.round).String(), d.Now, d.Zone); err != nil {
		return err
	}
	if a.Role == tracker.Owner {
		view.Week, err = countWeek(tx, d.Zone, d.Today-6)
	}
	return err
}

func cautionsOf(tx Tx, since time.Time) (map[tracker.CautionID]tracker.Caution, error) {
	all, err := tx.CautionsSince("", since.AddDate(0, -1, 0))
	byID := map[tracker.CautionID]tracker.Caution{}
	for _, c := range all {
		byID[c.ID] = c
	}
	return byID, err
}

// unreached names those whom no message would reach, and tells whether that is everybody.
func (d *desk) unreached() (nobody bool, names []string) {
	for _, c := range d.contacts {
		if !d.reachable(c) {
			names = append(names, c.Name)
		}
	}
	return len(names) == len(d.contacts), names
}

// ReminderView is one message with everything that happened to it.
type ReminderView struct {
	Moment
	Row      Reminder
	Tries    []Try
	Person   string
	Way      string     // which phone or address; empty: it is gone
	Again    bool       // the actor may have it sent again
	Siblings []Reminder // the same message on other ways
}

// Reminder gives one message.
func (s *Service) Reminder(ctx context.Context, a Actor, id tracker.ReminderID) (ReminderView, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (view ReminderView, err error) {
		if view.Row, err = tx.Reminder(id); err != nil {
			return view, err
		}
		var e1, e2 error
		view.Tries, e1 = tx.Tries(id)
		view.Moment, e2 = momentOf(tx, now)
		people, e3 := tx.Members()
		ways, e4 := tx.Ways()
		rows, e5 := tx.Reminders(ReminderQuery{Person: view.Row.Person, Since: view.Row.PlannedAt.Add(-24 * time.Hour)})
		for _, m := range people {
			if m.ID == view.Row.Person {
				view.Person = m.Name
				if view.Row.Channel == ChannelEmail {
					view.Way = m.Email
				}
			}
		}
		for _, way := range ways {
			if way.ID == view.Row.Channel {
				view.Way = way.Name
			}
		}
		view.Again = maySendAgain(a, view.Row, now) == nil
		for _, r := range rows {
			if r.name() == view.Row.name() && r.ID != view.Row.ID {
				view.Siblings = append(view.Siblings, r)
			}
		}
		return view, cmp.Or(e1, e2, e3, e4, e5)
	})
}

// maySendAgain refuses what cannot be sent again, and those who may not ask for it.
func maySendAgain(a Actor, row Reminder, now time.Time) error {
	ended := []rounds.Life{rounds.Sent, rounds.GivenUp, rounds.Withdrawn, rounds.Folded}
	switch {
	case a.Role != tracker.Owner && row.Person != a.Person.ID:
		return tracker.Refuse(tracker.Forbidden, "Only the owner, or the person it goes to, can have a message sent again.")
	case row.Kind == KindTest:
		return tracker.Refuse(tracker.Invalid, "A test message is sent from the settings: press \"Send me one now\" there.")
	case !slices.Contains(ended, row.State):
		return tracker.Refuse(tracker.Invalid, "This message is still on its way.")
	case !row.UseBy.After(now):
		return tracker.Refuse(tracker.Invalid, "Its time is over: it would only confuse.")
	}
	return nil
}

// SendAgain plans a message that has ended once more, on the way it took before.
func (s *Service) SendAgain(ctx context.Context, a Actor, id tracker.ReminderID) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		row, err := tx.Reminder(id)
		if err != nil {
			return err
		}
		if err := maySendAgain(a, row, now); err != nil {
			return err
		}
		row.SendAt = now
		row.Token, _ = newToken()
		if _, err := moveReminder(tx, row, rounds.Planned, rounds.AskedAgain); err != nil {
			return err
		}
		return note(tx, a, now, "message sent again", string(id), string(row.Kind)+" "+row.Subject)
	})
}
