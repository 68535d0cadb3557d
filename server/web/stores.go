package web

import (
	"math/big"
	"net/http"
	"strings"

	"github.com/go-chi/chi/v5"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/mixing"
)

// StoresPage lists what the yard has to mix with, and what was mixed.
type StoresPage struct {
	Base
	View   care.StoresView
	Form   ProductForm
	Volume string // the usual volumes as the form shows them, one a line
	Device string // the measures, one a line
}

// ProductForm is the form of a product: a new one, or changes to one that is there.
type ProductForm struct {
	sent
	Product tracker.Product
	New     bool
	Mark    tracker.DecimalMark
}

// Substances lists what a strength can count.
func (ProductForm) Substances() []mixing.Substance { return mixing.Substances() }

// Forms lists the forms of products.
func (ProductForm) Forms() []mixing.Form {
	return []mixing.Form{mixing.Solution, mixing.Scrub, mixing.Alcoholic, mixing.Cream, mixing.Powder}
}

// Strength shows a kept strength as it would be typed.
func (f ProductForm) Strength(text tracker.StrengthText) (string, error) {
	s, err := care.Strength(text)
	if err != nil || text == "" {
		return "", err
	}
	return s.Echo(f.Mark), nil
}

// Number shows a kept number as it would be typed.
func (f ProductForm) Number(text tracker.FractionText) (string, error) {
	r, err := care.Fraction(text)
	if err != nil || r == nil {
		return "", err
	}
	return tracker.FormatNumber(r, 4, f.Mark), nil
}

// Iodine shows the available iodine on the label as it would be typed.
func (f ProductForm) Iodine() (string, error) {
	factor, err := care.Fraction(f.Product.Facts.IodineFactor)
	if err != nil || factor == nil {
		return "", err
	}
	label, err := care.Strength(f.Product.Label)
	if err != nil || label.Value == nil {
		return "", err
	}
	label.Value = new(big.Rat).Mul(label.Value, factor)
	return label.Echo(f.Mark), nil
}

// Lines shows the lines for the label of a mix.
func (f ProductForm) Lines() string { return strings.Join(f.Product.Facts.Cautions, "\n") }

// Order tells which order of hands the label gives.
func (f ProductForm) Order() string {
	if f.Product.Facts.ConcentrateFirst {
		return "concentrate"
	}
	return "water"
}

