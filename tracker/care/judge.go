package care

import (
	"cmp"

	"leground/tracker"
	"leground/tracker/healing"
)

// judgeCheck judges the site of a check that was recorded, put right or taken back, after the measuring
// spread that its second readings show. A wound whose label is "closed over" leaves the round and stays on its
// horse's page; one that is not, once a look that closed it was put right, is open again.
func judgeCheck(tx Tx, a Actor, m Moment, site tracker.Site, check tracker.Check) (*tracker.Judgement, error) {
	changed := check.Version > 1
	if check.Subject != tracker.OfSite || check.Outcome == tracker.Skipped && !changed {
		return nil, nil
	}
	if check.Blind != "" || changed {
		if err := calibrate(tx, a, m); err != nil {
			return nil, err
		}
	}
	judged, err := rejudge(tx, m, site)
	if err == nil && changed {
		last := m.horizon() // no look since: older judgements stand
		if judged != nil {
			last = judged.Day
		}
		err = tx.DropJudgements(site.ID, last)
	}
	if err != nil {
		return nil, err
	}
	switch closed := judged != nil && judged.Label == healing.ClosedOver.String(); {
	case closed && site.ClosedOn == 0:
		site.ClosedOn = judged.Day
		err = tx.SaveSite(site)
	case !closed && changed && site.ClosedOn > m.horizon():
		site.ClosedOn = 0
		err = tx.SaveSite(site)
	}
	return judged, err
}

// horizon gives the last day that is too old to bear on any label.
func (m Moment) horizon() tracker.Date { return m.Today - healing.HorizonDays }

// rejudge judges a site anew after something about it was recorded, and keeps the judgement as of the
// site's last look.
func rejudge(tx Tx, m Moment, site tracker.Site) (*tracker.Judgement, error) {
	looks, err := tx.Series(site.ID, m.horizon()+1, site.Kind == tracker.Wound)
	if err != nil || len(looks) == 0 {
		return nil, err
	}
	asOf := looks[len(looks)-1].Day
	judged := healing.JudgePatch(healing.NewPatch(looks), asOf).Record(site.ID, m.Now)
	if site.Kind == tracker.Wound {
		wound, err := judgeWound(tx, m.Yard, site, looks, asOf)
		if err != nil {
			return nil, err
		}
		judged = wound.Record(site.ID, m.Yard.Mark, m.Now)
	}
	return &judged, tx.SaveJudgement(judged)
}

// judgeWound gives healing what it needs of a wound: ninety days of sizes, the first size ever, and what
// happened in between.
func judgeWound(tx Tx, yard tracker.Yard, site tracker.Site, looks []tracker.Check, asOf tracker.Date) (healing.Judgement, error) {
	from := asOf - healing.HorizonDays + 1
	events, e1 := tx.Events(site.Horse, from)
	force, e2 := settingsOf(tx, yard)
	if err := cmp.Or(e1, e2); err != nil {
		return healing.Judgement{}, err
	}
	in := healing.NewSite(site, looks, eventsOn(site, events))
	if looks[0].Day <= from+1 { // there may be older ones
		firsts, e1 := tx.FirstSizes(site.Horse)
		reset, e2 := tx.LastReset(site, asOf)
		if err := cmp.Or(e1, e2); err != nil {
			return healing.Judgement{}, err
		}
		in.First = firsts[site.ID].Day
		if reset != 0 && reset < from {
			in.Resets = append(in.Resets, reset)
		}
		if base, ok := firsts[site.ID]; ok && base.Day >= reset {
			in.Readings = append(in.Readings, healing.NewSite(site, []tracker.Check{base}, nil).Readings...)
		}
	}
	return healing.Judge(in, force.of(site.ID), asOf), nil
}

// eventsOn keeps the events that bear on a site: its own, its leg's and the whole horse's, and that another
// site has joined it.
func eventsOn(site tracker.Site, events []tracker.Event) []tracker.Event {
	var out []tracker.Event
	for _, e := range events {
		if e.Site == site.ID || e.Site == "" && (e.Leg == 0 || e.Leg == site.Leg) || e.Kind == tracker.Joined && e.Note == string(site.ID) {
			out = append(out, e)
		}
	}
	return out
}
