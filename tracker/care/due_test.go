package care_test

import (
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"testing"

	"leground/tracker"
	"leground/tracker/care"
)

// round gives a round as it is kept.
func (y *yardTest) round(day tracker.Date, slot string) tracker.Round {
	y.t.Helper()
	var found tracker.Round
	must(y.t, y.db.Read(y.t.Context(), y.ada.Yard, func(tx care.Tx) error {
		all, err := tx.Rounds(day, day)
		for _, r := range all {
			if r.Slot == slot {
				found = r
			}
		}
		return err
	}))
	return found
}

// looks records every leg line and card of the round that is on, without care.
func (y *yardTest) looks(care_ ...tracker.CareAct) {
	y.t.Helper()
	for _, leg := range tracker.Legs() {
		y.line(leg, care_...)
	}
	for _, site := range []tracker.Site{y.rh1, y.lh1} {
		_, err := y.Record(y.t.Context(), y.bea, care.Entry{Check: tracker.Check{ID: care.NewRecord(), Subject: tracker.OfSite, Outcome: tracker.Looked, Site: site.ID,
			Size: tracker.Size{Answer: tracker.Measured, LengthMM: 20, WidthMM: 10, Method: tracker.Ruler}, Signs: tracker.Signs{tracker.Pain: 0}}})
		must(y.t, err)
	}
}

var thursday = tracker.NewDate(2026, 5, 14)

// A round is done when its looks and what plans ask for are; care and walks count, each in its own way.
func TestRoundsHoldWhatPlansAsk(t *testing.T) {
	y := newYardTest(t)
	y.clock(1, "09:00") // the yard's first morning was over when it was made
	walk := care.PlanDraft{Record: care.NewRecord(), Horse: y.horse, Whole: true, Source: tracker.SetByOwner, Hash: "a", Steps: []care.StepDraft{
		{Field: "s1_", ID: care.NewID(), Kind: tracker.StepWalk, Minutes: 10, Phases: []tracker.PlanPhase{{Times: 1, Every: 1, Until: tracker.EndsVet}}}}}
	y.save(y.wash())
	y.save(walk)
	state := func(want tracker.RoundState) {
		t.Helper()
		must(t, y.Tick(t.Context()))
		if got := y.round(thursday+1, "morning"); got.State != want {
			t.Errorf("the morning round is %s (%s), want %s", got.State, got.Reason, want)
		}
	}
	wake := func() {
		must(t, y.db.Write(t.Context(), y.ada.Yard, func(tx care.Tx) error { return tx.SetWake(y.now) }))
	}
	state(tracker.RoundOpen)
	y.looks()
	wake()
	state(tracker.RoundPartDone)
	y.line(tracker.RH, tracker.Washed, tracker.Dried)
	wake()
	state(tracker.RoundPartDone) // the walk
	tick := y.tick(y.row("Walk"), tracker.TickDone, "")
	wake()
	state(tracker.RoundDone)
	must(t, y.UndoTick(t.Context(), y.bea, care.NewRecord(), tick.ID))
	wake()
	state(tracker.RoundPartDone)
	y.tick(y.row("Walk"), tracker.TickSkipped, "lame")
	y.clock(1, "18:31")
	state(tracker.RoundPartDone)
	if got := y.round(thursday+1, "morning"); got.Reason != "lame" {
		t.Errorf("the reason is %q", got.Reason)
	}
}

