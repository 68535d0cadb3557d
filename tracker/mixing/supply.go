package mixing

import (
	"math/big"

	"leground/tracker"
)

// FingertipGrams gives a fingertip unit: the cream squeezed along the last joint of the index finger,
// rounded to 0.5 g for a man's finger and 0.4 g for a woman's. Long and Finlay 1991.
func FingertipGrams(woman bool) *big.Rat {
	if woman {
		return frac(4, 10)
	}
	return frac(5, 10)
}

// fingertipAreaCM2 is what a man's unit covers of bare human skin. Long and Finlay 1991.
var fingertipAreaCM2 = frac(286, 1)

// usualMargin is what is added to an area amount: the standard deviation of the area that a fingertip
// unit covered was 28% of its mean (Long and Finlay 1991).
var usualMargin = frac(30, 100)

// Spread is an area to be covered with cream or gel. Give LoadMGPerCM2, or FilmMicrometres with
// DensityGPerML; with neither the fingertip unit decides.
type Spread struct {
	AreaCM2         *big.Rat
	LoadMGPerCM2    *big.Rat
	FilmMicrometres *big.Rat
	DensityGPerML   *big.Rat
	Margin          *big.Rat // share added on top; nil: 30%
}

const bareSkin = "This is an estimate for clipped, bare skin. Hair, crusts and clefts take more."

// Grams estimates what one application takes, rounded nowhere.
func (s Spread) Grams(mark tracker.DecimalMark) Answer {
	margin := s.Margin
	if margin == nil {
		margin = usualMargin
	}
	var a Answer
	var bare *big.Rat
	switch {
	case s.AreaCM2 == nil || s.AreaCM2.Sign() <= 0 || margin.Sign() < 0:
		return refused(refuse("R1", "The area must be more than zero."))
	case s.LoadMGPerCM2 != nil:
		bare = quo(mul(s.AreaCM2, s.LoadMGPerCM2), frac(1000, 1))
		a.line(Formula, "grams = area × load ÷ 1\u202f000")
		a.line(Numbers, "grams = %s × %s ÷ 1\u202f000 = %s", number(s.AreaCM2, mark), number(s.LoadMGPerCM2, mark), Amount{bare, Gram}.Words(mark))
	case s.FilmMicrometres != nil && s.DensityGPerML != nil:
		bare = quo(mul(mul(s.AreaCM2, s.FilmMicrometres), s.DensityGPerML), frac(10000, 1))
		a.line(Formula, "grams = area × thickness ÷ 10\u202f000 × density")
		a.line(Numbers, "grams = %s × %s ÷ 10\u202f000 × %s = %s", number(s.AreaCM2, mark), number(s.FilmMicrometres, mark),
			number(s.DensityGPerML, mark), Amount{bare, Gram}.Words(mark))
	case s.FilmMicrometres != nil:
		return refused(refuse("R2", "A film thickness needs the density in g per mL."))
	default:
		bare = quo(mul(s.AreaCM2, FingertipGrams(false)), fingertipAreaCM2)
		a.line(Formula, "grams = area ÷ area of a fingertip unit × its grams")
		a.line(Numbers, "grams = %s ÷ %s × %s = %s%s", number(s.AreaCM2, mark), number(fingertipAreaCM2, mark),
			number(FingertipGrams(false), mark), equals(bare), Amount{bare, Gram}.Words(mark))
	}
	a.Amount = Amount{mul(bare, add(frac(1, 1), margin)), Gram}
	a.line(Numbers, "with %s on top = %s%s", percent(margin, mark), equals(a.Amount.Value), a.Amount.Words(mark))
	a.line(Rounding, bareSkin)
	return a
}

// Fingertips gives the grams in a number of fingertip units of the given size, without a margin.
func Fingertips(count, gramsEach *big.Rat, mark tracker.DecimalMark) Answer {
	a := Answer{Amount: Amount{mul(count, gramsEach), Gram}}
	a.line(Numbers, "%s fingertip units × %s = %s", number(count, mark), Amount{gramsEach, Gram}.Words(mark), a.Amount.Words(mark))
	a.line(Rounding, bareSkin)
	return a
}

// About rounds an amount to two digits, since no sum here is finer than that, and says so.
func (a Answer) About(mark tracker.DecimalMark) Answer {
	if a.Refused() || a.Amount.Value == nil {
		return a
	}
	exact := a.Amount.Value
	a.Amount.Value = twoDigits(exact)
	if a.Amount.Value.Cmp(exact) != 0 {
		a.line(Rounding, "That is about %s: an estimate is no finer.", a.Amount.Words(mark))
	}
	return a
}

// twoDigits gives the nearest number of two digits, or the nearest whole one from 100 up.
func twoDigits(v *big.Rat) *big.Rat {
	step := frac(1, 1)
	for v.Sign() > 0 && over(times(step, 10), v) {
		step = quo(step, frac(10, 1))
	}
	return mul(floor(add(quo(v, step), frac(1, 2))), step)
}

