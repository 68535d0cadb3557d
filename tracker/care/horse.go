package care

import (
	"cmp"
	"context"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/healing"
)

// HorseView is one horse's page: its four legs and each site's history over a span of days.
type HorseView struct {
	Moment
	Horse    tracker.Horse
	From, To tracker.Date
	Earlier  bool // there may be checks before From
	Sites    []SiteHistory
	Lines    []tracker.Check // leg lines and whole-horse checks, every version, newest first
	Events   []tracker.Event
	Cautions []tracker.Caution  // of the last 30 days, newest first
	Asking   []tracker.Caution  // open, however old, most urgent first
	Picture  healing.Picture    // how its open sites go together
	Legs     []healing.Picture  // and those of each leg that has one
	Visit    tracker.Date       // the vet's next one that somebody noted; zero: none
	Said     []tracker.Proposal // what the vet wrote and waits for an answer, or is in force
	People   map[tracker.PersonID]string
}

// SiteHistory is one site over the span.
type SiteHistory struct {
	Site      tracker.Site
	Judgement *tracker.Judgement
	Settings  healing.Settings // what it is judged by
	First     *tracker.Check   // the first look with a size, however old
	Current   []tracker.Check  // current versions, oldest first
	All       []tracker.Check  // every version, newest first
	Photos    map[tracker.RecordID]tracker.Photo
	Events    []tracker.Event // on the site, its leg or the whole horse
}

// HorseSpan is how many days one page of a horse holds. It covers the longest window of a judgement, so
// that a page costs the same after five years as after two months.
const HorseSpan = 42

// Horse gives the page of a horse for the span of days that ends on a day; the zero Date means today.
func (s *Service) Horse(ctx context.Context, a Actor, id tracker.HorseID, to tracker.Date) (HorseView, error) {
	return s.horseOver(ctx, a.Yard, id, to, HorseSpan)
}

// TrendMost is how many days a trend sheet holds at most: a chart of more dots cannot be read, and what a
// page costs must not grow with the years.
const TrendMost = 400

// Trend gives what a horse's trend sheet shows: so many days up to today, at most TrendMost.
func (s *Service) Trend(ctx context.Context, a Actor, id tracker.HorseID, days int) (HorseView, error) {
	return s.horseOver(ctx, a.Yard, id, 0, min(max(days, 1), TrendMost))
}

func (s *Service) horseOver(ctx context.Context, yard tracker.YardID, id tracker.HorseID, to tracker.Date, days int) (HorseView, error) {
	return reading(ctx, s, yard, func(tx Tx, now time.Time) (HorseView, error) { return readHorse(tx, now, id, to, days) })
}

func readHorse(tx Tx, now time.Time, id tracker.HorseID, to tracker.Date, days int) (HorseView, error) {
	moment, err := momentOf(tx, now)
	if err != nil {
		return HorseView{}, err
	}
	if to == 0 || to > moment.Today {
		to = moment.Today
	}
	view := HorseView{Moment: moment, From: to - tracker.Date(days) + 1, To: to}
	if view.Horse, err = tx.Horse(id); err != nil {
		return view, err
	}
	err = view.read(tx)
	return view, err
}

func (view *HorseView) read(tx Tx) error {
	id := view.Horse.ID
	var e1, e2, e3, e4 error
	view.People, e1 = names(tx)
	view.Events, e2 = tx.Events(id, view.From)
	view.Cautions, e3 = tx.CautionsSince(id, view.Now.AddDate(0, 0, -30))
	view.Said, e4 = tx.Proposals(id)
	sites, e5 := tx.Sites(id)
	judgements, e6 := tx.Judgements(id)
	firsts, e7 := tx.FirstSizes(id)
	open, e8 := tx.OpenCautions()
	checks, e9 := tx.Checks(CheckQuery{Horse: id, From: view.From, To: view.To, All: true})
	photos, e10 := tx.PhotosBetween(id, view.From.Time().AddDate(0, 0, -1), view.To.Time().AddDate(0, 0, 2))
	force, e11 := settingsOf(tx, view.Yard)
	visits, e12 := nextVisits(tx, view.Today)
	if err := cmp.Or(e1, e2, e3, e4, e5, e6, e7, e8, e9, e10, e11, e12); err != nil {
		return err
	}
	view.Asking = slices.DeleteFunc(open, func(c tracker.Caution) bool { return c.Horse != id })
	view.Visit = visits[id]
	view.Earlier = view.Horse.CreatedAt.Before(view.From.Time())
	for _, site := range sites {
		history := siteHistory(site, judgements, firsts, checks, photos, view.Events)
		history.Settings = force.of(site.ID)
		view.Sites = append(view.Sites, history)
	}
	view.Lines = slices.DeleteFunc(slices.Clone(checks), func(c tracker.Check) bool { return c.Subject == tracker.OfSite })
	view.Picture, view.Legs = healing.Whole(view.standings(), view.To)
	slices.Reverse(view.Lines)
	return nil
}

