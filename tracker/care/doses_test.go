package care_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"leground/tracker"
	"leground/tracker/care"
)

// dose is a vet's order: 5 mg for each kg of 740 kg, of a medicine of 100 mg/mL: 5 x 740 / 100 = 37 mL.
func (y *yardTest) dose() care.PlanDraft {
	return care.PlanDraft{Record: care.NewRecord(), Horse: y.horse, Whole: true, Source: tracker.SetByVet, SetName: "Marlpit vet", Hash: "a", Steps: []care.StepDraft{
		{Field: "s1_", ID: care.NewID(), Kind: tracker.StepGive, Of: "Paste B", Phases: []tracker.PlanPhase{{Times: 2, Every: 1, Until: tracker.EndsDays, Count: 5}},
			Order: care.OrderDraft{Label: "100 mg/mL", PerKG: "5", Weight: "740", MaxPerKG: "5", MaxDays: 7}}}}
}

// A medicine by weight needs the vet's whole order; nothing is filled in, and what the vet forbids is refused.
func TestDoses(t *testing.T) {
	y := newYardTest(t)
	for what, c := range map[string]struct {
		spoil func(*care.PlanDraft)
		field string
	}{
		"set by the owner":         {func(d *care.PlanDraft) { d.Source = tracker.SetByOwner }, "source"},
		"no amount per kg":         {func(d *care.PlanDraft) { d.Steps[0].Order.PerKG = "" }, "s1_per_kg"},
		"no weight":                {func(d *care.PlanDraft) { d.Steps[0].Order.Weight = "" }, "s1_per_kg"},
		"no maximum":               {func(d *care.PlanDraft) { d.Steps[0].Order.MaxPerKG = "" }, "s1_per_kg"},
		"above the maximum":        {func(d *care.PlanDraft) { d.Steps[0].Order.PerKG = "5.1" }, "s1_per_kg"},
		"above the course's most":  {func(d *care.PlanDraft) { d.Steps[0].Order.MaxCourse = "36999" }, "s1_per_kg"}, // 5 x 740 x 10 = 37000
		"longer than the vet says": {func(d *care.PlanDraft) { d.Steps[0].Order.MaxDays = 4 }, "s1_per_kg"},
		"until the vet says": {func(d *care.PlanDraft) {
			d.Steps[0].Phases[0] = tracker.PlanPhase{Times: 2, Every: 1, Until: tracker.EndsVet}
		}, "s1_when"},
		"every other day": {func(d *care.PlanDraft) { d.Steps[0].Phases[0].Every = 2 }, "s1_when"},
		"in two phases": {func(d *care.PlanDraft) {
			d.Steps[0].Phases = append(d.Steps[0].Phases, tracker.PlanPhase{Times: 1, Every: 1, Until: tracker.EndsDays, Count: 2})
		}, "s1_when"},
		"a strength without a unit":    {func(d *care.PlanDraft) { d.Steps[0].Order.Label = "100" }, "s1_label"},
		"a weight that reads two ways": {func(d *care.PlanDraft) { d.Steps[0].Order.Weight = "1.500" }, "s1_weight"},
		"a weight in the wrong unit":   {func(d *care.PlanDraft) { d.Steps[0].Order.Weight = "740 mg" }, "s1_weight"},
		"a syringe for what is weighed": {func(d *care.PlanDraft) {
			d.Steps[0].Order.Label, d.Steps[0].Order.Measure = "100 mg/g", "20 mL syringe, 1 mL marks"
		}, "s1_measure"},
		"marks too coarse": {func(d *care.PlanDraft) { d.Steps[0].Order.Measure = "100 mL cylinder, 50 mL marks" }, "s1_measure"},
		"no name":          {func(d *care.PlanDraft) { d.Steps[0].Of = "" }, "s1_of"},
	} {
		draft := y.dose()
		c.spoil(&draft)
		_, err := y.SavePlan(t.Context(), y.ada, draft)
		var fields []string
		if refusal, ok := err.(*tracker.Error); ok {
			for _, f := range refusal.Fields {
				fields = append(fields, f.Field)
			}
		}
		if !slices.Contains(fields, c.field) {
			t.Errorf("%s: %v, want a problem with %s", what, err, c.field)
		}
	}
	preview, err := y.PreviewPlan(t.Context(), y.ada, y.dose())
	must(t, err)
	line := preview.Plan.Lines[0]
	if got := strings.ReplaceAll(line.Words, "\u00a0", " "); got != "Give Paste B 37 mL" || line.Dose == nil || len(line.Dose.Working) == 0 {
		t.Errorf("5 mg/kg x 740 kg / 100 mg/mL is shown as %q with working %v", got, line.Dose)
	}
	if line.When != "twice a day for 5 days" {
		t.Errorf("when: %q", line.When)
	}
	draft := y.dose()
	draft.Steps[0].Order.Estimated = true
	preview, err = y.PreviewPlan(t.Context(), y.ada, draft)
	must(t, err)
	if notes := preview.Plan.Lines[0].Dose.Warnings; len(notes) != 1 || !strings.Contains(notes[0].Text, "an estimate") || len(preview.Warnings) > 0 {
		t.Errorf("an estimated weight is warned of once, beside its dose: %v, and %v", notes, preview.Warnings)
	}
}

