package care

import (
	"fmt"
	"strings"

	"leground/tracker"
	"leground/tracker/rounds"
)

// newsHead begins a message of a kind.
func (d *desk) newsHead(kind tracker.NewsKind) tracker.News {
	return tracker.News{Kind: kind, Yard: d.Yard.Name, MadeUp: d.Yard.MadeUp}
}

// nameOf names a horse of the yard, and says so when it is not in it today.
func (st yardState) nameOf(id tracker.HorseID) string { return st.nameAll()[id] }

func (st yardState) nameAll() map[tracker.HorseID]string {
	out := map[tracker.HorseID]string{}
	for _, h := range st.all {
		place := h.Place
		if place == tracker.Here && st.awayOn(h.ID, st.Today) {
			place = tracker.Away
		}
		if out[h.ID] = h.Name; place != tracker.Here {
			out[h.ID] += " (" + tracker.PlaceName(place) + ")"
		}
	}
	return out
}

// newsOfRound says which horses and legs rounds are about, in walking order, open cautions first with whom
// to ring.
func (d *desk) newsOfRound(group asked) tracker.News {
	first := group.rounds[0]
	var slots []string
	for _, r := range group.rounds {
		slots = append(slots, r.Slot)
	}
	out := d.newsHead(tracker.NewsRound)
	out.Round = strings.Join(slots, " and ") + " round"
	out.Due, out.UseBy, out.Link = tracker.TimeName(first.DueAt, d.Zone), first.UseBy.In(d.Zone).Format("15:04"), "/round"
	out.Cautions, out.Mixes = d.openFor(), d.passing(first.UseBy)
	var plans []rounds.Asked
	for _, r := range group.rounds {
		plans = append(plans, d.askedIn(r)...)
	}
	out.Lines = d.horseAsks(plans)
	for _, horse := range d.horses {
		if d.awayOn(horse.ID, first.Day) {
			continue
		}
		entry := tracker.NewsHorse{Name: horse.Name, Note: horse.Handling}
		if horse.Isolated(d.Today) {
			entry.Note = strings.TrimSpace("In isolation: own kit, wash hands. " + horse.Handling)
		}
		something := false
		for _, leg := range horse.OrderIn(d.Yard) {
			what := d.openOn(horse.ID, leg) + careOn(plans, horse.ID, leg)
			something = something || what != lookAndPass
			entry.Legs = append(entry.Legs, tracker.NewsLeg{Name: tracker.LegName(leg, d.Yard.LegWords), What: what})
		}
		if !something { // the message then says so once
			entry.Legs = nil
		}
		out.Horses = append(out.Horses, entry)
	}
	return out
}

// lookAndPass is what there is to do on a leg with nothing on it.
const lookAndPass = "nothing open: look and pass"

func (st yardState) openOn(horse tracker.HorseID, leg tracker.Leg) string {
	var tags []string
	for _, site := range st.sites {
		if site.Horse == horse && site.Leg == leg && site.Open() {
			tags = append(tags, site.Tag())
		}
	}
	if len(tags) == 0 {
		return lookAndPass
	}
	return strings.Join(tags, ", ")
}

// newsOfCaution says what a message says of a caution.
func newsOfCaution(yard tracker.Yard, horse string, sites []tracker.Site, c tracker.Caution) tracker.NewsCaution {
	where := horse
	if c.Leg != 0 {
		where += ", " + tracker.LegName(c.Leg, yard.LegWords)
	}
	for _, site := range sites {
		if site.ID == c.Site {
			where = horse + ", " + tracker.SiteName(site, yard.LegWords)
		}
	}
	return tracker.NewsCaution{Level: tracker.LevelName(c.Level), Where: where, Seen: c.Words(), Next: c.Next, Ring: yard.RingName, Number: yard.RingNumber}
}

// carry adds to a message about a round what is due to the same person now anyway, and gives what that is:
// rounds that could not be said in time, notices, and cautions to ring today, which the message shows first.
func (d *desk) carry(says *tracker.News, c Contact) []Carried {
	var out []Carried
	for _, row := range d.foldedFor(c) {
		says.Lines = append(says.Lines, "You could not be told in time: "+d.roundLine(row.Subject))
		out = append(out, Carried{rounds.AboutRound, row.Subject})
	}
	for _, n := range d.notices {
		if !n.alone && d.decideNotice(n, c, d.told(c.ID, rounds.AboutNotice, n.Subject, 0)).Act == rounds.Send {
			says.Lines = append(says.Lines, n.lines...)
			out = append(out, Carried{rounds.AboutNotice, n.Subject})
		}
	}
	for _, caution := range d.cautions {
		if caution.Level == tracker.RingToday && caution.OpenAt(d.Now) &&
			d.decideToday(caution, c, d.told(c.ID, rounds.AboutToday, string(caution.ID), 0)).Act == rounds.Send {
			out = append(out, Carried{rounds.AboutToday, string(caution.ID)})
		}
	}
	return out
}

// roundLine says how a round stands, by the name of its subject: "Sun 12 May, evening round: no record."
func (d *desk) roundLine(subject string) string {
	for _, r := range d.rounds {
		if rounds.KeyOf(r).String() == subject {
			return fmt.Sprintf("%s, %s round: %s.", tracker.DayName(r.Day), r.Slot, tracker.RoundStateName(r.State))
		}
	}
	key := keyOf(subject)
	return fmt.Sprintf("%s, %s round.", tracker.DayName(key.Day), key.Slot)
}
