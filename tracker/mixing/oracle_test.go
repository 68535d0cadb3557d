package mixing_test

import (
	"bytes"
	"fmt"
	"math/big"
	"os"
	"os/exec"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"leground/tracker"
	"leground/tracker/mixing"
)

// inUnits says how GNU units writes each unit of strength.
var inUnits = map[mixing.Unit]string{
	mixing.PercentWV: "g/(100 mL)", mixing.MgPerML: "mg/mL", mixing.GPerL: "g/L", mixing.PPMWV: "mg/L",
	mixing.PercentWW: "%", mixing.MgPerG: "mg/g", mixing.PPMWW: "ppm",
}

// TestGNUUnitsAgrees holds every conversion between strengths, with and without a density, against the
// program GNU units with its American definitions, to eight digits; and what that program calls not
// conformable must be refused here.
func TestGNUUnitsAgrees(t *testing.T) {
	program, err := exec.LookPath("units")
	if err != nil {
		if os.Getenv("LEGROUND_NO_SKIP") == "1" {
			t.Fatal("GNU units is not installed")
		}
		t.Skip("GNU units is not installed")
	}
	type question struct {
		name, from, to string
		got            *big.Rat
		err            error
	}
	var asked []question
	density := rat(t, "1.065")
	for from, a := range inUnits {
		for to, b := range inUnits {
			for _, value := range []string{"0.05", "2", "18.78", "7/3"} {
				s := mixing.Strength{Value: rat(t, value), Unit: from, Of: mixing.Anything}
				got, err := s.In(to, nil)
				name := fmt.Sprintf("%s %s in %s", value, from, to)
				asked = append(asked, question{name, fmt.Sprintf("(%s) %s", value, a), b, got.Value, err})
				factor := ""
				switch massA, massB := strings.Contains(a, "L"), strings.Contains(b, "L"); {
				case !massA && massB:
					factor = " 1.065 g/mL"
				case massA && !massB:
					factor = " / (1.065 g/mL)"
				default:
					continue
				}
				got, err = s.In(to, density)
				asked = append(asked, question{name + " by density", fmt.Sprintf("(%s) (%s)%s", value, a, factor), b, got.Value, err})
			}
		}
	}
	for _, text := range []string{"1.5 L", "37 mL", "2 kg", "37 mg", "12.25 g"} {
		a := amount(t, text)
		asked = append(asked, question{text, text, a.Unit.String(), a.Value, nil})
	}
	for text, to := range map[string]string{"250 mg/5 mL": "mg/mL", "12 g per 80 mL": "mg/mL", "3 mg per L": "mg/L", "7 micrograms/mL": "mg/L", "9 mg/kg": "mg/g"} {
		s := strength(t, text, "anything")
		from := strings.NewReplacer(" per ", "/(", "/", "/(", "micrograms", "microgram").Replace(text) + ")"
		got, err := s.In(unitNamed(t, map[string]string{"mg/L": "ppm w/v"}[to]+strings.ReplaceAll(to, "mg/L", "")), nil)
		asked = append(asked, question{text, from, to, got.Value, err})
	}
	var input strings.Builder
	for _, q := range asked {
		fmt.Fprintf(&input, "%s\n%s\n", q.from, q.to)
	}
	cmd := exec.Command(program, "-l", "en_US", "-q", "-t", "-o", "%.12g")
	cmd.Stdin = strings.NewReader(input.String())
	var out bytes.Buffer
	cmd.Stdout = &out
	if err := cmd.Run(); err != nil {
		t.Fatal(err)
	}
	// what does not conform is answered in three lines: the error and both sides in base units
	var lines []string
	for answers := strings.Fields(strings.ReplaceAll(out.String(), " ", "_")); len(answers) > 0; {
		lines = append(lines, answers[0])
		skip := 1
		if answers[0] == "conformability_error" {
			skip = min(3, len(answers))
		}
		answers = answers[skip:]
	}
	if len(lines) != len(asked) {
		t.Fatalf("%d answers to %d questions:\n%s", len(lines), len(asked), out.String())
	}
	refused := 0
	for i, q := range asked {
		want, ok := new(big.Rat).SetString(lines[i])
		switch {
		case !ok && outcome(q.err) != "R2":
			t.Errorf("%s: units says %q, we say %v %v", q.name, lines[i], q.got, q.err)
		case !ok:
			refused++
		case q.err != nil:
			t.Errorf("%s: units says %s, we refuse: %v", q.name, lines[i], q.err)
		default:
			off := new(big.Rat).Sub(q.got, want)
			if limit := new(big.Rat).Mul(want, big.NewRat(1, 100000000)); off.Abs(off).Cmp(limit) > 0 {
				t.Errorf("%s: %s, units says %s", q.name, q.got.FloatString(12), lines[i])
			}
		}
	}
	if refused == 0 || refused == len(asked) {
		t.Errorf("%d of %d refused: the check does not reach both sides", refused, len(asked))
	}
}

