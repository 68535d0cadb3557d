package tracker

import "time"

// EventKind is something that happened to a horse, a leg or a site and changes how later checks read.
type EventKind string

// The events. Those that reset start a new series of sizes; a treatment change is marked and resets
// nothing.
const (
	Debridement     EventKind = "debridement"
	Clipping        EventKind = "clipping"
	CrustsRemoved   EventKind = "crusts-removed"
	NewInjury       EventKind = "new-injury"
	MethodChange    EventKind = "method-change"
	Reopened        EventKind = "reopened"
	TreatmentChange EventKind = "treatment-change"
	BandageOn       EventKind = "bandage-on"
	BandageOff      EventKind = "bandage-off"
	KindChange      EventKind = "kind-change"
	Joined          EventKind = "joined"
	SoakStarted     EventKind = "soak-started"
	VetVisit        EventKind = "vet-visit"
	FarrierVisit    EventKind = "farrier-visit"
)

// Resets tells whether the event starts a new series of sizes.
func (k EventKind) Resets() bool {
	switch k {
	case Debridement, Clipping, CrustsRemoved, NewInjury, MethodChange, Reopened:
		return true
	}
	return false
}

// Known tells whether the kind is one of those above.
func (k EventKind) Known() bool {
	switch k {
	case TreatmentChange, BandageOn, BandageOff, KindChange, Joined, SoakStarted, VetVisit, FarrierVisit:
		return true
	}
	return k.Resets()
}

// Event is one of them, on a horse, a leg or a site. A zero Leg means the whole horse, an empty
// Site the whole leg.
type Event struct {
	ID    RecordID
	Kind  EventKind
	Horse HorseID
	Leg   Leg
	Site  SiteID
	Day   Date
	At    time.Time
	By    PersonID
	Note  string
	Tick  RecordID // the tick on the Due list that says so, and takes it back when it is taken back; empty: noted by itself
	Hash  string
}
