package web

import (
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/mixing"
)

// PlanForm is the form of a plan: a new one, or changes to one that is there. All its fields are texts, so that a
// form with a mistake, a form with one step more and a form that was looked at come back as they were.
type PlanForm struct {
	sent
	Horse    tracker.Horse
	Changes  tracker.RecordID
	From     *tracker.Proposal // what a vet wrote, of which it is made; nil: of nothing
	Legs     []Step
	Sites    []Step
	Sources  []Step
	Slots    []Step
	Products []tracker.Product
	Steps    []PlanStepForm
	Most     bool // no further step fits
	Words    tracker.LegWords
}

// PlanStepForm is the part of the form about one step.
type PlanStepForm struct {
	sent
	Number   int
	Prefix   string
	Kinds    []Step
	Products []Step
	Phases   []PlanPhaseForm
}

// PlanPhaseForm is one stretch of a step.
type PlanPhaseForm struct {
	sent
	Number int
	Prefix string
	Often  []Step
	Rounds []Step // of the day, to tick with someRounds
	Untils []Step
}

// someRounds is the answer to "how often" that the rounds are ticked one by one.
const someRounds = "some"

// Get gives a field of the step as it was sent.
func (f PlanStepForm) Get(name string) string { return f.Value(f.Prefix+name, "") }

// Wrong gives what is wrong with a field of the step.
func (f PlanStepForm) Wrong(name string) *tracker.FieldProblem { return f.Problem(f.Prefix + name) }

// Ticked tells whether a field of the step is ticked.
func (f PlanStepForm) Ticked(name string) bool { return f.Get(name) != "" }

// Get gives a field of the phase as it was sent.
func (f PlanPhaseForm) Get(name string) string { return f.Value(f.Prefix+name, "") }

// Used tells whether anything of the phase is filled in.
func (f PlanPhaseForm) Used() bool { return f.Get("often") != "" }

// planForm lays out a form from its values. It shows each step that is filled in and, with more, another empty one.
func planForm(view care.PlanFormView, state sent, more bool) PlanForm {
	out := PlanForm{sent: state, Horse: view.Horse, Changes: tracker.RecordID(state.Value("changes", "")), From: view.From,
		Words: view.Yard.LegWords}
	for _, leg := range view.Horse.OrderIn(view.Yard) {
		out.Legs = append(out.Legs, Step{leg.String(), leg.String(), state.Is("leg", leg.String(), false)})
	}
	for _, site := range view.Sites {
		if chosen := state.Is("site", string(site.ID), false); site.Open() || chosen {
			out.Sites = append(out.Sites, Step{string(site.ID), site.Tag(), chosen})
		}
	}
	for _, s := range []Step{{Value: "vet", Words: "the vet"}, {Value: "owner", Words: "the owner"}, {Value: "label", Words: "a label"}} {
		s.Chosen = state.Is("source", s.Value, false)
		out.Sources = append(out.Sources, s)
	}
	for _, slot := range view.Yard.Slots {
		out.Slots = append(out.Slots, Step{slot.Name, "the " + slot.Name + " round, " + slot.At.String(), state.Is("from_slot", slot.Name, false)})
	}
	steps := 0
	for n := 1; n <= care.MostSteps; n++ {
		if state.Value(stepField(n, "kind"), "") != "" {
			steps = n
		}
	}
	if more || steps == 0 {
		steps++
	}
	out.Most = steps >= care.MostSteps
	for n := 1; n <= min(steps, care.MostSteps); n++ {
		out.Steps = append(out.Steps, planStepForm(view, state, n))
	}
	return out
}

func stepField(n int, name string) string { return fmt.Sprintf("s%d_%s", n, name) }

func planStepForm(view care.PlanFormView, state sent, n int) PlanStepForm {
	step := PlanStepForm{sent: state, Number: n, Prefix: stepField(n, "")}
	if step.Get("id") == "" {
		step.Values = maps.Clone(state.Values)
		step.Values.Set(step.Prefix+"id", care.NewID())
	}
	for _, kind := range tracker.StepKinds() {
		step.Kinds = append(step.Kinds, Step{string(kind), tracker.StepName(kind), step.Get("kind") == string(kind)})
	}
	for _, p := range view.Products {
		if chosen := step.Get("product") == string(p.ID); !p.Gone || chosen {
			step.Products = append(step.Products, Step{string(p.ID), p.Name, chosen})
		}
	}
	phases := 1
	for k := 1; k <= care.MostPhases; k++ {
		if step.Get(phaseField(k, "often")) != "" {
			phases = k
		}
	}
	for k := 1; k <= min(phases+1, care.MostPhases); k++ {
		phase := PlanPhaseForm{sent: state, Number: k, Prefix: step.Prefix + phaseField(k, "")}
		for times := 1; times <= len(view.Yard.Slots); times++ {
			phase.Often = append(phase.Often, Step{strconv.Itoa(times), tracker.TimesADay(times), phase.Get("often") == strconv.Itoa(times)})
		}
		phase.Often = append(phase.Often, Step{someRounds, "at rounds that I tick", phase.Get("often") == someRounds})
		for _, slot := range view.Yard.Slots {
			phase.Rounds = append(phase.Rounds, Step{slot.Name, slot.Name, state.Is(phase.Prefix+"at", slot.Name, false)})
		}
		for _, u := range phaseEnds {
			phase.Untils = append(phase.Untils, Step{string(u.end), u.words, phase.Get("until") == string(u.end)})
		}
		step.Phases = append(step.Phases, phase)
	}
	return step
}

