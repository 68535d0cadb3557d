package mixing

import (
	"fmt"
	"math/big"
	"strings"

	"leground/tracker"
)

// Unit is how a strength is written: an amount of substance in an amount of product.
type Unit int

// The units in which a strength can be stated.
const (
	PercentWV   Unit = iota + 1 // g in 100 mL
	PercentWW                   // g in 100 g
	PercentVV                   // mL in 100 mL
	MgPerML                     // mg in 1 mL
	GPerL                       // g in 1 L
	MgPerG                      // mg in 1 g
	PPMWV                       // mg in 1 L
	PPMWW                       // mg in 1 kg
	UnitsPerG                   // units of potency in 1 g
	UnitsPerML                  // units of potency in 1 mL
	MgPerTablet                 // mg in one tablet
)

// basis is what a strength is at bottom. Strengths of one basis differ only by a factor; from one
// basis to another needs a density, or cannot be done at all.
type basis int

const (
	massPerVolume   basis = iota + 1 // g per mL
	massPerMass                      // g per g
	volumePerVolume                  // mL per mL
	unitsPerMass                     // units per g
	unitsPerVolume                   // units per mL
	massPerPiece                     // g per tablet
)

// unitFacts says how a unit is written and what one of it is in its basis.
type unitFacts struct {
	label string // as on a label and on the command line
	basis basis
	one   *big.Rat
}

var unitTable = [...]unitFacts{
	PercentWV:   {"% w/v", massPerVolume, frac(1, 100)},
	PercentWW:   {"% w/w", massPerMass, frac(1, 100)},
	PercentVV:   {"% v/v", volumePerVolume, frac(1, 100)},
	MgPerML:     {"mg/mL", massPerVolume, frac(1, 1000)},
	GPerL:       {"g/L", massPerVolume, frac(1, 1000)},
	MgPerG:      {"mg/g", massPerMass, frac(1, 1000)},
	PPMWV:       {"ppm w/v", massPerVolume, frac(1, 1000000)},
	PPMWW:       {"ppm w/w", massPerMass, frac(1, 1000000)},
	UnitsPerG:   {"units/g", unitsPerMass, frac(1, 1)},
	UnitsPerML:  {"units/mL", unitsPerVolume, frac(1, 1)},
	MgPerTablet: {"mg/tablet", massPerPiece, frac(1, 1000)},
}

// basisWords says how a strength of each basis is shown to people: so many of it per so much.
var basisWords = [...]struct {
	scale *big.Rat
	words string
}{
	massPerVolume:   {frac(100, 1), "g per 100\u00a0mL"},
	massPerMass:     {frac(100, 1), "g per 100\u00a0g"},
	volumePerVolume: {frac(100, 1), "mL per 100\u00a0mL"},
	unitsPerMass:    {frac(1, 1), "units per g"},
	unitsPerVolume:  {frac(1, 1), "units per mL"},
	massPerPiece:    {frac(1000, 1), "mg per tablet"},
}

// String gives the unit as written on a label, such as "% w/v", and "" for no unit.
func (u Unit) String() string {
	if u < PercentWV || u > MgPerTablet {
		return ""
	}
	return unitTable[u].label
}

// Strength is how much of something is in a product: 2% w/v of chlorhexidine gluconate. A Strength
// whose Value is nil is none at all.
type Strength struct {
	Value *big.Rat
	Unit  Unit
	Of    Substance // what the number counts
}

// whole tells whether number, unit and substance are all there and the number is above zero.
func (s Strength) whole() bool { return positive(s.Value) && s.Unit.String() != "" && s.Of != "" }

func positive(r *big.Rat) bool { return r != nil && r.Sign() > 0 }

func (s Strength) basis() basis { return unitTable[s.Unit].basis }

// canonical gives the strength in the unit of its basis: g per mL, g per g and so on.
func (s Strength) canonical() *big.Rat { return mul(s.Value, unitTable[s.Unit].one) }

// with gives a strength in the same unit and of the same substance from its size in the basis.
func (s Strength) with(canonical *big.Rat) Strength {
	s.Value = quo(canonical, unitTable[s.Unit].one)
	return s
}

// Same tells whether two readings of a label mean exactly the same strength: 5% w/v and 50 mg/mL do,
// 5% w/v and 5% w/w do not, and neither do two salts.
func (s Strength) Same(other Strength) bool {
	if s.Value == nil || other.Value == nil {
		return s.Value == other.Value
	}
	return s.Of == other.Of && s.basis() == other.basis() && s.canonical().Cmp(other.canonical()) == 0
}

// Words gives the strength for people, as "5 g per 100 mL".
func (s Strength) Words(mark tracker.DecimalMark) string {
	show := basisWords[s.basis()]
	return number(mul(s.canonical(), show.scale), mark) + "\u00a0" + show.words
}

