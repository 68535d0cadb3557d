package tracker

import "time"

// Yard is the tenant: one place with its people, horses and settings.
type Yard struct {
	ID         YardID
	Name       string
	Zone       string // IANA name, such as "Europe/London"
	Order      WalkingOrder
	LegWords   LegWords
	Mark       DecimalMark
	RingName   string  // whom to ring: the vet's practice
	RingNumber string  // empty until the yard has given one
	Slots      []Slot  // the rounds of the day, by their time
	SpreadMM   float64 // the yard's own measuring spread, one standard deviation of a length in mm
	SizeEvery  int     // days between planned sizes of a wound without a plan of its own
	MadeUp     bool    // the demonstration yard: nothing in it is real
	CreatedAt  time.Time
}

// Slot is one local time of day at which rounds happen in a yard. Name is lower case and lasting,
// such as "morning": rounds are known by it.
type Slot struct {
	Name string
	At   MinuteOfDay
}

// DefaultSlots are the two rounds a day of a new yard (common practice, no source).
func DefaultSlots() []Slot { return []Slot{{"morning", 7 * 60}, {"evening", 18*60 + 30}} }

// DefaultSpreadMM is the measuring spread assumed until a yard has calibrated its own: a guess, as
// the screen says.
const DefaultSpreadMM = 2

// SlotNamed finds a slot by name.
func (y Yard) SlotNamed(name string) (Slot, bool) {
	for _, s := range y.Slots {
		if s.Name == name {
			return s, true
		}
	}
	return Slot{}, false
}
