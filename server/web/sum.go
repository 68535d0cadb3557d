package web

import (
	"net/http"
	"net/url"
	"slices"
	"strings"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/mixing"
)

// SumPage is the sums beside a mix: ordinary forms, of which one may have been answered. Nothing of it is recorded until
// somebody says that two mixes were poured together.
type SumPage struct {
	Base
	sent
	View    care.SumView
	Ask     care.SumAsk
	Sources [3][]Step // what can be chosen: first and second to pour together, and the bottle of a recipe
	Creams  []Step
	Ways    []Step
	Fingers []Step
	Liquids []Step
	Skins   []Step // what leftovers go on
}

var spreadWays = []struct {
	by    care.SpreadBy
	words string
}{
	{care.ByFingertips, "An area, as thick as a fingertip unit covers it"}, {care.ByLoad, "An area, with so many mg on each cm²"},
	{care.ByFilm, "An area, with a film of so many micrometres"}, {care.ByUnits, "So many fingertip units"}, {care.ByStrip, "A strip of so many mm"},
}

// readSum reads the form of a sum.
func readSum(v url.Values) care.SumAsk {
	text := func(name string) string {
		if s := strings.TrimSpace(v.Get(name)); len(s) <= 80 {
			return s
		}
		return ""
	}
	return care.SumAsk{
		Skin: skinNamed(text("skin")),
		Kind: care.SumKind(text("sum")), Stocks: [2]string{text("stock1"), text("stock2")}, Amounts: [2]string{text("amount1"), text("amount2")},
		Added: text("liquid") == "added", Claim: text("claim"), Product: tracker.ProductID(text("product")), By: care.SpreadBy(text("by")), Area: text("area"),
		Number: text("number"), Woman: text("finger") == "woman", Times: text("times"), Days: text("days"),
	}
}

// sums shows the sums, and the answer of the one that the address asks for, or of a pouring together that was not
// recorded.
func (h *Handler) sums(w http.ResponseWriter, r *http.Request, state sent) error {
	if state.Values == nil {
		state.Values = r.URL.Query()
	}
	ask := readSum(state.Values)
	view, problem := h.care.Sum(r.Context(), actorOf(r), ask)
	if problem != nil && tracker.KindOf(problem) != tracker.Invalid {
		return problem
	}
	if problem != nil {
		state.why, state.Wrong = problem, refusalOf(problem).Fields
	}
	page := SumPage{Base: h.base(r, "Other sums").inYard(view.Moment, "mix").barn().wrong(state.why), sent: state, View: view, Ask: ask}
	page.choices()
	return h.draw(w, page.status(), "sum", page)
}

// recordPour keeps that two mixes were poured together, and shows the label.
func (h *Handler) recordPour(w http.ResponseWriter, r *http.Request, f *form) error {
	keep := func() error {
		return h.care.RecordPour(r.Context(), actorOf(r), formOf(f), readSum(f.values), f.values["tick"], f.text("shown"))
	}
	return h.done(w, r, f, keep, "/mix/"+f.text("record"), h.sums)
}

func (p *SumPage) choices() {
	for i, key := range []string{p.Ask.Stocks[0], p.Ask.Stocks[1], p.Ask.Stocks[0]} {
		for _, s := range p.View.Choices {
			words := s.Name + ", " + strengthWords(s.Strength, p.Mark)
			if s.Diluted {
				words += ", mixed " + tracker.TimeName(s.Mix.MadeAt, p.Zone)
			}
			p.Sources[i] = append(p.Sources[i], Step{s.Key, words + ", " + s.Left.Words(p.Mark) + " left", s.Key == key})
		}
	}
	for _, product := range p.View.Products {
		p.Creams = append(p.Creams, Step{string(product.ID), product.Name, product.ID == p.Ask.Product})
	}
	for _, way := range spreadWays {
		p.Ways = append(p.Ways, Step{string(way.by), way.words, way.by == p.Ask.By})
	}
	p.Fingers = []Step{{"man", "A man's finger, 0.5 g", !p.Ask.Woman}, {"woman", "A woman's finger, 0.4 g", p.Ask.Woman}}
	p.Skins = skinSteps(p.Ask.Skin)
	p.Liquids = []Step{{"whole", "Is the whole that it is made up to", !p.Ask.Added}, {"added", "Is the water that it is added to", p.Ask.Added}}
}

// Asked tells whether a sum was asked for.
func (p SumPage) Asked(kind string) bool { return string(p.Ask.Kind) == kind }

// SumField is one field of a sum. The same field stands in more than one form, so its id says which.
type SumField struct {
	ID, Name, Label, Value string
	Options                []Step
	Optional               bool // nothing need be chosen, or nothing is to begin with
	Problem                *tracker.FieldProblem
}

// sumField lays out a field; its value and problem are those of the form that was sent.
func sumField(form, name, label string, options []Step, p SumPage) SumField {
	f := SumField{ID: form + "-" + name, Name: name, Label: label, Options: options, Optional: !slices.Contains([]string{"liquid", "finger", "skin"}, name)}
	if p.Asked(form) {
		f.Value, f.Problem = p.Value(name, ""), p.sent.Problem(name)
	}
	return f
}

// Warned lists what is to be read and ticked before it is recorded that two mixes were poured together.
func (p SumPage) Warned() []mixing.Note { return p.View.Answer.Warnings }

// Carried is what was asked for, for the form that says that it was done.
func (p SumPage) Carried() (out []Step) {
	for _, name := range []string{"stock1", "amount1", "stock2", "amount2", "skin"} {
		out = append(out, Step{Value: name, Words: p.Value(name, "")})
	}
	return out
}
