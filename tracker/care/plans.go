package care

import (
	"cmp"
	"context"
	"fmt"
	"math/big"
	"slices"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
)

// PlanPreview is what a draft means, before it is kept.
type PlanPreview struct {
	Moment
	Horse    tracker.Horse
	Plan     PlanWords
	Weeks    []GridWeek
	Warnings []string // of mixing, that whoever sets the plan must see
	Marks    []string // sites on whose trend a change of wash will be marked, and what it says
}

// PreviewPlan says what a draft means: its steps in words and the next two weeks. Nothing is kept. Everything
// that is wrong with the draft comes back at once.
func (s *Service) PreviewPlan(ctx context.Context, a Actor, in PlanDraft) (PlanPreview, error) {
	if err := a.may(tracker.Owner); err != nil {
		return PlanPreview{}, err
	}
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (out PlanPreview, err error) {
		st, err := readYard(tx, a, now)
		if err != nil {
			return out, err
		}
		d, err := draftOf(tx, st, a, in)
		if err != nil {
			return out, err
		}
		plan, err := d.version()
		if err != nil {
			return out, err
		}
		people, err := names(tx)
		if err != nil {
			return out, err
		}
		out = PlanPreview{Moment: st.Moment, Horse: d.horse, Warnings: d.warnings}
		plan.At = now
		before := st
		st.plans = append(slices.Clone(st.plans), plan)
		for site, words := range before.washChanges(st) {
			out.Marks = append(out.Marks, st.siteTag(site)+": "+words)
		}
		slices.Sort(out.Marks)
		st.plans = slices.DeleteFunc(st.plans, func(p tracker.Plan) bool { return p.Root != plan.Root })
		st.products, st.weight = d.products, d.weight
		out.Plan = st.planWords(out.Horse, &plan, people, 1)
		out.Weeks = st.grid(in.Horse, []PlanWords{out.Plan}, max(st.Today, plan.Starts), 2, nil)
		return out, nil
	})
}

// draftOf reads what a draft is held against.
func draftOf(tx Tx, st yardState, a Actor, in PlanDraft) (*drafting, error) {
	var e1, e2 error
	d := &drafting{yard: st.Yard, round: st.round, today: st.Today, actor: a, draft: in}
	d.horse, e1 = tx.Horse(in.Horse)
	d.products, e2 = tx.Products()
	if err := cmp.Or(e1, e2); err != nil {
		return nil, err
	}
	for _, site := range st.sites {
		if site.Horse == in.Horse {
			d.sites = append(d.sites, site)
		}
	}
	for _, id := range in.Sites {
		if _, err := tx.Site(id); err != nil {
			return nil, err
		}
	}
	var err error
	if d.weight, err = lastWeight(tx, in.Horse); err != nil {
		return nil, err
	}
	if in.From != "" {
		if d.from, err = wordsFor(tx, in.From, in.Horse); err != nil {
			return nil, err
		}
	}
	if in.Changes == "" {
		return d, nil
	}
	old, err := tx.PlanByRecord(in.Changes)
	if err != nil {
		return nil, err
	}
	if old.Horse != in.Horse {
		return nil, tracker.Refuse(tracker.Invalid, "A plan cannot be moved to another horse. Write a new one there.")
	}
	versions, err := tx.PlanVersions(old.Root)
	if err != nil {
		return nil, err
	}
	if last := versions[len(versions)-1]; last.ID != old.ID {
		return nil, tracker.Refuse(tracker.Conflict, "Somebody has changed this plan meanwhile. Look at it as it is now, then change that.")
	}
	d.old = &old
	return d, nil
}

// SavePlan keeps a draft as a version of its plan; the versions before it stay as they were. The same record
// twice is one version. Where it changes what a site is washed with from now on, the site's trend is marked.
func (s *Service) SavePlan(ctx context.Context, a Actor, in PlanDraft) (tracker.Plan, error) {
	var plan tracker.Plan
	err := s.owning(ctx, a, func(tx Tx, now time.Time) error {
		have, err := tx.PlanByRecord(in.Record)
		plan = have
		if before, err := sentBefore(have.Hash == in.Hash, err); before || err != nil {
			return err
		}
		st, err := readYard(tx, a, now)
		if err != nil {
			return err
		}
		d, err := draftOf(tx, st, a, in)
		if err != nil {
			return err
		}
		if plan, err = d.version(); err != nil {
			return err
		}
		if err := st.keepPlan(tx, a, &plan, "plan set"); err != nil || d.from == nil {
			return err
		}
		return st.takeWords(tx, a, plan, *d.from)
	})
	return plan, err
}

