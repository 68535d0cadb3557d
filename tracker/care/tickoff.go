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

// TickOff ticks things off the Due list, or says why they were not done. The same record twice is one tick. What goes on a
// horse or into it is ticked before its round only where early says that this is meant.
func (s *Service) TickOff(ctx context.Context, a Actor, in tracker.TickOff, early bool) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		var p tracker.Problems
		checkRecord(&p, in.ID)
		if len(in.Items) == 0 || len(in.Items) > 50 {
			p.Add("item", "There is nothing left to tick off here. Load the page again.")
		}
		if in.Outcome == tracker.TickSkipped && strings.TrimSpace(in.Why) == "" {
			p.Add("why", "Say why it was not done, like: no time.")
		}
		checkText(&p, "why", in.Why, 200)
		if err := p.Err(); err != nil {
			return err
		}
		have, err := tx.TickOffByRecord(in.ID)
		if before, err := sentBefore(have.Hash == in.Hash, err); before || err != nil {
			return err
		}
		st, err := readYard(tx, a, now)
		if err != nil {
			return err
		}
		tasks, err := st.mayTick(tx, in)
		if err != nil {
			return err
		}
		weigh := slices.ContainsFunc(tasks, func(t rounds.Asked) bool { return t.Step.Kind == tracker.StepWeigh })
		if weigh && in.Outcome == tracker.TickDone {
			return tracker.Refuse(tracker.Invalid, "Write down the weight: that ticks it off.")
		}
		in.By = a.Person.ID
		if in.At.IsZero() || in.At.After(now) {
			in.At = now
		}
		for _, t := range tasks {
			if words := st.earlyWords(t, in.At); words != "" && in.Outcome == tracker.TickDone && !early {
				p.Add("early", words+" Was it given early? Tick that, and then Done. Else leave it for its round.")
				return p.Err()
			}
		}
		if err := tx.AddTickOff(in); err != nil {
			return err
		}
		if err := st.settleOneOffs(tx, in.Items, now); err != nil {
			return err
		}
		if err := settlePutOn(tx, st.Yard, a.Person.ID, "", rounds.Key{Day: in.Day, Slot: in.Slot}, now); err != nil {
			return err
		}
		if err := tx.WakeBy(now.Add(recordsSettle)); err != nil || in.Outcome != tracker.TickDone {
			return err
		}
		return st.addVisits(tx, in, tasks)
	})
}

// errNotDue is the answer to ticking off what no plan of the yard asks for.
var errNotDue = tracker.Refuse(tracker.NotFound, "There is no such thing due in this yard on that day. The plan may have changed: load the page again.")

// mayTick makes sure that what is ticked is due where it is said to be, and not still to come, and gives what of it
// plans ask for.
func (st *yardState) mayTick(tx Tx, in tracker.TickOff) (tasks []rounds.Asked, err error) {
	if in.Day < st.Today-carried || in.Day > st.Today+carried || in.Slot != "" && in.Day > st.Today {
		return nil, tracker.Refuse(tracker.Invalid, "Only what was due in the last six weeks can be ticked off; of rounds, up to today.")
	}
	if st.planned, err = readPlanned(tx, in.Day); err != nil {
		return nil, err
	}
	asked, _ := st.ask(in.Day, in.Day)
	for _, item := range in.Items {
		due := in.Slot == "" && slices.ContainsFunc(st.oneOffs, func(o tracker.OneOff) bool { return oneOffItem(o.ID) == item && o.Day == in.Day })
		for _, a := range asked {
			if a.When.ID == item && a.Site == "" && (a.Slot.Name == in.Slot || in.Slot == "" && a.Step.Kind.AnyTime()) {
				due, tasks = true, append(tasks, a)
			}
		}
		if !due {
			return nil, errNotDue
		}
	}
	return tasks, nil
}

// soon is how long before its round a medicine may be ticked without a question: common practice, no source.
const soon = time.Hour

// earlyWords says that an instant is before the round of something that goes on a horse or into it, so that no round's is
// ticked for another's; empty when it is not.
func (st yardState) earlyWords(a rounds.Asked, at time.Time) string {
	medicine := a.Step.Kind == tracker.StepGive || a.Step.Kind == tracker.StepApply
	if !medicine || !at.Before(rounds.Due(a.Day, a.Slot.At, st.Zone).Add(-soon)) {
		return ""
	}
	return "This is for the " + a.Slot.Name + " round, due at " + a.Slot.At.String() + "."
}

// addVisits notes what a tick says of the farrier and the vet as an event of each horse that it was for.
func (st *yardState) addVisits(tx Tx, tick tracker.TickOff, tasks []rounds.Asked) error {
	day := tracker.DateOf(tick.At.In(st.Zone))
	var visits []tracker.Event
	for _, t := range tasks {
		if t.Step.Kind == tracker.StepTrim {
			visits = append(visits, tracker.Event{Kind: tracker.FarrierVisit, Horse: t.Plan.Horse, Day: day})
		}
	}
	for _, o := range st.oneOffs {
		kind := map[tracker.OneOffKind]tracker.EventKind{tracker.VetComes: tracker.VetVisit, tracker.FarrierComes: tracker.FarrierVisit}[o.Kind]
		if kind == "" || !slices.Contains(tick.Items, oneOffItem(o.ID)) {
			continue
		}
		for _, h := range st.horses {
			if o.Horse == "" || o.Horse == h.ID {
				visits = append(visits, tracker.Event{Kind: kind, Horse: h.ID, Day: min(o.Day, day)})
			}
		}
	}
	for _, v := range visits {
		v.ID, v.At, v.By, v.Tick = NewRecord(), tick.At, tick.By, tick.ID
		if err := tx.AddEvent(v); err != nil {
			return err
		}
	}
	return nil
}

