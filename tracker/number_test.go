package tracker

import (
	"errors"
	"math"
	"math/big"
	"os"
	"strconv"
	"strings"
	"testing"
)

// vectorRows reads a file of checks: header lines "name: value", an empty line, then rows of fields
// parted by bars. A header it does not know fails the test, so that no file is half read.
func vectorRows(t *testing.T, path string, fields int) [][]string {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	header, body, found := strings.Cut(string(data), "\n\n")
	if !found || !strings.HasPrefix(header, "source: ") {
		t.Fatalf("%s must begin with its source and have an empty line after the header", path)
	}
	for line := range strings.SplitSeq(header, "\n") {
		name, _, _ := strings.Cut(line, ": ")
		if name != "source" && name != "columns" && name != "note" {
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
		rows = append(rows, row)
	}
	return rows
}

func rat(t *testing.T, text string) *big.Rat {
	t.Helper()
	r, ok := new(big.Rat).SetString(text)
	if !ok {
		t.Fatalf("%q is not a fraction", text)
	}
	return r
}

func TestParseNumberVectors(t *testing.T) {
	for _, row := range vectorRows(t, "../testdata/vectors/numbers/typed.txt", 3) {
		typed, err := strconv.Unquote(row[0])
		if err != nil {
			t.Fatalf("%s: %v", row[0], err)
		}
		got, err := ParseNumber(typed, row[1])
		verb, rest, _ := strings.Cut(row[2], " ")
		var two *AmbiguousNumber
		switch verb {
		case "=":
			if err != nil || got.Cmp(rat(t, rest)) != 0 {
				t.Errorf("%s in %q: got %v, %v; want %s", row[0], row[1], got, err, rest)
			}
		case "asks":
			small, large, _ := strings.Cut(rest, " ")
			if !errors.As(err, &two) || two.Smaller.Cmp(rat(t, small)) != 0 || two.Larger.Cmp(rat(t, large)) != 0 {
				t.Errorf("%s: got %v, %v; want a question between %s", row[0], got, err, rest)
			}
			if KindOf(err) != Invalid {
				t.Errorf("%s: the question is not of kind Invalid", row[0])
			}
		case "refused":
			if err == nil || errors.As(err, &two) || !strings.Contains(err.Error(), rest) || KindOf(err) != Invalid {
				t.Errorf("%s: got %v, %v; want a refusal with %q", row[0], got, err, rest)
			}
		default:
			t.Fatalf("unknown result %q", row[2])
		}
	}
}

func TestAmbiguousNumberAsks(t *testing.T) {
	for typed, want := range map[string]string{
		"1.500": "\"1.500\" can be read two ways. Did you mean 1.5 or 1\u202f500?",
		"1,500": "\"1,500\" can be read two ways. Did you mean 1,5 or 1\u202f500?",
	} {
		if _, err := ParseNumber(typed, ""); err == nil || err.Error() != want {
			t.Errorf("%s: %v, want %s", typed, err, want)
		}
	}
}

func TestFormatNumberVectors(t *testing.T) {
	for _, row := range vectorRows(t, "../testdata/vectors/numbers/shown.txt", 4) {
		places, err := strconv.Atoi(row[1])
		if err != nil {
			t.Fatal(err)
		}
		mark := map[string]DecimalMark{"point": Point, "comma": Comma}[row[2]]
		if mark == 0 {
			t.Fatalf("%q is no decimal mark", row[2])
		}
		want := strings.ReplaceAll(row[3], "~", "\u202f")
		if got := FormatNumber(rat(t, row[0]), places, mark); got != want {
			t.Errorf("FormatNumber(%s, %d, %v) = %q, want %q", row[0], places, mark, got, want)
		}
	}
}

func TestFormatDigits(t *testing.T) {
	for value, want := range map[string]string{
		"247/10000": "0.0247", "100/3": "33.3", "7200": "7\u202f200", "1/3": "0.333", "0": "0",
		"99999/10": "10\u202f000", "-1/3": "-0.333", "123456": "123\u202f456", "1/1000000": "0.000001",
	} {
		if got := FormatDigits(rat(t, value), 3, Point); got != want {
			t.Errorf("FormatDigits(%s, 3) = %q, want %q", value, got, want)
		}
	}
}

func TestFormatFloatAndAmount(t *testing.T) {
	for value, want := range map[float64]string{2.675: "2,68", 0.1: "0,1", -0.004: "0", 1234.5: "1\u202f234,5",
		1e21: "1\u202f000\u202f000\u202f000\u202f000\u202f000\u202f000\u202f000", math.Inf(1): "not known"} {
		if got := FormatFloat(value, 2, Comma); got != want {
			t.Errorf("FormatFloat(%v) = %q, want %q", value, got, want)
		}
	}
	if got := FormatFloat(math.NaN(), 2, Point); got != "not known" {
		t.Errorf("NaN is shown as %q", got)
	}
	if got := FormatAmount(big.NewRat(1500, 1), 0, "mL", Point); got != "1\u202f500\u00a0mL" {
		t.Errorf("FormatAmount = %q", got)
	}
}

// TestFormatArea: to 0.1 under 10, whole at or above and "less than" in words, as the design of the screens has
// it. 1 mm by 1 mm is 0.0079 cm2.
func TestFormatArea(t *testing.T) {
	for cm2, want := range map[float64]string{0: "0", 0.0079: "less than 0,1", 0.017: "less than 0,1", 0.05: "0,1", 0.44: "0,4",
		9.94: "9,9", 9.95: "10", 11.78: "12"} {
		if got := FormatArea(cm2, Comma); got != want {
			t.Errorf("%v: %q, want %q", cm2, got, want)
		}
	}
	if got := FormatArea(math.NaN(), Point); got != "not known" {
		t.Error(got)
	}
}

func TestNoMarkIsAFault(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("a number was written without a decimal mark")
		}
	}()
	FormatNumber(big.NewRat(1, 1), 2, 0)
}

