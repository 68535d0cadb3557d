package care

import (
	"cmp"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// Plans are what the vet, the owner or a label asks for, version by version.
type Plans interface {
	// Plans lists the versions that hold on some day from one on, of one horse or of every horse, by plan and
	// version; with their readings.
	Plans(horse tracker.HorseID, from tracker.Date) ([]tracker.Plan, error)
	// PlanVersions lists every version of a plan by its root, oldest first; with their readings.
	PlanVersions(root tracker.RecordID) ([]tracker.Plan, error)
	PlanByRecord(tracker.RecordID) (tracker.Plan, error)
	// PlanRoots lists the newest version of each of a horse's plans, newest first and so many at most, also of
	// those that are stopped or over; without readings.
	PlanRoots(horse tracker.HorseID, most int) ([]tracker.Plan, error)
	// AddPlan adds a version. It is the only way in which plans change.
	AddPlan(tracker.Plan) error
	PlanReadByRecord(tracker.RecordID) (tracker.PlanRead, error)
	AddPlanRead(tracker.PlanRead) error
}

// Dues are what is ticked off, what is due once, and when horses are away.
type Dues interface {
	// TickOffs lists the ticks of what was due from a day on, and those of any time of a day from an earlier
	// day on, oldest first.
	TickOffs(from, anyTimeFrom tracker.Date) ([]tracker.TickOff, error)
	TickOffByRecord(tracker.RecordID) (tracker.TickOff, error)
	AddTickOff(tracker.TickOff) error
	// OneOffs lists those that stand, however old, and the others from a day on, by day and time.
	OneOffs(from tracker.Date) ([]tracker.OneOff, error)
	OneOffByRecord(tracker.RecordID) (tracker.OneOff, error)
	AddOneOff(tracker.OneOff) error
	// SettleOneOff notes when one was done or called off; the zero time lets it stand again.
	SettleOneOff(id tracker.RecordID, at time.Time) error
	// Absences lists those that reach a day or a later one, by their first day.
	Absences(from tracker.Date) ([]tracker.Absence, error)
	AbsenceByRecord(tracker.RecordID) (tracker.Absence, error)
	AddAbsence(tracker.Absence) error
	EndAbsence(id tracker.RecordID, last tracker.Date) error
}

// carried is for how many days what may be done at any time of a day stays due after it.
const carried = 42

// planned is what a yard's plans, its ticks and the horses away say over some days.
type planned struct {
	plans    []tracker.Plan
	ticks    []tracker.TickOff // without those that were taken back
	oneOffs  []tracker.OneOff
	away     []tracker.Absence
	absences []rounds.Absence // of horses and of the whole yard
}

// readPlanned reads what bears on the days from one on, in a number of queries that does not depend on them.
func readPlanned(tx Tx, from tracker.Date) (planned, error) {
	plans, e1 := tx.Plans("", from-carried)
	p, e2 := readAround(tx, plans, from)
	return p, cmp.Or(e1, e2)
}

// readAround reads what bears on plans that are known.
func readAround(tx Tx, plans []tracker.Plan, from tracker.Date) (planned, error) {
	p := planned{plans: plans}
	first := from - carried
	for _, plan := range p.plans {
		for _, step := range plan.Steps {
			if slices.ContainsFunc(step.Phases, func(p tracker.PlanPhase) bool { return p.Until == tracker.EndsTimes }) {
				first = min(first, step.Begins) // its times leave out the days away
			}
		}
	}
	var e1, e4 error
	p.away, e1 = tx.Absences(first)
	rules, _, e2 := tx.ReminderRules()
	ticks, e3 := tx.TickOffs(from, from-carried)
	p.oneOffs, e4 = tx.OneOffs(from)
	for _, a := range p.away {
		p.absences = append(p.absences, rounds.Absence{Horse: a.Horse, Span: rounds.Span{From: a.From, To: a.To}})
	}
	for _, c := range rules.Closed {
		p.absences = append(p.absences, rounds.Absence{Span: c.Span})
	}
	p.ticks = tracker.Ticked(ticks)
	return p, cmp.Or(e1, e2, e3, e4)
}

// awayOn tells whether a horse is away on a day.
func (p planned) awayOn(horse tracker.HorseID, day tracker.Date) bool {
	return slices.ContainsFunc(p.absences, func(a rounds.Absence) bool { return a.Horse == horse && horse != "" && a.Has(day) })
}

// closedOn tells whether the whole yard is closed on a day.
func (p planned) closedOn(day tracker.Date) bool {
	return slices.ContainsFunc(p.absences, func(a rounds.Absence) bool { return a.Horse == "" && a.Has(day) })
}

// ask lists what the plans ask for from one day to another, and which plans cannot be worked out.
func (st yardState) ask(from, to tracker.Date) ([]rounds.Asked, []rounds.Trouble) {
	return rounds.Ask(st.plans, st.sites, st.Yard.Slots, st.absences, from, to)
}

// askedIn lists what the plans ask for in a round beside its leg lines and cards, in walking order: care of legs,
// medicines and walks. Sizes belong to the cards, and what may be done at any time of the day to no round.
func (st yardState) askedIn(r tracker.Round) []rounds.Asked {
	asked, _ := st.ask(r.Day, r.Day)
	asked = slices.DeleteFunc(asked, func(a rounds.Asked) bool {
		return a.Slot.Name != r.Slot || a.Step.Kind.AnyTime() || a.Step.Kind == tracker.StepMeasure || st.horseAt(a.Plan.Horse) < 0
	})
	slices.SortStableFunc(asked, func(a, b rounds.Asked) int { return st.horseAt(a.Plan.Horse) - st.horseAt(b.Plan.Horse) })
	return asked
}

// horseAt gives a horse's place in the walking order; -1 when it is not in the yard.
func (st yardState) horseAt(id tracker.HorseID) int {
	return slices.IndexFunc(st.horses, func(h tracker.Horse) bool { return h.ID == id })
}

// stepState is what was recorded of a task at a round at which it was due.
type stepState struct {
	Done, Skipped bool
	By            tracker.PersonID
	At            time.Time
	Why           string           // why it was skipped
	Tick          tracker.RecordID // the tick on the Due list that says so; empty: a leg line or a card does
}

// recordedOf finds it: a tick on the Due list, the care ticked on the leg's line of that round, a leg that was not
// looked at, or a size. A leg line without the tick says nothing of the step. Done counts before skipped.
func recordedOf(a rounds.Asked, checks []tracker.Check, ticks []tracker.TickOff) (out stepState) {
	slot := a.Slot.Name
	if a.Step.Kind.AnyTime() {
		slot = ""
	}
	if t, found := rounds.TickOf(ticks, a.When.ID, a.Day, slot); found {
		out = stepState{t.Outcome == tracker.TickDone, t.Outcome == tracker.TickSkipped, t.By, t.At, t.Why, t.ID}
	}
	for _, c := range checks {
		if out.Done {
			break
		}
		line := c.Subject == tracker.OfLeg && c.Horse == a.Plan.Horse && c.Leg == a.Leg && c.RoundDay == a.Day && c.Slot == a.Slot.Name && a.Step.Kind.Act() != ""
		sized := a.Site != "" && c.Site == a.Site && c.Day == a.Day && c.Size.Answer != 0 && c.Size.Answer != tracker.NotDue
		switch {
		case sized, line && slices.Contains(c.Care, a.Step.Kind.Act()):
			out = stepState{Done: true, By: c.Looker, At: c.At}
		case line && c.Skip != "" && !out.Skipped:
			out = stepState{Skipped: true, By: c.Looker, At: c.At, Why: c.Skip}
		}
	}
	return out
}

// askedOnce finds by their keys what plans asked for at a time of a day, whether or not they ask for it still: a plan that
// was changed or stopped meanwhile does not take back what was done by it.
func askedOnce(plans []tracker.Plan, sites []tracker.Site, day tracker.Date, slot tracker.Slot, items []string, still []rounds.Asked) (out []rounds.Asked) {
	known := func(item string) bool {
		same := func(a rounds.Asked) bool {
			return a.When.ID == item && (a.Slot.Name == slot.Name || a.Step.Kind.AnyTime())
		}
		return slices.ContainsFunc(still, same) || slices.ContainsFunc(out, same)
	}
	for i := range slices.Backward(plans) {
		tasks, _ := rounds.Tasks(&plans[i], sites) // the Due list says which plans are in trouble
		for _, t := range tasks {
			if slices.Contains(items, t.When.ID) && !known(t.When.ID) {
				out = append(out, rounds.Asked{Task: t, Day: day, Slot: slot})
			}
		}
	}
	return out
}

// tickedOnce lists what was ticked at a time of a day and no plan asks for any more.
func (st yardState) tickedOnce(day tracker.Date, slot tracker.Slot, still []rounds.Asked) []rounds.Asked {
	var items []string
	for _, t := range st.ticks {
		if t.Day == day && t.Slot == slot.Name {
			items = append(items, t.Items...)
		}
	}
	once := askedOnce(st.plans, st.sites, day, slot, items, still)
	return slices.DeleteFunc(once, func(a rounds.Asked) bool { return st.horseAt(a.Plan.Horse) < 0 })
}

// planAnswers gives what was recorded for the plans' items of a round.
func (st yardState) planAnswers(asked []rounds.Asked, checks []tracker.Check) []rounds.Answer {
	var out []rounds.Answer
	for _, a := range asked {
		if state := recordedOf(a, checks, st.ticks); state.Done || state.Skipped {
			out = append(out, rounds.Answer{Item: a.When.ID, Done: state.Done, Why: state.Why})
		}
	}
	return out
}

// standing lists what the plans ask for at any time of a day and is due on one, or since one before: the newest
// time that each fell due, done or not. What the plan has dropped since is not due any more.
func (st yardState) standing(day tracker.Date) []rounds.Asked {
	asked, _ := rounds.Ask(withSteps(st.plans, func(s tracker.PlanStep) bool { return s.Kind.AnyTime() }), st.sites, st.Yard.Slots, st.absences, day-carried, day)
	newest := map[string]rounds.Asked{}
	var keys []string
	for _, a := range asked {
		if st.horseAt(a.Plan.Horse) < 0 || !goesOn(st.plans, a, day) {
			continue
		}
		if _, known := newest[a.When.ID]; !known {
			keys = append(keys, a.When.ID)
		}
		newest[a.When.ID] = a
	}
	var out []rounds.Asked
	for _, key := range keys {
		out = append(out, newest[key])
	}
	return out
}

// withSteps gives plans with only those of their steps that are to be asked for: weeks of rounds are many.
func withSteps(plans []tracker.Plan, wanted func(tracker.PlanStep) bool) []tracker.Plan {
	out := slices.Clone(plans)
	for i := range out {
		out[i].Steps = slices.DeleteFunc(slices.Clone(out[i].Steps), func(s tracker.PlanStep) bool { return !wanted(s) })
	}
	return out
}

// goesOn tells whether a plan still has a step on a day.
func goesOn(plans []tracker.Plan, a rounds.Asked, day tracker.Date) bool {
	for _, plan := range rounds.InForceOn(plans, day) {
		if _, found := plan.Step(a.Step.ID); found && plan.Root == a.Plan.Root {
			return true
		}
	}
	return false
}

// calendar is what notices are worked out from.
func (st yardState) calendar() rounds.Calendar {
	return rounds.Calendar{Zone: st.Zone, Slots: st.Yard.Slots, Plans: st.plans, Sites: st.sites, Horses: st.horses, Absences: st.absences,
		OneOffs: st.oneOffs, Ticks: st.ticks}
}
