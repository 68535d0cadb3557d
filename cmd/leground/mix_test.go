package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/big"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/urfave/cli/v3"

	"leground/tracker"
	"leground/tracker/mixing"
)

// runMixCLI runs the command as a program would, with its own writers, and gives what it printed, the
// reason of its error and its exit code.
func runMixCLI(t *testing.T, args ...string) (stdout, reason string, code int) {
	t.Helper()
	command := mixCommand()
	var out, problems bytes.Buffer
	command.Writer, command.ErrWriter = &out, &problems
	command.ExitErrHandler = func(context.Context, *cli.Command, error) {}
	err := command.Run(t.Context(), append([]string{"mix"}, args...))
	var coded cli.ExitCoder
	switch {
	case err == nil:
	case errors.As(err, &coded):
		code = coded.ExitCode()
		reason = err.Error()
	default:
		t.Fatalf("%q: an error without an exit code: %v", args, err)
	}
	return out.String(), reason, code
}

// vectorsOfMixing reads the rows that the tests of the package mixing run too.
func vectorsOfMixing(t *testing.T) [][]string {
	t.Helper()
	data, err := os.ReadFile("../../testdata/vectors/mixing/dilution.txt")
	if err != nil {
		t.Fatal(err)
	}
	_, body, found := strings.Cut(string(data), "\n\n")
	if !found {
		t.Fatal("the vectors have no header")
	}
	var rows [][]string
	for line := range strings.SplitSeq(strings.TrimSpace(body), "\n") {
		row := strings.Split(line, "|")
		if len(row) != 15 {
			t.Fatalf("%q has %d fields", line, len(row))
		}
		for i := range row {
			row[i] = strings.TrimSpace(row[i])
		}
		rows = append(rows, row)
	}
	return rows
}

// mixArgs gives the flags of a row.
func mixArgs(row []string) []string {
	args := []string{"-json", "-of", row[0], "-have", row[1], "-want", row[2]}
	for i, name := range map[int]string{3: "-want-of", 6: "-device", 7: "-density"} {
		if row[i] != "" {
			args = append(args, name, row[i])
		}
	}
	switch row[4] {
	case "left":
		return append(args, "-left", row[5])
	case "add":
		args = append(args, "-add")
	}
	return append(args, "-make", row[5])
}

// TestMixAgreesWithGoldenRowsAndPackage runs at least 200 rows through the command: what it prints is
// what the file says and what the package says, to the last word.
func TestMixAgreesWithGoldenRowsAndPackage(t *testing.T) {
	rows := vectorsOfMixing(t)
	if len(rows) < 200 {
		t.Fatalf("only %d rows", len(rows))
	}
	for _, row := range rows {
		args := mixArgs(row)
		stdout, reason, code := runMixCLI(t, args...)
		var got mixObject
		decoder := json.NewDecoder(strings.NewReader(stdout))
		decoder.DisallowUnknownFields()
		if err := decoder.Decode(&got); err != nil || decoder.More() {
			t.Errorf("%q: not one JSON object: %v\n%s", args, err, stdout)
			continue
		}
		if row[8] == "" {
			checkRefusedObject(t, row, got, reason, code)
		} else {
			checkMixedObject(t, row, got, code)
		}
		checkAgainstPackage(t, row, stdout)
	}
}

func checkRefusedObject(t *testing.T, row []string, got mixObject, reason string, code int) {
	t.Helper()
	empty := mixObject{Working: got.Working, Warnings: got.Warnings, Refusals: got.Refusals}
	if code != mixRefused || !cmp.Equal(got, empty) || got.Working == nil || got.Warnings == nil {
		t.Errorf("%v: exit %d, %+v", row[:8], code, got)
	}
	var ids []string
	for _, n := range got.Refusals {
		ids = append(ids, n.ID)
		if !strings.Contains(reason, n.Text) {
			t.Errorf("%v: the reason %q does not say %q", row[:8], reason, n.Text)
		}
	}
	if slices.Sort(ids); strings.Join(ids, " ") != row[12] {
		t.Errorf("%v: refused by %v, want %s", row[:8], ids, row[12])
	}
}

