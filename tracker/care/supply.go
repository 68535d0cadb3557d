package care

import (
	"fmt"
	"math"
	"math/big"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
)

const (
	// supplyDays is how many days ahead Stores looks.
	supplyDays = 90
	// useDays is over how many days the use of a product is averaged that no plan asks for.
	useDays = 14
	// usualDelivery is how many days a delivery takes when nobody said (common practice, no source).
	usualDelivery = 7
	// buyDays is for how many days after a delivery new containers are counted (our own choice).
	buyDays = 28
)

// Supply is how long a product will last.
type Supply struct {
	Left     mixing.Amount
	ByPlan   bool          // Need is what the plans ask for; else it is the use of the last two weeks
	Need     mixing.Amount // until a delivery comes; no value: no plan asks for it and nothing was used of late
	Days     int           // whole days that what is left is enough for; supplyDays: at least so many
	ByAmount int           // days it would be enough for if none of it had to be thrown away first
	Takes    int           // days until a delivery comes
	Reorder  bool          // what is left will not last until a delivery
	Pack     mixing.Amount // what one container holds; with Reorder
	Buy      int           // containers that last until buyDays after a delivery
	Keeps    int           // days that an opened container keeps; 0: not printed
}

// Words says it in a sentence or two, and which of the two it went by; empty when nothing is needed.
func (s Supply) Words(mark tracker.DecimalMark) string {
	if s.Need.Value == nil {
		return ""
	}
	about := func(v *big.Rat) string { return mixing.Amount{Value: roundedUse(v), Unit: s.Need.Unit}.Words(mark) }
	text := s.Left.Words(mark) + " left that may be used: enough for " + s.enough(s.Days)
	if s.ByPlan {
		text += fmt.Sprintf(". By the plans about %s go in the %s until a delivery comes", about(s.Need.Value), tracker.Count(s.Takes, "day"))
	} else {
		text += fmt.Sprintf(" at about %s a day, by the use of the last two weeks. A delivery takes %s", about(new(big.Rat).Quo(s.Need.Value, big.NewRat(int64(s.Takes), 1))), tracker.Count(s.Takes, "day"))
	}
	if !s.Reorder {
		return text + "." + s.thrownFirst()
	}
	text += ": order now." + s.thrownFirst()
	if s.Buy > 0 {
		text += fmt.Sprintf(" To last for %s after it takes %d of %s.", tracker.Count(buyDays, "day"), s.Buy, s.Pack.Words(mark))
		if s.Keeps > 0 {
			text += fmt.Sprintf(" An opened one keeps for %s.", tracker.Count(s.Keeps, "day"))
		}
	}
	return text
}

// thrownFirst says why what is left is enough for fewer days than its amount; empty where it is not so.
func (s Supply) thrownFirst() string {
	if s.ByAmount <= s.Days {
		return ""
	}
	return " The amount would do for " + s.enough(s.ByAmount) + ", but a throw-away time comes first."
}

