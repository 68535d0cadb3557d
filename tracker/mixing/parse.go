package mixing

import (
	"fmt"
	"math/big"
	"strings"

	"leground/tracker"
)

// Parts is a dilution in words that have one meaning only. The zero Parts is none.
type Parts struct {
	N    *big.Rat
	Plus bool // false: 1 part made up to N parts; true: 1 part and N parts of water with it
}

// Fraction gives the share of the whole that the one part is: 1/N, or 1/(N+1) with Plus.
func (p Parts) Fraction() *big.Rat {
	whole := p.N
	if p.Plus {
		whole = add(p.N, frac(1, 1))
	}
	return new(big.Rat).Inv(whole)
}

// Diluted gives the strength after one dilution or several in a row.
func (s Strength) Diluted(steps ...Parts) Strength {
	size := s.canonical()
	for _, p := range steps {
		size = mul(size, p.Fraction())
	}
	return s.with(size)
}

// ParseStrength reads a strength as printed on a label or typed for a plan: a number and one of
// "% w/v", "% w/w", "% v/v", "mg/mL", "g/L", "mg/g", "ppm w/v", "units/g", an amount per amount such
// as "5 g per 100 mL" or "250 mg/5 mL", or "1 in 1000 w/v" and "1 part plus 999 w/v".
//
// The error is a *Note where a rule refuses (R1 no unit, no basis, not above zero; R5 a colon ratio),
// a *tracker.AmbiguousNumber where the number has two readings, else a *tracker.Error.
func ParseStrength(text string, of Substance) (Strength, error) {
	clean := tidy(text)
	if strings.Contains(clean, ":") {
		return Strength{}, colonRatio(clean, nil)
	}
	if parts, unit, err := parseParts(clean); err != nil || parts.N != nil {
		if err == nil && unit == 0 {
			err = refuse("R1", "Parts alone do not say what is counted. Add w/v, w/w or v/v.")
		}
		if err != nil {
			return Strength{}, err
		}
		return checkSize(Strength{nil, unit, of}.with(parts.Fraction()))
	}
	digits, rest := tracker.CutNumber(clean)
	if digits == "" {
		return Strength{}, unreadable(text)
	}
	value, err := tracker.ParseNumber(digits, "")
	if err != nil {
		return Strength{}, err
	}
	strength, err := readUnit(value, rest, text)
	if err != nil {
		return Strength{}, err
	}
	strength.Of = of
	return checkSize(strength)
}

// ParseWant reads the strength that a plan or a label asks for. Beside all that ParseStrength takes it
// knows "1 in 40" and "1 part plus 40" of the stock itself; byParts tells that it was one of these. A
// colon ratio is refused with both meanings worked out for this stock.
func ParseWant(text string, stock Strength, of Substance) (want Strength, byParts bool, err error) {
	clean := tidy(text)
	if strings.Contains(clean, ":") {
		return Strength{}, false, colonRatio(clean, &stock)
	}
	parts, unit, err := parseParts(clean)
	if err == nil && parts.N != nil && unit == 0 {
		return stock.Diluted(parts), true, nil
	}
	want, err = ParseStrength(text, of)
	return want, false, err
}

// tidy drops case and odd spaces, so that a text pasted from a label reads like a typed one.
func tidy(text string) string {
	return strings.Join(strings.Fields(strings.ToLower(text)), " ")
}

func unreadable(text string) error {
	if len(text) > 60 {
		text = text[:60] + "..."
	}
	return tracker.Refuse(tracker.Invalid, fmt.Sprintf("%q is not a strength we can read. Write it like 2%% w/v or 20 mg/mL.", text))
}

// checkSize refuses what no product can be.
func checkSize(s Strength) (Strength, error) {
	if s.Value.Sign() <= 0 {
		return Strength{}, refuse("R1", "A strength must be more than zero.")
	}
	if b := s.basis(); (b == massPerMass || b == volumePerVolume) && over(s.canonical(), frac(1, 1)) {
		return Strength{}, refuse("R1", "No product holds more than 100\u00a0g in 100\u00a0g, or more than 100\u00a0mL in 100\u00a0mL.")
	}
	return s, nil
}

// parseParts reads "1 in 40", "1 part made up to 40 parts", "1 part plus 40 parts" and "1 + 40", with
// or without a basis behind them. A text that is something else gives no parts and no error.
func parseParts(clean string) (Parts, Unit, error) {
	plain := strings.NewReplacer("made up to", "in", "+", " plus ", "parts", "", "part", "").Replace(clean)
	one, rest := tracker.CutNumber(tidy(plain))
	verb, rest, _ := strings.Cut(rest, " ")
	if one != "1" || verb != "in" && verb != "plus" {
		return Parts{}, 0, nil
	}
	digits, tail := tracker.CutNumber(rest)
	n, err := tracker.ParseNumber(digits, "")
	if err != nil {
		return Parts{}, 0, err
	}
	unit, known := map[string]Unit{"": 0, "w/v": PercentWV, "w/w": PercentWW, "v/v": PercentVV}[tail]
	if !known {
		return Parts{}, 0, unreadable(clean)
	}
	p := Parts{n, verb == "plus"}
	if n.Sign() <= 0 || !p.Plus && n.Cmp(frac(1, 1)) < 0 {
		return Parts{}, 0, refuse("R1", "The parts must be 1 or more.")
	}
	return p, unit, nil
}