// The second person enters weight and strength blind; what differs is kept and said.
func TestDosesAreReadBlind(t *testing.T) {
	y := newYardTest(t)
	plan := y.save(y.dose())
	step := plan.Steps[0].ID
	read := func(weight, label string) (tracker.PlanRead, error) {
		return y.ReadPlanBack(t.Context(), y.bea, tracker.PlanRead{ID: care.NewRecord(), Plan: plan.ID, Hash: weight + label}, map[string]care.Typed{step: {Weight: weight, Label: label}})
	}
	_, err := read("", "")
	wantKind(t, "nothing typed", err, tracker.Invalid)
	got, err := read("704", "100 mg/mL")
	must(t, err)
	if got.Kind != tracker.ReadDiffers || !strings.Contains(got.Typed, "704") {
		t.Errorf("digits changed round: %+v", got)
	}
	if r := y.row("Do not give Paste B yet: it was read in two ways."); !strings.Contains(r.Doubt, "read differently by Bea") || strings.Contains(r.Words, "740") || len(r.Dose) > 0 {
		t.Errorf("the Due list says %q, %q, %q", r.Doubt, r.Words, r.Dose)
	}
	history, err := y.PlanHistory(t.Context(), y.ada, plan.ID) // who entered it sees both
	must(t, err)
	const both = "Do not give Paste B yet: it was read in two ways. Entered: Paste B: 740 kg, 10 g per 100 mL. Read back: Paste B: 704 kg, 10 g per 100 mL. Ask whoever set it"
	if line := history.Newest.Lines[0]; strings.ReplaceAll(line.Words, "\u00a0", " ") != both || line.Dose != nil {
		t.Errorf("the plan says %q, with its working %v", line.Words, line.Dose)
	}
	got, err = read("740 kg", "10% w/v") // the same strength in another notation
	must(t, err)
	if got.Kind != tracker.ReadBack {
		t.Errorf("the same in other words: %+v", got)
	}
	if r := y.row("Give"); r.Doubt != "" {
		t.Errorf("the Due list still says %q", r.Doubt)
	}
	y.clock(0, "09:10")
	_, err = read("704", "100 mg/mL")
	must(t, err)
	y.row("Do not give Paste B yet") // a newer reading that differs takes the older one's word away
}

