package mixing

import (
	"math/big"
	"slices"
)

// standing gives the refusals that do not depend on the amounts.
func (m *mix) standing() []Note {
	var notes []Note
	add := func(when bool, id, format string, args ...any) {
		if when {
			notes = append(notes, say(id, format, args...))
		}
	}
	of, use := m.Want.Of, m.Use
	family := of.Family()
	if !m.Stock.GoodUntil.IsZero() {
		add(m.Now.IsZero(), "R8", "The time is not known, so the throw-away time cannot be checked.")
		add(!m.Now.Before(m.Stock.GoodUntil), "R8", "%s is past its throw-away time. Throw it away and open another.", m.name(true))
	}
	add(m.ByParts && m.Stock.Diluted, "R9", "This bottle is already diluted. The parts on the label are for the bottle as bought.")
	share := m.Want.percent()
	add(family == essentialOil && share != nil && share.Cmp(frac(90, 1)) >= 0, "R10", "Essential oil is never used undiluted. A few drops have made animals very ill.")
	notes = append(notes, m.overLimits("R13")...)
	notes = append(notes, m.overMaximum()...)
	add(family == peroxide && use.Closed, "R11", "Hydrogen peroxide must not go into a puncture or a closed wound. The gas cannot get out.")
	add(m.Stock.Prescription && !use.VetOrder, "R12", "This is a prescription medicine. Record the vet's instruction first.")
	add(family == hypochlorite && m.Stock.BleachDoubt != "", "R14", "This bleach is %s. Its strength cannot be trusted, so use plain bleach.", m.Stock.BleachDoubt)
	if family == tincture && use.Bandage {
		notes = append(notes, say("R7", "Iodine tincture under a bandage burns the skin. Leave the bandage off.").
			from("iodine tincture BP, product text", Law))
	}
	for _, n := range m.recent() {
		if n.ID == "R7" {
			notes = append(notes, n)
		}
	}
	return notes
}

// Judge holds the strength that came out to the rules of a mix of that strength, used as r says, beside what is said of it
// already. After a refusal nothing else is left.
func (a *Answer) Judge(r Request) {
	if a.Refused() {
		return
	}
	r.Want = a.Strength
	m := &mix{Request: r, res: &Result{}, achieved: r.Want.canonical()}
	m.res.Refusals = m.standing()
	for _, n := range m.cautions() {
		if !slices.Contains(a.Warnings, n) {
			a.Warnings = append(a.Warnings, n)
		}
	}
	if !m.res.Refused() {
		return
	}
	*a = Answer{Warnings: a.Warnings, Refusals: m.res.Refusals}
	for _, n := range a.Refusals {
		a.line(Stop, "%s", n.Text)
	}
}

// overMaximum refuses a wanted strength above what the vet or the label allows.
func (m *mix) overMaximum() []Note {
	var notes []Note
	for _, top := range []*Strength{m.Ceiling, m.Stock.Strongest} {
		if top == nil {
			continue
		}
		size, err := m.inWanted(*top)
		switch {
		case err != nil:
			notes = append(notes, say("R12", "The recorded maximum cannot be compared with the wanted strength. State both in the same unit."))
		case over(m.Want.canonical(), size):
			notes = append(notes, say("R12", "The wanted strength is above the most that was recorded: %s.", top.Words(m.Mark)))
		}
	}
	return notes
}

// inWanted gives the size of another strength in the basis and substance of the wanted one.
func (m *mix) inWanted(s Strength) (*big.Rat, error) {
	s, err := s.CountedAs(m.Want.Of, m.Stock.IodineFactor)
	if err == nil {
		s, err = s.like(m.Want, nil)
	}
	if err != nil {
		return nil, err
	}
	return s.canonical(), nil
}

// ceiling gives the strength that rounding must not pass, or nil.
func (m *mix) ceiling() *big.Rat {
	var least *big.Rat
	consider := func(size *big.Rat) {
		if least == nil || over(least, size) {
			least = size
		}
	}
	for _, top := range []*Strength{m.Ceiling, m.Stock.Strongest} {
		if top != nil {
			if size, err := m.inWanted(*top); err == nil { // overMaximum has refused any other
				consider(size)
			}
		}
	}
	for _, l := range substanceTable[m.Want.Of].limits {
		if l.rule == "R13" && m.Use.Skin != NotOnHorse {
			consider(quo(l.percent, frac(100, 1)))
		}
	}
	return least
}