// colonRatio refuses "1:40" and works out both of its meanings, of the stock where there is one.
func colonRatio(clean string, stock *Strength) error {
	left, right, _ := strings.Cut(clean, ":")
	digits, _ := tracker.CutNumber(right)
	n, err := tracker.ParseNumber(digits, "")
	if strings.TrimSpace(left) != "1" || err != nil || n.Sign() <= 0 {
		return refuse("R5", "A colon ratio has two meanings. Write 1 in 40, or 1 part plus 40.")
	}
	made, plus := Parts{n, false}, Parts{n, true}
	shown := number(n, tracker.Point)
	if stock == nil {
		per := func(p Parts) string { return number(mul(p.Fraction(), frac(100, 1)), tracker.Point) }
		return refuse("R5", "A colon ratio has two meanings. 1 part made up to %s is %s parts in 100. 1 part plus %s is %s parts in 100. Write 1 in %s, or 1 part plus %s.",
			shown, per(made), shown, per(plus), shown, shown)
	}
	return refuse("R5", "A colon ratio has two meanings. 1 part made up to %s makes %s. 1 part plus %s makes %s. Write 1 in %s, or 1 part plus %s.",
		shown, stock.Diluted(made).Words(tracker.Point), shown, stock.Diluted(plus).Words(tracker.Point), shown, shown)
}

// readUnit reads what follows the number of a strength.
func readUnit(value *big.Rat, rest, text string) (Strength, error) {
	compact := strings.NewReplacer(" ", "", "(", "", ")", "", "percent", "%", "per", "/").Replace(rest)
	switch compact {
	case "":
		return Strength{}, refuse("R1", "The strength has no unit. Write it like 2%% w/v or 20 mg/mL.")
	case "%":
		return Strength{}, refuse("R1", "The label must say what the percent counts. A powder in a liquid is usually w/v: g in 100\u00a0mL. A cream is usually w/w. A liquid in a liquid is usually v/v.")
	case "ppm":
		return Strength{}, refuse("R1", "Parts per million need a basis. In water it is usually ppm w/v: mg in 1\u00a0L.")
	case "vol", "vols", "volume", "volumes":
		return Strength{}, refuse("R1", "Volumes of oxygen are not a strength we use. Read the g in 100\u00a0mL from the label.")
	}
	for u := PercentWV; u <= MgPerTablet; u++ {
		if compact == strings.ToLower(strings.ReplaceAll(u.String(), " ", "")) {
			return Strength{Value: value, Unit: u}, nil
		}
	}
	return readAmountPerAmount(value, compact, text)
}

// measures are the amounts a strength can be made of: a kind and how many of its base unit.
var measures = map[string]struct {
	kind rune // m: g, v: mL, u: units, t: tablets
	size *big.Rat
}{
	"g": {'m', frac(1, 1)}, "mg": {'m', frac(1, 1000)}, "kg": {'m', frac(1000, 1)},
	"mcg": {'m', frac(1, 1000000)}, "microgram": {'m', frac(1, 1000000)}, "micrograms": {'m', frac(1, 1000000)},
	"ml": {'v', frac(1, 1)}, "l": {'v', frac(1000, 1)},
	"units": {'u', frac(1, 1)}, "unit": {'u', frac(1, 1)}, "iu": {'u', frac(1, 1)},
	"tablet": {'t', frac(1, 1)}, "tablets": {'t', frac(1, 1)},
}

// readAmountPerAmount reads "g/100ml" or "mg/5ml" behind a number.
func readAmountPerAmount(value *big.Rat, compact, text string) (Strength, error) {
	top, bottom, found := strings.Cut(compact, "/")
	digits, under := tracker.CutNumber(bottom)
	a, ok := measures[top]
	b, ok2 := measures[under]
	if !found || !ok || !ok2 {
		return Strength{}, unreadable(text)
	}
	count := frac(1, 1)
	if digits != "" {
		n, err := tracker.ParseNumber(digits, "")
		if err != nil {
			return Strength{}, err
		}
		if n.Sign() <= 0 {
			return Strength{}, refuse("R1", "A strength must be in more than nothing.")
		}
		count = n
	}
	size := quo(mul(value, a.size), mul(count, b.size))
	hundred := count.Cmp(frac(100, 1)) == 0
	var unit Unit
	switch string([]rune{a.kind, b.kind}) {
	case "mv":
		unit = MgPerML
		if top == "g" && hundred && under == "ml" {
			unit = PercentWV
		} else if under == "l" || a.size.Cmp(frac(1, 1000000)) == 0 {
			unit = PPMWV
		}
	case "mm":
		unit = MgPerG
		if top == "g" && hundred && under == "g" {
			unit = PercentWW
		}
	case "vv":
		unit = PercentVV
	case "um":
		unit = UnitsPerG
	case "uv":
		unit = UnitsPerML
	case "mt":
		unit = MgPerTablet
	default:
		return Strength{}, unreadable(text)
	}
	return Strength{Unit: unit}.with(size), nil
}