func phaseField(k int, name string) string { return fmt.Sprintf("p%d_%s", k, name) }

var phaseEnds = []struct {
	end   tracker.PhaseEnd
	words string
}{{tracker.EndsVet, "until the vet says"}, {tracker.EndsClosed, "until closed over"}, {tracker.EndsDays, "for so many days"}, {tracker.EndsTimes, "so many times in all"},
	{tracker.EndsOn, "to the end of a day"}}

// readDraft reads the form into a draft. What is no number or date is noted; the rest is care's to judge.
func readDraft(f *form, horse tracker.HorseID) care.PlanDraft {
	in := care.PlanDraft{Record: f.record(), Changes: tracker.RecordID(f.text("changes")), From: tracker.RecordID(f.text("from")), Horse: horse,
		Source: tracker.PlanSource(f.text("source")), SetName: f.text("set_name"), SetOn: f.date("set_on", "The day on which it was set"),
		Starts: f.date("starts", "The first day"), FromSlot: f.text("from_slot"), Note: f.text("note")}
	in.Whole = f.ticked("whole")
	for _, leg := range tracker.Legs() {
		if f.has("leg", leg.String()) {
			in.Legs = append(in.Legs, leg)
		}
	}
	for _, id := range f.values["site"] {
		in.Sites = append(in.Sites, tracker.SiteID(id))
	}
	for line := range strings.Lines(f.text("ring_if")) {
		if line = strings.TrimSpace(line); line != "" {
			in.RingIf = append(in.RingIf, line)
		}
	}
	for n := 1; n <= care.MostSteps; n++ {
		if f.text(stepField(n, "kind")) != "" {
			in.Steps = append(in.Steps, readStep(f, stepField(n, "")))
		}
	}
	hashed := form{values: url.Values{}}
	for name, values := range f.values {
		if name != "do" {
			hashed.values[name] = values
		}
	}
	in.Hash = hashed.hash()
	return in
}

func readStep(f *form, prefix string) care.StepDraft {
	text := func(name string) string { return f.text(prefix + name) }
	step := care.StepDraft{Field: prefix, ID: text("id"), Kind: tracker.StepKind(text("kind")), Product: tracker.ProductID(text("product")), Of: text("of"),
		Strength: text("strength"), Ceiling: text("ceiling"), Minutes: f.whole(prefix+"minutes", "Minutes"), Rinse: f.ticked(prefix + "rinse"), Amount: text("amount"),
		Area: text("area"), Most: text("most"),
		Note: text("note"), Begins: f.date(prefix+"begins", "The step's first day"),
		Order: care.OrderDraft{Label: text("label"), PerKG: text("per_kg"), Weight: text("weight"), Sure: text("weight_sure"), MaxPerKG: text("max_per_kg"), MaxCourse: text("max_course"),
			Measure: text("measure"), Units: f.ticked(prefix + "units"), Estimated: f.ticked(prefix + "estimated"), MaxDays: f.whole(prefix+"max_days", "The most days")}}
	for k := 1; k <= care.MostPhases; k++ {
		field := prefix + phaseField(k, "")
		often := f.text(field + "often")
		if often == "" {
			continue
		}
		phase := tracker.PlanPhase{Every: f.whole(field+"every", "Every so many days"), On: strings.ToLower(strings.ReplaceAll(f.text(field+"on"), " ", "")),
			Until: tracker.PhaseEnd(f.text(field + "until")), Date: f.date(field+"date", "The day"), Count: f.whole(field+"count", "How many")}
		if often == someRounds {
			phase.Slots = f.values[field+"at"]
		} else {
			phase.Times = f.whole(field+"often", "How often")
		}
		if phase.On != "" && phase.Every == 1 {
			phase.Every = 0 // days of the week stand in place of "every day"
		}
		if phase.Until != tracker.EndsOn && phase.Until != tracker.EndsVet {
			phase.Date = 0
		}
		if phase.Until != tracker.EndsDays && phase.Until != tracker.EndsTimes {
			phase.Count = 0
		}
		step.Phases = append(step.Phases, phase)
	}
	return step
}

