package care

import (
	"math/big"
	"slices"

	"leground/tracker"
	"leground/tracker/mixing"
	"leground/tracker/rounds"
)

// readPlannedUse adds to Stores what the plans will take out of each product on each of the coming supplyDays, from
// those of today's rounds that are still to come. A wash takes one batch a round, as large as the last that was mixed
// for it or as strong for the horse or for any, or the first of the yard's usual volumes; what is applied takes its
// amount for each leg.
func (s *stores) readPlannedUse(tx Tx, st yardState) error {
	made, err := tx.MixesMade("", s.Now.Add(-lastBatches))
	if err != nil {
		return err
	}
	type batch struct {
		round rounds.Key
		step  string
	}
	mixed, known := map[batch]bool{}, map[string]taking{} // by version and step
	s.planned = map[tracker.ProductID][]*big.Rat{}
	asked, _ := rounds.Ask(withSteps(st.plans, takes), st.sites, st.Yard.Slots, st.absences, st.Today, st.Today+supplyDays-1) // the Due list says which plans are in trouble
	for _, a := range asked {
		key := batch{rounds.Key{Day: a.Day, Slot: a.Slot.Name}, a.Step.ID}
		if st.horseAt(a.Plan.Horse) < 0 || !rounds.Due(a.Day, a.Slot.At, st.Zone).After(s.Now) || a.Step.Kind == tracker.StepWash && mixed[key] {
			continue
		}
		mixed[key] = true
		step := string(a.Plan.ID) + a.Step.ID
		if _, done := known[step]; !done {
			if known[step], err = s.taking(a, made); err != nil {
				return err
			}
		}
		s.count(known[step], int(a.Day-st.Today))
	}
	return s.readUncounted(st)
}

// takes tells whether a step takes something out of Stores.
func takes(step tracker.PlanStep) bool {
	return step.Kind == tracker.StepWash && step.Strength != "" || step.Kind != tracker.StepWash && step.Takes()
}

// taking is what a step takes each time, counted as the bottles of its product are; none where that is not known.
type taking struct {
	product tracker.ProductID
	amount  *big.Rat
}

// taking works it out. What may not be mixed takes nothing, and what cannot be counted as its bottles are is left out.
func (s *stores) taking(a rounds.Asked, made []tracker.Mix) (taking, error) {
	product := s.product(a.Step.Product)
	amount, err := s.each(*a.Plan, a.Step)
	if a.Step.Kind == tracker.StepWash {
		product, amount, err = s.batch(a, made)
	}
	if err != nil || amount.Value == nil || product.ID == "" {
		return taking{}, err
	}
	density, err := Fraction(product.Facts.Density)
	if err != nil {
		return taking{}, err
	}
	if amount, same := inUnit(amount, s.unitOf(product), density); same {
		return taking{product.ID, amount.Value}, nil
	}
	return taking{}, nil
}

// batch gives the concentrate of one batch of a wash; no value where it may not be mixed.
func (s *stores) batch(a rounds.Asked, made []tracker.Mix) (tracker.Product, mixing.Amount, error) {
	want, err := mixWanted(a)
	if err != nil {
		return tracker.Product{}, mixing.Amount{}, err
	}
	from, found, err := s.source(want)
	if err != nil || !found {
		return tracker.Product{}, mixing.Amount{}, err
	}
	volume := s.measures.Volumes[0]
	if i := slices.IndexFunc(made, func(m tracker.Mix) bool { return m.Bottle != "" && madeFor(a, m) }); i >= 0 {
		volume, err = Amount(made[i].Total)
	}
	request := mixing.Request{Want: want.Want, Ceiling: want.Ceiling, Kind: mixing.MakeUpTo, Amount: volume, Use: want.Use, Now: s.Now, Mark: s.Yard.Mark}
	if err == nil {
		err = s.fill(&request.Stock, from)
	}
	if err != nil {
		return tracker.Product{}, mixing.Amount{}, err
	}
	return from.Product, mixing.Mix(request).Concentrate, nil
}

// source gives what a wash is made from: the bottle that would be used now, else the product by its label.
func (s *stores) source(want MixWanted) (Stock, bool, error) {
	if stock, found := s.bottleFor(want); found {
		return stock, true, nil
	}
	for _, p := range s.products {
		label, err := Strength(p.Label)
		if err != nil {
			return Stock{}, false, err
		}
		if want.Product == p.ID || want.Product == "" && !p.Gone && label.Of.Family() == want.Want.Of.Family() {
			return Stock{Name: p.Name, Product: p, Strength: label}, true, nil
		}
	}
	return Stock{}, false, nil
}

// count adds what a step takes to what the plans take on a day.
func (s *stores) count(each taking, day int) {
	if each.amount == nil {
		return
	}
	if s.planned[each.product] == nil {
		s.planned[each.product] = make([]*big.Rat, supplyDays)
		for i := range s.planned[each.product] {
			s.planned[each.product][i] = new(big.Rat)
		}
	}
	total := s.planned[each.product][day]
	total.Add(total, each.amount)
}
