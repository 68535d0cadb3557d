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
	Containers     int      // to buy for the whole course, each used within its in-use limit
	Working        []Line
}

// Lasts works out the supply of a course. Days of supply are rounded down, containers up.
func (n Need) Lasts(mark tracker.DecimalMark) Supply {
	perDay := times(n.Each.Value, n.TimesADay)
	course := times(perDay, n.Days)
	s := Supply{PerDay: Amount{perDay, n.Each.Unit}, Course: Amount{course, n.Each.Unit}}
	a := Answer{}
	a.line(Numbers, "%s × %d a day = %s a day", n.Each.Words(mark), n.TimesADay, s.PerDay.Words(mark))
	a.line(Numbers, "%s × %d days = %s", s.PerDay.Words(mark), n.Days, s.Course.Words(mark))
	if n.Left.Value != nil && n.Left.Unit == n.Each.Unit && perDay.Sign() > 0 {
		s.ExactDays = quo(n.Left.Value, perDay)
		s.Days = wholeNumber(s.ExactDays)
		if n.LeftForDays > 0 {
			s.Days = min(s.Days, n.LeftForDays)
		}
		a.line(Numbers, "%s left ÷ %s a day: enough for %d whole days", n.Left.Words(mark), s.PerDay.Words(mark), s.Days)
	}
	if n.Pack.Value != nil && n.Pack.Unit == n.Each.Unit && n.Pack.Value.Sign() > 0 && perDay.Sign() > 0 {
		s.Containers = wholeNumber(ceil(quo(course, n.Pack.Value)))
		if lasts := quo(n.Pack.Value, perDay); n.InUseDays > 0 && over(lasts, frac(int64(n.InUseDays), 1)) {
			s.Containers = wholeNumber(ceil(frac(int64(n.Days), int64(n.InUseDays))))
			a.line(Rounding, "An opened container keeps for %d days, less than it lasts.", n.InUseDays)
		}
		a.line(Numbers, "containers of %s to buy: %d", n.Pack.Words(mark), s.Containers)
	}
	s.Working = a.Working
	return s
}
