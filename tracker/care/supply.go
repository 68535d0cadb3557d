package care

import (
	"fmt"
	"math/big"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
)

// useDays is over how many days the use of a product is averaged, while no plan says what it will be.
const useDays = 14

// usualDelivery is how many days a delivery takes when nobody said (common practice, no source).
const usualDelivery = 7

// Supply is how long a product will last.
type Supply struct {
	Left    mixing.Amount
	PerDay  mixing.Amount // no value: nothing was used of late
	Days    int           // whole days; within the throw-away times of what there is
	Takes   int           // days until a delivery comes
	Reorder bool          // what is left will not last until a delivery
}

// Words says it in a sentence; empty when nothing was used.
func (s Supply) Words(mark tracker.DecimalMark) string {
	if s.PerDay.Value == nil {
		return ""
	}
	about := mixing.Amount{Value: roundedUse(s.PerDay.Value), Unit: s.PerDay.Unit}
	text := fmt.Sprintf("%s left that may be used: enough for %s at about %s a day.", s.Left.Words(mark), days(s.Days), about.Words(mark))
	if s.Reorder {
		text += fmt.Sprintf(" A delivery takes %s: order now.", days(s.Takes))
	}
	return text
}

func days(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}

// roundedUse rounds an average to the whole, or to a tenth below ten: it is an estimate.
func roundedUse(v *big.Rat) *big.Rat {
	step := big.NewRat(1, 1)
	if v.Cmp(big.NewRat(10, 1)) < 0 {
		step = big.NewRat(1, 10)
	}
	n := new(big.Rat).Quo(v, step)
	n.Add(n, big.NewRat(1, 2))
	return step.Mul(step, new(big.Rat).SetInt(new(big.Int).Quo(n.Num(), n.Denom())))
}

// supply works out how long what there is of a product will last at the use of the last two weeks. Bottles
// are used one after the other, the one that must be thrown away first before the others, and none past its
// throw-away time. A bottle that may not be used, for whatever reason, does not count.
func (s *stores) supply(product tracker.Product) (Supply, error) {
	out := Supply{Takes: product.Facts.DeliveryDays}
	if out.Takes == 0 {
		out.Takes = usualDelivery
	}
	density, err := Fraction(product.Facts.Density)
	if err != nil {
		return out, err
	}
	var usable []Stock
	for _, b := range s.bottles {
		if b.Product.ID == product.ID && b.Stop == "" {
			usable = append(usable, b)
		}
	}
	out.Left = mixing.Amount{Value: new(big.Rat), Unit: s.unitOf(product)}
	for _, b := range usable {
		if left, ok := inUnit(b.Left, out.Left.Unit, density); ok {
			out.Left.Value.Add(out.Left.Value, left.Value)
		}
	}
	if out.PerDay, err = s.perDay(product.ID, out.Left.Unit, density); err != nil || out.PerDay.Value == nil {
		return out, err
	}
	slices.SortStableFunc(usable, func(a, b Stock) int { return compareEnds(a.ThrowAway, b.ThrowAway) })
	lasts := new(big.Rat)
	for _, b := range usable {
		left, ok := inUnit(b.Left, out.Left.Unit, density)
		if !ok {
			continue
		}
		life := new(big.Rat).Quo(left.Value, out.PerDay.Value)
		if !b.ThrowAway.IsZero() {
			life = least(life, new(big.Rat).Sub(wholeDays(b.ThrowAway.Sub(s.now)), lasts))
		}
		if n := product.Facts.InUseDays; n > 0 && b.Opened == 0 {
			life = least(life, big.NewRat(int64(n), 1))
		}
		if life.Sign() > 0 {
			lasts.Add(lasts, life)
		}
	}
	out.Days = int(new(big.Int).Quo(lasts.Num(), lasts.Denom()).Int64())
	out.Reorder = out.Days <= out.Takes
	return out, nil
}

// unitOf is the unit in which most of a product is counted: that of its oldest bottle, else mL.
func (s *stores) unitOf(product tracker.Product) mixing.AmountUnit {
	for _, b := range s.bottles {
		if b.Product.ID == product.ID {
			return b.Left.Unit
		}
	}
	return mixing.ML
}

// perDay averages what was used of a product over the days since its first use, at most useDays.
func (s *stores) perDay(product tracker.ProductID, unit mixing.AmountUnit, density *big.Rat) (mixing.Amount, error) {
	sum, span := new(big.Rat), int64(0)
	today := tracker.DateOf(s.now.In(s.zone))
	for _, use := range s.uses {
		if use.Product != product {
			continue
		}
		amount, err := Amount(use.Amount)
		if err != nil {
			return mixing.Amount{}, err
		}
		if amount, ok := inUnit(amount, unit, density); ok {
			sum.Add(sum, amount.Value)
			span = max(span, int64(today-tracker.DateOf(use.At.In(s.zone)))+1)
		}
	}
	if sum.Sign() == 0 {
		return mixing.Amount{}, nil
	}
	return mixing.Amount{Value: sum.Quo(sum, big.NewRat(min(span, useDays), 1)), Unit: unit}, nil
}

// compareEnds puts the earlier throw-away time first; none is the latest.
func compareEnds(a, b time.Time) int {
	switch {
	case a.IsZero() && b.IsZero():
		return 0
	case a.IsZero():
		return 1
	case b.IsZero():
		return -1
	}
	return a.Compare(b)
}

func least(a, b *big.Rat) *big.Rat {
	if b.Cmp(a) < 0 {
		return b
	}
	return a
}

// wholeDays gives the whole days in a span.
func wholeDays(d time.Duration) *big.Rat { return big.NewRat(int64(d/(24*time.Hour)), 1) }