// startOfPlan gives the values with which the form of a new plan begins: what a vet wrote fills in what it can.
func startOfPlan(view care.PlanFormView) url.Values {
	v := url.Values{"record": {string(care.NewRecord())}}
	if from := view.From; from != nil {
		v = url.Values{"record": v["record"], "from": {string(from.ID)}, "source": {string(tracker.SetByVet)}, "set_name": {from.Name},
			"set_on": {tracker.DateOf(from.At.In(view.Zone)).String()}, "ring_if": {from.RingIf}}
	}
	v.Set(stepField(1, "id"), care.NewID())
	v.Set(stepField(1, phaseField(1, "every")), "1")
	return v
}

// valuesOfPlan gives the form's values for a plan as it stands, so that a change starts from what was said. Who set it is
// asked anew: an owner's own change must not read as the vet's.
func valuesOfPlan(p tracker.Plan, mark tracker.DecimalMark) (url.Values, error) {
	v := url.Values{"record": {string(care.NewRecord())}, "changes": {string(p.ID)}}
	set, tick := fillIn(v)
	for _, leg := range p.Legs {
		set("leg", leg.String())
	}
	for _, site := range p.Sites {
		set("site", string(site))
	}
	tick("whole", len(p.Legs) == 0 && len(p.Sites) == 0)
	set("ring_if", strings.Join(p.RingIf, "\n"))
	if !p.Stopped { // the note of a stop is why
		set("note", p.Note)
	}
	for i, s := range p.Steps {
		if err := stepValues(v, stepField(i+1, ""), s, mark); err != nil {
			return nil, err
		}
	}
	return v, nil
}

func stepValues(v url.Values, prefix string, s tracker.PlanStep, mark tracker.DecimalMark) error {
	set, tick := fillIn(v)
	var texts []string
	for _, stored := range []tracker.StrengthText{s.Strength, s.Ceiling, s.Order.Label} {
		strength, err := care.Strength(stored)
		if err != nil {
			return err
		}
		texts = append(texts, typedStrength(strength, mark))
	}
	for _, stored := range []tracker.FractionText{s.AreaCM2, s.MostCM2, s.Order.PerKG, s.Order.WeightKG, s.Order.MaxPerKG, s.Order.MaxCourse} {
		number, err := care.Fraction(stored)
		if err != nil {
			return err
		}
		text := ""
		if number != nil {
			text = tracker.FormatNumber(number, care.ShownPlaces, mark)
		}
		texts = append(texts, text)
	}
	amount, err := care.Amount(s.Amount)
	if err != nil {
		return err
	}
	if amount.Value != nil {
		set(prefix+"amount", amount.Words(mark))
	}
	for i, name := range []string{"strength", "ceiling", "label", "area", "most", "per_kg", "weight", "max_per_kg", "max_course"} {
		set(prefix+name, texts[i])
	}
	for _, f := range [][2]string{{"id", s.ID}, {"kind", string(s.Kind)}, {"product", string(s.Product)}, {"of", s.Of}, {"note", s.Note}, {"begins", s.Begins.String()},
		{"measure", s.Order.Measure}, {"minutes", wholeText(s.Minutes)}, {"max_days", wholeText(s.Order.MaxDays)}} {
		set(prefix+f[0], f[1])
	}
	tick(prefix+"rinse", s.Rinse)
	tick(prefix+"units", s.Order.Units)
	tick(prefix+"estimated", s.Order.Estimated)
	for k, p := range s.Phases {
		field := prefix + phaseField(k+1, "")
		often := wholeText(p.Times)
		if len(p.Slots) > 0 {
			often = someRounds
		}
		for _, name := range p.Slots {
			set(field+"at", name)
		}
		for _, f := range [][2]string{{"often", often}, {"every", wholeText(p.Every)}, {"on", p.On}, {"until", string(p.Until)}, {"date", p.Date.String()}, {"count", wholeText(p.Count)}} {
			set(field+f[0], f[1])
		}
	}
	return nil
}

func typedStrength(s mixing.Strength, mark tracker.DecimalMark) string {
	if s.Value == nil {
		return ""
	}
	return s.Echo(mark)
}

func wholeText(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// Hidden lists the fields of a form that is only looked at, so that it can be sent on as it was.
func (f PlanForm) Hidden() []Step {
	var out []Step
	for _, name := range slices.Sorted(maps.Keys(f.Values)) {
		if name == "do" {
			continue
		}
		for _, value := range f.Values[name] {
			out = append(out, Step{Value: name, Words: value})
		}
	}
	return slices.Clip(out)
}
