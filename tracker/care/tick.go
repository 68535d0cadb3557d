package care

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
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
// what is due, not with how many yards there are.
func (s *Service) Tick(ctx context.Context) error {
	now := s.now()
	var problems []error
	for {
		var due []tracker.YardID
		err := s.store.AcrossRead(ctx, func(g Gate) (err error) {
			due, err = g.YardsToWake(now, tickYards)
			return err
		})
		if err != nil {
			return err
		}
		for _, yard := range due {
			if err := s.tickYard(ctx, yard, now); err != nil {
				problems = append(problems, fmt.Errorf("yard %s: %w", yard, err))
			}
		}
		if len(due) < tickYards || len(problems) > 0 {
			break
		}
	}
	problems = append(problems, s.store.Across(ctx, func(g Gate) error { return g.SetLookedAt(now) }))
	return errors.Join(problems...)
}

func (s *Service) tickYard(ctx context.Context, id tracker.YardID, now time.Time) error {
	return s.store.Write(ctx, id, func(tx Tx) error {
		st, err := readYard(tx, now)
		if err != nil {
			return err
		}
		next, err := keepRounds(tx, st)
		if err != nil {
			return err
		}
		if err := escalate(tx, st); err != nil {
			return err
		}
		return tx.SetWake(next)
	})
}

// scheduleOf gives the yard's rounds as a schedule, from a day on.
func scheduleOf(yard tracker.Yard, zone *time.Location, from tracker.Date) rounds.Schedule {
	return rounds.Schedule{Zone: zone, Slots: yard.Slots, Days: rounds.Days{Every: 1}, First: from}
}

