package care

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// mixUse is how long after its throw-away time somebody is still told of a mix. Later it stands on the Board.
const mixUse = 4 * time.Hour

// mixNotices tell of mixes that are past their throw-away time and are still there.
func (d *desk) mixNotices() (out []notice, err error) {
	d.mixes, err = d.tx.Mixes(d.Now.Add(-mixUse))
	for _, m := range d.mixes {
		if m.ThrowAway.IsZero() {
			continue
		}
		at := d.endWords(m.ThrowAway, m.ThrowAway.In(d.Zone).Format("15:04"))
		n := notice{
			Notice: rounds.Notice{Subject: "mix " + string(m.ID), At: m.ThrowAway, UseBy: m.ThrowAway.Add(mixUse)},
			title:  "Throw away: " + m.Facts.Name,
			lines:  []string{fmt.Sprintf("%s, mixed at %s, was to be thrown away at %s.", m.Facts.Name, tracker.TimeName(m.MadeAt, d.Zone), at)},
			link:   "/mix/" + string(m.ID),
		}
		if m.Horse != "" {
			n.horses = []tracker.HorseID{m.Horse}
		}
		out = append(out, n)
	}
	return out, err
}

// passing lists the mixes whose time passes before a round is over, for its message.
func (d *desk) passing(until time.Time) (out []tracker.NewsMix) {
	for _, m := range slices.Backward(d.mixes) {
		if m.ThrowAway.IsZero() || !m.ThrowAway.Before(until) {
			continue
		}
		at := m.ThrowAway.In(d.Zone).Format("15:04") + " today"
		if day := tracker.DateOf(m.ThrowAway.In(d.Zone)); day != d.Today {
			at = tracker.TimeName(m.ThrowAway, d.Zone)
		}
		out = append(out, tracker.NewsMix{Name: m.Facts.Name, ThrowAway: d.endWords(m.ThrowAway, at)})
	}
	return out
}

// endWords say when something ends, of a midnight by the day that it ends.
func (m Moment) endWords(at time.Time, otherwise string) string {
	if day, midnight := tracker.EndDay(at, m.Zone); midnight {
		return "the end of " + tracker.DayName(day)
	}
	return otherwise
}

// supplyNotices tell owners once a day that what a plan uses will not last: not until the plan's end, or not
// until a delivery comes. Stores is read only at the first look after the day's first round is due, and while
// such a message waits.
func (d *desk) supplyNotices() (out []notice, err error) {
	first := d.firstRound(d.Today)
	waits := slices.ContainsFunc(d.history, func(r Reminder) bool {
		return strings.HasPrefix(r.Subject, "supply ") && (r.State == rounds.Planned || r.State == rounds.Sending)
	})
	if !waits && (d.Now.Before(first) || d.since.After(first)) {
		return nil, nil
	}
	if len(d.plans) == 0 {
		return nil, nil
	}
	until := d.usedUntil()
	shelf, err := readStores(d.tx, Actor{}, d.Now)
	if err == nil {
		err = shelf.readPlannedUse(d.tx, d.yardState)
	}
	if err != nil {
		return nil, err
	}
	for _, product := range shelf.products {
		lasts, err := shelf.supply(product)
		if err != nil {
			return nil, err
		}
		last, named := until[product.ID]
		words := lasts.Words(d.Yard.Mark)
		short := last != 0 && d.Today+tracker.Date(lasts.Days) < last
		if words == "" || !named && !lasts.ByPlan || !short && !lasts.Reorder {
			continue
		}
		if short {
			words += " The plan goes on until " + tracker.DayName(last) + "."
		}
		out = append(out, notice{
			Notice: rounds.Notice{Subject: "supply " + string(product.ID) + " " + weekOf(d.Today).String(), At: first},
			title:  "Running out: " + product.Name, lines: []string{product.Name + ": " + words}, link: "/stores/product/" + string(product.ID), owners: true,
		})
	}
	return out, nil
}

// weekOf gives the Monday of a day's week: what runs out is said once a week.
func weekOf(day tracker.Date) tracker.Date { return day - tracker.Date((int(day.Weekday())+6)%7) }

// usedUntil gives the products that plans name, each with the last day on which the calendar says so; 0: without end.
func (d *desk) usedUntil() map[tracker.ProductID]tracker.Date {
	until := map[tracker.ProductID]tracker.Date{}
	for _, plan := range rounds.InForceOn(d.plans, d.Today) {
		last := rounds.LastDay(*plan)
		for _, step := range plan.Steps {
			if step.Product == "" || d.horseAt(plan.Horse) < 0 {
				continue
			}
			if have, known := until[step.Product]; !known || have != 0 && (last == 0 || last > have) {
				until[step.Product] = last
			}
		}
	}
	return until
}
