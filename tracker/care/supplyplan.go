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
	made, err := tx.MixesMade("", s.now.Add(-lastBatches))
	if err != nil {
		return err
	}
	type batch struct {
		round rounds.Key
		step  string
	}
	mixed := map[batch]bool{}
	s.planned = map[tracker.ProductID][]*big.Rat{}
	asked, _ := rounds.Ask(st.plans, st.sites, st.yard.Slots, st.absences, st.today, st.today+supplyDays-1) // the Due list says which plans are in trouble
	for _, a := range asked {
		if st.horseAt(a.Plan.Horse) < 0 || !rounds.Due(a.Day, a.Slot.At, st.zone).After(s.now) {
			continue
		}
		day := int(a.Day - st.today)
		switch key := (batch{rounds.Key{Day: a.Day, Slot: a.Slot.Name}, a.Step.ID}); {
		case a.Step.Kind == tracker.StepWash && a.Step.Strength != "" && !mixed[key]:
			mixed[key] = true
			err = s.planBatch(a, made, day)
		case a.Step.Kind == tracker.StepApply && a.Step.Product != "" && a.Step.Amount != "":
			var amount mixing.Amount
			if amount, err = Amount(a.Step.Amount); err == nil {
				err = s.plan(s.product(a.Step.Product), day, amount)
			}
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// planBatch counts the concentrate of one batch of a wash. What may not be mixed takes nothing.
func (s *stores) planBatch(a rounds.Asked, made []tracker.Mix, day int) error {
	want, err := mixWanted(a)
	if err != nil {
		return err
	}
	from, found, err := s.source(want)
	if err != nil || !found {
		return err
	}
	volume := s.measures.Volumes[0]
	asBefore := func(m tracker.Mix) bool {
		return m.Plan == a.Step.ID || m.Want == a.Step.Strength && (m.Horse == "" || m.Horse == a.Plan.Horse)
	}
	if i := slices.IndexFunc(made, asBefore); i >= 0 {
		if volume, err = Amount(made[i].Total); err != nil {
			return err
		}
	}
	request := mixing.Request{Want: want.Want, Ceiling: want.Ceiling, Kind: mixing.MakeUpTo, Amount: volume, Use: want.Use, Now: s.now, Mark: s.yard.Mark}
	if err := s.fill(&request.Stock, from); err != nil {
		return err
	}
	result := mixing.Mix(request)
	if result.Refused() {
		return nil
	}
	return s.plan(from.Product, day, result.Concentrate)
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

// plan counts an amount of a product among what the plans take on a day. One that cannot be counted in the unit
// of its bottles is left out.
func (s *stores) plan(product tracker.Product, day int, amount mixing.Amount) error {
	density, err := Fraction(product.Facts.Density)
	if err != nil {
		return err
	}
	amount, same := inUnit(amount, s.unitOf(product), density)
	if !same || product.ID == "" {
		return nil
	}
	if s.planned[product.ID] == nil {
		s.planned[product.ID] = make([]*big.Rat, supplyDays)
		for i := range s.planned[product.ID] {
			s.planned[product.ID][i] = new(big.Rat)
		}
	}
	total := s.planned[product.ID][day]
	total.Add(total, amount.Value)
	return nil
}
