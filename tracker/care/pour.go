package care

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
)

// leftovers reads what is to be poured together: the stocks that were chosen, and how much of each.
func (s *stores) leftovers(ask SumAsk, p *tracker.Problems) (from [2]Stock, portions []mixing.Portion) {
	for i, key := range ask.Stocks {
		n := strconv.Itoa(i + 1)
		stock, may := s.chosen(p, "stock"+n, key)
		portion := mixing.Portion{Strength: stock.Strength, Amount: stock.Left, GoodUntil: stock.ThrowAway}
		if text := strings.TrimSpace(ask.Amounts[i]); text != "" && may {
			portion.Amount = amountIn(p, "amount"+n, text)
		}
		if may && portion.Amount.Value != nil && portion.Amount.Unit == stock.Left.Unit && portion.Amount.Value.Cmp(stock.Left.Value) > 0 {
			p.Add("amount"+n, "By the book only "+stock.Left.Words(s.Yard.Mark)+" are left of it.")
		}
		from[i], portions = stock, append(portions, portion)
	}
	if ask.Stocks[0] == ask.Stocks[1] {
		p.Add("stock2", "Choose two that are not the same.")
	}
	return from, portions
}

// pour works out what leftovers make, holds it to the rules of a mix, and gives what they are.
func (v *SumView) pour(s *stores, ask SumAsk, p *tracker.Problems) (from [2]Stock, portions []mixing.Portion, err error) {
	from, portions = s.leftovers(ask, p)
	if len(*p) > 0 {
		return from, portions, nil
	}
	answer, until := mixing.Leftovers(portions, s.Yard.Mark)
	for _, stock := range from {
		r := mixing.Request{Now: s.Now, Mark: s.Yard.Mark}
		// what the vet ordered at one strength is ordered at no other
		r.Use = mixing.Use{Skin: ask.Skin, VetOrder: from[0].Strength.Same(from[1].Strength), FoodChain: s.warnsOfFood(stock.Product, horseOf(from), ask.Skin)}
		if err = s.fill(&r.Stock, stock); err != nil {
			return from, portions, err
		}
		answer.Judge(r)
	}
	if v.Answer = &answer; answer.Refused() {
		return from, portions, nil
	}
	if v.Until = until; from[0].Diluted && from[1].Diluted {
		v.Pour = shownLines(answer.Working, answer.Warnings...)
	}
	return from, portions, nil
}

// horseOf gives the horse that both were mixed for; empty when there is none.
func horseOf(from [2]Stock) tracker.HorseID {
	if from[0].Mix.Horse == from[1].Mix.Horse {
		return from[0].Mix.Horse
	}
	return ""
}

// RecordPour keeps that two mixes were poured together: a mix of its own, thrown away when the first of them must be, with
// what went into it taken out of both. A warning without its tick stops it, as it does a mix. shown is SumView.Pour of the
// page that was answered.
func (s *Service) RecordPour(ctx context.Context, a Actor, form Form, ask SumAsk, ticks []string, shown string) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		have, err := tx.Mix(tracker.MixID(form.Record))
		if before, err := form.sentBefore(have.Hash, err); before || err != nil {
			return err
		}
		st, err := readStores(tx, a, now)
		if err != nil {
			return err
		}
		if err := st.namedIn(tx, ask); err != nil {
			return err
		}
		var p tracker.Problems
		var view SumView
		from, portions, err := view.pour(st, ask, &p)
		if err = cmp.Or(err, p.Err()); err != nil {
			return err
		}
		if view.Pour == "" || view.Pour != shown {
			return tracker.Refuse(tracker.Invalid, "Something has changed since this was worked out, or these may not be poured together. Read it again from the top.")
		}
		addUnticked(&p, view.Answer.Warnings, ticks)
		if err := p.Err(); err != nil {
			return err
		}
		return st.keepPour(tx, a, form, from, portions, *view.Answer)
	})
}

func (s *stores) keepPour(tx Tx, a Actor, form Form, from [2]Stock, portions []mixing.Portion, answer mixing.Answer) error {
	shelf := s.shelf(from[0], nil)
	if from[1].ThrowAway.Before(from[0].ThrowAway) {
		shelf = s.shelf(from[1], nil)
	}
	m := tracker.Mix{
		ID: tracker.MixID(form.Record), Product: from[0].Product.ID, Parent: from[0].Mix.ID, Want: ExactStrength(answer.Strength), Strength: ExactStrength(answer.Strength),
		Concentrate: ExactAmount(portions[0].Amount), Total: ExactAmount(answer.Amount), MadeAt: s.Now, By: a.Person.ID, Hash: form.Hash,
		Facts: tracker.MixFacts{Name: from[0].Name, From: "what was left of the mixes of " + tracker.TimeName(from[0].Mix.MadeAt, s.Zone) + " and " + tracker.TimeName(from[1].Mix.MadeAt, s.Zone),
			Diluent: "nothing more", Cautions: from[0].Mix.Facts.Cautions},
	}
	for _, line := range from[1].Mix.Facts.Cautions {
		if !slices.Contains(m.Facts.Cautions, line) {
			m.Facts.Cautions = append(slices.Clip(m.Facts.Cautions), line)
		}
	}
	m.ThrowAway, m.Facts.Why = shelf.ThrowAway()
	m.Horse = horseOf(from)
	m.Facts.Ticks = tickLines(answer.Warnings)
	for _, line := range answer.Working {
		m.Facts.Working = append(m.Facts.Working, line.Text)
	}
	if err := tx.AddMix(m); err != nil {
		return err
	}
	if err := tx.WakeBy(m.ThrowAway); err != nil {
		return err
	}
	for i, stock := range from {
		kinds := []tracker.StoreActKind{tracker.Used}
		if portions[i].Amount.Value.Cmp(stock.Left.Value) == 0 {
			kinds = append(kinds, tracker.UsedUp)
		}
		for _, kind := range kinds {
			act := tracker.StoreAct{ID: NewRecord(), Kind: kind, Mix: stock.Mix.ID, At: s.Now, By: a.Person.ID}
			if kind == tracker.Used {
				act.Amount, act.For = ExactAmount(portions[i].Amount), m.ID
			}
			if err := tx.AddStoreAct(act); err != nil {
				return err
			}
		}
	}
	return note(tx, a, s.Now, "poured together", string(m.ID), strings.Join([]string{m.Facts.Name, string(m.Strength), string(m.Total), string(from[0].Mix.ID), string(from[1].Mix.ID)}, "; "))
}
