package mixing

import (
	"fmt"
	"maps"
	"math/big"
	"slices"
	"strings"

	"leground/tracker"
)

// Substance is what a strength counts, by its full generic name with salt or hydrate. The zero
// Substance is none.
type Substance string

// Family groups the substances that the rules and the pairs speak of together.
type Family string

// The families that rules speak of.
const (
	chlorhexidine Family = "chlorhexidine"
	iodine        Family = "iodine"
	tincture      Family = "iodine tincture"
	hypochlorite  Family = "hypochlorite"
	peroxide      Family = "hydrogen peroxide"
	acid          Family = "acid"
	ammonia       Family = "ammonia or urine"
	alcohol       Family = "alcohol"
	saline        Family = "saline"
	magnesium     Family = "magnesium sulfate"
	hardWater     Family = "hard water"
	copper        Family = "copper sulfate"
	zinc          Family = "zinc sulfate"
	formalin      Family = "formalin"
	naphthenate   Family = "copper naphthenate"
	dmso          Family = "dimethyl sulfoxide"
	essentialOil  Family = "essential oil"
	soap          Family = "soap or shampoo"
	cleaner       Family = "another cleaner"
	silver        Family = "silver"
	alkali        Family = "alkali"
	tannin        Family = "tannic acid"
	taurolidine   Family = "taurolidine"
	enzyme        Family = "enzyme debrider"
	octenidine    Family = "octenidine"
	metal         Family = "metal container or spoon"
	anything      Family = "anything"
)

// Substances that code elsewhere speaks of by name.
const (
	Anything               Substance = "anything" // a substance without rules of its own
	ChlorhexidineGluconate Substance = "chlorhexidine gluconate"
	PovidoneIodine         Substance = "povidone-iodine"
	SodiumHypochlorite     Substance = "sodium hypochlorite"
	AvailableChlorine      Substance = "available chlorine"
	AvailableIodine        Substance = "available iodine"
	SodiumChloride         Substance = "sodium chloride"
	MagnesiumSulfate       Substance = "magnesium sulfate"
	TapWater               Substance = "hard tap water"
	DimethylSulfoxide      Substance = "dimethyl sulfoxide"
)

// limit is a strength at which a rule speaks: above it, or below it for W17. The number is in g (or
// mL) per 100; dilute solutions are judged by it in whatever basis they are stated.
type limit struct {
	rule    string
	percent *big.Rat
	words   string
	source  string
	grade   Grade
}

// conversion says whether two forms in one family may be counted as each other.
type conversion int

const (
	never       conversion = iota // no factor holds for every product
	bothWays                      // any two forms: the same thing in solution
	throughBase                   // only to or from the base, since two salts are two medicines
	byLabel                       // only with the factor printed on this product's label
)

// substanceFacts is what is known about a substance. carries is how many grams of it hold one gram
// of the family's common form (base, available chlorine, anhydrous salt).
type substanceFacts struct {
	family     Family
	also       []string
	antiseptic bool
	carries    *big.Rat
	convert    conversion
	limits     []limit
}

// FindSubstance gives the substance with this name, or with another name for the same salt. A name
// that leaves the salt, hydrate or form open is refused as R1 with the choices; an unknown name is a
// *tracker.Error, so that a slip of the pen never escapes the rules.
func FindSubstance(name string) (Substance, error) {
	clean := strings.ReplaceAll(tidy(name), "sulph", "sulf")
	if choices, open := openNames[clean]; open {
		return "", refuse("R1", "%s has more than one form. Say which: %s.", tidy(name), strings.Join(choices, ", or "))
	}
	if _, known := substanceTable[Substance(clean)]; known {
		return Substance(clean), nil
	}
	for s, f := range substanceTable {
		if slices.Contains(f.also, clean) {
			return s, nil
		}
	}
	return "", tracker.Refuse(tracker.Invalid, fmt.Sprintf("We have no rules for %q. Check the spelling, or say anything to work without rules.", name))
}

// Substances gives every substance by name, for a list to choose from.
func Substances() []Substance { return slices.Sorted(maps.Keys(substanceTable)) }

// Family gives the group that rules and pairs know the substance by.
func (s Substance) Family() Family { return substanceTable[s].family }

// Antiseptic tells whether the substance is put on wounds to kill germs.
func (s Substance) Antiseptic() bool { return substanceTable[s].antiseptic }

// CountedAs gives the same liquid's strength counted as another form of the substance, by fixed
// weights where they hold for every product. labelFactor is for iodine: the grams of available iodine
// per gram of povidone-iodine printed on this product's label, or nil. Anything else is refused (R4).
func (s Strength) CountedAs(of Substance, labelFactor *big.Rat) (Strength, error) {
	if s.Of == of {
		return s, nil
	}
	from, to := substanceTable[s.Of], substanceTable[of]
	if from.family != to.family || from.family == "" || counts(s.basis()) {
		return Strength{}, notTheSame(s.Of, of)
	}
	size := s.canonical()
	switch {
	case from.convert == byLabel && to.convert == byLabel && labelFactor != nil && of == AvailableIodine:
		size = mul(size, labelFactor)
	case from.convert == byLabel && to.convert == byLabel && labelFactor != nil && s.Of == AvailableIodine:
		size = quo(size, labelFactor)
	case from.convert == byLabel || to.convert == byLabel:
		return Strength{}, refuse("R4", "The bottle counts %s and the plan %s. The label must give both. Often 10\u00a0g of povidone-iodine holds about 1\u00a0g of iodine, but products differ.", s.Of, of)
	case from.carries == nil || to.carries == nil:
		return Strength{}, notTheSame(s.Of, of)
	case from.convert == throughBase && from.carries.Cmp(frac(1, 1)) != 0 && to.carries.Cmp(frac(1, 1)) != 0:
		return Strength{}, refuse("R4", "The bottle holds %s and the plan asks for %s. Two salts are not the same medicine. Ring whoever set the plan.", s.Of, of)
	default:
		size = quo(mul(size, to.carries), from.carries)
	}
	s.Of = of
	return s.with(size), nil
}

// notTheSame is the refusal of two things of which neither says how much of the other there is.
func notTheSame(have, want Substance) error {
	return refuse("R4", "The bottle counts %s and the plan %s. One cannot be worked out from the other.", have, want)
}

// percent gives a strength as so many per 100, whatever its basis; nil for units and tablets.
func (s Strength) percent() *big.Rat {
	if counts(s.basis()) || s.basis() == massPerPiece {
		return nil
	}
	return mul(s.canonical(), frac(100, 1))
}
