package care

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
)

// StoresView is everything that the yard has to mix with.
type StoresView struct {
	Moment
	Products []ProductView // those that are bought, and others of which there is a bottle; by name
	Gone     []tracker.Product
	Mixes    []Stock  // there, newest first
	Gaps     []string // where the book of mixes is known to be wrong
	Made     []tracker.Mix
	Measures Measures
}

// ProductView is one product with its bottles.
type ProductView struct {
	Product tracker.Product
	Label   mixing.Strength // none while Blind
	Blind   bool            // this person has yet to read the label of one of its bottles
	Supply  Supply          // none while Blind
	Gaps    []string        // where its book is known to be wrong or not whole
	Bottles []Stock
}

// madeDays is how far back the list of what was mixed goes.
const madeDays = 14

// readSupplied reads a yard's Stores with what the plans will use.
func readSupplied(tx Tx, a Actor, now time.Time) (*stores, error) {
	yard, e1 := readYard(tx, a, now)
	st, e2 := readStores(tx, a, now)
	if err := cmp.Or(e1, e2); err != nil {
		return nil, err
	}
	return st, st.readPlannedUse(tx, yard)
}

// Stores gives the yard's Stores.
func (s *Service) Stores(ctx context.Context, a Actor) (StoresView, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (view StoresView, err error) {
		st, err := readSupplied(tx, a, now)
		if err != nil {
			return view, err
		}
		view = StoresView{Moment: st.Moment, Mixes: st.mixes, Measures: st.measures}
		for _, p := range st.products {
			one, err := st.productView(p)
			if err != nil {
				return view, err
			}
			if p.Gone && len(one.Bottles) == 0 {
				view.Gone = append(view.Gone, p)
			} else {
				view.Products = append(view.Products, one)
			}
		}
		var e1, e2 error
		view.Gaps, e1 = st.washGaps()
		view.Made, e2 = tx.MixesMade("", now.AddDate(0, 0, -madeDays))
		return view, cmp.Or(e1, e2)
	})
}

func (s *stores) productView(p tracker.Product) (ProductView, error) {
	view := ProductView{Product: p}
	for _, b := range s.bottles {
		if b.Product.ID == p.ID {
			view.Bottles = append(view.Bottles, b)
			view.Blind = view.Blind || b.Blind
		}
	}
	var err error
	if view.Gaps, err = s.gapsOf(p); err != nil {
		return view, err
	}
	if view.Blind { // what a plan takes of it would give its strength away too
		view.Product.Label, view.Product.Facts.Weakest, view.Product.Facts.Strongest = "", "", ""
		return view, nil
	}
	if view.Label, err = Strength(p.Label); err == nil {
		view.Supply, err = s.supply(p)
	}
	return view, err
}

// ProductPage is one product with all that was had of it.
type ProductPage struct {
	Moment
	ProductView
	Past []tracker.Bottle // used up or thrown away, newest first
}

// Product gives one product.
func (s *Service) Product(ctx context.Context, a Actor, id tracker.ProductID) (ProductPage, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (page ProductPage, err error) {
		p, e1 := tx.Product(id)
		st, e2 := readSupplied(tx, a, now)
		if err := cmp.Or(e1, e2); err != nil {
			return page, err
		}
		page.Moment = st.Moment
		page.ProductView, e1 = st.productView(p)
		page.Past, e2 = tx.PastBottles(id)
		return page, cmp.Or(e1, e2)
	})
}

// AddProduct puts a product into Stores. Only the owner may, since its strength is typed once.
func (s *Service) AddProduct(ctx context.Context, a Actor, form Form, in tracker.Product) error {
	in.Name = strings.TrimSpace(in.Name)
	in.ID, in.Hash, in.CreatedBy, in.Gone = tracker.ProductID(form.Record), form.Hash, a.Person.ID, false
	return s.owning(ctx, a, func(tx Tx, now time.Time) error {
		if err := checkProduct(in); err != nil {
			return err
		}
		have, err := tx.Product(in.ID)
		if before, err := form.sentBefore(have.Hash, err); before || err != nil {
			return err
		}
		in.CreatedAt = now
		if err := tx.AddProduct(in); err != nil {
			return err
		}
		return note(tx, a, now, "product added", string(in.ID), productLine(in))
	})
}

