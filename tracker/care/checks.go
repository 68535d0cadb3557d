package care

import (
	"context"
	"fmt"
	"slices"
	"time"

	"leground/tracker"
)

// Entry is one posted form about a site, a leg or a horse.
type Entry struct {
	// Check holds the answers. ID is the form's record id; DeviceAt is what the phone's clock said when it
	// was saved, with no script zero; RoundDay and Slot are the round it was opened in. Root, Version, At,
	// Day, ServerAt and By are worked out here.
	Check    tracker.Check
	Corrects tracker.RecordID // the version that this one puts right; empty: a check of its own
	SentAt   time.Time        // what the phone's clock said when it was sent; zero: not given
	Age      time.Duration    // how long ago it was saved, by a clock that nobody can set; 0: not known
	Photo    *NewPhoto
}

// NewPhoto is a picture made ready: upright, at most tracker.PhotoEdge long, metadata gone.
type NewPhoto struct {
	Photo tracker.Photo // ID, sizes and hashes
	Full  []byte
	Thumb []byte
}

// Saved is what became of an entry.
type Saved struct {
	Check  tracker.Check
	Again  bool              // the same record came before; nothing new was kept
	Raised []tracker.Caution // cautions that this check raised
	Beside *Beside           // another look at the same in the same round; nil: none
}

// Record keeps an entry. The same record twice is one record; the same id with other content is
// [ErrOtherContent]. A correction adds a version. What follows from it (the judgement of its site, cautions, calls
// to the owner) is kept in the same transaction.
func (s *Service) Record(ctx context.Context, a Actor, in Entry) (Saved, error) {
	var saved Saved
	err := s.recording(ctx, a, func(tx Tx, now time.Time) error {
		if err := in.Problems().Err(); err != nil {
			return err
		}
		ground, err := tx.Ground(in.Check)
		if err != nil {
			return err
		}
		if !ground.Known {
			saved, err = s.keepCheck(tx, a, ground, in, now)
			return err
		}
		if saved, err = again(tx, in.Check.ID); err == nil && saved.Check.Hash != in.Check.Hash {
			err = ErrOtherContent
		}
		return err
	})
	return saved, err
}

func (s *Service) keepCheck(tx Tx, a Actor, ground Ground, in Entry, now time.Time) (Saved, error) {
	m, err := momentIn(ground.Yard, now)
	if err != nil {
		return Saved{}, err
	}
	check, err := placeCheck(tx, a, m, ground.Site, in)
	if err != nil {
		return Saved{}, err
	}
	if err := tx.AddCheck(check); err != nil {
		return Saved{}, err
	}
	if err := keepPhoto(tx, check, in.Photo); err != nil {
		return Saved{}, err
	}
	if err := ground.wakeBy(tx, now.Add(recordsSettle)); err != nil {
		return Saved{}, err
	}
	saved := Saved{Check: check}
	named := check.Version == 1 && check.RoundDay == in.Check.RoundDay && check.Slot == in.Check.Slot
	if ground.Beside || !named {
		if saved.Beside, err = besides(tx, check); err != nil {
			return saved, err
		}
	}
	judged, err := judgeCheck(tx, a, m, ground.Site, check)
	if err != nil {
		return saved, err
	}
	if saved.Raised, err = s.raiseFor(tx, a, m, ground.Site, check, judged); err != nil {
		return saved, err
	}
	if err := tickWeighed(tx, check, now); err != nil {
		return saved, err
	}
	if ground.Takes {
		if err := putOnBy(tx, m.Yard, check, now); err != nil {
			return saved, err
		}
	}
	if named && (ground.UseBy.IsZero() || ground.UseBy.After(now)) {
		return saved, nil
	}
	return saved, settleRound(tx, m, check)
}

