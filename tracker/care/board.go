package care

import (
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
	now := s.now()
	var view BoardView
	err := s.store.Read(ctx, a.Yard, func(tx Tx) error {
		st, err := readYard(tx, a, now)
		if err != nil {
			return err
		}
		view = BoardView{Moment: st.Moment, Round: st.round, Names: st.nameAll()}
		looks, err := tx.LastLooks("")
		if err != nil {
			return err
		}
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
		if view.Blind, err = st.blindWanted(tx, a.Person.ID); err != nil {
			return err
		}
		if err := view.readRest(tx, now); err != nil {
			return err
		}
		view.Said = slices.DeleteFunc(view.Said, func(p tracker.Proposal) bool { // of a horse that nobody here looks after
			return slices.ContainsFunc(st.all, func(h tracker.Horse) bool { return h.ID == p.Horse && h.Place == tracker.Gone })
		})
		view.Due, view.Troubles = st.dueGroups(st.Today, st.recent, view.People)
		return s.readMessages(tx, &view)
	})
	return view, err
}

func (st yardState) nameAll() map[tracker.HorseID]string {
	out := map[tracker.HorseID]string{}
	for _, h := range st.all {
		out[h.ID] = st.nameOf(h.ID)
	}
	return out
}

// stuckAfter is how late a message must be for the Board to say so, and troubles are the reasons that count.
const stuckAfter = 5 * time.Minute

var troubles = []rounds.Reason{rounds.ServerTrouble, rounds.SetUpFault, rounds.NotNow, rounds.PerhapsSent}

// readMessages reads what did not go out, and who can be reached at all.
func (s *Service) readMessages(tx Tx, view *BoardView) error {
	rows, err := tx.Reminders(ReminderQuery{Since: view.Now.Add(-24 * time.Hour)})
	if err != nil {
		return err
	}
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
	d := desk{service: s}
	if d.contacts, err = contacts(tx); err != nil {
		return err
	}
	if d.ways, err = tx.Ways(); err != nil {
		return err
	}
	view.Nobody, view.Unreached = d.unreached()
	view.OnIt, err = whoIsOnIt(tx, rounds.KeyOf(view.Round).String(), view.Now, view.Zone)
	return err
}

func (view *BoardView) readRest(tx Tx, now time.Time) error {
	since := now.Add(-24 * time.Hour)
	raised, err := tx.CautionsSince("", since)
	if err != nil {
		return err
	}
	for _, c := range raised {
		if !c.OpenAt(now) {
			view.Acted = append(view.Acted, c)
		}
	}
	past, err := tx.Rounds(view.Today-1, view.Today)
	if err != nil {
		return err
	}
	for _, r := range past {
		if r.State == tracker.RoundNoRecord {
			view.Missed = append(view.Missed, r)
		}
	}
	if view.Said, err = tx.Proposals(""); err != nil {
		return err
	}
	if view.Conflicts, err = tx.Conflicts(); err != nil {
		return err
	}
	if view.LookedAt, err = tx.LookedAt(); err != nil {
		return err
	}
	view.People, err = names(tx)
	return err
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
