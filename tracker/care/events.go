package care

import (
	"cmp"
	"context"
	"time"

	"leground/tracker"
)

// AddEvent notes something that happened between looks. The same record twice is one event.
func (s *Service) AddEvent(ctx context.Context, a Actor, event tracker.Event) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		var p tracker.Problems
		checkRecord(&p, event.ID)
		if !event.Kind.Known() || event.Kind == tracker.KindChange || event.Kind == tracker.Joined {
			p.Add("kind", "Choose what happened from the list.")
		}
		checkText(&p, "note", event.Note, 500)
		if err := p.Err(); err != nil {
			return err
		}
		have, err := tx.EventByRecord(event.ID)
		if before, err := sentBefore(have.Hash == event.Hash, err); before || err != nil {
			return err
		}
		return keepEvent(tx, a, event, now)
	})
}

// visitAhead is how many days ahead a visit may be noted.
const visitAhead = 366

// checkEventDay refuses what happened on a day after today. A visit may be noted before it happens.
func checkEventDay(event tracker.Event, today tracker.Date) error {
	switch visit := event.Kind == tracker.VetVisit || event.Kind == tracker.FarrierVisit; {
	case visit && event.Day > today+visitAhead:
		return tracker.RefuseField("day", "A visit can be noted up to a year ahead.")
	case !visit && event.Day > today:
		return tracker.RefuseField("day", "What happened cannot be on a day after today.")
	}
	return nil
}

func keepEvent(tx Tx, a Actor, event tracker.Event, now time.Time) error {
	m, err := momentOf(tx, now)
	if err != nil {
		return err
	}
	event.Day = cmp.Or(event.Day, m.Today)
	if err := checkEventDay(event, m.Today); err != nil {
		return err
	}
	if event.At.IsZero() || event.At.After(now) { // a phone's clock may be fast
		event.At = now
	}
	event.By = a.Person.ID
	var touched []tracker.Site
	if event.Site != "" {
		site, err := tx.Site(event.Site)
		if err != nil {
			return err
		}
		event.Horse, event.Leg = site.Horse, site.Leg
		touched = []tracker.Site{site}
	} else if touched, err = tx.Sites(event.Horse); err != nil {
		return err
	}
	if _, err := tx.Horse(event.Horse); err != nil {
		return err
	}
	if err := tx.AddEvent(event); err != nil {
		return err
	}
	for _, site := range touched {
		if event.Kind == tracker.SoakStarted || event.Leg != 0 && site.Leg != event.Leg {
			continue
		}
		if _, err := rejudge(tx, m, site); err != nil {
			return err
		}
	}
	return nil
}
