package tracker

import "time"

// StepKind is what a step of a plan asks for.
type StepKind string

// The steps. The first five are done for a leg in a round, in the order of hands; a size is taken of a
// site; the rest are for the whole horse.
const (
	StepWash    StepKind = "wash"
	StepDry     StepKind = "dry"
	StepApply   StepKind = "apply"
	StepBandage StepKind = "bandage"
	StepAir     StepKind = "air"     // bandage off for an hour
	StepMeasure StepKind = "measure" // a size every so many days
	StepGive    StepKind = "give"    // a medicine by weight, as the vet ordered it
	StepWalk    StepKind = "walk"
	StepWeigh   StepKind = "weigh"
	StepTrim    StepKind = "trim"
)

// StepKinds lists them, in the order of hands.
func StepKinds() []StepKind {
	return []StepKind{StepWash, StepDry, StepApply, StepBandage, StepAir, StepMeasure, StepGive, StepWalk, StepWeigh, StepTrim}
}

// Known tells whether the kind is one of those above.
func (k StepKind) Known() bool {
	for _, known := range StepKinds() {
		if k == known {
			return true
		}
	}
	return false
}

// Act gives the tick on a leg line that says the step is done; empty for a step that no leg line ticks.
func (k StepKind) Act() CareAct {
	switch k {
	case StepWash:
		return Washed
	case StepDry:
		return Dried
	case StepApply:
		return Applied
	case StepBandage:
		return Bandaged
	case StepAir:
		return AirHour
	}
	return ""
}

// AnyTime tells whether the step belongs to its day and not to a round: it stays due until it is done or
// due anew.
func (k StepKind) AnyTime() bool { return k == StepWeigh || k == StepTrim }

// ByDay tells whether the step is due on a day, whatever the time: what is AnyTime, and sizes.
func (k StepKind) ByDay() bool { return k.AnyTime() || k == StepMeasure }

// PhaseEnd says what ends a phase of a step.
type PhaseEnd string

// The ends of a phase.
const (
	EndsOn     PhaseEnd = "date"   // PlanPhase.Date is its last day
	EndsDays   PhaseEnd = "days"   // after PlanPhase.Count days
	EndsTimes  PhaseEnd = "times"  // after it has been due PlanPhase.Count times
	EndsVet    PhaseEnd = "vet"    // when the vet says; PlanPhase.Date is then that day
	EndsClosed PhaseEnd = "closed" // when the site is closed over
)

// PlanPhase is one stretch of a step: how often, and until when. Either Times or Slots is set, and either
// Every or On. Package rounds lays it on the calendar.
type PlanPhase struct {
	Times int      // times a day, spread over the yard's rounds
	Slots []string // at these rounds of the day
	Every int      // every so many days
	On    string   // on these days of the week: "mon,thu"
	Until PhaseEnd
	Date  Date
	Count int
}

// PlanStep is one step of a plan. Which fields mean something depends on its kind.
type PlanStep struct {
	ID       string // lasting: a later version of the plan that goes on with the step keeps it
	Kind     StepKind
	Product  ProductID    // from Stores, of a wash or what is applied; empty: none of Stores
	Of       string       // the substance of a wash or medicine; what is applied, in words
	Strength StrengthText // wanted, of a wash
	Ceiling  StrengthText // the most that the vet or the label allows; empty: none recorded
	Minutes  int          // contact time of a wash, or how long to walk; 0: none said
	Rinse    bool         // rinse a wash off after it
	Amount   AmountText   // of what is applied, or of the mixed wash, each time and leg; empty: none said
	AreaCM2  FractionText // of what is applied: the area on each leg; empty: none said
	MostCM2  FractionText // and the largest area in all at one time that whoever set it allows; empty: none recorded
	Order    DoseOrder    // of a medicine
	Note     string
	Begins   Date        // its first day
	BeginsAt MinuteOfDay // rounds before it are not due on the first day
	Phases   []PlanPhase // one after the other
}

// Takes tells whether Stores keeps a tick of the step: what is put on goes out of the bottles of its product, a wash out of
// what was mixed for it, a medicine out of its bottle. Where no amount is known nothing is guessed, but that a product was
// put on is kept all the same: what may follow it depends on it.
func (s PlanStep) Takes() bool {
	switch s.Kind {
	case StepApply, StepGive:
		return s.Product != ""
	case StepWash:
		return s.Strength != "" && s.Amount != ""
	}
	return false
}

// DoseOrder is what the vet wrote down for a medicine by weight. It carries the weight that it was given
// for and the most that is allowed; nothing here is ever worked out from a horse's own weight.
type DoseOrder struct {
	Label     StrengthText // of the medicine as bought
	PerKG     FractionText // mg for each kg, each time; units of potency with Units
	Units     bool
	WeightKG  FractionText
	Estimated bool         // the weight is an estimate
	MaxPerKG  FractionText // the most for each kg, each time
	MaxCourse FractionText // the most over all; empty: none stated
	MaxDays   int          // 0: none stated
	Measure   string       // what it is measured with, as package mixing reads it; empty: not said
}

// PlanSource is who set a plan.
type PlanSource string

// The sources.
const (
	SetByVet   PlanSource = "vet"
	SetByOwner PlanSource = "owner"
	SetByLabel PlanSource = "label"
)

// Known tells whether the source is one of those above.
func (s PlanSource) Known() bool { return s == SetByVet || s == SetByOwner || s == SetByLabel }