func (h *Handler) stores(w http.ResponseWriter, r *http.Request, state sent) error {
	view, err := h.care.Stores(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	page := StoresPage{Base: h.base(r, "Stores").inYard(view.Moment, "stores").wrong(state.why), View: view}
	page.Form = ProductForm{sent: state, New: true, Mark: view.Yard.Mark}
	var volumes, devices []string
	for _, v := range view.Measures.Volumes {
		volumes = append(volumes, v.Words(view.Yard.Mark))
	}
	for _, d := range view.Measures.Devices {
		devices = append(devices, d.Words(view.Yard.Mark))
	}
	page.Volume, page.Device = state.Value("volumes", strings.Join(volumes, "\n")), state.Value("devices", strings.Join(devices, "\n"))
	return h.draw(w, page.status(), "stores", page)
}

// formOf gives the identity of a posted form.
func formOf(f *form) care.Form {
	return care.Form{Record: f.record(), Hash: f.hash()}
}

// strength reads a strength with its unit; an empty field is none.
func (f *form) strength(name string, of mixing.Substance) mixing.Strength {
	text := f.text(name)
	if text == "" {
		return mixing.Strength{}
	}
	s, err := mixing.ParseStrength(text, of)
	if err != nil {
		f.problems.Add(name, err.Error())
	}
	return s
}

// amount reads a volume or a weight with its unit; an empty field is none.
func (f *form) amount(name string) mixing.Amount {
	text := f.text(name)
	if text == "" {
		return mixing.Amount{}
	}
	a, err := mixing.ParseAmount(text)
	if err != nil {
		f.problems.Add(name, err.Error())
	}
	return a
}

// lines reads a field of several lines, without the empty ones.
func (f *form) lines(name string) (out []string) {
	for line := range strings.Lines(f.text(name)) {
		if line = strings.TrimSpace(line); line != "" {
			out = append(out, line)
		}
	}
	return out
}

// upTo reads a number above 0 and at most so large, or says what it must be; an empty field is none.
func (f *form) upTo(name, unit string, most int64, must string) *big.Rat {
	text := f.text(name)
	if text == "" {
		return nil
	}
	n, err := tracker.ParseNumber(text, unit)
	switch {
	case err != nil:
		f.problems.Add(name, err.Error())
	case n.Sign() <= 0 || n.Cmp(big.NewRat(most, 1)) > 0:
		f.problems.Add(name, must)
	}
	return n
}

// readFacts reads what else the label of a product says. label is its strength.
func readFacts(f *form, label mixing.Strength) tracker.ProductFacts {
	facts := tracker.ProductFacts{
		Form: f.text("form"), InUseDays: f.whole("in_use_days", "Days after opening"), MixHours: f.whole("mix_hours", "Hours that a mix keeps"),
		MixHoursBy: f.text("mix_hours_by"), Cautions: f.lines("cautions"), Prescription: f.ticked("prescription"), FoodNote: f.text("food_note"),
		ConcentrateFirst: f.text("order") == "concentrate", BleachDoubt: f.text("bleach_doubt"), DeliveryDays: f.whole("delivery_days", "Days until a delivery"),
		Weakest: care.ExactStrength(f.strength("weakest", label.Of)), Strongest: care.ExactStrength(f.strength("strongest", label.Of)),
	}
	if text := f.text("density"); text != "" {
		density, err := mixing.ParseDensity(text)
		if err != nil {
			f.problems.Add("density", err.Error())
		}
		facts.Density = care.ExactFraction(density)
	}
	facts.StripGrams = care.ExactFraction(f.upTo("strip", "g", 1000, "A strip of 100 mm weighs more than 0 and at most 1\u202f000 g, like 4."))
	facts.MostCM2 = care.ExactFraction(f.upTo("most_cm2", "cm2", 100000, "An area must be more than 0 and at most 100\u202f000 cm², like 200."))
	if iodine := f.strength("iodine", mixing.AvailableIodine); iodine.Value != nil && label.Value != nil {
		same, err := iodine.In(label.Unit, nil)
		if err != nil || label.Of != mixing.PovidoneIodine || same.Value.Cmp(label.Value) >= 0 {
			f.problems.Add("iodine", "Available iodine belongs to povidone-iodine, in the same unit as its strength and less than it, like 1% w/v.")
		} else {
			facts.IodineFactor = care.ExactFraction(new(big.Rat).Quo(same.Value, label.Value))
		}
	}
	return facts
}

func (h *Handler) addProduct(w http.ResponseWriter, r *http.Request, f *form) error {
	of, err := mixing.FindSubstance(f.text("of"))
	if err != nil {
		f.problems.Add("of", err.Error())
	}
	label := f.strength("strength", of)
	in := tracker.Product{Name: f.text("name"), Label: care.ExactStrength(label), Facts: readFacts(f, label)}
	return h.done(w, r, f, func() error { return h.care.AddProduct(r.Context(), actorOf(r), formOf(f), in) }, "/stores/product/"+f.text("record"), h.stores)
}

func (h *Handler) setMeasures(w http.ResponseWriter, r *http.Request, f *form) error {
	var in care.Measures
	for _, text := range f.lines("volumes") {
		volume, err := mixing.ParseAmount(text)
		if err != nil {
			f.problems.Add("volumes", err.Error())
			continue
		}
		in.Volumes = append(in.Volumes, volume)
	}
	for _, text := range f.lines("devices") {
		device, err := mixing.ParseDevice(text)
		if err != nil {
			f.problems.Add("devices", err.Error())
			continue
		}
		in.Devices = append(in.Devices, device)
	}
	return h.done(w, r, f, func() error { return h.care.SetMeasures(r.Context(), actorOf(r), in) }, "/stores#measures", h.stores)
}

// ProductPage is one product, with its bottles and the forms about it.
type ProductPage struct {
	Base
	View   care.ProductPage
	Form   ProductForm
	Bottle BottleForm
}

// BottleForm is the form of a bottle that came.
type BottleForm struct {
	sent
	Product tracker.ProductID
}

func (h *Handler) product(w http.ResponseWriter, r *http.Request, facts sent) error {
	return h.productPage(w, r, tracker.ProductID(chi.URLParam(r, "product")), facts, sent{})
}

// productPage shows a product with either of its forms as it was sent.
func (h *Handler) productPage(w http.ResponseWriter, r *http.Request, id tracker.ProductID, facts, bottle sent) error {
	view, err := h.care.Product(r.Context(), actorOf(r), id)
	if err != nil {
		return err
	}
	page := ProductPage{Base: h.base(r, view.Product.Name).inYard(view.Moment, "stores").wrong(facts.why).wrong(bottle.why), View: view}
	page.Form = ProductForm{sent: facts, Product: view.Product, Mark: view.Yard.Mark}
	page.Bottle = BottleForm{sent: bottle, Product: id}
	return h.draw(w, page.status(), "product", page)
}

func (h *Handler) changeProduct(w http.ResponseWriter, r *http.Request, f *form) error {
	id := tracker.ProductID(chi.URLParam(r, "product"))
	view, err := h.care.Product(r.Context(), actorOf(r), id)
	if err != nil {
		return err
	}
	if view.Blind {
		return tracker.Refuse(tracker.Conflict, "Read the label of its new bottle first. Until then its strength is hidden from you, and so are these facts.")
	}
	in := tracker.Product{ID: id, Name: f.text("name"), Gone: f.ticked("gone"), Facts: readFacts(f, view.Label)}
	return h.done(w, r, f, func() error { return h.care.ChangeProduct(r.Context(), actorOf(r), in) }, "/stores/product/"+string(id), h.product)
}
