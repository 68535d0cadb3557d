package care

import (
	"math/big"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
)

// Stock is something that can be mixed from, as one person may see it: a bottle, or a mix.
type Stock struct {
	Key       string // "bottle:" or "mix:" and its id, as forms name it
	Name      string
	Product   tracker.Product
	Bottle    tracker.Bottle // of a bottle
	Mix       tracker.Mix    // of a mix
	Diluted   bool           // it is a mix
	Strength  mixing.Strength
	Reading   Reading // of a bottle
	ReadWords string  // "read by Ada and Bea"
	Opened    tracker.Date
	Left      mixing.Amount
	ThrowAway time.Time // zero: no limit is known
	Why       string
	Stop      string // why it may not be mixed from; empty: it may
	OneReader bool   // only its reader may use it, and the label then says so
	Blind     bool   // this person has yet to read its label, so no strength of it is given here
}

// bottle works out where a bottle stands.
func (s *stores) bottle(b tracker.Bottle) (Stock, error) {
	product := s.product(b.Product)
	out := Stock{Key: "bottle:" + string(b.ID), Name: product.Name, Product: product, Bottle: b}
	var err error
	if out.Reading, err = readingOf(b.Acts); err != nil {
		return out, err
	}
	if out.Left, err = s.left(b, product); err != nil {
		return out, err
	}
	out.Strength, out.ReadWords = out.Reading.Strength, out.Reading.Words(s.names)
	shelf := mixing.Shelf{InUseDays: product.Facts.InUseDays}
	if b.Expiry != 0 {
		shelf.Expiry = s.startOf(b.Expiry + 1)
	}
	for _, act := range tracker.Standing(b.Acts) {
		if act.Kind == tracker.PutOn { // what is put on was open
			act.Kind, act.Day = tracker.Opened, tracker.DateOf(act.At.In(s.Zone))
		}
		if act.Kind == tracker.Opened && out.Opened == 0 {
			out.Opened, shelf.Opened = act.Day, s.startOf(act.Day)
			if at := act.At.In(s.Zone); tracker.DateOf(at) == act.Day {
				shelf.Opened = at
			}
		}
	}
	if until, why := shelf.ThrowAway(); !until.IsZero() {
		out.ThrowAway, out.Why = until, why
	}
	if out.Stop, err = s.stopOf(out); err != nil {
		return out, err
	}
	if notes := shelf.Check(s.Now); out.Stop == "" && len(notes) > 0 {
		out.Stop = notes[0].Text
	}
	out.OneReader = out.Stop == "" && out.Reading.State == ReadByOne
	out.hide(s.viewer)
	return out, nil
}

// startOf gives the first moment of a day in the yard.
func (s *stores) startOf(day tracker.Date) time.Time {
	d := day.Time()
	return time.Date(d.Year(), d.Month(), d.Day(), 0, 0, 0, 0, s.Zone)
}

// stopOf says why a bottle may not be used whatever its age, in words that give no strength away to
// whoever has yet to read its label.
func (s *stores) stopOf(b Stock) (string, error) {
	listed, err := Strength(b.Product.Label)
	if err != nil {
		return "", err
	}
	switch {
	case !b.Bottle.Ended.IsZero():
		return "It has been used up or thrown away.", nil
	case b.Reading.State == ReadingsDiffer:
		return "Two people read different strengths. Nobody may use it until the owner has settled which is right.", nil
	case b.Reading.State == NotRead:
		return "Its label was doubted. Two people must read it again.", nil
	case b.Reading.State == ReadByOne && !b.Reading.readBy(s.viewer):
		return "Only one person has read its label. Read it yourself first.", nil
	case b.Reading.State == ReadByOne && b.Reading.Doubted:
		return "Its label was doubted. A second person must read it again.", nil
	case b.Reading.State == ReadByOne && !listed.Same(b.Strength):
		return "Stop. The bottle says " + b.Strength.Words(s.Yard.Mark) + ", Stores says " + listed.Words(s.Yard.Mark) + ". Do not mix until two people have read the label.", nil
	case b.Left.Value.Sign() <= 0:
		return "By the book nothing is left. Look, and write down how much there is.", nil
	}
	return "", nil
}

