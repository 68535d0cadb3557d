package care

import (
	"cmp"
	"context"
	"time"

	"leground/tracker"
	"leground/tracker/cautions"
	"leground/tracker/rounds"
)

// CautionView is one caution with what to say on the telephone.
type CautionView struct {
	Moment
	Caution tracker.Caution
	Horse   tracker.Horse
	Site    tracker.Site  // zero: not of one site
	Changed tracker.Check // the look that raised it as it stands now, put right or taken back since; zero: it stands as it was
	Say     []string
	People  map[tracker.PersonID]string
}

// Caution gives one caution.
func (s *Service) Caution(ctx context.Context, a Actor, id tracker.CautionID) (CautionView, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (CautionView, error) {
		var view CautionView
		var e1, e2, e3 error
		view.Moment, e1 = momentOf(tx, now)
		view.Caution, e2 = tx.Caution(id)
		view.People, e3 = names(tx)
		if err := cmp.Or(e1, e2, e3); err != nil {
			return view, err
		}
		view.Horse, e1 = tx.Horse(view.Caution.Horse)
		view.Changed, e2 = changedSince(tx, view.Caution.Check)
		where := tracker.LegName(view.Caution.Leg, view.Yard.LegWords)
		if view.Caution.Leg == 0 {
			where = ""
		}
		if view.Caution.Site != "" {
			view.Site, e3 = tx.Site(view.Caution.Site)
			where = tracker.SiteName(view.Site, view.Yard.LegWords)
		}
		c := view.Caution
		c.Raised = c.Raised.In(view.Zone)
		view.Say = cautions.SayLines(view.Horse.Name, where, c)
		return view, cmp.Or(e1, e2, e3)
	})
}

// changedSince gives the newest version of a look where it is not the one that is named; a zero check where it is.
func changedSince(tx Tx, id tracker.RecordID) (last tracker.Check, err error) {
	if id == "" {
		return last, nil
	}
	check, err := tx.CheckByRecord(id)
	if err != nil {
		return last, err
	}
	versions, err := tx.Versions(check.Root)
	if err == nil && versions[len(versions)-1].ID != id {
		last = versions[len(versions)-1]
	}
	return last, err
}

// Act notes what somebody did about a caution. The same record twice is one act. When a helper acts on
// ring now, the owner hears of it at once.
func (s *Service) Act(ctx context.Context, a Actor, id tracker.CautionID, act tracker.CautionAct) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		if !tracker.ValidID(string(act.ID)) {
			return ErrLostRecord
		}
		act.At, act.By = now, a.Person.ID
		caution, err := tx.Caution(id)
		if err != nil {
			return err
		}
		for _, have := range caution.Acts {
			if have.ID == act.ID {
				return nil
			}
		}
		if err := cautions.CheckAct(caution, act); err != nil {
			return err
		}
		after := caution
		after.Acts = append(after.Acts, act)
		if err := tx.AddAct(id, act, after.Closed()); err != nil {
			return err
		}
		if tell, reason := cautions.TellOwner(caution.Level, act.Kind, a.Role); tell {
			if err := s.tellOwners(tx, a, after, act, reason, now); err != nil {
				return err
			}
		}
		if err := settleCaution(tx, after, act); err != nil {
			return err
		}
		return note(tx, a, now, "caution answered", string(id), act.Kind.String())
	})
}

func actWords(act tracker.CautionAct, zone *time.Location) string {
	switch act.Kind {
	case tracker.Rang:
		return "rang the vet"
	case tracker.WillRingAt:
		return "will ring the vet at " + tracker.ClockName(act.Until, act.At, zone)
	}
	return "says that the vet knows already"
}

// NextClock gives the next moment after now at which a zone's clock shows a time of day.
func NextClock(now time.Time, minute tracker.MinuteOfDay, zone *time.Location) time.Time {
	today := tracker.DateOf(now.In(zone))
	at := rounds.Due(today, minute, zone)
	if !at.After(now) {
		at = rounds.Due(today+1, minute, zone)
	}
	return at
}
