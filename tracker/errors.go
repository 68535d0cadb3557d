package tracker

import (
	"errors"
	"strings"
)

// ErrorKind says what sort of refusal an Error is; the web edge turns it into a page and a status.
type ErrorKind int

// The kinds of refusal.
const (
	Invalid     ErrorKind = iota + 1 // what was entered cannot be taken as it stands
	NotFound                         // there is no such thing in this yard
	Conflict                         // the same record id already holds something else
	Forbidden                        // this person may not do it
	Unavailable                      // cannot be done just now: try again
)

// FieldProblem names one form field and says in a sentence what is wrong with it and what would do.
type FieldProblem struct {
	Field   string
	Problem string
}

// Error is a refusal that may be shown to a person: Message says what is wrong and what to do next.
type Error struct {
	Kind    ErrorKind
	Message string
	Fields  []FieldProblem
}

// Error gives the sentence and each field's problem.
func (e *Error) Error() string {
	parts := make([]string, 0, len(e.Fields)+1)
	if e.Message != "" {
		parts = append(parts, e.Message)
	}
	for _, f := range e.Fields {
		parts = append(parts, f.Field+": "+f.Problem)
	}
	return strings.Join(parts, " ")
}

// Refuse makes an Error of the given kind with a sentence for people.
func Refuse(kind ErrorKind, message string) *Error { return &Error{Kind: kind, Message: message} }

// KindOf gives the kind of the Error inside err, or 0 when there is none.
func KindOf(err error) ErrorKind {
	var e *Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return 0
}

// RefuseField makes an Error about one form field, with what is wrong with it and what would do.
func RefuseField(field, problem string) error { return Problems{{field, problem}}.Err() }

// Problems gathers field problems while a form is read.
type Problems []FieldProblem

// Add notes a problem with a field.
func (p *Problems) Add(field, problem string) {
	*p = append(*p, FieldProblem{field, problem})
}

// Err gives nil when nothing was noted, else one Invalid error that carries every problem.
func (p Problems) Err() error {
	if len(p) == 0 {
		return nil
	}
	return &Error{Kind: Invalid, Message: "Some answers need another look.", Fields: p}
}
