package care

import (
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
	var view RemindersView
	now := s.now()
	q.Since, q.Limit = now.AddDate(0, 0, -feedBack), reminderRows
	err := s.store.Read(ctx, a.Yard, func(tx Tx) error {
		d, err := s.open(tx, now, now)
		if err != nil {
			return err
		}
		view.Moment, view.Horses, view.Round = d.Moment, d.horses, d.round
		if view.Rows, err = tx.Reminders(q); err != nil {
			return err
		}
		if view.LookedAt, err = tx.LookedAt(); err != nil {
			return err
		}
		if view.People, err = tx.Members(); err != nil {
			return err
		}
		if view.Cautions, err = cautionsOf(tx, q.Since); err != nil {
			return err
		}
		view.Nobody, view.Unreached = d.unreached()
		return view.readRound(tx, d, a)
	})
	return view, err
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
	var view ReminderView
	err := s.store.Read(ctx, a.Yard, func(tx Tx) error {
		var err error
		if view.Row, err = tx.Reminder(id); err != nil {
			return err
		}
		if view.Tries, err = tx.Tries(id); err != nil {
			return err
		}
		if view.Moment, err = momentOf(tx, s.now()); err != nil {
			return err
		}
		people, err := tx.Members()
		if err != nil {
			return err
		}
		for _, m := range people {
			if m.ID == view.Row.Person {
				view.Person = m.Name
				if view.Row.Channel == ChannelEmail {
					view.Way = m.Email
				}
			}
		}
		ways, err := tx.Ways()
		if err != nil {
			return err
		}
		for _, way := range ways {
			if way.ID == view.Row.Channel {
				view.Way = way.Name
			}
		}
		view.Again = maySendAgain(a, view.Row, view.Now) == nil
		rows, err := tx.Reminders(ReminderQuery{Person: view.Row.Person, Since: view.Row.PlannedAt.Add(-24 * time.Hour)})
		for _, r := range rows {
			if r.name() == view.Row.name() && r.ID != view.Row.ID {
				view.Siblings = append(view.Siblings, r)
			}
		}
		return err
	})
	return view, err
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
