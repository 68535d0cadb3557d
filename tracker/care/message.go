package care

import (
	"cmp"
	"context"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// MessageView is what the links in one message lead to. Whoever holds the link is taken for its reader.
type MessageView struct {
	Moment
	Person  string // the reader's name
	Message Reminder
	Round   tracker.Round // the message is about it; zero: about something else
	Over    bool          // nothing more is sent about it
	OnIt    []string      // who said that they are on it, with the time: "Ada at 07:05"
	Stopped bool          // the reader gets no mail from this yard
}

// Message gives the view of a message by the secret in its links. It changes nothing: mail scanners open links.
func (s *Service) Message(ctx context.Context, token string) (MessageView, error) {
	yard, message, err := s.findMessage(ctx, token)
	if err != nil {
		return MessageView{}, err
	}
	return reading(ctx, s, yard, func(tx Tx, now time.Time) (MessageView, error) {
		view := MessageView{Message: message}
		err := view.read(tx, now)
		return view, err
	})
}

func (s *Service) findMessage(ctx context.Context, token string) (yard tracker.YardID, message Reminder, err error) {
	err = s.store.AcrossRead(ctx, func(g Gate) (err error) {
		yard, message, err = g.ReminderByToken(HashToken(token))
		return err
	})
	if tracker.KindOf(err) == tracker.NotFound {
		err = tracker.Refuse(tracker.NotFound, "This link is not known here any more. Sign in to see what is due.")
	}
	return yard, message, err
}

func (view *MessageView) read(tx Tx, now time.Time) (err error) {
	var e1 error
	view.Moment, e1 = momentOf(tx, now)
	reader, e2 := contactOf(tx, view.Message.Person)
	view.Person, view.Stopped = reader.Name, !reader.MailStopped.IsZero()
	view.Over = !now.Before(view.Message.UseBy)
	if err := cmp.Or(e1, e2); err != nil || view.Message.Kind != rounds.AboutRound {
		return err
	}
	view.Round, err = roundNamed(tx, view.Message.Subject)
	if err != nil && tracker.KindOf(err) != tracker.NotFound {
		return err
	}
	view.OnIt, err = whoIsOnIt(tx, view.Message.Subject, view.Now, view.Zone)
	return err
}

// onItFor is how long "on it" holds everybody's messages about a round.
const onItFor = time.Hour

// whoIsOnIt says who said so in the last hour.
func whoIsOnIt(tx Tx, subject string, now time.Time, zone *time.Location) ([]string, error) {
	presses, err := tx.Presses(now.Add(-onItFor))
	if err != nil || len(presses) == 0 {
		return nil, err
	}
	people, err := tx.Members()
	var out []string
	for _, p := range presses {
		i := slices.IndexFunc(people, func(m tracker.Member) bool { return m.ID == p.Person })
		if p.Kind == OnIt && p.Subject == subject && i >= 0 {
			out = append(out, people[i].Name+" at "+p.At.In(zone).Format("15:04"))
		}
	}
	return out, err
}

// PressMessage is "on it" or "later" by the reader of a message about a round.
func (s *Service) PressMessage(ctx context.Context, token string, kind PressKind, later time.Duration) error {
	yard, message, err := s.findMessage(ctx, token)
	if err != nil {
		return err
	}
	now := s.now()
	return s.store.Write(ctx, yard, func(tx Tx) error { return press(tx, message.Person, message.Subject, kind, later, now) })
}

// Press is "on it" or "later" by the actor about a round.
func (s *Service) Press(ctx context.Context, a Actor, subject string, kind PressKind, later time.Duration) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error { return press(tx, a.Person.ID, subject, kind, later, now) })
}

func press(tx Tx, person tracker.PersonID, subject string, kind PressKind, later time.Duration, now time.Time) error {
	if _, err := contactOf(tx, person); err != nil {
		return err
	}
	r, err := roundNamed(tx, subject)
	if err != nil {
		return err
	}
	if !now.Before(r.UseBy) {
		return tracker.Refuse(tracker.Invalid, "That round is over: nothing more is sent about it.")
	}
	known := kind == OnIt && later == 0 ||
		kind == Later && slices.Contains([]time.Duration{30 * time.Minute, 2 * time.Hour, rounds.UntilNextSlot}, later)
	if !known {
		return tracker.Refuse(tracker.Invalid, "Choose 30 minutes, 2 hours or until the next round.")
	}
	if err := tx.AddPress(Press{ID: NewID(), Person: person, Subject: subject, Kind: kind, For: later, At: now}); err != nil {
		return err
	}
	return tx.WakeBy(now)
}

func roundNamed(tx Tx, subject string) (tracker.Round, error) {
	key := keyOf(subject)
	day, err := tx.Rounds(key.Day, key.Day)
	if err != nil {
		return tracker.Round{}, err
	}
	for _, r := range day {
		if r.Slot == key.Slot {
			return r, nil
		}
	}
	return tracker.Round{}, tracker.Refuse(tracker.NotFound, "There is no such round in this yard.")
}

// StopMail stops mail from a yard to the reader of a message, for good, and lets its owners hear of it (RFC
// 8058). Doing it again changes nothing.
func (s *Service) StopMail(ctx context.Context, token string) error {
	yard, message, err := s.findMessage(ctx, token)
	if err != nil {
		return err
	}
	now := s.now()
	return s.store.Write(ctx, yard, func(tx Tx) error {
		c, err := contactOf(tx, message.Person)
		if err != nil || !c.MailStopped.IsZero() {
			return err
		}
		c.MailStopped, c.Changed = now, now
		if err := tx.SaveChoice(c.ID, c.Choice); err != nil {
			return err
		}
		return noteAndWake(tx, Actor{Yard: yard, Person: c.Person}, now, "mail stopped", string(c.ID), "by a link in a mail")
	})
}

// SkipRound says why a round is not done as a whole. What was recorded in it stays.
func (s *Service) SkipRound(ctx context.Context, a Actor, subject, why string) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		var p tracker.Problems
		checkText(&p, "why", why, 200)
		if why == "" {
			p.Add("why", "Say why the round is skipped, like: the vet said to leave them today.")
		}
		if err := p.Err(); err != nil {
			return err
		}
		r, err := roundNamed(tx, subject)
		if err != nil {
			return err
		}
		if r.State != tracker.RoundOpen && r.State != tracker.RoundPartDone && r.State != tracker.RoundNoRecord {
			return tracker.Refuse(tracker.Conflict, "That round is "+tracker.RoundStateName(r.State)+" already.")
		}
		r.State, r.Reason = tracker.RoundSkipped, why
		if err := tx.SaveRound(r); err != nil {
			return err
		}
		return noteAndWake(tx, a, now, "round skipped", subject, why)
	})
}
