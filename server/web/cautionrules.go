package web

import (
	"net/http"

	"leground/tracker"
	"leground/tracker/care"
)

// CautionRulesPage lists every rule that raises cautions, by level, and what was set about it.
type CautionRulesPage struct {
	Base
	sent
	View    care.SettingsView
	Groups  []RuleGroup
	History []SettingLine
}

// RuleGroup is the rules of one level.
type RuleGroup struct {
	Level tracker.Level
	Rules []RuleRow
}

// RuleRow is one rule with the form that sets it, where it may be set.
type RuleRow struct {
	care.RuleState
	Form   SettingForm
	Limits []string // its numbers as they count now
	Now    string   // what was set, by whom and when; empty: as it was written
}

// SettingForm is the form of one change of settings.
type SettingForm struct {
	sent
	Owner   bool
	Action  string
	Rule    string
	Site    tracker.SiteID
	Prefix  string // of ids on the page
	Numbers []SettingNumber
	MayOff  bool
	Off     bool
	Changed bool // something is set that can be put back
}

// SettingNumber is one number that may be set.
type SettingNumber struct {
	ID, Field, Words, Unit, Value, Hint string
	Problem                             *tracker.FieldProblem
}

func (h *Handler) cautionRules(w http.ResponseWriter, r *http.Request, state sent) error {
	view, err := h.care.SettingsNow(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	page := CautionRulesPage{Base: h.base(r, "Caution rules").inYard(view.Moment, "rules").wrong(state.why), View: view}
	if r.URL.Query().Get("saved") != "" {
		page.Notice = "The change is kept, with the ones before it. It counts from now on."
	}
	for _, level := range []tracker.Level{tracker.RingNow, tracker.RingToday, tracker.NextVisit} {
		group := RuleGroup{Level: level}
		for _, rule := range view.Rules {
			if rule.Level == level {
				group.Rules = append(group.Rules, page.row(rule, state))
			}
		}
		page.Groups = append(page.Groups, group)
	}
	for _, s := range view.History {
		if s.Kind == tracker.OfRule {
			page.History = append(page.History, settingLine(view, page.Base, s))
		}
	}
	return h.draw(w, page.status(), "caution-rules", page)
}

func (p CautionRulesPage) row(rule care.RuleState, state sent) RuleRow {
	row := RuleRow{RuleState: rule}
	for _, t := range rule.Thresholds {
		row.Limits = append(row.Limits, tracker.Capital(t.Words)+": "+tracker.FormatFloat(rule.Value(t), 2, p.Mark)+" "+t.Unit+".")
	}
	if !rule.Weaken {
		return row
	}
	form := SettingForm{Owner: p.Role == tracker.Owner, Action: "/rules/cautions", Rule: rule.ID, Prefix: rule.ID, MayOff: true, Changed: rule.Set != nil}
	if state.Value("rule", "") == rule.ID {
		form.sent = state
	}
	for _, t := range rule.Thresholds {
		if t.Least == t.Most {
			continue
		}
		form.Numbers = append(form.Numbers, form.number(t.Name, tracker.Capital(t.Words), t.Unit, tracker.FormatFloat(rule.Value(t), 2, p.Mark),
			"From "+tracker.FormatFloat(t.Least, 2, p.Mark)+" to "+tracker.FormatFloat(t.Most, 2, p.Mark)+"; written as "+tracker.FormatFloat(t.Value, 2, p.Mark)+"."))
	}
	if rule.Set != nil {
		form.Off = rule.Set.Off
		line := settingLine(p.View, p.Base, *rule.Set)
		row.Now = "Set " + line.When + " by " + line.By + ". " + line.Words + " " + line.Said
	}
	form.Off = form.Is("off", "1", form.Off)
	row.Form = form
	return row
}

func (f SettingForm) number(name, words, unit, value, hint string) SettingNumber {
	field := "v." + name
	return SettingNumber{ID: f.Prefix + "-" + name, Field: field, Words: words, Unit: unit, Value: f.Value(field, value), Hint: hint, Problem: f.Problem(field)}
}

func (h *Handler) changeRule(w http.ResponseWriter, r *http.Request, f *form) error {
	return h.changeSetting(w, r, f, "/rules/cautions", func(in tracker.Setting) error {
		in.Rule, in.Off = f.text("rule"), f.ticked("off")
		if f.text("do") == "back" {
			in.Off, in.Values = false, nil
		}
		return h.care.ChangeRule(r.Context(), actorOf(r), in)
	}, h.cautionRules)
}

// changeSetting reads a change of settings and keeps it; with a mistake the page is shown again.
func (h *Handler) changeSetting(w http.ResponseWriter, r *http.Request, f *form, next string, keep func(tracker.Setting) error, again formPage) error {
	in := tracker.Setting{ID: f.record(), WordOf: f.text("word_of"), Why: f.text("why"), Day: f.date("day", "The day"), Values: f.numbers(), Hash: f.hash()}
	return h.done(w, r, f, func() error { return keep(in) }, next+"?saved=1", again)
}

// numbers reads the fields "v.name" of a change of settings; an empty one is not set.
func (f *form) numbers() map[string]float64 {
	out := map[string]float64{}
	for field := range f.values {
		if len(field) < 3 || field[:2] != "v." || f.text(field) == "" {
			continue
		}
		value, err := tracker.ParseNumber(f.text(field), "")
		if err != nil {
			f.problems.Add(field, refusalOf(err).Message)
			continue
		}
		out[field[2:]], _ = value.Float64()
	}
	return out
}
