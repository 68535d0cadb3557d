package care

import (
	"context"
	"math/big"
	"slices"
	"strconv"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
)

// SumKind is a sum beside a mix. Nothing of it is recorded, but that two mixes were poured together.
type SumKind string

// The sums.
const (
	PourTogether SumKind = "pour"   // what two leftovers make together
	CheckRecipe  SumKind = "recipe" // what a recipe from elsewhere really makes
	SpreadCream  SumKind = "cream"  // how much cream or gel an area takes, and how far what there is goes
)

// SpreadBy is what an amount of cream is worked out from.
type SpreadBy string

// The ways.
const (
	ByFingertips SpreadBy = "area"  // an area, as thick as a fingertip unit covers it
	ByLoad       SpreadBy = "load"  // an area, with so many mg on each cm²
	ByFilm       SpreadBy = "film"  // an area, with a film of so many micrometres of the product
	ByUnits      SpreadBy = "units" // so many fingertip units
	ByStrip      SpreadBy = "strip" // a strip of so many mm, from the product's own nozzle
)

// SumAsk is a sum as it was typed.
type SumAsk struct {
	Kind    SumKind
	Stocks  [2]string   // to pour together; of a recipe the first
	Amounts [2]string   // of each, empty: all that is left; of a recipe, of the bottle and of the liquid
	Skin    mixing.Skin // what leftovers go on
	Added   bool        // the liquid of the recipe is what it is added to, not the whole
	Claim   string      // the strength that the recipe says it makes
	Product tracker.ProductID
	By      SpreadBy
	Area    string // cm²
	Number  string // mg, micrometres, units or mm
	Woman   bool   // of units: a woman's finger
	Times   string // a day
	Days    string
}

// SumView is what the sums can be asked about, and what came out.
type SumView struct {
	Moment
	Choices  []Stock           // what may be mixed from
	Products []tracker.Product // what may be spread
	Answer   *mixing.Answer    // nil: nothing was asked, or something is missing
	Until    time.Time         // when what was poured together must be thrown away; zero: no limit is known
	Pour     string            // stands for all that was shown of two mixes that may be poured together; empty: nothing to record
	Supply   *mixing.Supply    // how far cream goes; nil: not asked for
}

// Sum works out a sum beside a mix. What is missing or wrong is an error with the fields, beside the view.
func (s *Service) Sum(ctx context.Context, a Actor, ask SumAsk) (SumView, error) {
	var p tracker.Problems
	view, err := reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (view SumView, err error) {
		p = nil
		st, err := readStores(tx, a, now)
		if err != nil {
			return view, err
		}
		view.Moment = st.Moment
		if err := st.namedIn(tx, ask); err != nil {
			return view, err
		}
		view.Choices, _ = st.choices("")
		for _, product := range st.products {
			one, err := st.productView(product)
			if err != nil {
				return view, err
			}
			if !product.Gone && !one.Blind {
				view.Products = append(view.Products, product)
			}
		}
		switch ask.Kind {
		case PourTogether:
			_, _, err = view.pour(st, ask, &p)
		case CheckRecipe:
			err = view.recipe(st, ask, &p)
		case SpreadCream:
			err = view.cream(st, ask, &p)
		}
		return view, err
	})
	if err == nil {
		err = p.Err()
	}
	if err != nil {
		view.Answer, view.Supply = nil, nil
	}
	return view, err
}

// namedIn makes sure that what a form names is in this yard.
func (s *stores) namedIn(tx Tx, ask SumAsk) error {
	for _, key := range ask.Stocks {
		if err := s.namedStock(tx, key); err != nil {
			return err
		}
	}
	if ask.Product == "" {
		return nil
	}
	_, err := tx.Product(ask.Product)
	return err
}

// chosen finds a stock that may be used.
func (s *stores) chosen(p *tracker.Problems, field, key string) (Stock, bool) {
	stock, found := s.find(key)
	switch {
	case !found:
		p.Add(field, "Choose one from the list.")
	case stock.Stop != "":
		p.Add(field, stock.Stop)
	}
	return stock, found && stock.Stop == ""
}

func (v *SumView) recipe(s *stores, ask SumAsk, p *tracker.Problems) error {
	stock, _ := s.chosen(p, "stock1", ask.Stocks[0])
	recipe := mixing.Recipe{Stock: stock.Strength, Concentrate: amountIn(p, "amount1", ask.Amounts[0]), Liquid: amountIn(p, "amount2", ask.Amounts[1]), Added: ask.Added}
	claim, err := mixing.ParseStrength(ask.Claim, stock.Strength.Of)
	if err != nil {
		p.Add("claim", err.Error())
	}
	if len(*p) > 0 {
		return nil
	}
	var from mixing.Stock
	if err := s.fill(&from, stock); err != nil {
		return err
	}
	recipe.Density, recipe.Claim = from.Density, claim
	checked := mixing.CheckRecipe(recipe, s.Yard.Mark)
	v.Answer = &checked.Answer
	return nil
}