// overLimits gives the substance's own limits of one rule that the wanted strength passes.
func (m *mix) overLimits(rule string) []Note {
	share := m.Want.percent()
	if share == nil || m.Use.Skin == NotOnHorse || rule == "W1" && m.Use.Skin == IntactSkin {
		return nil
	}
	var notes []Note
	for _, l := range substanceTable[m.Want.Of].limits {
		passed := over(share, l.percent)
		if rule == "W17" {
			passed = over(l.percent, share)
		}
		if l.rule == rule && passed {
			notes = append(notes, say(rule, "%s", l.words).from(l.source, l.grade))
		}
	}
	return notes
}

// recent gives what the things put on the same site before make of this mix.
func (m *mix) recent() []Note {
	var notes []Note
	for _, before := range m.Use.Recent {
		notes = append(notes, Combine(m.Want.Of, before, SameSite, m.Use.VetOrder)...)
	}
	return notes
}

// cautions gives the warnings that want a tick, apart from those of the measure.
func (m *mix) cautions() []Note {
	var notes []Note
	add := func(when bool, id, format string, args ...any) {
		if when {
			notes = append(notes, say(id, format, args...))
		}
	}
	use, family := m.Use, m.Want.Of.Family()
	onOpen := use.Skin != IntactSkin && use.Skin != NotOnHorse
	notes = append(notes, m.overLimits("W1")...)
	strong := m.Stock.Form == Alcoholic || family == alcohol || family == tincture
	add(onOpen && m.Stock.Form == Scrub, "W2", "This is a scrub with detergent. Detergent in an open wound raises the risk of infection.")
	add(onOpen && strong, "W2", "This is a product with alcohol. It is not for broken skin.")
	add(use.NearEye && (family == chlorhexidine || family == naphthenate), "W3", "Keep this away from eyes and ears. A splash can harm the eye for good.")
	add(use.NearJoint, "W4", "A wound near a joint, tendon sheath or the sole can reach inside. Ring the vet now.")
	add(use.Bandage && family != tincture, "W5", "A bandage makes the skin take up more. Ask the vet or the label whether it may be covered.")
	share := m.Want.percent()
	add(m.Diluent.substance() != "" && family == chlorhexidine && share != nil && over(share, frac(1, 100)),
		"W6", "Chlorhexidine in %s can turn hazy. Look for haze and throw a hazy mix away.", m.Diluent)
	add(use.SoapBefore && family == chlorhexidine, "W7", "Soap or shampoo makes chlorhexidine useless. Rinse it off first.")
	for _, n := range m.recent() {
		if n.ID == "W8" {
			notes = append(notes, n)
		}
	}
	for _, d := range m.Devices {
		add(d.Kind == Spoon, "W10", "Spoons differ from 5 to 20\u00a0mL. Use one for water only, or better a jug.")
	}
	add(use.Delicate && (family == iodine || family == tincture), "W12", "The human label warns of iodine on large wounds, the young, the pregnant and in long courses. Ask the vet.")
	add(use.FoodChain, "W15", FoodChainWords)
	return append(notes, m.comparisons()...)
}

// comparisons gives the warnings about what came out: the last batch and the useful strength.
func (m *mix) comparisons() []Note {
	if m.achieved == nil || m.res.Refused() {
		return nil
	}
	notes := m.overLimits("W17")
	if low := m.Stock.Weakest; low != nil {
		if size, err := m.inWanted(*low); err != nil || over(size, m.achieved) {
			notes = append(notes, say("W17", "The label's weakest use is %s. This is not as strong, or cannot be compared.", low.Words(m.Mark)).from("the label", OurOwn))
		}
	}
	if last := m.Use.Last; last != nil {
		size, err := m.inWanted(*last)
		if err != nil || over(new(big.Rat).Abs(sub(quo(m.achieved, size), frac(1, 1))), farOff) {
			notes = append(notes, say("W13", "The last batch of this plan was %s. This one is not.", last.Words(m.Mark)))
		}
	}
	return notes
}
