package care

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/cautions"
	"leground/tracker/rounds"
)

// tickYards is how many yards one turn reads at a time.
const tickYards = 100

// Tick makes what should exist by now in every yard that has something due: rounds, their end, the daily
// look of the rules, and reminders, each yard in one transaction. It asks what should exist, never what
// happened this minute, so a second turn changes nothing and an outage heals itself. Its cost grows with
// what is due, not with how many yards there are. It says so when the clock was put back, which doubles
// nothing: what was sent is known by its name and not by its time.
func (s *Service) Tick(ctx context.Context) error {
	now := s.now()
	var problems []error
	if looked, err := s.LookedAt(ctx); err == nil && !looked.IsZero() && rounds.ClockBack(looked, now) {
		problems = append(problems, fmt.Errorf("this machine's clock was put back from %s to %s; nothing is sent twice because of it",
			looked.Format(time.RFC3339), now.Format(time.RFC3339)))
	}
	failed := map[tracker.YardID]bool{}
	for ctx.Err() == nil {
		var due []tracker.YardID
		err := s.store.AcrossRead(ctx, func(g Gate) (err error) {
			due, err = g.YardsToWake(now, tickYards+len(failed))
			return err
		})
		if err != nil {
			return errors.Join(append(problems, err)...)
		}
		due = slices.DeleteFunc(due, func(id tracker.YardID) bool { return failed[id] })
		if len(due) == 0 {
			break
		}
		for _, yard := range due {
			if err := s.tickYard(ctx, yard, now); err != nil { // its trouble is not that of the others
				failed[yard] = true
				problems = append(problems, fmt.Errorf("yard %s: %w", yard, err))
			}
		}
	}
	problems = append(problems, s.store.Across(ctx, func(g Gate) error { return g.SetLookedAt(now) }))
	return errors.Join(problems...)
}

// tickYard is one turn of one yard. A panic in it is the trouble of this yard alone.
func (s *Service) tickYard(ctx context.Context, id tracker.YardID, now time.Time) (err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("panic: %v", p)
		}
	}()
	return s.store.Write(ctx, id, func(tx Tx) error {
		woken, err := tx.WakeAt()
		if err != nil {
			return err
		}
		if woken.IsZero() || woken.After(now) { // another process was quicker
			return nil
		}
		if err := s.dailyLook(tx, woken, now); err != nil {
			return err
		}
		d, err := s.open(tx, now, woken)
		if err != nil {
			return err
		}
		if err := d.keep(woken); err != nil {
			return err
		}
		return tx.SetWake(latest(d.next, now.Add(time.Second)))
	})
}

// keep makes everything in the yard as it should be by now. since is when it was last to be looked at.
func (d *desk) keep(since time.Time) error {
	if err := d.makeRounds(since); err != nil {
		return err
	}
	visits, err := nextVisits(d.tx, d.Today)
	if err != nil {
		return err
	}
	for i, c := range d.cautions {
		if level, _ := cautions.Escalate(c, d.Now.In(d.Zone), visits[c.Horse]); level != c.Level {
			d.cautions[i].Level = level
			if err := d.tx.RaiseLevel(c.ID, level); err != nil {
				return err
			}
		}
	}
	if err := d.markWashes(d.tx); err != nil {
		return err
	}
	if err := d.workOutNotices(); err != nil {
		return err
	}
	if err := d.callAll(); err != nil {
		return err
	}
	if err := d.askAll(); err != nil {
		return err
	}
	if err := d.noticeAll(); err != nil {
		return err
	}
	return d.sumUp()
}

// scheduleOf gives the yard's rounds as a schedule, from a day on.
func scheduleOf(yard tracker.Yard, zone *time.Location, from tracker.Date) rounds.Schedule {
	return rounds.Schedule{Zone: zone, Slots: yard.Slots, Days: rounds.Days{Every: 1}, First: from}
}

// roundAt gives the round that is on at an instant: the one whose time it is, or else the next one.
func (m Moment) roundAt(at time.Time) tracker.Round {
	today := tracker.DateOf(at.In(m.Zone))
	around, err := scheduleOf(m.Yard, m.Zone, today-5).Rounds(today-2, today+2)
	if err != nil || len(around) == 0 {
		return tracker.Round{Day: today, State: tracker.RoundOpen} // a yard without slots has one round a day
	}
	if on := rounds.Place(around, at); len(on) > 0 {
		return on[0]
	}
	for _, r := range around {
		if r.DueAt.After(at) {
			return r
		}
	}
	return around[len(around)-1]
}

// longestOutage bounds how far back rounds are made that nobody made in time.
const longestOutage = 60 * 24 * time.Hour

