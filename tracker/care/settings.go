package care

import (
	"cmp"
	"context"
	"maps"
	"math"
	"slices"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/cautions"
	"leground/tracker/healing"
)

// Number is one number by which wounds are judged.
type Number struct {
	Name        string // in settings
	Words, Unit string
	Value       float64
}

// HealingNumbers lists the numbers that a yard, or a vet for one site, may set.
func HealingNumbers(s healing.Settings) []Number {
	return []Number{
		{"closing", "Closing from", "mm a day", s.ClosingMM},
		{"not-closing", "Not closing below", "mm a day", s.NotClosingMM},
		{"window", "Days that the rate is worked out from", "days", float64(s.WindowDays)},
		{"fewest-days", "Measured days without which it is too early to say", "days", float64(s.FewestDays)},
		{"fewest-span", "Days from the first to the last of them", "days", float64(s.FewestSpan)},
		{"not-closing-days", "Measured days without which nothing is called not closing", "days", float64(s.NotClosingDays)},
		{"not-closing-span", "Days since the first reading before it is", "days", float64(s.NotClosingSpan)},
		{"unclear-days", "Days since the first reading from which unclear counts as not closing", "days", float64(s.UnclearDays)},
		{"spread", "Measuring spread of one length, until second readings have shown it", "mm", s.SpreadMM},
	}
}

// withNumbers gives settings with those numbers changed that are named.
func withNumbers(s healing.Settings, values map[string]float64) healing.Settings {
	mm := map[string]*float64{"closing": &s.ClosingMM, "not-closing": &s.NotClosingMM, "spread": &s.SpreadMM}
	days := map[string]*int{"window": &s.WindowDays, "fewest-days": &s.FewestDays, "fewest-span": &s.FewestSpan,
		"not-closing-days": &s.NotClosingDays, "not-closing-span": &s.NotClosingSpan, "unclear-days": &s.UnclearDays}
	for name, value := range values {
		if to := mm[name]; to != nil {
			*to = value
		} else if to := days[name]; to != nil {
			*to = int(value)
		}
	}
	return s
}

// inForce is what is set in a yard, ready to be used.
type inForce struct {
	set   []tracker.Setting // as it is kept
	yard  healing.Settings
	sites map[tracker.SiteID]tracker.Setting
	rules cautions.Settings
}

// settingsOf reads what is set in a yard.
func settingsOf(tx Tx, yard tracker.Yard) (inForce, error) {
	set, err := tx.Settings()
	f := inForce{set: set, yard: startSettings(yard), sites: map[tracker.SiteID]tracker.Setting{}, rules: cautions.Settings{}}
	for _, s := range set {
		switch {
		case s.Kind == tracker.OfRule && (s.Off || len(s.Values) > 0):
			f.rules[s.Rule] = cautions.Setting{Off: s.Off, Values: s.Values, Who: s.WordOf, On: s.Day}
		case s.Kind == tracker.OfSpread:
			f.yard.Spreads = spreadsOf(s.Values)
		case s.Kind == tracker.OfHealing && s.Site == "":
			f.yard = withNumbers(f.yard, s.Values)
		case s.Kind == tracker.OfHealing:
			f.sites[s.Site] = s
		}
	}
	return f, err
}

// startSettings are what a yard judges by before anybody has set anything.
func startSettings(yard tracker.Yard) healing.Settings {
	s := healing.DefaultSettings()
	s.SpreadMM = cmp.Or(yard.SpreadMM, s.SpreadMM)
	return s
}

// of gives what a site is judged by: the yard's settings, with those that are its own.
func (f inForce) of(site tracker.SiteID) healing.Settings {
	return withNumbers(f.yard, f.sites[site].Values)
}

// SettingsView is what is set, by whom and why.
type SettingsView struct {
	Moment
	Start   healing.Settings // before anybody set anything
	Healing healing.Settings // of the yard
	Wounds  []WoundSettings  // open ones, by horse and tag
	Rules   []RuleState
	History []tracker.Setting // newest first
	Sites   map[tracker.SiteID]string
	People  map[tracker.PersonID]string
}

// WoundSettings are what one wound is judged by.
type WoundSettings struct {
	Site    tracker.Site
	Horse   tracker.Horse
	Healing healing.Settings
	Own     *tracker.Setting // what was set for it alone; nil: the yard's count
}