// wordsFor finds what a vet wrote about a horse, to make a plan of it.
func wordsFor(tx Tx, id tracker.RecordID, horse tracker.HorseID) (*tracker.Proposal, error) {
	from, err := tx.ProposalByRecord(id)
	switch {
	case err != nil:
		return nil, err
	case from.Horse != horse:
		return nil, tracker.Refuse(tracker.Invalid, "This was written about another horse. Open the plan's form there.")
	case from.State != tracker.Waiting && from.State != tracker.Accepted:
		return nil, tracker.Refuse(tracker.Conflict, "This was declined, or is no longer asked for. Write the plan without it.")
	}
	return &from, nil
}

// takeWords accepts what a vet wrote, since a plan was made of it, and keeps the words with the plan.
func (st yardState) takeWords(tx Tx, a Actor, plan tracker.Plan, from tracker.Proposal) error {
	if from.State == tracker.Waiting {
		from.State, from.AnsweredBy, from.AnsweredAt = tracker.Accepted, a.Person.ID, st.Now
		if err := tx.SaveProposal(from); err != nil {
			return err
		}
	}
	read := tracker.PlanRead{ID: NewRecord(), Plan: plan.ID, Kind: tracker.VetsWords, By: a.Person.ID, At: st.Now, Day: tracker.DateOf(from.At.In(st.Zone)),
		Name: from.Name, Typed: strings.TrimSpace(from.Plan + "\n" + from.RingIf), Hash: from.Hash}
	if err := tx.AddPlanRead(read); err != nil {
		return err
	}
	return note(tx, a, st.Now, "plan confirmed", string(plan.Root), string(read.Kind)+": "+read.Name)
}

// keepPlan adds a version and what follows from it.
func (st yardState) keepPlan(tx Tx, a Actor, plan *tracker.Plan, action string) error {
	plan.At = st.Now
	if err := tx.AddPlan(*plan); err != nil {
		return err
	}
	after := st
	after.plans = append(slices.Clone(st.plans), *plan)
	if err := st.markChanges(tx, st.washChanges(after), plan); err != nil {
		return err
	}
	if err := tx.WakeBy(st.Now); err != nil {
		return err
	}
	return note(tx, a, st.Now, action, string(plan.Root), fmt.Sprintf("version %d, from %s", plan.Version, plan.Starts))
}

// StopPlan ends a plan from the round that is on. What it said stays.
func (s *Service) StopPlan(ctx context.Context, a Actor, record, of tracker.RecordID, why string) error {
	return s.owning(ctx, a, func(tx Tx, now time.Time) error {
		var p tracker.Problems
		checkRecord(&p, record)
		if strings.TrimSpace(why) == "" {
			p.Add("why", "Say why it ends, like: the vet said so on 14 May.")
		}
		checkText(&p, "why", why, 200)
		if err := p.Err(); err != nil {
			return err
		}
		have, err := tx.PlanByRecord(record)
		if before, err := sentBefore(have.Stopped && have.Note == why, err); before || err != nil {
			return err
		}
		st, e1 := readYard(tx, a, now)
		old, e2 := tx.PlanByRecord(of)
		if err := cmp.Or(e1, e2); err != nil {
			return err
		}
		d, err := draftOf(tx, st, a, PlanDraft{Horse: old.Horse, Changes: of})
		if err != nil {
			return err
		}
		d.start()
		stop := old
		stop.ID, stop.Version, stop.Stopped, stop.Note, stop.Reads, stop.By = record, old.Version+1, true, why, nil, a.Person.ID
		stop.Starts, stop.StartAt, stop.Last, stop.Hash = d.plan.Starts, d.plan.StartAt, d.plan.Starts, ""
		return st.keepPlan(tx, a, &stop, "plan stopped")
	})
}

// Typed is what a second person typed of a medicine, without seeing the first entry.
type Typed struct{ Weight, Label string }

// ReadPlanBack notes that a second person read a version back. Of a medicine by weight they typed the weight and
// the strength blind: where these are not what the plan says, that is kept too, and said wherever it is used.
func (s *Service) ReadPlanBack(ctx context.Context, a Actor, in tracker.PlanRead, typed map[string]Typed) (tracker.PlanRead, error) {
	err := s.recording(ctx, a, func(tx Tx, now time.Time) error {
		plan, again, err := readingFor(tx, &in)
		if err != nil || again {
			return err
		}
		if plan.By == a.Person.ID {
			return tracker.Refuse(tracker.Forbidden, "You entered this plan yourself. Somebody else must read it back, or the vet confirm it.")
		}
		in.Kind, in.Typed, in.By, in.At = tracker.ReadBack, "", a.Person.ID, now
		var p tracker.Problems
		for _, step := range plan.Steps {
			if step.Kind == tracker.StepGive {
				differs, err := readDose(&p, step, typed[step.ID])
				if err != nil {
					return err
				}
				if differs != "" {
					in.Kind, in.Typed = tracker.ReadDiffers, strings.TrimPrefix(in.Typed+"; "+differs, "; ")
				}
			}
		}
		if err := p.Err(); err != nil {
			return err
		}
		if err := tx.AddPlanRead(in); err != nil {
			return err
		}
		return note(tx, a, now, "plan "+string(in.Kind), string(plan.Root), in.Typed)
	})
	return in, err
}

