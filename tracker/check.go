package tracker

import (
	"slices"
	"time"
)

// Subject says what a check looks at.
type Subject int

// The subjects of a check.
const (
	OfSite Subject = iota + 1
	OfLeg
	OfFoot
	OfHorse
)

var subjectCodes = [...]string{"", "site", "leg", "foot", "horse"}

// String gives the stored code.
func (s Subject) String() string { return code(subjectCodes[:], int(s)) }

// ParseSubject reads a stored code.
func ParseSubject(text string) (Subject, error) {
	n, err := parseCode("subject", subjectCodes[:], text)
	return Subject(n), err
}

// Outcome says whether somebody looked.
type Outcome int

// The outcomes. A retracted check is the newest version of one that should not count.
const (
	Looked Outcome = iota + 1
	Skipped
	Retracted
)

var outcomeCodes = [...]string{"", "looked", "skipped", "retracted"}

// String gives the stored code.
func (o Outcome) String() string { return code(outcomeCodes[:], int(o)) }

// ParseOutcome reads a stored code.
func ParseOutcome(text string) (Outcome, error) {
	n, err := parseCode("outcome", outcomeCodes[:], text)
	return Outcome(n), err
}

// SizeAnswer is the full answer to "what size is it?": a size, or why there is none.
type SizeAnswer int

// The answers. NotDue means that the plan asked for no size on that day.
const (
	Measured   SizeAnswer = iota + 1
	SameAsLast            // measured, and both lengths were the same as last time
	ClosedOver            // no open skin was seen
	CouldNotMeasure
	UnderBandage
	HairHides
	NotDue
)

var sizeCodes = [...]string{"", "measured", "same", "closed", "could-not", "bandage", "hair", "not-due"}

// String gives the stored code.
func (s SizeAnswer) String() string { return code(sizeCodes[:], int(s)) }

// ParseSizeAnswer reads a stored code.
func ParseSizeAnswer(text string) (SizeAnswer, error) {
	n, err := parseCode("answer about the size", sizeCodes[:], text)
	return SizeAnswer(n), err
}

// HasLengths tells whether the answer comes with a length and a width.
func (s SizeAnswer) HasLengths() bool { return s == Measured || s == SameAsLast }

// Method is how a size was taken. Sizes of different methods are never one series.
type Method int

// The methods.
const (
	Ruler Method = iota + 1 // greatest length, and greatest width at right angles to it
	Traced
	PhotoSize
)

var methodCodes = [...]string{"", "ruler", "traced", "photo"}

// String gives the stored code.
func (m Method) String() string { return code(methodCodes[:], int(m)) }

// ParseMethod reads a stored code.
func ParseMethod(text string) (Method, error) {
	n, err := parseCode("method", methodCodes[:], text)
	return Method(n), err
}

// Bed is the level of a wound's bed against the skin around it.
type Bed int

// The bed levels. Above the skin is proud flesh, which area alone cannot show.
const (
	BedBelow Bed = iota + 1
	BedFlush
	BedAbove
)

var bedCodes = [...]string{"", "below", "flush", "above"}

// String gives the stored code.
func (b Bed) String() string { return code(bedCodes[:], int(b)) }

// ParseBed reads a stored code.
func ParseBed(text string) (Bed, error) {
	n, err := parseCode("bed level", bedCodes[:], text)
	return Bed(n), err
}

// Size is what was read off at one look. For a wound it is the open skin, for a patch its reach.
type Size struct {
	Answer   SizeAnswer
	LengthMM int // greatest length
	WidthMM  int // greatest width at right angles to it
	AreaMM2  int // open skin inside an outline that was traced, with method Traced; 0: not traced
	DepthMM  int // greatest depth, apart from area; 0: not taken
	BedMM    int // signed height of the bed against the skin; 0 with a zero Bed: not taken
	Method   Method
}

// MaxLengthMM is the longest size that can be entered, as the screen says.
const MaxLengthMM = 400

// Vitals are what was taken of the whole horse. Zero means not taken.
type Vitals struct {
	TemperatureTenthsC int // 372 is 37.2 degrees Celsius
	PulsePerMinute     int
	BreathsPerMinute   int
	RefillTenthsSecond int    // capillary refill time
	Gums               string // "pink", or the colour that was seen
	NoGutSounds        bool
	LabouredBreathing  bool
	RestedMinutes      int
	WeightKG           int    // by scale or tape
	ConditionHalves    int    // body condition in half points, 2 to 18: 7 is 3.5 of 9 on Henneke's scale
	GirthMM            [4]int // how thick each leg is round at its marked point, by Leg less one
}

// GumColours are the colours of gums that can be noted, the healthy one first.
func GumColours() []string {
	return []string{"pink", "pale or white", "brick red", "blue", "yellow", "brown"}
}

// ParseGums reads a colour of gums.
func ParseGums(text string) (string, error) {
	if !slices.Contains(GumColours(), text) {
		return "", Refuse(Invalid, "The colour of the gums must be one of those offered.")
	}
	return text, nil
}

// Check is one dated look at a site, a leg, a foot or a horse by one person. Each version is a row
// of its own: a correction or retraction has its own ID, the Root of the first and the next Version.
type Check struct {
	ID      RecordID
	Root    RecordID // ID of the first version
	Version int      // from 1
	Subject Subject
	Outcome Outcome
	Horse   HorseID
	Leg     Leg
	Site    SiteID

	At        time.Time // when it was seen: the corrected device time, or "written down at"
	Day       Date      // the day of At in the yard's zone
	DeviceAt  time.Time // what the phone's clock said; zero: no script, so the server's time counts
	ServerAt  time.Time
	WrittenAt time.Time     // typed in later from paper; zero: not so
	ClockOff  time.Duration // device clock minus server clock where it was corrected; zero: trusted
	RoundDay  Date          // with Slot, the round it belongs to; zero: outside any round
	Slot      string

	By     PersonID // who was signed in
	Looker PersonID // who looked and measured

	Size     Size
	Bed      Bed
	Scab     bool // a scab is on
	Bandage  bool // seen under or with a bandage on
	Hair     bool // hair hides part of it
	Clipped  bool
	Sedated  bool
	SkinSeen bool // the skin itself was seen
	Signs    Signs
	Dangers  []Danger
	Flags    []Flag
	Care     []CareAct
	Vitals   Vitals
	Skip     string // why it was not looked at
	Note     string
	Hash     string   // of what was posted: the same id with another hash is a conflict
	Blind    RecordID // root of the reading that this one repeats, by another person who did not see it; empty: an ordinary look
}

// Has tells whether a danger was ticked.
func (c Check) Has(d Danger) bool {
	for _, have := range c.Dangers {
		if have == d {
			return true
		}
	}
	return false
}
