package care

import (
	"cmp"
	"context"
	"time"

	"leground/tracker"
)

// AddAbsence notes that a horse is not asked about for a time. The same record twice is one.
func (s *Service) AddAbsence(ctx context.Context, a Actor, in tracker.Absence) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		var p tracker.Problems
		checkRecord(&p, in.ID)
		if in.To != 0 && in.To < in.From {
			p.Add("to", "The last day away cannot be before the first.")
		}
		checkText(&p, "why", in.Why, 120)
		have, err := tx.AbsenceByRecord(in.ID)
		if before, err := sentBefore(have.Hash == in.Hash, err); before || err != nil {
			return err
		}
		st, e1 := readYard(tx, a, now)
		_, e2 := tx.Horse(in.Horse)
		if err := cmp.Or(e1, e2); err != nil {
			return err
		}
		if in.From < st.Today || in.From > st.Today+366 || in.To > st.Today+1000 {
			p.Add("from", "The first day away must be today or within a year, like "+st.Today.String()+".")
		}
		if err := p.Err(); err != nil {
			return err
		}
		in.By, in.At = a.Person.ID, now
		if err := tx.AddAbsence(in); err != nil {
			return err
		}
		return noteAndWake(tx, a, now, "horse away", string(in.Horse), in.From.String()+" to "+in.To.String()+": "+in.Why)
	})
}

// EndAbsence notes that a horse is back: yesterday was its last day away, or the absence never began.
func (s *Service) EndAbsence(ctx context.Context, a Actor, id tracker.RecordID) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		st, e1 := readYard(tx, a, now)
		away, e2 := tx.AbsenceByRecord(id)
		if err := cmp.Or(e1, e2); err != nil {
			return err
		}
		if away.To != 0 && away.To < st.Today {
			return nil
		}
		if err := tx.EndAbsence(id, st.Today-1); err != nil {
			return err
		}
		return noteAndWake(tx, a, now, "horse back", string(away.Horse), away.From.String()+" to "+away.To.String()+" -> "+(st.Today-1).String())
	})
}
