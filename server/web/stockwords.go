package web

import (
	"fmt"
	"html/template"
	"slices"
	"strconv"
	"time"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/mixing"
)

// mixFuncs are the words of Stores and mixes that templates ask for.
func mixFuncs() template.FuncMap {
	return template.FuncMap{
		"strength":     strengthWords,
		"labelled":     labelWords,
		"strengthOf":   strengthOf,
		"amountOf":     amountOf,
		"storeAct":     storeActName,
		"stockLine":    func(s care.Stock, b Base) StockLine { return StockLine{s, b.Mark, b.Zone} },
		"deference":    func() string { return mixing.Deference },
		"gradeName":    gradeName,
		"bleachDoubts": func() []string { return []string{"scented", "thickened", "of unknown age", "of unknown strength"} },
		"keeps":        func(d time.Duration) string { return strconv.Itoa(int(d.Hours())/24) + " days" },
		"count":        countOrNone,
		"foodName":     tracker.FoodName,
		"sumField":     sumField,
	}
}

// StockLine is a bottle or a mix as one line of a list.
type StockLine struct {
	Stock care.Stock
	Mark  tracker.DecimalMark
	Zone  *time.Location
}

// strengthWords shows a strength with what it counts; none is said to be none.
func strengthWords(s mixing.Strength, mark tracker.DecimalMark) string {
	switch {
	case s.Value == nil:
		return "strength not known"
	case s.Of == mixing.Anything:
		return s.Words(mark)
	}
	return s.Words(mark) + " of " + string(s.Of)
}

// labelWords is strengthWords with what the label itself says.
func labelWords(s mixing.Strength, mark tracker.DecimalMark) string {
	if s.Value == nil {
		return strengthWords(s, mark)
	}
	return strengthWords(s, mark) + " (" + s.Echo(mark) + ")"
}

func strengthOf(text tracker.StrengthText, mark tracker.DecimalMark) (string, error) {
	s, err := care.Strength(text)
	if err != nil {
		return "", err
	}
	return labelWords(s, mark), nil
}

func amountOf(text tracker.AmountText, mark tracker.DecimalMark) (string, error) {
	a, err := care.Amount(text)
	if err != nil || a.Value == nil {
		return "", err
	}
	return a.Words(mark), nil
}

// gradeName says how good a source is.
func gradeName(g mixing.Grade) string {
	switch g {
	case mixing.Law:
		return "Grade A: law, pharmacopoeia or reviewed paper."
	case mixing.Handbook:
		return "Grade B: textbook, handout or professional press."
	case mixing.WeakSource:
		return "Grade C: general web or from memory."
	}
	return "" // our own rule, as its source says
}

func countOrNone(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprint(n)
}

// recordFor gives the record id of one of several forms of a page: the posted one's is kept when it is shown
// again.
func recordFor(state sent, kinds []string) tracker.RecordID {
	if state.Values != nil && slices.Contains(kinds, state.Values.Get("kind")) {
		return tracker.RecordID(state.Values.Get("record"))
	}
	return care.NewRecord()
}

// RecordFor gives the record id of the form with these acts.
func (p BottlePage) RecordFor(kinds ...string) tracker.RecordID { return recordFor(p.sent, kinds) }

// RecordFor gives the record id of the form with these acts.
func (p MixedPage) RecordFor(kinds ...string) tracker.RecordID { return recordFor(p.sent, kinds) }