func checkMixedObject(t *testing.T, row []string, got mixObject, code int) {
	t.Helper()
	if code != 0 || got.ExactML == nil || got.Achieved == nil || got.RelativeError == nil || len(got.Refusals) != 0 {
		t.Errorf("%v: exit %d, %+v", row[:8], code, got)
		return
	}
	if *got.ExactML != row[8] {
		t.Errorf("%v: exactly %s, want %s", row[:8], *got.ExactML, row[8])
	}
	for i, n := range map[int]*json.Number{9: got.ConcentrateML, 10: got.TotalML, 11: &got.Achieved.Value} {
		if !sameDecimal(t, n, row[i]) {
			t.Errorf("%v: column %d is %v, want %s", row[:8], i+1, *n, row[i])
		}
	}
	if of := row[3]; of != "" && got.Achieved.Of != of || of == "" && got.Achieved.Of != row[0] {
		t.Errorf("%v: achieved of %s", row[:8], got.Achieved.Of)
	}
	if !strings.HasSuffix(strings.ReplaceAll(row[2], " ", ""), strings.ReplaceAll(got.Achieved.Unit, " ", "")) {
		t.Errorf("%v: achieved in %s", row[:8], got.Achieved.Unit)
	}
	var ids []string
	for _, n := range got.Warnings {
		ids = append(ids, n.ID)
	}
	slices.Sort(ids)
	if strings.Join(slices.Compact(ids), " ") != row[12] {
		t.Errorf("%v: warnings %v, want %s", row[:8], ids, row[12])
	}
}

// sameDecimal tells whether a printed decimal is a fraction, to the 15 digits of a JSON reader.
func sameDecimal(t *testing.T, printed *json.Number, fraction string) bool {
	t.Helper()
	got, ok := new(big.Rat).SetString(printed.String())
	want, ok2 := new(big.Rat).SetString(fraction)
	if !ok || !ok2 {
		t.Fatalf("%v or %s is not a number", printed, fraction)
	}
	off := new(big.Rat).Sub(got, want)
	limit := new(big.Rat).Mul(want, new(big.Rat).SetFrac64(1, 1000000000000000))
	return off.Abs(off).Cmp(limit) <= 0
}

// checkAgainstPackage prints the package's own answer for the same row, made without any flag, and
// wants the same bytes.
func checkAgainstPackage(t *testing.T, row []string, stdout string) {
	t.Helper()
	fail := func(err error) {
		if err != nil {
			t.Fatalf("%v: %v", row, err)
		}
	}
	wantOf := row[3]
	if wantOf == "" {
		wantOf = row[0]
	}
	r := mixing.Request{Mark: tracker.Point}
	var err error
	r.Stock.Label, err = mixing.ParseStrength(row[1], mixing.Substance(row[0]))
	fail(err)
	r.Want, err = mixing.ParseStrength(row[2], mixing.Substance(wantOf))
	fail(err)
	r.Kind = map[string]mixing.Kind{"make": mixing.MakeUpTo, "add": mixing.AddTo, "left": mixing.UseUp}[row[4]]
	r.Amount, err = mixing.ParseAmount(row[5])
	fail(err)
	if row[6] != "" {
		d, err := mixing.ParseDevice(row[6])
		fail(err)
		r.Devices = append(r.Devices, d)
	}
	if row[7] != "" {
		r.Stock.Density, err = mixing.ParseDensity(row[7])
		fail(err)
	}
	var want bytes.Buffer
	fail(printMixJSON(&want, mixing.Mix(r)))
	if diff := cmp.Diff(want.String(), stdout); diff != "" {
		t.Errorf("%v: the command and the package differ (-package +command):\n%s", row[:8], diff)
	}
}

