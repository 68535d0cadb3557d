package mixing_test

import (
	"regexp"
	"strings"
	"testing"

	"leground/tracker"
	"leground/tracker/mixing"
)

// wrongWords are the ways of writing that people misread, after the list of error-prone dose
// designations of the Institute for Safe Medication Practices, and words kept off the yard's screens.
var wrongWords = []struct {
	pattern *regexp.Regexp
	why     string
}{
	{regexp.MustCompile(`\d[.]\d*0(\D|$)`), "zero at the end of a fraction"},
	{regexp.MustCompile(`(^|[^\d])[.,]\d`), "no zero before the mark"},
	{regexp.MustCompile(`\d(mL|mg|g|kg|L)\b`), "number stuck to its unit"},
	{regexp.MustCompile(`\b(ml|cc|mcg|IU|µg)\b`), "a unit people misread"},
	{regexp.MustCompile(`\d:\d`), "colon ratio"},
	{regexp.MustCompile(`\d,\d`), "comma between digits"},
	{regexp.MustCompile(`[<>]`), "comparison sign"},
	{regexp.MustCompile(`(?i)diagnos|detected|abnormal|critical|complian|patient|\buser|invalid|please|oops`), "banned word"},
}

var sentenceEnd = regexp.MustCompile(`[.?!](\s|$)`)

// checkSentence holds a text to the style: no misread writing, sentences of at most 20 words.
func checkSentence(t testing.TB, where, text string, maxWords int) {
	t.Helper()
	for _, w := range wrongWords {
		if w.pattern.MatchString(text) {
			t.Errorf("%s: %s in %q", where, w.why, text)
		}
	}
	for _, sentence := range sentenceEnd.Split(text, -1) {
		if n := len(strings.FieldsFunc(sentence, func(r rune) bool { return r == ' ' })); n > maxWords {
			t.Errorf("%s: a sentence of %d words: %q", where, n, sentence)
		}
	}
	if strings.Contains(text, "%!") {
		t.Errorf("%s: a word did not get its number: %q", where, text)
	}
}

// checkWords holds all that a mix says to the style, and its parts to their order.
func checkWords(t testing.TB, name string, r *mixing.Result) {
	t.Helper()
	last := mixing.Do
	for _, line := range r.Working {
		if line.Part < last {
			t.Errorf("%s: %q comes after %q", name, line.Part.Heading(), last.Heading())
		}
		last = line.Part
		limit := 20
		if line.Part == mixing.Numbers {
			limit = 40 // a calculation, not a sentence
		}
		checkSentence(t, name, line.Text, limit)
	}
	for _, n := range append(append([]mixing.Note(nil), r.Warnings...), r.Refusals...) {
		checkSentence(t, name, n.Text, 20)
		if n.Source == "" || n.Grade < mixing.Law || n.Grade > mixing.OurOwn {
			t.Errorf("%s: %s has no source or grade", name, n.ID)
		}
	}
	for _, o := range r.Offers {
		checkSentence(t, name, o, 20)
	}
}

// TestWorkingReads pins the working of the mix that a carer makes first, word for word.
func TestWorkingReads(t *testing.T) {
	r := mixing.Request{Kind: mixing.MakeUpTo, Amount: mixing.Millilitres(526), Mark: tracker.Comma,
		HaveFrom: "read by Ada and Bea", WantFrom: "vet plan 30 Apr", MakeFrom: "you chose", Want: strength(t, "0.1% w/v", "povidone-iodine")}
	r.Stock = mixing.Stock{Name: "Brown wash", Label: strength(t, "1% w/v", "povidone-iodine")}
	r.Devices = []mixing.Device{device(t, "60 mL syringe, 1 mL marks")}
	want := `Do this: Half-fill a clean container with water.
Do this: Add Brown wash: 53 mL. With the syringe: 1 fill to the 53 mL mark.
Do this: Top up with water to the 526 mL line.
Do this: Makes 0,101 g per 100 mL.
What it starts from: Have 1 g per 100 mL of povidone-iodine, on the label as "1% w/v" (read by Ada and Bea).
What it starts from: Want 0,1 g per 100 mL of povidone-iodine (vet plan 30 Apr).
What it starts from: Make 526 mL, topped up to the line (you chose).
In words: concentrate = want ÷ have × make
With the numbers: concentrate = 0,1 ÷ 1 × 526 = 52,6 mL
With the numbers: water = 526 − 52,6 = 473,4 mL. Topping up does this for you.
Backwards: 53 × 1 ÷ 526 = 0,101. Wanted 0,1.
Rounding: 52,6 mL rounded to 53 mL: your syringe has 1 mL marks.
Rounding: Makes 0,101 instead of 0,1 g per 100 mL (0,8% stronger).
Rounding: The syringe itself may be off by 2,1 mL. At worst the mix is 4,8% off.`
	var got []string
	for _, line := range mixing.Mix(r).Working {
		got = append(got, line.Part.Heading()+": "+strings.NewReplacer("\u00a0", " ", "\u202f", " ").Replace(line.Text))
	}
	if text := strings.Join(got, "\n"); text != want {
		t.Errorf("got\n%s\nwant\n%s", text, want)
	}
	spoken := mixing.Line{Part: mixing.Formula, Text: "concentrate = want ÷ have × make"}.Spoken()
	if spoken != "concentrate is want divided by have times make" {
		t.Errorf("spoken: %q", spoken)
	}
}

func TestTwoReadersMustAgreeExactly(t *testing.T) {
	five := strength(t, "5% w/v", "chlorhexidine gluconate")
	for text, same := range map[string]bool{"5% w/v": true, "5,0 % w/v": true, "50 mg/mL": true, "5 g per 100 mL": true, "5% w/w": false, "4.99% w/v": false, "0.5% w/v": false} {
		if got := five.Same(strength(t, text, "chlorhexidine gluconate")); got != same {
			t.Errorf("5%% w/v and %s the same: %v, want %v", text, got, same)
		}
	}
	if five.Same(strength(t, "5% w/v", "chlorhexidine acetate")) {
		t.Error("two salts are taken for the same strength")
	}
}

func TestStrengthIsStoredExactly(t *testing.T) {
	third := mixing.Strength{Value: rat(t, "1/3"), Unit: mixing.PercentWV, Of: mixing.PovidoneIodine}
	text, err := third.MarshalText()
	if err != nil || string(text) != "1/3|% w/v|povidone-iodine" {
		t.Fatalf("%s, %v", text, err)
	}
	var back mixing.Strength
	if err := back.UnmarshalText(text); err != nil || !back.Same(third) || back.Unit != third.Unit {
		t.Errorf("%v, %v", back, err)
	}
	for _, bad := range []string{"", "1/3", "1/0|% w/v|anything", "1e9999999|% w/v|anything", "1|% x/y|anything", "0.5|% w/v|anything"} {
		if err := back.UnmarshalText([]byte(bad)); err == nil {
			t.Errorf("%q was read as a strength", bad)
		}
	}
	if _, err := (mixing.Strength{}).MarshalText(); err == nil {
		t.Error("no strength was stored as one")
	}
}