// drawn makes a random mix of one unit, of a stock at least as strong as what is wanted.
func drawn(t *rapid.T) mixing.Request {
	part := func(label string, most int64) *big.Rat {
		return big.NewRat(rapid.Int64Range(1, most).Draw(t, label), rapid.Int64Range(1, 1000).Draw(t, label+" over"))
	}
	unit := rapid.SampledFrom([]mixing.Unit{mixing.PercentWV, mixing.MgPerML, mixing.GPerL, mixing.PPMWV, mixing.UnitsPerML}).Draw(t, "unit")
	have := part("have", 100000)
	want := new(big.Rat).Mul(have, big.NewRat(rapid.Int64Range(1, 999).Draw(t, "share"), 1000))
	r := mixing.Request{Mark: tracker.Point, Kind: mixing.MakeUpTo, Amount: mixing.Amount{Value: part("amount", 10000000), Unit: mixing.ML}}
	r.Stock.Label = mixing.Strength{Value: have, Unit: unit, Of: mixing.Anything}
	r.Want = mixing.Strength{Value: want, Unit: unit, Of: mixing.Anything}
	return r
}

// mixAndMeasureBack mixes with a random device, then measures what the rounded amounts really hold by
// another road: contents of the concentrate over the whole.
func mixAndMeasureBack(t *rapid.T) {
	r := drawn(t)
	r.Kind = rapid.SampledFrom([]mixing.Kind{mixing.MakeUpTo, mixing.AddTo, mixing.UseUp}).Draw(t, "kind")
	if rapid.Bool().Draw(t, "measured") {
		mark := big.NewRat(rapid.Int64Range(1, 100).Draw(t, "mark"), 100)
		capacity := new(big.Rat).Mul(mark, big.NewRat(rapid.Int64Range(1, 200).Draw(t, "marks"), 1))
		r.Devices = []mixing.Device{{Kind: mixing.Syringe, Capacity: capacity, Mark: mark}}
	}
	got := mixing.Mix(r)
	if got.Refused() {
		if id := ids(got.Refusals); id != "R1" && id != "R15" || r.Devices == nil {
			t.Fatalf("refused by %v", got.Refusals)
		}
		return
	}
	back, err := mixing.Made(r.Stock.Label, got.Concentrate, got.Total, nil)
	if err != nil || !back.Same(got.Achieved) {
		t.Fatalf("made %v, measured back %v, %v", got.Achieved.Value, back.Value, err)
	}
	exact, err := mixing.Made(r.Stock.Label, got.Exact, exactTotal(r, got), nil)
	if err != nil || !exact.Same(r.Want) {
		t.Fatalf("the exact amounts make %v, wanted %v, %v", exact.Value, r.Want.Value, err)
	}
	sum := new(big.Rat).Add(got.Concentrate.Value, got.Diluent.Value)
	if sum.Cmp(got.Total.Value) != 0 {
		t.Fatalf("%v and %v are not %v", got.Concentrate.Value, got.Diluent.Value, got.Total.Value)
	}
	if got.Measure != nil {
		checkFills(t, r.Devices[0], got)
	}
}

func exactTotal(r mixing.Request, got *mixing.Result) mixing.Amount {
	if r.Kind == mixing.AddTo {
		return mixing.Amount{Value: new(big.Rat).Add(r.Amount.Value, got.Exact.Value), Unit: mixing.ML}
	}
	return got.Total
}