// What may be done at any time of a day stays due until it is done, due anew, or dropped from its plan.
func TestTrimsStayDue(t *testing.T) {
	y := newYardTest(t)
	trim := care.PlanDraft{Record: care.NewRecord(), Horse: y.horse, Whole: true, Source: tracker.SetByOwner, Hash: "a", Steps: []care.StepDraft{
		{Field: "s1_", ID: care.NewID(), Kind: tracker.StepTrim, Begins: thursday + 2, Phases: []tracker.PlanPhase{{Times: 1, Every: 28, Until: tracker.EndsVet}}}}}
	plan := y.save(trim)
	y.wantDue("before its day", "")
	y.clock(5, "09:00")
	y.wantDue("three days late", "Any time: Trim the feet (open)")
	if r := y.row("Trim"); r.Since != thursday+2 || r.Day != thursday+2 {
		t.Errorf("it is due since %s, of %s", r.Since, r.Day)
	}
	tick := y.tick(y.row("Trim"), tracker.TickDone, "")
	y.wantDue("once done", "")
	must(t, y.UndoTick(t.Context(), y.bea, care.NewRecord(), tick.ID))
	y.wantDue("once that is taken back", "Any time: Trim the feet (open)")
	y.clock(2, "09:00")
	y.wantDue("on its day", "Any time: Trim the feet (open)")
	y.clock(30, "09:00")
	if r := y.row("Trim"); r.Since != 0 || r.Day != thursday+30 {
		t.Errorf("due anew: since %s, of %s", r.Since, r.Day)
	}
	y.clock(31, "09:00")
	must(t, y.StopPlan(t.Context(), y.ada, care.NewRecord(), plan.ID, "sold"))
	y.wantDue("once the plan is stopped", "")
}

// A plan that is set after the morning round: what belongs to the day is due on it all the same, and care of which no
// round is left that day begins on the next, so that once a day for five days is five times.
func TestPlansSetAfterTheMorning(t *testing.T) {
	y := newYardTest(t)
	y.clock(0, "19:00") // the evening round is on
	step := func(kind tracker.StepKind, phase tracker.PlanPhase) care.StepDraft {
		return care.StepDraft{Field: "s_", ID: care.NewID(), Kind: kind, Phases: []tracker.PlanPhase{phase}}
	}
	y.save(care.PlanDraft{Record: care.NewRecord(), Horse: y.horse, Whole: true, Source: tracker.SetByOwner, Hash: "a", Steps: []care.StepDraft{
		step(tracker.StepWeigh, tracker.PlanPhase{Times: 1, Every: 7, Until: tracker.EndsVet}), step(tracker.StepWalk, tracker.PlanPhase{Times: 2, Every: 1, Until: tracker.EndsDays, Count: 3})}})
	y.save(care.PlanDraft{Record: care.NewRecord(), Horse: y.horse, Legs: []tracker.Leg{tracker.RF}, Source: tracker.SetByOwner, Hash: "b", Steps: []care.StepDraft{
		step(tracker.StepDry, tracker.PlanPhase{Times: 1, Every: 1, Until: tracker.EndsDays, Count: 5}), step(tracker.StepBandage, tracker.PlanPhase{Slots: []string{"evening"}, Every: 2, Until: tracker.EndsVet})}})
	if got := y.due(0); !strings.Contains(got, "Weigh (open)") || !strings.Contains(got, "Bandage for RF (open)") || !strings.Contains(got, "Walk (open)") || strings.Contains(got, "Dry") {
		t.Errorf("on the first evening:\n%s", got)
	}
	times := map[string]int{}
	for day := range 10 {
		for _, what := range []string{"Dry", "Walk", "Bandage"} {
			times[what] += strings.Count(y.due(thursday+tracker.Date(day)), what)
		}
	}
	if want := map[string]int{"Dry": 5, "Walk": 5, "Bandage": 5}; !maps.Equal(times, want) { // twice a day for 3 days from an evening on, and every other evening of ten
		t.Errorf("in ten days it is due %v times, want %v", times, want)
	}
}

