package mixing

import (
	"fmt"
	"math/big"
	"time"

	"leground/tracker"
)

// Answer is a calculation other than a mix: what came out, how, and what speaks against it. Only what
// the calculation is about is filled in, and after a refusal nothing is.
type Answer struct {
	Amount             Amount
	Strength           Strength
	Working            []Line
	Warnings, Refusals []Note
}

// Refused tells whether the answer must not be used.
func (a *Answer) Refused() bool { return len(a.Refusals) > 0 }

// refused makes an Answer of an error.
func refused(err error) Answer {
	note, ok := AsNote(err)
	if !ok {
		panic("mixing: an error that is no refusal: " + err.Error())
	}
	return Answer{Refusals: []Note{note}, Working: []Line{{Stop, note.Text}}}
}

// line adds a line of working.
func (a *Answer) line(part Part, format string, args ...any) {
	a.Working = append(a.Working, Line{part, fmt.Sprintf(format, args...)})
}

// Made gives the strength that an amount of stock makes in a whole of the given size: the way back
// from the hands to the number, used for traps and checks. density is the stock's, nil if not needed.
func Made(stock Strength, concentrate, whole Amount, density *big.Rat) (Strength, error) {
	if whole.Value.Sign() <= 0 {
		return Strength{}, refuse("R1", "The amount must be more than zero.")
	}
	inside, err := stock.Contents(concentrate, density)
	if err != nil {
		return Strength{}, err
	}
	unit := perUnit(stock.basis(), whole.Unit)
	if stock.basis() == volumePerVolume {
		if whole.Unit != ML {
			return Strength{}, refuse("R2", "The two strengths are measured in different ways. Use one in the same unit as the label.")
		}
		unit = PercentVV
	}
	return Strength{nil, unit, stock.Of}.with(quo(inside.Value, whole.Value)), nil
}

// Recipe is a recipe typed from elsewhere, with the strength that it claims to make.
type Recipe struct {
	Stock       Strength
	Density     *big.Rat
	Concentrate Amount
	Liquid      Amount
	Added       bool // Liquid is the water it is added to; else the whole it is made up to
	Claim       Strength
}

// RecipeCheck is what a typed recipe really makes. Off is how far that is from the claim, as a share
// of the claim: -1/2 is half as strong.
type RecipeCheck struct {
	Answer
	Off *big.Rat
}

// CheckRecipe works a recipe out from the label and warns (W14) when it is more than 5% from what it
// claims. It never follows the recipe.
func CheckRecipe(r Recipe, mark tracker.DecimalMark) RecipeCheck {
	whole := r.Liquid
	if r.Added {
		if r.Concentrate.Unit != r.Liquid.Unit {
			return RecipeCheck{Answer: refused(refuse("R2", "Powder added to water changes the volume. Make it up to a volume instead."))}
		}
		whole = Amount{add(r.Liquid.Value, r.Concentrate.Value), r.Liquid.Unit}
	}
	makes, err := Made(r.Stock, r.Concentrate, whole, r.Density)
	if err == nil {
		makes, err = makes.CountedAs(r.Claim.Of, nil)
	}
	if err == nil && makes.basis() != r.Claim.basis() {
		err = refuse("R2", "The recipe makes a strength of another kind than it claims. State both in the same way.")
	}
	if err != nil {
		return RecipeCheck{Answer: refused(err)}
	}
	makes = r.Claim.with(makes.canonical())
	c := RecipeCheck{Answer: Answer{Amount: whole, Strength: makes}, Off: sub(quo(makes.Value, r.Claim.Value), frac(1, 1))}
	c.line(Formula, "makes = have × concentrate ÷ whole")
	c.line(Numbers, "makes = %s × %s ÷ %s = %s", of(r.Stock, mark), r.Concentrate.Words(mark), whole.Words(mark), makes.Words(mark))
	if off := new(big.Rat).Abs(c.Off); over(off, tooFar) {
		way := "stronger"
		if c.Off.Sign() < 0 {
			way = "weaker"
		}
		note := say("W14", "The recipe says %s. From the label it makes %s, %s %s.", r.Claim.Words(mark), makes.Words(mark), percentOver(off, tooFar, mark), way)
		c.Warnings = append(c.Warnings, note)
	}
	return c
}

// Portion is some of a mix or a bottle that is to be poured together with others.
type Portion struct {
	Strength  Strength
	Amount    Amount
	GoodUntil time.Time // the zero time is none
}

// Leftovers works out what portions of the same substance make together, and until when that is good:
// the earliest of theirs. Different substances, salts or bases are refused (R4), and before that what must never meet
// in one container (R7).
func Leftovers(portions []Portion, mark tracker.DecimalMark) (Answer, time.Time) {
	var until time.Time
	if len(portions) == 0 {
		return refused(refuse("R1", "There is nothing to pour together.")), until
	}
	if err := apart(portions); err != nil {
		return refused(err), until
	}
	inside, whole := new(big.Rat), new(big.Rat)
	first := portions[0].Strength
	var a Answer
	for _, p := range portions {
		if p.Strength.Of != first.Of || p.Strength.basis() != first.basis() || p.Amount.Unit != p.Strength.per() {
			return refused(refuse("R4", "These do not count the same thing in the same way. Do not pour them together.")), time.Time{}
		}
		inside = add(inside, mul(p.Strength.canonical(), p.Amount.Value))
		whole = add(whole, p.Amount.Value)
		if !p.GoodUntil.IsZero() && (until.IsZero() || p.GoodUntil.Before(until)) {
			until = p.GoodUntil
		}
		a.line(Inputs, "%s of %s.", p.Amount.Words(mark), of(p.Strength, mark))
	}
	a.Amount, a.Strength = Amount{whole, first.per()}, first.with(quo(inside, whole))
	a.line(Formula, "together = sum of (strength × amount) ÷ sum of amounts")
	a.line(Numbers, "together = %s in %s", a.Strength.Words(mark), a.Amount.Words(mark))
	return a, until
}

// apart refuses portions of which two must never meet in one container.
func apart(portions []Portion) error {
	for i, p := range portions {
		for _, other := range portions[:i] {
			for _, note := range Combine(p.Strength.Of, other.Strength.Of, SameContainer, false) {
				if note.ID == "R7" {
					return &note
				}
			}
		}
	}
	return nil
}
