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

// round plays one round of a day: who arrived, every leg line and card in walking order, what happened
// besides. On a missed day nobody comes, but the worker still looks for what is due.
func (p *player) round(day, index int) error {
	visit := p.story.rounds[index]
	p.clock(day, visit.start)
	if !slices.Contains(p.story.missed, day) {
		for _, h := range p.story.horses {
			if err := p.visitHorse(h, day, index); err != nil {
				return fmt.Errorf("%s: %w", h.Name, err)
			}
		}
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

// visitHorse plays one horse of a round.
func (p *player) visitHorse(h *horse, day, index int) error {
	slot := p.story.rounds[index].slot
	if day < h.arrived || day == h.arrived && slot != h.first && h.ID == "" {
		return nil
	}
	actor := p.looker(day, index)
	if h.ID == "" {
		if err := p.takeIn(actor, h); err != nil {
			return err
		}
	}
	for _, leg := range tracker.Legs() {
		if err := p.leg(actor, h, leg, day, slot); err != nil {
			return fmt.Errorf("%s: %w", leg, err)
		}
		for _, s := range h.sites {
			if s.leg != leg || s.found > day {
				continue
			}
			if err := p.card(actor, h, s, day, index); err != nil {
				return fmt.Errorf("%s: %w", s.tag(), err)
			}
		}
	}
	if index > 0 {
		return nil
	}
	return p.besides(h, day)
}

func (p *player) takeIn(actor care.Actor, h *horse) error {
	p.pass(2 * time.Minute)
	h.ID = tracker.HorseID(care.NewID())
	h.Arrived = p.date(h.arrived)
	if h.tetanus != nil {
		h.Tetanus.Last = p.date(*h.tetanus)
	}
	if h.isolated > 0 {
		h.IsolatedUntil = h.Arrived + tracker.Date(h.isolated)
	}
	return p.service.AddHorse(p.ctx, actor, h.Horse)
}

// leg records a leg line on which there is nothing to note, with the care that was done.
func (p *player) leg(actor care.Actor, h *horse, leg tracker.Leg, day int, slot string) error {
	p.pass(forLine)
	check := p.look(day, slot)
	check.Subject, check.Horse, check.Leg = tracker.OfLeg, h.ID, leg
	check.Signs = tracker.Signs{tracker.Filling: 0, tracker.Heat: 0, tracker.Pulse: 1, tracker.Walk: 0}
	for _, c := range h.care {
		if c.leg == leg && c.slot == slot {
			check.Care = c.acts
		}
	}
	for _, m := range h.lines {
		if m.leg == leg && m.day == day && m.slot == slot {
			check.Note = m.text
		}
	}
	_, err := p.service.Record(p.ctx, actor, care.Entry{Check: check})
	return err
}

// look begins a check as a form of a round does.
func (p *player) look(day int, slot string) tracker.Check {
	return tracker.Check{ID: care.NewRecord(), Outcome: tracker.Looked, RoundDay: p.date(day), Slot: slot}
}

// card records the look at a site, and the site itself when it is newly found.
func (p *player) card(actor care.Actor, h *horse, s *site, day, index int) error {
	p.pass(forCard)
	slot := p.story.rounds[index].slot
	first := s.played.id == ""
	if first {
		if err := p.find(actor, h, s); err != nil {
			return err
		}
	}
	entry := care.Entry{Check: p.siteLook(s, day, slot, first || index == 0 && s.sized(day))}
	if (first || index == 0) && slices.Contains(s.photos, day) {
		photo, err := drawPhoto(h.Name, s, entry.Check)
		if err != nil {
			return err
		}
		entry.Photo = &photo
	}
	for _, m := range s.moments {
		if m.day == day && m.slot == slot {
			return p.moment(actor, s, entry, m)
		}
	}
	_, err := p.service.Record(p.ctx, actor, entry)
	return err
}

func (p *player) find(actor care.Actor, h *horse, s *site) error {
	found, err := p.service.AddSite(p.ctx, actor, care.NewSite{
		Record: care.NewRecord(), Horse: h.ID, Leg: s.leg, Region: s.region, Aspect: s.aspect, Kind: s.kind,
	})
	if err == nil && found.Number != s.number {
		err = fmt.Errorf("it was given the tag %s", found.Tag())
	}
	s.played = playedSite{found.ID, drawsOf(h.Name, s.tag())}
	return err
}

func (p *player) siteLook(s *site, day int, slot string, sized bool) tracker.Check {
	check := p.look(day, slot)
	check.Subject, check.Site = tracker.OfSite, s.played.id
	check.Size = tracker.Size{Answer: tracker.NotDue}
	if sized {
		check.Size = tracker.Size{Answer: tracker.Measured, Method: tracker.Ruler}
		check.Size.LengthMM, check.Size.WidthMM = s.read(day)
		check.SkinSeen = true
	}
	check.Bed = s.bed(day)
	check.Signs = s.score(day)
	return check
}

// moment records a look at which something happened.
func (p *player) moment(actor care.Actor, s *site, entry care.Entry, m moment) error {
	check := &entry.Check
	switch m.what {
	case "note":
		check.Note = m.text
	case "skip":
		entry.Check = p.look(m.day, m.slot)
		check.Subject, check.Site, check.Outcome, check.Skip = tracker.OfSite, s.played.id, tracker.Skipped, m.text
	case "bandage":
		check.Size, check.Signs, check.Bed = tracker.Size{Answer: tracker.UnderBandage}, nil, 0
		check.Bandage, check.SkinSeen, check.Note = true, false, m.text
	case "slip":
		return p.slip(actor, entry, m)
	case "twice":
		wrong := entry
		wrong.Check.ID, wrong.Check.Note, wrong.Photo = care.NewRecord(), m.text, nil
		wrong.Check.Size.LengthMM += 3
		if _, err := p.service.Record(p.ctx, actor, wrong); err != nil {
			return err
		}
		p.pass(forLine)
		if err := p.service.Retract(p.ctx, actor, care.NewRecord(), wrong.Check.ID); err != nil {
			return err
		}
	}
	_, err := p.service.Record(p.ctx, actor, entry)
	return err
}

// slip records a length that was typed wrong, and a minute later its correction.
func (p *player) slip(actor care.Actor, entry care.Entry, m moment) error {
	typed, err := strconv.Atoi(m.text)
	if err != nil {
		return err
	}
	wrong := entry
	wrong.Check.Size.LengthMM = typed
	if _, err := p.service.Record(p.ctx, actor, wrong); err != nil {
		return err
	}
	p.pass(time.Minute)
	right := entry
	right.Check.ID, right.Corrects, right.Photo = care.NewRecord(), entry.Check.ID, nil
	_, err = p.service.Record(p.ctx, actor, right)
	return err
}

// besides plays what happened after a day's first round: events, and what the owner did about cautions.
func (p *player) besides(h *horse, day int) error {
	p.pass(time.Minute)
	owner := p.people[0]
	for _, e := range h.events {
		if e.day != day {
			continue
		}
		event := tracker.Event{ID: care.NewRecord(), Kind: e.kind, Horse: h.ID, Note: e.note}
		if err := p.service.AddEvent(p.ctx, owner, event); err != nil {
			return err
		}
	}
	for _, a := range h.answers {
		if a.day != day {
			continue
		}
		board, err := p.service.Board(p.ctx, owner)
		if err != nil {
			return err
		}
		for _, c := range board.Cautions {
			if c.Horse != h.ID {
				continue
			}
			if err := p.service.Act(p.ctx, owner, c.ID, tracker.CautionAct{ID: care.NewRecord(), Kind: a.kind, Note: a.note}); err != nil {
				return err
			}
		}
	}
	return nil
}
