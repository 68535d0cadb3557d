package care

import (
	"cmp"
	"context"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// RoundView is the leg round: every leg line and site card of one visit, in walking order.
type RoundView struct {
	Moment
	Round  tracker.Round
	Horses []RoundHorse
	People []tracker.Member // who may be looking
	Blind  []BlindDue       // wounds that the asker can measure again blind, while the yard's spread is not known
}

// RoundHorse is one horse of the round.
type RoundHorse struct {
	Horse    tracker.Horse
	Isolated bool
	Legs     []RoundLeg
	Asks     []LegAsk          // of plans for the whole horse
	Cautions []tracker.Caution // open, most urgent first
}

// RoundLeg is one leg with its line and its site cards.
type RoundLeg struct {
	Leg    tracker.Leg
	Last   *tracker.Check  // the leg line before this round's, at most two days old
	Here   *tracker.Check  // this round's, when it is recorded
	Others []tracker.Check // further leg lines of this round, by another person
	Soak   *tracker.Event  // a soak that was started in this round
	Asks   []LegAsk        // what plans ask for on the leg in this round
	Cards  []Card
}

// Card is one site card.
type Card struct {
	Site       tracker.Site
	Last       *tracker.Check  // the last look before this round
	LastSize   *tracker.Check  // the last look with a size before this round
	Photo      *tracker.Photo  // the newest
	Here       *tracker.Check  // this round's
	Others     []tracker.Check // further looks of this round, by another person
	Judgement  *tracker.Judgement
	AskSize    bool // a size is due by plan and was not taken today
	AskChronic bool // the chronic signs are due: weekly
	FreshEyes  bool // hide the last size until this one is saved: weekly, so that it does not pull
}

// Recorded counts the leg lines and cards that are recorded, and how many there are.
func (h RoundHorse) Recorded() (done, of int) {
	for _, leg := range h.Legs {
		of += 1 + len(leg.Cards)
		if leg.Here != nil {
			done++
		}
		for _, card := range leg.Cards {
			if card.Here != nil {
				done++
			}
		}
	}
	return done, of
}

// Recorded counts over all horses.
func (v RoundView) Recorded() (done, of int) {
	for _, h := range v.Horses {
		d, o := h.Recorded()
		done, of = done+d, of+o
	}
	return done, of
}

// yardState is what the round and the Board both need of a yard, read with a constant number of queries.
type yardState struct {
	Moment
	planned
	viewer     tracker.PersonID // who looks; empty: a message to anybody
	round      tracker.Round
	all        []tracker.Horse // of the yard, wherever they are
	horses     []tracker.Horse // here, in walking order: an isolated horse last
	sites      []tracker.Site
	judgements map[tracker.SiteID]tracker.Judgement
	recent     []tracker.Check // of yesterday and today
	cautions   []tracker.Caution
	products   []tracker.Product // where it is said what steps put on
	weight     bookWeight        // where the plans of one horse are shown: its last
}

func readYard(tx Tx, a Actor, now time.Time) (yardState, error) {
	st, err := readBrief(tx, now)
	st.viewer = a.Person.ID
	if err != nil {
		return st, err
	}
	st.judgements, err = tx.Judgements("")
	st.horses = slices.DeleteFunc(st.horses, func(h tracker.Horse) bool { return st.awayOn(h.ID, st.round.Day) })
	return st, err
}

// inWalkingOrder keeps the horses that are here and puts isolated ones last.
func inWalkingOrder(horses []tracker.Horse, day tracker.Date) []tracker.Horse {
	here := slices.DeleteFunc(slices.Clone(horses), func(h tracker.Horse) bool { return h.Place != tracker.Here })
	slices.SortStableFunc(here, func(a, b tracker.Horse) int {
		if ai, bi := a.Isolated(day), b.Isolated(day); ai != bi {
			if bi {
				return -1
			}
			return 1
		}
		return cmp.Compare(a.Position, b.Position)
	})
	return here
}

// Round gives the leg round that is on now: the form of each leg line and site card, with what was seen
// last time beside it. The number of queries does not depend on horses, sites or history.
func (s *Service) Round(ctx context.Context, a Actor) (RoundView, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (view RoundView, err error) {
		st, err := readYard(tx, a, now)
		if err != nil {
			return view, err
		}
		view = RoundView{Moment: st.Moment, Round: st.round}
		var e1, e2 error
		view.People, e1 = tx.Members()
		view.Blind, e2 = st.blindWanted(tx, a.Person.ID)
		last, e3 := readLast(tx, st.round.Day)
		asks, e4 := newAsker(tx, a, st, namesOf(view.People))
		if err := cmp.Or(e1, e2, e3, e4); err != nil {
			return view, err
		}
		for _, horse := range st.horses {
			round := st.roundHorse(horse, last)
			round.Asks = asks.of(horse.ID, 0)
			for i := range round.Legs {
				round.Legs[i].Asks = asks.of(horse.ID, round.Legs[i].Leg)
			}
			view.Horses = append(view.Horses, round)
		}
		return view, nil
	})
}

