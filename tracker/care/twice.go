package care

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// saying is that somebody recorded one thing as done: on a leg line, on a card, or on the Due list.
type saying struct {
	by   tracker.PersonID
	at   time.Time // when it was done
	kept time.Time // when it came here
	tick bool      // on the Due list
}

// doing is one thing that is done once in a round: care of a leg or site, or what a plan asks for.
type doing struct {
	horse tracker.HorseID
	leg   tracker.Leg
	site  tracker.SiteID
	what  string // "washed", "Paste B given"
}

// twiceDone lists what was recorded as done more than once in a round, by people who may not have known of each other.
// What one person says on the Due list and on the leg line is one thing.
func (st yardState) twiceDone(r tracker.Round, checks []tracker.Check) (order []doing, said map[doing][]saying) {
	said = map[doing][]saying{}
	say := func(d doing, s saying) {
		if len(said[d]) == 0 {
			order = append(order, d)
		}
		if !s.tick || !slices.ContainsFunc(said[d], func(have saying) bool { return have.by == s.by }) {
			said[d] = append(said[d], s)
		}
	}
	for _, c := range checks {
		if c.Outcome == tracker.Looked && c.RoundDay == r.Day && c.Slot == r.Slot {
			for _, act := range c.Care {
				say(doing{c.Horse, c.Leg, c.Site, strings.ToLower(tracker.CareName(act))}, saying{c.Looker, c.At, c.ServerAt, false})
			}
		}
	}
	ticks := slices.DeleteFunc(slices.Clone(st.ticks), func(t tracker.TickOff) bool {
		return t.Outcome != tracker.TickDone || t.Day != r.Day || t.Slot != r.Slot
	})
	if len(ticks) > 0 {
		for _, a := range st.askedIn(r) {
			what := strings.ToLower(tracker.CareName(a.Step.Kind.Act()))
			switch a.Step.Kind {
			case tracker.StepGive:
				what = a.Step.Of + " given"
			case tracker.StepWalk:
				what = "walked"
			}
			for _, t := range ticks {
				if slices.Contains(t.Items, a.When.ID) {
					say(doing{a.Plan.Horse, a.Leg, "", what}, saying{t.By, t.At, t.At, true})
				}
			}
		}
	}
	order = slices.DeleteFunc(order, func(d doing) bool { return len(said[d]) < 2 })
	return order, said
}

// givenTwice asks the owners about what was recorded as done twice in a round, a message for each horse.
func (d *desk) givenTwice() (out []notice, err error) {
	for _, r := range d.rounds {
		if r.Day < d.Today-1 || r.DueAt.After(d.Now.Add(12*time.Hour)) {
			continue
		}
		order, said := d.twiceDone(r, d.recent)
		for _, horse := range d.horses {
			if !slices.ContainsFunc(order, func(it doing) bool { return it.horse == horse.ID }) {
				continue
			}
			n := notice{Notice: rounds.Notice{Subject: "twice " + rounds.KeyOf(r).String() + " " + string(horse.ID)}, owners: true, link: "/horse/" + string(horse.ID), horses: []tracker.HorseID{horse.ID},
				title: fmt.Sprintf("Given twice? %s, %s round", horse.Name, r.Slot), brief: fmt.Sprintf("Given twice? %s round", tracker.Capital(r.Slot))}
			for _, it := range order {
				if it.horse != horse.ID {
					continue
				}
				var who []string
				for _, s := range said[it] {
					who = append(who, fmt.Sprintf("%s at %s", d.personName(s.by), s.at.In(d.Zone).Format("15:04")))
					n.At = latest(n.At, s.kept)
				}
				where := cmp.Or(d.siteTag(it.site), it.leg.String())
				n.lines = append(n.lines, strings.TrimPrefix(where+": ", ": ")+it.what+" by "+strings.Join(who, " and by ")+".")
			}
			n.lines = append(n.lines, "Both records are kept. Ask them, and take back what was not done.")
			out = append(out, n)
		}
	}
	return out, nil
}

// personName gives the name of somebody who is told things in the yard.
func (d *desk) personName(id tracker.PersonID) string {
	for _, c := range d.contacts {
		if c.ID == id {
			return c.Name
		}
	}
	return "somebody who has left"
}
