package notify

import (
	"context"
	"errors"
	"time"
)

// ErrLost says that a claim is no longer ours: its lease ran out and another worker took the row.
var ErrLost = errors.New("the lease on this reminder has passed to another worker")

// Outbox is where reminders wait. Each method is one short transaction; all are safe for use by several
// goroutines and by several processes at once.
type Outbox interface {
	// Accounts lists the accounts that have rows due at now and free to claim, each once.
	Accounts(ctx context.Context, now time.Time) ([]Account, error)
	// Claim takes up to ask.N due rows of one account, oldest send time first, and holds each under a
	// lease with a new fencing token. A row whose lease has run out is due again.
	Claim(ctx context.Context, ask Ask) ([]Claimed, error)
	// Renew extends the lease until the given time and looks again: withdrawn is the reason when the
	// reminder is no longer wanted, such as a round received meanwhile. ErrLost when the token is stale.
	Renew(ctx context.Context, c Claimed, until time.Time) (withdrawn string, err error)
	// Mark records what came of a claim and ends it, with all that follows from it in one transaction.
	// ErrLost when the token is stale; then nothing is recorded.
	Mark(ctx context.Context, c Claimed, o Outcome) error
}

// Account is who is talked to on behalf of many people: a mail account, a push service, one webhook
// endpoint. The breaker and the pace are kept for each.
type Account struct {
	Name    string // the channel's name where the channel has one account only
	Channel string
}

// Ask says which rows to claim.
type Ask struct {
	Account Account
	Now     time.Time
	N       int
	Lease   time.Duration
	// OnlyLate asks only for rows past their use-by or hand-over time. They leave the queue without being
	// sent, so they are claimed even while the account is down.
	OnlyLate bool
}

// Claimed is a reminder held under a lease.
type Claimed struct {
	Token       int64     // fencing token of this claim
	Try         int       // number of this try, from 1; a row put back does not count as tried
	PerhapsSent int       // how many earlier tries may have been accepted
	HandOver    time.Time // when not accepted by then, the next channel takes over; zero: never
	Account     Account
	Message     Message // all but its Words
	Content     Content
}

// State is what came of a claim. The zero State is none.
type State int

// The states.
const (
	Sent      State = iota + 1 // a server took it
	Again                      // planned again at Next
	PutBack                    // untouched and not counted as tried; not before Next
	GivenUp                    // will not be sent over this channel
	Withdrawn                  // no longer wanted
	Folded                     // its use-by has passed: into the person's next summary
)

var stateNames = [...]string{"", "sent", "planned again", "put back", "given up", "withdrawn", "folded"}

// String gives the state in plain words.
func (s State) String() string {
	if s < 0 || int(s) >= len(stateNames) {
		return "no state"
	}
	return stateNames[s]
}

// Outcome is what came of one claim, with the reason in words for people.
type Outcome struct {
	State  State
	At     time.Time
	Next   time.Time // with Again and PutBack: not before
	Reason string    // a sentence or a few
	Answer string    // the server's own words, if any
	// Class is the failure's class, 0 when nothing failed. Gone: delete the subscription. BadAddress: note
	// it against the address. SetUpFault, AccountFault: tell the owner another way. Unknown: perhaps sent.
	Class Class
	// NextChannel asks for this reminder to be planned on the person's next channel, at once.
	NextChannel bool
}