// TestMixJSONGolden pins the object that programs read.
func TestMixJSONGolden(t *testing.T) {
	stdout, _, code := runMixCLI(t, "-of", "chlorhexidine gluconate", "-have", "2% w/v", "-want", "0.05% w/v", "-make", "1 L", "-json")
	want := `{
  "concentrate_ml": 25,
  "diluent_ml": 975,
  "total_ml": 1000,
  "exact_concentrate_ml": "25",
  "achieved": {
    "value": 0.05,
    "unit": "% w/v",
    "of": "chlorhexidine gluconate"
  },
  "relative_error": 0,
  "working": [
    "Half-fill a clean container with water.",
    "Add the concentrate: 25 mL.",
    "Top up with water to the 1 000 mL line.",
    "Makes 0.05 g per 100 mL.",
    "1 part concentrate + 39 parts water (makes 40 parts).",
    "Have 2 g per 100 mL of chlorhexidine gluconate, on the label as \"2% w/v\".",
    "Want 0.05 g per 100 mL of chlorhexidine gluconate.",
    "Make 1 000 mL, topped up to the line.",
    "concentrate = want ÷ have × make",
    "concentrate = 0.05 ÷ 2 × 1 000 = 25 mL",
    "water = 1 000 − 25 = 975 mL. Topping up does this for you.",
    "25 × 2 ÷ 1 000 = 0.05. Agrees.",
    "Nothing was rounded."
  ],
  "warnings": [],
  "refusals": []
}
`
	plain := strings.NewReplacer("\u00a0", " ", "\u202f", " ")
	if got := plain.Replace(stdout); got != want || code != 0 {
		t.Errorf("exit %d:\n%s", code, cmp.Diff(want, got))
	}
}

func TestMixRefusedGolden(t *testing.T) {
	stdout, reason, code := runMixCLI(t, "-of", "anything", "-have", "0.5% w/v", "-want", "2% w/v", "-make", "1 L", "-json")
	const words = "The bottle is weaker than the plan asks for. Nothing you add can make it stronger. Ring whoever set the plan."
	for _, want := range []string{`"concentrate_ml": null`, `"diluent_ml": null`, `"total_ml": null`, `"exact_concentrate_ml": null`, `"achieved": null`,
		`"relative_error": null`, `"warnings": []`, `"id": "R1"`, words} {
		if !strings.Contains(stdout, want) {
			t.Errorf("the object does not hold %s:\n%s", want, stdout)
		}
	}
	if code != mixRefused || !strings.Contains(reason, words) {
		t.Errorf("exit %d, %s", code, reason)
	}
	stdout, reason, code = runMixCLI(t, "-of", "anything", "-have", "0.5% w/v", "-want", "2% w/v", "-make", "1 L")
	if stdout != "" || code != mixRefused || !strings.Contains(reason, words) {
		t.Errorf("without -json: exit %d, %q, %q", code, stdout, reason)
	}
}

// TestMixDecimals: fractions that do not end are decimal numbers in JSON, and exact in their own field.
func TestMixDecimals(t *testing.T) {
	stdout, _, _ := runMixCLI(t, "-of", "anything", "-have", "3% w/v", "-want", "1% w/v", "-make", "100 mL", "-json")
	for _, want := range []string{`"exact_concentrate_ml": "100/3"`, `"concentrate_ml": 33.33333333333333333`, `"relative_error": 0,`} {
		if !strings.Contains(stdout, want) {
			t.Errorf("no %s in\n%s", want, stdout)
		}
	}
	stdout, _, _ = runMixCLI(t, "-of", "anything", "-have", "3% w/v", "-want", "1% w/v", "-make", "100 mL", "-device", "50 mL syringe, 1 mL marks", "-json")
	for _, want := range []string{`"exact_concentrate_ml": "100/3"`, `"concentrate_ml": 33,`, `"diluent_ml": 67,`, `"value": 0.99,`, `"relative_error": -0.01,`} {
		if !strings.Contains(stdout, want) {
			t.Errorf("no %s in\n%s", want, stdout)
		}
	}
}

