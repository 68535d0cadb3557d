package web

import (
	"cmp"
	"math/big"
	"net/http"

	"github.com/go-chi/chi/v5"

	"leground/tracker"
	"leground/tracker/care"
)

// WholeForm is a look at the whole horse: vital signs, condition, weight, girths.
type WholeForm struct {
	LookForm
	Order      tracker.WalkingOrder
	LastWeight int // in kg; 0: not known
}

// Asked gives the weight that is asked about in a form that comes back; empty: none is.
func (f WholeForm) Asked() string {
	return f.asked(func(sent *form) tracker.Check {
		return tracker.Check{Subject: tracker.OfHorse, Vitals: tracker.Vitals{WeightKG: sent.whole("weight", "", "kg")}}
	})
}

// WholePage is the page with a WholeForm.
type WholePage struct {
	Base
	Form WholeForm
}

// whole shows the form for a look at the whole horse; from the Due list it goes back there.
func (h *Handler) whole(w http.ResponseWriter, r *http.Request, state sent) error {
	id := tracker.HorseID(chi.URLParam(r, "horse"))
	view, err := h.care.Outline(r.Context(), actorOf(r), id)
	if err != nil {
		return err
	}
	page := WholePage{Base: h.base(r, view.Horse.Name).inYard(view.Moment, "horses").barn().wrong(state.why)}
	page.Bare = true
	look := LookForm{sent: state, Record: state.Record(), Base: page.Base, Horse: view.Horse, Anchor: "whole", People: view.People, Back: "/horse/" + string(id)}
	page.Form = WholeForm{LookForm: look, Order: view.Horse.OrderIn(view.Yard)}
	if page.Form.LastWeight, err = h.care.LastWeight(r.Context(), actorOf(r), id); err != nil {
		return err
	}
	if back := cmp.Or(r.URL.Query().Get("back"), state.Value("back", "")); back != "" {
		page.Form.Back = localPath(back)
	}
	return h.draw(w, page.status(), "whole", page)
}

func (h *Handler) saveWhole(w http.ResponseWriter, r *http.Request, f *form) error {
	id := tracker.HorseID(chi.URLParam(r, "horse"))
	return h.save(w, r, f, func(f *form) care.Entry { return wholeEntry(f, id) })
}

// wholeEntry reads a look at the whole horse.
func wholeEntry(f *form, id tracker.HorseID) care.Entry {
	check := commonCheck(f)
	check.Subject, check.Horse = tracker.OfHorse, id
	v := &check.Vitals
	v.TemperatureTenthsC = f.scaled("temperature", "The temperature", 10)
	v.PulsePerMinute, v.RestedMinutes = f.whole("pulse", "The pulse"), f.whole("rested", "The time at rest")
	v.BreathsPerMinute = f.whole("breaths", "Breaths")
	v.RefillTenthsSecond = f.scaled("refill", "The time until the gums are pink again", 10)
	v.Gums = parsed(f, "gums", tracker.ParseGums)
	v.NoGutSounds, v.LabouredBreathing = f.ticked("no_gut_sounds"), f.ticked("laboured")
	v.WeightKG, v.ConditionHalves = f.whole("weight", "The weight", "kg"), f.scaled("condition", "The condition score", 2)
	for _, leg := range tracker.Legs() {
		v.GirthMM[leg-1] = f.whole("girth."+leg.String(), "How thick "+leg.String()+" is", "mm")
	}
	for _, name := range []string{"temperature", "pulse", "breaths", "refill", "weight", "condition"} {
		f.notZero(name)
	}
	return entryOf(f, check)
}

// notZero refuses a 0 for what nothing alive has: it would be kept as not taken, without a word.
func (f *form) notZero(name string) {
	text := f.text(name)
	if value, err := tracker.ParseNumber(text, ""); text != "" && err == nil && value.Sign() == 0 {
		f.problems.Add(name, "This cannot be 0. Leave it empty when it was not taken.")
	}
}

// scaled reads a decimal number that is kept in whole parts of one: tenths of a degree, half points.
func (f *form) scaled(name, what string, parts int64) int {
	text := f.text(name)
	if text == "" {
		return 0
	}
	value, err := tracker.ParseNumber(text, "")
	if err != nil {
		f.problems.Add(name, what+": "+err.Error())
		return 0
	}
	value.Mul(value, big.NewRat(parts, 1))
	if !value.IsInt() || !value.Num().IsInt64() || value.Num().Int64() > 1e6 {
		like := map[int64]string{2: "half points, like 3.5", 10: "at most one decimal, like 37.8", 100: "at most two decimals, like 12.5"}[parts]
		f.problems.Add(name, what+" takes "+like+".")
		return 0
	}
	return int(value.Num().Int64())
}

// NumberField is one number that may be filled in.
type NumberField struct {
	ID, Name, Words string
	Unit, Hint      string
	Decimal         bool
	Most            int // characters that can be typed
	Value           string
	Problem         *tracker.FieldProblem
}

// Mode is the keyboard that a phone shows.
func (n NumberField) Mode() string {
	if n.Decimal {
		return "decimal"
	}
	return "numeric"
}

// numbers fills in what was sent in each field, and gives their ids a prefix.
func (s sent) numbers(prefix string, most int, fields ...NumberField) []NumberField {
	for i := range fields {
		f := &fields[i]
		f.ID, f.Most, f.Value, f.Problem = prefix+f.Name, most, s.Value(f.Name, ""), s.Problem(f.Name)
	}
	return fields
}

// Vitals are the numbers of the vital signs.
func (f WholeForm) Vitals() []NumberField {
	return f.numbers("", 8,
		NumberField{Name: "temperature", Words: "Temperature", Unit: "°C", Decimal: true},
		NumberField{Name: "pulse", Words: "Pulse", Unit: "a minute", Hint: "At rest. One from 45 to 60 is taken again after 30 minutes of rest."},
		NumberField{Name: "rested", Words: "At rest for", Unit: "min"},
		NumberField{Name: "breaths", Words: "Breaths", Unit: "a minute"},
		NumberField{Name: "refill", Words: "Gums pink again after", Unit: "s", Hint: "Press a gum until it is white, let go and count.", Decimal: true})
}

// Body are the numbers of the slow changes.
func (f WholeForm) Body() []NumberField {
	return f.numbers("", 8,
		NumberField{Name: "weight", Words: "Weight", Unit: "kg", Hint: "By scale, or by tape."},
		NumberField{Name: "condition", Words: "Condition score", Unit: "of 9", Hint: "1 is skin and bone, 9 very fat; half points are taken.", Decimal: true})
}

// Girths are how thick the legs are round.
func (f WholeForm) Girths() []NumberField {
	var legs []NumberField
	for _, leg := range f.Order {
		legs = append(legs, NumberField{Name: "girth." + leg.String(), Words: leg.String(), Unit: "mm"})
	}
	return f.numbers("", 8, legs...)
}

// Gums are the colours of gums that can be chosen.
func (f WholeForm) Gums() []Tick {
	var out []Tick
	for _, colour := range tracker.GumColours() {
		out = append(out, f.tick("gums", colour, colour))
	}
	return out
}

// Seen are the things that can be ticked about the whole horse.
func (f WholeForm) Seen() []Tick {
	out := []Tick{f.tick("no_gut_sounds", "1", "No gut sounds"), f.tick("laboured", "1", "Laboured breathing")}
	return append(out, f.flags(tracker.Weak, tracker.FootSore, tracker.WhiteSkin)...)
}

// Feeding are the things that can be ticked about its feeding.
func (f WholeForm) Feeding() []Tick { return f.flags(tracker.Refeeding, tracker.FeedKnown) }