// RuleState is one caution rule as it stands.
type RuleState struct {
	cautions.Rule
	Set   *tracker.Setting // what is in force beside the start; nil: as it was written
	Shown int              // how often it was raised in the last RuleDays days
}

// Value gives a number of the rule as it counts now.
func (r RuleState) Value(t cautions.Threshold) float64 {
	if r.Set != nil {
		if own, ok := r.Set.Values[t.Name]; ok {
			return own
		}
	}
	return t.Value
}

// RuleDays is the span over which the rules page counts.
const RuleDays = 90

// settingsShown is how many changes the pages list.
const settingsShown = 100

// SettingsNow gives everything that may be set.
func (s *Service) SettingsNow(ctx context.Context, a Actor) (SettingsView, error) {
	return reading(ctx, s, a.Yard, func(tx Tx, now time.Time) (SettingsView, error) {
		view := SettingsView{Sites: map[tracker.SiteID]string{}}
		var err, e2, e3 error
		if view.Moment, err = momentOf(tx, now); err != nil {
			return view, err
		}
		force, e1 := settingsOf(tx, view.Yard)
		view.Start, view.Healing = startSettings(view.Yard), force.yard
		view.History, e2 = tx.SettingHistory(settingsShown)
		view.People, e3 = names(tx)
		e4, e5 := view.readWounds(tx, force), view.readRules(tx, force)
		return view, cmp.Or(e1, e2, e3, e4, e5)
	})
}

func (view *SettingsView) readWounds(tx Tx, force inForce) error {
	horses, e1 := tx.Horses()
	sites, e2 := tx.Sites("")
	for _, horse := range horses {
		for _, site := range sites {
			if site.Horse != horse.ID {
				continue
			}
			view.Sites[site.ID] = horse.Name + " " + site.Tag()
			if site.Kind == tracker.Wound && site.Open() && horse.Place != tracker.Gone {
				w := WoundSettings{Site: site, Horse: horse, Healing: force.of(site.ID)}
				if own, ok := force.sites[site.ID]; ok && len(own.Values) > 0 {
					w.Own = &own
				}
				view.Wounds = append(view.Wounds, w)
			}
		}
	}
	return cmp.Or(e1, e2)
}

func (view *SettingsView) readRules(tx Tx, force inForce) error {
	counts, err := tx.CautionCounts(view.Now.AddDate(0, 0, -RuleDays))
	for _, rule := range cautions.Rules() {
		state := RuleState{Rule: rule, Shown: counts[rule.ID]}
		for _, s := range force.set {
			if s.Kind == tracker.OfRule && s.Rule == rule.ID && (s.Off || len(s.Values) > 0) {
				state.Set = &s
			}
		}
		view.Rules = append(view.Rules, state)
	}
	return err
}

// ChangeHealing sets the numbers by which the yard's wounds are judged, or one wound's own. Numbers that are
// as at the start (for a wound: as the yard's) are not kept. What is judged by them is judged anew at once.
func (s *Service) ChangeHealing(ctx context.Context, a Actor, in tracker.Setting) error {
	in.Kind, in.Rule, in.Off = tracker.OfHealing, "", false
	return s.change(ctx, a, in, func(tx Tx, yard tracker.Yard, in *tracker.Setting) error {
		force, err := settingsOf(tx, yard)
		if err != nil {
			return err
		}
		before := startSettings(yard)
		if in.Site != "" {
			if _, err := tx.Site(in.Site); err != nil {
				return err
			}
			before = force.yard
		}
		if err := checkNumbers(before, in.Values); err != nil {
			return err
		}
		in.Values = changedNumbers(before, in.Values)
		return nil
	})
}

// checkNumbers refuses numbers that cannot be judged by, beside the field of the one that is wrong by itself.
func checkNumbers(before healing.Settings, values map[string]float64) error {
	var p tracker.Problems
	for _, n := range HealingNumbers(before) {
		value, set := values[n.Name]
		if set && n.Unit == "days" && value != math.Trunc(value) {
			p.Add("v."+n.Name, n.Words+" must be a whole number of days, like 21.")
		}
	}
	together := withNumbers(before, values).Check()
	if together != nil && len(p) == 0 {
		for _, n := range HealingNumbers(before) {
			if value, set := values[n.Name]; set {
				if err := withNumbers(before, map[string]float64{n.Name: value}).Check(); err != nil {
					p.Add("v."+n.Name, "This number cannot be used: "+err.Error()+".")
				}
			}
		}
		if len(p) == 0 {
			return tracker.Refuse(tracker.Invalid, "These numbers cannot be used together: "+together.Error()+".")
		}
	}
	return p.Err()
}

