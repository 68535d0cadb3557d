package rounds

import (
	"cmp"
	"fmt"
	"slices"

	"leground/tracker"
)

// Task is one step of a plan for one leg, one site or the whole horse.
type Task struct {
	Plan *tracker.Plan // the version
	Step tracker.PlanStep
	Leg  tracker.Leg    // zero: the whole horse
	Site tracker.SiteID // of a size
	When PlanStep       // its ID is the task's key
}

// TaskKey names a step on a leg, on a site or, with neither, on the whole horse, in any version of its plan.
func TaskKey(step string, leg tracker.Leg, site tracker.SiteID) string {
	return step + "/" + cmp.Or(string(site), leg.String(), "horse")
}

// PhasesOf lays the phases of a plan's step on the calendar. For EndsClosed, closed is the day on which
// what the step is for was closed over; zero: it is open.
func PhasesOf(step tracker.PlanStep, closed tracker.Date) ([]Phase, error) {
	var out []Phase
	for i, p := range step.Phases {
		phase := Phase{Slots: p.Slots, Times: p.Times, Days: Days{Every: p.Every}, End: End{Date: p.Date, Count: p.Count}}
		if p.On != "" {
			on, err := ParseWeekdays(p.On)
			if err != nil {
				return nil, fmt.Errorf("phase %d: %w", i+1, err)
			}
			phase.Days.On = on
		}
		switch p.Until {
		case tracker.EndsOn:
			phase.End.Kind = OnDate
		case tracker.EndsDays:
			phase.End.Kind = AfterDays
		case tracker.EndsTimes:
			phase.End.Kind = AfterTimes
		case tracker.EndsVet:
			phase.End.Kind = UntilVetSays
		case tracker.EndsClosed:
			phase.End = End{Kind: UntilClosedOver, Date: closed}
		}
		out = append(out, phase)
	}
	return out, nil
}

// Tasks gives every task of one version of a plan. sites are those of the yard or of the horse; a plan for
// the whole horse or a leg takes in what is found there later. A step of care is one task for each leg.
func Tasks(plan *tracker.Plan, sites []tracker.Site) ([]Task, error) {
	if plan.Stopped {
		return nil, nil
	}
	scope := scopeOf(plan, sites)
	var out []Task
	for _, step := range plan.Steps {
		for _, t := range scope.targets(step.Kind) {
			phases, err := PhasesOf(step, scope.closed(t.Leg, t.Site))
			if err != nil {
				return nil, err
			}
			t.Plan, t.Step = plan, step
			t.When = PlanStep{ID: TaskKey(step.ID, t.Leg, t.Site), Horse: plan.Horse, Start: step.Begins, StartAt: step.BeginsAt, Phases: phases}
			out = append(out, t)
		}
	}
	return out, nil
}

// scope is what a plan is for: legs, and the sites that say when it is closed over.
type scope struct {
	legs  []tracker.Leg
	sites []tracker.Site // its own, or all on its legs
	all   []tracker.Site
}

func scopeOf(plan *tracker.Plan, sites []tracker.Site) scope {
	s := scope{all: sites, legs: plan.Legs}
	if len(plan.Legs) == 0 && len(plan.Sites) == 0 {
		s.legs = tracker.Legs()
	}
	for _, site := range sites {
		own := slices.Contains(plan.Sites, site.ID)
		if own && !slices.Contains(s.legs, site.Leg) {
			s.legs = append(slices.Clone(s.legs), site.Leg)
		}
		if own || len(plan.Sites) == 0 && site.Horse == plan.Horse && slices.Contains(s.legs, site.Leg) {
			s.sites = append(s.sites, site)
		}
	}
	return s
}

// has tells whether the plan is for a site.
func (s scope) has(id tracker.SiteID) bool {
	return slices.ContainsFunc(s.sites, func(site tracker.Site) bool { return site.ID == id })
}

func (s scope) targets(kind tracker.StepKind) (out []Task) {
	switch {
	case kind == tracker.StepMeasure:
		for _, site := range s.sites {
			if site.Open() {
				out = append(out, Task{Leg: site.Leg, Site: site.ID})
			}
		}
	case kind.Act() != "":
		for _, leg := range s.legs {
			out = append(out, Task{Leg: leg})
		}
	default:
		out = append(out, Task{})
	}
	return out
}

// closed gives the day on which the last of the plan's sites on a leg, or of all, was closed over; zero
// when one is open or there is none.
func (s scope) closed(leg tracker.Leg, id tracker.SiteID) (last tracker.Date) {
	for _, site := range s.sites {
		if leg != 0 && site.Leg != leg || id != "" && site.ID != id {
			continue
		}
		day := s.closedOn(site, len(s.all))
		if day == 0 {
			return 0
		}
		last = max(last, day)
	}
	return last
}

// closedOn follows a site to the one that it has joined.
func (s scope) closedOn(site tracker.Site, left int) tracker.Date {
	if site.Joined == "" || left == 0 {
		return site.ClosedOn
	}
	for _, other := range s.all {
		if other.ID == site.Joined {
			return s.closedOn(other, left-1)
		}
	}
	return site.ClosedOn
}

// holds tells whether a version has begun at a round.
func holds(p *tracker.Plan, day tracker.Date, at tracker.MinuteOfDay) bool {
	return p.Starts < day || p.Starts == day && p.StartAt <= at
}

