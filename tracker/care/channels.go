package care

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// CalendarLink is a secret address under which one person's calendar reads the rounds of a yard.
const CalendarLink LinkKind = "calendar"

// calendarLife is how long such an address works.
const calendarLife = 10 * 365 * 24 * time.Hour

// RemindedView is how one person is reminded.
type RemindedView struct {
	Moment
	Me      Contact
	Served  []string // the channels that this server has
	Ways    []Way    // the person's, newest first
	Feeds   []Link   // their calendar addresses that work
	Reach   []string // the ways that a message would take now
	Session string   // the device that asks
}

// Reminded gives how the actor is reminded.
func (s *Service) Reminded(ctx context.Context, a Actor) (RemindedView, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (RemindedView, error) {
		view := RemindedView{Served: slices.Clone(s.channels), Session: a.Session}
		var e1, e2 error
		view.Moment, e1 = momentOf(tx, now)
		view.Me, e2 = contactOf(tx, a.Person.ID)
		all, e3 := tx.Ways()
		links, e4 := tx.Links(now)
		for _, way := range all {
			if way.Person == a.Person.ID {
				view.Ways = append(view.Ways, way)
			}
		}
		first, _ := s.firstWays(view.Me, all)
		for _, way := range first {
			view.Reach = append(view.Reach, way.Name)
		}
		for _, l := range links {
			if l.Kind == CalendarLink && l.Person == a.Person.ID {
				view.Feeds = append(view.Feeds, l)
			}
		}
		return view, cmp.Or(e1, e2, e3, e4)
	})
}

func contactOf(tx Tx, person tracker.PersonID) (Contact, error) {
	people, err := contacts(tx)
	if err != nil {
		return Contact{}, err
	}
	for _, c := range people {
		if c.ID == person {
			return c, nil
		}
	}
	return Contact{}, tracker.Refuse(tracker.NotFound, "That person is not in this yard.")
}

// changeChoice changes what the actor chose and lets the worker look at what follows from it.
func (s *Service) changeChoice(ctx context.Context, a Actor, what string, change func(Tx, *Contact) error) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		me, err := contactOf(tx, a.Person.ID)
		if err != nil {
			return err
		}
		if err := change(tx, &me); err != nil {
			return err
		}
		me.Changed = now
		if err := tx.SaveChoice(me.ID, me.Choice); err != nil {
			return err
		}
		return noteAndWake(tx, a, now, what, string(me.ID), choiceLine(me.Choice))
	})
}

func choiceLine(c Choice) string {
	return fmt.Sprintf("channels %s; quiet %s to %s; away %v; names %v; mail stopped %v", strings.Join(c.Channels, ", "), c.Quiet.From, c.Quiet.To,
		c.Away, c.Names, !c.MailStopped.IsZero())
}

// ChooseReminders keeps how the actor wants to be reminded. Days away stay as they are; mail starts again when
// it is among the channels.
func (s *Service) ChooseReminders(ctx context.Context, a Actor, in Choice) error {
	var p tracker.Problems
	seen := map[string]bool{}
	for _, channel := range in.Channels {
		if !slices.Contains(Channels(), channel) || seen[channel] {
			p.Add("channels", "Choose each way to be reached once.")
		}
		seen[channel] = true
	}
	if in.Alarm < 0 || in.Alarm > 12*time.Hour {
		p.Add("alarm", "The calendar can ring 0 to 720 minutes before a round, like 15.")
	}
	if err := p.Err(); err != nil {
		return err
	}
	return s.changeChoice(ctx, a, "reminders chosen", func(tx Tx, me *Contact) error {
		in.Away, in.MailStopped = me.Away, me.MailStopped
		if seen[ChannelEmail] {
			in.MailStopped = time.Time{}
			if me.MailMarked() {
				if err := tx.ClearBadDays(me.ID); err != nil {
					return err
				}
			}
		}
		me.Choice = in
		return nil
	})
}

// mostAway bounds how many times away are kept.
const mostAway = 20

// GoAway keeps days on which the actor is not asked about rounds. Spans that are over are forgotten.
func (s *Service) GoAway(ctx context.Context, a Actor, span Span) error {
	if span.From == 0 || span.To != 0 && span.To < span.From {
		return tracker.RefuseField("from", "Give the first day away and, when it is known, the last one after it.")
	}
	return s.changeChoice(ctx, a, "days away", func(tx Tx, me *Contact) error {
		m, err := momentOf(tx, s.now())
		if err != nil {
			return err
		}
		me.Away = slices.DeleteFunc(slices.Clone(me.Away), func(x Span) bool { return x == span || x.To != 0 && x.To < m.Today-historyDays })
		if len(me.Away) >= mostAway {
			return tracker.Refuse(tracker.Invalid, fmt.Sprintf("At most %d times away can be kept. Take one out first.", mostAway))
		}
		me.Away = append(me.Away, span)
		return nil
	})
}

// ComeBack takes days away out again.
func (s *Service) ComeBack(ctx context.Context, a Actor, span Span) error {
	return s.changeChoice(ctx, a, "not away", func(_ Tx, me *Contact) error {
		me.Away = slices.DeleteFunc(slices.Clone(me.Away), func(x Span) bool { return x == span })
		return nil
	})
}