// lastSeen is the newest of everything for each site.
type lastSeen struct {
	looks  map[tracker.SiteID]tracker.Check
	sizes  map[tracker.SiteID]tracker.Check
	photos map[tracker.SiteID]tracker.Photo
	soaks  []tracker.Event
}

func readLast(tx Tx, day tracker.Date) (lastSeen, error) {
	looks, e1 := tx.LastLooks("")
	sizes, e2 := tx.LastSizes("")
	photos, e3 := tx.LastPhotos("")
	soaks, e4 := tx.Events("", day)
	return lastSeen{looks, sizes, photos, soaks}, cmp.Or(e1, e2, e3, e4)
}

func (st yardState) roundHorse(horse tracker.Horse, last lastSeen) RoundHorse {
	out := RoundHorse{Horse: horse, Isolated: horse.Isolated(st.Today)}
	for _, c := range st.cautions {
		if c.Horse == horse.ID && c.OpenAt(st.Now) {
			out.Cautions = append(out.Cautions, c)
		}
	}
	for _, leg := range horse.OrderIn(st.Yard) {
		out.Legs = append(out.Legs, st.roundLeg(horse, leg, last))
	}
	return out
}

func (st yardState) roundLeg(horse tracker.Horse, leg tracker.Leg, last lastSeen) RoundLeg {
	out := RoundLeg{Leg: leg}
	for i := range st.recent { // not by value: a yard's looks are many, and each is large
		c := &st.recent[i]
		if c.Subject != tracker.OfLeg || c.Horse != horse.ID || c.Leg != leg {
			continue
		}
		if st.inRound(c) {
			out.Here, out.Others = newer(out.Here, out.Others, c)
		} else {
			out.Last = c
		}
	}
	for _, e := range last.soaks {
		if e.Kind == tracker.SoakStarted && e.Horse == horse.ID && e.Leg == leg && st.placed(e.At) == rounds.KeyOf(st.round) {
			out.Soak = &e
		}
	}
	for _, site := range st.sites {
		if site.Horse == horse.ID && site.Leg == leg && site.Open() {
			out.Cards = append(out.Cards, st.card(site, last))
		}
	}
	return out
}

// newer keeps the latest look as the one shown and the rest beside it: none is averaged away.
func newer(shown *tracker.Check, others []tracker.Check, c *tracker.Check) (*tracker.Check, []tracker.Check) {
	if shown != nil {
		others = append(others, *shown)
	}
	return c, others
}

func (st yardState) card(site tracker.Site, last lastSeen) Card {
	card := Card{Site: site}
	measuredToday := false
	for i := range st.recent {
		c := &st.recent[i]
		if c.Site != site.ID {
			continue
		}
		measuredToday = measuredToday || c.Day == st.Today && c.Size.Answer.HasLengths()
		if c.Blind != "" {
			continue // of a size only, and outside every round
		}
		if st.inRound(c) {
			card.Here, card.Others = newer(card.Here, card.Others, c)
		} else if c.Outcome == tracker.Looked {
			card.Last = c
		}
	}
	if look, ok := last.looks[site.ID]; ok && card.Last == nil && !st.inRound(&look) {
		card.Last = &look
	}
	if size, ok := last.sizes[site.ID]; ok {
		card.LastSize = &size
	}
	if photo, ok := last.photos[site.ID]; ok {
		card.Photo = &photo
	}
	if j, ok := st.judgements[site.ID]; ok {
		card.Judgement = &j
	}
	opened := tracker.DateOf(site.OpenedAt.In(st.Zone))
	weekly := int(st.Today-opened)%7 == 0
	card.AskSize = !measuredToday && st.sizeDue(site, card.LastSize)
	card.AskChronic = site.Kind == tracker.Patch && weekly
	card.FreshEyes = weekly && card.LastSize != nil && st.Today != opened
	return card
}

// sizeDue says whether a size is due today: by a plan where one asks for sizes of the site, else by the yard's
// rule, and always when there is none yet.
func (st yardState) sizeDue(site tracker.Site, last *tracker.Check) bool {
	if last == nil {
		return true
	}
	if due, planned := rounds.SizeByPlan(st.plans, site, st.sites, st.Yard.Slots, last.Day, st.Today); planned {
		return due
	}
	return rounds.SizeDue(st.sizeEvery(site), last.Day, st.Today)
}

// sizeEvery is how many days lie between planned sizes: a wound by the yard's setting, the reach of a
// patch weekly, since its signs carry its judgement.
func (st yardState) sizeEvery(site tracker.Site) int {
	if site.Kind == tracker.Patch {
		return 7
	}
	return max(1, st.Yard.SizeEvery)
}

func (st yardState) inRound(c *tracker.Check) bool {
	return c.RoundDay == st.round.Day && c.Slot == st.round.Slot
}

func (st yardState) placed(at time.Time) rounds.Key {
	return rounds.KeyOf(st.roundAt(at))
}
