package tracker

import (
	"testing"
	"time"
)

// TestSentenceParts: the small words of sentences, as English has them.
func TestSentenceParts(t *testing.T) {
	for _, pair := range [][2]string{
		{Capital("morning"), "Morning"}, {Capital("écru mare"), "Écru mare"}, {Capital("2 days"), "2 days"}, {Capital(""), ""},
		{Small("The vet comes"), "the vet comes"}, {Small("Écru"), "écru"}, {Small(""), ""},
		{Count(1, "day"), "1 day"}, {Count(0, "look"), "0 looks"}, {Count(12, "horse"), "12 horses"},
		{List(nil), ""}, {List([]string{"LF"}), "LF"}, {List([]string{"LF", "RF"}), "LF and RF"}, {List([]string{"LF", "RF", "LH"}), "LF, RF and LH"},
	} {
		if pair[0] != pair[1] {
			t.Errorf("got %q, want %q", pair[0], pair[1])
		}
	}
}

// A date printed on a bottle is the last day it may be used (its label's own meaning); a time of day is one.
func TestEndName(t *testing.T) {
	london, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range []struct {
		end  time.Time
		want string
	}{
		{time.Date(2027, 1, 1, 0, 0, 0, 0, london), "last day of use Thu 31 Dec 2026"},
		{time.Date(2026, 6, 1, 0, 0, 0, 0, london), "last day of use Sun 31 May 2026"},
		{time.Date(2026, 5, 31, 23, 59, 0, 0, london), "throw away after Sun 31 May 2026, 23:59"},
		{time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC), "throw away after Mon 1 Jun 2026, 01:00"},
	} {
		if got := EndName(row.end, london); got != row.want {
			t.Errorf("%s: %q, want %q", row.end, got, row.want)
		}
	}
	if got := ClockName(time.Date(2026, 5, 14, 23, 30, 0, 0, time.UTC), time.Date(2026, 5, 14, 20, 0, 0, 0, time.UTC), london); got != "00:30 on Fri 15 May" {
		t.Errorf("half past midnight is %q", got)
	}
}
