package care

import (
	"cmp"
	"context"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/healing"
)

// VetListView is everything in the yard that needs a vet, worst first.
type VetListView struct {
	Moment
	From   tracker.Date // of the histories
	To     tracker.Date
	Needs  []VetNeed
	Visits map[tracker.HorseID]tracker.Date // the vet's next one that somebody noted
	People map[tracker.PersonID]string
}

// VetNeed is one site, leg or horse that needs the vet, and why.
type VetNeed struct {
	Horse    tracker.Horse
	Leg      tracker.Leg       // zero: the whole horse
	Site     *SiteHistory      // nil: not of one site; without checks past the first ChartsMost sites
	Cautions []tracker.Caution // that are not closed, most urgent first
	Picture  healing.Picture   // of the horse
}

// Together tells whether the site gets worse together with others, which says more than it alone.
func (n VetNeed) Together() bool {
	return n.Site != nil && n.Picture.Together && slices.Contains(n.Picture.Worse, n.Site.Site.ID)
}

// The vet's list: days of history, and how many sites come with a chart, so that a bad week in a large yard
// costs no more than a page may.
const (
	VetListDays = 28
	ChartsMost  = 12
)

// VetList gives all sites that need a vet, worst first: those with a caution that is not closed and those
// whose label calls for the vet by itself, whatever was done about it; then legs and horses with a caution.
func (s *Service) VetList(ctx context.Context, a Actor) (VetListView, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (VetListView, error) {
		st, err := readYard(tx, a, now)
		if err != nil {
			return VetListView{}, err
		}
		view := VetListView{Moment: st.Moment, From: st.Today - VetListDays + 1, To: st.Today, Needs: st.vetNeeds()}
		var e1, e2 error
		view.Visits, e1 = nextVisits(tx, st.Today)
		view.People, e2 = names(tx)
		e3 := view.readCharts(tx)
		return view, cmp.Or(e1, e2, e3)
	})
}

// vetNeeds lists what needs the vet, worst first, without histories.
func (st yardState) vetNeeds() []VetNeed {
	var needs []VetNeed
	for _, horse := range st.all {
		if horse.Place == tracker.Gone {
			continue
		}
		var standings []healing.Standing
		var of []VetNeed
		for _, site := range st.sites {
			if site.Horse != horse.ID || !site.Open() {
				continue
			}
			history := SiteHistory{Site: site}
			if j, ok := st.judgements[site.ID]; ok {
				history.Judgement = &j
			}
			standings = append(standings, standingOf(site, history.Judgement))
			need := VetNeed{Horse: horse, Leg: site.Leg, Site: &history}
			need.Cautions = st.cautionsOf(func(c tracker.Caution) bool { return c.Site == site.ID })
			if len(need.Cautions) > 0 || st.labelNeedsVet(history) {
				of = append(of, need)
			}
		}
		for _, leg := range append([]tracker.Leg{0}, tracker.Legs()...) {
			need := VetNeed{Horse: horse, Leg: leg}
			need.Cautions = st.cautionsOf(func(c tracker.Caution) bool { return c.Horse == horse.ID && c.Leg == leg && c.Site == "" })
			if len(need.Cautions) > 0 {
				of = append(of, need)
			}
		}
		picture, _ := healing.Whole(standings, st.Today)
		for _, need := range of {
			need.Picture = picture
			needs = append(needs, need)
		}
	}
	slices.SortStableFunc(needs, worstFirst)
	return needs
}

func (st yardState) cautionsOf(about func(tracker.Caution) bool) []tracker.Caution {
	var out []tracker.Caution
	for _, c := range st.cautions {
		if about(c) && !c.Closed() {
			out = append(out, c)
		}
	}
	return out
}

// labelNeedsVet tells whether a label by itself calls for the vet (healing's own table of when to ring). A
// patch may stay as it is for a week.
func (st yardState) labelNeedsVet(s SiteHistory) bool {
	if s.Judgement == nil {
		return false
	}
	switch healing.ParseLabel(s.Judgement.Label) {
	case healing.Widening, healing.Worse, healing.NotClosing:
		return true
	case healing.NoChange:
		return int(st.Today-tracker.DateOf(s.Site.OpenedAt.In(st.Zone))) >= 7
	}
	return false
}

// worstFirst puts the more urgent caution first; then sites that get worse together before one that does
// alone, the worse label, and the higher active score. Within that the order of horses and legs stays.
func worstFirst(a, b VetNeed) int {
	level := func(n VetNeed) tracker.Level {
		if len(n.Cautions) == 0 {
			return tracker.NextVisit + 1
		}
		return n.Cautions[0].Level
	}
	together := func(n VetNeed) int {
		if n.Together() {
			return len(n.Picture.Worse)
		}
		return 0
	}
	grave := func(n VetNeed) (gravity, active int) {
		if n.Site == nil || n.Site.Judgement == nil {
			return -1, 0
		}
		return healing.ParseLabel(n.Site.Judgement.Label).Gravity(), n.Site.Judgement.Active
	}
	ga, aa := grave(a)
	gb, ab := grave(b)
	return cmp.Or(cmp.Compare(level(a), level(b)), cmp.Compare(together(b), together(a)), cmp.Compare(gb, ga), cmp.Compare(ab, aa))
}

// readCharts reads the histories of the first sites of the list.
func (view *VetListView) readCharts(tx Tx) error {
	events, e1 := tx.Events("", view.From)
	force, e2 := settingsOf(tx, view.Yard)
	if err := cmp.Or(e1, e2); err != nil {
		return err
	}
	firsts := map[tracker.HorseID]map[tracker.SiteID]tracker.Check{}
	charts := 0
	for _, need := range view.Needs {
		if need.Site == nil || charts == ChartsMost {
			continue
		}
		charts++
		var e1 error
		if firsts[need.Horse.ID] == nil {
			firsts[need.Horse.ID], e1 = tx.FirstSizes(need.Horse.ID)
		}
		checks, e2 := tx.Checks(CheckQuery{Site: need.Site.Site.ID, From: view.From, To: view.To})
		if err := cmp.Or(e1, e2); err != nil {
			return err
		}
		of := slices.DeleteFunc(slices.Clone(events), func(e tracker.Event) bool { return e.Horse != need.Horse.ID })
		full := siteHistory(need.Site.Site, nil, firsts[need.Horse.ID], checks, nil, of)
		full.Judgement, full.Settings = need.Site.Judgement, force.of(need.Site.Site.ID)
		*need.Site = full
	}
	return nil
}
