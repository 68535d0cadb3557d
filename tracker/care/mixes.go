package care

import (
	"cmp"
	"context"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
)

// MixView is the first step of a mix and, once that is whole, the second: what to do and how it was worked out.
type MixView struct {
	Moment
	Horses   []tracker.Horse // those in the yard
	Choices  []Stock         // what may be mixed from, the most suitable first
	Stopped  []Stock         // what may not, with the reason
	Measures Measures
	Recent   []tracker.Mix // what else was mixed for the horse in the last 24 hours
	Ask      MixAsk        // with what was chosen for the person

	Work *Work // the second step; nil: not asked for, or something is missing
}

// Work is a mix that was worked out.
type Work struct {
	Stock    Stock
	Want     mixing.Strength
	FromPlan bool // it is what the plan asks for
	Result   *mixing.Result
	Check    mixing.TenTimes
	Label    mixing.Label // as it will be
	Until    time.Time    // throw-away time
	Why      string
	Keeps    []mixing.Keeping // published limits that may be chosen in place of the usual one
	Shown    string           // stands for all that was shown
}

// Mixing gives the page of a mix. With work the first step is judged: what is missing or wrong is an error
// with the fields, beside the view. record is the id of the form that will record the mix.
func (s *Service) Mixing(ctx context.Context, a Actor, ask MixAsk, record tracker.RecordID, work bool) (MixView, error) {
	var problems tracker.Problems
	view, err := reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (view MixView, err error) {
		st, made, err := readForMix(tx, a, now)
		if err != nil {
			return view, err
		}
		view = MixView{Moment: st.Moment, Measures: st.measures}
		for _, h := range st.horses {
			if h.Place == tracker.Here {
				view.Horses = append(view.Horses, h)
			}
		}
		settled := ask
		step, err := st.named(tx, &settled)
		if err != nil {
			return view, err
		}
		view.Choices, view.Stopped, view.Recent = st.settle(&settled, made)
		view.Ask = settled
		if work {
			view.Work, problems = st.work(settled, step, made, record, a.Person)
		}
		return view, nil
	})
	if err == nil {
		err = problems.Err()
	}
	return view, err
}

// named makes sure that what a form names is in this yard: its horse, the plan step, which it gives, and the
// bottle or mix, which may have ended since.
func (s *stores) named(tx Tx, ask *MixAsk) (*planStep, error) {
	if ask.Horse != "" && s.horseAt(ask.Horse) < 0 {
		return nil, tracker.Refuse(tracker.NotFound, "This yard has no such horse. Go back to the Mix page.")
	}
	step, err := s.planStepOf(tx, *ask)
	if err != nil {
		return nil, err
	}
	ask.follow(step, s.Yard.Mark)
	return step, s.namedStock(tx, ask.Stock)
}

func (s *stores) namedStock(tx Tx, key string) error {
	if _, there := s.find(key); there || key == "" {
		return nil
	}
	var one Stock
	kind, id, _ := strings.Cut(key, ":")
	if kind == "mix" {
		m, err := tx.Mix(tracker.MixID(id))
		if err == nil {
			one, err = s.mix(m)
		}
		if err != nil {
			return err
		}
		s.mixes = append(s.mixes, one)
		return nil
	}
	b, err := tx.Bottle(tracker.BottleID(id))
	if err == nil {
		one, err = s.bottle(b)
	}
	if err != nil {
		return err
	}
	s.bottles = append(s.bottles, one)
	return nil
}

// readForMix reads Stores and what was mixed or put on lately, newest first of each.
func readForMix(tx Tx, a Actor, now time.Time) (*stores, []tracker.Mix, error) {
	st, e1 := readStores(tx, a, now)
	made, e2 := tx.MixesMade("", now.Add(-lastBatches))
	if err := cmp.Or(e1, e2); err != nil {
		return nil, nil, err
	}
	return st, append(made, st.putOnLately()...), nil
}

// work works a mix out. Its ten-times check depends on the record id, so that the same form asks the same.
func (s *stores) work(ask MixAsk, step *planStep, made []tracker.Mix, record tracker.RecordID, by tracker.Person) (*Work, tracker.Problems) {
	request, stock, problems := s.request(ask, made)
	if len(problems) > 0 {
		return nil, problems
	}
	w := &Work{Stock: stock, Want: request.Want, FromPlan: step.bind(&request)}
	w.Result = mixing.Mix(request)
	if w.Result.Refused() {
		return w, nil
	}
	if left, same := inUnit(w.Result.Concentrate, stock.Left.Unit, request.Stock.Density); same && left.Value.Cmp(stock.Left.Value) > 0 {
		problems.Add("stock", "By the book only "+stock.Left.Words(s.Yard.Mark)+" are left and this takes "+w.Result.Concentrate.Words(s.Yard.Mark)+
			". Take less, take another bottle, or write down what is really left.")
		return nil, problems
	}
	w.Check = mixing.NewTenTimes(w.Result.Concentrate, w.Result.Measure, pick(record), s.Yard.Mark)
	w.Keeps = keepings(w.Want)
	w.Until, w.Why = s.shelf(stock, nil).ThrowAway()
	w.Label = s.labelOf(w, by)
	if i := s.horseAt(ask.Horse); i >= 0 {
		w.Label.For = s.horses[i].Name
	}
	w.Shown = shown(w.Result)
	return w, nil
}

// pick takes a number from the random end of a record id.
func pick(record tracker.RecordID) int {
	if record == "" {
		return 0
	}
	return int(record[len(record)-1])
}

// shown stands for everything that a result says, so that a form is known to be about what was on the page.
func shown(r *mixing.Result) string { return shownLines(r.Working, r.Warnings...) }

func shownLines(working []mixing.Line, warnings ...mixing.Note) string {
	var text strings.Builder
	for _, line := range working {
		text.WriteString(line.Text + "\n")
	}
	for _, note := range warnings {
		text.WriteString(note.Text + "\n")
	}
	return HashToken(text.String())[:16]
}

// keepings gives the published limits that speak of a strength.
func keepings(want mixing.Strength) (out []mixing.Keeping) {
	for _, k := range mixing.Keepings() {
		size, err := want.In(mixing.PercentWV, nil)
		if err == nil && want.Of == k.Of && size.Value.Cmp(k.UpTo) <= 0 {
			out = append(out, k)
		}
	}
	return out
}

// shelf says what limits the life of a mix that is made now: 24 hours, what the label or the vet allows, or a
// published limit that was chosen; and what it is made from.
func (s *stores) shelf(stock Stock, chosen *mixing.Keeping) mixing.Shelf {
	facts := stock.Product.Facts
	shelf := mixing.Shelf{Made: s.Now.In(s.Zone), Keeps: time.Duration(facts.MixHours) * time.Hour, KeepsSource: facts.MixHoursBy, Parent: stock.ThrowAway}
	if chosen != nil {
		shelf.Keeps, shelf.KeepsSource = chosen.Keeps, chosen.Source
	}
	return shelf
}

// labelOf writes the label of a mix that is made now by somebody alone.
func (s *stores) labelOf(w *Work, by tracker.Person) mixing.Label {
	label := mixing.Label{
		Name: w.Stock.Product.Name, Strength: w.Result.Achieved, Made: s.Now.In(s.Zone), By: by.Name, ThrowAway: w.Until.In(s.Zone),
		From: w.Stock.Name + ", label " + w.Stock.ReadWords, Cautions: w.Stock.Product.Facts.Cautions,
	}
	if w.Stock.Diluted {
		label.From = w.Stock.Name + ", the mix of " + tracker.TimeName(w.Stock.Mix.MadeAt, s.Zone)
	}
	return label
}
