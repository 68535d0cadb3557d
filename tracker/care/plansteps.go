package care

import (
	"cmp"
	"math/big"
	"slices"
	"strings"

	"leground/tracker"
	"leground/tracker/mixing"
)

// product finds what a step names of Stores.
func (d *drafting) product(in StepDraft) (tracker.Product, mixing.Strength) {
	if in.Product == "" {
		return tracker.Product{}, mixing.Strength{}
	}
	for _, p := range d.products {
		if p.ID == in.Product {
			label, err := Strength(p.Label)
			if err != nil {
				d.problems.Add(in.Field+"product", "The strength of "+p.Name+" cannot be read. Look at it in Stores.")
			}
			return p, label
		}
	}
	d.problems.Add(in.Field+"product", "That product is not in Stores. Choose one of the list.")
	return tracker.Product{}, mixing.Strength{}
}

// wash reads the wanted strength: of a product of Stores, or of a substance by its full name. It is refused
// where a mix of it would be.
func (d *drafting) wash(in StepDraft, out *tracker.PlanStep) {
	product, label := d.product(in)
	out.Product, out.Minutes, out.Rinse, out.Of = product.ID, in.Minutes, in.Rinse, strings.TrimSpace(in.Of)
	if product.ID != "" {
		out.Of = product.Name
	}
	if strings.TrimSpace(in.Strength) == "" {
		if product.ID != "" {
			d.problems.Add(in.Field+"strength", "Say how strong the wash must be, like 0.05 g per 100 mL.")
		} else if out.Of == "" {
			d.problems.Add(in.Field+"of", "Say what to wash with, like: boiled and cooled water.")
		}
		return
	}
	var err error
	of := label.Of
	if product.ID == "" {
		if of, err = mixing.FindSubstance(out.Of); err != nil {
			d.problems.Add(in.Field+"of", tracker.Capital(err.Error()))
			return
		}
		out.Of = string(of)
	}
	was := d.before(in.ID)
	want, ceiling := d.strength(in.Field+"strength", in.Strength, was.Strength, label, of), d.strength(in.Field+"ceiling", in.Ceiling, was.Ceiling, label, of)
	if want.Value == nil {
		return
	}
	out.Strength, out.Ceiling = ExactStrength(want), ExactStrength(ceiling)
	if amount := d.amount(in); amount.Value != nil && amount.Unit != mixing.ML {
		d.problems.Add(in.Field+"amount", "How much of a wash goes on a leg is in mL, like 250 mL.")
	} else {
		out.Amount = ExactAmount(amount)
	}
	d.trial(in, product, label, want, ceiling)
}

// amount reads how much is put on each time and leg; an empty text is none.
func (d *drafting) amount(in StepDraft) mixing.Amount {
	if strings.TrimSpace(in.Amount) == "" {
		return mixing.Amount{}
	}
	amount, err := Amount(d.before(in.ID).Amount)
	if err != nil || amount.Value == nil || amount.Words(d.yard.Mark) != in.Amount {
		amount, err = mixing.ParseAmount(in.Amount)
	}
	if err != nil {
		d.problems.Add(in.Field+"amount", tracker.Capital(err.Error()))
	}
	return amount
}

// before gives a step as it was in the version that is changed; a zero step when it was not there.
func (d *drafting) before(id string) tracker.PlanStep {
	if d.old == nil {
		return tracker.PlanStep{}
	}
	step, _ := d.old.Step(id)
	return step
}

// strength reads a strength, which may be in parts of a product's label; an empty text is none. One that stands as
// it was shown stays exactly what it was.
func (d *drafting) strength(field, text string, was tracker.StrengthText, label mixing.Strength, of mixing.Substance) mixing.Strength {
	if strings.TrimSpace(text) == "" {
		return mixing.Strength{}
	}
	s, err := Strength(was)
	if was != "" && err == nil && s.Of == of && s.Echo(d.yard.Mark) == text {
		return s
	}
	if label.Value != nil {
		s, _, err = mixing.ParseWant(text, label, of)
	} else {
		s, err = mixing.ParseStrength(text, of)
	}
	if err != nil {
		d.problems.Add(field, tracker.Capital(err.Error()))
		return mixing.Strength{}
	}
	return s
}

// ShownPlaces is how many decimal places the form of a plan shows of a number that it does not show as an amount.
const ShownPlaces = 9

