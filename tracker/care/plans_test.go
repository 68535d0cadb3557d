package care_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"leground/tracker"
	"leground/tracker/care"
)

// A plan tapers, and what it asks for is done by the leg line's ticks or on the Due list. The days are worked by
// hand on the calendar.
func TestAPlanIsDueAndDone(t *testing.T) {
	y := newYardTest(t)
	y.wantDue("before any plan", "")
	y.save(y.wash())
	const wash = "Wash with chlorhexidine gluconate at 0.05 g per 100 mL, leave on for 10 minutes for RH"
	y.wantDue("on its first day", `
Morning round: `+wash+` (open)
Morning round: Dry for RH (open)
Evening round: `+wash+` (open)
Evening round: Dry for RH (open)`)
	y.line(tracker.RH, tracker.Washed)
	y.line(tracker.LH, tracker.Washed, tracker.Dried)
	y.tick(y.row("Dry"), tracker.TickSkipped, "no clean towel")
	y.wantDue("washed by the leg line, not dried", `
Morning round: `+wash+` (done)
Morning round: Dry for RH (skipped)
Evening round: `+wash+` (open)
Evening round: Dry for RH (open)`)
	y.clock(6, "09:00")
	y.wantDue("on the seventh day still twice", `
Morning round: `+wash+` (open)
Morning round: Dry for RH (open)
Evening round: `+wash+` (open)
Evening round: Dry for RH (open)`)
	y.clock(7, "09:00")
	y.wantDue("on the eighth day once", `
Morning round: `+wash+` (open)
Morning round: Dry for RH (open)
Evening round: Dry for RH (open)`)
}

// What the round asks on a leg line, with the plan's state beside it.
func TestTheRoundAsks(t *testing.T) {
	y := newYardTest(t)
	y.save(y.wash())
	asks := func() string {
		view, err := y.Round(t.Context(), y.bea)
		must(t, err)
		var words []string
		for _, leg := range view.Horses[0].Legs {
			for _, ask := range leg.Asks {
				words = append(words, leg.Leg.String()+" "+string(ask.Step.Kind)+map[bool]string{true: " done"}[ask.Done])
				if (ask.Worked != nil) != (ask.Step.Kind == tracker.StepWash) || ask.Doubt == "" {
					t.Errorf("%s: worked amounts %v, doubt %q", ask.Words, ask.Worked, ask.Doubt)
				}
				if ask.Worked != nil && (ask.Mix.Want != "0.05% w/v" || ask.Mix.Horse != y.horse || ask.Mix.Plan != ask.Step.ID) {
					t.Errorf("the mix that the wash starts: %+v", ask.Mix)
				}
			}
		}
		return strings.Join(words, ", ")
	}
	if got, want := asks(), "RH wash, RH dry"; got != want {
		t.Errorf("the round asks %q, want %q", got, want)
	}
	y.line(tracker.RH, tracker.Dried)
	if got, want := asks(), "RH wash, RH dry done"; got != want {
		t.Errorf("after drying it asks %q, want %q", got, want)
	}
}

// Versions are added, never changed; the old one stays, and a continuing step counts its phases on.
func TestPlanVersions(t *testing.T) {
	y := newYardTest(t)
	draft := y.wash()
	first := y.save(draft)
	if again := y.save(draft); again.ID != first.ID || again.Version != 1 {
		t.Errorf("the same form twice is %+v", again)
	}
	other := draft
	other.Hash = "b"
	_, err := y.SavePlan(t.Context(), y.ada, other)
	wantKind(t, "the same form with other content", err, tracker.Conflict)
	y.clock(5, "12:00")
	change := draft
	change.Record, change.Changes, change.Starts, change.FromSlot = care.NewRecord(), first.ID, 0, "evening"
	change.Steps = append(slices.Clone(draft.Steps), care.StepDraft{Field: "s3_", ID: care.NewID(), Kind: tracker.StepApply, Of: "barrier cream", Amount: "2 g",
		Phases: []tracker.PlanPhase{{Times: 2, Every: 1, Until: tracker.EndsVet}}})
	second := y.save(change)
	if second.Version != 2 || second.Root != first.ID || second.Steps[0].Begins != first.Steps[0].Begins || second.Steps[2].Begins != first.Starts+5 || second.Steps[2].BeginsAt != 18*60+30 {
		t.Errorf("the second version is %+v", second)
	}
	if got := y.due(0); strings.Count(got, "barrier cream") != 1 || !strings.Contains(got, "Evening round: Put on barrier cream 2 g on each leg for RH") {
		t.Errorf("on the day of the change:\n%s", got)
	}
	y.clock(7, "12:00")
	if got := y.due(0); strings.Count(got, "Wash") != 1 {
		t.Errorf("the wash that went on is still counted from its first day:\n%s", got)
	}
	stale := change
	stale.Record = care.NewRecord()
	_, err = y.SavePlan(t.Context(), y.ada, stale)
	wantKind(t, "a change of a version that was changed meanwhile", err, tracker.Conflict)
	must(t, y.StopPlan(t.Context(), y.ada, care.NewRecord(), second.ID, "the vet said so"))
	y.wantDue("once it is stopped", "")
	history, err := y.PlanHistory(t.Context(), y.bea, first.ID)
	must(t, err)
	var versions []int
	for _, v := range history.Versions {
		versions = append(versions, v.Plan.Version)
	}
	if diff := cmp.Diff([]int{3, 2, 1}, versions); diff != "" || !history.Newest.Plan.Stopped || history.Newest.Plan.Note != "the vet said so" {
		t.Errorf("every version is kept: %v, now %+v", versions, history.Newest.Plan)
	}
	kept := history.Versions[2].Plan
	kept.Reads = nil
	if diff := cmp.Diff(first, kept); diff != "" {
		t.Errorf("the first version has changed:\n%s", diff)
	}
	page, err := y.Plans(t.Context(), y.bea, y.horse)
	must(t, err)
	if len(page.Plans) != 0 || len(page.Past) != 1 {
		t.Errorf("the page shows %d plans and %d past ones", len(page.Plans), len(page.Past))
	}
}