// What a wash could never be is refused when the plan is written, and what a mix would warn of is shown.
func TestWashStrengths(t *testing.T) {
	y := newYardTest(t)
	for what, c := range map[string]struct{ of, strength, ceiling, field string }{
		"a percent that counts nothing": {"chlorhexidine gluconate", "0.05%", "", "s1_strength"},
		"a colon ratio":                 {"chlorhexidine gluconate", "1:40", "", "s1_strength"},
		"a number read two ways":        {"povidone-iodine", "1.500 g per 100 mL", "", "s1_strength"},
		"a name that leaves the salt":   {"chlorhexidine", "0.05 g per 100 mL", "", "s1_of"},
		"an unknown name":               {"chlorhexadine gluconate", "0.05 g per 100 mL", "", "s1_of"},
		"above the vet's most":          {"povidone-iodine", "1 g per 100 mL", "0.5 g per 100 mL", "s1_strength"},
		"hypochlorite above 0.5":        {"sodium hypochlorite", "1 g per 100 mL", "", "s1_strength"},
	} {
		draft := y.wash()
		draft.Steps[0].Of, draft.Steps[0].Strength, draft.Steps[0].Ceiling = c.of, c.strength, c.ceiling
		_, err := y.PreviewPlan(t.Context(), y.ada, draft)
		refusal, ok := err.(*tracker.Error)
		if !ok || !slices.ContainsFunc(refusal.Fields, func(f tracker.FieldProblem) bool { return f.Field == c.field }) {
			t.Errorf("%s: %v, want a problem with %s", what, err, c.field)
		}
	}
	draft := y.wash()
	draft.Steps[0].Strength = "0.1 g per 100 mL"
	preview, err := y.PreviewPlan(t.Context(), y.ada, draft)
	must(t, err)
	if len(preview.Warnings) == 0 {
		t.Error("chlorhexidine at 0.1 g per 100 mL on open skin warns of nothing")
	}
	if len(preview.Weeks) != 2 || len(preview.Weeks[1].Rows) != 2 || len(preview.Weeks[0].Rows[0].Cells) != 7 {
		t.Fatalf("the preview is no two weeks: %+v", preview.Weeks)
	}
	for what, got := range map[string][]int{"the first morning": preview.Weeks[0].Rows[0].Cells[0].Due, "the eighth evening": preview.Weeks[1].Rows[1].Cells[0].Due} {
		want := map[string][]int{"the first morning": {1, 2}, "the eighth evening": {2}}[what]
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s:\n%s", what, diff)
		}
	}
}

// A dose for twice the horse is asked about: the plan's weight, the book's and its day are said, what is meant is ticked for
// that weight alone, and whoever reads the plan back is told, without the plan's number. A quarter is common practice, no
// source: of 372 kg it is 93 kg.
func TestADoseForAnotherWeight(t *testing.T) {
	y := newYardTest(t)
	ctx := t.Context()
	weigh := func(kg int) {
		_, err := y.Record(ctx, y.bea, care.Entry{Check: tracker.Check{ID: care.NewRecord(), Subject: tracker.OfHorse, Outcome: tracker.Looked, Horse: y.horse, Vitals: tracker.Vitals{WeightKG: kg}}})
		must(t, err)
	}
	weigh(700)
	y.clock(1, "09:00")
	weigh(372)
	y.clock(2, "09:00")
	try := func(weight, sure string) (care.PlanPreview, error) {
		draft := y.dose()
		draft.Steps[0].Order.Weight, draft.Steps[0].Order.Sure = weight, sure
		return y.PreviewPlan(ctx, y.ada, draft)
	}
	for weight, asked := range map[string]bool{"740": true, "466": true, "465": false, "372": false, "279": false, "278": true} {
		_, err := try(weight, "")
		refusal, is := err.(*tracker.Error)
		if is != asked || is && (len(refusal.Fields) != 1 || refusal.Fields[0].Field != "s1_weight_sure") {
			t.Errorf("a dose for %s kg of a horse of 372 kg: %v", weight, err)
		}
	}
	_, err := try("740", "465")
	wantKind(t, "another weight was meant", err, tracker.Invalid)
	const words = "The plan is for 740 kg. The last weight in the book differs by more than a quarter: 372 kg, of Fri 15 May."
	if err == nil || !strings.Contains(strings.ReplaceAll(err.(*tracker.Error).Fields[0].Problem, "\u00a0", " "), words) {
		t.Errorf("it is asked: %v", err)
	}
	preview, err := try("740", "740")
	must(t, err)
	if got := strings.ReplaceAll(preview.Plan.Lines[0].Weight, "\u00a0", " "); got != words {
		t.Errorf("the preview says %q", got)
	}
	draft := y.dose()
	draft.Steps[0].Order.Sure = "740"
	plan := y.save(draft)
	history, err := y.PlanHistory(ctx, y.bea, plan.ID)
	must(t, err)
	if got := strings.ReplaceAll(history.Newest.Lines[0].Weight, "\u00a0", " "); got != "The weight in this plan differs by more than a quarter from the last one in the book: 372 kg, of Fri 15 May." {
		t.Errorf("whoever reads it back is told %q", got)
	}
}
