package tracker

import (
	"errors"
	"fmt"
	"math"
	"math/big"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// The spaces that keep a number whole on a line.
const (
	narrowSpace  = "\u202f" // between groups of three digits
	noBreakSpace = "\u00a0" // between a number and its unit
)

// longestNumber is the most bytes a person may type as one number with its unit.
const longestNumber = 40

// DecimalMark is the mark a yard writes between the whole part and the fraction. The zero mark is
// none at all: a caller that forgot to choose must not print a number.
type DecimalMark int

// The two marks in use.
const (
	Point DecimalMark = iota + 1
	Comma
)

// String gives "point" or "comma", and the empty string for no mark.
func (m DecimalMark) String() string {
	switch m {
	case Point:
		return "point"
	case Comma:
		return "comma"
	}
	return ""
}

// sign gives the mark itself. No mark is a fault of the program, not of the person.
func (m DecimalMark) sign() string {
	switch m {
	case Point:
		return "."
	case Comma:
		return ","
	}
	panic("tracker: a number cannot be written without a decimal mark")
}

// AmbiguousNumber says that a typed number has two readings, as 1.500 is one and a half to some and
// fifteen hundred to others. Nobody guesses: Error is the question to put to the person.
type AmbiguousNumber struct {
	Text            string   // as typed
	Smaller, Larger *big.Rat // with the mark read as a decimal mark, and as a thousands mark
}

// Error asks which of the two was meant, with the mark that was typed.
func (a *AmbiguousNumber) Error() string {
	mark := Point
	if strings.Contains(a.Text, ",") {
		mark = Comma
	}
	return fmt.Sprintf("%q can be read two ways. Did you mean %s or %s?", a.Text,
		FormatNumber(a.Smaller, 3, mark), FormatNumber(a.Larger, 0, mark))
}

// Unwrap lets KindOf see that what was typed cannot be taken as it stands.
func (a *AmbiguousNumber) Unwrap() error { return Refuse(Invalid, a.Error()) }

// ParseNumber reads one number as people type it. Both decimal marks are taken, ".5" is 0.5, and
// spaces between groups of three digits are dropped. unit is the unit of the box, "" for none: it may
// be typed after the number, but any other unit is refused and nothing is ever converted.
//
// A whole part of 1 to 999 followed by one mark and exactly three digits is an *AmbiguousNumber. All
// other errors are *Error of kind Invalid and say in a sentence what to type instead.
func ParseNumber(text, unit string) (*big.Rat, error) {
	number, typed := CutNumber(text)
	if number == "" && typed == "" {
		return nil, Refuse(Invalid, "Type a number, like 42.")
	}
	if len(text) > longestNumber || !looksLikeUnit(typed) {
		return nil, notANumber(text)
	}
	value, err := readNumber(number)
	if err != nil {
		var two *AmbiguousNumber
		if errors.As(err, &two) {
			return nil, err
		}
		return nil, notANumber(text)
	}
	if typed != "" && !sameUnit(typed, unit) {
		if unit == "" {
			return nil, Refuse(Invalid, fmt.Sprintf("This box takes a number alone. You typed %s.", typed))
		}
		return nil, Refuse(Invalid, fmt.Sprintf("This box is in %s. You typed %s.", unit, typed))
	}
	return value, nil
}

// CutNumber splits typed text into the number it begins with and whatever follows, both without
// spaces around them. It does not judge either.
func CutNumber(text string) (number, rest string) {
	text = strings.TrimSpace(text)
	end := strings.IndexFunc(text, func(r rune) bool {
		return (r < '0' || r > '9') && r != '.' && r != ',' && !unicode.IsSpace(r)
	})
	if sign := signLength(text); sign > 0 && end == 0 {
		number, rest = CutNumber(text[sign:])
		return text[:sign] + number, rest
	}
	if end < 0 {
		return text, ""
	}
	return strings.TrimSpace(text[:end]), text[end:]
}

// signLength gives the bytes of a minus sign that stands right before a digit or a mark.
func signLength(text string) int {
	for _, minus := range []string{"-", "\u2212"} {
		if after, ok := strings.CutPrefix(text, minus); ok && after != "" && strings.Contains("0123456789.,", after[:1]) {
			return len(minus)
		}
	}
	return 0
}

// readNumber reads digits, at most one mark and grouping spaces, with an optional minus before them.
func readNumber(number string) (*big.Rat, error) {
	sign := signLength(number)
	digits := number[sign:]
	if strings.Count(digits, ".")+strings.Count(digits, ",") > 1 {
		return nil, errors.New("two marks")
	}
	whole, fraction := digits, ""
	if at := strings.IndexAny(digits, ".,"); at >= 0 {
		whole, fraction = digits[:at], digits[at+1:]
		if fraction == "" {
			return nil, errors.New("nothing after the mark")
		}
	}
	whole, ok := joinGroups(whole)
	if !ok || strings.IndexFunc(fraction, unicode.IsSpace) >= 0 || whole+fraction == "" {
		return nil, errors.New("spaces in odd places")
	}
	value, ok := new(big.Rat).SetString("0" + whole + "." + fraction + "0")
	if !ok {
		return nil, errors.New("not digits")
	}
	if sign > 0 {
		value.Neg(value)
	}
	if short := strings.TrimLeft(whole, "0"); len(fraction) == 3 && len(short) >= 1 && len(short) <= 3 {
		return nil, &AmbiguousNumber{number, value, new(big.Rat).Mul(value, big.NewRat(1000, 1))}
	}
	return value, nil
}

// joinGroups drops the spaces of a whole part; they may only stand before groups of three digits.
func joinGroups(whole string) (string, bool) {
	groups := strings.FieldsFunc(whole, unicode.IsSpace)
	for i, group := range groups {
		if i > 0 && len(group) != 3 || len(groups) > 1 && len(group) > 3 {
			return "", false
		}
	}
	return strings.Join(groups, ""), true
}

// looksLikeUnit tells a unit such as "mg", "%" or "cm2" from the tail of something else, as in 1e3 or 5-10.
func looksLikeUnit(text string) bool {
	for _, power := range []string{"m2", "m3", "m²", "m³"} {
		text = strings.TrimSuffix(text, power)
	}
	return strings.IndexFunc(text, func(r rune) bool {
		return !unicode.IsLetter(r) && !strings.ContainsRune("%°/ ", r)
	}) < 0
}

// sameUnit compares units as typed: capitals and raised digits do not matter.
func sameUnit(a, b string) bool {
	flat := strings.NewReplacer("²", "2", "³", "3")
	return strings.EqualFold(flat.Replace(a), flat.Replace(b))
}

func notANumber(text string) error {
	if utf8.RuneCountInString(text) > longestNumber {
		text = string([]rune(text)[:longestNumber]) + "..."
	}
	return Refuse(Invalid, fmt.Sprintf("%q is not a number we can read. Write it like 42, 0.5 or 1500.", text))
}

// FormatNumber writes a number for people with at most the given number of decimal places: a zero
// before the mark, no zero at the end, a narrow no-break space between groups of three digits from
// four digits up. It rounds to the nearest, and halves away from zero.
func FormatNumber(value *big.Rat, places int, mark DecimalMark) string {
	scale := new(big.Int).Exp(big.NewInt(10), big.NewInt(int64(max(places, 0))), nil)
	twice := new(big.Int).Abs(value.Num())
	twice.Mul(twice, scale).Lsh(twice, 1).Add(twice, value.Denom())
	scaled := twice.Quo(twice, new(big.Int).Lsh(value.Denom(), 1))
	digits := scaled.String()
	if short := places + 1 - len(digits); short > 0 {
		digits = strings.Repeat("0", short) + digits
	}
	cut := len(digits) - max(places, 0)
	text := groupDigits(digits[:cut])
	point := mark.sign()
	if fraction := strings.TrimRight(digits[cut:], "0"); fraction != "" {
		text += point + fraction
	}
	if value.Sign() < 0 && scaled.Sign() != 0 {
		return "-" + text
	}
	return text
}

// FormatDigits writes a number for people with at least the given number of significant digits, where
// it has that many: 0.0247, 33.33, 7 200. Whole digits are never turned into zeros.
func FormatDigits(value *big.Rat, digits int, mark DecimalMark) string {
	places := digits - 1
	size := new(big.Rat).Abs(value)
	ten := big.NewRat(10, 1)
	for size.Sign() > 0 && size.Cmp(big.NewRat(1, 1)) < 0 {
		size.Mul(size, ten)
		places++
	}
	for places > 0 && size.Cmp(ten) >= 0 {
		size.Quo(size, ten)
		places--
	}
	return FormatNumber(value, places, mark)
}

// FormatFloat is FormatNumber for a measured or fitted number. It rounds the shortest decimal that
// stands for the value, so 2.675 with two places is 2.68. A value that is no number is "not known".
func FormatFloat(value float64, places int, mark DecimalMark) string {
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return "not known"
	}
	exact, ok := new(big.Rat).SetString(strconv.FormatFloat(value, 'e', -1, 64))
	if !ok {
		panic("tracker: a finite number has no decimal form")
	}
	return FormatNumber(exact, places, mark)
}

// FormatArea writes an area in cm2 without its unit: to 0.1 under 10, whole from there on. What is open is
// never 0: an area that would round to it is "less than 0.1".
func FormatArea(cm2 float64, mark DecimalMark) string {
	switch {
	case cm2 > 0 && cm2 < 0.05:
		return "less than " + FormatFloat(0.1, 1, mark)
	case math.Abs(cm2) >= 9.95:
		return FormatFloat(cm2, 0, mark)
	}
	return FormatFloat(cm2, 1, mark)
}

// FormatAmount writes a number and its unit so that no line can break between them: 0.5 mL.
func FormatAmount(value *big.Rat, places int, unit string, mark DecimalMark) string {
	return FormatNumber(value, places, mark) + noBreakSpace + unit
}

// groupDigits puts narrow spaces between groups of three digits, counted from the end.
func groupDigits(digits string) string {
	var b strings.Builder
	for i, r := range digits {
		if i > 0 && (len(digits)-i)%3 == 0 {
			b.WriteString(narrowSpace)
		}
		b.WriteRune(r)
	}
	return b.String()
}