// TestMixExitCodes: 3 for what a rule refuses, 2 for what cannot be read or has two readings, with a
// reason that says which flag and what to do.
func TestMixExitCodes(t *testing.T) {
	base := map[string]string{"-of": "anything", "-have": "2% w/v", "-want": "0.05% w/v", "-make": "1 L"}
	for _, c := range []struct {
		change, value string
		code          int
		reason        string
	}{
		{"", "", 0, ""},
		{"-make", "1,000 mL", 2, "Did you mean 1 or 1\u202f000?"},
		{"-make", "1.500 L", 2, "Did you mean 1.5 or 1\u202f500?"},
		{"-make", "1,500 mL", 2, "-make"},
		{"-have", "1.500% w/v", 2, "Did you mean 1.5 or 1\u202f500?"},
		{"-have", "2 foo", 2, "-have"},
		{"-have", "", 2, "say -have"},
		{"-of", "", 2, "say -of"},
		{"-of", "chlorhexadine", 2, "Check the spelling"},
		{"-make", "", 2, "say -make"},
		{"-make", "2 cups", 2, "mL or L"},
		{"-make", "500 g", 2, "mL or L"},
		{"-left", "180 mL", 2, "leave -make"},
		{"-device", "20 mL syringe", 2, "-device"},
		{"-density", "heavy", 2, "-density"},
		{"-want-of", "nothing known", 2, "-want-of"},
		{"-colour", "brown", 2, "colour"},
		{"extra", "", 2, "not a flag"},
		{"-of", "chlorhexidine", 3, "Say which"},
		{"-have", "2%", 3, "R1"},
		{"-have", "2", 3, "R1"},
		{"-make", "500", 3, "R1"},
		{"-make", "-5 L", 3, "R1"},
		{"-make", "0 mL", 3, "R1"},
		{"-want", "0% w/v", 3, "R1"},
		{"-want", "1:40", 3, "R5"},
		{"-want", "3% w/v", 3, "R1"},
		{"-want", "1% w/w", 3, "R2"},
		{"-want", "5 units/g", 3, "R3"},
		{"-want-of", "povidone-iodine", 3, "R4"},
		{"-device", "15 mL tablespoon", 3, "spoon"},
		{"-want", "1 in 40", 0, ""},
	} {
		flags := map[string]string{}
		for k, v := range base {
			flags[k] = v
		}
		if c.change != "" {
			flags[c.change] = c.value
		}
		var args []string
		for _, k := range []string{"-of", "-have", "-want", "-make", "-left", "-device", "-density", "-want-of", "-colour", "extra"} {
			if v, set := flags[k]; set {
				args = append(args, k)
				if strings.HasPrefix(k, "-") {
					args = append(args, v)
				}
			}
		}
		stdout, reason, code := runMixCLI(t, args...)
		if code != c.code || !strings.Contains(reason, c.reason) {
			t.Errorf("%s %q: exit %d, %q; want %d, %q", c.change, c.value, code, reason, c.code, c.reason)
		}
		if (stdout == "") != (code != 0) {
			t.Errorf("%s %q: exit %d prints %q", c.change, c.value, code, stdout)
		}
	}
}

// TestMixText: without -json the working comes under its headings, and what wants a tick at the end.
func TestMixText(t *testing.T) {
	stdout, _, code := runMixCLI(t, "-of", "chlorhexidine gluconate", "-have", "2% w/v", "-want", "0.06% w/v", "-make", "1 L", "-device", "60 mL syringe, 1 mL marks")
	at := -1
	for _, want := range []string{"Do this\n", "30\u00a0mL", "What it starts from\n", "In words\n", "With the numbers\n", "Backwards\n", "Rounding\n", "W1  "} {
		next := strings.Index(stdout, want)
		if next <= at {
			t.Errorf("%q is missing or out of place in\n%s", want, stdout)
		}
		at = next
	}
	if code != 0 {
		t.Errorf("exit %d", code)
	}
}

// TestMixHelpNamesEveryFlag: help is printed without an error and shows each flag.
func TestMixHelpNamesEveryFlag(t *testing.T) {
	stdout, _, code := runMixCLI(t, "-help")
	for _, f := range mixCommand().Flags {
		if name := f.Names()[0]; !strings.Contains(stdout, fmt.Sprintf("--%s", name)) {
			t.Errorf("help does not name -%s", name)
		}
	}
	if code != 0 {
		t.Errorf("exit %d", code)
	}
}