// Things that are due once: with a time by the hour, without one at any time; a yard's and a horse's.
func TestOneOffs(t *testing.T) {
	y := newYardTest(t)
	ctx := t.Context()
	farrier := tracker.OneOff{ID: care.NewRecord(), Kind: tracker.FarrierComes, Horse: y.horse, Day: thursday, At: 15 * 60, Timed: true, Hash: "a"}
	other := tracker.OneOff{ID: care.NewRecord(), Kind: tracker.OtherOnce, Day: thursday, What: "order barrier cream", Hash: "b"}
	for range 2 {
		must(t, y.AddOneOff(ctx, y.bea, farrier))
	}
	must(t, y.AddOneOff(ctx, y.bea, other))
	y.save(y.wash())
	if got, want := y.due(0), "At 15:00: The farrier comes (open)"; !strings.Contains(got, want) || strings.Index(got, want) > strings.Index(got, "Evening") || strings.Index(got, want) < strings.Index(got, "Morning") {
		t.Errorf("the farrier stands by the hour:\n%s", got)
	}
	if got := y.due(0); !strings.HasSuffix(got, "Any time: order barrier cream (open)") {
		t.Errorf("what has no hour comes last:\n%s", got)
	}
	if r := y.row("The farrier"); r.Horse.Name != "Bramble" {
		t.Errorf("the farrier comes for %q", r.Horse.Name)
	}
	tick := y.tick(y.row("The farrier"), tracker.TickDone, "")
	if r := y.row("The farrier"); r.State != care.DueDone || r.Undo != tick.ID {
		t.Errorf("once the farrier was here: %+v", r)
	}
	y.clock(3, "09:00")
	if got := y.due(0); strings.Contains(got, "farrier") || !strings.Contains(got, "order barrier cream (open)") {
		t.Errorf("what was done goes, what was not stays due:\n%s", got)
	}
	for what, bad := range map[string]tracker.OneOff{
		"no kind": {ID: care.NewRecord(), Day: thursday + 4}, "yesterday": {ID: care.NewRecord(), Kind: tracker.VetComes, Day: thursday + 2}, "nothing said": {ID: care.NewRecord(), Kind: tracker.OtherOnce, Day: thursday + 4},
	} {
		wantKind(t, what, y.AddOneOff(ctx, y.bea, bad), tracker.Invalid)
	}
}

// Ticks are held against what is due; nothing of another yard can be ticked.
func TestTicksAreHeldAgainstPlans(t *testing.T) {
	y := newYardTest(t)
	ctx := t.Context()
	y.save(y.wash())
	row := y.row("Wash")
	mine := *y
	y.fill("Sandpit Yard")
	wantKind(t, "another yard ticks it", y.TickOff(ctx, y.bea, tracker.TickOff{ID: care.NewRecord(), Outcome: tracker.TickDone, Items: row.Items, Day: row.Day, Slot: row.Slot}, false), tracker.NotFound)
	*y = mine
	for what, c := range map[string]struct {
		tick tracker.TickOff
		kind tracker.ErrorKind
	}{
		"a round at which it is not due": {tracker.TickOff{Outcome: tracker.TickDone, Items: row.Items, Day: row.Day, Slot: "noon"}, tracker.NotFound},
		"no round at all":                {tracker.TickOff{Outcome: tracker.TickDone, Items: row.Items, Day: row.Day}, tracker.NotFound},
		"a made-up item":                 {tracker.TickOff{Outcome: tracker.TickDone, Items: []string{"x/RH"}, Day: row.Day, Slot: row.Slot}, tracker.NotFound},
		"tomorrow's round":               {tracker.TickOff{Outcome: tracker.TickDone, Items: row.Items, Day: row.Day + 1, Slot: row.Slot}, tracker.Invalid},
		"skipped without a reason":       {tracker.TickOff{Outcome: tracker.TickSkipped, Items: row.Items, Day: row.Day, Slot: row.Slot}, tracker.Invalid},
		"nothing":                        {tracker.TickOff{Outcome: tracker.TickDone, Day: row.Day, Slot: row.Slot}, tracker.Invalid},
	} {
		c.tick.ID = care.NewRecord()
		wantKind(t, what, y.TickOff(ctx, y.bea, c.tick, false), c.kind)
	}
	tick := y.tick(row, tracker.TickDone, "")
	must(t, y.TickOff(ctx, y.bea, tick, false)) // the same again
	tick.Hash = "else"
	wantKind(t, "the same form with other content", y.TickOff(ctx, y.bea, tick, false), tracker.Conflict)
	undo := care.NewRecord()
	for range 2 {
		must(t, y.UndoTick(ctx, y.bea, undo, tick.ID))
	}
	wantKind(t, "taking back what took back", y.UndoTick(ctx, y.bea, care.NewRecord(), undo), tracker.Invalid)
	if r := y.row("Wash"); r.State != care.DueOpen {
		t.Errorf("once taken back it is %+v", r)
	}
}