// trial mixes a litre on paper, so that what could never be made is refused when the plan is written and what
// is warned of is seen by whoever sets it.
func (d *drafting) trial(in StepDraft, product tracker.Product, label, want, ceiling mixing.Strength) {
	request := mixing.Request{Stock: mixing.Stock{Name: product.Name, Label: label, Prescription: product.Facts.Prescription}, Want: want, Kind: mixing.MakeUpTo,
		Amount: mixing.Millilitres(1000), Mark: d.yard.Mark, Use: mixing.Use{Skin: mixing.OpenSkin, VetOrder: d.plan.Source == tracker.SetByVet}}
	if label.Value == nil {
		request.Stock.Label = want
	}
	if ceiling.Value != nil {
		request.Ceiling = &ceiling
	}
	request.Use.Bandage = slices.ContainsFunc(d.draft.Steps, func(s StepDraft) bool { return s.Kind == tracker.StepBandage })
	if density, err := Fraction(product.Facts.Density); err == nil {
		request.Stock.Density = density
	}
	if form, err := mixing.ParseForm(product.Facts.Form); err == nil {
		request.Stock.Form = form
	}
	result := mixing.Mix(request)
	for _, note := range result.Refusals {
		d.problems.Add(in.Field+"strength", note.Text)
	}
	for _, note := range result.Warnings {
		d.warnings = append(d.warnings, note.Text)
	}
}

func (d *drafting) apply(in StepDraft, out *tracker.PlanStep) {
	product, label := d.product(in)
	out.Product, out.Of = product.ID, strings.TrimSpace(in.Of)
	if product.ID != "" {
		out.Of = product.Name
	}
	if out.Of == "" {
		d.problems.Add(in.Field+"of", "Say what is put on, like: barrier cream.")
	}
	if product.Facts.Prescription && d.plan.Source != tracker.SetByVet {
		d.problems.Add(in.Field+"product", product.Name+" is a prescription medicine. Only a plan that the vet set may ask for it.")
	}
	d.area(in, product, out)
	amount := d.amount(in)
	if amount.Value == nil {
		return
	}
	out.Amount = ExactAmount(amount)
	if label.Of == "" {
		label.Of, _ = mixing.FindSubstance(out.Of) // what has no rules of its own has none to break
	}
	for _, p := range in.Phases {
		each := new(big.Rat).Mul(amount.Value, big.NewRat(int64(d.legs()*max(p.Times, len(p.Slots))), 1))
		for _, note := range mixing.CheckCourse(label.Of, mixing.Amount{Value: each, Unit: amount.Unit}, p.Count) {
			d.problems.Add(in.Field+"amount", note.Text)
		}
	}
}

// area reads the area on each leg that something is put on, and the most that whoever set it allows in all. It is refused
// above that, and above what the product's label allows; with either the area must be said.
func (d *drafting) area(in StepDraft, product tracker.Product, out *tracker.PlanStep) {
	was := d.before(in.ID)
	out.AreaCM2, out.MostCM2 = d.fraction(in.Field+"area", in.Area, was.AreaCM2, "cm2"), d.fraction(in.Field+"most", in.Most, was.MostCM2, "cm2")
	if out.AreaCM2 == "" && (out.MostCM2 != "" || product.Facts.MostCM2 != "") && strings.TrimSpace(in.Area) == "" {
		d.problems.Add(in.Field+"area", "Say how large the area on each leg is, since the most that is allowed is recorded.")
	}
	for _, limit := range []struct {
		by   string
		most tracker.FractionText
	}{{sourceWord(d.plan.Source), out.MostCM2}, {"the label of " + product.Name, product.Facts.MostCM2}} {
		area, err := Fraction(out.AreaCM2)
		most, unread := Fraction(limit.most)
		if err != nil || unread != nil {
			d.problems.Add(in.Field+"most", "The most that is recorded cannot be read. Enter it again.")
			continue
		}
		if area != nil {
			area = area.Mul(area, big.NewRat(int64(d.legs()), 1))
		}
		for _, note := range mixing.CheckArea(area, most, limit.by, d.yard.Mark) {
			d.problems.Add(in.Field+"area", note.Text)
		}
	}
}

// legs counts the legs that the plan is for.
func (d *drafting) legs() int {
	if len(d.plan.Sites) == 0 && len(d.plan.Legs) == 0 {
		return len(tracker.Legs())
	}
	legs := slices.Clone(d.plan.Legs)
	for _, site := range d.sites {
		if slices.Contains(d.plan.Sites, site.ID) && !slices.Contains(legs, site.Leg) {
			legs = append(legs, site.Leg)
		}
	}
	return len(legs)
}

