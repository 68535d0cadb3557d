// Package seed plays Marlpit Yard, which is made up, into an empty store: two people, three horses, eight
// sores and 29 days of looks that end yesterday. It goes through the same use cases as the site, at the
// times when people would have used it, so that everything that follows from a look (judgements, cautions,
// rounds) is worked out and not made up. What is made up stands in marlpit.txt beside this file; the
// reading errors are drawn from a fixed seed, so the same text gives the same numbers.
package seed

import (
	"context"
	_ "embed"
	"fmt"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

//go:embed marlpit.txt
var marlpitText string

// Marlpit plays the yard. setNow sets the clock that the service reads; it is stepped through the days and
// left at now, to which "yesterday" refers in the yard's own zone. It gives the owner, who has no session.
func Marlpit(ctx context.Context, service *care.Service, setNow func(time.Time), now time.Time) (care.Actor, error) {
	story, err := read(marlpitText)
	if err != nil {
		return care.Actor{}, fmt.Errorf("marlpit.txt: %w", err)
	}
	zone, err := time.LoadLocation(story.yard.Zone)
	if err != nil {
		return care.Actor{}, err
	}
	p := &player{
		ctx: ctx, service: service, setNow: setNow, story: story, zone: zone,
		dayZero: tracker.DateOf(now.In(zone)) - 1 - tracker.Date(story.days),
	}
	defer setNow(now)
	if err := p.open(); err != nil {
		return care.Actor{}, err
	}
	for day := 1; day <= story.days; day++ {
		for i := range story.rounds {
			if err := p.playRound(day, i); err != nil {
				return care.Actor{}, fmt.Errorf("day %d, %s round: %w", day, story.rounds[i].slot, err)
			}
		}
	}
	return p.people[0], nil
}

// player plays a story through a service.
type player struct {
	ctx     context.Context
	service *care.Service
	setNow  func(time.Time)
	story   *story
	zone    *time.Location
	dayZero tracker.Date // the day before day 1
	at      time.Time    // the service's clock
	people  []care.Actor // the owner first
}

// clock puts the service's clock to a time of a day.
func (p *player) clock(day int, minute tracker.MinuteOfDay) {
	date := p.date(day).Time()
	p.at = time.Date(date.Year(), date.Month(), date.Day(), int(minute/60), int(minute%60), 0, 0, p.zone)
	p.setNow(p.at)
}

// pass lets time go by.
func (p *player) pass(d time.Duration) {
	p.at = p.at.Add(d)
	p.setNow(p.at)
}

func (p *player) date(day int) tracker.Date { return p.dayZero + tracker.Date(day) }

// open makes the yard on the first day before the first round, with its owner, and the carer by an
// invitation; and works out the horses' dates.
func (p *player) open() error {
	p.clock(1, p.story.rounds[0].start-60)
	in := p.story.yard
	in.Order, in.LegWords, in.Mark = tracker.Legs(), tracker.LeftRight, tracker.Point
	owner, err := p.service.OpenMadeUpYard(p.ctx, in)
	if err != nil {
		return err
	}
	token, err := p.service.Invite(p.ctx, owner, tracker.Carer, "")
	if err != nil {
		return err
	}
	session, err := p.service.Join(p.ctx, token, "made up", p.story.carer.name, p.story.carer.email, care.NewSecret())
	if err != nil {
		return err
	}
	carer, err := p.service.Actor(p.ctx, session)
	if err != nil {
		return err
	}
	p.people = []care.Actor{owner, carer}
	for _, h := range p.story.horses {
		h.ID, h.Arrived = tracker.HorseID(care.NewID()), p.date(h.arrived)
		if h.tetanus != nil {
			h.Tetanus.Last = p.date(*h.tetanus)
		}
		if h.isolated > 0 {
			h.IsolatedUntil = h.Arrived + tracker.Date(h.isolated)
		}
	}
	return p.service.SignOut(p.ctx, session)
}
