package care

import (
	"reflect"
	"slices"
	"time"

	"leground/tracker"
)

// Beside is another look at the same site or leg in the same round. Both are kept and neither is averaged.
type Beside struct {
	Check tracker.Check
	By    string            // who looked
	Twice []tracker.CareAct // care that both say was done: given twice?
}

// again gives of a record that came before what its first answer said, which may have been lost on the way.
func again(tx Tx, id tracker.RecordID) (Saved, error) {
	check, err := tx.CheckByRecord(id)
	if err != nil {
		return Saved{}, err
	}
	saved := Saved{Check: check, Again: true}
	if saved.Beside, err = besides(tx, check); err != nil {
		return saved, err
	}
	raised, err := tx.CautionsSince(check.Horse, check.ServerAt)
	for _, c := range raised {
		if c.Check == saved.Check.ID {
			saved.Raised = append(saved.Raised, c)
		}
	}
	return saved, err
}

// besides finds, among the other looks at what a check is about in its round, the newest; nil when there is none.
func besides(tx Tx, check tracker.Check) (*Beside, error) {
	if check.Outcome != tracker.Looked {
		return nil, nil
	}
	looks, err := tx.InRound(check)
	if err != nil {
		return nil, err
	}
	var out *Beside
	for _, c := range looks {
		if c.Outcome != tracker.Looked {
			continue
		}
		out = &Beside{Check: c, Twice: append(twice(out), sameCare(c, check)...)}
	}
	if out == nil {
		return nil, nil
	}
	slices.Sort(out.Twice)
	out.Twice = slices.Compact(out.Twice)
	people, err := tx.Members()
	for _, p := range people {
		if p.ID == out.Check.Looker {
			out.By = p.Name
		}
	}
	return out, err
}

func twice(b *Beside) []tracker.CareAct {
	if b == nil {
		return nil
	}
	return b.Twice
}

func sameCare(a, b tracker.Check) []tracker.CareAct {
	return slices.DeleteFunc(slices.Clone(a.Care), func(act tracker.CareAct) bool { return !slices.Contains(b.Care, act) })
}

// setBack gives how far a phone's clock stood ahead when it kept something, where it was put back before
// it sent: then less time has passed by that clock than by the one that nobody can set.
func setBack(in Entry) time.Duration {
	if in.Age <= 0 || in.SentAt.IsZero() || in.Check.DeviceAt.IsZero() {
		return 0
	}
	if by := in.Age - in.SentAt.Sub(in.Check.DeviceAt); by > trustedClock {
		return by
	}
	return 0
}

// Doubled is a site or leg that was looked at more than once in the round.
type Doubled struct {
	What   string          // its tag
	Checks []tracker.Check // oldest first
	Twice  []tracker.CareAct
}

// found is what a look says, without who looked, when and by which form.
func found(c tracker.Check) tracker.Check {
	return tracker.Check{Outcome: c.Outcome, Size: c.Size, Bed: c.Bed, Scab: c.Scab, Bandage: c.Bandage, Hair: c.Hair, Clipped: c.Clipped, Sedated: c.Sedated,
		SkinSeen: c.SkinSeen, Signs: c.Signs, Dangers: c.Dangers, Flags: c.Flags, Care: c.Care, Vitals: c.Vitals, Skip: c.Skip, Note: c.Note}
}

// doubled lists what of a leg was looked at more than once, unless all found the same and nothing was given twice.
func doubled(leg RoundLeg) []Doubled {
	var out []Doubled
	add := func(what string, here *tracker.Check, others []tracker.Check) {
		if here == nil || len(others) == 0 {
			return
		}
		d := Doubled{What: what, Checks: append(slices.Clone(others), *here)}
		for i, a := range d.Checks {
			for _, b := range d.Checks[:i] {
				d.Twice = append(d.Twice, sameCare(a, b)...)
			}
		}
		slices.Sort(d.Twice)
		d.Twice = slices.Compact(d.Twice)
		differs := slices.ContainsFunc(others, func(c tracker.Check) bool { return !reflect.DeepEqual(found(c), found(*here)) })
		if differs || len(d.Twice) > 0 {
			out = append(out, d)
		}
	}
	add(leg.Leg.String(), leg.Here, leg.Others)
	for _, card := range leg.Cards {
		add(card.Site.Tag(), card.Here, card.Others)
	}
	return out
}