// AddWay keeps a way that reaches the actor. A phone has one: a later subscription takes the place of the
// one before. Account names whose pace and trouble it shares; body is what the channel needs.
func (s *Service) AddWay(ctx context.Context, a Actor, channel, account, body, name string) (Way, error) {
	var way Way
	err := s.recording(ctx, a, func(tx Tx, now time.Time) error {
		way = Way{ID: channel + " " + NewID(), Person: a.Person.ID, Account: channel + " " + account, Body: body, Name: name, Made: now}
		if channel == ChannelPush { // the browser asked its owner
			way.Session, way.Proved = a.Session, now
		}
		all, err := tx.Ways()
		if err != nil {
			return err
		}
		mine := 0
		for _, have := range all {
			switch {
			case have.Person != a.Person.ID || ChannelOf(have.ID) != channel:
			case have.Body == body:
				way = have
				return nil
			case channel == ChannelPush && have.Session == a.Session:
				if err := tx.DropWay(have.ID); err != nil {
					return err
				}
			default:
				mine++
			}
		}
		if mine >= mostWays {
			return tracker.Refuse(tracker.Invalid, fmt.Sprintf("At most %d of these can be kept. Take one out first.", mostWays))
		}
		if err := tx.AddWay(way); err != nil {
			return err
		}
		return noteAndWake(tx, a, now, "way added", way.ID, way.Name)
	})
	return way, err
}

// mostWays bounds how many phones, or endpoints, one person has.
const mostWays = 10

// ProveWay notes that a way has shown that it wants messages.
func (s *Service) ProveWay(ctx context.Context, a Actor, id string) error {
	now := s.now()
	return s.changeWay(ctx, a, id, "way proved", func(tx Tx, way Way) error {
		way.Proved = now
		return tx.SaveWay(way)
	})
}

// DropWay forgets one of the actor's ways. What waits on it goes to their next channel.
func (s *Service) DropWay(ctx context.Context, a Actor, id string) error {
	return s.changeWay(ctx, a, id, "way dropped", func(tx Tx, way Way) error { return tx.DropWay(way.ID) })
}

func (s *Service) changeWay(ctx context.Context, a Actor, id, what string, change func(Tx, Way) error) error {
	now := s.now()
	return s.store.Write(ctx, a.Yard, func(tx Tx) error {
		way, err := ownWay(tx, a, id)
		if err != nil {
			return err
		}
		if err := change(tx, way); err != nil {
			return err
		}
		return noteAndWake(tx, a, now, what, id, way.Name)
	})
}

func ownWay(tx Tx, a Actor, id string) (Way, error) {
	all, err := tx.Ways()
	if err != nil {
		return Way{}, err
	}
	for _, way := range all {
		if way.ID == id && way.Person == a.Person.ID {
			return way, nil
		}
	}
	return Way{}, tracker.Refuse(tracker.NotFound, "There is no such way to reach you any more. Load the page again.")
}

// TestMessage is "send me one now".
type TestMessage struct {
	ID       tracker.ReminderID
	Way      Way
	YardName string
	MadeUp   bool
	at       time.Time
}

// PrepareTest gives what is needed to send the actor a test message over one of their ways, or over mail. An
// address that was refused too often is tried all the same: that is how one finds out.
func (s *Service) PrepareTest(ctx context.Context, a Actor, id string) (TestMessage, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (TestMessage, error) {
		yard, err := tx.Yard()
		t := TestMessage{ID: tracker.ReminderID(NewID()), YardName: yard.Name, MadeUp: yard.MadeUp, at: now}
		t.Way = Way{ID: ChannelEmail, Person: a.Person.ID, Account: ChannelEmail, Name: a.Person.Email}
		if err == nil && id != ChannelEmail {
			t.Way, err = ownWay(tx, a, id)
		}
		return t, err
	})
}

// TestResult is what came of a test message.
type TestResult struct {
	Taken bool
	Gone  bool   // the way has ended
	Words string // what the server said, in words for people
}

// NoteTest keeps what came of a test message beside all other messages.
func (s *Service) NoteTest(ctx context.Context, a Actor, t TestMessage, r TestResult) error {
	row := Reminder{
		ID: t.ID, Kind: KindTest, Subject: "test " + string(t.ID), Person: a.Person.ID, Channel: t.Way.ID, Account: t.Way.Account,
		State: rounds.GivenUp, Reason: rounds.ContentRefused, Facts: []byte("{}"), PlannedAt: t.at, SendAt: t.at, UseBy: t.at.Add(time.Hour),
		Tries: 1, Answer: r.Words,
	}
	if r.Taken {
		row.State, row.Reason, row.SentAt = rounds.Sent, rounds.Accepted, s.now()
	}
	return s.store.Write(ctx, a.Yard, func(tx Tx) error {
		if r.Taken && t.Way.ID == ChannelEmail {
			if err := tx.ClearBadDays(a.Person.ID); err != nil {
				return err
			}
		}
		if r.Gone {
			if err := tx.DropWay(t.Way.ID); err != nil && tracker.KindOf(err) != tracker.NotFound {
				return err
			}
		}
		return tx.AddReminder(row)
	})
}

// ServerSecret gives a secret of this server by name, keeping fresh when there is none yet.
func (s *Service) ServerSecret(ctx context.Context, name, fresh string) (secret string, err error) {
	err = s.store.Across(ctx, func(g Gate) error {
		secret, err = g.ServerSecret(name, fresh)
		return err
	})
	return secret, err
}
