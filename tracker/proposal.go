package tracker

import "time"

// ProposalState says what became of what a vet wrote.
type ProposalState int

// The states. Only what was accepted is shown as the vet's word.
const (
	Waiting ProposalState = iota + 1
	Accepted
	Declined
	Ended // accepted once, and no longer asked for
)

var proposalCodes = [...]string{"", "waiting", "accepted", "declined", "ended"}

// String gives the stored code.
func (s ProposalState) String() string { return code(proposalCodes[:], int(s)) }

// ParseProposalState reads a stored code.
func ParseProposalState(text string) (ProposalState, error) {
	n, err := parseCode("state of a proposal", proposalCodes[:], text)
	return ProposalState(n), err
}

// Proposal is what a vet wrote for one horse by a link, or what somebody of the yard wrote down of what the
// vet said. Nothing follows from it before an owner has accepted it. The words stay as they were written.
type Proposal struct {
	ID         RecordID
	Horse      HorseID
	Link       string // id of the link by which it was written; empty: written down in the yard
	Name       string // who says so
	Plan       string // plan text; may be empty
	RingIf     string // "ring me if" rule; may be empty
	At         time.Time
	State      ProposalState
	AnsweredBy PersonID // who accepted, declined or wrote it down
	AnsweredAt time.Time
	EndedBy    PersonID
	EndedAt    time.Time
	Hash       string
}
