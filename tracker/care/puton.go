package care

import (
	"cmp"
	"math/big"
	"slices"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
	"leground/tracker/rounds"
)

// each gives how much a step takes each time; no value where that is not known. A medicine by weight counts once somebody
// has read the plan back: until then its amount is hidden from whoever will.
func (s *stores) each(plan tracker.Plan, step tracker.PlanStep) (mixing.Amount, error) {
	if step.Kind != tracker.StepGive {
		return Amount(step.Amount)
	}
	if _, sure := plan.Sure(); !sure {
		return mixing.Amount{}, nil
	}
	return DoseOf(plan, step, s.Yard.Mark).Each, nil
}

// putOnBy settles what a leg's line says of the care in its round.
func putOnBy(tx Tx, yard tracker.Yard, check tracker.Check, now time.Time) error {
	says := check.Version > 1 || slices.Contains(check.Care, tracker.Applied) || slices.Contains(check.Care, tracker.Washed)
	if check.Subject != tracker.OfLeg || !says {
		return nil
	}
	return settlePutOn(tx, yard, check.By, check.Horse, rounds.Key{Day: check.RoundDay, Slot: check.Slot}, now)
}

// settlePutOn brings what Stores gave for a round, to one horse or to all, into line with what is ticked in it, after
// somebody has changed that: what is done and was not taken is taken, and what was taken and is done no more is given
// back by them. However it was ticked and however often, it is taken once.
func settlePutOn(tx Tx, yard tracker.Yard, by tracker.PersonID, horse tracker.HorseID, round rounds.Key, now time.Time) error {
	if round.Slot == "" { // of any time of a day, or outside every round
		return nil
	}
	plans, err := tx.Plans(horse, round.Day)
	plans = withSteps(plans, tracker.PlanStep.Takes)
	if err != nil || !slices.ContainsFunc(plans, func(p tracker.Plan) bool { return len(p.Steps) > 0 }) {
		return err
	}
	known, e1 := readAround(tx, plans, round.Day)
	sites, e2 := tx.Sites(horse)
	checks, e3 := tx.Checks(CheckQuery{Horse: horse, RoundDay: round.Day, Slot: round.Slot})
	acts, e4 := tx.PutOn(round.Day)
	if err := cmp.Or(e1, e2, e3, e4); err != nil {
		return err
	}
	var shelf *stores
	asked, _ := rounds.Ask(plans, sites, yard.Slots, known.absences, round.Day, round.Day) // the Due list says which plans are in trouble
	slot, _ := yard.SlotNamed(round.Slot)
	for _, act := range tracker.Standing(acts) { // by a plan that was changed or stopped since
		if item, here := strings.CutPrefix(act.Item, round.Slot+" "); here {
			asked = append(asked, askedOnce(plans, sites, round.Day, slot, []string{item}, asked)...)
		}
	}
	for _, a := range asked {
		taken := slices.DeleteFunc(tracker.Standing(acts), func(act tracker.StoreAct) bool { return act.Item != putOnItem(a) })
		state := recordedOf(a, checks, known.ticks)
		if a.Slot.Name != round.Slot || state.Done == (len(taken) > 0) {
			continue
		}
		if shelf == nil {
			if shelf, err = readStores(tx, Actor{}, now); err != nil {
				return err
			}
		}
		if state.Done {
			taken, err = shelf.take(a, state)
		} else {
			giveBack(taken, by, now)
		}
		for _, act := range taken {
			if err == nil {
				err = tx.AddStoreAct(act)
			}
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// putOnItem names a task in a round of its day.
func putOnItem(a rounds.Asked) string { return a.Slot.Name + " " + a.When.ID }

// giveBack turns acts into those that give them back.
func giveBack(acts []tracker.StoreAct, by tracker.PersonID, now time.Time) {
	for i, act := range acts {
		act.ID, act.Of, act.Kind, act.By, act.At = NewRecord(), act.ID, tracker.GivenBack, by, now
		acts[i] = act
	}
}

// take takes what a step puts on out of what there is of it, one after the other; what by the book nothing holds is
// kept as such. An amount that is not known, or cannot be counted as the product's bottles are, is left out, and Stores
// says so; of a medicine nothing is kept then, and its dose counts once the plan has been read back.
func (s *stores) take(a rounds.Asked, state stepState) (acts []tracker.StoreAct, err error) {
	product := s.product(a.Step.Product)
	density, err := Fraction(product.Facts.Density)
	if err != nil {
		return nil, err
	}
	amount, err := s.each(*a.Plan, a.Step)
	if err != nil {
		return nil, err
	}
	act := tracker.StoreAct{Kind: tracker.PutOn, At: state.At, By: state.By, Day: a.Day, Item: putOnItem(a), Product: product.ID,
		Note: strings.TrimPrefix(a.Leg.String()+", ", ", ") + a.Slot.Name + " round"}
	if i := s.horseAt(a.Plan.Horse); i >= 0 {
		act.Note = s.horses[i].Name + " " + act.Note
	}
	if a.Step.Kind != tracker.StepGive {
		act.Horse = a.Plan.Horse
	}
	if _, same := inUnit(amount, s.unitOf(product), density); amount.Value == nil || !same && a.Step.Kind != tracker.StepWash {
		if a.Step.Kind != tracker.StepApply {
			return nil, nil
		}
		act.ID = NewRecord()
		return []tracker.StoreAct{act}, nil
	}
	rest := amount.Value
	for _, from := range s.holding(a, state.At) {
		left, same := inUnit(from.Left, amount.Unit, density)
		if !same || rest.Sign() == 0 {
			continue
		}
		taken := least(rest, left.Value)
		rest, left.Value = new(big.Rat).Sub(rest, taken), new(big.Rat).Sub(left.Value, taken)
		from.Left, _ = inUnit(left, from.Left.Unit, density)
		act.ID, act.Bottle, act.Mix, act.Amount = NewRecord(), from.Bottle.ID, from.Mix.ID, ExactAmount(mixing.Amount{Value: taken, Unit: amount.Unit})
		acts = append(acts, act)
	}
	if rest.Sign() > 0 {
		act.ID, act.Bottle, act.Mix, act.Amount = NewRecord(), "", "", ExactAmount(mixing.Amount{Value: rest, Unit: amount.Unit})
		act.Strength = a.Step.Strength // of a wash
		acts = append(acts, act)
	}
	return acts, nil
}

// holding lists what a step would be done from at an instant: bottles of its product, or the mixes that were made for it.
// What is open comes first, then what must be thrown away first, then what came first.
func (s *stores) holding(a rounds.Asked, at time.Time) (out []*Stock) {
	for i := range s.bottles {
		b := &s.bottles[i]
		trusted := b.Reading.State != NotRead && b.Reading.State != ReadingsDiffer
		if a.Step.Kind != tracker.StepWash && b.Product.ID == a.Step.Product && trusted && b.holds(at) {
			out = append(out, b)
		}
	}
	for i := range s.mixes {
		if m := &s.mixes[i]; a.Step.Kind == tracker.StepWash && madeFor(a, m.Mix) && m.holds(at) && !m.Mix.MadeAt.After(at) {
			out = append(out, m)
		}
	}
	sealed := func(b *Stock) int {
		if b.Diluted || b.Opened != 0 {
			return 0
		}
		return 1
	}
	slices.SortStableFunc(out, func(a, b *Stock) int {
		return cmp.Or(sealed(a)-sealed(b), compareEnds(a.ThrowAway, b.ThrowAway), a.Mix.MadeAt.Compare(b.Mix.MadeAt))
	})
	return out
}

// holds tells whether there was something in it that could be used at an instant.
func (b Stock) holds(at time.Time) bool {
	return b.Left.Value.Sign() > 0 && (b.ThrowAway.IsZero() || at.Before(b.ThrowAway))
}

// madeFor tells whether a mix is what a wash asks for: made for its step, or as strong for the horse or for any.
func madeFor(a rounds.Asked, m tracker.Mix) bool {
	return m.Plan == a.Step.ID || m.Want == a.Step.Strength && (m.Horse == "" || m.Horse == a.Plan.Horse)
}

// putOnLately lists what was put on horses as it was bought in the last day, each product once for each horse, as mixes
// of which nothing was made: for a mix that follows they count as one does.
func (s *stores) putOnLately() (out []tracker.Mix) {
	for _, u := range slices.Backward(s.uses) {
		known := slices.ContainsFunc(out, func(m tracker.Mix) bool { return m.Product == u.Product && m.Horse == u.Horse })
		if product := s.product(u.Product); u.Horse != "" && u.Strength == "" && !known && u.At.After(s.Now.Add(-24*time.Hour)) {
			out = append(out, tracker.Mix{ID: tracker.MixID("put-on-" + string(u.Product)), Product: u.Product, Horse: u.Horse, Strength: product.Label, MadeAt: u.At,
				Facts: tracker.MixFacts{Name: product.Name}})
		}
	}
	return out
}
