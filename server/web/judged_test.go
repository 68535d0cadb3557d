package web

import (
	"strings"
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

// A closing date is only ever a range, and the other figures say what they are. Below five weeks there is none:
// that is package healing's to decide, which gives no days then.
func TestJudgedWords(t *testing.T) {
	day, err := tracker.ParseDate("2026-05-14")
	if err != nil {
		t.Fatal(err)
	}
	base := func(mark tracker.DecimalMark) Base { return Base{Mark: mark, Zone: time.UTC, DrawnAt: day.Time()} }
	j := tracker.Judgement{Label: "closing", Reason: "It closes.", HasRate: true, Rate: 0.26, Low: 0.23, High: 0.31, DaysUsed: 19, SpanDays: 19, Gilman: 0.27, HalfLife: 17.6}
	if got := judgedWords(&j, base(tracker.Comma)); len(got.Lines) != 1 || !strings.Contains(got.Lines[0], "0,26") || strings.Contains(got.Extras, "close between") {
		t.Errorf("before five weeks: %q", got)
	}
	j.ClosesFrom, j.ClosesTo = day, day+30
	got := judgedWords(&j, base(tracker.Point))
	if want := "If it goes on so it may close between Thu 14 May 2026 and Sat 13 Jun 2026."; !strings.Contains(strings.Join(got.Lines, " "), want) {
		t.Errorf("%q does not say %q", got.Lines, want)
	}
	for _, want := range []string{"0.27\u00a0mm a day", "halves in 18 days"} {
		if !strings.Contains(got.Extras, want) {
			t.Errorf("%q does not say %q", got.Extras, want)
		}
	}
	j.HalfLife = 0
	if got := judgedWords(&j, base(tracker.Point)); strings.Contains(got.Extras, "halves") {
		t.Errorf("a wound that grows has a half-life: %q", got.Extras)
	}
}

// TestOldJudgementSaysItsDay: what was last seen more than a few days ago is not said in the present tense
// alone, at the label, in headlines and in the sheet.
func TestOldJudgementSaysItsDay(t *testing.T) {
	seen, err := tracker.ParseDate("2026-03-25")
	if err != nil {
		t.Fatal(err)
	}
	j := tracker.Judgement{Day: seen, Label: "closing", AreaCM2: 1.2}
	in := care.SiteHistory{Site: tracker.Site{Kind: tracker.Wound, Leg: tracker.RH, Number: 2}, Judgement: &j}
	for days, old := range map[tracker.Date]bool{0: false, 3: false, 4: true, 21: true} {
		today := seen + days
		view := care.SheetView{HorseView: care.HorseView{Moment: care.Moment{Today: today, Yard: tracker.Yard{Mark: tracker.Point}}}}
		for what, words := range map[string]string{
			"label":    judgedWords(&j, Base{Zone: time.UTC, DrawnAt: today.Time()}).AsOf,
			"headline": headline(in, today),
			"round":    SiteForm{LookForm: LookForm{Base: Base{Zone: time.UTC, DrawnAt: today.Time()}}, Card: care.Card{Judgement: &j}}.AsOf(),
			"sheet":    siteRow(view, in).Size,
		} {
			if strings.Contains(words, "as of Wed 25 Mar") != old {
				t.Errorf("%s %d days after the last look: %q", what, days, words)
			}
		}
	}
}

func TestScoreWords(t *testing.T) {
	for want, signs := range map[string]tracker.Signs{
		"":                       nil,
		"2 of 3, 1 sign judged":  {tracker.Crust: 2},
		"3 of 6, 2 signs judged": {tracker.Crust: 2, tracker.Exudate: 1},
	} {
		if got := scoreWords(tracker.Check{Signs: signs}); got != want {
			t.Errorf("%v reads %q, want %q", signs, got, want)
		}
	}
}