// Echo gives the strength in the unit of the label, as "5% w/v" or "50 mg/mL". Pages show it only
// beside Words, as an echo of what the label says.
func (s Strength) Echo(mark tracker.DecimalMark) string {
	label := s.Unit.String()
	if strings.HasPrefix(label, "%") {
		return number(s.Value, mark) + label
	}
	return number(s.Value, mark) + "\u00a0" + label
}

// MarshalText writes the strength exactly, for storage: "1/20|% w/v|chlorhexidine gluconate".
func (s Strength) MarshalText() ([]byte, error) {
	if s.Value == nil || s.Unit.String() == "" {
		return nil, fmt.Errorf("mixing: a strength without a number or a unit cannot be stored")
	}
	return []byte(s.Value.RatString() + "|" + s.Unit.String() + "|" + string(s.Of)), nil
}

// UnmarshalText reads what MarshalText wrote.
func (s *Strength) UnmarshalText(text []byte) error {
	parts := strings.SplitN(string(text), "|", 3)
	if len(parts) != 3 || strings.ContainsAny(parts[0], ".eEpPxX_") {
		return fmt.Errorf("mixing: %q is not a stored strength", text)
	}
	value, ok := new(big.Rat).SetString(parts[0])
	for u := PercentWV; ok && u <= MgPerTablet; u++ {
		if u.String() == parts[1] {
			*s = Strength{value, u, Substance(parts[2])}
			return nil
		}
	}
	return fmt.Errorf("mixing: %q is not a stored strength", text)
}

// In gives the same product's strength in another unit. Between weight and volume it needs the
// product's density in g per mL (nil when unknown, refused as R2); between units of potency and
// weight it is always refused (R3), since only the product's own monograph could say.
func (s Strength) In(unit Unit, density *big.Rat) (Strength, error) {
	from, to := s.basis(), unitTable[unit].basis
	size := s.canonical()
	switch {
	case from == to:
	case counts(from) != counts(to):
		return Strength{}, refuse("R3", "Units of potency cannot be turned into weight. Use a strength in the same units as the label.")
	case from == massPerMass && to == massPerVolume, from == unitsPerMass && to == unitsPerVolume:
		if density == nil {
			return Strength{}, refuse("R2", "The label is by weight and the mix by volume. That needs the density in g per mL.")
		}
		size = mul(size, density)
	case from == massPerVolume && to == massPerMass, from == unitsPerVolume && to == unitsPerMass:
		if density == nil {
			return Strength{}, refuse("R2", "The label is by volume and the mix by weight. That needs the density in g per mL.")
		}
		size = quo(size, density)
	default:
		return Strength{}, refuse("R2", "The two strengths are measured in different ways. Use one in the same unit as the label.")
	}
	return Strength{nil, unit, s.Of}.with(size), nil
}

// counts tells units of potency from grams and millilitres.
func counts(b basis) bool { return b == unitsPerMass || b == unitsPerVolume }

// Exact fractions: each of these makes a new number and leaves its arguments alone.

func frac(a, b int64) *big.Rat         { return big.NewRat(a, b) }
func add(a, b *big.Rat) *big.Rat       { return new(big.Rat).Add(a, b) }
func sub(a, b *big.Rat) *big.Rat       { return new(big.Rat).Sub(a, b) }
func mul(a, b *big.Rat) *big.Rat       { return new(big.Rat).Mul(a, b) }
func quo(a, b *big.Rat) *big.Rat       { return new(big.Rat).Quo(a, b) }
func over(a, b *big.Rat) bool          { return a.Cmp(b) > 0 }
func times(a *big.Rat, n int) *big.Rat { return mul(a, frac(int64(n), 1)) }

// number shows an exact fraction: in full when four decimal places hold it, else to four digits.
func number(r *big.Rat, mark tracker.DecimalMark) string {
	if isShort(r) {
		return tracker.FormatNumber(r, 4, mark)
	}
	return tracker.FormatDigits(r, 4, mark)
}

// isShort tells whether four decimal places hold a number.
func isShort(r *big.Rat) bool { return mul(r, frac(10000, 1)).IsInt() }

// percent shows a share of something, such as how much stronger a mix is, with its percent sign.
func percent(r *big.Rat, mark tracker.DecimalMark) string {
	return tracker.FormatNumber(mul(new(big.Rat).Abs(r), frac(100, 1)), 1, mark) + "%"
}

// percentOver is percent for a share that is above a limit, with as many places as show that it is.
func percentOver(r, limit *big.Rat, mark tracker.DecimalMark) string {
	size, most := mul(new(big.Rat).Abs(r), frac(100, 1)), mul(limit, frac(100, 1))
	for places := 1; places <= 3; places++ {
		if text := tracker.FormatNumber(size, places, mark); text != tracker.FormatNumber(most, places, mark) {
			return text + "%"
		}
	}
	return "just over " + percent(limit, mark)
}
