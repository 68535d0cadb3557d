package care

import (
	"cmp"
	"context"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// How far a calendar reaches, and how long a round that is no more stays in it, marked so.
const (
	feedBack  = 14
	feedAhead = 28
)

// FeedView is what one person's calendar shows of a yard.
type FeedView struct {
	Moment
	Alarm   time.Duration
	Changes int       // how often anything in it changed; it never falls
	Changed time.Time // when last
	Rounds  []FeedRound
	Days    []FeedDay
}

// FeedRound is one round in a calendar.
type FeedRound struct {
	tracker.Round
	Cancelled time.Time // zero: it stands
}

// FeedDay is something of a whole day in a calendar.
type FeedDay struct {
	UID  string
	Day  tracker.Date
	What string
	Link string
}

// MakeFeed makes the actor's secret calendar address; one made before stops. The secret is shown once.
func (s *Service) MakeFeed(ctx context.Context, a Actor) (token string, err error) {
	token, hash := newToken()
	err = s.recording(ctx, a, func(tx Tx, now time.Time) error {
		if err := stopFeeds(tx, a.Person.ID, now); err != nil {
			return err
		}
		link := Link{ID: NewID(), TokenHash: hash, Kind: CalendarLink, Yard: a.Yard, Person: a.Person.ID, Role: a.Role, MadeBy: a.Person.ID, MadeAt: now,
			ExpiresAt: now.Add(calendarLife)}
		if err := tx.AddLink(link); err != nil {
			return err
		}
		return note(tx, a, now, "calendar address made", link.ID, "")
	})
	return token, err
}

// StopFeed stops the actor's calendar address.
func (s *Service) StopFeed(ctx context.Context, a Actor) error {
	now := s.now()
	return s.store.Write(ctx, a.Yard, func(tx Tx) error {
		if err := stopFeeds(tx, a.Person.ID, now); err != nil {
			return err
		}
		return note(tx, a, now, "calendar address stopped", string(a.Person.ID), "")
	})
}

func stopFeeds(tx Tx, person tracker.PersonID, now time.Time) error {
	links, err := tx.Links(now)
	if err != nil {
		return err
	}
	for _, l := range links {
		if l.Kind == CalendarLink && l.Person == person {
			if err := tx.StopLink(l.ID, now); err != nil {
				return err
			}
		}
	}
	return nil
}

// Feed gives what the calendar with a secret address shows.
func (s *Service) Feed(ctx context.Context, token string) (FeedView, error) {
	link, err := s.findLink(ctx, token)
	if err == nil && link.Kind != CalendarLink {
		err = tracker.Refuse(tracker.NotFound, "This is no calendar address.")
	}
	if err != nil {
		return FeedView{}, err
	}
	return reading(ctx, s, link.Yard, func(tx Tx, now time.Time) (view FeedView, err error) {
		me, err := contactOf(tx, link.Person) // somebody who has left sees nothing
		if err != nil {
			return view, err
		}
		view.Alarm = me.Alarm
		err = view.read(tx, now)
		return view, err
	})
}

func (view *FeedView) read(tx Tx, now time.Time) error {
	st, err := readBrief(tx, now)
	if err != nil {
		return err
	}
	view.Moment = st.Moment
	set, e1 := reminderRules(tx, st.Zone)
	changes, e2 := tx.RoundChanges()
	if err := cmp.Or(e1, e2); err != nil {
		return err
	}
	view.Changes, view.Changed = len(changes), st.Yard.CreatedAt
	if len(changes) > 0 {
		view.Changed = changes[len(changes)-1].At
	}
	view.Days = st.calendarDays()
	return view.readRounds(st, set, changes)
}

// readRounds expands the rounds as they are now, with those that were taken out of the day lately.
func (view *FeedView) readRounds(st yardState, set ReminderRules, changes []RoundChange) error {
	from, to := st.Today-feedBack, st.Today+feedAhead
	present, err := scheduleOf(st.Yard, st.Zone, from-5).Rounds(from, to)
	if err != nil {
		return err
	}
	known := map[rounds.Key]bool{}
	for _, r := range present {
		known[rounds.KeyOf(r)] = true
		shown := FeedRound{Round: r}
		if set.ClosedOn(r.Day) {
			shown.Cancelled = view.Changed
		}
		if r.DueAt.After(st.Yard.CreatedAt) {
			view.Rounds = append(view.Rounds, shown)
		}
	}
	for _, change := range slices.Backward(changes) {
		zone, err := time.LoadLocation(change.Zone)
		if err != nil || view.Now.Sub(change.At) > feedBack*24*time.Hour {
			continue
		}
		before, err := scheduleOf(tracker.Yard{Slots: change.Slots}, zone, from-5).Rounds(from, to)
		if err != nil {
			return err
		}
		for _, r := range before {
			if r.DueAt.After(change.At) && !known[rounds.KeyOf(r)] {
				known[rounds.KeyOf(r)] = true
				view.Rounds = append(view.Rounds, FeedRound{r, change.At})
			}
		}
	}
	return nil
}

// calendarDays lists what else stands in a calendar.
func (st yardState) calendarDays() []FeedDay {
	var out []FeedDay
	for _, h := range st.horses {
		if h.IsolatedUntil != 0 {
			out = append(out, FeedDay{UID: "isolation-" + string(h.ID), Day: h.IsolatedUntil, What: "Isolation of " + h.Name + " ends", Link: "/horse/" + string(h.ID)})
		}
	}
	return out
}