// A horse that is away is not asked about, and comes back.
func TestHorsesAway(t *testing.T) {
	y := newYardTest(t)
	ctx := t.Context()
	y.save(y.wash())
	asked := func() int {
		view, err := y.Round(ctx, y.bea)
		must(t, err)
		return len(view.Horses)
	}
	away := tracker.Absence{ID: care.NewRecord(), Horse: y.horse, From: thursday + 1, Why: "at the clinic", Hash: "a"}
	for range 2 {
		must(t, y.AddAbsence(ctx, y.bea, away, true))
	}
	if asked() != 1 || y.due(0) == "" {
		t.Error("it is not away yet")
	}
	y.clock(1, "09:00")
	if asked() != 0 {
		t.Error("the round still asks about a horse that is away")
	}
	y.wantDue("while it is away", "")
	must(t, y.Tick(ctx))
	y.clock(1, "18:31")
	must(t, y.Tick(ctx))
	if r := y.round(thursday+1, "morning"); r.State != tracker.RoundSkipped {
		t.Errorf("a round with no horse to look at is %s", r.State)
	}
	y.clock(3, "09:00")
	for range 2 {
		must(t, y.EndAbsence(ctx, y.bea, away.ID))
	}
	if asked() != 1 || !strings.Contains(y.due(0), "Wash") {
		t.Errorf("it is back, and the round asks about %d horses:\n%s", asked(), y.due(0))
	}
	y.wantDueOn(thursday+2, "")
	wantKind(t, "back before it went", y.AddAbsence(ctx, y.bea, tracker.Absence{ID: care.NewRecord(), Horse: y.horse, From: thursday + 5, To: thursday + 4}, false), tracker.Invalid)
	wantKind(t, "another yard's horse", y.AddAbsence(ctx, y.bea, tracker.Absence{ID: care.NewRecord(), Horse: tracker.HorseID(care.NewID()), From: thursday + 5}, false), tracker.NotFound)
}

func (y *yardTest) wantDueOn(day tracker.Date, want string) {
	y.t.Helper()
	if got := y.due(day); got != want {
		y.t.Errorf("on %s: %q, want %q", day, got, want)
	}
}

// A plan says how often a size is taken, and then the yard's own rule does not.
func TestSizesByPlan(t *testing.T) {
	y := newYardTest(t)
	y.looks()
	asks := func(site tracker.Site) bool {
		t.Helper()
		view, err := y.Round(t.Context(), y.bea)
		must(t, err)
		for _, leg := range view.Horses[0].Legs {
			for _, card := range leg.Cards {
				if card.Site.ID == site.ID {
					return card.AskSize
				}
			}
		}
		t.Fatal("the site has no card")
		return false
	}
	y.save(care.PlanDraft{Record: care.NewRecord(), Horse: y.horse, Sites: []tracker.SiteID{y.rh1.ID}, Source: tracker.SetByOwner, Hash: "a", Steps: []care.StepDraft{
		{Field: "s1_", ID: care.NewID(), Kind: tracker.StepMeasure, Phases: []tracker.PlanPhase{{Times: 1, Every: 3, Until: tracker.EndsVet}}}}})
	for day, want := range map[int]bool{0: false, 1: false, 2: false, 3: true, 5: true} {
		y.clock(day, "09:00")
		if got := asks(y.rh1); got != want {
			t.Errorf("%d days after the last size, by plan every third day: asked %v", day, got)
		}
		if got := asks(y.lh1); got != (day >= 1) {
			t.Errorf("%d days after the last size, by the yard's rule every day: asked %v", day, got)
		}
	}
}

