package web

import (
	"maps"
	"net/http"
	"slices"
	"strings"
	"time"

	"github.com/go-chi/chi/v5"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/cautions"
)

// RulesPage is the yard's settings.
type RulesPage struct {
	Base
	sent
	Yard  tracker.Yard
	Slots []SlotField
	Zones []string
}

// ZoneNow is the zone that the form starts with.
func (p RulesPage) ZoneNow() string { return p.Yard.Zone }

// OrderNow is the walking order that the form starts with.
func (p RulesPage) OrderNow() string { return p.Yard.Order.String() }

// SidesNow is the choice of words that the form starts with.
func (p RulesPage) SidesNow() string {
	if p.Yard.LegWords == tracker.NearOff {
		return "near"
	}
	return "left"
}

// MarkNow is the decimal mark that the form starts with.
func (p RulesPage) MarkNow() string {
	if p.Yard.Mark == tracker.Comma {
		return "comma"
	}
	return "point"
}

// SlotField is one round of the day in the form.
type SlotField struct {
	Number   int
	Name, At string
}

// slotFields is how many rounds a day the form has places for.
const slotFields = 6

func (h *Handler) rules(w http.ResponseWriter, r *http.Request, state sent) error {
	yard, err := h.care.Yard(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	page := RulesPage{Base: h.base(r, "Yard rules").inYard(yard, "rules").wrong(state.why), sent: state, Yard: yard.Yard, Zones: commonZones}
	for i := range slotFields {
		field := SlotField{Number: i + 1}
		if i < len(page.Yard.Slots) {
			field.Name, field.At = page.Yard.Slots[i].Name, page.Yard.Slots[i].At.String()
		}
		field.Name, field.At = state.Value(slotName(i, "name"), field.Name), state.Value(slotName(i, "at"), field.At)
		page.Slots = append(page.Slots, field)
	}
	if r.URL.Query().Get("saved") != "" {
		page.Notice = "The yard's rules are kept. The old ones stay in its book."
	}
	return h.draw(w, page.status(), "rules", page)
}

func slotName(i int, what string) string { return "slot" + string(rune('1'+i)) + "_" + what }

func (h *Handler) changeYard(w http.ResponseWriter, r *http.Request, f *form) error {
	in := tracker.Yard{
		Name: f.text("yard"), Zone: f.text("zone"), RingName: f.text("ring_name"), RingNumber: f.text("ring_number"),
		SizeEvery: f.whole("size_every", "Days between sizes"),
	}
	in.Order, in.LegWords, in.Mark = readWays(f)
	for i := range slotFields {
		name, at := strings.ToLower(f.text(slotName(i, "name"))), f.text(slotName(i, "at"))
		if name == "" && at == "" {
			continue
		}
		minute, err := tracker.ParseMinuteOfDay(at)
		if err != nil {
			f.problems.Add("slots", "Each round needs a time of day, like 07:00.")
		}
		in.Slots = append(in.Slots, tracker.Slot{Name: name, At: minute})
	}
	f.also(care.YardProblems(in))
	return h.done(w, r, f, func() error { return h.care.ChangeYard(r.Context(), actorOf(r), in) }, "/rules?saved=1", h.rules)
}

// CautionPage is one caution: what to say on the telephone, and what was done.
type CautionPage struct {
	Base
	sent
	View  care.CautionView
	Where string
	Acts  []string
}

// PromiseHours is how far ahead somebody may say that they will ring.
func (p CautionPage) PromiseHours() int { return cautions.PromiseHours(p.View.Caution.Level) }

func (h *Handler) caution(w http.ResponseWriter, r *http.Request, state sent) error {
	view, err := h.care.Caution(r.Context(), actorOf(r), tracker.CautionID(chi.URLParam(r, "caution")))
	if err != nil {
		return err
	}
	page := CautionPage{Base: h.base(r, tracker.LevelName(view.Caution.Level)).inYard(view.Moment, "board").barn().wrong(state.why), sent: state, View: view}
	if view.Caution.Leg != 0 {
		page.Where = tracker.LegName(view.Caution.Leg, view.Yard.LegWords)
	}
	if view.Site.ID != "" {
		page.Where = tracker.SiteName(view.Site, view.Yard.LegWords)
	}
	for i := range view.Caution.Acts {
		one := view.Caution
		one.Acts = one.Acts[:i+1]
		page.Acts = append(page.Acts, promise(one, view.People, page.Base))
	}
	return h.draw(w, page.status(), "caution", page)
}

func (h *Handler) actOnCaution(w http.ResponseWriter, r *http.Request, f *form) error {
	act := tracker.CautionAct{ID: f.record(), Kind: parsed(f, "kind", tracker.ParseCautionActKind), Note: f.text("note")}
	if act.Kind == tracker.WillRingAt {
		var err error
		if act.Until, err = h.readClock(r, f); err != nil {
			return err
		}
	}
	return h.done(w, r, f, func() error {
		return h.care.Act(r.Context(), actorOf(r), tracker.CautionID(chi.URLParam(r, "caution")), act)
	}, "/", h.caution)
}

// readClock reads a time of day as the next such moment in the yard's zone.
func (h *Handler) readClock(r *http.Request, f *form) (time.Time, error) {
	yard, err := h.care.Yard(r.Context(), actorOf(r))
	if err != nil {
		return time.Time{}, err
	}
	minute, err := tracker.ParseMinuteOfDay(f.text("until"))
	if err != nil {
		f.problems.Add("until", "Give the time you will ring, like 18:30.")
		return time.Time{}, nil
	}
	return care.NextClock(yard.Now, minute, yard.Zone), nil
}

// ConflictsPage lists forms that came twice with different answers.
type ConflictsPage struct {
	Base
	Conflicts []ConflictWords
}

// ConflictWords is one of them, beside what is kept under its record id.
type ConflictWords struct {
	care.Conflict
	By     string
	First  string // where what is kept can be read
	Fields []string
}

func (h *Handler) conflicts(w http.ResponseWriter, r *http.Request) error {
	view, err := h.care.Board(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	page := ConflictsPage{Base: h.base(r, "Needs a look").inYard(view.Moment, "board")}
	for _, c := range view.Conflicts {
		words := ConflictWords{Conflict: c, By: view.People[c.By], First: firstOf(c)}
		for _, name := range slices.Sorted(maps.Keys(c.Fields)) {
			if value := strings.Join(c.Fields[name], ", "); value != "" && tellsSomething(name, value) {
				words.Fields = append(words.Fields, strings.ReplaceAll(name, "_", " ")+": "+value)
			}
		}
		page.Conflicts = append(page.Conflicts, words)
	}
	return h.draw(w, http.StatusOK, "conflicts", page)
}

// firstOf gives the page that shows what is kept under the record id of a form that came later.
func firstOf(c care.Conflict) string {
	horse := c.Fields["horse"]
	switch {
	case strings.HasPrefix(c.Path, "/round/"):
		return "/check/" + string(c.Record)
	case c.Path == "/horses":
		return "/horse/" + string(c.Record)
	case strings.HasPrefix(c.Path, "/horse/") && strings.HasSuffix(c.Path, "/plan"):
		return "/plan/" + string(c.Record)
	case strings.HasPrefix(c.Path, "/plan/"):
		return c.Path[:strings.LastIndexByte(c.Path, '/')]
	case strings.HasPrefix(c.Path, "/due/"):
		return "/due"
	case c.Path == "/mix":
		return "/mix/" + string(c.Record)
	case c.Path == "/stores/products" || c.Path == "/stores/bottles":
		return strings.TrimSuffix(c.Path, "s") + "/" + string(c.Record)
	case strings.HasPrefix(c.Path, "/mix/") || strings.HasPrefix(c.Path, "/stores/bottle/"):
		return c.Path
	case len(horse) == 1 && tracker.ValidID(horse[0]):
		return "/horse/" + horse[0]
	case len(c.Fields["back"]) == 1:
		return localPath(c.Fields["back"][0])
	}
	return "/horses"
}

// tellsSomething tells whether a field says something to people: ids and what the form knew before do not.
func tellsSomething(name, value string) bool {
	return !tracker.ValidID(value) && !strings.HasPrefix(name, "last") && name != "next" && name != "back"
}

func (h *Handler) settleConflict(w http.ResponseWriter, r *http.Request) error {
	return then(w, r, h.care.SettleConflict(r.Context(), actorOf(r), chi.URLParam(r, "conflict")), "/conflicts")
}

// MorePage lists the pages that have no place in the phone's bar.
type MorePage struct{ Base }

func (h *Handler) more(w http.ResponseWriter, r *http.Request) error {
	yard, err := h.care.Yard(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	return h.draw(w, http.StatusOK, "more", MorePage{h.base(r, "More").inYard(yard, "more")})
}

// photo sends a stored picture or its thumbnail. It never changes, so a browser may keep it; only for
// the one who asked.
func (h *Handler) photo(thumb bool) answer {
	return func(w http.ResponseWriter, r *http.Request) error {
		data, err := h.care.PhotoBytes(r.Context(), actorOf(r), tracker.PhotoID(chi.URLParam(r, "photo")), thumb)
		if err != nil {
			return err
		}
		w.Header().Set("Cache-Control", "private, max-age=31536000, immutable")
		return send(w, "image/jpeg", data)
	}
}
