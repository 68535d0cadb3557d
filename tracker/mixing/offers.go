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
	if size, mark := betterDevice(m.exact, d); mark != nil && d.Kind != Scale {
		better := fmt.Sprintf("Use a measure with finer marks: %s or finer.", m.amount(mark))
		if size != nil {
			better = fmt.Sprintf("Use a smaller measure: %s or less, with %s marks or finer.", m.amount(size), m.amount(mark))
		}
		m.res.Offers = append(m.res.Offers, better)
	}
	if least := quo(mul(m.Amount.Value, d.Floor()), m.exact); over(least, m.Amount.Value) && !over(least, bucket) {
		m.res.Offers = append(m.res.Offers, fmt.Sprintf("Make a larger batch: %s or more, if it is used before its throw-away time.", m.volume(roundUpDigits(least))))
	}
	if m.Kind == MakeUpTo && m.unit == m.Want.per() {
		m.twoSteps(d)
	}
}

// bucket is the largest batch that is offered, in mL or g: what a bucket holds (our own choice).
var bucket = frac(10000, 1)

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

// betterDevice gives the marks of a common measure that shows an amount better than d does, and its size where that is
// smaller than d; nil where there is none.
func betterDevice(v *big.Rat, d *Device) (size, mark *big.Rat) {
	for _, s := range commonSizes {
		if size == nil && !over(v, s) && !over(s, times(v, 5)) && over(d.Capacity, s) {
			size = s
		}
	}
	for _, k := range commonMarks {
		if !over(times(k, 10), v) && (over(d.Mark, k) || over(d.Capacity, times(v, 5))) {
			mark = k
		}
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

const (
	// mostWaste is how many times as much concentrate two steps may take (our own choice).
	mostWaste = 10
	// mostFills is how many fills of a measure an offer may take of one thing (our own choice).
	mostFills = 5
)

// twoSteps looks for the first dilution that lets both steps be measured well with the same device, with at most 2% of
// rounding and without much waste, and offers the closest. The water of the first step must be shown too.
func (m *mix) twoSteps(d *Device) {
	var best *TwoStep
	for _, n := range firstSteps {
		second := d.Round(times(m.exact, n))
		if second.Cmp(d.Floor()) < 0 || over(second, times(d.Capacity, mostFills)) {
			continue
		}
		first := d.roundUp(d.Floor())
		for i := 0; i < 20 && over(second, times(first, n)); i++ {
			first = add(first, d.Mark)
		}
		whole := times(first, n)
		if over(second, whole) || over(first, d.Capacity) || over(first, times(m.exact, mostWaste)) || over(whole, m.Amount.Value) || m.firstStep(d, first, whole) == "" {
			continue
		}
		middle := quo(m.h, frac(int64(n), 1))
		achieved := quo(mul(middle, second), m.Amount.Value)
		off := sub(quo(achieved, m.w), frac(1, 1))
		closer := best == nil || over(new(big.Rat).Abs(best.RelativeError), new(big.Rat).Abs(off))
		if top := m.ceiling(); closer && (top == nil || !over(achieved, top)) && !over(new(big.Rat).Abs(off), frac(2, 100)) {
			best = &TwoStep{Amount{first, m.unit}, Amount{whole, m.unit}, m.Want.with(middle),
				Amount{second, m.unit}, m.Amount, m.Want.with(achieved), off}
		}
	}
	if best == nil {
		return
	}
	m.res.TwoStep = best
	m.res.Offers = append(m.res.Offers, fmt.Sprintf("Mix in two steps. %s That is %s. Then measure %s of this first mix and top it up to %s. Throw the rest of the first mix away.",
		m.firstStep(d, best.First.Value, best.FirstTotal.Value), best.Middle.Words(m.Mark), best.Second.Words(m.Mark), best.Total.Words(m.Mark)))
}

// firstStep says how the first of two steps is made with what is at hand: up to a line of a jug, or with a few fills of
// water of the device that measures the concentrate; empty when neither shows it.
func (m *mix) firstStep(d *Device, first, whole *big.Rat) string {
	jug, water := m.jug(whole), sub(whole, first)
	switch {
	case jug != nil && m.unit == ML && jug.onMark(whole) && !over(jug.Capacity, times(whole, 5)):
		return fmt.Sprintf("First make %s of %s up to the %s line of the %s.", m.amount(first), m.name(false), m.amount(whole), jug.name(m.Mark))
	case !over(water, times(d.Capacity, mostFills)):
		return fmt.Sprintf("First mix %s of %s with %s of %s.", m.amount(first), m.name(false), m.amount(water), m.Diluent)
	}
	return ""
}

// roundUp gives the nearest mark at or above v.
func (d Device) roundUp(v *big.Rat) *big.Rat { return mul(ceil(quo(v, d.Mark)), d.Mark) }