// What plans have people told, in whole sentences, at the first round of the right day.
func TestPlanNotices(t *testing.T) {
	y := newYardTest(t)
	must(t, y.AddOneOff(t.Context(), y.bea, tracker.OneOff{ID: care.NewRecord(), Kind: tracker.FarrierComes, Horse: y.horse, Day: thursday + 2, At: 15 * 60, Timed: true}))
	draft := y.wash()
	for i := range draft.Steps {
		draft.Steps[i].Phases = []tracker.PlanPhase{{Times: 2, Every: 1, Until: tracker.EndsDays, Count: 5}}
	}
	y.save(draft)
	y.save(care.PlanDraft{Record: care.NewRecord(), Horse: y.horse, Whole: true, Source: tracker.SetByOwner, Hash: "a", Steps: []care.StepDraft{
		{Field: "s1_", ID: care.NewID(), Kind: tracker.StepTrim, Begins: thursday + 4, Phases: []tracker.PlanPhase{{Times: 1, Every: 28, Until: tracker.EndsVet}}}}})
	told := map[string]bool{}
	for day := range 6 {
		for _, at := range []string{"06:59", "07:00", "12:00", "18:30"} {
			y.clock(day, at)
			must(t, y.db.Write(t.Context(), y.ada.Yard, func(tx care.Tx) error { return tx.SetWake(y.now) }))
			must(t, y.Tick(t.Context()))
			for _, line := range y.lines(y.ada) {
				if !told[line] {
					told[line] = true
					t.Logf("%d %s: %s", day, at, line)
				}
			}
		}
	}
	for _, line := range []string{
		"The feet of Bramble are due for a trim on Mon 18 May. Ask your farrier.", "The plan of Bramble for RH 1 ends on Mon 18 May. Ask whoever set it what comes next.",
		"Bramble: the farrier comes, Sat 16 May, 15:00.",
	} {
		if !told[line] {
			t.Errorf("nobody was told: %s", line)
		}
	}
}

// lines gives every sentence that a person was told about rounds and notices.
func (y *yardTest) lines(who care.Actor) []string {
	y.t.Helper()
	var out []string
	must(y.t, y.db.Read(y.t.Context(), y.ada.Yard, func(tx care.Tx) error {
		rows, err := tx.Reminders(care.ReminderQuery{Limit: 500})
		for _, r := range rows {
			if r.Person == who.Person.ID {
				out = append(out, newsLines(y.t, r.Facts)...)
			}
		}
		return err
	}))
	return out
}

func newsLines(t *testing.T, facts []byte) []string {
	t.Helper()
	var news tracker.News
	must(t, json.Unmarshal(facts, &news))
	return news.Lines
}

// The evening's dose is not ticked in the morning without a question, since Stores and the book would count two; with the
// answer it is. Shortly before its round nothing is asked, of a day to come nothing can be ticked, and a skip needs no answer.
func TestADoseBeforeItsRound(t *testing.T) {
	y := newYardTest(t)
	ctx := t.Context()
	y.save(y.dose())
	y.clock(1, "06:08")
	var rows []care.DueRow
	view, err := y.Due(ctx, y.bea, 0)
	must(t, err)
	for _, g := range view.Groups {
		rows = append(rows, g.Rows...)
	}
	if len(rows) != 2 || rows[0].Early != "" || rows[1].Early != "This is for the evening round, due at 18:30." {
		t.Fatalf("the doses of the day: %+v", rows)
	}
	press := func(r care.DueRow, outcome tracker.TickOutcome, early bool) error {
		return y.TickOff(ctx, y.bea, tracker.TickOff{ID: care.NewRecord(), Outcome: outcome, Items: r.Items, Day: r.Day, Slot: r.Slot, Why: "no appetite"}, early)
	}
	must(t, press(rows[0], tracker.TickDone, false))
	wantKind(t, "the evening's dose after the morning's", press(rows[1], tracker.TickDone, false), tracker.Invalid)
	must(t, press(rows[1], tracker.TickSkipped, false))
	must(t, press(rows[1], tracker.TickDone, true))
	y.clock(2, "17:31")
	if r := y.row("Give"); r.Slot != "morning" || r.Early != "" {
		t.Errorf("a dose that is late asks %q", r.Early)
	}
	view, err = y.Due(ctx, y.bea, 0)
	must(t, err)
	must(t, press(view.Groups[1].Rows[0], tracker.TickDone, false)) // 59 minutes before its round
	view, err = y.Due(ctx, y.bea, thursday+3)
	must(t, err)
	for _, g := range view.Groups {
		for _, r := range g.Rows {
			if !r.Coming {
				t.Errorf("tomorrow's %s can be ticked off today", r.Words)
			}
		}
	}
}

