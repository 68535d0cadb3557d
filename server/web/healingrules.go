package web

import (
	"maps"
	"net/http"
	"slices"
	"strings"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/healing"
)

// HealingRulesPage is what wounds are judged by: the yard's numbers, those of single wounds, every change.
type HealingRulesPage struct {
	Base
	View    care.SettingsView
	Form    SettingForm
	One     *care.WoundSettings // the wound whose own numbers the form sets; nil: the yard's
	History []SettingLine
}

// SettingLine is one change of settings in words.
type SettingLine struct {
	When, Words, Said, By string
}

func (h *Handler) healingRules(w http.ResponseWriter, r *http.Request, state sent) error {
	view, err := h.care.SettingsNow(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	page := HealingRulesPage{Base: h.base(r, "How wounds are judged").inYard(view.Moment, "rules").wrong(state.why), View: view}
	if r.URL.Query().Get("saved") != "" {
		page.Notice = "The change is kept, with the ones before it. The wounds were judged anew."
	}
	form := SettingForm{sent: state, Owner: page.Role == tracker.Owner, Action: "/rules/healing", Prefix: "n"}
	now, start := view.Healing, view.Start
	if id := tracker.SiteID(state.Value("site", r.URL.Query().Get("site"))); id != "" {
		i := slices.IndexFunc(view.Wounds, func(s care.WoundSettings) bool { return s.Site.ID == id })
		if i < 0 {
			return tracker.Refuse(tracker.NotFound, "There is no such open wound in this yard. Load the page again.")
		}
		page.One, form.Site, form.Changed = &view.Wounds[i], id, view.Wounds[i].Own != nil
		now, start = view.Wounds[i].Healing, view.Healing
	}
	form.Numbers = healingFields(form, now, start, page.Mark)
	form.Changed = form.Changed || page.One == nil && slices.ContainsFunc(view.History, func(s tracker.Setting) bool { return s.Kind == tracker.OfHealing && s.Site == "" && len(s.Values) > 0 })
	page.Form = form
	for _, s := range view.History {
		if s.Kind != tracker.OfRule {
			page.History = append(page.History, settingLine(view, page.Base, s))
		}
	}
	return h.draw(w, page.status(), "healing-rules", page)
}

func healingFields(form SettingForm, now, start healing.Settings, mark tracker.DecimalMark) []SettingNumber {
	from := care.HealingNumbers(start)
	var out []SettingNumber
	for i, n := range care.HealingNumbers(now) {
		out = append(out, form.number(n.Name, n.Words, n.Unit, tracker.FormatFloat(n.Value, 3, mark), "Without a change: "+tracker.FormatFloat(from[i].Value, 3, mark)+"."))
	}
	return out
}

func (h *Handler) changeHealing(w http.ResponseWriter, r *http.Request, f *form) error {
	return h.changeSetting(w, r, f, "/rules/healing", func(in tracker.Setting) error {
		in.Site = tracker.SiteID(f.text("site"))
		if f.text("do") == "back" {
			in.Values = nil
		}
		return h.care.ChangeHealing(r.Context(), actorOf(r), in)
	}, h.healingRules)
}

// settingLine says what was set, whose word it was and who wrote it down.
func settingLine(view care.SettingsView, base Base, s tracker.Setting) SettingLine {
	var numbers []string
	for _, name := range slices.Sorted(maps.Keys(s.Values)) {
		numbers = append(numbers, numberWords(view, s, name)+" "+tracker.FormatFloat(s.Values[name], 3, base.Mark))
	}
	words := strings.Join(numbers, "; ")
	switch {
	case s.Off:
		words = "switched off"
	case words == "":
		words = "as before any change"
	}
	about := "All wounds"
	switch {
	case s.Kind == tracker.OfRule:
		about = s.Rule
		for _, r := range view.Rules {
			if r.ID == s.Rule {
				about = r.Title
			}
		}
	case s.Kind == tracker.OfSpread:
		about = "Measuring spread"
	case s.Site != "":
		about = view.Sites[s.Site]
	}
	return SettingLine{When: tracker.TimeName(s.At, base.Zone), Words: about + ": " + words + ".",
		Said: s.WordOf + ", " + tracker.DayName(s.Day) + ": " + s.Why, By: view.People[s.By]}
}

// numberWords names a number of a change.
func numberWords(view care.SettingsView, s tracker.Setting, name string) string {
	switch s.Kind {
	case tracker.OfHealing:
		for _, n := range care.HealingNumbers(view.Healing) {
			if n.Name == name {
				return tracker.Small(n.Words)
			}
		}
	case tracker.OfSpread:
		method, person, _ := strings.Cut(name, " ")
		if person == "" {
			return method + ", everybody,"
		}
		return method + ", " + view.People[tracker.PersonID(person)] + ","
	case tracker.OfRule:
		for _, r := range view.Rules {
			for _, t := range r.Thresholds {
				if r.ID == s.Rule && t.Name == name {
					return t.Words
				}
			}
		}
	}
	return name
}
