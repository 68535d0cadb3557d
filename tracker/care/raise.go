package care

import (
	"cmp"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/cautions"
	"leground/tracker/healing"
)

// raiseFor looks at a new check with the rules of cautions. A check that has nothing to note, of a site
// whose label asks for nothing, cannot meet a rule that was not met before, unless the site was found that
// day: some rules are about finding it. The daily look finds the rules that only time meets. A danger counts
// on a look that was skipped too: it was seen.
func (s *Service) raiseFor(tx Tx, a Actor, m Moment, site tracker.Site, check tracker.Check, judged *tracker.Judgement) ([]tracker.Caution, error) {
	foundNow := site.ID != "" && tracker.DateOf(site.OpenedAt.In(m.Zone)) == check.Day
	if !notable(check) && !telling(judged) && !foundNow {
		return nil, nil
	}
	return s.raise(tx, a, m, check.Horse)
}

// notable tells whether a check has anything that a rule may look at.
func notable(c tracker.Check) bool {
	if len(c.Dangers) > 0 || len(c.Flags) > 0 || c.Bed == tracker.BedAbove || c.Size.BedMM > 0 || c.Vitals != (tracker.Vitals{}) || c.Version > 1 {
		return true
	}
	for sign, level := range c.Signs {
		if level > 1 || level == 1 && sign != tracker.Pulse {
			return true
		}
	}
	return false
}

// telling tells whether a label may call for the vet.
func telling(j *tracker.Judgement) bool {
	if j == nil {
		return false
	}
	switch healing.ParseLabel(j.Label) {
	case healing.Closing, healing.ClosedOver, healing.Clearing, healing.Clear, healing.TooEarly:
		return false
	}
	return true
}

// factDays is how many days of checks the rules look at.
const factDays = 8

// bodyDays is how far back looks at the whole horse count: the longest span that a rule about condition or
// girth may be set to.
const bodyDays = 91

// raise holds the rules against everything known of one horse and keeps what they newly meet. Ring now
// calls people in the same transaction.
func (s *Service) raise(tx Tx, a Actor, m Moment, id tracker.HorseID) ([]tracker.Caution, error) {
	now := m.Now.In(m.Zone)
	facts, e1 := factsOf(tx, m.Yard, id, now)
	force, e2 := settingsOf(tx, m.Yard)
	known, e3 := tx.CautionsSince(id, now.AddDate(0, -2, 0))
	if err := cmp.Or(e1, e2, e3); err != nil {
		return nil, err
	}
	var raised []tracker.Caution
	for _, fired := range cautions.Fire(facts, force.rules, now) {
		if yes, _ := cautions.Hold(known, fired, now); !yes {
			if err := addNumbers(tx, known, fired); err != nil {
				return nil, err
			}
			continue
		}
		caution := fired.Caution(tracker.CautionID(NewID()), now)
		if err := tx.AddCaution(caution); err != nil {
			return nil, err
		}
		if tell, reason := cautions.TellOwner(caution.Level, 0, a.Role); tell {
			if err := s.callNow(tx, caution, reason, now); err != nil {
				return nil, err
			}
		}
		known = append(known, caution)
		raised = append(raised, caution)
	}
	return raised, nil
}

// addNumbers puts newer numbers beside those of the caution that waits for them.
func addNumbers(tx Tx, known []tracker.Caution, fired cautions.Fired) error {
	i, met := cautions.Met(known, fired)
	if !met {
		return nil
	}
	err := tx.AddSighting(known[i], fired.Sighting())
	known[i].Later = append(known[i].Later, fired.Sighting())
	return err
}

// factsOf reads what the rules look at: the horse, its sites and a week of its checks.
func factsOf(tx Tx, yard tracker.Yard, id tracker.HorseID, now time.Time) (cautions.Facts, error) {
	today := tracker.DateOf(now)
	horse, e1 := tx.Horse(id)
	checks, e2 := tx.Checks(CheckQuery{Horse: id, From: today - factDays + 1})
	sites, e3 := tx.Sites(id)
	judgements, e4 := tx.Judgements(id)
	looks, e5 := tx.LastLooks(id)
	events, e6 := tx.Events(id, today-1)
	whole, e7 := tx.Checks(CheckQuery{Horse: id, Whole: true, From: today - bodyDays})
	facts := cautions.Facts{LegWords: yard.LegWords, Mark: yard.Mark, Horse: horse, Legs: legFacts(checks)}
	bodyFacts(&facts, whole, today)
	for _, site := range sites {
		if !site.Open() {
			continue
		}
		facts.Sites = append(facts.Sites, siteFacts(site, looks[site.ID], judgements[site.ID], events, now))
	}
	footFacts(&facts)
	return facts, cmp.Or(e1, e2, e3, e4, e5, e6, e7)
}

