package care

import (
	"errors"
	"slices"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
)

// MixAsk is what a person asks for in the first step of a mix, as typed and ticked. It can begin with a plan
// step: Horse and Plan then say which, and what the plan asks for is looked up and not taken from the form.
type MixAsk struct {
	Stock    string // Key of what to mix from; empty: the first that suits
	Says     string // Key of the stock whose label says what Stores says
	Alone    bool   // nobody else is here to read the label
	Horse    tracker.HorseID
	Plan     string // the plan step that asks for it
	PlanWant string // the strength that it asks for, looked up; empty: no plan asks for this
	WantFrom string // who set it and when: "vet plan 30 Apr", looked up
	Want     string
	WantOf   string // what the wanted strength counts; empty: as the label
	Kind     mixing.Kind
	Make     string
	Devices  []string
	Diluent  mixing.Diluent
	Use      mixing.Use // all but Recent, FoodChain, VetOrder and Last, which are looked up
	// Recent is what else was put on the same place in the last 24 hours, without a rinse since. Until it has
	// been asked, RecentFor is not RecentKey and everything mixed for the horse counts.
	Recent    []tracker.MixID
	RecentFor string
}

// RecentKey stands for what the question about the last 24 hours is about: another horse or another bottle
// asks it again.
func (ask MixAsk) RecentKey() string { return string(ask.Horse) + " " + ask.Stock }

// settle chooses what the person has left open: the first stock that suits, and everything mixed lately for
// the horse. It gives what may and may not be mixed from, and what was mixed lately.
func (s *stores) settle(ask *MixAsk, made []tracker.Mix) (may, stopped []Stock, recent []tracker.Mix) {
	wanted, err := mixing.FindSubstance(ask.WantOf)
	if err != nil {
		wanted = "" // a problem of the field, which request reports, not of the list
	}
	may, stopped = s.choices(wanted)
	if ask.Stock == "" && len(may) > 0 {
		ask.Stock = may[0].Key
	}
	chosen, _ := s.find(ask.Stock)
	recent = recentMixes(made, ask.Horse, chosen.Strength.Of, s.Now.Add(-24*time.Hour))
	if ask.RecentFor != ask.RecentKey() {
		ask.Recent, ask.RecentFor = nil, ask.RecentKey()
		for _, m := range recent {
			ask.Recent = append(ask.Recent, m.ID)
		}
	}
	return may, stopped, recent
}

// request turns what was asked for into a mix to be worked out. Problems name the fields of the first step.
func (s *stores) request(ask MixAsk, recent []tracker.Mix) (mixing.Request, Stock, tracker.Problems) {
	var p tracker.Problems
	r := mixing.Request{Kind: ask.Kind, Diluent: ask.Diluent, Use: ask.Use, Now: s.Now, Mark: s.Yard.Mark, MakeFrom: "you chose", WantFrom: "you chose"}
	stock, found := s.find(ask.Stock)
	switch {
	case ask.Stock == "" || !found:
		p.Add("stock", "Choose what to mix from.")
		return r, stock, p
	case stock.Stop != "":
		p.Add("stock", stock.Stop)
		return r, stock, p
	case ask.Says != ask.Stock:
		p.Add("stock", "Hold it and read its label first. Say whether it says what Stores says.")
	case stock.OneReader && !ask.Alone:
		p.Add("stock", "Only you have read this label. Fetch somebody to read it too, or tick that nobody else is here.")
	}
	if err := s.fill(&r.Stock, stock); err != nil {
		p.Add("stock", err.Error())
		return r, stock, p
	}
	r.HaveFrom = "label, " + stock.ReadWords
	if stock.Diluted {
		r.HaveFrom = "label of the mix"
	}
	s.readWant(&r, ask, &p)
	s.readAmounts(&r, ask, stock, &p)
	s.readUse(&r, ask, stock, recent)
	return r, stock, p
}

// fill describes a stock to package mixing.
func (s *stores) fill(to *mixing.Stock, stock Stock) error {
	facts := stock.Product.Facts
	*to = mixing.Stock{
		Name: stock.Name, Label: stock.Strength, ConcentrateFirst: facts.ConcentrateFirst, Diluted: stock.Diluted,
		GoodUntil: stock.ThrowAway, Prescription: facts.Prescription, BleachDoubt: facts.BleachDoubt,
	}
	var errs [5]error
	to.Form, errs[0] = mixing.ParseForm(facts.Form)
	to.IodineFactor, errs[1] = Fraction(facts.IodineFactor)
	to.Weakest, errs[2] = strengthOrNil(facts.Weakest)
	to.Strongest, errs[3] = strengthOrNil(facts.Strongest)
	if !stock.Diluted { // the density of a mix is not that of its bottle
		to.Density, errs[4] = Fraction(facts.Density)
	}
	if stock.Diluted {
		to.Name += ", mixed " + stock.Mix.MadeAt.In(s.Zone).Format("15:04")
		if to.Form == mixing.Powder || to.Form == mixing.Cream {
			to.Form = mixing.Solution // once in water it is measured by volume
		}
	}
	return errors.Join(errs[:]...)
}