// The past stays as it was: no version begins before the round that is on.
func TestPlansDoNotReachBack(t *testing.T) {
	y := newYardTest(t)
	y.clock(0, "20:00")
	for what, spoil := range map[string]func(*care.PlanDraft){
		"yesterday":          func(d *care.PlanDraft) { d.Starts = tracker.NewDate(2026, 5, 13) },
		"this morning":       func(d *care.PlanDraft) { d.FromSlot = "morning" },
		"a round of no yard": func(d *care.PlanDraft) { d.FromSlot = "noon" },
		"next year":          func(d *care.PlanDraft) { d.Starts = tracker.NewDate(2027, 5, 13) },
	} {
		draft := y.wash()
		spoil(&draft)
		_, err := y.SavePlan(t.Context(), y.ada, draft)
		wantKind(t, what, err, tracker.Invalid)
	}
	y.save(y.wash())
	if got := y.due(0); strings.Contains(got, "Morning") || strings.Count(got, "Evening") != 2 {
		t.Errorf("a plan entered in the evening asks for the evening only:\n%s", got)
	}
}

// A carer may read back but not set; whoever entered a plan may not read it back.
func TestWhoMaySetAndReadBack(t *testing.T) {
	y := newYardTest(t)
	draft := y.wash()
	ctx := t.Context()
	_, err := y.SavePlan(ctx, y.bea, draft)
	wantKind(t, "a carer sets a plan", err, tracker.Forbidden)
	_, err = y.PreviewPlan(ctx, y.bea, draft)
	wantKind(t, "a carer looks at a draft", err, tracker.Forbidden)
	plan := y.save(draft)
	wantKind(t, "a carer stops it", y.StopPlan(ctx, y.bea, care.NewRecord(), plan.ID, "tired of it"), tracker.Forbidden)
	word := tracker.PlanRead{ID: care.NewRecord(), Plan: plan.ID, Kind: tracker.VetByPhone, Name: "Dr Furrow", Hash: "a"}
	wantKind(t, "a carer says that the vet confirmed it", y.ConfirmPlan(ctx, y.bea, word), tracker.Forbidden)
	_, err = y.ReadPlanBack(ctx, y.ada, tracker.PlanRead{ID: care.NewRecord(), Plan: plan.ID}, nil)
	wantKind(t, "whoever entered it reads it back", err, tracker.Forbidden)
	sure := func() string {
		history, err := y.PlanHistory(ctx, y.bea, plan.ID)
		must(t, err)
		return history.Newest.Sure
	}
	if got := sure(); got != "checked by one person only: nobody has read it back" {
		t.Errorf("before anybody has: %q", got)
	}
	if r := y.row("Wash"); r.Doubt == "" {
		t.Error("the Due list does not say that nobody has read the plan back")
	}
	read := tracker.PlanRead{ID: care.NewRecord(), Plan: plan.ID, Hash: "a"}
	for range 2 {
		_, err = y.ReadPlanBack(ctx, y.bea, read, nil)
		must(t, err)
	}
	if got := sure(); got != "read back by Bea" {
		t.Errorf("once Bea has: %q", got)
	}
	if r := y.row("Wash"); r.Doubt != "" {
		t.Errorf("the Due list still says %q", r.Doubt)
	}
	y.clock(0, "09:30")
	must(t, y.ConfirmPlan(ctx, y.ada, word))
	if got := sure(); got != "confirmed by the vet, Dr Furrow, by phone on Thu 14 May" {
		t.Errorf("once the vet has: %q", got)
	}
	history, err := y.PlanHistory(ctx, y.bea, plan.ID)
	must(t, err)
	if n := len(history.Newest.Plan.Reads); n != 2 {
		t.Errorf("%d readings, want one each", n)
	}
	change := draft
	change.Record, change.Changes = care.NewRecord(), plan.ID
	plan = y.save(change)
	if got := sure(); got != "checked by one person only: nobody has read it back" {
		t.Errorf("a new version was not read by anybody: %q", got)
	}
}