// readDose holds what a second person typed of a medicine against the order, and says what differs.
func readDose(p *tracker.Problems, step tracker.PlanStep, typed Typed) (differs string, err error) {
	weight, err := tracker.ParseNumber(typed.Weight, "kg")
	if err != nil {
		p.Add(step.ID+"_weight", tracker.Capital(err.Error()))
	}
	label, err := mixing.ParseStrength(typed.Label, mixing.Substance(step.Of))
	if err != nil {
		p.Add(step.ID+"_label", tracker.Capital(err.Error()))
	}
	if len(*p) > 0 {
		return "", nil
	}
	wantWeight, err := Fraction(step.Order.WeightKG)
	if err != nil {
		return "", err
	}
	wantLabel, err := Strength(step.Order.Label)
	if err != nil {
		return "", err
	}
	if wantWeight.Cmp(weight) == 0 && wantLabel.Same(label) {
		return "", nil
	}
	return doseWords(step, weight, label), nil
}

// doseWords says what a second person reads of a medicine: "Paste B: 740 kg, 10 g per 100 mL".
func doseWords(step tracker.PlanStep, weight *big.Rat, label mixing.Strength) string {
	return step.Of + ": " + tracker.FormatAmount(new(big.Rat).Set(weight), 4, "kg", tracker.Point) + ", " + label.Words(tracker.Point)
}

// enteredWords says the same of an order as it was entered.
func enteredWords(step tracker.PlanStep) string {
	weight, err := Fraction(step.Order.WeightKG)
	if err != nil || weight == nil {
		return step.Of + ": a weight that cannot be read"
	}
	label, err := Strength(step.Order.Label)
	if err != nil {
		return step.Of + ": a strength that cannot be read"
	}
	return doseWords(step, weight, label)
}

// readingFor finds the version that a reading is about; again tells that the same form came before.
func readingFor(tx Tx, in *tracker.PlanRead) (plan tracker.Plan, again bool, err error) {
	if !tracker.ValidID(string(in.ID)) {
		return plan, false, ErrLostRecord
	}
	have, err := tx.PlanReadByRecord(in.ID)
	if again, err = sentBefore(have.Hash == in.Hash && have.Plan == in.Plan, err); again || err != nil {
		*in = have
		return plan, again, err
	}
	plan, err = tx.PlanByRecord(in.Plan)
	return plan, false, err
}

// ConfirmPlan notes that the vet confirmed a version, by phone or on a visit.
func (s *Service) ConfirmPlan(ctx context.Context, a Actor, in tracker.PlanRead) error {
	return s.owning(ctx, a, func(tx Tx, now time.Time) error {
		plan, again, err := readingFor(tx, &in)
		if again || err != nil {
			return err
		}
		st, err := readYard(tx, a, now)
		if err != nil {
			return err
		}
		var p tracker.Problems
		if in.Kind != tracker.VetByPhone && in.Kind != tracker.VetOnVisit {
			p.Add("kind", "Say how the vet confirmed it: by phone or on a visit.")
		}
		checkName(&p, "name", in.Name, "The vet's name")
		if in.Day == 0 {
			in.Day = st.Today
		}
		if in.Day > st.Today {
			p.Add("day", "The day on which the vet said so cannot be after today.")
		}
		if err := p.Err(); err != nil {
			return err
		}
		in.By, in.At, in.Typed = a.Person.ID, now, ""
		if err := tx.AddPlanRead(in); err != nil {
			return err
		}
		return note(tx, a, now, "plan confirmed", string(plan.Root), string(in.Kind)+": "+in.Name)
	})
}

func names(tx Tx) (map[tracker.PersonID]string, error) {
	members, err := tx.Members()
	return namesOf(members), err
}

func namesOf(members []tracker.Member) map[tracker.PersonID]string {
	out := map[tracker.PersonID]string{}
	for _, m := range members {
		out[m.ID] = m.Name
	}
	return out
}

// siteTag names a site of the yard.
func (st yardState) siteTag(id tracker.SiteID) string {
	for _, site := range st.sites {
		if site.ID == id {
			return site.Tag()
		}
	}
	return ""
}