// FuzzParseNumber holds the parser to three promises: it never panics, what it takes survives being
// shown and typed again, and it never takes a text that reads differently to someone who uses the
// other mark. The second reader below is a separate, blunter piece of code.
func FuzzParseNumber(f *testing.F) {
	for _, seed := range []string{"0.5", ",5", "1.500", "1 500", "1.2.3", "1e3", "5 mL", "\u22125", "1\u202f500,5", "0,125", "-0.000"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		got, err := ParseNumber(typed, "mL")
		if err != nil {
			if got != nil {
				t.Fatalf("%q: a value beside an error", typed)
			}
			return
		}
		for _, mark := range []DecimalMark{Point, Comma} {
			shown := FormatNumber(got, longestNumber, mark)
			again, err := ParseNumber(shown, "mL")
			var two *AmbiguousNumber
			if errors.As(err, &two) {
				again, err = two.Smaller, nil
			}
			if len(shown) <= longestNumber && (err != nil || again.Cmp(got) != 0) {
				t.Fatalf("%q is %v, shown %q, read again as %v, %v", typed, got, shown, again, err)
			}
		}
		if reading := thousandsReading(typed); reading != nil && reading.Cmp(got) != 0 {
			t.Fatalf("%q taken as %v, but its mark can stand for thousands: %v", typed, got, reading)
		}
	})
}

// thousandsReading reads the mark of a text as a thousands mark, where a person could write it so:
// no zero in front and exactly three digits behind. It gives nil where that reading does not exist.
func thousandsReading(typed string) *big.Rat {
	var digits strings.Builder
	after, negative := -1, false
	for _, r := range typed {
		switch {
		case r >= '0' && r <= '9':
			if after >= 0 {
				after++
			}
			digits.WriteRune(r)
		case r == '.' || r == ',':
			whole := strings.TrimLeft(digits.String(), "0")
			if after >= 0 || whole == "" || len(whole) > 3 {
				return nil
			}
			after = 0
		case r == '-' || r == '\u2212':
			negative = true
		}
	}
	if after != 3 {
		return nil
	}
	value, _ := new(big.Rat).SetString(digits.String())
	if negative {
		value.Neg(value)
	}
	return value
}