// marks lists what was marked on the trend of a site: "0 Wash: ...", days counted from 14 May.
func (y *yardTest) marks(site tracker.Site) string {
	y.t.Helper()
	var out []string
	must(y.t, y.db.Read(y.t.Context(), y.ada.Yard, func(tx care.Tx) error {
		events, err := tx.Events(y.horse, 1)
		for _, e := range events {
			if e.Kind == tracker.TreatmentChange && e.Site == site.ID {
				out = append(out, strings.TrimPrefix(e.Day.String(), "2026-05-")+" "+strings.ReplaceAll(e.Note, "\u00a0", " "))
			}
		}
		return err
	}))
	return strings.Join(out, "\n")
}

func (y *yardTest) wantMarks(what string, site tracker.Site, want ...string) {
	y.t.Helper()
	if diff := cmp.Diff(strings.Join(want, "\n"), y.marks(site)); diff != "" {
		y.t.Errorf("%s (-want +got):\n%s", what, diff)
	}
}

// A change of wash is marked on the sites in its scope, on the day on which it holds, once.
func TestWashChangesAreMarked(t *testing.T) {
	y := newYardTest(t)
	draft := y.wash()
	draft.Steps[0].Phases = []tracker.PlanPhase{{Times: 2, Every: 2, Until: tracker.EndsVet}} // not due on every day
	plan := y.save(draft)
	y.save(draft)
	const a = "chlorhexidine gluconate at 0.05 g per 100 mL"
	begun := "14 Wash: " + a
	y.wantMarks("a plan begins", y.rh1, begun)
	y.wantMarks("a site that it is not for", y.lh1)
	change := func(with func(*care.PlanDraft)) tracker.Plan {
		next := draft
		next.Record, next.Changes, next.Steps = care.NewRecord(), plan.ID, slices.Clone(draft.Steps)
		with(&next)
		draft = next
		plan = y.save(next)
		return plan
	}
	y.clock(1, "09:00")
	must(t, y.Tick(t.Context()))
	change(func(d *care.PlanDraft) { d.Steps[1].Note = "with a clean towel"; d.Steps[0].Minutes = 15 })
	y.wantMarks("another contact time and drying are no other wash", y.rh1, begun)
	y.clock(2, "09:00")
	change(func(d *care.PlanDraft) { d.Steps[0].Strength = "0.04 g per 100 mL" })
	weaker := "16 Wash changed to chlorhexidine gluconate at 0.04 g per 100 mL, was " + a
	y.wantMarks("another strength", y.rh1, begun, weaker)
	// A version that holds from the 19th on is marked when that day comes, whatever happens before.
	change(func(d *care.PlanDraft) {
		d.Starts, d.Steps[0].ID, d.Steps[0].Of, d.Steps[0].Strength = tracker.NewDate(2026, 5, 19), care.NewID(), "povidone-iodine", "0.1 g per 100 mL"
	})
	for day := 2; day < 5; day++ {
		y.clock(day, "10:00")
		must(t, y.Tick(t.Context()))
	}
	y.wantMarks("before the day", y.rh1, begun, weaker)
	iodine := "19 Wash changed to povidone-iodine at 0.1 g per 100 mL, was chlorhexidine gluconate at 0.04 g per 100 mL"
	for _, at := range []string{"07:01", "09:00", "18:31"} {
		y.clock(5, at)
		must(t, y.Tick(t.Context()))
	}
	y.clock(6, "07:01")
	must(t, y.Tick(t.Context()))
	y.wantMarks("on the day, once", y.rh1, begun, weaker, iodine)
	must(t, y.StopPlan(t.Context(), y.ada, care.NewRecord(), plan.ID, "the vet said so"))
	y.clock(7, "07:01")
	must(t, y.Tick(t.Context()))
	y.wantMarks("the plan is stopped", y.rh1, begun, weaker, iodine, "20 Wash ended: povidone-iodine at 0.1 g per 100 mL")
}

// Everything that is wrong with a plan is said at once, each beside its field.
func TestPlanProblemsComeTogether(t *testing.T) {
	y := newYardTest(t)
	draft := y.wash()
	draft.Source, draft.Legs, draft.Steps[0].Strength, draft.Steps[0].Minutes, draft.Steps[1].Phases[0].Times = "", []tracker.Leg{tracker.RH}, "", 999, 3
	draft.Steps[0].Product = tracker.ProductID(care.NewID())
	_, err := y.SavePlan(t.Context(), y.ada, draft)
	refusal, ok := err.(*tracker.Error)
	if !ok {
		t.Fatal(err)
	}
	var fields []string
	for _, f := range refusal.Fields {
		fields = append(fields, f.Field)
	}
	slices.Sort(fields)
	if diff := cmp.Diff([]string{"s1_minutes", "s1_product", "s2_when", "scope", "source"}, slices.Compact(fields)); diff != "" {
		t.Errorf("problems (-want +got):\n%s\n%v", diff, err)
	}
}
