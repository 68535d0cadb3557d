package care

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
)

// Mixed is the second step's form: the mix as it was asked for, with the checks answered.
type Mixed struct {
	Ask    MixAsk
	Choice int      // which of the three amounts of the ten-times check; -1: none
	Ticks  []string // the words of the warnings that were ticked
	Keeps  string   // source of the published limit that was chosen; empty: the usual one
	Shown  string   // Work.Shown of the page that was answered
}

// RecordMix keeps a mix that was made, and takes what went into it out of its bottle. All is worked out
// again: a refusal, a warning without its tick or a wrong answer to the ten-times check stops it. A wrong
// answer is written into the yard's book.
func (s *Service) RecordMix(ctx context.Context, a Actor, form Form, in Mixed) error {
	var wrong error
	err := s.recording(ctx, a, func(tx Tx, now time.Time) error {
		wrong = nil
		have, err := tx.Mix(tracker.MixID(form.Record))
		if before, err := form.sentBefore(have.Hash, err); before || err != nil {
			return err
		}
		st, made, err := readForMix(tx, a, now)
		if err != nil {
			return err
		}
		ask := in.Ask
		step, err := st.named(tx, &ask)
		if err != nil {
			return err
		}
		st.settle(&ask, made)
		work, problems := st.work(ask, step, made, form.Record, a.Person)
		if err := problems.Err(); err != nil {
			return err
		}
		if err := in.judge(work); err != nil {
			return err
		}
		if in.Choice != work.Check.Right {
			wrong = wrongChoice(work, in.Choice)
			return note(tx, a, now, "ten-times check wrong", work.Stock.Key,
				fmt.Sprintf("chose %s, right is %s", work.Check.Choices[in.Choice], work.Check.Choices[work.Check.Right]))
		}
		return st.keepMix(tx, a, form, in, work)
	})
	if err == nil {
		err = wrong
	}
	return err
}

// judge refuses a form that may not be recorded whatever the ten-times check says.
func (in Mixed) judge(w *Work) error {
	if w.Result.Refused() {
		return &tracker.Error{Kind: tracker.Invalid, Message: "Stop. This may not be mixed.", Fields: noteProblems(w.Result.Refusals)}
	}
	if in.Shown != w.Shown {
		return tracker.Refuse(tracker.Invalid, "Something has changed since this was worked out. Read it again from the top.")
	}
	var p tracker.Problems
	addUnticked(&p, w.Result.Warnings, in.Ticks)
	if in.Choice < 0 || in.Choice > 2 {
		p.Add("choice", "Look at the measure in your hand and say what is in it.")
	}
	return p.Err()
}

// addUnticked adds the warnings whose words were not ticked.
func addUnticked(p *tracker.Problems, warnings []mixing.Note, ticks []string) {
	for _, n := range warnings {
		if !slices.Contains(ticks, n.Text) {
			p.Add("tick", "Tick that you have read this: "+n.Text)
		}
	}
}

// tickLines gives warnings as a mix keeps them.
func tickLines(warnings []mixing.Note) (lines []string) {
	for _, n := range warnings {
		lines = append(lines, n.ID+" "+n.Text)
	}
	return lines
}

func noteProblems(notes []mixing.Note) (fields []tracker.FieldProblem) {
	for _, n := range notes {
		fields = append(fields, tracker.FieldProblem{Field: n.ID, Problem: n.Text})
	}
	return fields
}

func wrongChoice(w *Work, choice int) error {
	return &tracker.Error{Kind: tracker.Invalid, Message: "Stop. That is not what goes in.",
		Fields: []tracker.FieldProblem{{Field: "choice", Problem: w.Check.Explain(choice) + " Empty it and start again at the measure."}}}
}

func (s *stores) keepMix(tx Tx, a Actor, form Form, in Mixed, w *Work) error {
	var chosen *mixing.Keeping
	if i := slices.IndexFunc(w.Keeps, func(k mixing.Keeping) bool { return k.Source == in.Keeps }); i >= 0 {
		chosen = &w.Keeps[i]
	}
	until, why := s.shelf(w.Stock, chosen).ThrowAway()
	m := tracker.Mix{
		ID: tracker.MixID(form.Record), Product: w.Stock.Product.ID, Bottle: w.Stock.Bottle.ID, Parent: w.Stock.Mix.ID, Horse: in.Ask.Horse,
		Want: ExactStrength(w.Want), Strength: ExactStrength(w.Result.Achieved), Concentrate: ExactAmount(w.Result.Concentrate),
		Total: ExactAmount(w.Result.Total), MadeAt: s.Now, By: a.Person.ID, ThrowAway: until, Hash: form.Hash,
		Facts: tracker.MixFacts{Name: w.Label.Name, From: w.Label.From, Why: why, Diluent: in.Ask.Diluent.String(), Cautions: w.Label.Cautions},
	}
	if w.FromPlan {
		m.Plan = in.Ask.Plan
	}
	m.Facts.Ticks = tickLines(w.Result.Warnings)
	for _, line := range w.Result.Working {
		m.Facts.Working = append(m.Facts.Working, line.Text)
	}
	if err := tx.AddMix(m); err != nil {
		return err
	}
	if err := tx.WakeBy(m.ThrowAway); err != nil { // somebody is told when it must go
		return err
	}
	for _, act := range s.actsOfMix(a, m, w, in.Ask.Kind) {
		if err := tx.AddStoreAct(act); err != nil {
			return err
		}
	}
	return note(tx, a, s.Now, "mixed", string(m.ID), strings.Join([]string{m.Facts.Name, string(m.Strength), string(m.Total), m.Facts.From}, "; "))
}