// give reads a vet's order of a medicine by weight. Everything in it must have been said by the vet; nothing
// is filled in, and an order that does not work out is refused with the reason.
func (d *drafting) give(in StepDraft, out *tracker.PlanStep) {
	if d.plan.Source != tracker.SetByVet {
		d.problems.Add("source", "Only the vet can set a medicine that is given by weight. Ring the vet, then enter what they say.")
	}
	product, listed := d.product(in)
	out.Product, out.Of = product.ID, cmp.Or(strings.TrimSpace(in.Of), product.Name)
	if out.Of == "" {
		d.problems.Add(in.Field+"of", "Say which medicine it is, as its label says.")
	}
	if len(in.Phases) != 1 || in.Phases[0].Every != 1 || in.Phases[0].Until != tracker.EndsDays && in.Phases[0].Until != tracker.EndsOn {
		d.problems.Add(in.Field+"when", "A medicine by weight needs the vet's number of days: every day, for so many days. Write a change of dose as a step of its own.")
		return
	}
	before := len(d.problems)
	order := tracker.DoseOrder{Units: in.Order.Units, Estimated: in.Order.Estimated, MaxDays: in.Order.MaxDays, Measure: strings.TrimSpace(in.Order.Measure)}
	was := d.before(in.ID).Order
	order.Label = ExactStrength(d.strength(in.Field+"label", in.Order.Label, was.Label, mixing.Strength{}, mixing.Substance(out.Of)))
	unit := "mg"
	if order.Units {
		unit = "units"
	}
	order.PerKG = d.fraction(in.Field+"per_kg", in.Order.PerKG, was.PerKG, unit)
	order.WeightKG = d.fraction(in.Field+"weight", in.Order.Weight, was.WeightKG, "kg")
	if kg, err := Fraction(order.WeightKG); err == nil && in.Order.Sure != in.Order.Weight {
		if words := d.weight.words(kg, false, d.yard.Mark); words != "" {
			d.problems.Add(in.Field+"weight_sure", words+" Ask whoever set it. Tick that the plan's weight is meant, or put it right.")
		}
	}
	order.MaxPerKG = d.fraction(in.Field+"max_per_kg", in.Order.MaxPerKG, was.MaxPerKG, unit)
	order.MaxCourse = d.fraction(in.Field+"max_course", in.Order.MaxCourse, was.MaxCourse, unit)
	if order.Measure != "" {
		if _, err := mixing.ParseDevice(order.Measure); err != nil {
			d.problems.Add(in.Field+"measure", tracker.Capital(err.Error()))
		}
	}
	if order.Label == "" && len(d.problems) == before {
		d.problems.Add(in.Field+"label", "Say how strong the medicine is, from its label, like 100 mg/mL.")
	}
	if label, err := Strength(order.Label); err == nil && order.Label != "" && product.ID != "" {
		if label.Of = listed.Of; !label.Same(listed) {
			d.problems.Add(in.Field+"label", "That is not the strength of "+product.Name+" in Stores. Read the label of its bottle again.")
		}
	}
	if out.Order = order; len(d.problems) > before {
		return
	}
	dose := DoseOf(d.plan, *out, d.yard.Mark)
	for _, note := range dose.Refusals {
		field := "per_kg"
		if note.ID == "R1" || note.ID == "R15" { // it cannot be measured
			field = "measure"
		}
		d.problems.Add(in.Field+field, note.Text)
	}
}

// fraction reads a number above zero; an empty text is none. One that stands as it was shown stays what it was.
func (d *drafting) fraction(field, text string, was tracker.FractionText, unit string) tracker.FractionText {
	if strings.TrimSpace(text) == "" {
		return ""
	}
	if old, err := Fraction(was); err == nil && old != nil && tracker.FormatNumber(old, ShownPlaces, d.yard.Mark) == text {
		return was
	}
	value, err := tracker.ParseNumber(text, unit)
	if err == nil && value.Sign() <= 0 {
		err = tracker.Refuse(tracker.Invalid, "This must be more than zero.")
	}
	if err != nil {
		d.problems.Add(field, tracker.Capital(err.Error()))
		return ""
	}
	return ExactFraction(value)
}
