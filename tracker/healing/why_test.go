package healing

import (
	"math/rand/v2"
	"strings"
	"testing"

	"leground/tracker"
)

func TestSentences(t *testing.T) {
	widening := judgeAt(steady(14, -0.3, 30), 29)
	want := "Its edge moves out by 0.3\u00a0mm a day over 20\u00a0days. Even allowing for errors that run together and for looking often, it is "
	if got := widening.Why(tracker.Point); widening.Label != Widening || !strings.HasPrefix(got, want) {
		t.Errorf("%v: %s", widening.Label, got)
	}
	if got := widening.SmallestSentence(tracker.Comma); !strings.HasPrefix(got, "The smallest rate these measurements could show is 0,") {
		t.Error(got)
	}
	if got := judgeAt(ruled(30, 30), 1).SmallestSentence(tracker.Point); got != "" {
		t.Error(got)
	}
	fresh := judgeAt(freshWound(1.9, 14, false), 12)
	if got := fresh.Why(tracker.Point); !strings.Contains(got, "Common in fresh leg wounds; not a reason to wait.") {
		t.Error(got)
	}
	for l, word := range map[Label]string{TooEarly: "too early to say", EarlyWidening: "early widening", Closing: "closing", Slow: "slow", NotClosing: "not closing", Widening: "widening", Unclear: "unclear", ClosedOver: "closed over",
		Clearing: "clearing", NoChange: "no change", Worse: "worse", Clear: "clear", 0: "", 99: ""} {
		if l.String() != word {
			t.Errorf("%d is %q, want %q", l, l, word)
		}
	}
}

// TestUnclearNamesWidening: a label is unclear while the interval that it rests on holds zero, so widening is
// never ruled out; closing is not named of a wound whose exact interval lies below zero.
func TestUnclearNamesWidening(t *testing.T) {
	seen := map[string]int{}
	judge := func(site Site, day int) {
		j := judgeAt(site, day)
		if j.Reason != NotShown {
			return
		}
		_, may, _ := strings.Cut(j.Why(tracker.Point), "it may be ")
		seen[may]++
		if j.LabelLow > 0 || !strings.Contains(may, "widening") {
			t.Errorf("interval %.3f to %.3f: %q does not name widening", j.LabelLow, j.LabelHigh, may)
		}
		if closing := strings.Contains(may, "closing"); closing != (j.High > 0) {
			t.Errorf("exact interval %.3f to %.3f: %q", j.Low, j.High, may)
		}
		if j.Rate < 0 && strings.HasPrefix(may, "closing") {
			t.Errorf("rate %.3f: %q", j.Rate, may)
		}
	}
	judge(steady(25, -0.07, 12), 11)
	judge(steady(25, -0.43, 10), 9)
	if seen["widening or standing still."] != 2 {
		t.Errorf("two wounds that grow each day: %v", seen)
	}
	rng := rand.New(rand.NewPCG(8, 1))
	for i := range 40 {
		judge(goalWound([]float64{0, 0.1, -0.1}[i%3], 0.4).measured(rng), 10+i%20)
	}
	if len(seen) != 3 {
		t.Errorf("seen %v", seen)
	}
}

// TestReasonsOfKeptLabels: a label that the last look alone does not say was there the look before, or is
// unclear because three looks neither kept the old one nor agreed on a new one.
func TestReasonsOfKeptLabels(t *testing.T) {
	rng := rand.New(rand.NewPCG(41, 1))
	seen := map[Reason]int{}
	for i := range 40 {
		site := goalWound([]float64{0, 0.1, -0.1, 0.2}[i%4], 0.4).measured(rng)
		var before []Judgement
		for k := range site.Readings {
			upTo := site
			upTo.Readings = site.Readings[:k+1]
			j := Judge(upTo, DefaultSettings(), site.Readings[k].Day)
			seen[j.Reason]++
			switch n := len(before); {
			case j.Reason == Held && (n == 0 || before[n-1].Label != j.Label):
				t.Errorf("kept %v, but the look before it was another label", j.Label)
			case j.Reason == NoAgreement && (j.Label != Unclear || before[n-1].Label == Unclear || before[n-1].Alone == j.Alone && before[n-2].Alone == j.Alone):
				t.Errorf("%v after %v: looks alone %v %v %v", j.Label, before[n-1].Label, before[n-2].Alone, before[n-1].Alone, j.Alone)
			}
			before = append(before, j)
		}
	}
	if seen[Held] == 0 || seen[NoAgreement] == 0 {
		t.Errorf("reasons seen: %v", seen)
	}
}

// TestSentencesSayTheNumbersInForce: a yard may ask for more days before there is a rate ("make
// them settings a vet can change", says the design), and the sentences that ask for them say its numbers.
func TestSentencesSayTheNumbersInForce(t *testing.T) {
	s := DefaultSettings()
	s.FewestDays, s.FewestSpan = 8, 13
	want := "A rate needs at least 8 measured days that span 13\u00a0days."
	fresh := freshWound(1.9, 14, false)
	for reason, j := range map[Reason]Judgement{
		FewDays:   Judge(ruled(30, 30), s, simDay0+1),
		ShortSpan: Judge(steady(14, 0.1, 9), s, simDay0+8),
		SincePeak: Judge(Site{Distal: true, Onset: fresh.Onset, Readings: fresh.Readings[:19]}, s, simDay0+18),
	} {
		if got := j.Why(tracker.Point); j.Reason != reason || !strings.HasSuffix(got, want) {
			t.Errorf("reason %d, want %d: %s", j.Reason, reason, got)
		}
	}
}
