package seed

import (
	"leground/tracker"
	"leground/tracker/care"
)

// plan enters what the vet set when the wash came: for the first horse's legs that are cared for, washed,
// dried, and a barrier put on. The carer reads it back. Its change of wash marks the trends by itself.
func (r *round) plan(w *wash, product tracker.ProductID) error {
	horse := r.story.horses[0]
	var legs []tracker.Leg
	for _, leg := range tracker.Legs() {
		for _, c := range horse.care {
			if c.leg == leg && c.slot == r.slot {
				legs = append(legs, leg)
				break
			}
		}
	}
	morning := func(until tracker.PhaseEnd, count int) tracker.PlanPhase {
		return tracker.PlanPhase{Slots: []string{r.slot}, Every: 1, Until: until, Count: count}
	}
	draft := care.PlanDraft{
		Record: care.NewRecord(), Horse: horse.ID, Legs: legs, Source: tracker.SetByVet, SetName: r.story.yard.RingName, FromSlot: r.slot,
		Steps: []care.StepDraft{
			{Field: "s1_", ID: care.NewID(), Kind: tracker.StepWash, Product: product, Strength: w.want, Minutes: 10, Rinse: true, Phases: []tracker.PlanPhase{morning(tracker.EndsVet, 0)}},
			{Field: "s2_", ID: care.NewID(), Kind: tracker.StepDry, Phases: []tracker.PlanPhase{morning(tracker.EndsVet, 0)}},
			{Field: "s3_", ID: care.NewID(), Kind: tracker.StepApply, Of: "barrier cream", Phases: []tracker.PlanPhase{
				morning(tracker.EndsDays, 7), {Slots: []string{r.slot}, Every: 2, Until: tracker.EndsVet},
			}},
		},
		RingIf: []string{"a leg is hot above the fetlock", "it will not put weight on a leg", "it is off its feed"},
	}
	r.pass(forMix)
	plan, err := r.service.SavePlan(r.ctx, r.people[0], draft)
	if err != nil {
		return err
	}
	r.pass(forMix)
	_, err = r.service.ReadPlanBack(r.ctx, r.people[1], tracker.PlanRead{ID: care.NewRecord(), Plan: plan.ID, Kind: tracker.ReadBack}, nil)
	return err
}
