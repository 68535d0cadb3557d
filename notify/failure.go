package notify

import (
	"errors"
	"fmt"
	"strings"
	"time"
)

// Class says what a failure means for the row and for the account. The zero Class is no class.
type Class int

// The classes of failure.
const (
	ServerTrouble  Class = iota + 1 // the server or the way to it fails for everybody: wait, then one probe
	SetUpFault                      // the account's settings are refused: stop it and tell the owner another way
	AccountFault                    // the provider refuses the account for a time, such as a quota
	BadAddress                      // this address takes nothing: next channel, tell the owner
	Gone                            // this subscription or endpoint has ended: delete it, next channel
	Passing                         // try this row again later
	RefusedContent                  // the server will not take this message: next channel, tell
	Unknown                         // the answer was lost: perhaps sent
	OurFault                        // a fault of this program while composing or sending
)

var classNames = [...]string{"", "server trouble", "set-up fault", "account fault", "bad address", "gone",
	"passing", "refused content", "unknown", "our fault"}

// String gives the class in plain words.
func (c Class) String() string {
	if c < 0 || int(c) >= len(classNames) {
		return fmt.Sprintf("class %d", int(c))
	}
	return classNames[c]
}

// Failure is why a message was not sent, in words for people: what happened, what the server answered,
// what to do.
type Failure struct {
	Class      Class
	What       string        // one sentence: what happened and where
	Code       int           // the server's reply code, 0 when it gave none
	Answer     string        // the server's own words with their code, one line; empty when it gave none
	Advice     string        // one sentence: what to do; empty when waiting is enough
	RetryAfter time.Duration // the server's wish for the next try, 0 when it named none
	SlowDown   bool          // the server asked for fewer messages a minute
	Err        error         // the cause, if any
}

// Error gives the sentences for people.
func (f *Failure) Error() string {
	parts := []string{f.What}
	if f.Answer != "" {
		parts = append(parts, fmt.Sprintf("It answered: %q.", f.Answer))
	}
	if f.Advice != "" {
		parts = append(parts, f.Advice)
	}
	return strings.Join(parts, " ")
}

// Unwrap gives the cause.
func (f *Failure) Unwrap() error { return f.Err }

// FailureOf finds the Failure in err. Any other error is a fault of ours, since a channel promises a Failure.
func FailureOf(err error) *Failure {
	var f *Failure
	if errors.As(err, &f) {
		return f
	}
	return &Failure{Class: OurFault, What: "This message could not be sent: " + err.Error() + ".", Err: err}
}
