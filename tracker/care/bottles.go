package care

import (
	"cmp"
	"context"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
)

// NewBottle is a bottle that came, with the strength that one person reads from its label.
type NewBottle struct {
	Product  tracker.ProductID
	Size     mixing.Amount
	Expiry   tracker.Date
	Opened   tracker.Date // zero: still sealed
	Strength string       // as typed from the label
}

// AddBottle puts a bottle into Stores. The strength is the first of two blind readings.
func (s *Service) AddBottle(ctx context.Context, a Actor, form Form, in NewBottle) error {
	id := tracker.BottleID(form.Record)
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		have, err := tx.Bottle(id)
		if before, err := form.sentBefore(have.Hash, err); before || err != nil {
			return err
		}
		if in.Size.Value == nil {
			return tracker.RefuseField("size", "Say how much it holds, like 500 mL.")
		}
		read, err := readLabel(tx, in.Product, in.Strength)
		if err != nil {
			return err
		}
		b := tracker.Bottle{ID: id, Product: in.Product, Size: ExactAmount(in.Size), Expiry: in.Expiry, AddedAt: now, AddedBy: a.Person.ID, Hash: form.Hash}
		act := tracker.StoreAct{ID: NewRecord(), Kind: tracker.LabelRead, Bottle: id, At: now, By: a.Person.ID, Strength: read}
		b.Acts = append(b.Acts, act)
		if in.Opened != 0 {
			if err := checkOpened(tx, in.Opened, now); err != nil {
				return err
			}
			b.Acts = append(b.Acts, tracker.StoreAct{ID: NewRecord(), Kind: tracker.Opened, Bottle: id, At: now, By: a.Person.ID, Day: in.Opened})
		}
		if err := tx.AddBottle(b); err != nil {
			return err
		}
		return note(tx, a, now, "bottle added", string(id), string(b.Size)+"; "+string(act.Strength)+"; use by "+in.Expiry.String())
	})
}

// readLabel reads a strength as typed from a label of a product. What it counts is the product's.
func readLabel(tx Tx, id tracker.ProductID, typed string) (tracker.StrengthText, error) {
	product, err := tx.Product(id)
	if err != nil {
		return "", err
	}
	listed, err := Strength(product.Label)
	if err != nil {
		return "", err
	}
	var p tracker.Problems
	read, err := mixing.ParseStrength(typed, listed.Of)
	if strings.TrimSpace(typed) == "" {
		p.Add("strength", "Type the strength from the label in your hand, like 2% w/v or 20 mg/mL.")
	} else if err != nil {
		p.Add("strength", err.Error())
	}
	return ExactStrength(read), p.Err()
}

func checkOpened(tx Tx, day tracker.Date, now time.Time) error {
	m, err := momentOf(tx, now)
	if err == nil && day > m.Today {
		err = tracker.RefuseField("opened", "The day it was opened cannot be after today.")
	}
	return err
}

// BottlePage is one bottle with everything that was done about it.
type BottlePage struct {
	Moment
	Stock Stock
	Names map[tracker.PersonID]string
}

// Bottle gives one bottle, ended or not.
func (s *Service) Bottle(ctx context.Context, a Actor, id tracker.BottleID) (BottlePage, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (BottlePage, error) {
		b, e1 := tx.Bottle(id)
		st, e2 := readStores(tx, a, now)
		if err := cmp.Or(e1, e2); err != nil {
			return BottlePage{}, err
		}
		stock, err := st.bottle(b)
		return BottlePage{st.Moment, stock, st.names}, err
	})
}

