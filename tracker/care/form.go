package care

import (
	"context"
	"maps"
	"strings"
	"time"

	"leground/tracker"
)

// Form is the identity of a posted form: the record that it makes, and the hash of what stood in it.
type Form struct {
	Record tracker.RecordID
	Hash   string
}

// ErrOtherContent is the answer to a record id that already holds something else. Whoever posted the form keeps it with
// [Service.KeepOther].
var ErrOtherContent = tracker.Refuse(tracker.Conflict, "This form was sent before with other answers. Both are kept and need a look on the Board.")

// ErrLostRecord is the answer to a form that came without the id of its record.
var ErrLostRecord = tracker.Refuse(tracker.Invalid, "This form has lost its record id. Open the page again.")

// checkRecord notes that the id of a form's record is none.
func checkRecord(p *tracker.Problems, id tracker.RecordID) {
	if !tracker.ValidID(string(id)) {
		p.Add("record", ErrLostRecord.Message)
	}
}

// sentBefore is that of a form, from the hash that looking for its record gave.
func (f Form) sentBefore(hash string, err error) (bool, error) {
	var p tracker.Problems
	if checkRecord(&p, f.Record); len(p) > 0 {
		return false, p.Err()
	}
	return sentBefore(hash == f.Hash, err)
}

// sentBefore tells whether a form's record is there already, from what looking for it gave and whether that is what
// was sent now. Other content under its id is [ErrOtherContent].
func sentBefore(same bool, err error) (bool, error) {
	switch {
	case err == nil && same:
		return true, nil
	case err == nil:
		return true, ErrOtherContent
	case tracker.KindOf(err) == tracker.NotFound:
		return false, nil
	}
	return false, err
}

// KeepOther keeps a form whose record id already holds something else, so that somebody looks at both. The same form
// twice is one. secret names a field that nobody else may see, which is kept in the yard's book only; empty: none.
func (s *Service) KeepOther(ctx context.Context, a Actor, other Conflict, secret string) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		other.ID, other.By, other.Received = NewID(), a.Person.ID, now
		if typed := other.Fields[secret]; typed != nil {
			other.Fields = maps.Clone(other.Fields)
			other.Fields[secret] = []string{"typed again: see the yard's book"}
			if err := note(tx, a, now, "other content under one form", string(other.Record), secret+" "+strings.Join(typed, ", ")); err != nil {
				return err
			}
		}
		return tx.AddConflict(other)
	})
}