// InForce keeps, of all versions of some plans, those that hold at a time of day: of each plan the newest
// version that has begun. One that stops its plan is left out with it.
func InForce(plans []tracker.Plan, day tracker.Date, at tracker.MinuteOfDay) []*tracker.Plan {
	newest := map[tracker.RecordID]*tracker.Plan{}
	for i := range plans {
		p := &plans[i]
		if best := newest[p.Root]; holds(p, day, at) && (best == nil || p.Version > best.Version) {
			newest[p.Root] = p
		}
	}
	var out []*tracker.Plan
	for i := range plans {
		if p := &plans[i]; newest[p.Root] == p && !p.Stopped {
			out = append(out, p)
		}
	}
	return out
}

// InForceOn keeps those that hold at the end of a day.
func InForceOn(plans []tracker.Plan, day tracker.Date) []*tracker.Plan {
	return InForce(plans, day, 24*60-1)
}

// Asked is a task that is due at a round.
type Asked struct {
	Task
	Day  tracker.Date
	Slot tracker.Slot
}

// Trouble is a plan that cannot be worked out, such as one for a round that the yard has no more.
type Trouble struct {
	Plan *tracker.Plan
	Err  error
}

// Ask gives all that the plans ask for from one day to another, by day and time of day and then in the order
// of the plans, their steps and legs. Each round is asked by the version that holds at it. plans are all
// versions that hold on any of the days.
func Ask(plans []tracker.Plan, sites []tracker.Site, slots []tracker.Slot, absences []Absence, from, to tracker.Date) (asked []Asked, troubles []Trouble) {
	type round struct {
		day tracker.Date
		at  tracker.MinuteOfDay
	}
	inForce := map[round][]*tracker.Plan{}
	for i := range plans {
		plan := &plans[i]
		tasks, err := Tasks(plan, sites)
		for _, t := range tasks {
			var all []Occurrence
			if all, err = Expand([]PlanStep{t.When}, slots, absences, from, to); err != nil {
				break
			}
			for _, o := range all {
				key := round{o.Day, o.Slot.At}
				if t.Step.Kind.ByDay() { // whatever holds at the end of the day asks for it
					key.at = 24*60 - 1
				}
				if !o.Due() {
					continue
				}
				if _, known := inForce[key]; !known {
					inForce[key] = InForce(plans, o.Day, key.at)
				}
				if slices.Contains(inForce[key], plan) {
					asked = append(asked, Asked{t, o.Day, o.Slot})
				}
			}
		}
		if err != nil {
			troubles = append(troubles, Trouble{plan, err})
		}
	}
	slices.SortStableFunc(asked, func(a, b Asked) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Slot.At, b.Slot.At))
	})
	return asked, troubles
}

// LastDay gives the last day on which a version asks for anything, where the calendar alone says so; zero
// when only the vet, the skin or a count of times can tell.
func LastDay(plan tracker.Plan) (last tracker.Date) {
	for _, step := range plan.Steps {
		end := step.Begins - 1
		for _, p := range step.Phases {
			switch {
			case p.Until == tracker.EndsOn:
				end = p.Date
			case p.Until == tracker.EndsDays:
				end += tracker.Date(p.Count)
			case p.Until == tracker.EndsVet && p.Date != 0:
				end = max(end, p.Date-1)
			default:
				return 0
			}
		}
		last = max(last, end)
	}
	return last
}

// going gives the phase that a task is in on a day, at the last round of it; false before and after.
func (t Task) going(slots []tracker.Slot, day tracker.Date) (Phase, tracker.Date, bool) {
	if t.When.Check(slots) != nil || day < t.When.Start {
		return Phase{}, 0, false
	}
	at := progress{step: t.When, slots: inOrder(slots), began: t.When.Start}
	for d := t.When.Start; d <= day; d++ {
		at.turn(d)
		for i := range slots {
			if at.why(d, i) == DueByPlan {
				at.times++
			}
		}
	}
	if at.phase == len(t.When.Phases) || day == t.When.Start && at.why(day, len(slots)-1) == PlanNotBegun {
		return Phase{}, 0, false
	}
	return t.When.Phases[at.phase], at.began, true
}

// Going gives the tasks of a kind that are under way on a day for a site, due on that very day or not.
func Going(kind tracker.StepKind, plans []tracker.Plan, site tracker.Site, sites []tracker.Site, slots []tracker.Slot, day tracker.Date) []Task {
	var out []Task
	for _, plan := range InForceOn(plans, day) {
		if plan.Horse != site.Horse || !scopeOf(plan, sites).has(site.ID) {
			continue
		}
		tasks, err := Tasks(plan, sites)
		if err != nil {
			continue // Ask names it as a trouble
		}
		for _, t := range tasks {
			if t.Step.Kind != kind || t.Leg != site.Leg || t.Site != "" && t.Site != site.ID {
				continue
			}
			if _, _, on := t.going(slots, day); on {
				out = append(out, t)
			}
		}
	}
	return out
}

// SizeByPlan says whether a size of a site is due by its plans: every so many days from the last, or on days
// of the week. planned tells whether any plan asks for sizes of it at all.
func SizeByPlan(plans []tracker.Plan, site tracker.Site, sites []tracker.Site, slots []tracker.Slot, last, today tracker.Date) (due, planned bool) {
	for _, t := range Going(tracker.StepMeasure, plans, site, sites, slots, today) {
		phase, began, _ := t.going(slots, today)
		planned = true
		if phase.Days.On == 0 {
			due = due || SizeDue(phase.Days.Every, last, today)
			continue
		}
		for day := today; day >= began && day > last; day-- {
			due = due || phase.Days.Fall(began, day)
		}
	}
	return due, planned
}
