package mixing

import (
	"math/big"

	"leground/tracker"
)

// mix is a request while it is worked out. Sizes are canonical: g per mL for % w/v and so on.
type mix struct {
	Request
	res         *Result
	have        Strength // the label, counted and measured as the wanted strength is
	h, w        *big.Rat // sizes of have and want
	unit        AmountUnit
	exact       *big.Rat // concentrate
	concentrate *big.Rat // rounded to the measure
	total       *big.Rat
	achieved    *big.Rat
}

// Mix works out one mix with its working, warnings and refusals. It never fails in another way: what
// cannot be worked out is a refusal.
func Mix(r Request) *Result {
	m := &mix{Request: r, res: &Result{}}
	if err := r.check(); err != nil {
		m.refuse(err)
		m.clear()
		return m.res
	}
	m.res.Refusals = append(m.res.Refusals, m.standing()...)
	if err := m.compare(); err != nil {
		m.refuse(err)
	} else if !m.res.Refused() {
		m.workOut()
	}
	m.res.Warnings = append(m.res.Warnings, m.cautions()...)
	if m.res.Refused() {
		m.clear()
		return m.res
	}
	m.explain()
	return m.res
}

// refuse adds the Note inside an error to the refusals.
func (m *mix) refuse(err error) {
	note, ok := AsNote(err)
	if !ok {
		panic("mixing: an error that is no refusal: " + err.Error())
	}
	m.res.Refusals = append(m.res.Refusals, note)
}

// check refuses a request with something missing, so that nothing after it needs to look again.
func (r *Request) check() error {
	for _, s := range []*Strength{&r.Stock.Label, &r.Want, r.Ceiling, r.Stock.Weakest, r.Stock.Strongest, r.Use.Last} {
		if s != nil && !s.whole() {
			return refuse("R1", "A strength is missing, or is not more than zero.")
		}
	}
	if !positive(r.Amount.Value) || r.Kind < MakeUpTo || r.Kind > UseUp {
		return refuse("R1", "The amount must be more than zero.")
	}
	if d := r.Stock.Density; d != nil && d.Sign() <= 0 {
		return refuse("R1", "The density must be more than zero.")
	}
	for _, d := range r.Devices {
		if !d.usable() {
			return refuse("R1", "A measure has no size or no marks. Write it like 20\u00a0mL syringe, 1\u00a0mL marks.")
		}
	}
	return nil
}

// compare brings the label to the basis and substance of the wanted strength, or refuses.
func (m *mix) compare() error {
	have, err := m.Stock.Label.CountedAs(m.Want.Of, m.Stock.IodineFactor)
	if err != nil {
		return err
	}
	m.unit = m.Want.per()
	if m.Stock.Form == Powder && have.basis() == massPerMass && m.Want.basis() == massPerVolume {
		m.unit = Gram
	} else if have, err = have.like(m.Want, m.Stock.Density); err != nil {
		return err
	}
	if err := m.compareAmount(); err != nil {
		return err
	}
	m.have, m.h, m.w = have, have.canonical(), m.Want.canonical()
	if m.unit == m.Want.per() && over(m.w, m.h) {
		return tooWeak()
	}
	if m.Kind == AddTo && m.w.Cmp(m.h) == 0 {
		return refuse("R1", "The bottle already has the wanted strength. Use it as it is: no water is needed.")
	}
	return nil
}

// tooWeak is the refusal of a strength above the bottle's own.
func tooWeak() error {
	return refuse("R1", "The bottle is weaker than the plan asks for. Nothing you add can make it stronger. Ring whoever set the plan.")
}

// compareAmount refuses an amount by weight of a strength by volume and the like.
func (m *mix) compareAmount() error {
	needs := m.Want.per()
	if m.Kind == UseUp {
		needs = m.unit
	}
	switch {
	case m.Amount.Unit != needs && needs == Gram:
		return refuse("R2", "The strength is by weight and the amount by volume. That needs the density of the bottle and of the mix.")
	case m.Amount.Unit != needs:
		return refuse("R2", "The strength is by volume and the amount by weight. State the amount in mL or L.")
	case m.Kind == AddTo && m.unit != m.Want.per():
		return refuse("R2", "Powder added to water changes the volume. Make it up to a volume instead.")
	}
	return nil
}

// like gives the strength in the unit of another, when their bases differ.
func (s Strength) like(other Strength, density *big.Rat) (Strength, error) {
	if s.basis() == other.basis() {
		return s, nil
	}
	if s.basis() == massPerVolume && other.basis() == massPerMass || s.basis() == unitsPerVolume && other.basis() == unitsPerMass {
		return Strength{}, refuse("R2", "The bottle is by volume and the wanted strength by weight. That needs the density of the finished mix.")
	}
	return s.In(other.Unit, density)
}

