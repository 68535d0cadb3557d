package tracker

import "time"

// Role is what a person may do in one yard.
type Role int

// The roles. A vet or farrier opens a link to one horse and has no account.
const (
	Owner   Role = iota + 1 // everything
	Carer                   // records, mixes and sees all; changes no plans, people or strengths alone
	Vet                     // reads one horse by a link and may write a proposal
	Farrier                 // reads one horse's feet by a link
)

var roleCodes = [...]string{"", "owner", "carer", "vet", "farrier"}

// String gives the stored code of the role.
func (r Role) String() string { return code(roleCodes[:], int(r)) }

// ParseRole reads a stored code.
func ParseRole(text string) (Role, error) {
	n, err := parseCode("role", roleCodes[:], text)
	return Role(n), err
}

// Person is somebody who can sign in. Email is their sign-in name, lower case.
type Person struct {
	ID    PersonID
	Name  string
	Email string
}

// Member is a person's place in one yard. A zero Left means that they are still in it.
type Member struct {
	Person
	Role   Role
	Joined time.Time
	Left   time.Time
}
