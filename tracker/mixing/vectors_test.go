package mixing_test

import (
	"errors"
	"math/big"
	"os"
	"strconv"
	"strings"
	"testing"

	"leground/tracker"
	"leground/tracker/mixing"
)

// vectorRows reads a file of checks: header lines "name: value", an empty line, then rows of fields
// parted by bars. An unknown header, an odd number of fields or an unknown status fails the test.
func vectorRows(t testing.TB, name string, fields int) [][]string {
	t.Helper()
	path := "../../testdata/vectors/mixing/" + name
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	header, body, _ := strings.Cut(string(data), "\n\n")
	if !strings.HasPrefix(header, "source: ") {
		t.Fatalf("%s must begin with its source", path)
	}
	for line := range strings.SplitSeq(header, "\n") {
		if key, _, _ := strings.Cut(line, ": "); key != "source" && key != "columns" && key != "note" {
			t.Fatalf("%s: unknown header %q", path, line)
		}
	}
	var rows [][]string
	for line := range strings.SplitSeq(strings.TrimSpace(body), "\n") {
		row := strings.Split(line, "|")
		if len(row) != fields {
			t.Fatalf("%s: %q has %d fields, want %d", path, line, len(row), fields)
		}
		for i := range row {
			row[i] = strings.TrimSpace(row[i])
		}
		if status := row[fields-2]; status != "printed" && status != "computed" && status != "trap" || row[fields-1] == "" {
			t.Fatalf("%s: %q has no status or no source", path, line)
		}
		rows = append(rows, row)
	}
	return rows
}

func rat(t testing.TB, text string) *big.Rat {
	t.Helper()
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		t.Fatalf("%q is not a number", text)
	}
	return r
}

// near tells whether got is the shown number: to 0.05%, or to half of its own last digit.
func near(t testing.TB, got *big.Rat, shown string) bool {
	t.Helper()
	if got == nil {
		return false
	}
	want := rat(t, shown)
	slack := new(big.Rat).Mul(want, big.NewRat(5, 10000))
	slack.Abs(slack)
	if _, decimals, ok := strings.Cut(shown, "."); ok {
		half := big.NewRat(1, 2)
		for range decimals {
			half.Quo(half, big.NewRat(10, 1))
		}
		if half.Cmp(slack) > 0 {
			slack = half
		}
	}
	off := new(big.Rat).Sub(got, want)
	return off.Abs(off).Cmp(slack) <= 0
}

