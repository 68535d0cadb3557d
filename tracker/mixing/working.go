package mixing

import (
	"fmt"
	"math/big"
	"strings"

	"leground/tracker"
)

func (m *mix) line(part Part, format string, args ...any) {
	m.res.Working = append(m.res.Working, Line{part, fmt.Sprintf(format, args...)})
}

// Spoken gives the line for a screen reader, with words in place of the signs of arithmetic.
func (l Line) Spoken() string {
	return strings.NewReplacer("÷", "divided by", "×", "times", "−", "minus", " + ", " plus ", " = ", " is ").Replace(l.Text)
}

// explain writes the working of a mix that may be made, in the order in which it is shown.
func (m *mix) explain() {
	m.doLines()
	m.inputLines()
	m.formulaLines()
	m.backwardsLine()
	m.roundingLines()
}

// name gives what people call the bottle, at the start of a sentence or within one.
func (m *mix) name(starts bool) string {
	switch {
	case m.Stock.Name != "":
		return m.Stock.Name
	case starts:
		return "The " + m.noun()
	}
	return "the " + m.noun()
}

func (m *mix) noun() string {
	if m.Stock.Form == Powder {
		return "powder"
	}
	return "concentrate"
}

// doLines say what the hands do, in their order.
func (m *mix) doLines() {
	water := m.Diluent.String()
	switch {
	case m.Kind == AddTo:
		m.line(Do, "Measure %s of %s.", m.volume(m.Amount.Value), water)
		m.addLine("Add")
	case m.concentrate.Cmp(m.total) == 0 && m.unit == m.Want.per():
		m.line(Do, "Use %s as it is: %s. Add nothing.", m.name(false), m.amount(m.concentrate))
	case m.concentrateFirst():
		m.addLine("Put in first")
		m.line(Do, "Top up with %s to the %s line.", water, m.volume(m.total))
	default:
		m.line(Do, "Half-fill %s with %s.", m.vessel(), water)
		m.addLine("Add")
		m.line(Do, "Top up with %s to the %s line.", water, m.volume(m.total))
	}
	made, _ := m.compared()
	m.line(Do, "Makes %s.", m.Want.shown(made))
	parts := sub(quo(m.h, m.w), frac(1, 1))
	if m.unit == m.Want.per() && m.res.RelativeError.Sign() == 0 && parts.IsInt() && parts.Sign() > 0 {
		m.line(Do, "1 part %s + %s %s (makes %s).", m.noun(), m.parts(parts), water, m.parts(add(parts, frac(1, 1))))
	}
}

// parts says how many parts: "1 part", "39 parts".
func (m *mix) parts(n *big.Rat) string {
	if n.Cmp(frac(1, 1)) == 0 {
		return "1 part"
	}
	return m.show(n) + " parts"
}

// addLine says how much concentrate, and by which fills of which measure.
func (m *mix) addLine(verb string) {
	text := fmt.Sprintf("%s %s: %s.", verb, m.name(false), m.amount(m.concentrate))
	if m.Kind == UseUp {
		text = fmt.Sprintf("%s %s: all of it, %s.", verb, m.name(false), m.amount(m.concentrate))
	}
	if d := m.res.Measure; d != nil && len(m.res.Fills) > 0 && (d.Kind != Scale || len(m.res.Fills) > 1) {
		text += fmt.Sprintf(" With the %s: %s.", d.Kind, d.fillWords(m.res.Fills, m.Mark))
	}
	m.line(Do, "%s", text)
}

// concentrateFirst follows the label, except that bleach always goes into water, and that a half-full
// jug must have room for the concentrate.
func (m *mix) concentrateFirst() bool {
	if m.Want.Of.Family() == hypochlorite && m.unit == m.Want.per() && !over(times(m.concentrate, 2), m.total) {
		return false
	}
	return m.Stock.ConcentrateFirst || m.unit == m.Want.per() && over(times(m.concentrate, 2), m.total)
}

// vessel names the measure that holds the whole mix.
func (m *mix) vessel() string {
	if jug := m.jug(m.total); jug != nil {
		return "the " + jug.name(m.Mark)
	}
	return "a clean container"
}

// jug gives the smallest jug or cylinder that holds so much, or nil.
func (m *mix) jug(v *big.Rat) *Device {
	var best *Device
	for i, d := range m.Devices {
		if (d.Kind == Jug || d.Kind == Cylinder) && !over(v, d.Capacity) && (best == nil || over(best.Capacity, d.Capacity)) {
			best = &m.Devices[i]
		}
	}
	return best
}

// checkJug warns when the jug at hand has no line for the volume asked for, or shows it badly.
func (m *mix) checkJug() {
	v := m.Amount.Value
	jug := m.jug(v)
	switch {
	case jug == nil || m.Amount.Unit != ML:
	case !jug.onMark(v):
		low := jug.RoundDown(v)
		m.warn("W18", "Your %s has no line at %s. Its nearest lines are %s and %s.",
			jug.Kind, m.volume(v), m.volume(low), m.volume(add(low, jug.Mark)))
	case times(v, 5).Cmp(jug.Capacity) < 0:
		m.warn("W18", "%s is too little to measure well in a %s. Use a smaller one.", m.volume(v), jug.name(m.Mark))
	}
}

