package care

import (
	"slices"

	"leground/tracker"
	"leground/tracker/mixing"
)

// MixWanted is a strength that a plan step asks for, and where it goes.
type MixWanted struct {
	Want    mixing.Strength
	Ceiling *mixing.Strength // the most that is allowed; nil: none recorded
	Horse   tracker.HorseID
	Product tracker.ProductID // the product that the step names; empty: any of the same substance
	Use     mixing.Use
}

// WorkedMix is how a wanted strength is made now, for each of the yard's usual volumes. Pages keep it on the
// phone, so that it can be read with no signal and nothing has to be worked out there.
type WorkedMix struct {
	When     string   // when this was worked out, in the yard's time: a copy on a phone may be old
	Stock    string   // Key of what it would be made from; empty when there is nothing
	Question string   // to be answered with the bottle in the hand, before anything else
	Stop     string   // why none of it may be made; empty: see each amount
	Amounts  []Worked // one for each usual volume
}

// Worked is one volume of it.
type Worked struct {
	Volume mixing.Amount
	Lines  []string // what the hands do, in their order, then what it makes; after Stop the reasons
	Notes  []string // warnings, and what rounding does
	Stop   bool     // it may not be made so
}

// worked works out a wanted strength for the yard's usual volumes, from the bottle that would be used now and
// with every measure of the yard.
func (s *stores) worked(want MixWanted) WorkedMix {
	out := WorkedMix{When: tracker.TimeName(s.Now, s.Zone)}
	stock, found := s.bottleFor(want)
	if !found {
		out.Stop = "Stores has no bottle for this that may be used now."
		return out
	}
	out.Stock, out.Question = stock.Key, LabelQuestion(stock.Name, stock.Strength, s.Yard.Mark)
	if len(s.measures.Devices) == 0 {
		out.Stop = "This yard has no measures yet. The owner adds them in Stores."
		return out
	}
	var from mixing.Stock
	if err := s.fill(&from, stock); err != nil {
		out.Stop = err.Error()
		return out
	}
	use := want.Use
	use.FoodChain = s.warnsOfFood(stock.Product, want.Horse, use.Skin)
	for _, volume := range s.measures.Volumes {
		result := mixing.Mix(mixing.Request{
			Stock: from, Want: want.Want, Ceiling: want.Ceiling, Kind: mixing.MakeUpTo, Amount: volume, Devices: s.measures.Devices, Use: use, Now: s.Now, Mark: s.Yard.Mark,
		})
		out.Amounts = append(out.Amounts, workedOf(volume, result))
	}
	return out
}

// bottleFor finds the bottle that a wanted strength would be made from now.
func (s *stores) bottleFor(want MixWanted) (Stock, bool) {
	may, _ := s.choices(want.Want.Of)
	i := slices.IndexFunc(may, func(one Stock) bool {
		return !one.Diluted && one.Strength.Of.Family() == want.Want.Of.Family() && (want.Product == "" || want.Product == one.Product.ID)
	})
	if i < 0 {
		return Stock{}, false
	}
	return may[i], true
}

func workedOf(volume mixing.Amount, result *mixing.Result) Worked {
	w := Worked{Volume: volume, Stop: result.Refused()}
	for _, line := range result.Working {
		switch {
		case line.Part == mixing.Do || line.Part == mixing.Stop:
			w.Lines = append(w.Lines, line.Text)
		case line.Part == mixing.Rounding && result.RelativeError != nil && result.RelativeError.Sign() != 0:
			w.Notes = append(w.Notes, line.Text)
		}
	}
	for _, n := range result.Warnings {
		w.Notes = append(w.Notes, n.Text)
	}
	return w
}

// LabelQuestion asks whoever holds a bottle or mix whether its label says what Stores says.
func LabelQuestion(name string, s mixing.Strength, mark tracker.DecimalMark) string {
	return "Hold " + name + ". Does the label say " + s.Words(mark) + " (" + s.Echo(mark) + ")?"
}