// roundAt gives the round that is on at an instant: the one whose time it is, or else the next one.
func roundAt(yard tracker.Yard, zone *time.Location, at time.Time) tracker.Round {
	today := tracker.DateOf(at.In(zone))
	around, err := scheduleOf(yard, zone, today-5).Rounds(today-2, today+2)
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

// roundOf gives the round to which something seen at an instant belongs.
func roundOf(yard tracker.Yard, zone *time.Location, at time.Time) (tracker.Date, string) {
	r := roundAt(yard, zone, at)
	return r.Day, r.Slot
}

// replan moves the yard's open rounds to its present zone and slots, and wakes the worker.
func replan(tx Tx, yard tracker.Yard, now time.Time) error {
	zone, err := location(yard)
	if err != nil {
		return err
	}
	today := tracker.DateOf(now.In(zone))
	have, err := tx.Rounds(today-1, today+4)
	if err != nil {
		return err
	}
	schedule := scheduleOf(yard, zone, today-5)
	for _, r := range have {
		fresh, change, err := schedule.Recompute(r, r.DueAt.Before(now))
		if err != nil {
			return err
		}
		switch change {
		case rounds.Gone:
			fresh.State, fresh.Reason = tracker.RoundSkipped, "the yard's rounds were changed"
			err = tx.SaveRound(fresh)
		case rounds.Moved:
			err = tx.SaveRound(fresh)
		}
		if err != nil {
			return err
		}
	}
	return tx.SetWake(now)
}

// keepRounds makes the rounds of the next two days, ends those whose time is over, asks for those that
// are due, and tells when to look again.
func keepRounds(tx Tx, st yardState) (next time.Time, err error) {
	have, err := tx.Rounds(st.today-3, st.today+4)
	if err != nil {
		return next, err
	}
	known := map[rounds.Key]bool{}
	since := st.yard.CreatedAt
	for _, r := range have {
		known[rounds.KeyOf(r)] = true
	}
	expected, err := scheduleOf(st.yard, st.zone, st.today-5).Expected(latest(since, st.now.AddDate(0, 0, -2)), st.now)
	if err != nil {
		return next, err
	}
	for _, r := range expected {
		if known[rounds.KeyOf(r)] {
			continue
		}
		if err := tx.AddRound(r); err != nil {
			return next, err
		}
		have = append(have, r)
	}
	next = st.now.Add(24 * time.Hour)
	for _, r := range have {
		if r.State != tracker.RoundOpen && r.State != tracker.RoundPartDone {
			continue
		}
		if err := st.keepRound(tx, r); err != nil {
			return next, err
		}
		for _, at := range []time.Time{r.DueAt, r.UseBy} {
			if at.After(st.now) && at.Before(next) {
				next = at
			}
		}
	}
	return next, nil
}

func latest(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// keepRound asks for a round that is due, or ends one whose time is over.
func (st yardState) keepRound(tx Tx, r tracker.Round) error {
	if st.now.Before(r.DueAt) {
		return nil
	}
	checks := st.recent
	if r.Day < st.today-1 { // after an outage
		var err error
		if checks, err = tx.Checks(CheckQuery{RoundDay: r.Day, Slot: r.Slot}); err != nil {
			return err
		}
	}
	tally := st.tally(r, checks)
	if !st.now.Before(r.UseBy) {
		r.State, r.Reason = tally.State, tally.Reason
		if err := tx.Withdraw(ReminderRound, rounds.KeyOf(r).String(), string(rounds.PastUseBy)); err != nil {
			return err
		}
		return tx.SaveRound(r)
	}
	if tally.State == tracker.RoundDone || tally.State == tracker.RoundSkipped {
		r.State, r.Reason = tally.State, tally.Reason
		return tx.SaveRound(r)
	}
	if err := st.dailyLook(tx, r); err != nil {
		return err
	}
	return st.ask(tx, r)
}

// tally holds what was recorded for a round against every leg line and open site of the horses that are here.
func (st yardState) tally(r tracker.Round, checks []tracker.Check) rounds.Tally {
	var due []string
	for _, horse := range st.horses {
		for _, leg := range horse.OrderIn(st.yard) {
			due = append(due, string(horse.ID)+leg.String())
		}
	}
	for _, site := range st.sites {
		if site.Open() && !site.OpenedAt.After(r.DueAt) && slices.ContainsFunc(st.horses, func(h tracker.Horse) bool { return h.ID == site.Horse }) {
			due = append(due, string(site.ID))
		}
	}
	var answers []rounds.Answer
	for _, c := range checks {
		if c.RoundDay != r.Day || c.Slot != r.Slot {
			continue
		}
		item := string(c.Site)
		if c.Subject == tracker.OfLeg {
			item = string(c.Horse) + c.Leg.String()
		}
		answers = append(answers, rounds.Answer{Item: item, Done: c.Outcome == tracker.Looked, Why: c.Skip})
	}
	return rounds.Judge(r.UseBy, due, answers, r.Reason, st.now)
}

// dailyLook holds the rules against every horse at the first round of a day: some are met by time alone.
func (st yardState) dailyLook(tx Tx, r tracker.Round) error {
	if len(st.yard.Slots) == 0 || r.Slot != st.yard.Slots[0].Name {
		return nil
	}
	for _, horse := range st.horses {
		if _, err := raise(tx, Actor{}, st.yard, horse.ID, st.now); err != nil {
			return err
		}
	}
	return nil
}

// ask plans one message about a round to each person of the yard.
func (st yardState) ask(tx Tx, r tracker.Round) error {
	members, err := tx.Members()
	if err != nil {
		return err
	}
	open, err := tx.OpenCautions()
	if err != nil {
		return err
	}
	facts, err := json.Marshal(st.news(r, open))
	if err != nil {
		return err
	}
	for _, m := range members {
		if !m.Left.IsZero() || m.Role != tracker.Owner && m.Role != tracker.Carer {
			continue
		}
		if err := tx.AddReminder(newReminder(ReminderRound, rounds.KeyOf(r).String(), m.ID, 0, facts, r.DueAt, r.UseBy)); err != nil {
			return err
		}
	}
	return nil
}

// news says which horses and legs a round is about, in walking order, open cautions first with whom to ring.
func (st yardState) news(r tracker.Round, open []tracker.Caution) tracker.News {
	out := tracker.News{
		Kind: tracker.NewsRound, Yard: st.yard.Name, MadeUp: st.yard.MadeUp, Round: r.Slot + " round",
		Due: tracker.TimeName(r.DueAt, st.zone), UseBy: r.UseBy.In(st.zone).Format("15:04"), Link: "/round",
	}
	names := map[tracker.HorseID]string{}
	for _, horse := range st.horses {
		names[horse.ID] = horse.Name
		entry := tracker.NewsHorse{Name: horse.Name, Note: horse.Handling}
		if horse.Isolated(st.today) {
			entry.Note = strings.TrimSpace("In isolation: own kit, wash hands. " + horse.Handling)
		}
		for _, leg := range horse.OrderIn(st.yard) {
			entry.Legs = append(entry.Legs, tracker.NewsLeg{Name: tracker.LegName(leg, st.yard.LegWords), What: st.openOn(horse.ID, leg)})
		}
		out.Horses = append(out.Horses, entry)
	}
	for _, c := range open {
		if name, here := names[c.Horse]; here && c.OpenAt(st.now) {
			out.Cautions = append(out.Cautions, newsOfCaution(st.yard, name, st.sites, c))
		}
	}
	return out
}

func (st yardState) openOn(horse tracker.HorseID, leg tracker.Leg) string {
	var tags []string
	for _, site := range st.sites {
		if site.Horse == horse && site.Leg == leg && site.Open() {
			tags = append(tags, site.Tag())
		}
	}
	if len(tags) == 0 {
		return "nothing open: look and pass"
	}
	return strings.Join(tags, ", ")
}

// newsOfCaution says what a message says of a caution.
func newsOfCaution(yard tracker.Yard, horse string, sites []tracker.Site, c tracker.Caution) tracker.NewsCaution {
	where := horse
	if c.Leg != 0 {
		where += ", " + tracker.LegName(c.Leg, yard.LegWords)
	}
	for _, site := range sites {
		if site.ID == c.Site {
			where = horse + ", " + tracker.SiteName(site, yard.LegWords)
		}
	}
	return tracker.NewsCaution{Level: tracker.LevelName(c.Level), Where: where, Seen: c.Seen, Next: c.Next, Ring: yard.RingName, Number: yard.RingNumber}
}

// escalate makes cautions that waited too long for a visit more urgent.
func escalate(tx Tx, st yardState) error {
	for _, c := range st.cautions {
		level, _ := cautions.Escalate(c, st.now.In(st.zone), 0)
		if level == c.Level {
			continue
		}
		if err := tx.RaiseLevel(c.ID, level); err != nil {
			return err
		}
	}
	return nil
}