// checkFills: every fill is on a mark within the device, together they are the amount, the amount is
// within half a mark of the exact one, and the strength within the bounds that have no override.
func checkFills(t *rapid.T, d mixing.Device, got *mixing.Result) {
	sum := new(big.Rat)
	for _, f := range got.Fills {
		marks := new(big.Rat).Quo(f.To, d.Mark)
		if f.Count < 1 || f.To.Sign() <= 0 || f.To.Cmp(d.Capacity) > 0 || !marks.IsInt() {
			t.Fatalf("a fill of %d to %v", f.Count, f.To)
		}
		sum.Add(sum, new(big.Rat).Mul(f.To, big.NewRat(int64(f.Count), 1)))
	}
	off := new(big.Rat).Sub(got.Concentrate.Value, got.Exact.Value)
	if sum.Cmp(got.Concentrate.Value) != 0 || new(big.Rat).Add(off.Abs(off), off).Cmp(d.Mark) > 0 {
		t.Fatalf("fills come to %v, for %v, exactly %v", sum, got.Concentrate.Value, got.Exact.Value)
	}
	if got.RelativeError.Cmp(big.NewRat(5, 100)) > 0 {
		t.Fatalf("%v stronger and not refused", got.RelativeError)
	}
}

// addToAgreesWithMakeUpTo: what is added to so much water is what the whole would be made up with; and
// what is left makes the whole that would need it.
func addToAgreesWithMakeUpTo(t *rapid.T) {
	r := drawn(t)
	r.Kind = mixing.AddTo
	added := mixing.Mix(r)
	if added.Refused() {
		t.Fatalf("refused by %v", added.Refusals)
	}
	r.Kind, r.Amount = mixing.MakeUpTo, added.Total
	made := mixing.Mix(r)
	if made.Refused() || made.Concentrate.Value.Cmp(added.Concentrate.Value) != 0 || made.Diluent.Value.Cmp(added.Diluent.Value) != 0 {
		t.Fatalf("added %v, made up %v", added.Concentrate.Value, made.Concentrate.Value)
	}
	r.Kind, r.Amount = mixing.UseUp, made.Concentrate
	if left := mixing.Mix(r); left.Total.Value.Cmp(made.Total.Value) != 0 {
		t.Fatalf("what is left makes %v, not %v", left.Total.Value, made.Total.Value)
	}
}

// anyMixIsWhole: whatever strengths, substances, devices and facts meet, the answer is either amounts or
// a refusal with its words, and never a panic.
func anyMixIsWhole(t *rapid.T) {
	pick := func(label string, most int) int { return rapid.IntRange(0, most).Draw(t, label) }
	strengthOf := func(label string) mixing.Strength {
		return mixing.Strength{Value: big.NewRat(rapid.Int64Range(0, 200).Draw(t, label), int64(pick(label+" over", 50)+1)),
			Unit: mixing.Unit(pick(label+" unit", 12)), Of: rapid.SampledFrom(mixing.Substances()).Draw(t, label+" of")}
	}
	r := mixing.Request{Want: strengthOf("want"), ByParts: rapid.Bool().Draw(t, "parts"), Kind: mixing.Kind(pick("kind", 4)), Mark: tracker.Comma,
		Amount:  mixing.Amount{Value: big.NewRat(int64(pick("amount", 5000)), 2), Unit: mixing.AmountUnit(pick("amount unit", 3) + 1)},
		Diluent: mixing.Diluent(pick("diluent", 5)), Now: noon}
	r.Stock = mixing.Stock{Label: strengthOf("have"), Form: mixing.Form(pick("form", 5)), Diluted: rapid.Bool().Draw(t, "diluted"), ConcentrateFirst: rapid.Bool().Draw(t, "first")}
	r.Use = mixing.Use{Skin: mixing.Skin(pick("skin", 3)), NearEye: true, NearJoint: true, Bandage: true, SoapBefore: true, Delicate: true,
		Closed: rapid.Bool().Draw(t, "closed"), Recent: []mixing.Substance{rapid.SampledFrom(mixing.Substances()).Draw(t, "recent")}}
	if rapid.Bool().Draw(t, "same substance") {
		r.Stock.Label.Of = r.Want.Of
	}
	for _, s := range []**mixing.Strength{&r.Ceiling, &r.Stock.Weakest, &r.Stock.Strongest, &r.Use.Last} {
		if rapid.Bool().Draw(t, "limit") {
			*s = ptr(strengthOf("limit"))
		}
	}
	if rapid.Bool().Draw(t, "dense") {
		r.Stock.Density = big.NewRat(int64(pick("density", 30)), 10)
	}
	for range pick("devices", 3) {
		r.Devices = append(r.Devices, mixing.Device{Kind: mixing.DeviceKind(pick("device", 7)), Capacity: big.NewRat(int64(pick("capacity", 100)), 1), Mark: big.NewRat(int64(pick("mark", 20)), 10)})
	}
	got := mixing.Mix(r)
	if got.Refused() != (got.Concentrate.Value == nil) || got.Refused() != (got.Achieved.Value == nil) || len(got.Working) == 0 {
		t.Fatalf("neither whole nor refused: %+v", got)
	}
	for _, n := range append(append([]mixing.Note(nil), got.Warnings...), got.Refusals...) {
		if n.ID == "" || n.Text == "" || n.Source == "" || strings.Contains(n.Text, "%!") {
			t.Fatalf("a note is not whole: %+v", n)
		}
	}
	if !got.Refused() && got.RelativeError.Cmp(big.NewRat(5, 100)) > 0 {
		t.Fatalf("%v stronger and not refused", got.RelativeError)
	}
}

