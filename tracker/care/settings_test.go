package care_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/healing"
)

func setting(values map[string]float64, why string) tracker.Setting {
	return tracker.Setting{ID: care.NewRecord(), Values: values, WordOf: "our vet", Why: why, Hash: why}
}

// shrinking is a wound whose edge moves in by about 0.08 mm a day: between the two limits that a yard
// starts with, so that it is slow.
func shrinking(days int) [][2]int {
	var out [][2]int
	for i := range days {
		r := 24 - 0.16*float64(i) // diameter falls by twice the rate
		out = append(out, [2]int{int(math.Round(r * 1.5)), int(math.Round(r / 1.5 * 1.5))})
	}
	return out
}

// A change of settings is kept with who, why and when, counts at once, and can be put back; a vet's word for
// one site wins over the yard's.
func TestHealingSettings(t *testing.T) {
	m := newMarl(t)
	site := m.finds(tracker.Wound)
	m.measures(site, shrinking(22)...)
	before := m.page().Sites[0]
	if before.Judgement.Label != "slow" && before.Judgement.Label != "closing" {
		t.Fatalf("the wound is judged %q: %s", before.Judgement.Label, before.Judgement.Reason)
	}
	rate := before.Judgement.Rate
	change := func(in tracker.Setting) {
		t.Helper()
		m.must(m.ChangeHealing(t.Context(), m.ada, in))
	}
	for _, step := range []struct {
		in   tracker.Setting
		want string
	}{
		{setting(map[string]float64{"closing": rate + 0.02}, "heavy legs"), "slow"},
		{setting(map[string]float64{"closing": rate - 0.01, "not-closing": 0.03}, "the vet says less will do"), "closing"},
	} {
		change(step.in)
		if got := m.label(); got != step.want {
			t.Errorf("after %q the label is %q, want %q", step.in.Why, got, step.want)
		}
	}
	own := setting(map[string]float64{"closing": rate + 0.02}, "over the tendon")
	own.Site = site.ID
	change(own)
	change(own) // the same form twice is one change
	view, err := m.SettingsNow(t.Context(), m.ada)
	m.must(err)
	if got := m.label(); got != "slow" {
		t.Errorf("with a limit of its own the label is %q, want slow", got)
	}
	if w := view.Wounds[0]; w.Own == nil || w.Healing.ClosingMM != rate+0.02 || w.Healing.NotClosingMM != 0.03 || view.Healing.ClosingMM != rate-0.01 {
		t.Errorf("the wound is judged by %+v, its own %+v", w.Healing, w.Own)
	}
	back := setting(nil, "as before")
	back.Site = site.ID
	change(back)
	if got := m.label(); got != "closing" {
		t.Errorf("when its own limit is taken away the label is %q, want closing", got)
	}
	view, err = m.SettingsNow(t.Context(), m.ada)
	m.must(err)
	var kept []string
	for _, s := range view.History {
		kept = append(kept, s.WordOf+": "+s.Why+" ("+view.People[s.By]+", "+s.Day.String()+")")
	}
	want := []string{"our vet: as before (Ada, 2026-05-22)", "our vet: over the tendon (Ada, 2026-05-22)", "our vet: the vet says less will do (Ada, 2026-05-22)", "our vet: heavy legs (Ada, 2026-05-22)"}
	if diff := cmp.Diff(want, kept); diff != "" {
		t.Errorf("the history (-want +got):\n%s", diff)
	}
}

func TestHealingSettingsRefused(t *testing.T) {
	m := newMarl(t)
	site := m.finds(tracker.Wound)
	for what, in := range map[string]tracker.Setting{
		"a limit out of range":     setting(map[string]float64{"closing": 3}, "x"),
		"limits the wrong way":     setting(map[string]float64{"closing": 0.05, "not-closing": 0.1}, "x"),
		"half a day":               setting(map[string]float64{"window": 21.5}, "x"),
		"no number":                setting(map[string]float64{"spread": math.NaN()}, "x"),
		"nobody's word":            {ID: care.NewRecord(), Why: "x"},
		"no reason":                {ID: care.NewRecord(), WordOf: "our vet", Why: "  "},
		"a form without a record ": {WordOf: "our vet", Why: "x"},
	} {
		wantKind(t, what, m.ChangeHealing(t.Context(), m.ada, in), tracker.Invalid)
	}
	wantKind(t, "a carer", m.ChangeHealing(t.Context(), m.bea, setting(nil, "x")), tracker.Forbidden)
	first := setting(map[string]float64{"closing": 0.2}, "x")
	m.must(m.ChangeHealing(t.Context(), m.ada, first))
	first.Hash = "other"
	wantKind(t, "other content", m.ChangeHealing(t.Context(), m.ada, first), tracker.Conflict)
	unknown := setting(nil, "x")
	unknown.Site = tracker.SiteID(care.NewID())
	wantKind(t, "an unknown site", m.ChangeHealing(t.Context(), m.ada, unknown), tracker.NotFound)
	if view, err := m.SettingsNow(t.Context(), m.ada); err != nil || len(view.History) != 1 || view.Sites[site.ID] != "Bramble RH 1" {
		t.Errorf("%d changes, sites %v, error %v", len(view.History), view.Sites, err)
	}
}