// actsOfMix says what a mix does to what it was made from: it is used, opened if it was sealed, and used up
// if all of it was asked for.
func (s *stores) actsOfMix(a Actor, m tracker.Mix, w *Work, kind mixing.Kind) (acts []tracker.StoreAct) {
	add := func(act tracker.StoreAct) {
		act.ID, act.Bottle, act.Mix, act.At, act.By = NewRecord(), m.Bottle, m.Parent, s.Now, a.Person.ID
		acts = append(acts, act)
	}
	if m.Bottle != "" && w.Stock.Opened == 0 {
		add(tracker.StoreAct{Kind: tracker.Opened, Day: s.Today})
	}
	add(tracker.StoreAct{Kind: tracker.Used, Amount: m.Concentrate, For: m.ID})
	if kind == mixing.UseUp {
		add(tracker.StoreAct{Kind: tracker.UsedUp})
	}
	return acts
}

// MixPage is a mix that was made, with its label.
type MixPage struct {
	Moment
	Stock   Stock // the mix
	Label   mixing.Label
	Lines   []string // of the label
	Working []string // none while the person has yet to read the label of its bottle
	Names   map[tracker.PersonID]string
}

// Mix gives one mix, there or not.
func (s *Service) Mix(ctx context.Context, a Actor, id tracker.MixID) (MixPage, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (page MixPage, err error) {
		m, e1 := tx.Mix(id)
		st, e2 := readStores(tx, a, now)
		if err := cmp.Or(e1, e2); err != nil {
			return page, err
		}
		page = MixPage{Moment: st.Moment, Names: st.names}
		if page.Stock, err = st.mix(m); err != nil {
			return page, err
		}
		page.Label = mixing.Label{
			Name: m.Facts.Name, Strength: page.Stock.Strength, Made: m.MadeAt.In(st.Zone), By: st.names[m.By], CheckedBy: strings.Join(checkers(m, st.names), " and "),
			ThrowAway: m.ThrowAway.In(st.Zone), From: m.Facts.From, Cautions: m.Facts.Cautions,
		}
		if i := st.horseAt(m.Horse); i >= 0 {
			page.Label.For = st.horses[i].Name
		}
		page.Lines = page.Label.Lines(st.Yard.Mark)
		if from, ok := st.find("bottle:" + string(m.Bottle)); !ok || !from.Blind {
			page.Working = m.Facts.Working
		}
		return page, nil
	})
}

// checkers names those who looked at a mix beside whoever made it.
func checkers(m tracker.Mix, names map[tracker.PersonID]string) (out []string) {
	for _, act := range m.Acts {
		if act.Kind == tracker.Checked && !slices.Contains(out, names[act.By]) {
			out = append(out, names[act.By])
		}
	}
	return out
}

// ActOnMix keeps something that was done about a mix: a second person checked it, somebody saw what is left, it is used
// up, or it was thrown away.
func (s *Service) ActOnMix(ctx context.Context, a Actor, form Form, id tracker.MixID, act tracker.StoreAct) error {
	act = tracker.StoreAct{ID: form.Record, Kind: act.Kind, Mix: id, By: a.Person.ID, Amount: act.Amount, Note: strings.TrimSpace(act.Note), Hash: form.Hash}
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		have, err := tx.StoreAct(act.ID)
		if before, err := form.sentBefore(have.Hash, err); before || err != nil {
			return err
		}
		var p tracker.Problems
		switch {
		case act.Kind == tracker.AmountLeft && act.Amount == "":
			p.Add("amount", "Say how much is left, like 180 mL.")
		case act.Kind != tracker.AmountLeft && act.Kind != tracker.Checked && !act.Kind.Ends():
			p.Add("kind", "Choose what was done from the list.")
		}
		checkText(&p, "note", act.Note, 200)
		if err := p.Err(); err != nil {
			return err
		}
		m, err := tx.Mix(id)
		if err != nil {
			return err
		}
		if !m.Ended.IsZero() {
			return tracker.Refuse(tracker.Conflict, "This mix has been used up or thrown away already. Its record stays as it is.")
		}
		if act.Kind == tracker.Checked && m.By == a.Person.ID {
			return tracker.Refuse(tracker.Conflict, "You made this mix. Only another person can check it; until then its label says so.")
		}
		act.At = now
		if act.Kind == tracker.AmountLeft {
			if err := mayBeLeft(m.Total, act.Amount, "there was when it was mixed"); err != nil {
				return err
			}
		}
		if err := tx.AddStoreAct(act); err != nil {
			return err
		}
		return note(tx, a, now, "mix: "+string(act.Kind), string(id), actLine(act))
	})
}