// workOut finds the amounts, rounds the concentrate to a measure and judges what that does.
func (m *mix) workOut() {
	one := frac(1, 1)
	switch m.Kind {
	case MakeUpTo:
		m.exact, m.total = quo(mul(m.w, m.Amount.Value), m.h), m.Amount.Value
	case AddTo:
		m.exact = quo(mul(m.Amount.Value, m.w), sub(m.h, m.w))
	case UseUp:
		m.exact, m.total = m.Amount.Value, quo(mul(m.Amount.Value, m.h), m.w)
	}
	m.concentrate = m.exact
	if m.Kind != UseUp {
		m.measure()
	}
	if m.res.Refused() {
		return
	}
	if m.Kind == AddTo {
		m.total = add(m.Amount.Value, m.concentrate)
	}
	m.achieved = m.makes(m.concentrate)
	off := sub(quo(m.achieved, m.w), one)
	m.res.RelativeError = off
	m.judgeRounding(off)
	diluent := sub(m.total, m.concentrate)
	if m.Kind == AddTo {
		diluent = m.Amount.Value
	} else if m.unit != m.Want.per() {
		diluent = m.total // powder is topped up to the line; its own volume is not known
	}
	m.res.Exact = Amount{m.exact, m.unit}
	m.res.Concentrate = Amount{m.concentrate, m.unit}
	m.res.Diluent = Amount{diluent, m.Want.per()}
	m.res.Total = Amount{m.total, m.Want.per()}
	m.res.Achieved = m.Want.with(m.achieved)
	m.worstCase(off)
}

// makes gives the strength that an amount of concentrate makes, by the way back: what is in it over
// what it is in.
func (m *mix) makes(concentrate *big.Rat) *big.Rat {
	whole := m.total
	if m.Kind == AddTo {
		whole = add(m.Amount.Value, concentrate)
	}
	return quo(mul(m.h, concentrate), whole)
}

// worstCase adds the measure's own tolerance to the rounding.
func (m *mix) worstCase(off *big.Rat) {
	if m.res.Measure != nil {
		own := quo(m.res.Measure.tolerance(m.res.Fills), m.concentrate)
		m.res.WorstCase = add(new(big.Rat).Abs(off), own)
	}
}

// clear takes the amounts out of a refused result and says why in the working.
func (m *mix) clear() {
	r := m.res
	*r = Result{Offers: r.Offers, TwoStep: r.TwoStep, Warnings: r.Warnings, Refusals: r.Refusals}
	m.inputLines()
	for _, n := range r.Refusals {
		m.line(Stop, "%s", n.Text)
	}
	for _, o := range r.Offers {
		m.line(Stop, "%s", o)
	}
}

// amount shows an amount of concentrate.
func (m *mix) amount(v *big.Rat) string { return Amount{v, m.unit}.Words(m.Mark) }

// volume shows an amount of the finished mix or of water.
func (m *mix) volume(v *big.Rat) string { return Amount{v, m.Want.per()}.Words(m.Mark) }

// show shows a bare number.
func (m *mix) show(v *big.Rat) string { return number(v, m.Mark) }

// per100 shows a strength of the mix or the bottle as a bare number, as Strength.Words does.
func (m *mix) per100(size *big.Rat) string {
	return number(mul(size, basisWords[m.Want.basis()].scale), m.Mark)
}

// compared shows the achieved strength and the wanted one as bare numbers: to three digits, since no measure here shows
// more, or to as many as show that they differ. Those that differ by less than 0.05% are shown as the same.
func (m *mix) compared() (made, wanted string) {
	scale := basisWords[m.Want.basis()].scale
	achieved, want := mul(m.achieved, scale), mul(m.w, scale)
	wanted = number(want, m.Mark)
	if percent(m.res.RelativeError, m.Mark) == "0%" {
		return wanted, wanted
	}
	digits := 3
	for tracker.FormatDigits(achieved, digits, m.Mark) == tracker.FormatDigits(want, digits, m.Mark) {
		digits++
	}
	if !isShort(want) {
		wanted = tracker.FormatDigits(want, max(digits, 4), m.Mark)
	}
	return tracker.FormatDigits(achieved, digits, m.Mark), wanted
}

// warn adds a warning.
func (m *mix) warn(id, format string, args ...any) {
	m.res.Warnings = append(m.res.Warnings, say(id, format, args...))
}