// inputLines say what the working starts from and where each number came from.
func (m *mix) inputLines() {
	label := m.Stock.Label
	if m.Request.check() != nil {
		return // there is nothing whole to show
	}
	echo := ", on the label as \"" + label.Echo(m.Mark) + "\""
	if m.Stock.Diluted {
		echo = ""
	}
	m.line(Inputs, "Have %s%s%s.", of(label, m.Mark), echo, source(m.HaveFrom))
	if m.have.Value != nil && m.have.basis() != label.basis() {
		m.line(Inputs, "At %s g per mL that is %s.", m.show(m.Stock.Density), m.have.Words(m.Mark))
	}
	if m.have.Value != nil && m.have.Of != label.Of {
		m.line(Inputs, "Counted as %s that is %s.", m.have.Of, m.have.Words(m.Mark))
	}
	m.line(Inputs, "Want %s%s.", of(m.Want, m.Mark), source(m.WantFrom))
	verb := "Make %s, topped up to the line%s."
	switch m.Kind {
	case AddTo:
		verb = "Add to %s of " + m.Diluent.String() + "%s."
	case UseUp:
		verb = "Use up the %s that are left%s."
	}
	m.line(Inputs, verb, m.Amount.Words(m.Mark), source(m.MakeFrom))
}

// of gives a strength with what it counts: "2 g per 100 mL of chlorhexidine gluconate".
func of(s Strength, mark tracker.DecimalMark) string {
	if s.Of == Anything {
		return s.Words(mark)
	}
	return s.Words(mark) + " of " + string(s.Of)
}

func source(from string) string {
	if from == "" {
		return ""
	}
	return " (" + from + ")"
}

// formulaLines give the formula in words, then with the numbers put in.
func (m *mix) formulaLines() {
	have, want, made := m.per100(m.h), m.per100(m.w), m.show(m.Amount.Value)
	if m.unit != m.Want.per() {
		have = m.show(m.h) // powder: grams in a gram
		want = m.show(m.w)
	}
	what, is := m.noun(), equals(m.exact)
	switch m.Kind {
	case MakeUpTo:
		m.line(Formula, "%s = want ÷ have × make", what)
		m.line(Numbers, "%s = %s ÷ %s × %s = %s%s", what, want, have, made, is, m.amount(m.exact))
		if m.unit == m.Want.per() {
			rest := sub(m.total, m.exact)
			m.line(Numbers, "%s = %s − %s = %s%s. Topping up does this for you.", m.Diluent, m.show(m.total), m.show(m.exact), equals(rest), m.volume(rest))
		}
	case AddTo:
		m.line(Formula, "%s = want × %s ÷ (have − want)", what, m.Diluent)
		m.line(Numbers, "%s = %s × %s ÷ (%s − %s) = %s%s", what, want, made, have, want, is, m.amount(m.exact))
	case UseUp:
		m.line(Formula, "make = left × have ÷ want")
		m.line(Numbers, "make = %s × %s ÷ %s = %s%s", m.show(m.exact), have, want, equals(m.total), m.volume(m.total))
	}
}

// equals says "about" before a number that is shown shorter than it is.
func equals(v *big.Rat) string {
	if isShort(v) {
		return ""
	}
	return "about "
}

// backwardsLine works the strength out again from the amounts that the hands will measure.
func (m *mix) backwardsLine() {
	have := m.per100(m.h)
	if m.unit != m.Want.per() {
		have = m.show(mul(m.h, frac(100, 1))) // powder: grams in 100 g give grams in 100 mL
	}
	made, wanted := m.compared()
	verdict := "Agrees."
	switch {
	case made != wanted:
		verdict = fmt.Sprintf("Wanted %s.", wanted)
	case m.res.RelativeError.Sign() != 0:
		verdict = "Agrees to that many digits."
	}
	m.line(Backwards, "%s × %s ÷ %s = %s. %s", m.show(m.concentrate), have, m.show(m.total), made, verdict)
}

// roundingLines say what the measure's marks and the measure itself do to the strength.
func (m *mix) roundingLines() {
	d := m.res.Measure
	if d == nil {
		m.line(Rounding, "Nothing was rounded.")
		return
	}
	marks := fmt.Sprintf("your %s has %s marks", d.Kind, Amount{d.Mark, d.unit()}.Words(m.Mark))
	if off := m.res.RelativeError; off.Sign() == 0 {
		m.line(Rounding, "None needed: %s.", marks)
	} else {
		way := "stronger"
		if off.Sign() < 0 {
			way = "weaker"
		}
		m.line(Rounding, "%s rounded to %s: %s.", m.amount(m.exact), m.amount(m.concentrate), marks)
		if made, wanted := m.compared(); made != wanted {
			m.line(Rounding, "Makes %s instead of %s (%s %s).", made, m.Want.shown(wanted), percent(off, m.Mark), way)
		} else {
			m.line(Rounding, "That moves the strength by less than 0.1%%.")
		}
	}
	m.line(Rounding, "The %s itself may be off by %s. At worst the mix is %s off.", d.Kind,
		Amount{d.tolerance(m.res.Fills), d.unit()}.shortWords(m.Mark), percent(m.res.WorstCase, m.Mark))
}

// shown gives a strength whose number is already written.
func (s Strength) shown(number string) string {
	return number + "\u00a0" + basisWords[s.basis()].words
}

// shortWords gives an amount to two digits, for what is itself an estimate.
func (a Amount) shortWords(mark tracker.DecimalMark) string {
	return tracker.FormatDigits(a.Value, 2, mark) + "\u00a0" + a.Unit.String()
}
