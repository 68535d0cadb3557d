package web

import (
	"strings"
	"testing"

	"leground/tracker"
)

// A closing date is only ever a range, and the other figures say what they are. Below five weeks there is none:
// that is package healing's to decide, which gives no days then.
func TestJudgedWords(t *testing.T) {
	day, err := tracker.ParseDate("2026-05-14")
	if err != nil {
		t.Fatal(err)
	}
	j := tracker.Judgement{Label: "closing", Reason: "It closes.", HasRate: true, Rate: 0.26, Low: 0.23, High: 0.31, DaysUsed: 19, SpanDays: 19, Gilman: 0.27, HalfLife: 17.6}
	if got := judgedWords(&j, tracker.Comma); len(got.Lines) != 1 || !strings.Contains(got.Lines[0], "0,26") || strings.Contains(got.Extras, "close between") {
		t.Errorf("before five weeks: %q", got)
	}
	j.ClosesFrom, j.ClosesTo = day, day+30
	got := judgedWords(&j, tracker.Point)
	if want := "If it goes on so it may close between Thu 14 May 2026 and Sat 13 Jun 2026."; !strings.Contains(strings.Join(got.Lines, " "), want) {
		t.Errorf("%q does not say %q", got.Lines, want)
	}
	for _, want := range []string{"0.27\u00a0mm a day", "halves in 18 days"} {
		if !strings.Contains(got.Extras, want) {
			t.Errorf("%q does not say %q", got.Extras, want)
		}
	}
	j.HalfLife = 0
	if got := judgedWords(&j, tracker.Point); strings.Contains(got.Extras, "halves") {
		t.Errorf("a wound that grows has a half-life: %q", got.Extras)
	}
}
