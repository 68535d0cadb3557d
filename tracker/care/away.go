package care

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// AddAbsence notes that a horse is not asked about for a time. The same record twice is one. Where medicines and what the
// vet set fall out by it, known says that whoever notes it was told.
func (s *Service) AddAbsence(ctx context.Context, a Actor, in tracker.Absence, known bool) error {
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
		if len(p) == 0 && !known {
			st.checkFallsOut(&p, rounds.Absence{Horse: in.Horse, Span: Span{From: in.From, To: in.To}})
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

// fallsOut is how many days ahead are gone through for what an absence leaves out.
const fallsOut = 366

// checkFallsOut asks about the medicines and what else the vet set that nobody will be asked for while a horse is away, or the
// yard is closed: each step with its days.
func (st yardState) checkFallsOut(p *tracker.Problems, away rounds.Absence) {
	last := st.Today + fallsOut
	if away.To != 0 {
		last = min(last, away.To)
	}
	days := map[string]*Span{}
	var steps []rounds.Asked
	asked, _ := st.ask(max(away.From, st.Today), last)
	for _, a := range asked {
		byVet := a.Step.Kind == tracker.StepGive || a.Plan.Source == tracker.SetByVet
		if !byVet || away.Horse != "" && away.Horse != a.Plan.Horse || st.horseAt(a.Plan.Horse) < 0 || recordedOf(a, st.recent, st.ticks).Done {
			continue
		}
		if days[a.Step.ID] == nil {
			days[a.Step.ID] = &Span{From: a.Day}
			steps = append(steps, a)
		}
		days[a.Step.ID].To = a.Day
	}
	slices.SortStableFunc(steps, func(a, b rounds.Asked) int { return medicineFirst(a) - medicineFirst(b) })
	var lines []string
	for _, a := range steps {
		on := *days[a.Step.ID]
		if away.To == 0 && on.To > st.Today+carried {
			on.To = 0
		}
		lines = append(lines, st.horses[st.horseAt(a.Plan.Horse)].Name+", "+tracker.DaysName(on.From, on.To)+": "+st.wordsFor(*a.Plan, a.Step))
	}
	if len(lines) > 0 {
		p.Add("known", "Nobody will be asked for this on these days. "+strings.Join(lines, ". ")+". Ask the vet whether it may be left out, or who gives it. Then tick that this is known.")
	}
}

func medicineFirst(a rounds.Asked) int {
	if a.Step.Kind == tracker.StepGive {
		return 0
	}
	return 1
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
