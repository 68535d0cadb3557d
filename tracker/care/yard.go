package care

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"leground/tracker"
)

// Yard gives the actor's yard as it is now.
func (s *Service) Yard(ctx context.Context, a Actor) (Moment, error) {
	return reading(ctx, s, a.Yard, momentOf)
}

// ChangeYard keeps new settings of the yard; the old ones stay in the audit line. Identity, flags and
// clock fields of the given yard are ignored.
func (s *Service) ChangeYard(ctx context.Context, a Actor, in tracker.Yard) error {
	return s.owning(ctx, a, func(tx Tx, now time.Time) error {
		if err := YardProblems(in).Err(); err != nil {
			return err
		}
		old, err := tx.Yard()
		if err != nil {
			return err
		}
		next := old
		next.Name, next.Zone, next.Order, next.LegWords = strings.TrimSpace(in.Name), in.Zone, in.Order, in.LegWords
		next.Mark, next.RingName, next.RingNumber = in.Mark, strings.TrimSpace(in.RingName), strings.TrimSpace(in.RingNumber)
		next.Slots, next.SizeEvery = slices.Clone(in.Slots), in.SizeEvery
		slices.SortStableFunc(next.Slots, func(a, b tracker.Slot) int { return cmp.Compare(a.At, b.At) }) // the first is the day's first round
		if err := tx.SaveYard(next); err != nil {
			return err
		}
		if err := replan(tx, old, next, now); err != nil {
			return err
		}
		return note(tx, a, now, "yard changed", string(a.Yard), yardLine(old)+" -> "+yardLine(next))
	})
}

func yardLine(y tracker.Yard) string {
	return fmt.Sprintf("%s; %s; %s; ring %s %s; %v; size every %d days", y.Name, y.Zone, y.Order, y.RingName, y.RingNumber, y.Slots, y.SizeEvery)
}

// YardProblems lists the settings that cannot be right.
func YardProblems(y tracker.Yard) tracker.Problems {
	var p tracker.Problems
	checkName(&p, "yard", y.Name, "The yard's name")
	checkZoneAndOrder(&p, y.Zone, y.Order)
	if len(y.RingNumber) > 40 || len(y.RingName) > 80 {
		p.Add("ring_number", "The name and number to ring must fit in 80 and 40 letters.")
	}
	if y.SizeEvery < 1 || y.SizeEvery > 14 {
		p.Add("size_every", "Sizes must be planned every 1 to 14 days, like 1.")
	}
	if len(y.Slots) < 1 || len(y.Slots) > 6 {
		p.Add("slots", "A yard needs 1 to 6 rounds a day.")
	}
	seen := map[string]bool{}
	for _, slot := range y.Slots {
		if slot.Name == "" || len(slot.Name) > 20 || strings.ContainsAny(slot.Name, " \r\n\x00") || seen[slot.Name] {
			p.Add("slots", "Each round needs one short name of its own, like morning.")
		}
		seen[slot.Name] = true
	}
	return p
}

// LookedAt tells when the worker last looked for what is due; the zero time means never.
func (s *Service) LookedAt(ctx context.Context) (time.Time, error) {
	var at time.Time
	err := s.store.AcrossRead(ctx, func(g Gate) (err error) {
		at, err = g.LookedAt()
		return err
	})
	return at, err
}
