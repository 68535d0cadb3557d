package mixing

import (
	"fmt"
	"math/big"
	"slices"
	"strings"

	"leground/tracker"
)

// DeviceKind is what sort of measure a Device is.
type DeviceKind int

// The kinds of measure.
const (
	Syringe  DeviceKind = iota + 1
	Cylinder            // straight-sided, with fine marks
	Jug                 // wide or conical
	Spoon               // for water only, never for a concentrate
	Scale               // for powders, in grams
	Tablets             // whole tablets, or parts of one that the vet allows
)

var kindNames = [...]string{Syringe: "syringe", Cylinder: "cylinder", Jug: "jug", Spoon: "spoon", Scale: "scale", Tablets: "tablets"}

// String gives the word for the kind of measure.
func (k DeviceKind) String() string {
	if k < Syringe || k > Tablets {
		return ""
	}
	return kindNames[k]
}

// Device is a measure in the hand: what it holds and what its smallest mark shows, both in mL, or in
// grams for a Scale and tablets for Tablets.
type Device struct {
	Kind           DeviceKind
	Capacity, Mark *big.Rat
}

// ParseDevice reads a measure written as "20 mL syringe, 1 mL marks". The error is a *tracker.Error or
// a *tracker.AmbiguousNumber.
func ParseDevice(text string) (Device, error) {
	bad := tracker.Refuse(tracker.Invalid, fmt.Sprintf("%q is not a measure we can read. Write it like 20 mL syringe, 1 mL marks.", text))
	digits, rest := tracker.CutNumber(tidy(text))
	front, back, found := strings.Cut(strings.Replace(rest, " with ", ", ", 1), ",")
	words := strings.Fields(front)
	if digits == "" || len(words) < 2 {
		return Device{}, bad
	}
	var kind DeviceKind
	for k := Syringe; k < Tablets; k++ {
		name := words[len(words)-1]
		if name == k.String() || k == Spoon && strings.HasSuffix(name, "spoon") {
			kind = k
		}
	}
	capacity, err := ParseAmount(digits + " " + words[0])
	if err != nil {
		return Device{}, err
	}
	if kind == Spoon && !found {
		return Device{kind, capacity.Value, capacity.Value}, nil
	}
	marks := strings.Fields(back)
	if len(marks) < 2 || strings.TrimSuffix(marks[len(marks)-1], "s") != "mark" {
		return Device{}, bad
	}
	mark, err := ParseAmount(strings.Join(marks[:len(marks)-1], " "))
	if err != nil {
		return Device{}, err
	}
	d := Device{kind, capacity.Value, mark.Value}
	if !d.usable() || capacity.Unit != d.unit() || mark.Unit != d.unit() {
		return Device{}, bad
	}
	return d, nil
}

// usable tells whether kind, size and marks are there and the size is at least one mark.
func (d Device) usable() bool {
	return d.Kind.String() != "" && positive(d.Capacity) && positive(d.Mark) && !over(d.Mark, d.Capacity)
}

// unit gives what the device measures in.
func (d Device) unit() AmountUnit {
	switch d.Kind {
	case Scale:
		return Gram
	case Tablets:
		return Tablet
	}
	return ML
}

// shows tells whether the device is one to measure a product with that is counted in unit.
func (d Device) shows(unit AmountUnit) bool { return d.Kind != Spoon && d.unit() == unit }

// cannotShow refuses devices of which none shows an amount in unit; none at all is no refusal.
func cannotShow(devices []Device, unit AmountUnit) error {
	switch {
	case len(devices) == 0 || slices.ContainsFunc(devices, func(d Device) bool { return d.shows(unit) }):
		return nil
	case unit == ML && slices.ContainsFunc(devices, func(d Device) bool { return d.Kind == Spoon }):
		return refuse("R1", "A spoon is not a unit: spoons hold from 5 to 20\u00a0mL. Use a syringe or a cylinder.")
	case unit == Tablet:
		return refuse("R1", "This is counted in tablets, and a %s cannot show that. Leave the measure empty.", devices[0].Kind)
	}
	tool := "syringe or a cylinder"
	if unit == Gram {
		tool = "scale"
	}
	return refuse("R1", "This is measured in %s, and a %s cannot show that. Use a %s.", unit, devices[0].Kind, tool)
}

// Words gives the device for people: "20 mL syringe, 1 mL marks". ParseDevice reads it back.
func (d Device) Words(mark tracker.DecimalMark) string {
	return d.name(mark) + ", " + Amount{d.Mark, d.unit()}.Words(mark) + " marks"
}

func (d Device) name(mark tracker.DecimalMark) string {
	return Amount{d.Capacity, d.unit()}.Words(mark) + " " + d.Kind.String()
}

// Round gives the nearest mark, the lower one where two are equally near.
func (d Device) Round(v *big.Rat) *big.Rat {
	marks := quo(v, d.Mark)
	down := floor(marks)
	if over(sub(marks, down), frac(1, 2)) {
		down = add(down, frac(1, 1))
	}
	return mul(down, d.Mark)
}

