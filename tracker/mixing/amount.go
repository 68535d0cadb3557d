package mixing

import (
	"fmt"
	"math/big"

	"leground/tracker"
)

// AmountUnit is the unit of an Amount.
type AmountUnit int

// Amounts are in millilitres, grams, units of potency or tablets; anything else is converted when read.
const (
	ML AmountUnit = iota + 1
	Gram
	PotencyUnits
	Tablet
)

// String gives the unit as shown behind a number.
func (u AmountUnit) String() string {
	return [...]string{"", "mL", "g", "units", "tablets"}[u]
}

// Amount is a volume, a weight or a count. An Amount whose Value is nil is none at all.
type Amount struct {
	Value *big.Rat
	Unit  AmountUnit
}

// Millilitres makes a whole number of millilitres.
func Millilitres(n int64) Amount { return Amount{frac(n, 1), ML} }

// Words gives the amount for people, as "1 500 mL".
func (a Amount) Words(mark tracker.DecimalMark) string {
	if a.Unit == Tablet && a.Value.Cmp(frac(1, 1)) == 0 {
		return "1\u00a0tablet"
	}
	return number(a.Value, mark) + "\u00a0" + a.Unit.String()
}

// ParseAmount reads a volume in mL or L or a weight in mg, g or kg. An amount without a unit, or not
// above zero, is refused as R1 (a *Note); spoons and cups are no units.
func ParseAmount(text string) (Amount, error) {
	digits, unit := tracker.CutNumber(tidy(text))
	value, err := tracker.ParseNumber(digits, "")
	if err != nil {
		return Amount{}, err
	}
	if unit == "" {
		return Amount{}, refuse("R1", "The amount has no unit. Write it like 500\u00a0mL or 1\u00a0L.")
	}
	m, known := measures[unit]
	if !known || m.kind != 'm' && m.kind != 'v' {
		return Amount{}, tracker.Refuse(tracker.Invalid, fmt.Sprintf("%q is not an amount we can read. Write it in mL or L, like 500 mL.", text))
	}
	if value.Sign() <= 0 {
		return Amount{}, refuse("R1", "The amount must be more than zero.")
	}
	a := Amount{mul(value, m.size), Gram}
	if m.kind == 'v' {
		a.Unit = ML
	}
	if a.Value.Cmp(smallest) < 0 || over(a.Value, largest) {
		return Amount{}, refuse("R1", "No measure here shows an amount this small or this large. Check the zeros.")
	}
	return a, nil
}

// smallest and largest bound what anybody mixes or measures: a microgram, and 10,000 L or 10 tonnes.
var smallest, largest = frac(1, 1000000), frac(10000000, 1)

// ParseDensity reads grams per millilitre, with or without "g/mL" behind the number. Water is 1.
// A density with three decimals such as 1.065 is read as it stands: no liquid weighs 1,065 g per mL.
func ParseDensity(text string) (*big.Rat, error) {
	value, err := tracker.ParseNumber(text, "g/mL")
	if two, ok := err.(*tracker.AmbiguousNumber); ok {
		value, err = two.Smaller, nil
	}
	if err != nil {
		return nil, err
	}
	if value.Cmp(frac(1, 2)) < 0 || over(value, frac(3, 1)) {
		return nil, tracker.Refuse(tracker.Invalid, "A density must be from 0.5 to 3 g per mL, like 1.06. Water is 1.")
	}
	return value, nil
}

// Contents gives how much of the substance an amount of product holds: grams, or units of potency.
func (s Strength) Contents(product Amount, density *big.Rat) (Amount, error) {
	size, unit := s.canonical(), Gram
	if counts(s.basis()) {
		unit = PotencyUnits
	}
	if s.basis() == volumePerVolume {
		unit = ML
	}
	if s.per() != product.Unit {
		converted, err := s.In(perUnit(s.basis(), product.Unit), density)
		if err != nil {
			return Amount{}, err
		}
		size = converted.canonical()
	}
	return Amount{mul(size, product.Value), unit}, nil
}

// Holding gives the amount of product that holds so much of the substance: the inverse of Contents.
// The substance is in grams, units of potency or, for % v/v, millilitres.
func (s Strength) Holding(substance Amount) (Amount, error) {
	want := Gram
	switch {
	case counts(s.basis()):
		want = PotencyUnits
	case s.basis() == volumePerVolume:
		want = ML
	}
	if substance.Unit != want {
		return Amount{}, refuse("R3", "Units of potency, weight and volume cannot be turned into each other. Use the unit on the label.")
	}
	return Amount{quo(substance.Value, s.canonical()), s.per()}, nil
}

// per gives the unit of the product that the strength is stated in.
func (s Strength) per() AmountUnit {
	switch s.basis() {
	case massPerMass, unitsPerMass:
		return Gram
	case massPerPiece:
		return Tablet
	}
	return ML
}

// perUnit gives the unit of strength with the same counting as b in a product measured in unit.
func perUnit(b basis, unit AmountUnit) Unit {
	switch {
	case counts(b) && unit == Gram:
		return UnitsPerG
	case counts(b):
		return UnitsPerML
	case unit == Gram:
		return PercentWW
	case unit == Tablet:
		return MgPerTablet
	}
	return PercentWV
}