// hide takes every strength of a bottle out of what a person sees who has yet to read its label.
func (b *Stock) hide(viewer tracker.PersonID) {
	if !b.Reading.blindFor(viewer) {
		return
	}
	b.Blind, b.Strength, b.Reading.Strength = true, mixing.Strength{}, mixing.Strength{}
	b.Product.Label, b.Product.Facts.Weakest, b.Product.Facts.Strongest = "", "", ""
	b.Reading.Readings, b.Bottle.Acts = slices.Clone(b.Reading.Readings), slices.Clone(b.Bottle.Acts)
	for i := range b.Reading.Readings {
		b.Reading.Readings[i].Strength = mixing.Strength{}
	}
	for i := range b.Bottle.Acts {
		b.Bottle.Acts[i].Strength = ""
	}
}

// left works out what is in a bottle: what it held, or what somebody saw in it, less what was taken out since.
func (s *stores) left(b tracker.Bottle, product tracker.Product) (mixing.Amount, error) {
	density, err := Fraction(product.Facts.Density)
	if err != nil {
		return mixing.Amount{}, err
	}
	return leftAfter(b.Size, b.Acts, density)
}

func leftAfter(size tracker.AmountText, acts []tracker.StoreAct, density *big.Rat) (mixing.Amount, error) {
	left, err := Amount(size)
	for _, act := range tracker.Standing(acts) {
		if act.Kind != tracker.AmountLeft && act.Kind != tracker.Used && act.Kind != tracker.PutOn || err != nil {
			continue
		}
		var amount mixing.Amount
		if amount, err = Amount(act.Amount); err != nil {
			break
		}
		if act.Kind == tracker.AmountLeft {
			left = amount
		} else if amount, same := inUnit(amount, left.Unit, density); same {
			left.Value = new(big.Rat).Sub(left.Value, amount.Value)
		}
	}
	if err == nil && left.Value.Sign() < 0 {
		left.Value = new(big.Rat)
	}
	return left, err
}

// inUnit turns a volume into a weight or back where the density (g per mL) is known.
func inUnit(a mixing.Amount, unit mixing.AmountUnit, density *big.Rat) (mixing.Amount, bool) {
	switch {
	case a.Unit == unit:
		return a, true
	case density == nil:
		return a, false
	case a.Unit == mixing.ML && unit == mixing.Gram:
		return mixing.Amount{Value: new(big.Rat).Mul(a.Value, density), Unit: unit}, true
	case a.Unit == mixing.Gram && unit == mixing.ML:
		return mixing.Amount{Value: new(big.Rat).Quo(a.Value, density), Unit: unit}, true
	}
	return a, false
}

// tooOld says of a mix that nothing lets keep longer that more than a day has gone by.
func (s *stores) tooOld(m tracker.Mix) (words string) {
	shelf := mixing.Shelf{Made: m.MadeAt}
	if m.ThrowAway.Sub(m.MadeAt) > mixing.DilutionKeeps {
		shelf.KeepsSource = m.Facts.Why
	}
	for _, n := range shelf.Check(s.Now) {
		if n.ID == "W16" {
			words = " " + n.Text
		}
	}
	return words
}

// mix works out where a mix stands.
func (s *stores) mix(m tracker.Mix) (Stock, error) {
	out := Stock{Key: "mix:" + string(m.ID), Name: m.Facts.Name, Product: s.product(m.Product), Mix: m, Diluted: true, ThrowAway: m.ThrowAway, Why: m.Facts.Why}
	var err error
	if out.Strength, err = Strength(m.Strength); err != nil {
		return out, err
	}
	if out.Left, err = leftAfter(m.Total, m.Acts, nil); err != nil {
		return out, err
	}
	switch {
	case !m.Ended.IsZero():
		out.Stop = "It has been used up or thrown away."
	case !s.Now.Before(m.ThrowAway):
		out.Stop = "This is past its throw-away time (" + m.Facts.Why + "). Throw it away." + s.tooOld(m)
	case out.Left.Value.Sign() <= 0:
		out.Stop = "By the book nothing is left of it."
	}
	return out, nil
}
