package care

import (
	"cmp"
	"context"
	"fmt"
	"strings"
	"time"
	"unicode/utf8"

	"leground/tracker"
)

// Horses lists the yard's horses.
func (s *Service) Horses(ctx context.Context, a Actor) ([]tracker.Horse, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, _ time.Time) ([]tracker.Horse, error) { return tx.Horses() })
}

// Outline is what the forms about one horse need.
type Outline struct {
	Moment
	Horse  tracker.Horse
	Sites  []tracker.Site
	People []tracker.Member
}

// Outline gives what the forms about one horse need.
func (s *Service) Outline(ctx context.Context, a Actor, id tracker.HorseID) (Outline, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (view Outline, err error) {
		var errs [4]error
		view.Moment, errs[0] = momentOf(tx, now)
		view.Horse, errs[1] = tx.Horse(id)
		view.Sites, errs[2] = tx.Sites(id)
		view.People, errs[3] = tx.Members()
		return view, cmp.Or(errs[:]...)
	})
}

// AddHorse takes a horse into the yard. ID is the form's record id, so the same post twice is one horse; with
// other facts it is ErrOtherContent.
func (s *Service) AddHorse(ctx context.Context, a Actor, in tracker.Horse) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		if err := checkHorse(tx, in, now); err != nil {
			return err
		}
		have, err := tx.Horse(in.ID)
		in.Name, in.Place = strings.TrimSpace(in.Name), have.Place
		if before, err := sentBefore(horseLine(in) == horseLine(have), err); before || err != nil {
			return err
		}
		horses, err := tx.Horses()
		if err != nil {
			return err
		}
		in.Place, in.CreatedAt = tracker.Here, now
		for _, h := range horses {
			in.Position = max(in.Position, h.Position)
		}
		in.Position++
		if err := tx.AddHorse(in); err != nil {
			return err
		}
		if err := calendarChanged(tx, now, in.IsolatedUntil != 0); err != nil {
			return err
		}
		return note(tx, a, now, "horse taken in", string(in.ID), in.Name)
	})
}

// ChangeHorse keeps new facts about a horse; the old ones stay in the audit line.
func (s *Service) ChangeHorse(ctx context.Context, a Actor, in tracker.Horse) error {
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		if err := checkHorse(tx, in, now); err != nil {
			return err
		}
		old, err := tx.Horse(in.ID)
		if err != nil {
			return err
		}
		next := old
		next.Name, next.Sort, next.Order, next.OrderReason = strings.TrimSpace(in.Name), in.Sort, in.Order, in.OrderReason
		next.Handling, next.IsolatedUntil, next.Tetanus, next.Arrived, next.Food = in.Handling, in.IsolatedUntil, in.Tetanus, in.Arrived, in.Food
		if in.Place != 0 {
			next.Place = in.Place
		}
		if err := tx.SaveHorse(next); err != nil {
			return err
		}
		if err := calendarChanged(tx, now, next.IsolatedUntil != old.IsolatedUntil); err != nil {
			return err
		}
		return note(tx, a, now, "horse changed", string(in.ID), horseLine(old)+" -> "+horseLine(next))
	})
}

func horseLine(h tracker.Horse) string {
	return fmt.Sprintf("%s; %s; order %s (%s); handling %s; isolated until %s; tetanus %s; food chain %s; arrived %s; %s",
		h.Name, h.Sort, h.Order, h.OrderReason, h.Handling, h.IsolatedUntil, h.Tetanus.Last, tracker.FoodName(h.Food), h.Arrived, h.Place)
}

// checkHorse refuses facts about a horse that cannot be right today.
func checkHorse(tx Tx, h tracker.Horse, now time.Time) error {
	p := HorseProblems(h)
	m, err := momentOf(tx, now)
	if err != nil {
		return err
	}
	if h.Arrived > m.Today {
		p.Add("arrived", "The day it came cannot be after today. Leave it empty, and write it down when the horse is here.")
	}
	if h.Tetanus.Last > m.Today {
		p.Add("tetanus", "The last tetanus dose cannot be after today. Write down the one that it had, not one that is planned.")
	}
	return p.Err()
}

// HorseProblems lists the facts about a horse that cannot be right whatever day it is.
func HorseProblems(h tracker.Horse) tracker.Problems {
	var p tracker.Problems
	if !tracker.ValidID(string(h.ID)) {
		p.Add("id", "This form has lost its record id. Open the page again.")
	}
	checkName(&p, "name", h.Name, "The horse's name")
	for _, f := range []struct{ field, text string }{{"sort", h.Sort}, {"handling", h.Handling}, {"order_reason", h.OrderReason}} {
		checkText(&p, f.field, f.text, 200)
	}
	if h.IsolatedUntil != 0 && h.IsolatedUntil < h.Arrived {
		p.Add("isolated_until", "Isolation cannot end before the horse came. Put one of the two days right.")
	}
	if len(h.Order) != 0 && len(h.Order) != 4 {
		p.Add("order", "The walking order must name LF, RF, RH and LH once each.")
	}
	if len(h.Order) == 4 && strings.TrimSpace(h.OrderReason) == "" {
		p.Add("order_reason", "Say why this horse has its own order, like: kicks on the right hind.")
	}
	return p
}

// checkText notes a text that is too long or holds a NUL.
func checkText(p *tracker.Problems, field, text string, most int) {
	if utf8.RuneCountInString(text) > most || strings.ContainsRune(text, 0) || !utf8.ValidString(text) {
		p.Add(field, fmt.Sprintf("This text is too long to keep, or holds something that is no letter. Shorten it to %s letters.", tracker.FormatFloat(float64(most), 0, tracker.Point)))
	}
}
