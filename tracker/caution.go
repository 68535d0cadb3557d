package tracker

import "time"

// Level says how soon the vet must know. It is never lowered by averaging or by a healing label.
type Level int

// The levels, most urgent first.
const (
	RingNow Level = iota + 1
	RingToday
	NextVisit
)

var levelCodes = [...]string{"", "ring-now", "ring-today", "next-visit"}

// String gives the stored code.
func (l Level) String() string { return code(levelCodes[:], int(l)) }

// ParseLevel reads a stored code.
func ParseLevel(text string) (Level, error) {
	n, err := parseCode("level", levelCodes[:], text)
	return Level(n), err
}

// Caution is a rule that fired. Everything it showed is kept with it, so that it reads the same
// later even when the rule has changed since.
type Caution struct {
	ID      CautionID
	Rule    string // id of the rule
	Level   Level
	Horse   HorseID
	Leg     Leg
	Site    SiteID
	Seen    string            // what was seen, with numbers and dates, in a sentence
	Why     string            // whose rule it is
	Next    string            // what would make it more urgent, or what to do meanwhile
	Numbers map[string]string // the values that fired it, by name
	Check   RecordID          // the check that raised it, if one did
	Later   []Sighting        // other numbers that met it before it was closed, oldest first
	Raised  time.Time
	Acts    []CautionAct // oldest first
}

// Sighting is what one look showed of a caution.
type Sighting struct {
	Seen    string
	Numbers map[string]string
	Check   RecordID
}

// Shown is what raised a caution and what has met it since, oldest first.
func (c Caution) Shown() []Sighting {
	return append([]Sighting{{c.Seen, c.Numbers, c.Check}}, c.Later...)
}

// mostLater is how many of the newest sightings are said beside the first; the caution's own page has all.
const mostLater = 3

// Words say what raised a caution and, beside it, what has met it since.
func (c Caution) Words() string {
	if len(c.Later) == 0 {
		return c.Seen
	}
	words := c.Seen + " Since then:"
	for _, s := range c.Later[max(0, len(c.Later)-mostLater):] {
		words += " " + s.Seen
	}
	return words
}

// CautionActKind is what somebody did about a caution.
type CautionActKind int

// What can be done. VetKnows does not close a caution to ring now: only Rang does.
const (
	Rang CautionActKind = iota + 1
	WillRingAt
	VetKnows
)

var actCodes = [...]string{"", "rang", "will-ring", "vet-knows"}

// String gives the stored code.
func (k CautionActKind) String() string { return code(actCodes[:], int(k)) }

// ParseCautionActKind reads a stored code.
func ParseCautionActKind(text string) (CautionActKind, error) {
	n, err := parseCode("act", actCodes[:], text)
	return CautionActKind(n), err
}

// CautionAct is one act on a caution.
type CautionAct struct {
	ID    RecordID
	Kind  CautionActKind
	At    time.Time
	By    PersonID
	Until time.Time // with WillRingAt: the promised time
	Note  string
}

// OpenAt tells whether a caution still asks to be acted on at an instant. One that somebody will
// ring about opens again at the promised time.
func (c Caution) OpenAt(now time.Time) bool {
	if c.Closed() {
		return false
	}
	for i := len(c.Acts) - 1; i >= 0; i-- {
		if c.Acts[i].Kind == WillRingAt {
			return !now.Before(c.Acts[i].Until)
		}
	}
	return true
}

// Closed tells whether nobody needs to act on the caution any more.
func (c Caution) Closed() bool {
	for _, act := range c.Acts {
		if act.Kind == Rang || act.Kind == VetKnows && c.Level != RingNow {
			return true
		}
	}
	return false
}