// A rule that may be weakened can be switched off or set, and a rule for a danger sign cannot.
func TestRuleSettings(t *testing.T) {
	m := newMarl(t)
	patch := m.finds(tracker.Patch)
	days := func(n int) {
		for range n {
			c := look(patch, 40, 30)
			c.Signs = tracker.Signs{}
			for _, s := range tracker.ActiveSigns() {
				c.Signs[s] = 1
			}
			m.records(m.ada, c)
			m.now = m.now.AddDate(0, 0, 1)
		}
	}
	off := setting(nil, "we know this skin")
	off.Rule, off.Off = "patch-7", true
	m.must(m.ChangeRule(t.Context(), m.ada, off))
	days(9)
	if got := m.rules(); strings.Contains(got, "patch-7") {
		t.Errorf("a rule that is off was met: %s", got)
	}
	later := setting(map[string]float64{"days": 21}, "the vet gives it three weeks")
	later.Rule = "patch-14"
	m.must(m.ChangeRule(t.Context(), m.ada, later))
	days(8)
	if got := m.rules(); strings.Contains(got, "patch-14") {
		t.Errorf("a rule set to 21 days was met on day 17: %s", got)
	}
	back := setting(nil, "as it was")
	back.Rule = "patch-14"
	m.must(m.ChangeRule(t.Context(), m.ada, back))
	if got := m.rules(); !strings.Contains(got, "patch-14:ring-today") {
		t.Errorf("put back, the rule is not met at once: %s", got)
	}
	view, err := m.SettingsNow(t.Context(), m.ada)
	m.must(err)
	for _, r := range view.Rules {
		shown, set := 0, r.ID == "patch-7"
		if r.ID == "patch-14" {
			shown = 1
		}
		if r.Shown != shown || (r.Set != nil) != set {
			t.Errorf("%s: shown %d times, set %+v", r.ID, r.Shown, r.Set)
		}
		danger := setting(nil, "x")
		danger.Rule, danger.Off = r.ID, true
		if err := m.ChangeRule(t.Context(), m.ada, danger); (err == nil) != r.Weaken {
			t.Errorf("switching off %s: %v, may be weakened: %v", r.ID, err, r.Weaken)
		}
		if !r.Weaken && r.Level == 0 {
			t.Errorf("%s has no level", r.ID)
		}
	}
	m.now = m.now.AddDate(0, 0, 91)
	if view, err = m.SettingsNow(t.Context(), m.ada); err != nil {
		t.Fatal(err)
	}
	for _, r := range view.Rules {
		if r.Shown != 0 {
			t.Errorf("%s counts %d cautions that are over 90 days old", r.ID, r.Shown)
		}
	}
}

