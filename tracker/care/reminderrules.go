package care

import (
	"context"
	"fmt"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// ReminderRulesView is the yard's rules about messages.
type ReminderRulesView struct {
	Moment
	Rules    ReminderRules
	People   []Contact
	Order    map[string][]Contact // by slot, as they are asked
	Warnings map[string][]string  // by slot: who cannot be asked when it is due, and why
}

// ReminderRules gives the yard's rules about messages.
func (s *Service) ReminderRules(ctx context.Context, a Actor) (ReminderRulesView, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (view ReminderRulesView, err error) {
		d, err := s.open(tx, now, now)
		if err != nil {
			return view, err
		}
		view = ReminderRulesView{Moment: d.Moment, Rules: d.set, People: d.contacts, Order: map[string][]Contact{}, Warnings: map[string][]string{}}
		for _, slot := range d.Yard.Slots {
			people := d.people(slot.Name)
			names := map[tracker.PersonID]string{}
			for _, p := range people {
				i := slices.IndexFunc(d.contacts, func(c Contact) bool { return c.ID == p.ID })
				view.Order[slot.Name] = append(view.Order[slot.Name], d.contacts[i])
				names[p.ID] = d.contacts[i].Name
			}
			due := tracker.Round{Day: d.Today, Slot: slot.Name, DueAt: rounds.Due(d.Today, slot.At, d.Zone)}
			_, warnings := rounds.Turns(due, d.Zone, people)
			for _, w := range warnings {
				view.Warnings[slot.Name] = append(view.Warnings[slot.Name], warningLine(names[w.Person], w.Why))
			}
		}
		return view, nil
	})
}

func warningLine(name string, why rounds.Reason) string {
	switch {
	case name == "":
		return why.Sentence()
	case why == rounds.QuietHours:
		return name + " has quiet hours then: asked only when others cannot be, and at their end."
	}
	return fmt.Sprintf("%s is not asked. %s", name, why.Sentence())
}

// ChangeReminderRules keeps the yard's ladder, budget and order of people; its closed days stay.
func (s *Service) ChangeReminderRules(ctx context.Context, a Actor, in ReminderRules) error {
	return s.changeRules(ctx, a, "reminder rules changed", false, func(tx Tx, m Moment, set *ReminderRules) error {
		if err := (rounds.Rules{Zone: m.Zone, Ladder: in.Ladder, Budget: in.Budget}).Check(); err != nil {
			return tracker.Refuse(tracker.Invalid, tracker.Capital(err.Error())+".")
		}
		people, err := tx.Contacts()
		if err != nil {
			return err
		}
		for _, order := range in.Turns {
			for _, id := range order {
				if !slices.ContainsFunc(people, func(c Contact) bool { return c.ID == id }) {
					return tracker.Refuse(tracker.NotFound, "One of these people is not in the yard any more. Load the page again.")
				}
			}
		}
		in.Closed = set.Closed
		*set = in
		return nil
	})
}

// CloseDays keeps days on which the yard has no rounds. Where medicines and what the vet set fall out by it, known says that
// whoever closes it was told.
func (s *Service) CloseDays(ctx context.Context, a Actor, c Closing, known bool) error {
	var p tracker.Problems
	if c.From == 0 || c.To < c.From {
		p.Add("from", "Give the first and the last day on which the yard is closed.")
	}
	checkText(&p, "why", c.Why, 80)
	if err := p.Err(); err != nil {
		return err
	}
	return s.changeRules(ctx, a, "yard closed", true, func(tx Tx, m Moment, set *ReminderRules) error {
		if !known {
			st, err := readYard(tx, a, m.Now)
			if err != nil {
				return err
			}
			var falls tracker.Problems
			st.checkFallsOut(&falls, rounds.Absence{Span: c.Span})
			if err := falls.Err(); err != nil {
				return err
			}
		}
		set.Closed = slices.DeleteFunc(slices.Clone(set.Closed), func(x Closing) bool { return x.Span == c.Span || x.To < m.Today-feedBack })
		if len(set.Closed) >= mostAway {
			return tracker.Refuse(tracker.Invalid, fmt.Sprintf("At most %d closed times can be kept. Take one out first.", mostAway))
		}
		set.Closed = append(set.Closed, c)
		return nil
	})
}

// OpenDays takes closed days out again.
func (s *Service) OpenDays(ctx context.Context, a Actor, span Span) error {
	return s.changeRules(ctx, a, "yard open again", true, func(_ Tx, _ Moment, set *ReminderRules) error {
		set.Closed = slices.DeleteFunc(slices.Clone(set.Closed), func(x Closing) bool { return x.Span == span })
		return nil
	})
}

func (s *Service) changeRules(ctx context.Context, a Actor, what string, calendar bool, change func(Tx, Moment, *ReminderRules) error) error {
	return s.owning(ctx, a, func(tx Tx, now time.Time) error {
		moment, err := momentOf(tx, now)
		if err != nil {
			return err
		}
		set, err := reminderRules(tx, moment.Zone)
		if err != nil {
			return err
		}
		before := set
		if err := change(tx, moment, &set); err != nil {
			return err
		}
		if err := tx.SaveReminderRules(set); err != nil {
			return err
		}
		if err := calendarChanged(tx, now, calendar); err != nil {
			return err
		}
		return note(tx, a, now, what, string(a.Yard), fmt.Sprintf("%+v -> %+v", before, set))
	})
}