// placeCheck works out of an entry what it does not say itself: when, by whom, in which round, and which version of what.
func placeCheck(tx Tx, a Actor, m Moment, site tracker.Site, in Entry) (tracker.Check, error) {
	check := in.Check
	if check.Subject == tracker.OfSite {
		check.Horse, check.Leg = site.Horse, site.Leg
	}
	check.By = a.Person.ID
	if err := placeTime(m, &check, in); err != nil {
		return check, err
	}
	if err := placeVersion(tx, &check, in.Corrects); err != nil {
		return check, err
	}
	if err := placeLooker(tx, a, &check); err != nil {
		return check, err
	}
	return check, placeBlind(tx, &check)
}

// wakeBy is the transaction's WakeBy, which mostly has nothing to change while one look follows another.
func (g Ground) wakeBy(tx Tx, at time.Time) error {
	if !g.WakeAt.IsZero() && !g.WakeAt.After(at) {
		return nil
	}
	return tx.WakeBy(at)
}

// paperDays is how old a look on paper may be when it is typed in (common practice, no source). An older one is
// likely a slip of the year, and would become the first size that all later ones are held against.
const paperDays = 90

// trustedClock is how far a phone's clock may be off before its times are corrected.
const trustedClock = 2 * time.Minute

// placeTime works out when a check was seen. Words from paper keep the time they were written down; a
// phone's time is corrected by how far its clock was off when it sent; without either it is now.
func placeTime(m Moment, check *tracker.Check, in Entry) error {
	now := m.Now
	check.ServerAt, check.At = now, now
	switch {
	case !check.WrittenAt.IsZero():
		var p tracker.Problems
		if check.WrittenAt.After(now) {
			p.Add("written_at", "The time on the paper cannot be later than now.")
		} else if m.Today-tracker.DateOf(check.WrittenAt.In(m.Zone)) > paperDays {
			p.Add("written_at", fmt.Sprintf("The time on the paper is more than %d days ago. Is the year right? Older looks are best kept on their paper.", paperDays))
		}
		if err := p.Err(); err != nil {
			return err
		}
		check.At = check.WrittenAt
	case !check.DeviceAt.IsZero():
		check.At = check.DeviceAt
		off := setBack(in)
		if !in.SentAt.IsZero() {
			off += in.SentAt.Sub(now)
		}
		if off.Abs() > trustedClock {
			check.ClockOff = off
			check.At = check.DeviceAt.Add(-off)
		}
		if check.At.After(now) {
			check.At = now
		}
	}
	check.At = check.At.Truncate(time.Millisecond)
	check.Day = tracker.DateOf(check.At.In(m.Zone))
	// A page that a phone kept for days names a round that was over before this was seen.
	old := check.RoundDay != 0 && (check.Day-check.RoundDay > 1 || check.RoundDay-check.Day > 1)
	if _, known := m.Yard.SlotNamed(check.Slot); !known || check.RoundDay == 0 || old {
		on := m.roundAt(check.At)
		check.RoundDay, check.Slot = on.Day, on.Slot
	}
	if check.Subject == tracker.OfHorse { // rounds ask for legs and sites
		check.RoundDay, check.Slot = 0, ""
	}
	return nil
}

func placeVersion(tx Tx, check *tracker.Check, corrects tracker.RecordID) error {
	check.Root, check.Version = check.ID, 1
	if corrects == "" {
		return nil
	}
	old, err := tx.CheckByRecord(corrects)
	if err != nil {
		return err
	}
	if old.Subject != check.Subject || old.Horse != check.Horse || old.Leg != check.Leg || old.Site != check.Site {
		return tracker.Refuse(tracker.Invalid, "A correction must be about the same horse, leg and site as what it puts right.")
	}
	versions, err := tx.Versions(old.Root)
	if err != nil {
		return err
	}
	last := versions[len(versions)-1]
	check.Root, check.Version, check.Blind = old.Root, last.Version+1, old.Blind
	if check.DeviceAt.IsZero() && check.WrittenAt.IsZero() {
		check.At, check.Day = old.At, old.Day // a correction does not move the look to another day
	}
	check.RoundDay, check.Slot = old.RoundDay, old.Slot
	return nil
}