// ChangeProduct keeps new facts about a product; the old ones stay in the yard's book. Its strength, form
// and substance never change: another strength is another product.
func (s *Service) ChangeProduct(ctx context.Context, a Actor, in tracker.Product) error {
	return s.owning(ctx, a, func(tx Tx, now time.Time) error {
		old, err := tx.Product(in.ID)
		if err != nil {
			return err
		}
		next := old
		next.Name, next.Gone, next.Facts = strings.TrimSpace(in.Name), in.Gone, in.Facts
		next.Facts.Form = old.Facts.Form
		if err := checkProduct(next); err != nil {
			return err
		}
		if err := tx.SaveProduct(next); err != nil {
			return err
		}
		return note(tx, a, now, "product changed", string(in.ID), productLine(old)+" -> "+productLine(next))
	})
}

func productLine(p tracker.Product) string {
	return fmt.Sprintf("%s; %s; gone %t; %+v", p.Name, p.Label, p.Gone, p.Facts)
}

// mostCautions is how many lines of caution fit on a label.
const mostCautions = 6

func checkProduct(in tracker.Product) error {
	var p tracker.Problems
	checkName(&p, "name", in.Name, "The product's name")
	if in.Label == "" {
		p.Add("strength", "Type the strength from the label, like 2% w/v or 20 mg/mL.")
	}
	facts := in.Facts
	if _, err := mixing.ParseForm(facts.Form); err != nil {
		p.Add("form", "Choose what sort of product it is.")
	}
	for _, f := range []struct {
		field, what string
		n, most     int
		mostWords   string
	}{
		{"in_use_days", "Days after opening", facts.InUseDays, 3650, "ten years (3\u202f650 days)"},
		{"mix_hours", "Hours that a mix keeps", facts.MixHours, 24 * 366, "a year (8\u202f784 hours)"},
		{"delivery_days", "Days until a delivery", facts.DeliveryDays, 365, "a year (365 days)"},
	} {
		if f.n < 0 || f.n > f.most {
			p.Add(f.field, fmt.Sprintf("%s must be a whole number and at most %s, like 7.", f.what, f.mostWords))
		}
	}
	if facts.StripGrams != "" && facts.Form != mixing.Cream.String() {
		p.Add("strip", "Only a cream is measured by the strip. Leave this empty.")
	}
	if time.Duration(facts.MixHours)*time.Hour > mixing.DilutionKeeps && facts.MixHoursBy == "" {
		p.Add("mix_hours_by", "More than 24 hours needs a source: say whether the label or the vet allows it.")
	}
	if len(facts.Cautions) > mostCautions {
		p.Add("cautions", fmt.Sprintf("At most %d lines fit on the label of a mix.", mostCautions))
	}
	for _, line := range slices.Concat(facts.Cautions, []string{facts.FoodNote, facts.MixHoursBy, facts.BleachDoubt}) {
		checkText(&p, "cautions", line, 120)
	}
	return p.Err()
}

// SetMeasures keeps the yard's usual volumes and measures.
func (s *Service) SetMeasures(ctx context.Context, a Actor, in Measures) error {
	return s.owning(ctx, a, func(tx Tx, now time.Time) error {
		var p tracker.Problems
		if len(in.Volumes) > 6 || len(in.Devices) > 10 {
			p.Add("volumes", "A yard may have up to 6 usual volumes and 10 measures.")
		}
		var keep tracker.Measures
		for _, v := range in.Volumes {
			if v.Unit != mixing.ML {
				p.Add("volumes", "Usual volumes are in mL or L, like 500 mL.")
			}
			keep.Volumes = append(keep.Volumes, ExactAmount(v))
		}
		for _, d := range in.Devices {
			keep.Devices = append(keep.Devices, d.Words(tracker.Point))
		}
		if err := p.Err(); err != nil {
			return err
		}
		old, err := tx.Measures()
		if err != nil {
			return err
		}
		if err := tx.SaveMeasures(keep); err != nil {
			return err
		}
		return note(tx, a, now, "measures changed", string(a.Yard), fmt.Sprintf("%+v -> %+v", old, keep))
	})
}
