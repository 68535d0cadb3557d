package mixing

// Contact is how two products come together.
type Contact int

// The two ways. What was put on the same site within 24 hours without a rinse between counts as
// mixing.
const (
	SameContainer Contact = iota + 1
	SameSite
)

// PoisonCentre is shown with every pair that forms a gas.
const PoisonCentre = "If it has been mixed: leave, let air in, and ring your poison centre or emergency number."

// Pair is two families that do not go together.
type Pair struct {
	A, B    Family
	Refused bool // in one container; on one site only a pair that forms a gas is refused
	Gas     bool
	Words   string
	Source  string
	Grade   Grade
}

const (
	mixedCleaners    = "university health service on mixing cleaners"
	iodineRisk       = "povidone-iodine risk information, product text"
	haze             = "compounding handbook answer on chlorhexidine digluconate; sulfate in tap water, 1986"
	chemistryMemory  = "general web; chemistry from memory, no authority found"
	chloroaniline    = "p-chloroaniline: found, found, not found and reviewed in four papers; that it forms is disputed"
	sheepBaths       = "sheep handbook extract"
	vinegarPeroxide  = "general web; no authority found, chemistry from memory"
	theatreExplosion = "device-safety institute, hazard note 2011"
)

var pairTable = []Pair{
	{hypochlorite, acid, true, true, "Bleach and an acid make chlorine gas.", "CDC, Morbidity and Mortality Weekly Report: chlorine gas", Law},
	{hypochlorite, ammonia, true, true, "Bleach and ammonia or urine make chloramine gas.", mixedCleaners, Handbook},
	{hypochlorite, alcohol, true, true, "Bleach and alcohol make harmful chlorinated products.", chemistryMemory, WeakSource},
	{hypochlorite, cleaner, true, true, "Bleach goes with no other cleaner.", chemistryMemory, WeakSource},
	{peroxide, acid, true, true, "Hydrogen peroxide and vinegar or another acid make a corrosive acid.", vinegarPeroxide, WeakSource},
	{peroxide, hypochlorite, true, true, "Hydrogen peroxide and bleach foam up and undo each other.", chemistryMemory, WeakSource},
	{peroxide, iodine, true, true, "Hydrogen peroxide and povidone-iodine in a closed vessel make gas. One burst.", theatreExplosion, Handbook},
	{chlorhexidine, hypochlorite, true, false, "Chlorhexidine and bleach make a brown sludge and undo each other. Rinse between them.", chloroaniline, Law},
	{chlorhexidine, soap, false, false, "Soap or shampoo makes chlorhexidine useless. Rinse between them.", haze, Law},
	{chlorhexidine, iodine, false, false, "Chlorhexidine and iodine can undo each other.", haze, Handbook},
	{chlorhexidine, tincture, false, false, "Chlorhexidine and iodine can undo each other.", haze, Handbook},
	{chlorhexidine, alkali, false, false, "Chlorhexidine can turn hazy with bicarbonate. Look for haze.", haze, Handbook},
	{chlorhexidine, saline, false, false, "Chlorhexidine can turn hazy in saline. Look for haze.", haze, Handbook},
	{chlorhexidine, magnesium, false, false, "Chlorhexidine can turn hazy with magnesium sulfate. Look for haze.", haze, Handbook},
	{chlorhexidine, hardWater, false, false, "Chlorhexidine can turn hazy in hard water. Look for haze.", haze, Handbook},
	{iodine, silver, false, false, "Povidone-iodine and silver weaken each other.", iodineRisk, Law},
	{iodine, alkali, false, false, "Alkali makes povidone-iodine weaker.", iodineRisk, Law},
	{iodine, tannin, false, false, "Povidone-iodine and tannic acid weaken each other.", iodineRisk, Law},
	{iodine, taurolidine, false, false, "Povidone-iodine and taurolidine do not go together.", iodineRisk, Law},
	{iodine, enzyme, false, false, "Povidone-iodine makes enzyme debriders weaker.", iodineRisk, Law},
	{iodine, octenidine, false, false, "Povidone-iodine and octenidine stain the skin dark.", iodineRisk, Law},
	{copper, zinc, false, false, "Copper and zinc sulfate together burn horn.", sheepBaths, WeakSource},
	{copper, formalin, false, false, "Copper sulfate and formalin together burn horn.", sheepBaths, WeakSource},
	{zinc, formalin, false, false, "Zinc sulfate and formalin together burn horn.", sheepBaths, WeakSource},
	{hypochlorite, metal, false, false, "Bleach goes off in metal. Use plastic or glass.", "cholera guideline, preparation of chlorine solution", Handbook},
}

// Pairs gives every pair of families that do not go together.
func Pairs() []Pair { return append([]Pair(nil), pairTable...) }

// Combine says what happens when two products come together: nothing, warnings (W8) or refusals (R7).
// On one site a pair that only conflicts is a warning that a rinse clears; one that forms a gas is
// refused there too, unless the gas is oxygen. vetOrder tells that the vet's recorded instruction asks for both, which lifts
// the refusal of dimethyl sulfoxide with anything else.
func Combine(a, b Substance, how Contact, vetOrder bool) []Note {
	var notes []Note
	for _, p := range pairTable {
		if !joins(p, a.Family(), b.Family()) {
			continue
		}
		oxygen := p.A == peroxide && p.B != acid // bursts a closed vessel, harmless on a leg
		refused := p.Refused && (how == SameContainer || p.Gas && !oxygen)
		words := p.Words
		if how == SameSite {
			words += " Rinse with clean water and write the rinse down."
		}
		if refused && p.Gas {
			words += " " + PoisonCentre
		}
		notes = append(notes, verdict(refused, words).from(p.Source, p.Grade))
	}
	if a == b {
		return notes
	}
	switch {
	case a.Family() == dmso || b.Family() == dmso:
		if !vetOrder {
			notes = append(notes, verdict(true, "Dimethyl sulfoxide carries other things through the skin. Use nothing with it unless the vet ordered both.").
				from("21 CFR part 524, section 660b; FDA compliance guide on dimethyl sulfoxide", Law))
		}
	case len(notes) == 0 && (a.Family() == iodine && b.Antiseptic() || b.Family() == iodine && a.Antiseptic()) && a.Family() != b.Family():
		notes = append(notes, verdict(false, "The povidone-iodine label says: not with another wound antiseptic.").
			from("povidone-iodine powder spray, product text", Law))
	}
	return notes
}

func joins(p Pair, a, b Family) bool { return p.A == a && p.B == b || p.A == b && p.B == a }

func verdict(refused bool, words string) Note {
	if refused {
		return say("R7", "%s", words)
	}
	return say("W8", "%s", words)
}