// standings are the horse's open sites with how each goes.
func (view *HorseView) standings() []healing.Standing {
	treated := map[tracker.Leg]tracker.Date{}
	for _, c := range Current(view.Lines) {
		if len(c.Care) > 0 && treated[c.Leg] == 0 && c.Day > view.To-factDays {
			treated[c.Leg] = c.Day
		}
	}
	var out []healing.Standing
	for _, s := range view.Sites {
		if !s.Site.Open() {
			continue
		}
		standing := standingOf(s.Site, s.Judgement)
		standing.First, standing.LegTreated = tracker.DateOf(s.Site.OpenedAt.In(view.Zone)), treated[s.Site.Leg]
		for _, e := range s.Events {
			standing.Reopened = standing.Reopened || e.Kind == tracker.Reopened && e.Site == s.Site.ID
		}
		out = append(out, standing)
	}
	return out
}

// standingOf is a site with what its newest judgement says.
func standingOf(site tracker.Site, j *tracker.Judgement) healing.Standing {
	out := healing.Standing{Site: site}
	if j != nil {
		out.Label, out.Remeasure = healing.ParseLabel(j.Label), j.Remeasure
		out.Active, out.Chronic = healing.Score{Sum: j.Active, Judged: j.ActiveJudged}, healing.Score{Sum: j.Chronic, Judged: j.ChronicJudged}
	}
	return out
}

func siteHistory(site tracker.Site, judgements map[tracker.SiteID]tracker.Judgement, firsts map[tracker.SiteID]tracker.Check, checks []tracker.Check, photos []tracker.Photo, events []tracker.Event) SiteHistory {
	out := SiteHistory{Site: site, Photos: map[tracker.RecordID]tracker.Photo{}}
	if j, ok := judgements[site.ID]; ok {
		out.Judgement = &j
	}
	if first, ok := firsts[site.ID]; ok {
		out.First = &first
	}
	for _, c := range checks {
		if c.Site == site.ID {
			out.All = append(out.All, c)
		}
	}
	out.Current = Current(out.All)
	slices.Reverse(out.All)
	for _, p := range photos {
		if p.Site == site.ID {
			out.Photos[p.Check] = p
		}
	}
	for _, e := range events {
		if e.Site == site.ID || e.Site == "" && (e.Leg == 0 || e.Leg == site.Leg) {
			out.Events = append(out.Events, e)
		}
	}
	return out
}

// Current keeps the newest version of each check, in the order given, and leaves out what was taken back.
func Current(checks []tracker.Check) []tracker.Check {
	newest := map[tracker.RecordID]int{}
	for _, c := range checks {
		newest[c.Root] = max(newest[c.Root], c.Version)
	}
	return slices.DeleteFunc(slices.Clone(checks), func(c tracker.Check) bool {
		return c.Version < newest[c.Root] || c.Outcome == tracker.Retracted
	})
}

// CheckView is one check with everything it ever said.
type CheckView struct {
	Moment
	Horse    tracker.Horse
	Site     tracker.Site // zero for a leg line
	Versions []tracker.Check
	People   map[tracker.PersonID]string
}

// Last is the version that counts.
func (v CheckView) Last() tracker.Check { return v.Versions[len(v.Versions)-1] }

// Check gives every version of a check, oldest first, found by the id of any of them.
func (s *Service) Check(ctx context.Context, a Actor, id tracker.RecordID) (CheckView, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (CheckView, error) {
		var view CheckView
		check, err := tx.CheckByRecord(id)
		if err != nil {
			return view, err
		}
		var errs [5]error
		view.Versions, errs[0] = tx.Versions(check.Root)
		view.Moment, errs[1] = momentOf(tx, now)
		view.Horse, errs[2] = tx.Horse(check.Horse)
		view.People, errs[3] = names(tx)
		if check.Subject == tracker.OfSite {
			view.Site, errs[4] = tx.Site(check.Site)
		}
		return view, cmp.Or(errs[:]...)
	})
}

// nextVisits gives, for each horse, the day of the vet's next visit that somebody noted, on the horse's page or
// under what is due once: today or later.
func nextVisits(tx Tx, today tracker.Date) (map[tracker.HorseID]tracker.Date, error) {
	events, e1 := tx.Events("", today)
	once, e2 := tx.OneOffs(today)
	horses, e3 := tx.Horses()
	next := map[tracker.HorseID]tracker.Date{}
	visit := func(horse tracker.HorseID, day tracker.Date) {
		if known := next[horse]; known == 0 || day < known {
			next[horse] = day
		}
	}
	for _, e := range events {
		if e.Kind == tracker.VetVisit {
			visit(e.Horse, e.Day)
		}
	}
	for _, o := range once {
		for _, h := range horses {
			if o.Kind == tracker.VetComes && o.Settled.IsZero() && o.Day >= today && (o.Horse == "" || o.Horse == h.ID) {
				visit(h.ID, o.Day)
			}
		}
	}
	return next, cmp.Or(e1, e2, e3)
}
