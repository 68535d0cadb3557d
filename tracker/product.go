package tracker

import (
	"slices"
	"time"
)

// Exact numbers as they are kept: fractions, never rounded. Package mixing makes and reads them; the
// empty text is none.
type (
	// StrengthText is a strength with its unit and what it counts: "1/20|% w/v|chlorhexidine gluconate".
	StrengthText string
	// AmountText is an amount with its unit, mL or g: "1000|mL".
	AmountText string
	// FractionText is a bare number: "53/50".
	FractionText string
)

// Product is a substance as it is bought. Its label strength never changes: another strength is
// another product.
type Product struct {
	ID        ProductID
	Name      string // what the yard calls it
	Label     StrengthText
	Facts     ProductFacts
	Gone      bool // not bought any more
	CreatedAt time.Time
	CreatedBy PersonID
	Hash      string
}

// ProductFacts is what else the label of a product says, and the yard about it.
type ProductFacts struct {
	Form             string       // a form of package mixing: "solution", "scrub", "alcoholic", "cream", "powder"
	Weakest          StrengthText // the weakest and the strongest use on the label
	Strongest        StrengthText
	Density          FractionText // g per mL
	IodineFactor     FractionText // g of available iodine per g of povidone-iodine
	InUseDays        int          // how long an opened bottle keeps; 0: not printed
	MixHours         int          // how long a mix of it keeps; 0: the usual 24 hours
	MixHoursBy       string       // who says so: "the label", "the vet, 30 Apr"
	Cautions         []string     // lines for the label of a mix: "Do not swallow."
	Prescription     bool
	FoodNote         string       // what it means for a horse that may be eaten; empty: nothing
	ConcentrateFirst bool         // the label says: concentrate first, then water
	BleachDoubt      string       // why a bleach cannot be trusted: "scented"
	DeliveryDays     int          // how long a delivery takes
	MostCM2          FractionText // the largest area that its label lets it be put on at one time; empty: none printed
	StripGrams       FractionText // g in 100 mm of the strip that its own nozzle gives; empty: not known
}

// Bottle is one container of a product.
type Bottle struct {
	ID      BottleID
	Product ProductID
	Size    AmountText // what it held when it came
	Expiry  Date       // the last day on which it may be used, as printed; zero: none
	AddedAt time.Time
	AddedBy PersonID
	Ended   time.Time // when it was used up or thrown away; zero: it is there
	Hash    string
	Acts    []StoreAct // oldest first
}

// Mix is a dilution that was made, of a bottle or of another mix. It is never changed; what became of
// it stands in its acts.
type Mix struct {
	ID          MixID
	Product     ProductID // what it is a dilution of
	Bottle      BottleID  // what it was made from: this
	Parent      MixID     // or this
	Horse       HorseID   // empty: for any
	Plan        string    // the plan step that asked for it; empty: none
	Want        StrengthText
	Strength    StrengthText // as worked back from what the hands measured
	Concentrate AmountText
	Total       AmountText
	MadeAt      time.Time
	By          PersonID
	ThrowAway   time.Time
	Facts       MixFacts
	Ended       time.Time // when it was used up or thrown away; zero: it is there
	Hash        string
	Acts        []StoreAct // oldest first
}

// MixFacts is the rest of what is known of a mix, in the words of the moment when it was made.
type MixFacts struct {
	Name     string
	From     string   // the bottle, and who read its label
	Why      string   // why it is thrown away when it is
	Diluent  string   // what it was diluted with
	Cautions []string // of the product
	Ticks    []string // ids of the warnings that were ticked
	Working  []string // line by line as it was shown
}

// StoreActKind is something that was done about a bottle or a mix.
type StoreActKind string

// The acts. Those of mixes are AmountLeft, Used, Checked, PutOn, GivenBack, UsedUp and ThrownAway; bottles are not checked.
const (
	LabelRead    StoreActKind = "read"        // one person typed the strength from the label
	LabelDoubted StoreActKind = "doubted"     // somebody held the bottle and its label says something else
	LabelSettled StoreActKind = "settled"     // the owner settled which strength is right
	Opened       StoreActKind = "opened"      // on Day
	AmountLeft   StoreActKind = "left"        // Amount is what is left, by eye or by weight
	Used         StoreActKind = "used"        // Amount went into the mix For
	Checked      StoreActKind = "checked"     // a second person looked at bottle, measure and mix
	PutOn        StoreActKind = "put-on"      // Amount was put on a horse or given to it, by the tick Item of Day
	GivenBack    StoreActKind = "given-back"  // what Of took was not put on: its tick was taken back
	UsedUp       StoreActKind = "used-up"     // nothing is left
	ThrownAway   StoreActKind = "thrown-away" // for the reason in Note
)

// Known tells whether the kind is one of those above.
func (k StoreActKind) Known() bool {
	switch k {
	case LabelRead, LabelDoubted, LabelSettled, Opened, AmountLeft, Used, Checked, PutOn, GivenBack, UsedUp, ThrownAway:
		return true
	}
	return false
}

// Ends tells whether the bottle or mix is gone after it.
func (k StoreActKind) Ends() bool { return k == UsedUp || k == ThrownAway }

// StoreAct is one of them, about a bottle or a mix. What was put on that no bottle had by the book is about neither.
type StoreAct struct {
	ID       RecordID
	Kind     StoreActKind
	Bottle   BottleID
	Mix      MixID
	At       time.Time
	By       PersonID
	Day      Date
	Amount   AmountText
	Strength StrengthText
	For      MixID
	Product  ProductID // of what was put on
	Horse    HorseID   // that it was put on
	Item     string    // the round of Day, and what was ticked in it
	Of       RecordID  // the act that is given back
	Note     string
	Hash     string
}

// Standing drops acts that were given back, and those that give back.
func Standing(acts []StoreAct) []StoreAct {
	back := map[RecordID]bool{}
	for _, a := range acts {
		if a.Kind == GivenBack {
			back[a.Of] = true
		}
	}
	return slices.DeleteFunc(slices.Clone(acts), func(a StoreAct) bool { return a.Kind == GivenBack || back[a.ID] })
}

// Measures are the yard's usual volumes to make, and what it measures with.
type Measures struct {
	Volumes []AmountText
	Devices []string // as package mixing reads them: "20 mL syringe, 1 mL marks"
}
