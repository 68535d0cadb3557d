package care

import (
	"context"
	"math/big"
	"time"

	"leground/tracker"
)

// bookWeight is the last weight of a horse in the book; the zero value: none is.
type bookWeight struct {
	kg  int
	day tracker.Date
}

// LastWeight gives the last weight of a horse in the book, in kg; 0: none is.
func (s *Service) LastWeight(ctx context.Context, a Actor, horse tracker.HorseID) (int, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, _ time.Time) (int, error) {
		last, err := lastWeight(tx, horse)
		return last.kg, err
	})
}

// weightLooks is how many looks at the whole horse are gone through for its last weight.
const weightLooks = 400

func lastWeight(tx Tx, horse tracker.HorseID) (bookWeight, error) {
	looks, err := tx.Checks(CheckQuery{Horse: horse, Whole: true, Limit: weightLooks})
	for _, c := range looks {
		if c.Vitals.WeightKG != 0 {
			return bookWeight{c.Vitals.WeightKG, c.Day}, err
		}
	}
	return bookWeight{}, err
}

// far tells whether a weight differs by more than a quarter from the one in the book: common practice, no source.
func (w bookWeight) far(kg *big.Rat) bool {
	if w.kg == 0 || kg == nil {
		return false
	}
	book := big.NewRat(int64(w.kg), 1)
	off := new(big.Rat).Sub(kg, book)
	return off.Abs(off).Cmp(book.Quo(book, big.NewRat(4, 1))) > 0
}

// words says how far the weight of a plan is from the book's: both numbers, or to who may not see the plan's only the
// other. It is empty where the two are near each other.
func (w bookWeight) words(kg *big.Rat, blind bool, mark tracker.DecimalMark) string {
	if !w.far(kg) {
		return ""
	}
	book := tracker.FormatNumber(big.NewRat(int64(w.kg), 1), 0, mark) + "\u00a0kg, of " + tracker.DayName(w.day) + "."
	if blind {
		return "The weight in this plan differs by more than a quarter from the last one in the book: " + book
	}
	return "The plan is for " + tracker.FormatNumber(kg, ShownPlaces, mark) + "\u00a0kg. The last weight in the book differs by more than a quarter: " + book
}
