package care

import (
	"fmt"
	"slices"
	"strings"

	"leground/tracker"
	"leground/tracker/rounds"
)

// PlanDraft is a plan as it was typed, before it is a version.
type PlanDraft struct {
	Record   tracker.RecordID
	Changes  tracker.RecordID // the version that it changes; empty: a new plan
	From     tracker.RecordID // what a vet wrote, of which it is made; empty: of nothing
	Horse    tracker.HorseID
	Legs     []tracker.Leg
	Sites    []tracker.SiteID
	Whole    bool // it is for the whole horse: said, so that nobody forgets to choose
	Source   tracker.PlanSource
	SetName  string
	SetOn    tracker.Date // zero: today
	Starts   tracker.Date // zero: today
	FromSlot string       // the first round of that day; empty: the one that is on, or the first
	Steps    []StepDraft
	RingIf   []string
	Note     string
	Hash     string
}

// StepDraft is a step as it was typed.
type StepDraft struct {
	Field             string // what the names of its fields begin with: "s1_"
	ID                string // of a step that goes on; empty: new
	Kind              tracker.StepKind
	Product           tracker.ProductID
	Of                string
	Strength, Ceiling string
	Minutes           int
	Rinse             bool
	Amount            string
	Area, Most        string
	Order             OrderDraft
	Note              string
	Begins            tracker.Date // zero: with the plan
	Phases            []tracker.PlanPhase
}

// OrderDraft is a vet's order as it was typed.
type OrderDraft struct {
	Label, PerKG, Weight, MaxPerKG, MaxCourse, Measure string
	Units, Estimated                                   bool
	Sure                                               string // the weight that is meant although the book says another
	MaxDays                                            int
}

// The most that one plan may hold.
const (
	MostSteps  = 12
	MostPhases = 4
	mostRules  = 10
)

// drafting turns a draft into a version of a plan, and gathers what is wrong with it.
type drafting struct {
	yard     tracker.Yard
	round    tracker.Round // the one that is on
	today    tracker.Date
	actor    Actor
	horse    tracker.Horse
	products []tracker.Product
	weight   bookWeight
	sites    []tracker.Site
	old      *tracker.Plan // the version that it changes
	from     *tracker.Proposal
	draft    PlanDraft
	plan     tracker.Plan
	problems tracker.Problems
	warnings []string
}

// version gives the plan that the draft says, or everything that is wrong with it.
func (d *drafting) version() (tracker.Plan, error) {
	in := d.draft
	d.plan = tracker.Plan{ID: in.Record, Root: in.Record, Version: 1, Horse: in.Horse, Legs: in.Legs, Sites: in.Sites, Source: in.Source,
		SetName: strings.TrimSpace(in.SetName), SetOn: in.SetOn, Note: in.Note, RingIf: in.RingIf, Starts: in.Starts, By: d.actor.Person.ID, Hash: in.Hash}
	checkRecord(&d.problems, in.Record)
	if d.old != nil {
		d.plan.Root, d.plan.Version = d.old.Root, d.old.Version+1
	}
	d.scope()
	unsaid := d.old != nil && !d.old.Stopped && in.Source == "" && d.plan.SetName == "" && in.SetOn == 0
	if unsaid {
		d.plan.Source, d.plan.SetName, d.plan.SetOn = d.old.Source, d.old.SetName, d.old.SetOn
	}
	d.source()
	d.start()
	if len(in.Steps) > MostSteps {
		d.problems.Add("steps", fmt.Sprintf("A plan has at most %d steps. Make a second plan for the rest.", MostSteps))
	}
	if len(in.Steps) == 0 && len(in.RingIf) == 0 {
		d.problems.Add("steps", "A plan needs at least one step, like: wash. Or a rule when to ring the vet.")
	}
	for _, step := range in.Steps {
		d.plan.Steps = append(d.plan.Steps, d.step(step))
	}
	if unsaid && says(d.plan) != says(*d.old) {
		d.problems.Add("source", "Say who set what is changed: the vet, the owner or a label.")
	}
	if len(in.RingIf) > mostRules {
		d.problems.Add("ring_if", fmt.Sprintf("Write at most %d rules, one a line.", mostRules))
	}
	for _, rule := range in.RingIf {
		checkText(&d.problems, "ring_if", rule, 200)
	}
	checkText(&d.problems, "note", in.Note, 1000)
	d.plan.Last = rounds.LastDay(d.plan)
	return d.plan, d.problems.Err()
}

// says writes out what a version says, to compare it with another: all but its notes.
func says(p tracker.Plan) string {
	steps := slices.Clone(p.Steps)
	for i := range steps {
		steps[i].Note = ""
	}
	return fmt.Sprint(p.Legs, p.Sites, p.RingIf, steps)
}

func (d *drafting) scope() {
	switch legs, sites := len(d.plan.Legs) > 0, len(d.plan.Sites) > 0; {
	case legs && sites:
		d.problems.Add("scope", "Choose legs or sites, not both. A plan for a leg holds for every site on it.")
	case d.draft.Whole && (legs || sites):
		d.problems.Add("scope", "Choose the whole horse, or some of its legs or sites, not both.")
	case !d.draft.Whole && !legs && !sites:
		d.problems.Add("scope", "Choose what the plan is for: sites, legs or the whole horse.")
	}
	for _, id := range d.plan.Sites {
		if !slices.ContainsFunc(d.sites, func(s tracker.Site) bool { return s.ID == id }) {
			d.problems.Add("scope", "One of the sites is not on this horse. Open the page again.")
		}
	}
}