// enough says for how many days.
func (s Supply) enough(days int) string {
	switch {
	case days < supplyDays:
		return tracker.Count(days, "day")
	case s.ByPlan:
		return "all that the plans ask for in " + tracker.Count(supplyDays, "day")
	}
	return tracker.Count(supplyDays, "day") + " or more"
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

// supply works out how long what there is of a product will last: by what the plans will use day by day, or where
// no plan uses it by the use of the last two weeks. A bottle that may not be used, for whatever reason, does not
// count.
func (s *stores) supply(product tracker.Product) (Supply, error) {
	out := Supply{Takes: product.Facts.DeliveryDays, Keeps: product.Facts.InUseDays}
	if out.Takes == 0 {
		out.Takes = usualDelivery
	}
	density, err := Fraction(product.Facts.Density)
	if err != nil {
		return out, err
	}
	unit := s.unitOf(product)
	cans := s.containers(product, unit, density)
	out.Left = mixing.Amount{Value: total(cans), Unit: unit}
	need, byPlan := s.planned[product.ID]
	if out.ByPlan = byPlan; !byPlan {
		each, err := s.perDay(product.ID, unit, density)
		if err != nil || each == nil {
			return out, err
		}
		need = slices.Repeat([]*big.Rat{each}, supplyDays)
	}
	out.Need = mixing.Amount{Value: sum(need[:min(out.Takes, supplyDays)]), Unit: unit}
	out.Days, _ = lasting(need, cans, container{})
	out.ByAmount, _ = lasting(need, []container{{left: out.Left.Value, ends: endless}}, container{})
	out.Reorder = out.Days <= out.Takes && out.Days < supplyDays
	if out.Reorder {
		pack, err := s.packOf(product, unit, density)
		if err != nil {
			return out, err
		}
		out.Pack = mixing.Amount{Value: pack.left, Unit: unit}
		_, out.Buy = lasting(need[:min(out.Takes+buyDays, supplyDays)], s.containers(product, unit, density), pack)
	}
	return out, nil
}

func sum(all []*big.Rat) *big.Rat {
	total := new(big.Rat)
	for _, v := range all {
		total.Add(total, v)
	}
	return total
}

// endless is the end of a container that has none.
const endless = math.MaxInt

// container is a bottle as it is used up.
type container struct {
	left  *big.Rat
	ends  int // the day from today on which it may not be used any more; endless: never
	keeps int // days after it is opened; 0: it is open already, or no limit is printed
}

// containers lists what may be used of a product, in the order in which it is used: what must be thrown away first.
func (s *stores) containers(product tracker.Product, unit mixing.AmountUnit, density *big.Rat) (out []container) {
	usable := slices.DeleteFunc(slices.Clone(s.bottles), func(b Stock) bool { return b.Product.ID != product.ID || b.Stop != "" })
	slices.SortStableFunc(usable, func(a, b Stock) int { return compareEnds(a.ThrowAway, b.ThrowAway) })
	for _, b := range usable {
		left, ok := inUnit(b.Left, unit, density)
		if !ok {
			continue
		}
		c := container{left: new(big.Rat).Set(left.Value), ends: endless}
		if !b.ThrowAway.IsZero() {
			c.ends = int(b.ThrowAway.Sub(s.Now) / (24 * time.Hour))
		}
		if b.Opened == 0 {
			c.keeps = product.Facts.InUseDays
		}
		out = append(out, c)
	}
	return out
}

// total is what containers hold together.
func total(cans []container) *big.Rat {
	sum := new(big.Rat)
	for _, c := range cans {
		sum.Add(sum, c.left)
	}
	return sum
}

// packOf is a new container of a product: of the size of the newest there is; empty when there is none.
func (s *stores) packOf(product tracker.Product, unit mixing.AmountUnit, density *big.Rat) (container, error) {
	for _, b := range slices.Backward(s.bottles) {
		if b.Product.ID != product.ID {
			continue
		}
		size, err := Amount(b.Bottle.Size)
		if size, ok := inUnit(size, unit, density); ok && err == nil {
			return container{size.Value, endless, product.Facts.InUseDays}, nil
		}
		return container{}, err
	}
	return container{}, nil
}

// lasting takes each day's need out of the containers in turn, and where they give out out of new packs if there
// are any. It gives how many days were met, and how many packs that took. The containers are used up by it.
func lasting(need []*big.Rat, from []container, pack container) (met, packs int) {
	for day, wanted := range need {
		rest := new(big.Rat).Set(wanted)
		for rest.Sign() > 0 {
			i := slices.IndexFunc(from, func(c container) bool { return c.left.Sign() > 0 && day < c.ends })
			if i < 0 && (pack.left == nil || pack.left.Sign() <= 0 || pack.ends <= day) {
				return day, packs
			}
			if i < 0 {
				fresh := pack
				fresh.left = new(big.Rat).Set(pack.left)
				i, from, packs = len(from), append(from, fresh), packs+1
			}
			c := &from[i]
			if c.keeps > 0 {
				c.ends, c.keeps = min(c.ends, day+c.keeps), 0
			}
			taken := least(rest, c.left)
			c.left, rest = new(big.Rat).Sub(c.left, taken), new(big.Rat).Sub(rest, taken)
		}
	}
	return len(need), packs
}

// unitOf is the unit in which most of a product is counted: that of its oldest bottle, else the usual one of its form.
func (s *stores) unitOf(product tracker.Product) mixing.AmountUnit {
	for _, b := range s.bottles {
		if b.Product.ID == product.ID {
			return b.Left.Unit
		}
	}
	if form, err := mixing.ParseForm(product.Facts.Form); err == nil && (form == mixing.Cream || form == mixing.Powder) {
		return mixing.Gram
	}
	return mixing.ML
}

// perDay averages what was used of a product over the days since its first use, at most useDays; nil when nothing was.
func (s *stores) perDay(product tracker.ProductID, unit mixing.AmountUnit, density *big.Rat) (*big.Rat, error) {
	total, span := new(big.Rat), int64(0)
	for _, use := range s.uses {
		if use.Product != product || use.Strength != "" {
			continue
		}
		amount, err := Amount(use.Amount)
		if err != nil {
			return nil, err
		}
		if amount, ok := inUnit(amount, unit, density); ok {
			total.Add(total, amount.Value)
			span = max(span, int64(s.Today-tracker.DateOf(use.At.In(s.Zone)))+1)
		}
	}
	if total.Sign() == 0 {
		return nil, nil
	}
	return total.Quo(total, big.NewRat(min(span, useDays), 1)), nil
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
