package cautions

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"leground/tracker"
)

// Grade says how good the ground under a rule is.
type Grade int

// The grades.
const (
	Published      Grade = iota + 1 // a published source, read as an excerpt
	CommonPractice                  // common practice of the trade, no source
	FromMemory                      // recalled, not read again
	OwnChoice                       // chosen by this project, no source
)

// String gives the words that stand on the rules page.
func (g Grade) String() string {
	switch g {
	case Published:
		return "published source"
	case CommonPractice:
		return "common practice, no source"
	case FromMemory:
		return "from memory"
	case OwnChoice:
		return "our own choice, no source"
	}
	return ""
}

// Threshold is one named number of a rule. Least and Most bound what a yard may set.
type Threshold struct {
	Name  string // in code and settings, such as "days"
	Words string // on the rules page: "days since the first look"
	Value float64
	Unit  string
	Least float64
	Most  float64
}

// Rule is one reason to tell the vet.
type Rule struct {
	ID         string // lasting; stored with each caution
	Level      tracker.Level
	Title      string // what it watches for
	Why        string // whose rule it is, in a sentence
	Source     string // author, title, year; empty unless Published
	Grade      Grade
	Next       string // what would make it more urgent, or what to do meanwhile
	Thresholds []Threshold
	Again      time.Duration // once acted on, the least time before the same subject is shown again
	Worse      []Worse       // what ends that time at once
	Once       bool          // says the same at every look, so that it is raised once about a subject
	Weaken     bool          // may be switched off or set by the yard or the vet
}

// Worse names a number of a caution and the least change in it that is worse than what somebody acted on: a
// rise, or a fall where it is below zero. Signs and scores move by whole steps; the other changes are a
// little more than one reading is off by (our own choice, no source).
type Worse struct {
	Number string
	By     float64
}

// worse tells whether a rule that fired shows a number that is worse than all that a caution has shown.
func (r Rule) worse(fired Fired, than tracker.Caution) bool {
	return slices.ContainsFunc(r.Worse, func(w Worse) bool {
		now, known := leading(fired.Numbers[w.Number])
		if !known {
			return false
		}
		compared := false
		for _, shown := range than.Shown() {
			was, known := leading(shown.Numbers[w.Number])
			if known && (now-was)/w.By < 1-1e-9 {
				return false
			}
			compared = compared || known
		}
		return compared
	})
}

// leading reads the number that a value in words begins with: 38.7 of "38.7 °C".
func leading(value string) (float64, bool) {
	number, _, _ := strings.Cut(strings.ReplaceAll(value, "\u00a0", " "), " ")
	n, err := strconv.ParseFloat(strings.ReplaceAll(number, ",", "."), 64)
	return n, err == nil
}

// number gives a threshold by name. A name that is not there is a fault of the program.
func (r Rule) number(name string) float64 {
	for _, t := range r.Thresholds {
		if t.Name == name {
			return t.Value
		}
	}
	panic("cautions: rule " + r.ID + " has no threshold " + name)
}

// How soon a rule may show again for the same subject once somebody acted on it. What lasts by nature
// would be shown every day: people stop reading warnings that repeat (clinicians' acceptance of reminders
// fell with every repeat: Ancker et al., BMC Med Inform Decis Mak 2017;17:36).
const (
	nextDay   = 24 * time.Hour
	nextWeek  = 7 * 24 * time.Hour
	nextMonth = 28 * 24 * time.Hour
)

// entry joins a rule with the function that looks for it.
type entry struct {
	Rule
	when func(v view, r Rule) []Fired
}

// book is every rule, danger signs first.
func book() []entry {
	var all []entry
	for _, part := range [][]entry{dangerRules(), vitalRules(), legRules(), siteRules(), horseRules()} {
		all = append(all, part...)
	}
	return all
}

// Rules lists every rule as it stands before any setting.
func Rules() []Rule {
	entries := book()
	rules := make([]Rule, len(entries))
	for i, e := range entries {
		rules[i] = e.Rule
	}
	return rules
}

// RuleByID finds a rule.
func RuleByID(id string) (Rule, bool) {
	for _, r := range Rules() {
		if r.ID == id {
			return r, true
		}
	}
	return Rule{}, false
}

// Setting is what a yard or a vet changed about one rule.
type Setting struct {
	Off    bool
	Values map[string]float64 // by threshold name
	Who    string             // in words: "your vet", "Ada"
	On     tracker.Date
}

// Settings maps a rule's ID to what was changed. The caller keeps them, with every earlier version.
type Settings map[string]Setting

// CheckSetting refuses a setting that may not be made: an unknown rule, a rule for a danger sign, a
// threshold that the rule does not have or a value out of bounds, or nobody's name.
func CheckSetting(id string, s Setting) error {
	r, ok := RuleByID(id)
	if !ok {
		return tracker.Refuse(tracker.NotFound, fmt.Sprintf("There is no rule %q. Choose one from the list of rules.", id))
	}
	if !r.Weaken {
		return tracker.Refuse(tracker.Invalid, fmt.Sprintf("The rule %q cannot be changed or switched off.", r.Title))
	}
	if s.Who == "" || s.On == 0 {
		return tracker.Refuse(tracker.Invalid, "Say who set the rule, and on which day.")
	}
	for name, value := range s.Values {
		if err := r.checkValue(name, value); err != nil {
			return err
		}
	}
	return nil
}

func (r Rule) checkValue(name string, value float64) error {
	for _, t := range r.Thresholds {
		if t.Name != name {
			continue
		}
		if value >= t.Least && value <= t.Most {
			return nil
		}
		return tracker.Refuse(tracker.Invalid, fmt.Sprintf("%s must be from %s to %s %s.", tracker.Capital(t.Words),
			plain(t.Least), plain(t.Most), t.Unit))
	}
	return tracker.Refuse(tracker.Invalid, fmt.Sprintf("The rule %q has no number %q.", r.Title, name))
}

// apply gives the rule as set, and whether it is on. A setting that [CheckSetting] would refuse is left
// out of account: the rule then stands as it was.
func (s Settings) apply(r Rule) (Rule, bool) {
	set, ok := s[r.ID]
	if !ok || CheckSetting(r.ID, set) != nil {
		return r, true
	}
	if set.Off {
		return r, false
	}
	thresholds := append([]Threshold(nil), r.Thresholds...)
	for i := range thresholds {
		if value, ok := set.Values[thresholds[i].Name]; ok {
			thresholds[i].Value = value
		}
	}
	r.Thresholds = thresholds
	if len(set.Values) > 0 {
		r.Why = fmt.Sprintf("The number in this rule was set by %s on %s.", set.Who, tracker.DayName(set.On))
	}
	return r, true
}
