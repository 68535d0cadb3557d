package care

import (
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
	"leground/tracker/rounds"
)

// planStep is what a plan says of a mix.
type planStep struct {
	want    mixing.Strength
	ceiling *mixing.Strength
	vet     bool   // the vet set it
	from    string // who set it and when: "vet plan 30 Apr"
}

// planStepOf finds the step that a mix is asked for by, in the version of its plan that holds today; nil when
// no plan asks for it, whatever the form says.
func (s *stores) planStepOf(tx Tx, ask MixAsk) (*planStep, error) {
	if ask.Plan == "" || ask.Horse == "" {
		return nil, nil
	}
	versions, err := tx.Plans(ask.Horse, s.Today)
	if err != nil {
		return nil, err
	}
	for _, p := range rounds.InForceOn(versions, s.Today) {
		step, there := p.Step(ask.Plan)
		if !there || step.Strength == "" {
			continue
		}
		out := &planStep{vet: p.Source == tracker.SetByVet, from: planSource(*p)}
		if out.want, err = Strength(step.Strength); err != nil {
			return nil, err
		}
		out.ceiling, err = strengthOrNil(step.Ceiling)
		return out, err
	}
	return nil, nil
}

// planSource says who set a plan and when, and that nobody has read it back where that is so.
func planSource(p tracker.Plan) string {
	by := map[tracker.PlanSource]string{tracker.SetByVet: "vet plan ", tracker.SetByOwner: "owner's plan ", tracker.SetByLabel: "label, plan "}[p.Source]
	text := by + p.SetOn.Time().Format("2 Jan")
	if _, sure := p.Sure(); !sure {
		text += ", checked by one person only"
	}
	return text
}

// follow takes what the plan says over what the form says of it.
func (ask *MixAsk) follow(step *planStep, mark tracker.DecimalMark) {
	ask.PlanWant, ask.WantFrom = "", ""
	if step == nil {
		ask.Plan = ""
		return
	}
	ask.PlanWant, ask.WantFrom = step.want.Echo(mark), step.from
	if ask.Want == "" {
		ask.Want, ask.WantOf = ask.PlanWant, string(step.want.Of)
	}
}

// bind puts a plan's limits on a mix. Whoever wants another strength than the plan chose it themselves, and no
// vet ordered it; the most that the plan allows holds all the same.
func (step *planStep) bind(r *mixing.Request) (fromPlan bool) {
	if step == nil {
		return false
	}
	r.Ceiling = step.ceiling
	if fromPlan = r.Want.Same(step.want); fromPlan {
		r.WantFrom, r.Use.VetOrder = step.from, step.vet
	}
	return fromPlan
}

// lastBatches is how far back the last batch of a plan step is looked for.
const lastBatches = 30 * 24 * time.Hour
