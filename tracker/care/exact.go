package care

import (
	"fmt"
	"math/big"
	"strings"

	"leground/tracker"
	"leground/tracker/mixing"
)

// ExactStrength gives the form in which a strength is kept; no strength is the empty text.
func ExactStrength(s mixing.Strength) tracker.StrengthText {
	text, err := s.MarshalText()
	if err != nil {
		return "" // no number or no unit: there is none
	}
	return tracker.StrengthText(text)
}

// ExactAmount gives the form in which an amount is kept; no amount is the empty text.
func ExactAmount(a mixing.Amount) tracker.AmountText {
	if a.Value == nil {
		return ""
	}
	return tracker.AmountText(a.Value.RatString() + "|" + a.Unit.String())
}

// ExactFraction gives the form in which a number is kept; nil is the empty text.
func ExactFraction(r *big.Rat) tracker.FractionText {
	if r == nil {
		return ""
	}
	return tracker.FractionText(r.RatString())
}

// Strength reads what ExactStrength wrote.
func Strength(text tracker.StrengthText) (s mixing.Strength, err error) {
	if text != "" {
		err = s.UnmarshalText([]byte(text))
	}
	return s, err
}

// strengthOrNil is Strength for one that may be missing.
func strengthOrNil(text tracker.StrengthText) (*mixing.Strength, error) {
	s, err := Strength(text)
	if err != nil || text == "" {
		return nil, err
	}
	return &s, nil
}

// Amount reads what ExactAmount wrote.
func Amount(text tracker.AmountText) (mixing.Amount, error) {
	if text == "" {
		return mixing.Amount{}, nil
	}
	number, name, _ := strings.Cut(string(text), "|")
	value, err := Fraction(tracker.FractionText(number))
	if value == nil && err == nil {
		err = fmt.Errorf("%q is not a stored amount", text)
	}
	for unit := mixing.ML; err == nil && unit <= mixing.Tablet; unit++ {
		if unit.String() == name {
			return mixing.Amount{Value: value, Unit: unit}, nil
		}
	}
	return mixing.Amount{}, fmt.Errorf("%q is not a stored amount", text)
}

// Fraction reads what ExactFraction wrote.
func Fraction(text tracker.FractionText) (*big.Rat, error) {
	if text == "" {
		return nil, nil
	}
	value, ok := new(big.Rat).SetString(string(text))
	if !ok || strings.ContainsAny(string(text), ".eEpPxX_") {
		return nil, fmt.Errorf("%q is not a stored number", text)
	}
	return value, nil
}
