package rounds

import (
	"fmt"
	"time"

	"leground/tracker"
)

// NoticeKind is what a notice about plans and horses says.
type NoticeKind string

// The kinds.
const (
	TrimComing   NoticeKind = "trim"
	WeighDue     NoticeKind = "weigh"
	PlanEnding   NoticeKind = "plan end"
	OneOffComing NoticeKind = "one-off"
)

// How many days before: a trim, to ask the farrier; the end of a plan, to ask the vet what comes next.
const (
	trimAhead = 3
	planAhead = 2
)

// PlanNotice is a notice about something that plans, horses or one-offs say of a day.
type PlanNotice struct {
	Notice
	Kind   NoticeKind
	Horse  tracker.HorseID // empty: the whole yard
	Day    tracker.Date    // on which it is due, or ends
	Plan   *tracker.Plan   // with PlanEnding, TrimComing and WeighDue
	OneOff *tracker.OneOff
}

// Calendar is what notices are worked out from.
type Calendar struct {
	Zone     *time.Location
	Slots    []tracker.Slot
	Plans    []tracker.Plan // every version that holds within a few days
	Sites    []tracker.Site
	Horses   []tracker.Horse // those that are here
	Absences []Absence
	OneOffs  []tracker.OneOff
	Ticks    []tracker.TickOff // without those that were taken back
}

// Notices gives what should be said by now and in the next 48 hours, and has not lost its use: a trim three
// days before it is due and a plan two days before it ends, at the first round of the day; a weighing and
// a one-off on the morning itself. Asking again gives the same subjects.
func (c Calendar) Notices(now time.Time) (out []PlanNotice) {
	if len(c.Slots) == 0 {
		return nil
	}
	today := tracker.DateOf(now.In(c.Zone))
	add := func(n PlanNotice, id string, ahead tracker.Date) {
		n.Subject = fmt.Sprintf("%s %s %s", n.Kind, n.Day, id)
		n.At = Due(n.Day-ahead, inOrder(c.Slots)[0].At, c.Zone)
		n.UseBy = Due(n.Day+1, 0, c.Zone)
		if !n.At.After(now.Add(Horizon)) && now.Before(n.UseBy) {
			out = append(out, n)
		}
	}
	asked, _ := Ask(c.Plans, c.Sites, c.Slots, c.Absences, today, today+3+trimAhead)
	for _, a := range asked {
		if !c.here(a.Plan.Horse) || !a.Step.Kind.AnyTime() || Done(c.Ticks, a.When.ID, a.Day, "") {
			continue
		}
		n := PlanNotice{Kind: WeighDue, Horse: a.Plan.Horse, Day: a.Day, Plan: a.Plan}
		if a.Step.Kind == tracker.StepTrim {
			n.Kind = TrimComing
			add(n, a.When.ID, trimAhead)
		} else {
			add(n, a.When.ID, 0)
		}
	}
	for _, p := range InForceOn(c.Plans, today) {
		if last := LastDay(*p); last != 0 && c.here(p.Horse) {
			add(PlanNotice{Kind: PlanEnding, Horse: p.Horse, Day: last, Plan: p}, string(p.ID), planAhead)
		}
	}
	for i := range c.OneOffs {
		if o := &c.OneOffs[i]; o.Settled.IsZero() && (o.Horse == "" || c.here(o.Horse)) {
			add(PlanNotice{Kind: OneOffComing, Horse: o.Horse, Day: o.Day, OneOff: o}, string(o.ID), 0)
		}
	}
	return out
}

func (c Calendar) here(id tracker.HorseID) bool {
	for _, h := range c.Horses {
		if h.ID == id {
			return true
		}
	}
	return false
}

// Done tells whether an item of a day and round was ticked off as done.
func Done(ticks []tracker.TickOff, item string, day tracker.Date, slot string) bool {
	t, found := TickOf(ticks, item, day, slot)
	return found && t.Outcome == tracker.TickDone
}

// TickOf gives the tick that counts for an item of a day and round: done before skipped, and then the newest.
// ticks are without those that were taken back, oldest first.
func TickOf(ticks []tracker.TickOff, item string, day tracker.Date, slot string) (best tracker.TickOff, found bool) {
	for _, t := range ticks {
		if t.Day != day || t.Slot != slot {
			continue
		}
		for _, have := range t.Items {
			if have == item && (!found || t.Outcome == tracker.TickDone || best.Outcome != tracker.TickDone) {
				best, found = t, true
			}
		}
	}
	return best, found
}
