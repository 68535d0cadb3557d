package tracker

import "time"

// SettingKind says what a change of settings is about.
type SettingKind string

// The kinds of settings.
const (
	OfHealing SettingKind = "healing" // the numbers that wounds are judged by
	OfRule    SettingKind = "rule"    // a caution rule: its numbers, or that it is off
	OfSpread  SettingKind = "spread"  // the measuring spread, worked out from blind second readings
)

// Known tells whether the kind is one of those above.
func (k SettingKind) Known() bool { return k == OfHealing || k == OfRule || k == OfSpread }

// Setting is one change of what may be set. None is overwritten: the newest of each kind, rule and site
// is in force, and one without numbers that is not off puts back how it was at the start.
type Setting struct {
	ID     RecordID
	Kind   SettingKind
	Rule   string             // id of the caution rule, with OfRule
	Site   SiteID             // with OfHealing: that site's own; empty: the whole yard
	Off    bool               // with OfRule: switched off
	Values map[string]float64 // by name
	WordOf string             // whose word it is: "our vet", "Ada"
	Why    string
	Day    Date // on which it was said
	At     time.Time
	By     PersonID // who wrote it down
	Hash   string
}