func (s *stores) readWant(r *mixing.Request, ask MixAsk, p *tracker.Problems) {
	if strings.TrimSpace(ask.Want) == "" {
		p.Add("want", "Say the strength that is wanted, like 0.05% w/v. It stands in the plan.")
		return
	}
	of, err := r.Stock.Label.Of, error(nil)
	if ask.WantOf != "" {
		of, err = mixing.FindSubstance(ask.WantOf)
	}
	if err == nil {
		r.Want, r.ByParts, err = mixing.ParseWant(ask.Want, r.Stock.Label, of)
	}
	if err != nil {
		p.Add("want", err.Error())
	}
}

func (s *stores) readAmounts(r *mixing.Request, ask MixAsk, stock Stock, p *tracker.Problems) {
	var err error
	if ask.Kind != mixing.UseUp && strings.TrimSpace(ask.Make) == "" {
		p.Add("make", "Say how much to make, like 500 mL or 1 L.")
	} else if ask.Kind == mixing.UseUp {
		r.Amount, r.MakeFrom = stock.Left, "left by the book"
	} else if r.Amount, err = mixing.ParseAmount(ask.Make); err != nil {
		p.Add("make", err.Error())
	} else if ask.Kind < mixing.MakeUpTo || ask.Kind > mixing.UseUp {
		p.Add("how", "Say how it is mixed: made up to a volume, added to one, or all that is left.")
	}
	for _, text := range ask.Devices {
		device, err := mixing.ParseDevice(text)
		if err != nil {
			p.Add("devices", err.Error())
			continue
		}
		r.Devices = append(r.Devices, device)
	}
	if len(r.Devices) == 0 && ask.Kind != mixing.UseUp {
		p.Add("devices", "Choose what you measure the concentrate with, or type it, like 20 mL syringe, 1 mL marks.")
	}
}

// readUse adds what the yard knows about the place that it goes on.
func (s *stores) readUse(r *mixing.Request, ask MixAsk, stock Stock, recent []tracker.Mix) {
	r.Use.Recent, r.Use.Last = nil, nil
	for _, m := range recent {
		strength, err := Strength(m.Strength)
		if err != nil {
			continue // nothing that was ever kept
		}
		if slices.Contains(ask.Recent, m.ID) {
			r.Use.Recent = append(r.Use.Recent, strength.Of)
		}
		if ask.Plan != "" && m.Plan == ask.Plan && r.Use.Last == nil {
			r.Use.Last = &strength
		}
	}
	r.Use.FoodChain = s.warnsOfFood(stock.Product, ask.Horse, r.Use.Skin)
}

// recentMixes lists what was mixed for a horse in the last 24 hours that is of another family than a stock:
// it may have been put on the same place.
func recentMixes(made []tracker.Mix, horse tracker.HorseID, of mixing.Substance, since time.Time) (out []tracker.Mix) {
	for _, m := range made {
		strength, err := Strength(m.Strength)
		if err == nil && horse != "" && m.Horse == horse && m.MadeAt.After(since) && strength.Of.Family() != of.Family() {
			out = append(out, m)
		}
	}
	return out
}

// choices lists what may be mixed from, what suits the wanted substance first, then what must be thrown
// away first; and what may not, with the reason.
func (s *stores) choices(wanted mixing.Substance) (may, stopped []Stock) {
	for _, one := range slices.Concat(s.bottles, s.mixes) {
		if one.Stop != "" {
			stopped = append(stopped, one)
		} else {
			may = append(may, one)
		}
	}
	place := func(one Stock) int {
		switch {
		case one.Diluted:
			return 2
		case wanted != "" && one.Strength.Of.Family() != wanted.Family():
			return 1
		}
		return 0
	}
	slices.SortStableFunc(may, func(a, b Stock) int {
		if c := place(a) - place(b); c != 0 {
			return c
		}
		return compareEnds(a.ThrowAway, b.ThrowAway)
	})
	return may, stopped
}
