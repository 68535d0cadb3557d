package mixing

import (
	"math/big"

	"leground/tracker"
)

// Instruction is what a vet wrote down for a medicine given by weight. It carries the weight it was
// given for, so that no tape measure ever fills one in, and the most the vet allows.
type Instruction struct {
	By              string
	On              tracker.Date
	Of              Substance
	PerKG           *big.Rat // mg (or units) per kg, each time
	Units           bool     // PerKG, MaxPerKG and MaxCourse are units of potency, not mg
	WeightKG        *big.Rat
	WeightEstimated bool
	TimesPerDay     int
	Days            int
	MaxPerKG        *big.Rat // the most per kg, each time
	MaxCourse       *big.Rat // the most over the whole course; nil: none stated
	MaxDays         int      // the longest course; 0: none stated
}

// Dose is one dose and the course of them. When there is a refusal the amounts are empty.
type Dose struct {
	Each, Exact        Amount   // rounded to the measure, and before
	Course             Amount   // Each × times a day × days
	PerKG              *big.Rat // mg or units per kg that Each really gives
	RelativeError      *big.Rat
	Working            []Line
	Warnings, Refusals []Note
}

// Refused tells whether the dose must not be given.
func (d *Dose) Refused() bool { return len(d.Refusals) > 0 }

// Dose works out the vet's amount for one product: per kg × weight ÷ strength, rounded per dose to a
// mark of the device (nil: not rounded) and never above the vet's maximum, then the course. The
// instruction must be whole: without the vet's name, weight and maximum it is refused (R12). So is a
// device that cannot show the amount (R1).
func (in Instruction) Dose(stock Strength, device *Device, mark tracker.DecimalMark) Dose {
	each, err := in.exact(stock)
	switch {
	case err != nil || device == nil:
	case !device.usable():
		err = refuse("R1", "The measure has no size or no marks.")
	default:
		err = cannotShow([]Device{*device}, each.Unit)
	}
	if err != nil {
		a := refused(err)
		return Dose{Working: a.Working, Refusals: a.Refusals}
	}
	perKG := func(v *big.Rat) *big.Rat { return quo(mul(v, in.PerKG), each.Value) }
	d := Dose{Exact: each, Each: each}
	if device != nil {
		d.Each.Value = device.Round(each.Value)
		if over(perKG(d.Each.Value), in.MaxPerKG) {
			d.Each.Value = device.RoundDown(each.Value)
		}
	}
	d.PerKG = perKG(d.Each.Value)
	d.RelativeError = sub(quo(d.PerKG, in.PerKG), frac(1, 1))
	n := in.TimesPerDay * in.Days
	d.Course = Amount{times(d.Each.Value, n), each.Unit}
	in.judge(&d, times(mul(d.PerKG, in.WeightKG), n), mark)
	if d.Refused() {
		working := make([]Line, 0, len(d.Refusals))
		for _, r := range d.Refusals {
			working = append(working, Line{Stop, r.Text})
		}
		return Dose{Working: working, Warnings: d.Warnings, Refusals: d.Refusals}
	}
	in.explain(&d, stock, device, mark)
	return d
}

// exact checks the instruction and gives one dose before rounding.
func (in Instruction) exact(stock Strength) (Amount, error) {
	switch {
	case in.By == "" || in.On == 0:
		return Amount{}, refuse("R12", "There is no vet's instruction recorded. Record who gave it and when.")
	case !positive(in.PerKG) || !positive(in.WeightKG) || in.TimesPerDay < 1 || in.Days < 1:
		return Amount{}, refuse("R12", "The vet's instruction must carry the dose per kg, the weight, how often and how long.")
	case !positive(in.MaxPerKG):
		return Amount{}, refuse("R12", "The vet's instruction must carry the most per kg. Ask the vet for it.")
	case over(in.PerKG, in.MaxPerKG):
		return Amount{}, refuse("R12", "The dose is above the vet's own maximum. Ring the vet.")
	case in.MaxDays > 0 && in.Days > in.MaxDays:
		return Amount{}, refuse("R12", "The course is longer than the vet allows. Ring the vet.")
	case !stock.whole():
		return Amount{}, refuse("R1", "A strength must be more than zero.")
	case stock.Of != in.Of:
		return Amount{}, refuse("R4", "The bottle holds %s and the vet wrote %s. They are not the same.", stock.Of, in.Of)
	}
	inside := Amount{quo(mul(in.PerKG, in.WeightKG), frac(1000, 1)), Gram}
	if in.Units {
		inside = Amount{mul(in.PerKG, in.WeightKG), PotencyUnits}
	}
	return stock.Holding(inside)
}