func (d *drafting) source() {
	name := map[tracker.PlanSource]string{
		tracker.SetByVet: "Say which vet set it, like: Marlpit vet.", tracker.SetByLabel: "Say which label it follows, like: Wash concentrate A.",
	}
	switch {
	case !d.plan.Source.Known():
		d.problems.Add("source", "Say who set this plan: the vet, the owner or a label.")
	case d.from != nil && d.plan.Source != tracker.SetByVet:
		d.problems.Add("source", "What a vet wrote makes a plan that the vet set.")
	case d.plan.SetName == "" && name[d.plan.Source] != "":
		d.problems.Add("set_name", name[d.plan.Source])
	}
	checkText(&d.problems, "set_name", d.plan.SetName, 80)
	if d.plan.SetOn == 0 {
		d.plan.SetOn = d.today
	}
	if d.plan.SetOn > d.today {
		d.problems.Add("set_on", "The day on which it was set cannot be after today.")
	}
}

// start finds the first round of the version: it is never one that is over, since the past stays as it was.
func (d *drafting) start() {
	if d.plan.Starts == 0 {
		d.plan.Starts = d.today
	}
	if d.plan.Starts < d.today || d.plan.Starts > d.today+180 {
		d.problems.Add("starts", "A plan starts today or within the next 180 days. What was done before stays as it was.")
	}
	var now tracker.MinuteOfDay // of the round that is on today
	if slot, known := d.yard.SlotNamed(d.round.Slot); known && d.round.Day == d.today {
		now = slot.At
	}
	slot, known := d.yard.SlotNamed(d.draft.FromSlot)
	switch {
	case known && d.plan.Starts == d.today && slot.At < now:
		d.problems.Add("from_slot", "The "+slot.Name+" round of today is over. Choose the "+d.round.Slot+" round or a later one.")
	case known:
		d.plan.StartAt = slot.At
	case d.draft.FromSlot != "":
		d.problems.Add("from_slot", "The yard has no "+d.draft.FromSlot+" round. Choose one of its rounds.")
	case d.plan.Starts == d.today:
		d.plan.StartAt = now
	}
}

// begins gives the first day of a step, and its first round there. A step that goes on keeps its own, so that
// its phases are counted on. One whose rounds of the first day are over begins on the next, so that no day of it
// passes with nothing due.
func (d *drafting) begins(in StepDraft) (tracker.Date, tracker.MinuteOfDay) {
	if d.old != nil {
		if step, found := d.old.Step(in.ID); found && (in.Begins == step.Begins || in.Begins == 0) {
			return step.Begins, step.BeginsAt
		}
	}
	if in.Begins == 0 || in.Begins == d.plan.Starts {
		phases, err := rounds.PhasesOf(tracker.PlanStep{Phases: in.Phases}, 0)
		switch {
		case in.Kind.ByDay():
			return d.plan.Starts, 0
		case err == nil && len(phases) > 0 && !phases[0].DueFrom(d.plan.StartAt, d.yard.Slots):
			return d.plan.Starts + 1, 0
		}
		return d.plan.Starts, d.plan.StartAt
	}
	if in.Begins < d.today-366 || in.Begins > d.today+366 {
		d.problems.Add(in.Field+"begins", "A step begins within a year of today.")
	}
	return in.Begins, 0
}

func (d *drafting) step(in StepDraft) tracker.PlanStep {
	out := tracker.PlanStep{ID: in.ID, Kind: in.Kind, Note: in.Note, Phases: in.Phases}
	taken := slices.ContainsFunc(d.plan.Steps, func(s tracker.PlanStep) bool { return s.ID == in.ID })
	if !tracker.ValidID(in.ID) || taken {
		d.problems.Add(in.Field+"kind", "This step has lost its id. Open the page again.")
	}
	out.Begins, out.BeginsAt = d.begins(in)
	checkText(&d.problems, in.Field+"note", in.Note, 200)
	checkText(&d.problems, in.Field+"of", in.Of, 80)
	switch in.Kind {
	case tracker.StepWash:
		d.wash(in, &out)
	case tracker.StepApply:
		d.apply(in, &out)
	case tracker.StepGive:
		d.give(in, &out)
	case tracker.StepWalk:
		out.Minutes = in.Minutes
	default:
		if !in.Kind.Known() {
			d.problems.Add(in.Field+"kind", "Choose what is to be done from the list.")
		}
	}
	if out.Minutes < 0 || out.Minutes > 240 {
		d.problems.Add(in.Field+"minutes", "Minutes must be a whole number from 1 to 240, like 10.")
	}
	d.phases(in, out)
	return out
}

// phases holds a step's phases against the yard's rounds.
func (d *drafting) phases(in StepDraft, out tracker.PlanStep) {
	phases, err := rounds.PhasesOf(out, 0)
	if err == nil && len(phases) > MostPhases {
		err = fmt.Errorf("a step has at most %d phases", MostPhases)
	}
	if err == nil {
		err = rounds.PlanStep{Start: out.Begins, Phases: phases}.Check(d.yard.Slots)
	}
	for _, p := range out.Phases {
		often := max(p.Times, len(p.Slots))
		switch {
		case err != nil:
		case out.Kind.ByDay() && often != 1:
			err = fmt.Errorf("%s is done once a day at most", strings.ToLower(tracker.StepName(out.Kind)))
		case out.Kind == tracker.StepMeasure && p.Every > 14:
			err = fmt.Errorf("sizes must be planned every 1 to 14 days")
		}
	}
	if err != nil {
		d.problems.Add(in.Field+"when", tracker.Capital(err.Error())+".")
	}
}
