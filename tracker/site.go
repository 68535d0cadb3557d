package tracker

import (
	"fmt"
	"time"
)

// SiteKind says how a site is judged.
type SiteKind int

// The kinds of site.
const (
	Wound SiteKind = iota + 1 // open skin with an edge: judged by its size, in mm a day
	Patch                     // spread-out dermatitis or thrush: judged by its signs
)

var siteKindCodes = [...]string{"", "wound", "patch"}

// String gives the stored code.
func (k SiteKind) String() string { return code(siteKindCodes[:], int(k)) }

// ParseSiteKind reads a stored code.
func ParseSiteKind(text string) (SiteKind, error) {
	n, err := parseCode("kind of site", siteKindCodes[:], text)
	return SiteKind(n), err
}

// Site is one place on a horse with a tag for life. It keeps its number after it closes, and no
// other site of that leg ever gets it.
type Site struct {
	ID       SiteID
	Horse    HorseID
	Leg      Leg
	Number   int // from 1 on each leg
	Region   Region
	Aspect   Aspect
	Kind     SiteKind // as it is judged now; a change of kind is an event
	Onset    Date     // the day a fresh wound happened; zero: not known, which counts as old
	OpenedAt time.Time
	OpenedBy PersonID
	Record   RecordID // the form that made it
	ClosedOn Date     // zero: open
	Joined   SiteID   // the site that it has grown together with, if any
}

// Tag gives the site's tag, such as "RH 2".
func (s Site) Tag() string { return fmt.Sprintf("%s %d", s.Leg, s.Number) }

// Open tells whether the site is still looked at in the round.
func (s Site) Open() bool { return s.ClosedOn == 0 && s.Joined == "" }