// bodyFacts sorts the looks at the whole horse, oldest first: vital signs of the last days, condition and
// girths over months. What was ticked of the horse counts today and yesterday.
func bodyFacts(facts *cautions.Facts, whole []tracker.Check, today tracker.Date) {
	girths := map[tracker.Leg][]cautions.Girth{}
	for _, c := range whole {
		if c.Outcome != tracker.Looked {
			continue
		}
		if v := c.Vitals.ConditionHalves; v != 0 {
			facts.Body.Scores = append(facts.Body.Scores, cautions.Score{At: c.At, Day: c.Day, Value: float64(v) / 2})
		}
		for i, mm := range c.Vitals.GirthMM {
			if leg := tracker.Leg(i + 1); mm != 0 {
				girths[leg] = append(girths[leg], cautions.Girth{At: c.At, Day: c.Day, MM: mm})
			}
		}
		facts.Body.FeedKnown = facts.Body.FeedKnown || slices.Contains(c.Flags, tracker.FeedKnown)
		if c.Day < today-1 {
			continue
		}
		facts.Vitals = append(facts.Vitals, c)
		facts.Body.Refeeding = slices.Contains(c.Flags, tracker.Refeeding)
		weak, sore := slices.Contains(c.Flags, tracker.Weak), slices.Contains(c.Flags, tracker.FootSore)
		if weak || sore { // a later look that did not tick it may not have looked for it
			facts.Body.Weak, facts.Body.FootSoreLook, facts.Body.Check = facts.Body.Weak || weak, facts.Body.FootSoreLook || sore, c
		}
	}
	for _, leg := range tracker.Legs() {
		i := slices.IndexFunc(facts.Legs, func(l cautions.LegFacts) bool { return l.Leg == leg })
		switch {
		case girths[leg] == nil:
		case i < 0:
			facts.Legs = append(facts.Legs, cautions.LegFacts{Leg: leg, Girths: girths[leg]})
		default:
			facts.Legs[i].Girths = girths[leg]
		}
	}
}

// footFacts lets a thrush score on a site of the foot count as a look at that foot.
func footFacts(facts *cautions.Facts) {
	for _, s := range facts.Sites {
		if _, scored := s.Check.Signs[tracker.Thrush]; !scored || !s.Site.Region.Foot() {
			continue
		}
		i := slices.IndexFunc(facts.Legs, func(l cautions.LegFacts) bool { return l.Leg == s.Site.Leg })
		if i < 0 {
			facts.Legs = append(facts.Legs, cautions.LegFacts{Leg: s.Site.Leg})
			i = len(facts.Legs) - 1
		}
		if s.Check.At.After(facts.Legs[i].Foot.At) {
			facts.Legs[i].Foot = s.Check
		}
	}
}

// legFacts sorts a week of checks by leg: the newest line, those before it, and since when it is cared for.
func legFacts(checks []tracker.Check) []cautions.LegFacts {
	byLeg := map[tracker.Leg]*cautions.LegFacts{}
	for i, c := range slices.Backward(checks) { // newest first
		if c.Leg == 0 || c.Subject == tracker.OfSite {
			continue
		}
		leg, ok := byLeg[c.Leg]
		if !ok {
			leg = &cautions.LegFacts{Leg: c.Leg}
			byLeg[c.Leg] = leg
		}
		switch {
		case c.Subject == tracker.OfFoot && leg.Foot.ID == "":
			leg.Foot = c
		case c.Subject == tracker.OfLeg && leg.Line.ID == "":
			leg.Line = c
		case c.Subject == tracker.OfLeg:
			leg.Earlier = append(leg.Earlier, c)
		}
		if len(c.Care) > 0 {
			leg.TreatedDays = int(checks[len(checks)-1].Day-checks[i].Day) + 1
		}
	}
	var out []cautions.LegFacts
	for _, leg := range tracker.Legs() {
		if facts, ok := byLeg[leg]; ok {
			out = append(out, *facts)
		}
	}
	return out
}

func siteFacts(site tracker.Site, look tracker.Check, judged tracker.Judgement, events []tracker.Event, now time.Time) cautions.SiteFacts {
	opened := tracker.DateOf(site.OpenedAt.In(now.Location()))
	today := tracker.DateOf(now)
	out := cautions.SiteFacts{
		Site: site, Place: tracker.RegionName(site.Leg, site.Region) + ", " + tracker.AspectName(site.Aspect), Check: look, Judged: judged,
		FirstLook: look.ID != "" && opened == today, DaysSinceFirst: int(today - opened), SlowDays: judged.SlowDays, OverdueTurn: judged.OverdueTurn,
	}
	for _, e := range events {
		out.Reopened = out.Reopened || e.Site == site.ID && e.Kind == tracker.Reopened
		out.JoinedNow = out.JoinedNow || e.Kind == tracker.Joined && e.Note == string(site.ID)
	}
	return out
}
