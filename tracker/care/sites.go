package care

import (
	"cmp"
	"context"
	"time"

	"leground/tracker"
)

// NewSite is a newly found site.
type NewSite struct {
	Record tracker.RecordID
	Horse  tracker.HorseID
	Leg    tracker.Leg
	Region tracker.Region
	Aspect tracker.Aspect
	Kind   tracker.SiteKind
	Onset  tracker.Date // zero: not known
	Hash   string
}

// AddSite gives a newly found site its tag for life. The same record twice is one site.
func (s *Service) AddSite(ctx context.Context, a Actor, in NewSite) (tracker.Site, error) {
	var site tracker.Site
	err := s.recording(ctx, a, func(tx Tx, now time.Time) error {
		have, hash, err := tx.SiteByRecord(in.Record)
		site = have
		if before, err := sentBefore(hash == in.Hash, err); before || err != nil {
			return err
		}
		m, err := checkNewSite(tx, in, now)
		if err != nil {
			return err
		}
		number, err := tx.NextSiteNumber(in.Horse, in.Leg)
		if err != nil {
			return err
		}
		site = tracker.Site{
			ID: tracker.SiteID(NewID()), Horse: in.Horse, Leg: in.Leg, Number: number, Region: in.Region, Aspect: in.Aspect,
			Kind: in.Kind, Onset: in.Onset, OpenedAt: now, OpenedBy: a.Person.ID, Record: in.Record,
		}
		if err := tx.AddSite(site, in.Hash); err != nil {
			return err
		}
		if _, err := s.raise(tx, a, m, in.Horse); err != nil {
			return err
		}
		return note(tx, a, now, "site found", string(site.ID), site.Tag())
	})
	return site, err
}

func checkNewSite(tx Tx, in NewSite, now time.Time) (Moment, error) {
	m, e1 := momentOf(tx, now)
	_, e2 := tx.Horse(in.Horse)
	if err := cmp.Or(e1, e2); err != nil {
		return m, err
	}
	var p tracker.Problems
	checkRecord(&p, in.Record)
	if err := tracker.CheckPlace(in.Leg, in.Region, in.Aspect); err != nil {
		p.Add("region", tracker.Capital(err.Error())+".")
	}
	if in.Kind.String() == "" {
		p.Add("kind", "Say whether it is a wound with an edge or a patch of sore skin.")
	}
	if in.Onset > m.Today {
		p.Add("onset", "The day it happened cannot be after today.")
	}
	return m, p.Err()
}

// ChangeKind makes a site a wound or a patch. Both histories stay; an event marks the day.
func (s *Service) ChangeKind(ctx context.Context, a Actor, record tracker.RecordID, id tracker.SiteID, kind tracker.SiteKind) error {
	return s.changeSite(ctx, a, id, tracker.Event{ID: record, Kind: tracker.KindChange, Note: kind.String()}, func(site *tracker.Site) {
		site.Kind = kind
	})
}

// JoinSites notes that a site has grown together with another of the same leg. Both histories stay.
func (s *Service) JoinSites(ctx context.Context, a Actor, record tracker.RecordID, id, into tracker.SiteID) error {
	return s.changeSite(ctx, a, id, tracker.Event{ID: record, Kind: tracker.Joined, Note: string(into)}, func(site *tracker.Site) {
		site.Joined = into
	})
}

// Reopen puts a closed site back into the round: it has opened again.
func (s *Service) Reopen(ctx context.Context, a Actor, record tracker.RecordID, id tracker.SiteID) error {
	return s.changeSite(ctx, a, id, tracker.Event{ID: record, Kind: tracker.Reopened}, func(site *tracker.Site) {
		site.ClosedOn = 0
	})
}

func (s *Service) changeSite(ctx context.Context, a Actor, id tracker.SiteID, event tracker.Event, change func(*tracker.Site)) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		if event.Kind == tracker.KindChange && event.Note == "" {
			return tracker.Refuse(tracker.Invalid, "Say whether it is a wound with an edge or a patch of sore skin.")
		}
		have, err := tx.EventByRecord(event.ID)
		if before, err := sentBefore(have.Site == id && have.Kind == event.Kind && have.Note == event.Note, err); before || err != nil {
			return err
		}
		site, err := tx.Site(id)
		if err != nil {
			return err
		}
		touched := []tracker.Site{site}
		if event.Kind == tracker.Joined {
			other, err := tx.Site(tracker.SiteID(event.Note))
			if err != nil {
				return err
			}
			touched = append(touched, other)
			if other.Horse != site.Horse || other.Leg != site.Leg || other.ID == site.ID || other.Joined != "" {
				return tracker.Refuse(tracker.Invalid, "Two sites can join only on the same leg, and into one that stands alone.")
			}
		}
		change(&touched[0])
		if err := tx.SaveSite(touched[0]); err != nil {
			return err
		}
		m, err := momentOf(tx, now)
		if err != nil {
			return err
		}
		event.Horse, event.Leg, event.Site, event.At, event.By = site.Horse, site.Leg, site.ID, now, a.Person.ID
		event.Day = m.Today
		if err := tx.AddEvent(event); err != nil {
			return err
		}
		for _, site := range touched {
			if _, err := rejudge(tx, m, site); err != nil {
				return err
			}
		}
		if _, err := s.raise(tx, a, m, site.Horse); err != nil {
			return err
		}
		return note(tx, a, now, string(event.Kind), string(site.ID), event.Note)
	})
}