func (v *SumView) cream(s *stores, ask SumAsk, p *tracker.Problems) error {
	product := s.product(ask.Product)
	if product.ID != "" && product.Facts.Prescription {
		p.Add("product", "This is a prescription medicine. How much of it is used stands in the vet's plan.")
	}
	density, err := Fraction(product.Facts.Density)
	if err != nil {
		return err
	}
	answer, err := spreadOf(ask, product, density, s.Yard.Mark, p)
	if err != nil || len(*p) > 0 {
		return err
	}
	exact := answer.Amount
	answer = answer.About(s.Yard.Mark)
	v.Answer = &answer
	need := mixing.Need{Each: answer.Amount, InUseDays: product.Facts.InUseDays}
	need.TimesADay, need.Days = wholeIn(p, "times", ask.Times, 24, "24, once an hour"), wholeIn(p, "days", ask.Days, 365, "365, a year")
	if need.TimesADay == 0 || need.Days == 0 || answer.Refused() {
		return nil
	}
	return v.lasts(s, product, density, need, exact)
}

// lasts adds how far what there is of a product goes, and what to buy for the whole course. exact is one application
// before it was rounded, for the most that a rule allows.
func (v *SumView) lasts(s *stores, product tracker.Product, density *big.Rat, need mixing.Need, exact mixing.Amount) error {
	if product.ID != "" {
		need.Left.Unit = mixing.Gram
		cans := slices.DeleteFunc(s.containers(product, mixing.Gram, density), func(c container) bool { return c.ends < 1 })
		need.Left.Value = total(cans)
		perDay := new(big.Rat).Mul(need.Each.Value, big.NewRat(int64(need.TimesADay), 1))
		if met, _ := lasting(slices.Repeat([]*big.Rat{perDay}, need.Days), cans, container{}); met < need.Days {
			need.LeftForDays = met
		}
		pack, err := s.packOf(product, mixing.Gram, density)
		if err != nil {
			return err
		}
		need.Pack = mixing.Amount{Value: pack.left, Unit: mixing.Gram}
		label, err := Strength(product.Label)
		if err != nil {
			return err
		}
		exact.Value = new(big.Rat).Mul(exact.Value, big.NewRat(int64(need.TimesADay), 1))
		v.Answer.Refusals = mixing.CheckCourse(label.Of, exact, need.Days)
	}
	supply := need.Lasts(s.Yard.Mark)
	v.Supply = &supply
	return nil
}

// spreadOf works out one application.
func spreadOf(ask SumAsk, product tracker.Product, density *big.Rat, mark tracker.DecimalMark, p *tracker.Problems) (mixing.Answer, error) {
	var area, number *big.Rat
	switch ask.By {
	case ByFingertips, ByLoad, ByFilm:
		area = numberIn(p, "area", ask.Area, "cm2")
	case ByUnits, ByStrip:
	default:
		p.Add("by", "Choose what it is worked out from.")
	}
	if ask.By != ByFingertips && len(*p) == 0 {
		number = numberIn(p, "number", ask.Number, "")
	}
	if len(*p) > 0 {
		return mixing.Answer{}, nil
	}
	most, err := Fraction(product.Facts.MostCM2)
	if notes := mixing.CheckArea(area, most, "the label of "+product.Name, mark); err != nil || len(notes) > 0 {
		return mixing.Answer{Refusals: notes}, err
	}
	switch ask.By {
	case ByFingertips:
		return mixing.Spread{AreaCM2: area}.Grams(mark), nil
	case ByLoad:
		return mixing.Spread{AreaCM2: area, LoadMGPerCM2: number}.Grams(mark), nil
	case ByFilm:
		return mixing.Spread{AreaCM2: area, FilmMicrometres: number, DensityGPerML: density}.Grams(mark), nil
	case ByUnits:
		return mixing.Fingertips(number, mixing.FingertipGrams(ask.Woman), mark), nil
	case ByStrip:
		per100, err := Fraction(product.Facts.StripGrams)
		if err != nil {
			return mixing.Answer{}, err
		}
		if per100 == nil {
			p.Add("product", "Choose a cream of which Stores knows what a strip of it weighs. Another tube has another nozzle.")
			return mixing.Answer{}, nil
		}
		return mixing.Strip{Product: product.Name, GramsPer100MM: per100}.Grams(product.Name, number, mark), nil
	}
	return mixing.Answer{}, nil
}

func amountIn(p *tracker.Problems, field, text string) mixing.Amount {
	amount, err := mixing.ParseAmount(text)
	if err != nil {
		p.Add(field, err.Error())
	}
	return amount
}

// Nothing that anybody spreads is smaller or larger, in any of the units.
var leastSpread, mostSpread = big.NewRat(1, 1000), big.NewRat(1000000, 1)

// numberIn reads a number within those bounds.
func numberIn(p *tracker.Problems, field, text, unit string) *big.Rat {
	n, err := tracker.ParseNumber(text, unit)
	switch {
	case err != nil:
		p.Add(field, err.Error())
	case n.Cmp(leastSpread) < 0:
		p.Add(field, "This must be more than zero, and enough to be seen, like 50.")
	case n.Cmp(mostSpread) > 0:
		p.Add(field, "That is more than any horse takes. Check the zeros: write it like 50.")
	}
	return n
}

// wholeIn reads a count of at most so many, in words too; an empty one is 0.
func wholeIn(p *tracker.Problems, field, text string, most int, words string) int {
	if text = strings.TrimSpace(text); text == "" {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 || n > most {
		p.Add(field, "This must be a whole number from 1 to "+words+", like 2.")
	}
	return n
}
