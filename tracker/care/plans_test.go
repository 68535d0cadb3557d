package care_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
)

// yardTest is a made-up yard with an owner and a carer, a horse with two wounds, and a clock that a test sets.
// Its zone is Europe/London, on summer time; its rounds are at 07:00 and 18:30.
type yardTest struct {
	t *testing.T
	*care.Service
	db       *store.DB
	now      time.Time
	ada, bea care.Actor
	horse    tracker.HorseID
	rh1, lh1 tracker.Site
}

// clock sets the yard's local time, so many days after Thursday 14 May 2026.
func (y *yardTest) clock(days int, hhmm string) {
	y.t.Helper()
	minute, err := tracker.ParseMinuteOfDay(hhmm)
	must(y.t, err)
	y.now = time.Date(2026, 5, 14+days, 0, int(minute), 0, 0, time.UTC).Add(-time.Hour)
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func newYardTest(t *testing.T) *yardTest {
	t.Helper()
	y := &yardTest{t: t}
	y.clock(0, "09:00")
	var err error
	y.db, err = store.Open(t.Context(), t.TempDir(), y.now)
	must(t, err)
	t.Cleanup(func() { must(t, y.db.Close()) })
	y.Service = care.New(y.db, func() time.Time { return y.now })
	y.fill("Marlpit Yard")
	return y
}

// fill makes a yard and stands in it.
func (y *yardTest) fill(name string) {
	y.t.Helper()
	yard := tracker.Yard{ID: tracker.YardID(care.NewID()), Name: name, Zone: "Europe/London", Order: tracker.Legs(), LegWords: tracker.LeftRight, Mark: tracker.Point,
		Slots: tracker.DefaultSlots(), SpreadMM: 2, SizeEvery: 1, CreatedAt: y.now}
	for _, who := range []struct {
		to   *care.Actor
		name string
		role tracker.Role
	}{{&y.ada, "Ada", tracker.Owner}, {&y.bea, "Bea", tracker.Carer}} {
		person := tracker.Person{ID: tracker.PersonID(care.NewID()), Name: who.name, Email: who.name + "@" + care.NewID() + ".example"}
		*who.to = care.Actor{Yard: yard.ID, Person: person, Role: who.role}
	}
	must(y.t, y.db.Across(y.t.Context(), func(g care.Gate) error {
		must(y.t, g.AddYard(yard))
		for _, a := range []care.Actor{y.ada, y.bea} {
			must(y.t, g.AddPerson(a.Person, "", y.now))
			must(y.t, g.AddMember(yard.ID, a.Person.ID, a.Role, y.now))
		}
		return nil
	}))
	y.horse = tracker.HorseID(care.NewID())
	must(y.t, y.AddHorse(y.t.Context(), y.ada, tracker.Horse{ID: y.horse, Name: "Bramble"}))
	for _, s := range []struct {
		to  *tracker.Site
		leg tracker.Leg
	}{{&y.rh1, tracker.RH}, {&y.lh1, tracker.LH}} {
		site, err := y.AddSite(y.t.Context(), y.ada, care.NewSite{Record: care.NewRecord(), Horse: y.horse, Leg: s.leg, Region: tracker.Pastern, Aspect: tracker.Plantar, Kind: tracker.Wound})
		must(y.t, err)
		*s.to = site
	}
}

// wash is a plan of the vet for the right hind: twice a day for 7 days, then once a day until closed over.
func (y *yardTest) wash() care.PlanDraft {
	return care.PlanDraft{Record: care.NewRecord(), Horse: y.horse, Sites: []tracker.SiteID{y.rh1.ID}, Source: tracker.SetByVet, SetName: "Marlpit vet", Hash: "a",
		RingIf: []string{"the leg is hot above the fetlock"}, Steps: []care.StepDraft{
			{Field: "s1_", ID: care.NewID(), Kind: tracker.StepWash, Of: "chlorhexidine gluconate", Strength: "0.05 g per 100 mL", Minutes: 10, Phases: []tracker.PlanPhase{
				{Times: 2, Every: 1, Until: tracker.EndsDays, Count: 7}, {Times: 1, Every: 1, Until: tracker.EndsClosed}}},
			{Field: "s2_", ID: care.NewID(), Kind: tracker.StepDry, Phases: []tracker.PlanPhase{{Times: 2, Every: 1, Until: tracker.EndsVet}}},
		}}
}

func (y *yardTest) save(in care.PlanDraft) tracker.Plan {
	y.t.Helper()
	plan, err := y.SavePlan(y.t.Context(), y.ada, in)
	must(y.t, err)
	return plan
}

// due writes the Due list of a day as "Morning round: Wash ... for RH (open)".
func (y *yardTest) due(day tracker.Date) string {
	y.t.Helper()
	view, err := y.Due(y.t.Context(), y.bea, day)
	must(y.t, err)
	var lines []string
	for _, g := range view.Groups {
		for _, r := range g.Rows {
			state := map[care.DueState]string{care.DueOpen: "open", care.DuePart: "part", care.DueDone: "done", care.DueSkipped: "skipped"}[r.State]
			line := g.Name + ": " + r.Words
			if r.For != "" {
				line += " for " + r.For
			}
			lines = append(lines, line+" ("+state+")")
		}
	}
	return strings.ReplaceAll(strings.Join(lines, "\n"), "\u00a0", " ")
}

func (y *yardTest) wantDue(what, want string) {
	y.t.Helper()
	if diff := cmp.Diff(strings.TrimSpace(want), y.due(0)); diff != "" {
		y.t.Errorf("%s (-want +got):\n%s", what, diff)
	}
}

func (y *yardTest) row(words string) care.DueRow {
	y.t.Helper()
	view, err := y.Due(y.t.Context(), y.bea, 0)
	must(y.t, err)
	for _, g := range view.Groups {
		for _, r := range g.Rows {
			if strings.HasPrefix(r.Words, words) {
				return r
			}
		}
	}
	y.t.Fatalf("nothing due is called %s", words)
	return care.DueRow{}
}

func (y *yardTest) tick(r care.DueRow, outcome tracker.TickOutcome, why string) tracker.TickOff {
	y.t.Helper()
	tick := tracker.TickOff{ID: r.Record, Outcome: outcome, Items: r.Items, Day: r.Day, Slot: r.Slot, Why: why, Hash: why}
	must(y.t, y.TickOff(y.t.Context(), y.bea, tick))
	return tick
}

// line records a leg line of the round that is on, with care.
func (y *yardTest) line(leg tracker.Leg, care_ ...tracker.CareAct) {
	y.t.Helper()
	_, err := y.Record(y.t.Context(), y.bea, care.Entry{Check: tracker.Check{ID: care.NewRecord(), Subject: tracker.OfLeg, Outcome: tracker.Looked, Horse: y.horse, Leg: leg,
		Signs: tracker.Signs{tracker.Heat: 0}, Care: care_}})
	must(y.t, err)
}

func wantKind(t *testing.T, what string, err error, kind tracker.ErrorKind) {
	t.Helper()
	if tracker.KindOf(err) != kind {
		t.Errorf("%s: %v, want an error of kind %d", what, err, kind)
	}
}

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
	if got := y.due(0); strings.Count(got, "barrier cream") != 1 || !strings.Contains(got, "Evening round: Put on barrier cream 2 g for RH") {
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
		"no name":                      {func(d *care.PlanDraft) { d.Steps[0].Of = "" }, "s1_of"},
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
	if !strings.Contains(strings.Join(preview.Warnings, " "), "an estimate") {
		t.Errorf("an estimated weight warns of nothing: %v", preview.Warnings)
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
	if r := y.row("Give"); !strings.Contains(r.Doubt, "read differently by Bea") {
		t.Errorf("the Due list says %q", r.Doubt)
	}
	got, err = read("740 kg", "10% w/v") // the same strength in another notation
	must(t, err)
	if got.Kind != tracker.ReadBack {
		t.Errorf("the same in other words: %+v", got)
	}
	if r := y.row("Give"); r.Doubt != "" {
		t.Errorf("the Due list still says %q", r.Doubt)
	}
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