// The standard deviation of one reading is that of the differences of pairs over the square root of 2, with
// the differences taken about zero since neither reading is the better one (Bland and Altman, Lancet
// 1986;1:307, from memory). The pairs and the result are worked out by hand here: differences of the lengths
// 2 -1 3 0 -2 and of the widths 1 0 -2 2 1 have squares that sum to 18 and 10; 28 over 10 lengths is 2.8, half
// of it 1.4, and its root 1.183.
func TestSpreadFromSecondReadings(t *testing.T) {
	m := newMarl(t)
	site := m.finds(tracker.Wound)
	pairs := [][4]int{{40, 30, 42, 31}, {41, 30, 40, 30}, {39, 29, 42, 27}, {40, 28, 40, 30}, {41, 29, 39, 30}}
	var last care.Saved
	for i, p := range pairs {
		if i > 0 {
			m.now = m.now.AddDate(0, 0, 1)
		}
		first := m.records(m.ada, look(site, p[0], p[1]))
		view, err := m.Spread(t.Context(), m.bea)
		m.must(err)
		if len(view.Due) != 1 || view.Due[0].First != first.Check.Root || view.Due[0].By != m.ada.Person.ID || len(view.Done) != 0 {
			t.Fatalf("due for Bea: %+v", view.Due)
		}
		if own, err := m.Spread(t.Context(), m.ada); err != nil || len(own.Due) != 0 {
			t.Errorf("Ada is asked to measure again what she measured: %+v, %v", own.Due, err)
		}
		m.now = m.now.Add(time.Hour)
		last, err = m.RecordBlind(t.Context(), m.bea, first.Check.Root, care.Entry{Check: look(site, p[2], p[3])})
		m.must(err)
		if i < care.PairsWanted-1 {
			if board, err := m.Board(t.Context(), m.bea); err != nil || len(board.Blind) != 0 {
				t.Errorf("after the reading the Board asks for %+v, %v", board.Blind, err)
			}
			if got := m.page().Sites[0].Settings.Spread(tracker.Ruler, ""); got != tracker.DefaultSpreadMM {
				t.Errorf("after %d pairs the spread is %v, want the start's", i+1, got)
			}
		}
		m.now = m.now.Add(-time.Hour)
	}
	want := math.Sqrt(28.0 / 10 / 2)
	settings := m.page().Sites[0].Settings
	if got := settings.Spread(tracker.Ruler, ""); math.Abs(got-want) > 1e-12 || math.Abs(got-1.183) > 0.001 {
		t.Errorf("the spread is %v mm, want %v", got, want)
	}
	// The bar of the last reading: 1.96 x area x sqrt((s/L)^2 + (s/W)^2).
	l, w := 39.0, 30.0
	bar := 1.96 * math.Pi / 400 * l * w * math.Hypot(want/l, want/w)
	if got := settings.GiveOrTake(healing.Reading{Day: 1, Method: tracker.Ruler, LengthMM: l, WidthMM: w}); math.Abs(got-bar) > 1e-9 {
		t.Errorf("give or take %v cm2, want %v", got, bar)
	}
	view, err := m.Spread(t.Context(), m.bea)
	m.must(err)
	if len(view.Spreads) != 3 || view.Spreads[0].Pairs != 5 || view.Spreads[1].Pairs != 5 || len(view.Done) != 1 {
		t.Errorf("the spreads shown: %+v, %d done today", view.Spreads, len(view.Done))
	}
	// Taken back, it is no pair any more, and four are too few.
	m.must(m.Retract(t.Context(), m.bea, care.NewRecord(), last.Check.ID))
	if got := m.page().Sites[0].Settings.Spread(tracker.Ruler, ""); got != tracker.DefaultSpreadMM {
		t.Errorf("with four pairs left the spread is %v, want the start's", got)
	}
}

// A second reading is one more reading of the day, of which the median counts; it is no look of the round.
func TestSecondReadingIsNoLook(t *testing.T) {
	m := newMarl(t)
	site := m.finds(tracker.Wound)
	c := look(site, 40, 20)
	c.Signs[tracker.Pain], c.Bed = 2, tracker.BedFlush
	first := m.records(m.ada, c)
	before, err := m.Round(t.Context(), m.bea)
	m.must(err)
	second := look(site, 60, 20)
	second.Signs = nil
	saved, err := m.RecordBlind(t.Context(), m.bea, first.Check.Root, care.Entry{Check: second})
	m.must(err)
	if saved.Check.Slot != "" || saved.Check.RoundDay != 0 || saved.Check.Blind != first.Check.Root {
		t.Errorf("the second reading is kept as %+v", saved.Check)
	}
	after, err := m.Round(t.Context(), m.bea)
	m.must(err)
	card := func(v care.RoundView) care.Card { return v.Horses[0].Legs[2].Cards[0] }
	if got := card(after); got.Here == nil || got.Here.ID != first.Check.ID || len(got.Others) != 0 {
		t.Errorf("the card shows %+v beside %d others", got.Here, len(got.Others))
	}
	doneBefore, _ := before.Recorded()
	if doneAfter, _ := after.Recorded(); doneAfter != doneBefore {
		t.Errorf("%d looks are recorded, before %d", doneAfter, doneBefore)
	}
	// The median of two is between them: ellipses of 40 x 20 and 60 x 20 mm have pi/4 x 8 and pi/4 x 12 cm2.
	if got, want := m.page().Sites[0].Judgement.AreaCM2, math.Pi/4*10; math.Abs(got-want) > 1e-9 {
		t.Errorf("the day's area is %v cm2, want %v", got, want)
	}
	again := look(site, 41, 20)
	_, err = m.RecordBlind(t.Context(), m.ada, first.Check.Root, care.Entry{Check: again})
	wantKind(t, "one's own reading again", err, tracker.Invalid)
	_, err = m.RecordBlind(t.Context(), m.bea, saved.Check.Root, care.Entry{Check: again})
	wantKind(t, "a second reading of a second reading", err, tracker.Invalid)
	m.now = m.now.AddDate(0, 0, 1)
	_, err = m.RecordBlind(t.Context(), m.bea, first.Check.Root, care.Entry{Check: again})
	wantKind(t, "the next day", err, tracker.Invalid)
}