// makeRounds makes the rounds that should exist and are not there, up to two days ahead, and keeps the state
// of those that are on or have just ended.
func (d *desk) makeRounds(since time.Time) error {
	since = latest(latest(since, d.Now.Add(-longestOutage)), d.Yard.CreatedAt)
	known := map[rounds.Key]int{}
	for i, r := range d.rounds {
		known[rounds.KeyOf(r)] = i
	}
	expected, err := scheduleOf(d.Yard, d.Zone, tracker.DateOf(since.In(d.Zone))-5).Expected(since, d.Now)
	if err != nil {
		return err
	}
	for _, r := range expected {
		i, there := known[rounds.KeyOf(r)]
		switch {
		case !there:
			d.rounds = append(d.rounds, r)
			err = d.tx.AddRound(r)
		case outdated(d.rounds[i], r, d.Now):
			d.rounds[i] = r
			err = d.tx.SaveRound(r)
		}
		if err != nil {
			return err
		}
	}
	d.sortRounds()
	for _, r := range d.rounds {
		d.wake(r.DueAt)
		if !r.DueAt.After(d.Now) {
			d.wake(r.UseBy)
		}
	}
	return nil
}

// notOfTheDay is why a round that the yard no longer has was skipped.
const notOfTheDay = "the yard's rounds were changed"

// outdated tells whether a round that nobody was asked about yet should be as it is worked out now: new
// rules of the zone move it, and one that was taken out of the day may be in it again.
func outdated(have, fresh tracker.Round, now time.Time) bool {
	if !have.DueAt.After(now) {
		return false
	}
	return have.State == tracker.RoundSkipped && have.Reason == notOfTheDay ||
		have.State == tracker.RoundOpen && !(have.DueAt.Equal(fresh.DueAt) && have.UseBy.Equal(fresh.UseBy))
}

func latest(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// dailyLook holds the rules against every horse once a day, when its first round is due: some are met by
// time alone. It is the turn of it when the yard was to be woken at that time or before.
func (s *Service) dailyLook(tx Tx, woken, now time.Time) error {
	m, err := momentOf(tx, now)
	if err != nil || len(m.Yard.Slots) == 0 {
		return err
	}
	if due := rounds.Due(m.Today, m.Yard.Slots[0].At, m.Zone); now.Before(due) || woken.After(due) {
		return nil
	}
	horses, err := tx.Horses()
	if err != nil {
		return err
	}
	for _, horse := range inWalkingOrder(horses, m.Today) {
		if _, err := s.raise(tx, Actor{}, m, horse.ID); err != nil {
			return err
		}
	}
	return nil
}

// replan moves the yard's open rounds to its present zone and slots, keeps what they were for calendars, and
// wakes the worker.
func replan(tx Tx, old, yard tracker.Yard, now time.Time) error {
	m, err := momentIn(yard, now)
	if err != nil {
		return err
	}
	if old.Zone != yard.Zone || !slices.Equal(old.Slots, yard.Slots) {
		if err := tx.AddRoundChange(RoundChange{At: now, Zone: old.Zone, Slots: old.Slots}); err != nil {
			return err
		}
	}
	have, err := tx.Rounds(m.Today-1, m.Today+4)
	if err != nil {
		return err
	}
	schedule := scheduleOf(yard, m.Zone, m.Today-5)
	for _, r := range have {
		fresh, change, err := schedule.Recompute(r, r.DueAt.Before(now))
		if err != nil {
			return err
		}
		switch change {
		case rounds.Gone:
			fresh.State, fresh.Reason = tracker.RoundSkipped, notOfTheDay
			err = tx.SaveRound(fresh)
		case rounds.Moved:
			err = tx.SaveRound(fresh)
		}
		if err != nil {
			return err
		}
	}
	return tx.WakeBy(now)
}

// calendarChanged notes that something in the calendars of the yard's people is not as it was, and wakes the
// worker, who may have to say so.
func calendarChanged(tx Tx, now time.Time, changed bool) error {
	if changed {
		yard, err := tx.Yard()
		if err != nil {
			return err
		}
		if err := tx.AddRoundChange(RoundChange{At: now, Zone: yard.Zone, Slots: yard.Slots}); err != nil {
			return err
		}
	}
	return tx.WakeBy(now)
}

// recordsSettle is how long after a record the worker looks at its round: some more will follow it.
const recordsSettle = 2 * time.Minute

// settleRound gives a round that is over its state at once, however late a record comes.
func settleRound(tx Tx, m Moment, check tracker.Check) error {
	day, err := tx.Rounds(check.RoundDay, check.RoundDay)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(day, func(r tracker.Round) bool { return r.Slot == check.Slot })
	if i < 0 || day[i].UseBy.After(m.Now) {
		return nil
	}
	st, e1 := readBrief(tx, m.Now)
	set, e2 := reminderRules(tx, m.Zone)
	checks, e3 := tx.Checks(CheckQuery{RoundDay: check.RoundDay, Slot: check.Slot})
	if err := cmp.Or(e1, e2, e3); err != nil {
		return err
	}
	fresh := roundState(day[i], st.tally(day[i], checks), set, m.Now)
	if fresh.State == day[i].State && fresh.Reason == day[i].Reason {
		return nil
	}
	return tx.SaveRound(fresh)
}
