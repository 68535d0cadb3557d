package care

import (
	"time"

	"leground/tracker"
)

// Account is a person with what signing in needs.
type Account struct {
	tracker.Person
	PasswordHash string
	Yards        []Membership // the yards they are in now
}

// Membership is one yard of an account.
type Membership struct {
	Yard tracker.YardID
	Name string // the yard's
	Role tracker.Role
}

// Session is one signed-in device.
type Session struct {
	ID      string
	Yard    tracker.YardID
	Person  tracker.Person
	Role    tracker.Role
	Device  string // what the browser said it was, shortened
	Created time.Time
	Seen    time.Time
}

// LinkKind says what a link does.
type LinkKind string

// The links. Each is random, kept as a hash, expires, can be stopped, and acts only on POST.
const (
	SetUpLink  LinkKind = "set-up"     // names the first yard and its owner
	InviteLink LinkKind = "invitation" // joins a yard with a role
	SignInLink LinkKind = "sign-in"    // signs one person in, for the demonstration
	VetLink    LinkKind = "vet"        // shows one horse to a vet, who may write a proposal
)

// Link is one of them.
type Link struct {
	ID        string
	TokenHash string
	Kind      LinkKind
	Yard      tracker.YardID
	Person    tracker.PersonID
	Role      tracker.Role
	Horse     tracker.HorseID
	Note      string
	Photos    []tracker.PhotoID // picked for a vet
	MadeBy    tracker.PersonID
	MadeAt    time.Time
	ExpiresAt time.Time
	OpenedAt  time.Time
	UsedAt    time.Time
	StoppedAt time.Time
}

// Live tells whether the link still acts at an instant.
func (l Link) Live(now time.Time) bool {
	return l.UsedAt.IsZero() && l.StoppedAt.IsZero() && now.Before(l.ExpiresAt)
}

// Conflict is what was posted under a record id that already held something else. Both are kept.
type Conflict struct {
	ID       string
	Record   tracker.RecordID
	By       tracker.PersonID
	Received time.Time
	Path     string
	Fields   map[string][]string
	Hash     string
}

// Audit is one line about a change.
type Audit struct {
	ID      string
	At      time.Time
	By      tracker.PersonID
	Device  string
	Action  string // such as "horse changed"
	Subject string // id of what was changed
	Detail  string // old and new values, as text for people
}

// Use is an amount that went out of a bottle of a product into a mix or onto a horse.
type Use struct {
	Product  tracker.ProductID
	At       time.Time
	Amount   tracker.AmountText
	Strength tracker.StrengthText // of a wash: the amount is of the wash and no mix had it
	Horse    tracker.HorseID      // that it was put on; empty: it went into a mix, or was given
	Unmet    bool                 // by the book no bottle had it, and none of the product has ended since
}