func substance(t testing.TB, name string) mixing.Substance {
	t.Helper()
	s, err := mixing.FindSubstance(name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func strength(t testing.TB, text, of string) mixing.Strength {
	t.Helper()
	s, err := mixing.ParseStrength(text, substance(t, of))
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	return s
}

func amount(t testing.TB, text string) mixing.Amount {
	t.Helper()
	a, err := mixing.ParseAmount(text)
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	return a
}

func device(t testing.TB, text string) mixing.Device {
	t.Helper()
	d, err := mixing.ParseDevice(text)
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	return d
}

// unitNamed finds a unit by its label.
func unitNamed(t testing.TB, label string) mixing.Unit {
	t.Helper()
	for u := mixing.PercentWV; u <= mixing.MgPerTablet; u++ {
		if u.String() == label {
			return u
		}
	}
	t.Fatalf("no unit %q", label)
	return 0
}

// outcome names an error: a rule's id, "asks", "unreadable", or "" for none.
func outcome(err error) string {
	var two *tracker.AmbiguousNumber
	var note *mixing.Note
	switch {
	case err == nil:
		return ""
	case errors.As(err, &two):
		return "asks"
	case errors.As(err, &note):
		return note.ID
	case tracker.KindOf(err) == tracker.Invalid:
		return "unreadable"
	}
	return "an odd error: " + err.Error()
}

// ids gives the rules of notes, each once, in order of the alphabet.
func ids(notes []mixing.Note) string {
	seen := map[string]bool{}
	var list []string
	for _, n := range notes {
		if !seen[n.ID] {
			seen[n.ID] = true
			list = append(list, n.ID)
		}
	}
	// the files hold them as plain text in this order
	for i := range list {
		for j := i + 1; j < len(list); j++ {
			if list[j] < list[i] {
				list[i], list[j] = list[j], list[i]
			}
		}
	}
	return strings.Join(list, " ")
}

func TestNotationVectors(t *testing.T) {
	for _, row := range vectorRows(t, "notation.txt", 9) {
		name := strings.Join(row[:5], ", ")
		got, err := notation(t, row)
		if outcome(err) != row[6] {
			t.Errorf("%s: got %v, %v; want %q", name, got.Value, err, row[6])
			continue
		}
		if err != nil {
			continue
		}
		if row[7] == "printed" && !near(t, got.Value, row[5]) || row[7] == "computed" && got.Value.Cmp(rat(t, row[5])) != 0 {
			t.Errorf("%s: %s, want %s (%s)", name, got.Value.RatString(), row[5], row[8])
		}
	}
}

// notation reads a row's strength and brings it to the row's substance and unit.
func notation(t *testing.T, row []string) (mixing.Strength, error) {
	of, err := mixing.FindSubstance(row[1])
	if err != nil {
		return mixing.Strength{}, err
	}
	s, err := mixing.ParseStrength(row[0], of)
	if err != nil {
		return s, err
	}
	var density *big.Rat
	if row[2] != "" {
		if density, err = mixing.ParseDensity(row[2]); err != nil {
			t.Fatal(err)
		}
	}
	if row[3] != "" {
		if s, err = s.CountedAs(substance(t, row[3]), nil); err != nil {
			return s, err
		}
	}
	return s.In(unitNamed(t, row[4]), density)
}

func TestDilutionVectors(t *testing.T) {
	rows := vectorRows(t, "dilution.txt", 15)
	if len(rows) < 200 {
		t.Fatalf("only %d rows, want at least 200", len(rows))
	}
	for _, row := range rows {
		r := dilution(t, row)
		got := mixing.Mix(r)
		name := strings.Join(row[:8], ", ")
		if row[8] == "" {
			if ids(got.Refusals) != row[12] || !got.Refused() || got.Concentrate.Value != nil || got.Achieved.Value != nil {
				t.Errorf("%s: refusals %q, want %q and no amounts (%s)", name, ids(got.Refusals), row[12], row[14])
			}
			continue
		}
		if got.Refused() {
			t.Errorf("%s: refused by %v (%s)", name, got.Refusals, row[14])
			continue
		}
		for i, value := range []*big.Rat{got.Exact.Value, got.Concentrate.Value, got.Total.Value, got.Achieved.Value} {
			if value.Cmp(rat(t, row[8+i])) != 0 {
				t.Errorf("%s: column %d is %s, want %s (%s)", name, 9+i, value.RatString(), row[8+i], row[14])
			}
		}
		if ids(got.Warnings) != row[12] {
			t.Errorf("%s: warnings %q, want %q", name, ids(got.Warnings), row[12])
		}
		if got.Achieved.Unit != r.Want.Unit || got.Achieved.Of != r.Want.Of {
			t.Errorf("%s: achieved is in %s of %s", name, got.Achieved.Unit, got.Achieved.Of)
		}
		back := new(big.Rat).Quo(got.Achieved.Value, r.Want.Value)
		if back.Sub(back, big.NewRat(1, 1)).Cmp(got.RelativeError) != 0 {
			t.Errorf("%s: relative error %s does not follow from what is achieved", name, got.RelativeError)
		}
		checkWords(t, name, got)
	}
}

// dilution makes the request of a row of dilution.txt.
func dilution(t testing.TB, row []string) mixing.Request {
	t.Helper()
	r := mixing.Request{Mark: tracker.Point, Amount: amount(t, row[5])}
	r.Stock.Label = strength(t, row[1], row[0])
	wantOf := row[0]
	if row[3] != "" {
		wantOf = row[3]
	}
	r.Want = strength(t, row[2], wantOf)
	r.Kind = map[string]mixing.Kind{"make": mixing.MakeUpTo, "add": mixing.AddTo, "left": mixing.UseUp}[row[4]]
	if row[6] != "" {
		r.Devices = []mixing.Device{device(t, row[6])}
	}
	if row[7] != "" {
		density, err := mixing.ParseDensity(row[7])
		if err != nil {
			t.Fatal(err)
		}
		r.Stock.Density = density
	}
	return r
}

// TestTraps works printed recipes out from the label and holds the answer beside the printed claim.
func TestTraps(t *testing.T) {
	for _, row := range vectorRows(t, "traps.txt", 10) {
		stock := strength(t, row[0], row[1])
		r := mixing.Recipe{Stock: stock, Concentrate: amount(t, row[2]), Liquid: amount(t, row[3]), Added: row[4] == "add"}
		r.Claim = stock
		if row[5] != "" {
			r.Claim = strength(t, row[5], row[1])
		}
		got := mixing.CheckRecipe(r, tracker.Point)
		if got.Refused() || !near(t, got.Strength.Value, row[6]) {
			t.Errorf("%s: makes %v %v, want %s", row[9], got.Strength.Value, got.Refusals, row[6])
			continue
		}
		if row[5] == "" {
			continue
		}
		off := new(big.Rat).Mul(got.Off, big.NewRat(100, 1))
		shown, err := strconv.ParseFloat(row[7], 64)
		if value, _ := off.Float64(); err != nil || value < shown-0.06 || value > shown+0.06 {
			t.Errorf("%s: off by %.3f%%, want %s%%", row[9], value, row[7])
		}
		if warned := ids(got.Warnings) == "W14"; warned != (shown > 5 || shown < -5) {
			t.Errorf("%s: off by %s%%, warned: %v", row[9], row[7], warned)
		} else if warned && !strings.Contains(got.Warnings[0].Text, r.Claim.Words(tracker.Point)) {
			t.Errorf("%s: the warning does not show the claim beside the answer: %s", row[9], got.Warnings[0].Text)
		}
	}
}

func TestOtherVectors(t *testing.T) {
	for _, row := range vectorRows(t, "other.txt", 8) {
		check, known := calculations[row[0]]
		if !known {
			t.Fatalf("unknown calculation %q", row[0])
		}
		got := check(t, row[1:5])
		want := strings.Fields(row[5])
		if len(got) != len(want) {
			t.Errorf("%v: got %v, want %v", row[:5], got, want)
			continue
		}
		for i := range want {
			if got[i] == want[i] {
				continue
			}
			value, ok := new(big.Rat).SetString(got[i])
			if !ok || !near(t, value, want[i]) {
				t.Errorf("%v: got %v, want %v (%s)", row[:5], got, want, row[7])
			}
		}
	}
}

// calculations are what the rows of other.txt call; each gives numbers as fractions, or a rule's id.
var calculations = map[string]func(*testing.T, []string) []string{
	"parts": func(t *testing.T, a []string) []string {
		r := mixing.Request{Want: strength(t, a[1], "anything"), Kind: mixing.MakeUpTo, Amount: mixing.Millilitres(1000), Mark: tracker.Point}
		r.Stock.Label = strength(t, a[0], "anything")
		got := mixing.Mix(r)
		return answers(nil, new(big.Rat).Quo(got.Diluent.Value, got.Concentrate.Value)) // of water, to one of the bottle
	},
	"powder": func(t *testing.T, a []string) []string {
		r := mixing.Request{Want: strength(t, a[1], "anything"), Kind: mixing.MakeUpTo, Amount: amount(t, a[2]), Mark: tracker.Point}
		r.Stock = mixing.Stock{Label: strength(t, a[0], "anything"), Form: mixing.Powder}
		got := mixing.Mix(r)
		if got.Concentrate.Unit != mixing.Gram || got.Total.Unit != mixing.ML {
			t.Errorf("powder comes in %v, the mix in %v", got.Concentrate.Unit, got.Total.Unit)
		}
		return answers(nil, got.Concentrate.Value)
	},
	"useup": func(t *testing.T, a []string) []string {
		r := mixing.Request{Want: strength(t, a[1], "anything"), Kind: mixing.UseUp, Amount: amount(t, a[2]), Mark: tracker.Point}
		r.Stock.Label = strength(t, a[0], "anything")
		return answers(nil, mixing.Mix(r).Total.Value)
	},
	"contents": func(t *testing.T, a []string) []string {
		got, err := strength(t, a[0], "anything").Contents(amount(t, a[1]), nil)
		return answers(err, got.Value)
	},
	"holding": func(t *testing.T, a []string) []string {
		got, err := strength(t, a[0], "anything").Holding(amount(t, a[1]))
		return answers(err, got.Value)
	},
	"leftovers": func(t *testing.T, a []string) []string {
		var portions []mixing.Portion
		for _, text := range a[:2] {
			words := strings.Fields(text)
			portions = append(portions, mixing.Portion{Amount: amount(t, strings.Join(words[:2], " ")), Strength: strength(t, strings.Join(words[2:], " "), "anything")})
		}
		got, _ := mixing.Leftovers(portions, tracker.Point)
		if got.Refused() {
			return []string{got.Refusals[0].ID}
		}
		return answers(nil, got.Strength.Value, got.Amount.Value)
	},
	"serial": func(t *testing.T, a []string) []string {
		return answers(nil, strength(t, a[0], "anything").Diluted(mixing.Parts{N: rat(t, a[1])}, mixing.Parts{N: rat(t, a[2])}).Value)
	},
	"tolerance": func(t *testing.T, a []string) []string {
		return answers(nil, device(t, a[0]).Tolerance(amount(t, a[1]).Value))
	},
	"floor": func(t *testing.T, a []string) []string { return answers(nil, device(t, a[0]).Floor()) },
	"toolittle": func(t *testing.T, a []string) []string {
		r := mixing.Request{Want: strength(t, "1% w/v", "anything"), Kind: mixing.MakeUpTo, Amount: mixing.Millilitres(100), Mark: tracker.Point}
		r.Stock.Label, r.Devices = strength(t, "100% w/v", "anything"), []mixing.Device{device(t, a[0])}
		got := mixing.Mix(r)
		if got.Concentrate.Value.Cmp(amount(t, a[1]).Value) != 0 {
			t.Errorf("the mix takes %s, not %s", got.Concentrate.Words(tracker.Point), a[1])
		}
		return []string{ids(got.Warnings)}
	},
	"fingertips": func(t *testing.T, a []string) []string {
		if each := mixing.FingertipGrams(a[1] == "0.4"); each.Cmp(rat(t, a[1])) != 0 {
			t.Errorf("a fingertip unit is %v g, want %s", each, a[1])
		}
		return answers(nil, mixing.Fingertips(rat(t, a[0]), rat(t, a[1]), tracker.Point).Amount.Value)
	},
	"course": func(t *testing.T, a []string) []string {
		n := mixing.Need{Each: amount(t, a[0]), TimesADay: whole(t, a[1]), Days: whole(t, a[2])}
		if a[3] == "" {
			return answers(nil, n.Lasts(tracker.Point).Course.Value)
		}
		n.Left = amount(t, a[3])
		got := n.Lasts(tracker.Point)
		return append(answers(nil, got.Course.Value, got.ExactDays), strconv.Itoa(got.Days))
	},
	"load": func(t *testing.T, a []string) []string {
		s := mixing.Spread{AreaCM2: rat(t, a[0]), LoadMGPerCM2: rat(t, a[1]), Margin: new(big.Rat)}
		return answers(nil, s.Grams(tracker.Point).Amount.Value)
	},
	"film": func(t *testing.T, a []string) []string {
		s := mixing.Spread{AreaCM2: rat(t, a[0]), FilmMicrometres: rat(t, a[1]), DensityGPerML: rat(t, a[2]), Margin: new(big.Rat)}
		return answers(nil, s.Grams(tracker.Point).Amount.Value)
	},
	"fingertiparea": func(t *testing.T, a []string) []string {
		s := mixing.Spread{AreaCM2: rat(t, a[0]), Margin: new(big.Rat)}
		return answers(nil, s.Grams(tracker.Point).Amount.Value)
	},
	"dose":      doseVector,
	"dailymost": mostVector,
}

func doseVector(t *testing.T, a []string) []string {
	often := strings.Fields(a[3])
	in := instruction(t, a[0], a[1], whole(t, often[0]), whole(t, often[1]))
	stock := strength(t, a[2], "anything")
	in.Units = stock.Unit == mixing.UnitsPerML
	var measure *mixing.Device
	if stock.Unit == mixing.MgPerTablet {
		measure = &mixing.Device{Kind: mixing.Tablets, Capacity: big.NewRat(100, 1), Mark: big.NewRat(1, 1)}
	}
	got := in.Dose(stock, measure, tracker.Point)
	if got.Refused() {
		return []string{ids(got.Refusals)}
	}
	return answers(nil, got.Each.Value, got.Course.Value)
}

func mostVector(t *testing.T, a []string) []string {
	notes := mixing.CheckCourse(substance(t, a[0]), amount(t, a[1]), whole(t, a[2]))
	if len(notes) == 0 {
		return []string{"ok"}
	}
	return []string{ids(notes)}
}

// instruction is a vet's instruction with a maximum half as much again as the dose.
func instruction(t testing.TB, perKG, kg string, timesPerDay, days int) mixing.Instruction {
	t.Helper()
	dose := rat(t, perKG)
	return mixing.Instruction{By: "Vet", On: tracker.NewDate(2026, 5, 1), Of: mixing.Anything, PerKG: dose, WeightKG: rat(t, kg),
		TimesPerDay: timesPerDay, Days: days, MaxPerKG: new(big.Rat).Mul(dose, big.NewRat(3, 2))}
}

func whole(t testing.TB, text string) int {
	t.Helper()
	n, err := strconv.Atoi(text)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// answers gives numbers as text, or the rule of a refusal.
func answers(err error, values ...*big.Rat) []string {
	if err != nil {
		return []string{outcome(err)}
	}
	var list []string
	for _, v := range values {
		if v == nil {
			return []string{"nothing"}
		}
		list = append(list, v.RatString())
	}
	return list
}