func TestAnyMixIsWhole(t *testing.T)           { rapid.Check(t, anyMixIsWhole) }
func FuzzAnyMixIsWhole(f *testing.F)           { f.Fuzz(rapid.MakeFuzz(anyMixIsWhole)) }
func TestMixAndMeasureBack(t *testing.T)       { rapid.Check(t, mixAndMeasureBack) }
func TestAddToAgreesWithMakeUpTo(t *testing.T) { rapid.Check(t, addToAgreesWithMakeUpTo) }
func FuzzMixAndMeasureBack(f *testing.F)       { f.Fuzz(rapid.MakeFuzz(mixAndMeasureBack)) }
func FuzzAddToAgainstMakeUpTo(f *testing.F)    { f.Fuzz(rapid.MakeFuzz(addToAgreesWithMakeUpTo)) }

// bothReadings finds a number that somebody could read as thousands: no zero in front, one mark, three
// digits. It is a separate, blunter reader than the one under test.
var bothReadings = regexp.MustCompile(`(^|[^\d.,\s]|[^\d.,\s]\s+)0*[1-9]\d{0,2}[.,]\d{3}([^\d]|$)`)

// FuzzParseStrength: never a panic, never a strength of nothing, never one of two readings, and what
// is read survives being shown and read again.
func FuzzParseStrength(f *testing.F) {
	for _, row := range vectorRows(f, "notation.txt", 9) {
		f.Add(row[0])
	}
	f.Add("1\u202f000 ppm w/v")
	f.Add("percent w/v 2")
	f.Fuzz(func(t *testing.T, text string) {
		s, err := mixing.ParseStrength(text, mixing.Anything)
		if err != nil {
			if what := outcome(err); strings.HasPrefix(what, "an odd error") || s.Value != nil {
				t.Fatalf("%q: %s beside %v", text, what, s.Value)
			}
			return
		}
		if s.Value.Sign() <= 0 || s.Unit.String() == "" || s.Of != mixing.Anything {
			t.Fatalf("%q was read as %v %v", text, s.Value, s.Unit)
		}
		if strings.Contains(text, ":") || bothReadings.MatchString(strings.TrimSpace(text)) {
			t.Fatalf("%q has two readings and was taken as %v %v", text, s.Value, s.Unit)
		}
		stored, err := s.MarshalText()
		var back mixing.Strength
		if err != nil || back.UnmarshalText(stored) != nil || !back.Same(s) {
			t.Fatalf("%q is %v %v, stored as %s, read again as %v", text, s.Value, s.Unit, stored, back.Value)
		}
		for _, shown := range []string{s.Echo(tracker.Comma), s.Words(tracker.Point)} {
			again, err := mixing.ParseStrength(shown, mixing.Anything)
			if outcome(err) == "asks" || len(s.Value.RatString()) > 12 {
				continue // 1.125 asks, and a long fraction is shown shortened
			}
			if err != nil || again.Unit == s.Unit && new(big.Rat).Mul(s.Value, big.NewRat(10000, 1)).IsInt() && !again.Same(s) {
				t.Fatalf("%q is %v %v, shown %q, read again as %v, %v", text, s.Value, s.Unit, shown, again.Value, err)
			}
		}
	})
}

// BenchmarkMix is one mix with two devices and its working.
func BenchmarkMix(b *testing.B) {
	r := mixing.Request{Kind: mixing.MakeUpTo, Amount: mixing.Millilitres(1000), Mark: tracker.Point, Want: strength(b, "0.05% w/v", "chlorhexidine gluconate")}
	r.Stock.Label = strength(b, "4% w/v", "chlorhexidine gluconate")
	r.Devices = []mixing.Device{device(b, "20 mL syringe, 1 mL marks"), device(b, "1000 mL jug, 50 mL marks")}
	for b.Loop() {
		mixing.Mix(r)
	}
}