// Days away and days on which the yard is closed say which medicines and steps of the vet they take off the list, and want
// to know that this is known; what the owner set is left out in silence.
func TestWhatFallsOutIsAsked(t *testing.T) {
	y := newYardTest(t)
	ctx := t.Context()
	y.save(y.dose()) // five days from Thursday 14 May: Monday 18 May is the last
	owners := y.wash()
	owners.Source, owners.Sites = tracker.SetByOwner, []tracker.SiteID{y.lh1.ID}
	y.save(owners)
	day := func(from, to tracker.Date) care.Closing { return care.Closing{Span: care.Span{From: from, To: to}} }
	asked := func(what string, err error, want string) {
		t.Helper()
		refusal, is := err.(*tracker.Error)
		if !is || len(refusal.Fields) != 1 || refusal.Fields[0].Field != "known" || !strings.Contains(strings.ReplaceAll(refusal.Fields[0].Problem, "\u00a0", " "), want) {
			t.Errorf("%s: %v, want a question with %q", what, err, want)
		}
	}
	monday := thursday + 4
	asked("closed on the last day", y.CloseDays(ctx, y.ada, day(monday, monday), false), "on these days. Bramble, Mon 18 May: Give Paste B 37 mL. Ask")
	asked("closed for a week", y.CloseDays(ctx, y.ada, day(monday-1, monday+7), false), "Bramble, Sun 17 May to Mon 18 May: Give Paste B 37 mL. Ask")
	must(t, y.CloseDays(ctx, y.ada, day(monday+1, monday+2), false)) // after it
	away := tracker.Absence{ID: care.NewRecord(), Horse: y.horse, From: monday}
	asked("away until said to be back", y.AddAbsence(ctx, y.ada, away, false), "Bramble, Mon 18 May: Give Paste B 37 mL")
	asked("to whoever has to read it back", y.AddAbsence(ctx, y.bea, away, false), "Give Paste B: the amount is hidden")
	must(t, y.AddAbsence(ctx, y.bea, away, true))
	must(t, y.EndAbsence(ctx, y.bea, away.ID))
	must(t, y.CloseDays(ctx, y.ada, day(monday, monday), true))
	y.wantDueOn(monday, "")
	y.save(y.wash())
	asked("what the vet set", y.CloseDays(ctx, y.ada, day(monday+9, monday+9), false), "Bramble, Wed 27 May: Wash with chlorhexidine gluconate")
}

// A plan that is stopped takes what is still to do off the list, and leaves what was ticked by it, with its way back; taken
// back, that is gone too.
func TestAStoppedPlanLeavesWhatWasTicked(t *testing.T) {
	y := newYardTest(t)
	plan := y.save(y.wash())
	trim := y.save(care.PlanDraft{Record: care.NewRecord(), Horse: y.horse, Whole: true, Source: tracker.SetByOwner, Hash: "a", Steps: []care.StepDraft{
		{Field: "s1_", ID: care.NewID(), Kind: tracker.StepTrim, Phases: []tracker.PlanPhase{{Times: 1, Every: 28, Until: tracker.EndsVet}}}}})
	tick := y.tick(y.row("Dry"), tracker.TickDone, "")
	y.tick(y.row("Trim"), tracker.TickDone, "")
	for _, p := range []tracker.Plan{plan, trim} {
		must(t, y.StopPlan(t.Context(), y.ada, care.NewRecord(), p.ID, "the vet said so"))
	}
	y.wantDue("what was ticked stays", "Morning round: Dry for RH (done)\nAny time: Trim the feet (done)")
	row := y.row("Dry")
	if row.Undo != tick.ID || !slices.Contains(row.Said, "The plan asks for this no more.") {
		t.Errorf("the row: %+v", row)
	}
	must(t, y.UndoTick(t.Context(), y.bea, care.NewRecord(), tick.ID))
	y.wantDue("taken back", "Any time: Trim the feet (done)")
	y.clock(1, "09:00")
	y.wantDue("on the next day", "")
}
