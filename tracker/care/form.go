package care

import (
	"context"
	"maps"
	"slices"
	"strings"
	"time"

	"leground/tracker"
)

// Form is the identity of a posted form and what stood in it.
type Form struct {
	Record tracker.RecordID
	Hash   string
	Path   string
	Fields map[string][]string
	Secret string // a field that nobody else may see; it is kept in the yard's book only
}

// ErrLostRecord is the answer to a form that came without the id of its record.
var ErrLostRecord = tracker.Refuse(tracker.Invalid, "This form has lost its record id. Open the page again.")

// checkRecord notes that the id of a form's record is none.
func checkRecord(p *tracker.Problems, id tracker.RecordID) {
	if !tracker.ValidID(string(id)) {
		p.Add("record", ErrLostRecord.Message)
	}
}

// once keeps what a form records exactly once. have gives the hash of what is kept under the form's record
// id, NotFound when there is nothing. The same content again is the same record; other content under the
// same id is kept apart and answered with a conflict.
func (s *Service) once(ctx context.Context, a Actor, form Form, have func(Tx) (string, error), keep func(Tx, time.Time) error) error {
	var p tracker.Problems
	if checkRecord(&p, form.Record); len(p) > 0 {
		return p.Err()
	}
	now := s.now()
	conflict := false
	err := s.store.Write(ctx, a.Yard, func(tx Tx) error {
		conflict = false
		hash, err := have(tx)
		if tracker.KindOf(err) == tracker.NotFound {
			return keep(tx, now)
		}
		if conflict = err == nil && hash != form.Hash; !conflict {
			return err
		}
		return keepOther(tx, a, form, now)
	})
	if err == nil && conflict {
		err = ErrOtherContent
	}
	return err
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

// keepOther keeps what came under an id that holds something else.
func keepOther(tx Tx, a Actor, form Form, now time.Time) error {
	fields := maps.Clone(form.Fields)
	if secret := slices.Clone(fields[form.Secret]); secret != nil {
		fields[form.Secret] = []string{"typed again: see the yard's book"}
		if err := note(tx, a, now, "other content under one form", string(form.Record), form.Secret+" "+strings.Join(secret, ", ")); err != nil {
			return err
		}
	}
	return tx.AddConflict(Conflict{
		ID: NewID(), Record: form.Record, By: a.Person.ID, Received: now, Path: form.Path, Fields: fields, Hash: form.Hash,
	})
}
