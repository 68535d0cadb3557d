package seed

import (
	"fmt"
	"slices"
	"strconv"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

// How long each step of a round takes.
const (
	forLine = 20 * time.Second
	forCard = 45 * time.Second
)

// round is one round of a day, in the one transaction in which it is played.
type round struct {
	*player
	service *care.Service
	actor   care.Actor // who looks
	day     int
	index   int // of the day's rounds
	slot    string
}

// playRound plays one round. On a missed day nobody comes, but the worker still looks for what is due.
func (p *player) playRound(day, index int) error {
	visit := p.story.rounds[index]
	err := p.service.Together(p.ctx, p.people[0].Yard, func(service *care.Service) error {
		p.clock(day, visit.start)
		if slices.Contains(p.story.missed, day) {
			return nil
		}
		r := &round{player: p, service: service, actor: p.looker(day, index), day: day, index: index, slot: visit.slot}
		if err := r.prepare(); err != nil {
			return err
		}
		for _, h := range p.story.horses {
			if err := r.visit(h); err != nil {
				return fmt.Errorf("%s: %w", h.Name, err)
			}
		}
		return nil
	})
	if err != nil {
		return err
	}
	p.pass(time.Minute)
	return p.service.Tick(p.ctx)
}

// looker gives who does a round: the owner mostly in the morning, the carer mostly in the evening.
func (p *player) looker(day, index int) care.Actor {
	if day%3 == 0 {
		index++
	}
	return p.people[index%len(p.people)]
}

// visit plays one horse: every leg line and card in walking order, and after the day's first round what
// happened besides.
func (r *round) visit(h *horse) error {
	day, index := r.story.firstVisit(h)
	if r.day < day || r.day == day && r.index < index {
		return nil
	}
	if r.day == day && r.index == index {
		r.pass(2 * time.Minute)
		if err := r.service.AddHorse(r.ctx, r.actor, h.Horse); err != nil {
			return err
		}
	}
	for _, leg := range tracker.Legs() {
		if err := r.leg(h, leg); err != nil {
			return fmt.Errorf("%s: %w", leg, err)
		}
		for _, s := range h.sites {
			if s.leg != leg || s.found > r.day {
				continue
			}
			if err := r.card(h, s); err != nil {
				return fmt.Errorf("%s: %w", s.tag(), err)
			}
		}
	}
	first := 0 // the day's round in which it is looked at first
	if r.day == day {
		first = index
	}
	for _, w := range h.wholes {
		if w.day != r.day || r.index != first {
			continue
		}
		r.pass(forCard)
		if err := r.record(care.Entry{Check: tracker.Check{ID: care.NewRecord(), Subject: tracker.OfHorse, Outcome: tracker.Looked, Horse: h.ID, Vitals: w.vitals, Flags: []tracker.Flag{tracker.FeedKnown}}}); err != nil {
			return err
		}
	}
	if r.index > 0 {
		return nil
	}
	return r.besides(h)
}

// leg records a leg line on which there is nothing to note, with the care that was done.
func (r *round) leg(h *horse, leg tracker.Leg) error {
	r.pass(forLine)
	check := r.look()
	check.Subject, check.Horse, check.Leg = tracker.OfLeg, h.ID, leg
	check.Signs = tracker.Signs{tracker.Filling: 0, tracker.Heat: 0, tracker.Pulse: 1, tracker.Walk: 0}
	for _, c := range h.care {
		if c.leg == leg && c.slot == r.slot {
			check.Care = c.acts
		}
	}
	for _, m := range h.lines {
		if m.leg == leg && m.day == r.day && m.slot == r.slot {
			check.Note = m.text
		}
	}
	return r.record(care.Entry{Check: check})
}

// look begins a check as a form of the round does.
func (r *round) look() tracker.Check {
	return tracker.Check{ID: care.NewRecord(), Outcome: tracker.Looked, RoundDay: r.date(r.day), Slot: r.slot}
}

func (r *round) record(entry care.Entry) error {
	_, err := r.service.Record(r.ctx, r.actor, entry)
	return err
}

// card records the look at a site, and the site itself when it is newly found.
func (r *round) card(h *horse, s *site) error {
	r.pass(forCard)
	day, index := r.story.firstVisit(h)
	if s.found > day {
		index = 0
	}
	found := r.day == s.found && r.index == index
	if found {
		if err := r.find(h, s); err != nil {
			return err
		}
	}
	entry := care.Entry{Check: r.siteLook(h, s, found || r.index == 0 && s.sized(r.day))}
	if (found || r.index == 0) && slices.Contains(s.photos, r.day) {
		photo, err := drawPhoto(h.Name, s, entry.Check.Size)
		if err != nil {
			return err
		}
		entry.Photo = &photo
	}
	for _, m := range s.moments {
		if m.day == r.day && m.slot == r.slot {
			return r.moment(s, entry, m)
		}
	}
	return r.record(entry)
}

func (r *round) find(h *horse, s *site) error {
	found, err := r.service.AddSite(r.ctx, r.actor, care.NewSite{
		Record: care.NewRecord(), Horse: h.ID, Leg: s.leg, Region: s.region, Aspect: s.aspect, Kind: s.kind,
	})
	if err == nil && found.Number != s.number {
		err = fmt.Errorf("it was given the tag %s", found.Tag())
	}
	s.id = found.ID
	return err
}

func (r *round) siteLook(h *horse, s *site, sized bool) tracker.Check {
	draws := drawsOf(h.Name, s, r.day, r.index)
	check := r.look()
	check.Subject, check.Site, check.Bed = tracker.OfSite, s.id, s.bed(r.day)
	check.Size = tracker.Size{Answer: tracker.NotDue}
	if sized {
		check.Size = tracker.Size{Answer: tracker.Measured, Method: tracker.Ruler}
		check.Size.LengthMM, check.Size.WidthMM = s.read(r.day, draws)
		check.SkinSeen = true
	}
	check.Signs = s.score(r.day, draws)
	return check
}

// moment records a look at which something happened.
func (r *round) moment(s *site, entry care.Entry, m moment) error {
	check := &entry.Check
	switch m.what {
	case "note":
		check.Note = m.text
	case "skip":
		entry = care.Entry{Check: r.look()}
		check.Subject, check.Site, check.Outcome, check.Skip = tracker.OfSite, s.id, tracker.Skipped, m.text
	case "bandage":
		check.Size, check.Signs, check.Bed = tracker.Size{Answer: tracker.UnderBandage}, nil, 0
		check.Bandage, check.SkinSeen, check.Note = true, false, m.text
	case "slip":
		return r.slip(entry, m)
	case "twice":
		wrong := entry
		wrong.Check.ID, wrong.Check.Note, wrong.Photo = care.NewRecord(), m.text, nil
		wrong.Check.Size.LengthMM += 3
		if err := r.record(wrong); err != nil {
			return err
		}
		r.pass(forLine)
		if err := r.service.Retract(r.ctx, r.actor, care.NewRecord(), wrong.Check.ID); err != nil {
			return err
		}
	}
	return r.record(entry)
}

// slip records a length that was typed wrong, and a minute later its correction.
func (r *round) slip(entry care.Entry, m moment) error {
	typed, err := strconv.Atoi(m.text)
	if err != nil {
		return err
	}
	wrong := entry
	wrong.Check.Size.LengthMM = typed
	if err := r.record(wrong); err != nil {
		return err
	}
	r.pass(time.Minute)
	entry.Check.ID, entry.Corrects, entry.Photo = care.NewRecord(), wrong.Check.ID, nil
	return r.record(entry)
}

// besides plays what happened after a day's first round: events, and what the owner did about cautions.
func (r *round) besides(h *horse) error {
	r.pass(time.Minute)
	owner := r.people[0]
	for _, e := range h.events {
		if e.day != r.day {
			continue
		}
		event := tracker.Event{ID: care.NewRecord(), Kind: e.kind, Horse: h.ID, Note: e.note}
		if err := r.service.AddEvent(r.ctx, owner, event); err != nil {
			return err
		}
	}
	for _, a := range h.answers {
		if a.day != r.day {
			continue
		}
		board, err := r.service.Board(r.ctx, owner)
		if err != nil {
			return err
		}
		for _, c := range board.Cautions {
			if c.Horse != h.ID {
				continue
			}
			act := tracker.CautionAct{ID: care.NewRecord(), Kind: a.kind, Note: a.note}
			if err := r.service.Act(r.ctx, owner, c.ID, act); err != nil {
				return err
			}
		}
	}
	return nil
}