// Plan is one version of what the vet, the owner or a label set for a horse, for some of its legs or for
// some of its sites. It is never changed: a change is a further version, which holds from its own first
// round on.
type Plan struct {
	ID      RecordID // of this version
	Root    RecordID // of the first version
	Version int      // from 1
	Horse   HorseID
	Legs    []Leg    // what it is for; with no legs and no sites: the whole horse
	Sites   []SiteID // or these sites
	Steps   []PlanStep
	RingIf  []string // "stop and ring the vet if ...", one rule each
	Source  PlanSource
	SetName string // whose: "Marlpit vet", the name of the label
	SetOn   Date   // the day on which they set it
	Note    string
	Starts  Date        // the first day of this version
	StartAt MinuteOfDay // rounds before it on that day are of the version before
	Last    Date        // the last day on which it asks for anything; zero: only time can tell
	Stopped bool        // this version ends the plan: nothing is due from Starts on
	By      PersonID    // who entered it
	At      time.Time
	Hash    string
	Reads   []PlanRead // oldest first
}

// PlanReadKind is how somebody else made sure that a plan says what was meant.
type PlanReadKind string

// The ways. ReadDiffers keeps a second person's reading of a dose that is not what the plan says, VetsWords the words of
// the vet that the plan was made of.
const (
	ReadBack    PlanReadKind = "read back"
	ReadDiffers PlanReadKind = "differs"
	VetByPhone  PlanReadKind = "vet by phone"
	VetOnVisit  PlanReadKind = "vet on a visit"
	VetsWords   PlanReadKind = "the vet's own words"
)

// Known tells whether the kind is one of those above.
func (k PlanReadKind) Known() bool {
	return k == ReadBack || k == ReadDiffers || k == VetByPhone || k == VetOnVisit || k == VetsWords
}

// PlanRead says that somebody read one version of a plan back, or that the vet confirmed it.
type PlanRead struct {
	ID    RecordID
	Plan  RecordID // the version
	Kind  PlanReadKind
	By    PersonID // who noted it: with ReadBack the one who read
	At    time.Time
	Day   Date   // with a vet's word: when it was given
	Name  string // with a vet's word: whose
	Typed string // with ReadDiffers: what the reader typed; with VetsWords: the words
	Hash  string
}

// Differs gives the newest reading where it says something else than the version: until that is settled, no medicine of it
// is to be given.
func (p Plan) Differs() (PlanRead, bool) {
	if n := len(p.Reads); n > 0 && p.Reads[n-1].Kind == ReadDiffers {
		return p.Reads[n-1], true
	}
	return PlanRead{}, false
}

// Sure gives the newest reading that stands behind this version, if there is one; a newer one that differs takes that
// away. The vet's words do not stand behind a
// medicine by weight, whose numbers a second person types.
func (p Plan) Sure() (PlanRead, bool) {
	for i := len(p.Reads) - 1; i >= 0; i-- {
		switch p.Reads[i].Kind {
		case ReadDiffers:
			return PlanRead{}, false
		case VetsWords:
			if !p.gives() {
				return p.Reads[i], true
			}
		default:
			return p.Reads[i], true
		}
	}
	return PlanRead{}, false
}

// gives tells whether a medicine by weight is among the steps.
func (p Plan) gives() bool {
	for _, s := range p.Steps {
		if s.Kind == StepGive {
			return true
		}
	}
	return false
}

// Step finds a step by its id.
func (p Plan) Step(id string) (PlanStep, bool) {
	for _, s := range p.Steps {
		if s.ID == id {
			return s, true
		}
	}
	return PlanStep{}, false
}

// Absence is a time in which a horse is not asked about: away, at the clinic or dead.
type Absence struct {
	ID    RecordID
	Horse HorseID
	From  Date
	To    Date // the last day; zero: until it is said to be back
	Why   string
	By    PersonID
	At    time.Time
	Hash  string
}

// OneOffKind is what sort of thing is due once.
type OneOffKind string

// The kinds.
const (
	VetComes     OneOffKind = "vet"
	FarrierComes OneOffKind = "farrier"
	OtherOnce    OneOffKind = "other"
)

// Known tells whether the kind is one of those above.
func (k OneOffKind) Known() bool { return k == VetComes || k == FarrierComes || k == OtherOnce }

// OneOff is something that is due once, such as the farrier on Thursday.
type OneOff struct {
	ID      RecordID
	Kind    OneOffKind
	Horse   HorseID // empty: the whole yard
	Day     Date
	At      MinuteOfDay // with Timed
	Timed   bool
	What    string
	By      PersonID
	MadeAt  time.Time
	Settled time.Time // when it was done or called off; zero: it is to come, or overdue
	Hash    string
}

// TickOutcome is what was said about things that were due.
type TickOutcome string

// The outcomes.
const (
	TickDone    TickOutcome = "done"
	TickSkipped TickOutcome = "skipped"
	TickUndone  TickOutcome = "undone" // takes back the tick Of
)

// Known tells whether the outcome is one of those above.
func (o TickOutcome) Known() bool { return o == TickDone || o == TickSkipped || o == TickUndone }

// TickOff is one press on the Due list: some things of one round, or of one day, were done or skipped.
// Ticks are only ever added.
type TickOff struct {
	ID      RecordID
	Outcome TickOutcome
	Items   []string // what was ticked, by the keys of package rounds
	Day     Date     // the day on which it was due
	Slot    string   // its round; empty: any time of that day
	Of      RecordID // with TickUndone: the tick that is taken back
	Why     string   // why it was skipped
	By      PersonID
	At      time.Time
	Hash    string
}

// Ticked drops ticks that were taken back, and those that take back.
func Ticked(ticks []TickOff) []TickOff {
	undone := map[RecordID]bool{}
	for _, t := range ticks {
		if t.Outcome == TickUndone {
			undone[t.Of] = true
		}
	}
	var out []TickOff
	for _, t := range ticks {
		if t.Outcome != TickUndone && !undone[t.ID] {
			out = append(out, t)
		}
	}
	return out
}
