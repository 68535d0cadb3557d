package seed

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"leground/tracker"
)

// fields takes the words of a line one by one and keeps the first thing that was wrong.
type fields struct {
	words []string
	err   error
}

func (f *fields) fail(err error) {
	if f.err == nil {
		f.err = err
	}
}

func (f *fields) word() string {
	if len(f.words) == 0 {
		f.fail(errors.New("a word is missing"))
		return ""
	}
	word := f.words[0]
	f.words = f.words[1:]
	return word
}

func (f *fields) whole() int {
	n, err := strconv.Atoi(f.word())
	if err != nil {
		f.fail(err)
	}
	return n
}

func (f *fields) number() float64 {
	n, err := strconv.ParseFloat(f.word(), 64)
	if err != nil {
		f.fail(err)
	}
	return n
}

func (f *fields) rest() string {
	text := strings.Join(f.words, " ")
	f.words = nil
	return text
}

func (f *fields) vitals() (v tracker.Vitals) {
	for len(f.words) > 0 {
		switch word := f.word(); word {
		case "temperature":
			v.TemperatureTenthsC = int(math.Round(f.number() * 10))
		case "pulse":
			v.PulsePerMinute = f.whole()
		case "weight":
			v.WeightKG = f.whole()
		case "condition":
			v.ConditionHalves = int(f.number() * 2)
		default:
			f.fail(fmt.Errorf("nobody takes the %s of a horse", word))
		}
	}
	return v
}

func (f *fields) signs() tracker.Signs {
	signs := tracker.Signs{}
	for len(f.words) > 0 {
		sign := tracker.Sign(f.word())
		signs[sign] = f.whole()
		if sign.Levels() == nil {
			f.fail(fmt.Errorf("%q is not a sign", sign))
		}
	}
	return signs
}

func parsed[T any](f *fields, parse func(string) (T, error)) T {
	value, err := parse(f.word())
	if err != nil {
		f.fail(err)
	}
	return value
}