// tickWeighed ticks off that a horse was to be weighed, since its weight was written down.
func tickWeighed(tx Tx, check tracker.Check, now time.Time) error {
	if check.Subject != tracker.OfHorse || check.Vitals.WeightKG == 0 || check.Version > 1 {
		return nil
	}
	st, err := readBrief(tx, now)
	if err != nil {
		return err
	}
	for _, t := range st.standing(check.Day) {
		if done := recordedOf(t, nil, st.ticks); t.Step.Kind != tracker.StepWeigh || t.Plan.Horse != check.Horse || done.Done {
			continue
		}
		tick := tracker.TickOff{ID: check.ID, Outcome: tracker.TickDone, Items: []string{t.When.ID}, Day: t.Day, By: check.Looker, At: check.At, Hash: check.Hash}
		return tx.AddTickOff(tick)
	}
	return nil
}

// untickWeighed takes the tick back that a weight made.
func untickWeighed(tx Tx, taken tracker.Check, now time.Time) error {
	old, err := tx.TickOffByRecord(taken.Root)
	if tracker.KindOf(err) == tracker.NotFound {
		return nil
	} else if err != nil {
		return err
	}
	return tx.AddTickOff(tracker.TickOff{ID: taken.ID, Outcome: tracker.TickUndone, Items: old.Items, Day: old.Day, Of: old.ID, By: taken.By, At: now})
}

// settleOneOffs notes that one-offs among the items are done or called off; the zero time lets them stand again.
func (st *yardState) settleOneOffs(tx Tx, items []string, at time.Time) error {
	for _, o := range st.oneOffs {
		if slices.Contains(items, oneOffItem(o.ID)) {
			if err := tx.SettleOneOff(o.ID, at); err != nil {
				return err
			}
		}
	}
	return nil
}

// UndoTick takes a tick back. What was ticked stays in the book.
func (s *Service) UndoTick(ctx context.Context, a Actor, record, of tracker.RecordID) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		if !tracker.ValidID(string(record)) {
			return ErrLostRecord
		}
		have, err := tx.TickOffByRecord(record)
		if before, err := sentBefore(have.Of == of, err); before || err != nil {
			return err
		}
		old, err := tx.TickOffByRecord(of)
		if err != nil {
			return err
		}
		if old.Outcome == tracker.TickUndone {
			return tracker.Refuse(tracker.Invalid, "That was taken back already. Tick it off again instead.")
		}
		if _, err := tx.CheckByRecord(of); err == nil { // a weight says so
			return retract(tx, a, record, of, now)
		} else if tracker.KindOf(err) != tracker.NotFound {
			return err
		}
		st := yardState{}
		if st.planned, err = readPlanned(tx, old.Day); err != nil {
			return err
		}
		undo := tracker.TickOff{ID: record, Outcome: tracker.TickUndone, Items: old.Items, Day: old.Day, Slot: old.Slot, Of: of, By: a.Person.ID, At: now}
		if err := tx.AddTickOff(undo); err != nil {
			return err
		}
		if err := st.settleOneOffs(tx, old.Items, time.Time{}); err != nil {
			return err
		}
		yard, err := tx.Yard()
		if err != nil {
			return err
		}
		return settlePutOn(tx, yard, a.Person.ID, "", rounds.Key{Day: old.Day, Slot: old.Slot}, now)
	})
}

// AddOneOff notes something that is due once. The same record twice is one.
func (s *Service) AddOneOff(ctx context.Context, a Actor, in tracker.OneOff) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		var p tracker.Problems
		checkRecord(&p, in.ID)
		if !in.Kind.Known() {
			p.Add("kind", "Choose what it is from the list.")
		}
		if in.What = strings.TrimSpace(in.What); in.What == "" && in.Kind == tracker.OtherOnce {
			p.Add("what", "Say what is due, like: blood test.")
		}
		checkText(&p, "what", in.What, 120)
		have, err := tx.OneOffByRecord(in.ID)
		if before, err := sentBefore(have.Hash == in.Hash, err); before || err != nil {
			return err
		}
		st, err := readYard(tx, a, now)
		if err != nil {
			return err
		}
		if in.Horse != "" {
			if _, err := tx.Horse(in.Horse); err != nil {
				return err
			}
		}
		if in.Day < st.Today || in.Day > st.Today+366 {
			p.Add("day", "The day must be today or within a year, like "+(st.Today+3).String()+".")
		}
		if err := p.Err(); err != nil {
			return err
		}
		in.What = cmp.Or(in.What, map[tracker.OneOffKind]string{tracker.VetComes: "The vet comes", tracker.FarrierComes: "The farrier comes"}[in.Kind])
		in.By, in.MadeAt = a.Person.ID, now
		if err := tx.AddOneOff(in); err != nil {
			return err
		}
		return tx.WakeBy(now)
	})
}