// changedNumbers keeps the numbers that differ from those of settings.
func changedNumbers(from healing.Settings, values map[string]float64) map[string]float64 {
	out := map[string]float64{}
	for _, n := range HealingNumbers(from) {
		if value, ok := values[n.Name]; ok && value != n.Value {
			out[n.Name] = value
		}
	}
	return out
}

// ChangeRule sets the numbers of a caution rule, switches it off, or puts it back as it was written.
func (s *Service) ChangeRule(ctx context.Context, a Actor, in tracker.Setting) error {
	in.Kind, in.Site = tracker.OfRule, ""
	return s.change(ctx, a, in, func(_ Tx, _ tracker.Yard, in *tracker.Setting) error {
		set := cautions.Setting{Off: in.Off, Who: in.WordOf, On: in.Day}
		if err := cautions.CheckSetting(in.Rule, set); err != nil {
			return err
		}
		var p tracker.Problems
		for _, name := range slices.Sorted(maps.Keys(in.Values)) {
			set.Values = map[string]float64{name: in.Values[name]}
			if err := cautions.CheckSetting(in.Rule, set); err != nil {
				p.Add("v."+name, err.Error())
			}
		}
		return p.Err()
	})
}

// change keeps a change of settings with who, why and when. The same record twice is one change.
func (s *Service) change(ctx context.Context, a Actor, in tracker.Setting, prepare func(Tx, tracker.Yard, *tracker.Setting) error) error {
	return s.owning(ctx, a, func(tx Tx, now time.Time) error {
		if err := checkChange(in); err != nil {
			return err
		}
		have, err := tx.SettingByRecord(in.ID)
		if before, err := sentBefore(have.Hash == in.Hash, err); before || err != nil {
			return err
		}
		m, err := momentOf(tx, now)
		if err != nil {
			return err
		}
		set := in
		set.WordOf, set.Why, set.At, set.By = strings.TrimSpace(in.WordOf), strings.TrimSpace(in.Why), now, a.Person.ID
		if set.Day > m.Today {
			return tracker.RefuseField("day", "The day it was said cannot be after today.")
		}
		set.Day = cmp.Or(set.Day, m.Today)
		if err := prepare(tx, m.Yard, &set); err != nil {
			return err
		}
		if err := tx.AddSetting(set); err != nil {
			return err
		}
		if err := note(tx, a, now, "setting changed", string(set.Kind)+" "+set.Rule+string(set.Site), set.WordOf+": "+set.Why); err != nil {
			return err
		}
		return s.afterChange(tx, a, m, set)
	})
}

func checkChange(in tracker.Setting) error {
	var p tracker.Problems
	checkRecord(&p, in.ID)
	checkName(&p, "word_of", in.WordOf, "Whose word it is, like: our vet,")
	checkText(&p, "why", in.Why, 500)
	if strings.TrimSpace(in.Why) == "" {
		p.Add("why", "Say why, like: the vet asked for it on the telephone.")
	}
	return p.Err()
}

// afterChange judges anew what a change bears on, and holds the rules against it.
func (s *Service) afterChange(tx Tx, a Actor, m Moment, set tracker.Setting) error {
	sites, err := tx.Sites("")
	if err != nil {
		return err
	}
	var horses []tracker.HorseID
	for _, site := range sites {
		if !site.Open() || set.Site != "" && site.ID != set.Site {
			continue
		}
		if set.Kind == tracker.OfHealing && site.Kind == tracker.Wound {
			if _, err := rejudge(tx, m, site); err != nil {
				return err
			}
		}
		if !slices.Contains(horses, site.Horse) {
			horses = append(horses, site.Horse)
		}
	}
	for _, horse := range horses {
		if _, err := s.raise(tx, a, m, horse); err != nil {
			return err
		}
	}
	return nil
}
