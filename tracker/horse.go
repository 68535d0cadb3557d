package tracker

import (
	"fmt"
	"time"
)

// HorsePlace says whether a horse is in the yard to be looked at.
type HorsePlace int

// Where a horse is. Only a horse that is here is asked about.
const (
	Here HorsePlace = iota + 1
	Away
	AtClinic
	Gone // rehomed or dead: its records stay
)

var placeCodes = [...]string{"", "here", "away", "clinic", "gone"}

// String gives the stored code.
func (p HorsePlace) String() string { return code(placeCodes[:], int(p)) }

// ParseHorsePlace reads a stored code.
func ParseHorsePlace(text string) (HorsePlace, error) {
	n, err := parseCode("place", placeCodes[:], text)
	return HorsePlace(n), err
}

// Horse is one horse of a yard.
type Horse struct {
	ID            HorseID
	Name          string
	Sort          string       // in the yard's words: "mare", "gelding", "cob"
	Order         WalkingOrder // nil: the yard's
	OrderReason   string       // why this horse has its own order
	Handling      string       // a warning that shows on every card
	IsolatedUntil Date         // zero: not isolated
	Tetanus       Tetanus
	Food          FoodChain
	Arrived       Date
	Place         HorsePlace
	Position      int // the yard's order of horses, from 1
	CreatedAt     time.Time
}

// FoodChain says whether a horse may be eaten one day, as its passport says. The zero value is "not known", and
// counts as may be.
type FoodChain string

// What the passport says.
const (
	NotForFood FoodChain = "not"
	MayBeFood  FoodChain = "may"
)

// ParseFoodChain reads a stored code.
func ParseFoodChain(text string) (FoodChain, error) {
	if f := FoodChain(text); f == NotForFood || f == MayBeFood {
		return f, nil
	}
	return "", fmt.Errorf("%q says nothing of the food chain", text)
}

// Tetanus is what is known of a horse's cover. The zero value is "unknown".
type Tetanus struct {
	Last Date // day of the last dose; zero: unknown
}

// Isolated tells whether the horse is in isolation on a day: it is then always looked at last.
func (h Horse) Isolated(day Date) bool { return h.IsolatedUntil != 0 && day <= h.IsolatedUntil }

// OrderIn gives the horse's walking order in a yard.
func (h Horse) OrderIn(yard Yard) WalkingOrder {
	if len(h.Order) == 4 {
		return h.Order
	}
	return yard.Order
}