func placeLooker(tx Tx, a Actor, check *tracker.Check) error {
	if check.Looker == "" || check.Looker == a.Person.ID {
		check.Looker = a.Person.ID
		return nil
	}
	members, err := tx.Members()
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(members, func(m tracker.Member) bool { return m.ID == check.Looker }) {
		return tracker.Refuse(tracker.NotFound, "The person who looked is not in this yard.")
	}
	return nil
}

func keepPhoto(tx Tx, check tracker.Check, photo *NewPhoto) error {
	if photo == nil {
		return nil
	}
	p := photo.Photo
	p.Check, p.Horse, p.Leg, p.Site, p.At, p.By = check.ID, check.Horse, check.Leg, check.Site, check.At, check.Looker
	return tx.AddPhoto(p, photo.Full, photo.Thumb)
}

// Retract takes back a check: its newest version says that it should not count. What was recorded stays.
func (s *Service) Retract(ctx context.Context, a Actor, record, of tracker.RecordID) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		have, err := tx.CheckByRecord(record)
		if before, err := sentBefore(have.Outcome == tracker.Retracted, err); before || err != nil {
			return err
		}
		return retract(tx, a, record, of, now)
	})
}

func retract(tx Tx, a Actor, record, of tracker.RecordID, now time.Time) error {
	old, err := tx.CheckByRecord(of)
	if err != nil {
		return err
	}
	versions, err := tx.Versions(old.Root)
	if err != nil {
		return err
	}
	last := versions[len(versions)-1]
	if last.Outcome == tracker.Retracted {
		return nil
	}
	last.ID, last.Version, last.Outcome = record, last.Version+1, tracker.Retracted
	last.By, last.ServerAt, last.Hash = a.Person.ID, now, ""
	if err := tx.AddCheck(last); err != nil {
		return err
	}
	m, err := momentOf(tx, now)
	if err != nil {
		return err
	}
	if err := rejudgeCheck(tx, a, m, last); err != nil {
		return err
	}
	if err := untickWeighed(tx, last, now); err != nil {
		return err
	}
	if err := putOnBy(tx, m.Yard, last, now); err != nil {
		return err
	}
	if err := tx.WakeBy(now.Add(recordsSettle)); err != nil {
		return err
	}
	if err := settleRound(tx, m, last); err != nil {
		return err
	}
	return note(tx, a, now, "check taken back", string(old.Root), "")
}

func rejudgeCheck(tx Tx, a Actor, m Moment, check tracker.Check) error {
	if check.Subject != tracker.OfSite {
		return nil
	}
	site, err := tx.Site(check.Site)
	if err != nil {
		return err
	}
	_, err = judgeCheck(tx, a, m, site, check)
	return err
}

// AddPhoto keeps a picture that comes after its check. The same photo twice is one photo.
func (s *Service) AddPhoto(ctx context.Context, a Actor, of tracker.RecordID, photo NewPhoto) (again bool, err error) {
	err = s.recording(ctx, a, func(tx Tx, _ time.Time) error {
		have, err := tx.Photo(photo.Photo.ID)
		if err == nil {
			again = true
			if have.Posted != photo.Photo.Posted {
				return tracker.Refuse(tracker.Conflict, "Another photo was sent with this form before, and that one is kept. Open the page again to send this one too.")
			}
			return nil
		} else if tracker.KindOf(err) != tracker.NotFound {
			return err
		}
		check, err := tx.CheckByRecord(of)
		if err != nil {
			return err
		}
		return keepPhoto(tx, check, &photo)
	})
	return again, err
}

// PhotoBytes gives a stored picture, or its thumbnail.
func (s *Service) PhotoBytes(ctx context.Context, a Actor, id tracker.PhotoID, thumb bool) ([]byte, error) {
	var data []byte
	err := s.store.Read(ctx, a.Yard, func(tx Tx) (err error) {
		data, err = tx.PhotoBytes(id, thumb)
		return err
	})
	return data, err
}

// SettleConflict puts away a form that came twice, once somebody has looked. Both stay in the book.
func (s *Service) SettleConflict(ctx context.Context, a Actor, id string) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		if err := tx.SettleConflict(id, a.Person.ID, now); err != nil {
			return err
		}
		return note(tx, a, now, "conflict settled", id, "")
	})
}
