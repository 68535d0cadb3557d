package web

import (
	"net/http"
	"net/url"
	"strings"

	"github.com/go-chi/chi/v5"

	"leground/tracker"
	"leground/tracker/care"
)

// DuePage is the Due list: all horses by hour.
type DuePage struct {
	Base
	sent
	View   care.DueView
	Kinds  []Step
	Before tracker.Date
	After  tracker.Date
}

// MixLink is the address of a mix that starts from a wash of the list.
func (p DuePage) MixLink(r care.DueRow) string { return mixLink(r.Mix) }

// mixLink is the address of the first step of a mix, filled in from a plan.
func mixLink(ask care.MixAsk) string {
	v := url.Values{}
	for name, value := range carry(ask) {
		if name != "recent_for" {
			v[name] = value
		}
	}
	return "/mix?" + v.Encode()
}

func (h *Handler) due(w http.ResponseWriter, r *http.Request) error {
	day, err := dateParam(r, "day")
	if err != nil {
		return err
	}
	return h.duePage(w, r, day, sent{})
}

func (h *Handler) duePage(w http.ResponseWriter, r *http.Request, day tracker.Date, state sent) error {
	view, err := h.care.Due(r.Context(), actorOf(r), day)
	if err != nil {
		return err
	}
	page := DuePage{Base: h.base(r, "Due list").inYard(view.Moment, "due").wrong(state.why), sent: state, View: view, Before: view.Day - 1, After: view.Day + 1}
	for _, k := range []Step{{Value: string(tracker.FarrierComes), Words: "The farrier comes"}, {Value: string(tracker.VetComes), Words: "The vet comes"}, {Value: string(tracker.OtherOnce), Words: "Something else"}} {
		k.Chosen = state.Is("kind", k.Value, k.Value == string(tracker.FarrierComes))
		page.Kinds = append(page.Kinds, k)
	}
	return h.draw(w, page.status(), "due", page)
}

// dueList takes a form of the Due list and goes back to it.
func (h *Handler) dueList(w http.ResponseWriter, r *http.Request, f *form, do func() error) error {
	shown := f.date("shown", "The day that is shown")
	next := "/due"
	if shown != 0 {
		next += "?day=" + shown.String()
	}
	return h.done(w, r, f, do, next, func(w http.ResponseWriter, r *http.Request, state sent) error {
		return h.duePage(w, r, shown, state)
	})
}

func (h *Handler) tickOff(w http.ResponseWriter, r *http.Request, f *form) error {
	tick := tracker.TickOff{ID: f.record(), Outcome: tracker.TickDone, Items: f.values["item"], Day: f.date("day", "The day"), Slot: f.text("slot"), At: h.pressedAt(r, f), Hash: f.hash()}
	if f.text("outcome") == string(tracker.TickSkipped) {
		tick.Outcome, tick.Why = tracker.TickSkipped, f.text("why")
	}
	return h.dueList(w, r, f, func() error { return h.care.TickOff(r.Context(), actorOf(r), tick, f.ticked("early")) })
}

func (h *Handler) undoTick(w http.ResponseWriter, r *http.Request, f *form) error {
	return h.dueList(w, r, f, func() error {
		return h.care.UndoTick(r.Context(), actorOf(r), f.record(), tracker.RecordID(f.text("of")))
	})
}

func (h *Handler) addOneOff(w http.ResponseWriter, r *http.Request, f *form) error {
	one := tracker.OneOff{ID: f.record(), Kind: tracker.OneOffKind(f.text("kind")), Horse: tracker.HorseID(f.text("horse")),
		Day: f.date("day", "The day"), What: f.text("what"), Hash: f.hash()}
	if at := f.text("at"); at != "" {
		minute, err := tracker.ParseMinuteOfDay(at)
		if err != nil {
			f.problems.Add("at", "The time must be like 15:00.")
		}
		one.At, one.Timed = minute, true
	}
	return h.dueList(w, r, f, func() error { return h.care.AddOneOff(r.Context(), actorOf(r), one) })
}

func (h *Handler) addAbsence(w http.ResponseWriter, r *http.Request, f *form) error {
	away := tracker.Absence{ID: f.record(), Horse: tracker.HorseID(f.text("horse")), From: f.date("from", "The first day away"),
		To: f.date("to", "The last day away"), Why: f.text("why"), Hash: f.hash()}
	return h.dueList(w, r, f, func() error { return h.care.AddAbsence(r.Context(), actorOf(r), away, knownFor(f)) })
}

// knownFor tells whether what falls out is known to whoever sent the form: for the horse and the days that it now names.
func knownFor(f *form) bool {
	return f.text("known") == strings.TrimSpace(f.text("horse")+" "+f.text("from")+" "+f.text("to"))
}

func (h *Handler) endAbsence(w http.ResponseWriter, r *http.Request, f *form) error {
	return h.dueList(w, r, f, func() error {
		return h.care.EndAbsence(r.Context(), actorOf(r), tracker.RecordID(chi.URLParam(r, "absence")))
	})
}

// WeekSheetPage is the sheet for the wall: a week of the whole yard on one page of paper.
type WeekSheetPage struct {
	Base
	View care.WeekView
}

// Hour heads the narrow column of a round.
func (WeekSheetPage) Hour(slot tracker.Slot) string { return slot.At.String()[:2] }

func (h *Handler) weekSheet(w http.ResponseWriter, r *http.Request) error {
	from, err := dateParam(r, "from")
	if err != nil {
		return err
	}
	view, err := h.care.WeekSheet(r.Context(), actorOf(r), from)
	if err != nil {
		return err
	}
	page := WeekSheetPage{Base: h.base(r, "Week sheet").inYard(view.Moment, "due"), View: view}
	return h.draw(w, http.StatusOK, "week-sheet", page)
}

// Last tells whether a round is the last of its day.
func (p WeekSheetPage) Last(i int) bool { return i == len(p.View.Slots)-1 }

// Columns counts the columns of the sheet.
func (p WeekSheetPage) Columns() int { return 1 + 7*len(p.View.Slots) }