// ActOnBottle keeps something that was done about a bottle. Of the act, Kind, Day, Amount and Note are used;
// typed is the strength as somebody read it from the label.
func (s *Service) ActOnBottle(ctx context.Context, a Actor, form Form, id tracker.BottleID, act tracker.StoreAct, typed string) error {
	act = tracker.StoreAct{ID: form.Record, Kind: act.Kind, Bottle: id, By: a.Person.ID, Day: act.Day, Amount: act.Amount, Note: strings.TrimSpace(act.Note), Hash: form.Hash}
	return s.recording(ctx, a, func(tx Tx, now time.Time) error {
		have, err := tx.StoreAct(act.ID)
		if before, err := form.sentBefore(have.Hash, err); before || err != nil {
			return err
		}
		if act.Kind == tracker.LabelSettled {
			if err := a.may(tracker.Owner); err != nil {
				return err
			}
		}
		if err := checkBottleAct(act); err != nil {
			return err
		}
		act.At = now
		b, err := tx.Bottle(id)
		if err != nil {
			return err
		}
		if err := mayFollow(tx, b, act, now); err != nil {
			return err
		}
		if act.Kind == tracker.LabelRead || act.Kind == tracker.LabelSettled {
			if act.Strength, err = readLabel(tx, b.Product, typed); err != nil {
				return err
			}
		}
		if err := tx.AddStoreAct(act); err != nil {
			return err
		}
		return note(tx, a, now, "bottle: "+string(act.Kind), string(id), actLine(act))
	})
}

func actLine(act tracker.StoreAct) string {
	return strings.Join(strings.Fields(string(act.Strength)+" "+string(act.Amount)+" "+act.Day.String()+" "+act.Note), " ")
}

// checkBottleAct refuses an act that cannot be right whatever the yard holds.
func checkBottleAct(act tracker.StoreAct) error {
	var p tracker.Problems
	switch act.Kind {
	case tracker.Opened:
		if act.Day == 0 {
			p.Add("opened", "Give the day it was opened.")
		}
	case tracker.AmountLeft:
		if act.Amount == "" {
			p.Add("amount", "Say how much is left, like 180 mL.")
		}
	case tracker.ThrownAway:
		if act.Note == "" {
			p.Add("note", "Say why it is thrown away, like: past its date.")
		}
	case tracker.LabelRead, tracker.LabelSettled, tracker.LabelDoubted, tracker.UsedUp:
	default:
		p.Add("kind", "Choose what was done from the list.")
	}
	checkText(&p, "note", act.Note, 200)
	return p.Err()
}

// mayFollow refuses an act that does not fit what was done about the bottle before.
func mayFollow(tx Tx, b tracker.Bottle, act tracker.StoreAct, now time.Time) error {
	if !b.Ended.IsZero() {
		return tracker.Refuse(tracker.Conflict, "This bottle has been used up or thrown away already. Its record stays as it is.")
	}
	reading, err := readingOf(b.Acts)
	if err != nil {
		return err
	}
	switch act.Kind {
	case tracker.LabelRead:
		switch {
		case reading.State == ReadingsDiffer:
			return tracker.Refuse(tracker.Conflict, "Two people have read different strengths. The owner must settle which is right.")
		case reading.State != NotRead && reading.State != ReadByOne:
			return tracker.Refuse(tracker.Conflict, "This label has been read by two people. If it says something else, say so and it is stopped.")
		case reading.readBy(act.By):
			return tracker.Refuse(tracker.Conflict, "You have read this label already. A second person must read it, without seeing what you typed.")
		}
	case tracker.LabelSettled:
		if reading.State != ReadingsDiffer && !reading.Doubted {
			return tracker.Refuse(tracker.Conflict, "There is nothing to settle: the label was neither doubted nor read in two ways.")
		}
	case tracker.Opened:
		return checkOpened(tx, act.Day, now)
	case tracker.AmountLeft:
		return mayBeLeft(b.Size, act.Amount, "the bottle held when it came")
	}
	return nil
}

// mayBeLeft refuses to have seen more left than there ever was.
func mayBeLeft(whole, seen tracker.AmountText, was string) error {
	all, e1 := Amount(whole)
	left, e2 := Amount(seen)
	err := cmp.Or(e1, e2)
	if err == nil && (left.Unit != all.Unit || left.Value.Cmp(all.Value) > 0) {
		err = tracker.RefuseField("amount", "What is left must be in "+all.Unit.String()+" and at most what "+was+".")
	}
	return err
}
