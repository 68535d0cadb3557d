package care

import (
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
)

// ReadState says what is known of the strength on a bottle's label.
type ReadState int

// The states. Only ReadByTwo and LabelIsSettled let everybody mix from the bottle.
const (
	NotRead        ReadState = iota + 1 // or doubted since: two people must read it
	ReadByOne                           // a second person must read it without seeing the first reading
	ReadByTwo                           // both typed the same
	ReadingsDiffer                      // nobody may use it until the owner settles which is right
	LabelIsSettled                      // the owner did
)

// LabelReading is what one person typed from a label.
type LabelReading struct {
	By       tracker.PersonID
	Strength mixing.Strength
	At       time.Time
}

// Reading is what a bottle's acts say of its strength.
type Reading struct {
	State    ReadState
	Doubted  bool            // somebody found that the label says something else
	Strength mixing.Strength // the one that counts; none while the readings differ
	Readings []LabelReading  // since the label was last doubted or settled
}

// readingOf follows a bottle's acts. Two blind readings that mean the same settle its strength; two that
// differ, or a doubt, stop it for everybody.
func readingOf(acts []tracker.StoreAct) (Reading, error) {
	r := Reading{State: NotRead}
	for _, act := range acts {
		if act.Kind != tracker.LabelRead && act.Kind != tracker.LabelDoubted && act.Kind != tracker.LabelSettled {
			continue
		}
		s, err := Strength(act.Strength)
		if err != nil {
			return r, err
		}
		switch act.Kind {
		case tracker.LabelDoubted:
			r = Reading{State: NotRead, Doubted: true}
		case tracker.LabelSettled:
			r = Reading{State: LabelIsSettled, Strength: s, Readings: []LabelReading{{act.By, s, act.At}}}
		case tracker.LabelRead:
			r.add(LabelReading{act.By, s, act.At})
		}
	}
	return r, nil
}

func (r *Reading) add(one LabelReading) {
	if r.State != NotRead && r.State != ReadByOne {
		return // a reading after the strength was known changes nothing; whoever differs doubts it
	}
	r.Readings = append(r.Readings, one)
	switch {
	case len(r.Readings) == 1:
		r.State, r.Strength = ReadByOne, one.Strength
	case r.Readings[0].Strength.Same(one.Strength):
		r.State = ReadByTwo
	default:
		r.State, r.Strength = ReadingsDiffer, mixing.Strength{}
	}
}

// readBy tells whether a person is among those who read the label.
func (r Reading) readBy(person tracker.PersonID) bool {
	for _, one := range r.Readings {
		if one.By == person {
			return true
		}
	}
	return false
}

// blindFor tells whether a person has yet to read the label, and so may see no strength of it.
func (r Reading) blindFor(person tracker.PersonID) bool {
	return (r.State == NotRead || r.State == ReadByOne) && !r.readBy(person)
}

// Words says who read the label: "read by Ada and Bea".
func (r Reading) Words(names map[tracker.PersonID]string) string {
	var who []string
	for _, one := range r.Readings {
		who = append(who, names[one.By])
	}
	switch r.State {
	case ReadByOne:
		return "read by " + who[0] + " only"
	case ReadByTwo:
		return "read by " + strings.Join(who, " and ")
	case ReadingsDiffer:
		return "read differently by " + strings.Join(who, " and ")
	case LabelIsSettled:
		return "settled by " + who[0]
	}
	return "not read"
}
