package care

import (
	"math/big"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
	"leground/tracker/rounds"
)

// gapsOf says in sentences where the book of a product is known to be wrong or not whole: more was put on than its bottles
// held, or a plan does not say how much it takes.
func (s *stores) gapsOf(product tracker.Product) (out []string, err error) {
	seen := s.seenLast(product.ID)
	unmet, since, err := s.unmet(func(u Use) bool { return u.Product == product.ID && u.Strength == "" && u.At.After(seen) })
	if err != nil {
		return nil, err
	}
	for _, amount := range unmet {
		out = append(out, "The book and the shelf disagree: since "+tracker.DayName(since)+" "+amount.Words(s.Yard.Mark)+
			" were used on horses that by the book no bottle had. Look at the bottle in use and write down what is left in it, as seen.")
	}
	if s.uncounted[product.ID] {
		out = append(out, "A plan uses it and does not say how much each time in "+s.unitOf(product).String()+", or nobody has read that plan back. What it takes is not counted.")
	}
	return out, nil
}

// washGaps says what was washed with that by the book no mix held, and that what is left of a mix is not known.
func (s *stores) washGaps() (out []string, err error) {
	if s.unpoured {
		out = append(out, "A plan does not say how much of its wash a leg takes. Ticks do not count that mix down.")
	}
	var strengths []tracker.StrengthText
	for _, u := range s.uses {
		if u.Unmet && u.Strength != "" && !slices.Contains(strengths, u.Strength) {
			strengths = append(strengths, u.Strength)
		}
	}
	for _, text := range strengths {
		strength, err := Strength(text)
		if err != nil {
			return nil, err
		}
		unmet, since, err := s.unmet(func(u Use) bool { return u.Strength == text })
		if err != nil {
			return nil, err
		}
		for _, amount := range unmet {
			out = append(out, "The book and the shelf disagree: since "+tracker.DayName(since)+" "+amount.Words(s.Yard.Mark)+" of a wash of "+strength.Words(s.Yard.Mark)+" of "+
				string(strength.Of)+" were used that by the book no mix had. Write down what is left in the bottle that it was made from, as seen.")
		}
	}
	return out, nil
}

// unmet adds up what by the book nothing held of some of the last uses, by unit, and gives the day of the first.
func (s *stores) unmet(of func(Use) bool) (out []mixing.Amount, since tracker.Date, err error) {
	for _, u := range s.uses {
		if !u.Unmet || !of(u) {
			continue
		}
		amount, err := Amount(u.Amount)
		if err != nil {
			return nil, 0, err
		}
		if amount.Value == nil {
			continue
		}
		if since == 0 {
			since = tracker.DateOf(u.At.In(s.Zone))
		}
		i := slices.IndexFunc(out, func(a mixing.Amount) bool { return a.Unit == amount.Unit })
		if i < 0 {
			out = append(out, amount)
		} else {
			out[i].Value = new(big.Rat).Add(out[i].Value, amount.Value)
		}
	}
	return out, since, nil
}

// seenLast is when the book last agreed with the shelf: somebody saw what was left in a bottle of the product, or a sealed
// one came.
func (s *stores) seenLast(product tracker.ProductID) (seen time.Time) {
	for _, b := range s.bottles {
		if b.Product.ID != product {
			continue
		}
		sealed := true
		for _, act := range b.Bottle.Acts {
			if act.Kind == tracker.AmountLeft {
				seen = latest(seen, act.At)
			}
			sealed = sealed && (act.Kind != tracker.Opened || act.At.After(b.Bottle.AddedAt))
		}
		if sealed {
			seen = latest(seen, b.Bottle.AddedAt)
		}
	}
	return seen
}

// readUncounted notes the products that plans use without an amount that can be counted as their bottles are, and whether
// a mix is there for a wash without one.
func (s *stores) readUncounted(st yardState) error {
	s.uncounted = map[tracker.ProductID]bool{}
	for _, plan := range rounds.InForceOn(st.plans, st.Today) {
		if last := rounds.LastDay(*plan); st.horseAt(plan.Horse) < 0 || last != 0 && last < st.Today {
			continue
		}
		for _, step := range plan.Steps {
			asked := rounds.Asked{Task: rounds.Task{Plan: plan, Step: step}}
			if step.Kind == tracker.StepWash && step.Strength != "" && step.Amount == "" {
				s.unpoured = s.unpoured || slices.ContainsFunc(s.mixes, func(m Stock) bool { return m.Stop == "" && madeFor(asked, m.Mix) })
			}
			if step.Kind == tracker.StepWash || step.Product == "" {
				continue
			}
			product := s.product(step.Product)
			density, err := Fraction(product.Facts.Density)
			if err != nil {
				return err
			}
			amount, err := s.each(*plan, step)
			if err != nil {
				return err
			}
			if _, same := inUnit(amount, s.unitOf(product), density); !same {
				s.uncounted[product.ID] = true
			}
		}
	}
	return nil
}
