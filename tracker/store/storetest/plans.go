package storetest

import (
	"maps"
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

// asked is one thing of every sort that a yard has planned.
type asked struct {
	plan   tracker.Plan
	read   tracker.PlanRead
	tick   tracker.TickOff
	once   tracker.OneOff
	absent tracker.Absence
}

// plan is a plan with one step of every field.
func plan(p Place, starts int) tracker.Plan {
	id := newRecord()
	return tracker.Plan{
		ID: id, Root: id, Version: 1, Horse: p.Bramble.ID, Legs: []tracker.Leg{tracker.RH, tracker.LF}, Sites: []tracker.SiteID{p.Wound.ID, p.Patch.ID},
		Steps: []tracker.PlanStep{{
			ID: NewID(), Kind: tracker.StepWash, Product: "a product", Of: "Wash concentrate A", Strength: aTwentieth, Ceiling: twoPercent, Minutes: 10, Rinse: true,
			Amount: thirdOfIt, AreaCM2: "225/2", MostCM2: "250", Note: "with a soft cloth", Begins: today - 3, BeginsAt: 7 * 60,
			Order: tracker.DoseOrder{Label: twoPercent, PerKG: "5/3", Units: true, WeightKG: "740", Estimated: true, MaxPerKG: "2", MaxCourse: "10000", MaxDays: 7, Measure: syringeText},
			Phases: []tracker.PlanPhase{
				{Times: 2, Every: 1, Until: tracker.EndsDays, Count: 7}, {Slots: []string{"morning"}, On: "mon,thu", Until: tracker.EndsOn, Date: today + 30}, {Times: 1, Every: 2, Until: tracker.EndsClosed},
			},
		}},
		RingIf: []string{"the leg is hot above the fetlock", "it is \"off\" its feed"}, Source: tracker.SetByVet, SetName: "Marlpit vet", SetOn: today - 1, Note: "a note",
		Starts: today + tracker.Date(starts), StartAt: 18*60 + 30, By: p.Ada.ID, At: noon, Hash: "hash",
	}
}

// after gives a further version of a plan.
func after(p tracker.Plan, starts int) tracker.Plan {
	p.ID, p.Version, p.Starts, p.At, p.Reads = newRecord(), p.Version+1, today+tracker.Date(starts), p.At.Add(time.Minute), nil
	return p
}

func planRead(p Place, of tracker.Plan, kind tracker.PlanReadKind, after time.Duration) tracker.PlanRead {
	return tracker.PlanRead{ID: newRecord(), Plan: of.ID, Kind: kind, By: p.Bea.ID, At: noon.Add(after), Day: today, Name: "Dr Furrow", Typed: "720 kg", Hash: "hash"}
}

func tickOff(p Place, outcome tracker.TickOutcome, day int, slot string, after time.Duration) tracker.TickOff {
	return tracker.TickOff{ID: newRecord(), Outcome: outcome, Items: []string{"step/RH", "step/LF"}, Day: today + tracker.Date(day), Slot: slot, Of: newRecord(), Why: "would not stand", By: p.Bea.ID, At: noon.Add(after), Hash: "hash"}
}

func oneOff(p Place, day int) tracker.OneOff {
	return tracker.OneOff{ID: newRecord(), Kind: tracker.FarrierComes, Horse: p.Tom.ID, Day: today + tracker.Date(day), At: 15 * 60, Timed: true, What: "The farrier comes", By: p.Ada.ID, MadeAt: noon, Settled: noon.Add(time.Hour), Hash: "hash"}
}

func absence(p Place, from, to int) tracker.Absence {
	return tracker.Absence{ID: newRecord(), Horse: p.Juni.ID, From: today + tracker.Date(from), To: today + tracker.Date(to), Why: "at the clinic", By: p.Ada.ID, At: noon, Hash: "hash"}
}

// ask puts one of each into a yard.
func (h *House) ask(t testing.TB, p Place) asked {
	t.Helper()
	a := asked{plan: plan(p, 0), tick: tickOff(p, tracker.TickDone, 0, "morning", 0), once: oneOff(p, 3), absent: absence(p, 1, 2)}
	a.read = planRead(p, a.plan, tracker.ReadBack, 0)
	h.write(t, p, func(tx care.Tx) error {
		must(t, tx.AddPlan(a.plan))
		must(t, tx.AddPlanRead(a.read))
		must(t, tx.AddTickOff(a.tick))
		must(t, tx.AddOneOff(a.once))
		return tx.AddAbsence(a.absent)
	})
	a.plan.Reads = []tracker.PlanRead{a.read}
	return a
}

// testPlans keeps versions and their readings, and lists those that hold from a day on.
// wantTakes asks whether a plan of Bramble takes something out of Stores; never one of the other yard.
func (h *House) wantTakes(t *testing.T, want bool) {
	t.Helper()
	h.read(t, h.Mine, func(tx care.Tx) error {
		g, err := tx.Ground(tracker.Check{ID: newRecord(), Subject: tracker.OfLeg, Horse: h.Mine.Bramble.ID, Leg: tracker.RH})
		if g.Takes != want {
			t.Errorf("the plans of Bramble take something: %t, want %t", g.Takes, want)
		}
		return err
	})
}

func testPlans(t *testing.T, h *House) {
	h.wantTakes(t, false)
	mine := h.ask(t, h.Mine)
	h.wantTakes(t, true)
	full := mine.plan
	full.Last, full.Stopped = today, true
	wantFilled(t, full)
	wantFilled(t, full.Steps[0])
	wantFilled(t, full.Steps[0].Order)
	wantFilled(t, mine.read)
	addPlans := func(plans ...tracker.Plan) {
		h.write(t, h.Mine, func(tx care.Tx) error {
			for _, p := range plans {
				must(t, tx.AddPlan(p))
			}
			return nil
		})
	}
	second, third := after(mine.plan, 5), tracker.Plan{}
	third = after(second, 9)
	third.Stopped, third.Last = true, today+9
	over := plan(h.Mine, -40)
	over.Last = today - 30
	later := plan(h.Mine, 20)
	later.Horse, later.Legs, later.Sites, later.RingIf, later.Steps[0].Order, later.Steps[0].Phases = h.Mine.Tom.ID, nil, nil, nil, tracker.DoseOrder{}, later.Steps[0].Phases[:1]
	addPlans(second, third, over, later)
	differs := planRead(h.Mine, second, tracker.ReadDiffers, -time.Hour)
	vet := planRead(h.Mine, second, tracker.VetByPhone, 0)
	h.write(t, h.Mine, func(tx care.Tx) error {
		must(t, tx.AddPlanRead(vet))
		return tx.AddPlanRead(differs)
	})
	second.Reads = []tracker.PlanRead{differs, vet}
	h.read(t, h.Mine, func(tx care.Tx) error {
		for _, c := range []struct {
			what  string
			horse tracker.HorseID
			from  tracker.Date
			want  []tracker.Plan
		}{
			{"what holds on the day on which the second begins", h.Mine.Bramble.ID, today + 5, []tracker.Plan{mine.plan, second, third}},
			{"a day later the first is past", h.Mine.Bramble.ID, today + 6, []tracker.Plan{second, third}},
			{"on the day of the stop", h.Mine.Bramble.ID, today + 9, []tracker.Plan{second, third}},
			{"after the stop", h.Mine.Bramble.ID, today + 10, nil},
			{"another horse's", h.Mine.Tom.ID, today, []tracker.Plan{later}},
			{"a horse without", h.Mine.Juni.ID, 1, nil},
		} {
			got, err := tx.Plans(c.horse, c.from)
			must(t, err)
			same(t, c.what, got, c.want)
		}
		all, err := tx.Plans("", today-30)
		must(t, err)
		if len(all) != 5 {
			t.Errorf("every horse's plans of a month ago on: %d, want 5", len(all))
		}
		return nil
	})
	testPlanLookUps(t, h, []tracker.Plan{mine.plan, second, third}, over, vet)
	again := after(mine.plan, 0)
	for what, bad := range map[string]tracker.Plan{"a version that is there": again, "a form that is there": mine.plan} {
		wantKind(t, what, h.DB.Write(t.Context(), h.Mine.Yard.ID, func(tx care.Tx) error { return tx.AddPlan(bad) }), tracker.Conflict)
	}
}

// testPlanLookUps finds a plan by its versions and forms.
func testPlanLookUps(t *testing.T, h *House, versions []tracker.Plan, over tracker.Plan, vet tracker.PlanRead) {
	h.read(t, h.Mine, func(tx care.Tx) error {
		found, err := tx.PlanVersions(versions[0].Root)
		must(t, err)
		same(t, "every version", found, versions)
		got, err := tx.PlanByRecord(versions[1].ID)
		must(t, err)
		same(t, "a version by its form", got, versions[1])
		roots, err := tx.PlanRoots(h.Mine.Bramble.ID, 9)
		must(t, err)
		same(t, "the newest version of each", roots, []tracker.Plan{versions[2], over})
		read, err := tx.PlanReadByRecord(vet.ID)
		must(t, err)
		same(t, "a reading by its form", read, vet)
		_, err = tx.PlanByRecord(newRecord())
		wantKind(t, "an unknown plan", err, tracker.NotFound)
		_, err = tx.PlanReadByRecord(newRecord())
		wantKind(t, "an unknown reading", err, tracker.NotFound)
		return nil
	})
}

// testDues keeps ticks, one-offs and absences, and lists what bears on a day.
func testDues(t *testing.T, h *House) {
	mine := h.ask(t, h.Mine)
	wantFilled(t, mine.tick)
	wantFilled(t, mine.once)
	wantFilled(t, mine.absent)
	stands, whole, past := oneOff(h.Mine, -50), oneOff(h.Mine, 1), oneOff(h.Mine, -1)
	stands.Settled, stands.Timed, stands.At = time.Time{}, false, 0
	whole.Horse, whole.At = "", 0 // midnight is a time of day
	open, gone := absence(h.Mine, -9, 0), absence(h.Mine, -20, -10)
	open.To = 0
	yesterday, old, oldAny := tickOff(h.Mine, tracker.TickSkipped, -1, "evening", -time.Hour), tickOff(h.Mine, tracker.TickDone, -20, "evening", -2*time.Hour), tickOff(h.Mine, tracker.TickUndone, -20, "", time.Hour)
	h.write(t, h.Mine, func(tx care.Tx) error {
		for _, o := range []tracker.OneOff{stands, whole, past} {
			must(t, tx.AddOneOff(o))
		}
		for _, a := range []tracker.Absence{open, gone} {
			must(t, tx.AddAbsence(a))
		}
		for _, o := range []tracker.TickOff{yesterday, old, oldAny} {
			must(t, tx.AddTickOff(o))
		}
		return nil
	})
	h.read(t, h.Mine, func(tx care.Tx) error {
		ticks, err := tx.TickOffs(today-1, today-42)
		must(t, err)
		same(t, "ticks of two days, and those of any time of six weeks", ticks, []tracker.TickOff{yesterday, mine.tick, oldAny})
		if ticks, err = tx.TickOffs(today, today-19); len(ticks) != 1 {
			t.Errorf("ticks of today, and of any time since: %d, want 1 (%v)", len(ticks), err)
		}
		tick, err := tx.TickOffByRecord(old.ID)
		must(t, err)
		same(t, "a tick by its form", tick, old)
		once, err := tx.OneOffs(today)
		must(t, err)
		same(t, "one-offs that stand, and those of today on", once, []tracker.OneOff{stands, whole, mine.once})
		one, err := tx.OneOffByRecord(past.ID)
		must(t, err)
		same(t, "a one-off by its form", one, past)
		away, err := tx.Absences(today + 2)
		must(t, err)
		same(t, "absences that reach a day", away, []tracker.Absence{open, mine.absent})
		absent, err := tx.AbsenceByRecord(gone.ID)
		must(t, err)
		same(t, "an absence by its form", absent, gone)
		for what, err := range map[string]error{"tick": second(tx.TickOffByRecord(newRecord())), "one-off": second(tx.OneOffByRecord(newRecord())), "absence": second(tx.AbsenceByRecord(newRecord()))} {
			wantKind(t, "an unknown "+what, err, tracker.NotFound)
		}
		return nil
	})
	h.write(t, h.Mine, func(tx care.Tx) error {
		must(t, tx.EndAbsence(open.ID, today-1))
		must(t, tx.SettleOneOff(stands.ID, noon))
		return tx.SettleOneOff(mine.once.ID, time.Time{})
	})
	h.read(t, h.Mine, func(tx care.Tx) error {
		away, err := tx.Absences(today)
		must(t, err)
		same(t, "a horse that is back", away, []tracker.Absence{mine.absent})
		once, err := tx.OneOffs(today + 99)
		must(t, err)
		stands := mine.once
		stands.Settled = time.Time{}
		same(t, "a one-off that stands again", once, []tracker.OneOff{stands})
		return nil
	})
}

func second[T any](_ T, err error) error { return err }

// testPlanBadValues gives what cannot be kept, and what points into the other yard.
func testPlanBadValues(t *testing.T, h *House) {
	theirs := h.ask(t, h.Other)
	mine := h.ask(t, h.Mine)
	before := h.contents(t, h.Mine)
	fault := tracker.ErrorKind(0)
	for what, c := range map[string]struct {
		kind tracker.ErrorKind
		do   func(care.Tx) error
	}{
		"a plan set by nobody":       {fault, func(tx care.Tx) error { p := plan(h.Mine, 0); p.Source = ""; return tx.AddPlan(p) }},
		"a step of no kind":          {fault, func(tx care.Tx) error { p := plan(h.Mine, 0); p.Steps[0].Kind = "sing"; return tx.AddPlan(p) }},
		"a plan without a first day": {fault, func(tx care.Tx) error { p := plan(h.Mine, 0); p.Starts = 0; return tx.AddPlan(p) }},
		"a reading of no kind":       {fault, func(tx care.Tx) error { return tx.AddPlanRead(planRead(h.Mine, mine.plan, "guessed", 0)) }},
		"a tick of no outcome":       {fault, func(tx care.Tx) error { return tx.AddTickOff(tickOff(h.Mine, "maybe", 0, "", 0)) }},
		"a tick of no day": {fault, func(tx care.Tx) error {
			o := tickOff(h.Mine, tracker.TickDone, 0, "", 0)
			o.Day = 0
			return tx.AddTickOff(o)
		}},
		"a one-off of no kind":   {fault, func(tx care.Tx) error { o := oneOff(h.Mine, 0); o.Kind = ""; return tx.AddOneOff(o) }},
		"an absence from no day": {fault, func(tx care.Tx) error { a := absence(h.Mine, 0, 1); a.From = 0; return tx.AddAbsence(a) }},
		"a plan of their horse":  {tracker.NotFound, func(tx care.Tx) error { p := plan(h.Mine, 0); p.Horse = h.Other.Bramble.ID; return tx.AddPlan(p) }},
		"a reading of their plan": {tracker.NotFound, func(tx care.Tx) error {
			return tx.AddPlanRead(planRead(h.Mine, theirs.plan, tracker.ReadBack, 0))
		}},
		"a reading by their person": {tracker.NotFound, func(tx care.Tx) error {
			r := planRead(h.Mine, mine.plan, tracker.ReadBack, 0)
			r.By = h.Other.Bea.ID
			return tx.AddPlanRead(r)
		}},
		"a tick by their person": {tracker.NotFound, func(tx care.Tx) error {
			o := tickOff(h.Mine, tracker.TickDone, 0, "", 0)
			o.By = h.Other.Ada.ID
			return tx.AddTickOff(o)
		}},
		"a one-off for their horse": {tracker.NotFound, func(tx care.Tx) error { o := oneOff(h.Mine, 0); o.Horse = h.Other.Tom.ID; return tx.AddOneOff(o) }},
		"their horse away":          {tracker.NotFound, func(tx care.Tx) error { a := absence(h.Mine, 0, 1); a.Horse = h.Other.Juni.ID; return tx.AddAbsence(a) }},
	} {
		err := h.DB.Write(t.Context(), h.Mine.Yard.ID, c.do)
		if err == nil {
			t.Errorf("%s was kept", what)
		}
		wantKind(t, what, err, c.kind)
	}
	same(t, "the yard after all that", h.contents(t, h.Mine), before)
}

// planLeaks are the leak cases of plans and of what is due.
func planLeaks(h *House, theirs asked, cases map[string]func(care.Tx) leak) map[string]func(care.Tx) leak {
	p := h.Other
	maps.Copy(cases, map[string]func(care.Tx) leak{
		"Plans":            func(tx care.Tx) leak { return listed(tx.Plans(p.Bramble.ID, 1)) },
		"PlanVersions":     func(tx care.Tx) leak { return listed(tx.PlanVersions(theirs.plan.Root)) },
		"PlanByRecord":     func(tx care.Tx) leak { return looked(tx.PlanByRecord(theirs.plan.ID)) },
		"PlanRoots":        func(tx care.Tx) leak { return listed(tx.PlanRoots(p.Bramble.ID, 9)) },
		"AddPlan":          func(tx care.Tx) leak { return refused(tx.AddPlan(plan(p, 0))) },
		"PlanReadByRecord": func(tx care.Tx) leak { return looked(tx.PlanReadByRecord(theirs.read.ID)) },
		"AddPlanRead": func(tx care.Tx) leak {
			return refused(tx.AddPlanRead(planRead(h.Mine, theirs.plan, tracker.ReadBack, 0)))
		},
		"TickOffs":        func(tx care.Tx) leak { return listed(tx.TickOffs(1, 1)) },
		"TickOffByRecord": func(tx care.Tx) leak { return looked(tx.TickOffByRecord(theirs.tick.ID)) },
		"AddTickOff":      func(tx care.Tx) leak { return refused(tx.AddTickOff(tickOff(p, tracker.TickDone, 0, "", 0))) },
		"OneOffs":         func(tx care.Tx) leak { return listed(tx.OneOffs(1)) },
		"OneOffByRecord":  func(tx care.Tx) leak { return looked(tx.OneOffByRecord(theirs.once.ID)) },
		"AddOneOff":       func(tx care.Tx) leak { return refused(tx.AddOneOff(oneOff(p, 0))) },
		"SettleOneOff":    func(tx care.Tx) leak { return refused(tx.SettleOneOff(theirs.once.ID, noon)) },
		"Absences":        func(tx care.Tx) leak { return listed(tx.Absences(1)) },
		"AbsenceByRecord": func(tx care.Tx) leak { return looked(tx.AbsenceByRecord(theirs.absent.ID)) },
		"AddAbsence":      func(tx care.Tx) leak { return refused(tx.AddAbsence(absence(p, 0, 1))) },
		"EndAbsence":      func(tx care.Tx) leak { return refused(tx.EndAbsence(theirs.absent.ID, today)) },
	})
	return cases
}

// plans is everything that a yard can see of what it has planned.
type plans struct {
	Plans    []tracker.Plan
	Ticks    []tracker.TickOff
	OneOffs  []tracker.OneOff
	Absences []tracker.Absence
}

func readPlans(t testing.TB, tx care.Tx) (p plans) {
	t.Helper()
	var errs [4]error
	p.Plans, errs[0] = tx.Plans("", 1)
	p.Ticks, errs[1] = tx.TickOffs(1, 1)
	p.OneOffs, errs[2] = tx.OneOffs(1)
	p.Absences, errs[3] = tx.Absences(1)
	for _, err := range errs {
		must(t, err)
	}
	return p
}