// RoundDown gives the nearest mark that is not above v.
func (d Device) RoundDown(v *big.Rat) *big.Rat { return mul(floor(quo(v, d.Mark)), d.Mark) }

// Floor is the least the device measures well: 20% of what it holds and at least ten marks, so that
// a reading to half a mark is off by 5% at most. United States Pharmacopeia, chapter 1176, in summary;
// Newton 2003.
func (d Device) Floor() *big.Rat {
	least := quo(d.Capacity, frac(5, 1))
	if d.Kind == Scale || d.Kind == Tablets {
		least = new(big.Rat)
	}
	if ten := times(d.Mark, 10); d.Kind != Tablets && over(ten, least) {
		return ten
	}
	return least
}

// Tolerance is how far off the device itself may be when it delivers v in one fill, in its own unit.
//
// Syringes follow ISO 7886-1: below half of its size 1.5% of the size and 1% of what is delivered
// (2% for syringes under 5 mL), above it 4% (5%) of what is delivered. The figures for 1 mL and below
// half of 10 mL were read, the others are from memory. For cylinders and jugs it is a reading error of
// 1 mm as the United States Pharmacopeia, chapter 1176, gives it for 100 mL (0.5 mL straight, 1.8 mL
// conical), scaled to the size. For scales it is half a mark (our own rule); tablets have none.
func (d Device) Tolerance(v *big.Rat) *big.Rat {
	switch d.Kind {
	case Syringe:
		below, above := frac(1, 100), frac(4, 100)
		if d.Capacity.Cmp(frac(5, 1)) < 0 {
			below, above = frac(2, 100), frac(5, 100)
		}
		if times(v, 2).Cmp(d.Capacity) < 0 {
			return add(mul(d.Capacity, frac(15, 1000)), mul(v, below))
		}
		return mul(v, above)
	case Cylinder:
		return mul(d.Capacity, frac(5, 1000))
	case Jug:
		return mul(d.Capacity, frac(18, 1000))
	case Scale:
		return quo(d.Mark, frac(2, 1))
	}
	return new(big.Rat)
}

// Fill is one or more fills of a device to the same mark.
type Fill struct {
	Count int
	To    *big.Rat
}

// Fills splits an amount that is a whole number of marks into fills: full ones first, then the rest.
// A rest below 20% of the device shares with the last full one, so that neither is a small reading.
func (d Device) Fills(v *big.Rat) []Fill {
	top := d.RoundDown(d.Capacity)
	full := wholeNumber(quo(v, top))
	rest := sub(v, times(top, full))
	switch {
	case rest.Sign() == 0:
		return []Fill{{full, top}}
	case full == 0:
		return []Fill{{1, rest}}
	case times(rest, 5).Cmp(d.Capacity) >= 0:
		return []Fill{{full, top}, {1, rest}}
	}
	both := add(top, rest)
	low := d.RoundDown(quo(both, frac(2, 1)))
	fills := []Fill{{full - 1, top}, {1, sub(both, low)}, {1, low}}
	if times(low, 2).Cmp(both) == 0 {
		fills = []Fill{{full - 1, top}, {2, low}}
	}
	if full == 1 {
		return fills[1:]
	}
	return fills
}

// wholeNumber gives the whole part of a fraction as a count; amounts are held well below its bounds.
func wholeNumber(r *big.Rat) int {
	n := floor(r).Num()
	if !n.IsInt64() {
		panic("mixing: an amount beyond all measure: " + n.String())
	}
	return int(n.Int64())
}

// onMark tells whether the device can show v in one fill.
func (d Device) onMark(v *big.Rat) bool {
	return !over(v, d.Capacity) && quo(v, d.Mark).IsInt()
}

// tolerance gives how far off the device may be over all fills of v, errors added up.
func (d Device) tolerance(fills []Fill) *big.Rat {
	sum := new(big.Rat)
	for _, f := range fills {
		sum = add(sum, times(d.Tolerance(f.To), f.Count))
	}
	return sum
}

// fillWords says how to fill: "1 fill to the 20 mL mark, then 1 fill to the 5 mL mark".
func (d Device) fillWords(fills []Fill, mark tracker.DecimalMark) string {
	parts := make([]string, len(fills))
	for i, f := range fills {
		noun := "fills"
		if f.Count == 1 {
			noun = "fill"
		}
		parts[i] = fmt.Sprintf("%s\u00a0%s to the %s mark", tracker.FormatNumber(frac(int64(f.Count), 1), 0, mark), noun, Amount{f.To, d.unit()}.Words(mark))
	}
	return strings.Join(parts, ", then ")
}

// floor gives the whole part of a fraction that is not negative.
func floor(r *big.Rat) *big.Rat {
	return new(big.Rat).SetInt(new(big.Int).Quo(r.Num(), r.Denom()))
}

// ceil gives the next whole number at or above a fraction that is not negative.
func ceil(r *big.Rat) *big.Rat {
	if r.IsInt() {
		return new(big.Rat).Set(r)
	}
	return add(floor(r), frac(1, 1))
}
