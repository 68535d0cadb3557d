package tracker

import "time"

// RoundState is how a round ended, or that it is still open.
type RoundState int

// The states of a round.
const (
	RoundOpen RoundState = iota + 1
	RoundDone
	RoundPartDone
	RoundSkipped
	RoundNoRecord
)

var roundCodes = [...]string{"", "open", "done", "part-done", "skipped", "no-record"}

// String gives the stored code.
func (s RoundState) String() string { return code(roundCodes[:], int(s)) }

// ParseRoundState reads a stored code.
func ParseRoundState(text string) (RoundState, error) {
	n, err := parseCode("round state", roundCodes[:], text)
	return RoundState(n), err
}

// Round is one visit that is due: a yard, a local day and a slot. That civil identity is what makes
// a doubled or lost round at a clock change impossible; DueAt is worked out from it.
type Round struct {
	Day    Date
	Slot   string
	DueAt  time.Time
	UseBy  time.Time // the next slot's due time, at most 18 hours later
	State  RoundState
	Reason string // why it was skipped
}
