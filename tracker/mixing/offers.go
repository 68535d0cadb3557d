package mixing

import (
	"fmt"
	"math/big"
)

// TwoStep is a recipe for an amount too small to measure: first a weaker mix of which enough can be
// measured, then the wanted one from it.
type TwoStep struct {
	First         Amount // of the concentrate
	FirstTotal    Amount // made up to this
	Middle        Strength
	Second        Amount // of the first mix
	Total         Amount // made up to this
	Achieved      Strength
	RelativeError *big.Rat
}

// offer says what would do instead of this device: a smaller one, a larger batch, or two steps.
func (m *mix) offer(d *Device) {
	if d == nil || d.Kind == Tablets {
		return
	}
	if size, mark := smallerDevice(m.exact); size != nil && d.Kind != Scale {
		m.res.Offers = append(m.res.Offers, fmt.Sprintf("Use a smaller measure: %s or less, with %s marks or finer.", m.amount(size), m.amount(mark)))
	}
	if m.exact.Cmp(d.Floor()) < 0 {
		least := quo(mul(m.Amount.Value, d.Floor()), m.exact)
		m.res.Offers = append(m.res.Offers, fmt.Sprintf("Make a larger batch: %s or more, if it is used before its throw-away time.", m.volume(roundUpDigits(least))))
	}
	if m.Kind == MakeUpTo && m.unit == m.Want.per() {
		m.twoSteps(d)
	}
}

// commonSizes are what syringes, cylinders and jugs hold, and commonMarks what their marks show, in
// mL (common practice, no source).
var commonSizes, commonMarks = ratsOf(1, 2, 5, 10, 20, 50, 100, 250, 500, 1000), []*big.Rat{frac(1, 100), frac(2, 100),
	frac(5, 100), frac(1, 10), frac(2, 10), frac(5, 10), frac(1, 1), frac(2, 1), frac(5, 1), frac(10, 1), frac(20, 1), frac(50, 1)}

func ratsOf(whole ...int64) []*big.Rat {
	list := make([]*big.Rat, len(whole))
	for i, n := range whole {
		list[i] = frac(n, 1)
	}
	return list
}

// smallerDevice gives the size and marks of a common measure that shows an amount well, or nil.
func smallerDevice(v *big.Rat) (size, mark *big.Rat) {
	for _, s := range commonSizes {
		if size == nil && !over(v, s) && !over(s, times(v, 5)) {
			size = s
		}
	}
	for _, k := range commonMarks {
		if !over(times(k, 10), v) {
			mark = k
		}
	}
	if size == nil || mark == nil {
		return nil, nil
	}
	return size, mark
}

// roundUpDigits gives the next number above v that has two digits and then zeros.
func roundUpDigits(v *big.Rat) *big.Rat {
	step := frac(1, 1)
	for over(v, times(step, 100)) {
		step = times(step, 10)
	}
	return mul(ceil(quo(v, step)), step)
}

// firstSteps are the dilutions tried for the first of two steps: 1 part made up to so many.
var firstSteps = []int{2, 4, 5, 10, 20, 25, 40, 50, 100}

// twoSteps looks for the weakest first dilution that lets both steps be measured well with the same
// device, with at most 2% of rounding, and offers the closest.
func (m *mix) twoSteps(d *Device) {
	var best *TwoStep
	for _, n := range firstSteps {
		second := d.Round(times(m.exact, n))
		if second.Cmp(d.Floor()) < 0 || over(second, times(d.Capacity, 5)) {
			continue
		}
		first := d.roundUp(d.Floor())
		for i := 0; i < 20 && over(second, times(first, n)); i++ {
			first = add(first, d.Mark)
		}
		if over(second, times(first, n)) || over(first, d.Capacity) {
			continue
		}
		middle := quo(m.h, frac(int64(n), 1))
		achieved := quo(mul(middle, second), m.Amount.Value)
		off := sub(quo(achieved, m.w), frac(1, 1))
		closer := best == nil || over(new(big.Rat).Abs(best.RelativeError), new(big.Rat).Abs(off))
		if top := m.ceiling(); closer && (top == nil || !over(achieved, top)) && !over(new(big.Rat).Abs(off), frac(2, 100)) {
			best = &TwoStep{Amount{first, m.unit}, Amount{times(first, n), m.unit}, m.Want.with(middle),
				Amount{second, m.unit}, m.Amount, m.Want.with(achieved), off}
		}
	}
	if best == nil {
		return
	}
	m.res.TwoStep = best
	m.res.Offers = append(m.res.Offers,
		fmt.Sprintf("Mix in two steps. First measure %s and top it up to %s: that is %s.", best.First.Words(m.Mark), best.FirstTotal.Words(m.Mark), best.Middle.Words(m.Mark)),
		fmt.Sprintf("Then measure %s of the first mix and top it up to %s. Throw the rest of the first mix away.", best.Second.Words(m.Mark), best.Total.Words(m.Mark)))
}

// roundUp gives the nearest mark at or above v.
func (d Device) roundUp(v *big.Rat) *big.Rat { return mul(ceil(quo(v, d.Mark)), d.Mark) }