// Strip is a product that is measured by the length squeezed out. The grams hold for its own nozzle only.
type Strip struct {
	Product       string
	GramsPer100MM *big.Rat
}

// Grams gives the weight of a strip of the given length. Another product than the strip's own is
// refused (R4), since another nozzle gives another weight.
func (s Strip) Grams(product string, lengthMM *big.Rat, mark tracker.DecimalMark) Answer {
	if product != s.Product || s.Product == "" {
		return refused(refuse("R4", "This strip length is for %s only. Another tube has another nozzle.", s.Product))
	}
	a := Answer{Amount: Amount{quo(mul(lengthMM, s.GramsPer100MM), frac(100, 1)), Gram}}
	a.line(Numbers, "%s\u00a0mm × %s ÷ 100\u00a0mm = %s", number(lengthMM, mark), Amount{s.GramsPer100MM, Gram}.Words(mark), a.Amount.Words(mark))
	return a
}

// Need is a course of applications and what there is for it.
type Need struct {
	Each        Amount // one application
	TimesADay   int
	Days        int
	Left        Amount // what there is; no Value: not asked
	Pack        Amount // what one container holds; no Value: not asked
	InUseDays   int    // how many days an opened container keeps; 0: not printed
	LeftForDays int    // how many days what is left may still be used; 0: not limited
}

// Supply is how far what there is will go, and what to buy.
type Supply struct {
	PerDay, Course Amount
	ExactDays      *big.Rat // days of supply; nil when not asked
	Days           int      // whole days of supply, within LeftForDays
	Containers     int      // to buy beside what is left, each used within its in-use limit
	Working        []Line
}

// Lasts works out the supply of a course. Days of supply are rounded down, containers up.
func (n Need) Lasts(mark tracker.DecimalMark) Supply {
	perDay := times(n.Each.Value, n.TimesADay)
	course := times(perDay, n.Days)
	s := Supply{PerDay: Amount{perDay, n.Each.Unit}, Course: Amount{course, n.Each.Unit}}
	a := Answer{}
	a.line(Numbers, "%s × %d a day = %s a day", n.Each.Words(mark), n.TimesADay, s.PerDay.Words(mark))
	a.line(Numbers, "%s × %s = %s", s.PerDay.Words(mark), tracker.Count(n.Days, "day"), s.Course.Words(mark))
	used := n.goes(&s, &a, mark)
	n.buys(&s, &a, used, mark)
	s.Working = a.Working
	return s
}

// goes adds how many days what is left is enough for, and gives how much of it the course uses.
func (n Need) goes(s *Supply, a *Answer, mark tracker.DecimalMark) *big.Rat {
	if n.Left.Value == nil || n.Left.Unit != n.Each.Unit || s.PerDay.Value.Sign() <= 0 {
		return new(big.Rat)
	}
	used := n.Left.Value
	s.ExactDays = quo(used, s.PerDay.Value)
	s.Days = wholeNumber(s.ExactDays)
	a.line(Numbers, "%s left ÷ %s a day: enough for %s", n.Left.Words(mark), s.PerDay.Words(mark), tracker.Count(s.Days, "whole day"))
	if n.LeftForDays > 0 && n.LeftForDays < s.Days {
		s.Days = n.LeftForDays
		used = times(s.PerDay.Value, s.Days)
		a.line(Rounding, "It must be thrown away before that: it does for %s.", tracker.Count(s.Days, "whole day"))
	}
	if over(used, s.Course.Value) {
		return s.Course.Value
	}
	return used
}

// buys adds how many containers the rest of the course takes.
func (n Need) buys(s *Supply, a *Answer, used *big.Rat, mark tracker.DecimalMark) {
	rest := Amount{sub(s.Course.Value, used), n.Each.Unit}
	if n.Pack.Value == nil || n.Pack.Unit != n.Each.Unit || n.Pack.Value.Sign() <= 0 || s.Course.Value.Sign() <= 0 {
		return
	}
	if rest.Value.Sign() == 0 {
		a.line(Numbers, "What is left is enough for the whole course. Nothing to buy.")
		return
	}
	if used.Sign() > 0 {
		a.line(Numbers, "%s − %s of what is left = %s still to buy", s.Course.Words(mark), Amount{used, n.Each.Unit}.Words(mark), rest.Words(mark))
	}
	s.Containers = wholeNumber(ceil(quo(rest.Value, n.Pack.Value)))
	if lasts := quo(n.Pack.Value, s.PerDay.Value); n.InUseDays > 0 && over(lasts, frac(int64(n.InUseDays), 1)) {
		s.Containers = wholeNumber(ceil(frac(int64(n.Days-s.Days), int64(n.InUseDays))))
		a.line(Rounding, "An opened container keeps for %s, less than it lasts.", tracker.Count(n.InUseDays, "day"))
	}
	a.line(Numbers, "containers of %s to buy: %d", n.Pack.Words(mark), s.Containers)
}
