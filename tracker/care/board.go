package care

import (
	"cmp"
	"context"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// BoardView is the first page: what needs somebody now.
type BoardView struct {
	Moment
	Round     tracker.Round
	Done, Of  int               // leg lines and cards recorded in it
	Missed    []tracker.Round   // rounds of today and yesterday without a record
	Cautions  []tracker.Caution // open, most urgent first
	Acted     []tracker.Caution // acted on since yesterday
	Horses    []BoardHorse
	Names     map[tracker.HorseID]string // of all horses of the yard, with where they are when that is not here
	Conflicts []Conflict
	Failed    []Reminder         // given up since yesterday, on every way
	Stuck     []Reminder         // should have been sent minutes ago
	Nobody    bool               // nobody of the yard can be reminded
	Unreached []string           // the names of those who cannot
	OnIt      []string           // who said that they are on the round that is due, with the time
	Said      []tracker.Proposal // what vets wrote and waits for an answer, or is in force
	Blind     []BlindDue         // wounds that the asker can measure again blind, while the yard's spread is not known
	People    map[tracker.PersonID]string
	LookedAt  time.Time  // when reminders were last looked at
	Due       []DueGroup // by plans and once, today
	Troubles  []string   // plans that cannot be worked out
}

// BoardHorse is one horse's four posts.
type BoardHorse struct {
	Horse    tracker.Horse
	Isolated bool
	Legs     []BoardLeg // LF, RF, LH, RH: as the horse stands, seen from above
	Doubled  []Doubled  // looked at more than once in the round
	Unseen   []Unseen
}

// BoardLeg is one post.
type BoardLeg struct {
	Leg   tracker.Leg
	Done  bool // its line and every card are recorded in this round
	Sites []BoardSite
}

// BoardSite is one open site with its newest judgement.
type BoardSite struct {
	Site      tracker.Site
	Judgement *tracker.Judgement
}

// Unseen is a site that nobody looked at for days: a plain line, not a caution.
type Unseen struct {
	Site tracker.Site
	Days int // since the last look; -1: never looked at
}

// unseenDays is after how many days without a look the Board says so.
const unseenDays = 3

// Board gives the first page. The number of queries does not depend on horses, sites or history.
func (s *Service) Board(ctx context.Context, a Actor) (BoardView, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (BoardView, error) {
		st, err := readYard(tx, a, now)
		if err != nil {
			return BoardView{}, err
		}
		view := BoardView{Moment: st.Moment, Round: st.round, Names: st.nameAll()}
		looks, e1 := tx.LastLooks("")
		blind, e2 := st.blindWanted(tx, a.Person.ID)
		e3, e4 := view.readRest(tx, now), s.readMessages(tx, &view)
		if err := cmp.Or(e1, e2, e3, e4); err != nil {
			return view, err
		}
		view.Blind = blind
		for _, horse := range st.horses {
			view.Horses = append(view.Horses, st.boardHorse(horse, looks))
			d, o := st.roundHorse(horse, lastSeen{}).Recorded()
			view.Done, view.Of = view.Done+d, view.Of+o
		}
		for _, c := range st.cautions {
			if c.OpenAt(now) {
				view.Cautions = append(view.Cautions, c)
			}
		}
		view.Said = slices.DeleteFunc(view.Said, func(p tracker.Proposal) bool { // of a horse that nobody here looks after
			return slices.ContainsFunc(st.all, func(h tracker.Horse) bool { return h.ID == p.Horse && h.Place == tracker.Gone })
		})
		view.Due, view.Troubles = st.dueGroups(st.Today, st.recent, view.People)
		return view, nil
	})
}

// stuckAfter is how late a message must be for the Board to say so, and troubles are the reasons that count.
const stuckAfter = 5 * time.Minute

var troubles = []rounds.Reason{rounds.ServerTrouble, rounds.SetUpFault, rounds.NotNow, rounds.PerhapsSent}

// readMessages reads what did not go out, and who can be reached at all.
func (s *Service) readMessages(tx Tx, view *BoardView) error {
	d := desk{service: s}
	var e2, e3, e4 error
	rows, e1 := tx.Reminders(ReminderQuery{Since: view.Now.Add(-24 * time.Hour)})
	d.contacts, e2 = contacts(tx)
	d.ways, e3 = tx.Ways()
	view.OnIt, e4 = whoIsOnIt(tx, rounds.KeyOf(view.Round).String(), view.Now, view.Zone)
	groups := byMessage(rows, "")
	for _, r := range rows {
		group := groups[r.name()]
		first := group[0].ID == r.ID
		switch state := standing(group); {
		case first && state == rounds.GivenUp && r.Kind != KindTest && r.Reason != rounds.NoChannel:
			view.Failed = append(view.Failed, r)
		case first && state == rounds.Planned && r.PlannedAt.Before(view.Now.Add(-stuckAfter)) && slices.Contains(troubles, r.Reason):
			view.Stuck = append(view.Stuck, r)
		}
	}
	view.Nobody, view.Unreached = d.unreached()
	return cmp.Or(e1, e2, e3, e4)
}

func (view *BoardView) readRest(tx Tx, now time.Time) error {
	var e3, e4, e5, e6 error
	raised, e1 := tx.CautionsSince("", now.Add(-24*time.Hour))
	past, e2 := tx.Rounds(view.Today-1, view.Today)
	view.Said, e3 = tx.Proposals("")
	view.Conflicts, e4 = tx.Conflicts()
	view.LookedAt, e5 = tx.LookedAt()
	view.People, e6 = names(tx)
	for _, c := range raised {
		if !c.OpenAt(now) {
			view.Acted = append(view.Acted, c)
		}
	}
	for _, r := range past {
		if r.State == tracker.RoundNoRecord {
			view.Missed = append(view.Missed, r)
		}
	}
	return cmp.Or(e1, e2, e3, e4, e5, e6)
}

func (st yardState) boardHorse(horse tracker.Horse, looks map[tracker.SiteID]tracker.Check) BoardHorse {
	out := BoardHorse{Horse: horse, Isolated: horse.Isolated(st.Today)}
	for _, leg := range []tracker.Leg{tracker.LF, tracker.RF, tracker.LH, tracker.RH} {
		round := st.roundLeg(horse, leg, lastSeen{})
		out.Doubled = append(out.Doubled, doubled(round)...)
		post := BoardLeg{Leg: leg, Done: round.Here != nil}
		for _, card := range round.Cards {
			post.Done = post.Done && card.Here != nil
			post.Sites = append(post.Sites, BoardSite{card.Site, card.Judgement})
			if days := st.unseen(card.Site, looks); days < 0 || days >= unseenDays {
				out.Unseen = append(out.Unseen, Unseen{card.Site, days})
			}
		}
		out.Legs = append(out.Legs, post)
	}
	return out
}

// unseen gives the days since a site was last looked at; -1 when it never was and was not found today.
func (st yardState) unseen(site tracker.Site, looks map[tracker.SiteID]tracker.Check) int {
	if look, ok := looks[site.ID]; ok {
		return int(st.Today - look.Day)
	}
	if tracker.DateOf(site.OpenedAt.In(st.Zone)) == st.Today {
		return 0
	}
	return -1
}