// judge adds the refusals and warnings about the rounded dose; course is what the whole course holds.
func (in Instruction) judge(d *Dose, course *big.Rat, mark tracker.DecimalMark) {
	off := percentOver(d.RelativeError, tooFar, mark)
	switch {
	case d.Each.Value.Sign() == 0:
		d.Refusals = append(d.Refusals, say("R1", "%s is less than the finest mark of your measure. It cannot be measured with it.", d.Exact.Words(mark)))
	case over(d.RelativeError, tooFar):
		d.Refusals = append(d.Refusals, say("R15", "Rounded to %s it would be %s more than the vet wrote. Use a finer measure.", d.Each.Words(mark), off))
	case over(new(big.Rat).Neg(d.RelativeError), tooFar):
		d.Warnings = append(d.Warnings, say("W9", "Rounded to %s it is %s less than the vet wrote. Use a finer measure.", d.Each.Words(mark), off))
	}
	if in.MaxCourse != nil && over(course, in.MaxCourse) {
		d.Refusals = append(d.Refusals, say("R12", "The whole course is above the vet's maximum. Ring the vet."))
	}
	if in.WeightEstimated {
		tenth := quo(in.WeightKG, frac(10, 1))
		d.Warnings = append(d.Warnings, say("W11", "The weight is an estimate: it may be from %s to %s\u00a0kg. A scale is better.",
			number(sub(in.WeightKG, tenth), mark), number(add(in.WeightKG, tenth), mark)))
	}
}

func (in Instruction) explain(d *Dose, stock Strength, device *Device, mark tracker.DecimalMark) {
	unit := "mg"
	if in.Units {
		unit = "units"
	}
	var a Answer
	a.line(Do, "Give %s, %s for %s.", d.Each.Words(mark), tracker.TimesADay(in.TimesPerDay), tracker.Count(in.Days, "day"))
	a.line(Inputs, "%s wrote %s\u00a0%s per kg for %s\u00a0kg on %s.", in.By, number(in.PerKG, mark), unit, number(in.WeightKG, mark), tracker.DayName(in.On))
	a.line(Inputs, "Have %s.", of(stock, mark))
	a.line(Formula, "dose = per kg × weight ÷ strength")
	a.line(Numbers, "dose = %s × %s ÷ %s = %s%s", number(in.PerKG, mark), number(in.WeightKG, mark),
		stock.Echo(mark), equals(d.Exact.Value), d.Exact.Words(mark))
	a.line(Numbers, "course = %s × %d × %d = %s", d.Each.Words(mark), in.TimesPerDay, in.Days, d.Course.Words(mark))
	a.line(Backwards, "%s gives %s%s\u00a0%s per kg.", d.Each.Words(mark), equals(d.PerKG), number(d.PerKG, mark), unit)
	if device != nil && d.RelativeError.Sign() != 0 {
		a.line(Rounding, "%s rounded to %s: your measure has %s marks.", d.Exact.Words(mark), d.Each.Words(mark), Amount{device.Mark, device.unit()}.Words(mark))
	} else {
		a.line(Rounding, "Nothing was rounded.")
	}
	d.Working = a.Working
}

// CheckArea refuses an area, all that is covered at one time, above the most that is recorded; by says who recorded it.
// Without either there is nothing to compare.
func CheckArea(area, most *big.Rat, by string, mark tracker.DecimalMark) []Note {
	if area == nil || most == nil || !over(area, most) {
		return nil
	}
	return []Note{say("R12", "An area of %s\u00a0cm² is above the most that %s allows at one time: %s\u00a0cm². Ring the vet.", number(area, mark), by, number(most, mark))}
}

// CheckCourse refuses a course of a substance that is above what its own rule allows, whoever asks:
// dimethyl sulfoxide at most 100 mL a day for at most 30 days (21 CFR 524.660).
func CheckCourse(of Substance, perDay Amount, days int) []Note {
	if of.Family() != dmso {
		return nil
	}
	var notes []Note
	if over(perDay.Value, frac(100, 1)) {
		notes = append(notes, say("R12", "Dimethyl sulfoxide: at most 100\u00a0mL a day on a horse. Ring the vet."))
	}
	if days > 30 {
		notes = append(notes, say("R12", "Dimethyl sulfoxide: at most 30 days on a horse. Ring the vet."))
	}
	return notes
}
