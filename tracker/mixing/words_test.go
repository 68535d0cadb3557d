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

// linesOf gives the working of a mix with plain spaces, one line each.
func linesOf(r *mixing.Result) string {
	var b strings.Builder
	for _, line := range r.Working {
		b.WriteString(strings.NewReplacer("\u00a0", " ", "\u202f", " ").Replace(line.Text) + "\n")
	}
	return b.String()
}

// TestOnePart: one part is no parts.
func TestOnePart(t *testing.T) {
	for want, says := range map[string]string{"1% w/v": "1 part concentrate + 1 part water (makes 2 parts).", "0.05% w/v": "1 part concentrate + 39 parts water (makes 40 parts)."} {
		if text := linesOf(mixing.Mix(plain(t, "anything", "2% w/v", want))); !strings.Contains(text, says) {
			t.Errorf("%q is not in\n%s", says, text)
		}
	}
}

// TestDifferenceIsSeen: what is said to differ differs in the digits that are shown. 429 × 7 ÷ 1 000 is 3.003, 0.1% above
// 3; 27 × 7 ÷ 63 is 3; 3 000 mL in place of 3 000.9 is 0.03% weaker, of which nothing is said; 2 ÷ 41, which no four
// places hold, is 24.39 mL in 1 L, and 24 make 0.048.
func TestDifferenceIsSeen(t *testing.T) {
	for _, c := range []struct{ have, want, total, device, backwards, rounding string }{
		{"7% w/v", "3% w/v", "1 L", "500 mL cylinder, 1 mL marks", "429 × 7 ÷ 1 000 = 3.003. Wanted 3.", "Makes 3.003 instead of 3 g per 100 mL (0.1% stronger)."},
		{"7% w/v", "3% w/v", "63 mL", "50 mL syringe, 1 mL marks", "27 × 7 ÷ 63 = 3. Agrees.", "None needed: your syringe has 1 mL marks."},
		{"0.2% w/v", "0.10003% w/v", "6 L", "1000 mL cylinder, 3 mL marks", "3 000 × 0.2 ÷ 6 000 = 0.1. Agrees to that many digits.", "That moves the strength by less than 0.1%."},
		{"2% w/v", "1 in 41", "1 L", "20 mL syringe, 1 mL marks", "24 × 2 ÷ 1 000 = 0.048. Wanted 0.04878.", "Makes 0.048 instead of 0.04878 g per 100 mL (1.6% weaker)."},
	} {
		r := plain(t, "anything", c.have, "0.01% w/v")
		var err error
		if r.Want, _, err = mixing.ParseWant(c.want, r.Stock.Label, mixing.Anything); err != nil {
			t.Fatal(err)
		}
		r.Amount, r.Devices = amount(t, c.total), []mixing.Device{device(t, c.device)}
		if text := linesOf(mixing.Mix(r)); !strings.Contains(text, c.backwards) || !strings.Contains(text, c.rounding) {
			t.Errorf("%+v:\n%s", c, text)
		}
	}
}

// TestMoreThanALimitIsSeen: 0.0476% of 2% in 40 mL is 0.952 mL; the 1 mL mark makes 1 ÷ 0.952, 5.04% stronger, and one
// for 0.95238 mL is 5.0001% stronger; 2 mL for 2.2225 are 10.01% weaker, and for 2.1056 mL 5.02%.
func TestMoreThanALimitIsSeen(t *testing.T) {
	for _, c := range []struct{ want, total, device, id, says string }{
		{"0.0476% w/v", "40 mL", "5 mL syringe, 1 mL marks", "R15", "Rounded to 1 mL it would be 5.04% stronger than wanted."},
		{"0.095236% w/v", "20 mL", "5 mL syringe, 1 mL marks", "R15", "Rounded to 1 mL it would be 5.002% stronger than wanted."},
		{"0.095238% w/v", "20 mL", "5 mL syringe, 1 mL marks", "R15", "Rounded to 1 mL it would be just over 5% stronger than wanted."},
		{"0.05% w/v", "40 mL", "5 mL syringe, 1 mL marks", "", ""},
		{"0.22225% w/v", "20 mL", "20 mL syringe, 2 mL marks", "W9", "Stop and think. Rounded to 2 mL it is 10.01% weaker than wanted."},
		{"0.21056% w/v", "20 mL", "20 mL syringe, 2 mL marks", "W9", "Rounded to 2 mL it is 5.02% weaker than wanted."},
	} {
		r := plain(t, "anything", "2% w/v", c.want)
		r.Amount, r.Devices = amount(t, c.total), []mixing.Device{device(t, c.device)}
		got := mixing.Mix(r)
		said := ""
		for _, n := range append(got.Warnings, got.Refusals...) {
			if n.ID == "R15" || n.ID == "W9" {
				said += n.ID + " " + strings.ReplaceAll(n.Text, "\u00a0", " ")
			}
		}
		if c.id == "" && said != "" || c.id != "" && !strings.HasPrefix(said, c.id+" "+c.says) {
			t.Errorf("%+v: %q", c, said)
		}
	}
}
