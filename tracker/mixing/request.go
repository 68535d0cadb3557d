package mixing

import (
	"math/big"
	"time"

	"leground/tracker"
)

// Kind is which way round a mix is asked for.
type Kind int

// The three ways to ask.
const (
	MakeUpTo Kind = iota + 1 // so much concentrate, topped up with water to the wanted volume
	AddTo                    // so much concentrate, added to a given volume of water
	UseUp                    // all that is left of the concentrate, and how much it makes
)

// Form is what sort of product a bottle holds; the zero Form means that nobody said.
type Form int

// The forms that rules speak of.
const (
	Solution  Form = iota + 1
	Scrub          // with detergent
	Alcoholic      // with alcohol
	Cream          // cream, gel or ointment
	Powder         // weighed, and made up to a volume
)

var formNames = [...]string{Solution: "solution", Scrub: "scrub", Alcoholic: "alcoholic", Cream: "cream", Powder: "powder"}

// String gives the word for the form, and "" when nobody said.
func (f Form) String() string {
	if f < Solution || f > Powder {
		return ""
	}
	return formNames[f]
}

// ParseForm reads what String wrote.
func ParseForm(text string) (Form, error) {
	for f := Solution; f <= Powder; f++ {
		if f.String() == text {
			return f, nil
		}
	}
	return 0, tracker.Refuse(tracker.Invalid, "Say which form it is: solution, scrub, alcoholic, cream or powder.")
}

// Diluent is what a concentrate is diluted with; the zero Diluent means that nobody said.
type Diluent int

// The diluents that rules speak of.
const (
	BoiledWater Diluent = iota + 1
	SterileWater
	HardTapWater
	SalineSolution
	MagnesiumSulfateSolution
)

// String gives the diluent for people; when nobody said it is water.
func (d Diluent) String() string {
	return [...]string{"water", "boiled and cooled water", "sterile water", "tap water", "saline", "magnesium sulfate solution"}[d]
}

// substance gives what a diluent brings with it that can conflict, or "" for clean water.
func (d Diluent) substance() Substance {
	return [...]Substance{"", "", "", TapWater, SodiumChloride, MagnesiumSulfate}[d]
}

// Stock is the bottle in the hand.
type Stock struct {
	Name             string   // what people call it; "" is "the concentrate"
	Label            Strength // the strength on its label, or of the mix that it is
	Density          *big.Rat // g per mL; nil: not known
	IodineFactor     *big.Rat // g of available iodine per g of povidone-iodine on this label; nil: not printed
	Form             Form
	ConcentrateFirst bool      // the label says: concentrate first, then water
	Diluted          bool      // already a mix made from another bottle
	GoodUntil        time.Time // the throw-away time; the zero time is none
	Prescription     bool
	BleachDoubt      string    // what is wrong with a bleach: "scented", "thickened", "of unknown age"; "": nothing
	Weakest          *Strength // the weakest and strongest use the label allows; nil: not printed
	Strongest        *Strength
}

// Skin is what the mix goes on. The zero Skin means that nobody said, and is judged as open skin.
type Skin int

// Where a mix goes.
const (
	OpenSkin   Skin = iota + 1
	IntactSkin      // whole skin or horn
	NotOnHorse      // buckets, floors, tools
)

// Use is where the mix goes and what is known about the site and the horse.
type Use struct {
	Skin       Skin
	NearEye    bool        // near the eye, ear or face
	NearJoint  bool        // over or near a joint or tendon sheath, or a puncture of the hoof
	Closed     bool        // a puncture, or a closed or partly closed wound
	Bandage    bool        // a bandage goes over it
	SoapBefore bool        // soap or shampoo was used before, without a rinse
	Recent     []Substance // what was put on this site in the last 24 hours without a rinse since
	Delicate   bool        // a large wound, a foal, a pregnant mare or a long course
	FoodChain  bool        // the horse is not declared out of the food chain
	VetOrder   bool        // the vet's recorded instruction asks for this use
	Last       *Strength   // the strength of the last batch of the same plan; nil: none
}

// Request is one mix asked for. Amount is the volume made up to (MakeUpTo), the volume of water
// (AddTo) or what is left of the concentrate (UseUp); in grams where both strengths are by weight.
type Request struct {
	Stock                        Stock
	Want                         Strength
	ByParts                      bool // Want was given as parts of the bottle, from its label
	Kind                         Kind
	Amount                       Amount
	Diluent                      Diluent
	Devices                      []Device  // what can be measured with; none: nothing is rounded
	Ceiling                      *Strength // the most the vet or the label allows; nil: none recorded
	Use                          Use
	Now                          time.Time // compared with Stock.GoodUntil
	HaveFrom, WantFrom, MakeFrom string    // where each number came from, for the working; "" says nothing
	Mark                         tracker.DecimalMark
}

// Part is the place of a line in the working.
type Part int

// The parts of the working, in the order they are shown.
const (
	Do Part = iota + 1
	Inputs
	Formula
	Numbers
	Backwards
	Rounding
	Stop
)

// Heading gives the part's name for people.
func (p Part) Heading() string {
	return [...]string{"", "Do this", "What it starts from", "In words", "With the numbers", "Backwards", "Rounding", "Stop"}[p]
}

// Line is one line of the working.
type Line struct {
	Part Part
	Text string
}

// Result is a mix worked out. When there is a refusal the amounts, Achieved, RelativeError and
// WorstCase are empty and Working ends with the reasons. Exact amounts are fractions; Concentrate is
// rounded to the mark of Measure where there is one.
type Result struct {
	Concentrate, Diluent, Total Amount
	Exact                       Amount   // the concentrate before rounding
	Achieved                    Strength // in the unit and substance of the wanted strength
	RelativeError               *big.Rat // (achieved - wanted) / wanted: 1/100 is 1% stronger
	WorstCase                   *big.Rat // the size of that error with the measure's own tolerance on top; nil without a measure
	Measure                     *Device  // what the concentrate is measured with; nil: none given, or not needed
	Fills                       []Fill
	Offers                      []string // what to do instead, best first, when the measure does not suit
	TwoStep                     *TwoStep // the recipe in two steps behind the last offer; nil: not needed, or none found
	Working                     []Line
	Warnings, Refusals          []Note
}

// Refused tells whether the mix must not be made.
func (r *Result) Refused() bool { return len(r.Refusals) > 0 }
