package care

import (
	"time"

	"leground/tracker"
	"leground/tracker/healing"
)

// rejudge judges a site anew after something about it was recorded, and keeps the judgement as of the
// site's last look. A wound whose label is "closed over" leaves the round; it stays on its horse's page.
func rejudge(tx Tx, yard tracker.Yard, site tracker.Site, now time.Time) (*tracker.Judgement, error) {
	zone, err := location(yard)
	if err != nil {
		return nil, err
	}
	today := tracker.DateOf(now.In(zone))
	looks, err := tx.Series(site.ID, today-healing.HorizonDays+1, site.Kind == tracker.Wound)
	if err != nil || len(looks) == 0 {
		return nil, err
	}
	asOf := looks[len(looks)-1].Day
	judged := healing.JudgePatch(healing.NewPatch(looks), asOf).Record(site.ID, now)
	if site.Kind == tracker.Wound {
		wound, err := judgeWound(tx, yard, site, looks, asOf)
		if err != nil {
			return nil, err
		}
		judged = wound.Record(site.ID, yard.Mark, now)
	}
	if err := tx.SaveJudgement(judged); err != nil {
		return nil, err
	}
	if judged.Label == healing.ClosedOver.String() && site.ClosedOn == 0 {
		site.ClosedOn = asOf
		err = tx.SaveSite(site)
	}
	return &judged, err
}

// rejudgeChanged is rejudge after a look was put right or taken back: judgements that were drawn from it go,
// and a site that it had closed is open again.
func rejudgeChanged(tx Tx, yard tracker.Yard, site tracker.Site, now time.Time) (*tracker.Judgement, error) {
	zone, err := location(yard)
	if err != nil {
		return nil, err
	}
	closed := site.ClosedOn != 0
	site.ClosedOn = 0
	judged, err := rejudge(tx, yard, site, now)
	if err != nil {
		return nil, err
	}
	last := tracker.DateOf(now.In(zone)) - healing.HorizonDays // no look since: older judgements stand
	if judged != nil {
		last = judged.Day
	}
	if err := tx.DropJudgements(site.ID, last); err != nil {
		return nil, err
	}
	if closed && (judged == nil || judged.Label != healing.ClosedOver.String()) {
		err = tx.SaveSite(site)
	}
	return judged, err
}

// judgeWound gives healing what it needs of a wound: ninety days of sizes, the first size ever, and what
// happened in between.
func judgeWound(tx Tx, yard tracker.Yard, site tracker.Site, looks []tracker.Check, asOf tracker.Date) (healing.Judgement, error) {
	from := asOf - healing.HorizonDays + 1
	events, err := tx.Events(site.Horse, from)
	if err != nil {
		return healing.Judgement{}, err
	}
	in := healing.NewSite(site, looks, eventsOn(site, events))
	if looks[0].Day <= from+1 { // there may be older ones
		firsts, err := tx.FirstSizes(site.Horse)
		if err != nil {
			return healing.Judgement{}, err
		}
		in.First = firsts[site.ID].Day
		reset, err := tx.LastReset(site, asOf)
		if err != nil {
			return healing.Judgement{}, err
		}
		if reset != 0 && reset < from {
			in.Resets = append(in.Resets, reset)
		}
		if base, ok := firsts[site.ID]; ok && base.Day >= reset {
			in.Readings = append(in.Readings, healing.NewSite(site, []tracker.Check{base}, nil).Readings...)
		}
	}
	return healing.Judge(in, settingsOf(yard), asOf), nil
}

// eventsOn keeps the events that bear on a site: its own, its leg's and the whole horse's.
func eventsOn(site tracker.Site, events []tracker.Event) []tracker.Event {
	var out []tracker.Event
	for _, e := range events {
		if e.Site == site.ID || e.Site == "" && (e.Leg == 0 || e.Leg == site.Leg) {
			out = append(out, e)
		}
	}
	return out
}

// settingsOf gives the yard's settings for judging.
func settingsOf(yard tracker.Yard) healing.Settings {
	s := healing.DefaultSettings()
	s.SpreadMM = yard.SpreadMM
	return s
}
