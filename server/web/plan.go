package web

import (
	"html/template"
	"net/http"
	"strings"

	"github.com/go-chi/chi/v5"

	"leground/tracker"
	"leground/tracker/care"
)

// PlansPage is a horse's care plans: what holds now and will, this week, and when to stop and ring.
type PlansPage struct {
	Base
	View care.PlansView
	Week WeekGrid
}

// Capital begins a heading.
func (PlansPage) Capital(words string) string { return tracker.Capital(words) }

// WeekGrid is a week of a plan as a table.
type WeekGrid struct {
	care.GridWeek
	Caption string
	Today   tracker.Date
	Done    bool // cells say how much is recorded
}

// Numbers writes the steps of a cell: "1, 2".
func (WeekGrid) Numbers(cell care.GridCell) string {
	var words []string
	for _, n := range cell.Due {
		words = append(words, wholeText(n))
	}
	return strings.Join(words, ", ")
}

// planFuncs are the words of plans that templates ask for.
func planFuncs() template.FuncMap {
	return template.FuncMap{
		"weekday":   func(d tracker.Date) string { return d.Time().Format("Mon") },
		"dayNumber": func(d tracker.Date) int { return d.Time().Day() },
		"clockOf":   tracker.MinuteOfDay.String,
		"mixLink":   mixLink,
	}
}

func (h *Handler) plans(w http.ResponseWriter, r *http.Request) error {
	view, err := h.care.Plans(r.Context(), actorOf(r), tracker.HorseID(chi.URLParam(r, "horse")))
	if err != nil {
		return err
	}
	page := PlansPage{Base: h.base(r, "Care plan").inYard(view.Moment, "horses"), View: view}
	page.Week = WeekGrid{GridWeek: view.Week, Caption: "This week", Today: view.Today, Done: true}
	if r.URL.Query().Get("saved") != "" {
		page.Notice = "The plan is kept. Now a second person reads it back, or the vet confirms it."
	}
	return h.draw(w, http.StatusOK, "plans", page)
}

// PlanFormPage is the form of a plan.
type PlanFormPage struct {
	Base
	Form PlanForm
}

// PlanPreviewPage shows what a plan means before it is kept.
type PlanPreviewPage struct {
	Base
	View  care.PlanPreview
	Weeks []WeekGrid
	Form  PlanForm
}

func (h *Handler) newPlan(w http.ResponseWriter, r *http.Request) error {
	view, err := h.care.PlanForm(r.Context(), actorOf(r), tracker.HorseID(chi.URLParam(r, "horse")), "", tracker.RecordID(r.URL.Query().Get("from")))
	if err != nil {
		return err
	}
	return h.planFormPage(w, r, view, sent{Values: startOfPlan(view)}, false)
}

func (h *Handler) changePlan(w http.ResponseWriter, r *http.Request) error {
	view, err := h.care.PlanForm(r.Context(), actorOf(r), "", tracker.RecordID(chi.URLParam(r, "plan")), "")
	if err != nil {
		return err
	}
	values, err := valuesOfPlan(*view.Plan, view.Yard.Mark)
	if err != nil {
		return err
	}
	return h.planFormPage(w, r, view, sent{Values: values}, false)
}

func (h *Handler) planFormPage(w http.ResponseWriter, r *http.Request, view care.PlanFormView, state sent, more bool) error {
	title := "New plan"
	if state.Value("changes", "") != "" {
		title = "Change a plan"
	}
	page := PlanFormPage{h.base(r, title).inYard(view.Moment, "horses").wrong(state.why), planForm(view, state, more)}
	return h.draw(w, page.status(), "plan-form", page)
}

// postPlan takes the form of a plan: one step more, back to it, a look at what it means, or keep it.
func (h *Handler) postPlan(w http.ResponseWriter, r *http.Request, f *form) error {
	actor, horse := actorOf(r), tracker.HorseID(chi.URLParam(r, "horse"))
	view, err := h.care.PlanForm(r.Context(), actor, horse, "", tracker.RecordID(f.text("from")))
	if err != nil {
		return err
	}
	state, do := sent{Values: f.values}, f.text("do")
	if do == "more" || do == "back" {
		return h.planFormPage(w, r, view, state, do == "more")
	}
	draft := readDraft(f, horse)
	if do == "keep" && len(f.problems) == 0 {
		_, err = h.care.SavePlan(r.Context(), actor, draft)
		if err == nil {
			http.Redirect(w, r, "/horse/"+string(horse)+"/plan?saved=1", http.StatusSeeOther)
			return nil
		}
		if tracker.KindOf(err) != tracker.Invalid {
			return err
		}
	}
	preview, err := h.care.PreviewPlan(r.Context(), actor, draft)
	if tracker.KindOf(err) == tracker.Invalid || err == nil && len(f.problems) > 0 {
		return h.planFormPage(w, r, view, f.back(together(f.problems, err)), false)
	}
	if err != nil {
		return err
	}
	page := PlanPreviewPage{Base: h.base(r, "What this plan means").inYard(preview.Moment, "horses"), View: preview, Form: planForm(view, state, false)}
	for i, week := range preview.Weeks {
		caption := "The first week"
		if i > 0 {
			caption = "The week after"
		}
		page.Weeks = append(page.Weeks, WeekGrid{GridWeek: week, Caption: caption})
	}
	return h.draw(w, http.StatusOK, "plan-preview", page)
}

// together puts the problems of reading a form before those of what it says, so that all are said at once.
func together(read tracker.Problems, err error) error {
	all := append(tracker.Problems{}, read...)
	if err != nil {
		for _, p := range refusalOf(err).Fields {
			if problemIn(all, p.Field) == nil {
				all = append(all, p)
			}
		}
		if len(all) == 0 {
			return err
		}
	}
	return all.Err()
}

// PlanPage is one plan with everything it ever said, and the forms to read it back, confirm it and stop it.
type PlanPage struct {
	Base
	sent
	View  care.PlanHistory
	Doses []care.PlanLine // of medicines by weight, which are read back blind
}

func (h *Handler) plan(w http.ResponseWriter, r *http.Request, state sent) error {
	view, err := h.care.PlanHistory(r.Context(), actorOf(r), tracker.RecordID(chi.URLParam(r, "plan")))
	if err != nil {
		return err
	}
	page := PlanPage{Base: h.base(r, "Plan for "+view.Newest.For).inYard(view.Moment, "horses").wrong(state.why), sent: state, View: view}
	for _, line := range view.Newest.Lines {
		if line.Step.Kind == tracker.StepGive {
			page.Doses = append(page.Doses, line)
		}
	}
	return h.draw(w, page.status(), "plan", page)
}

func (h *Handler) readPlan(w http.ResponseWriter, r *http.Request, f *form) error {
	typed := map[string]care.Typed{}
	for name := range f.values {
		if step, ok := strings.CutSuffix(name, "_weight"); ok {
			typed[step] = care.Typed{Weight: f.text(name), Label: f.text(step + "_label")}
		}
	}
	return h.onPlan(w, r, f, func(plan tracker.RecordID) error {
		_, err := h.care.ReadPlanBack(r.Context(), actorOf(r), tracker.PlanRead{ID: f.record(), Plan: plan, Hash: f.hash()}, typed)
		return err
	})
}

func (h *Handler) confirmPlan(w http.ResponseWriter, r *http.Request, f *form) error {
	read := tracker.PlanRead{ID: f.record(), Kind: tracker.PlanReadKind(f.text("kind")), Name: f.text("name"), Day: f.date("day", "The day"), Hash: f.hash()}
	return h.onPlan(w, r, f, func(plan tracker.RecordID) error {
		read.Plan = plan
		return h.care.ConfirmPlan(r.Context(), actorOf(r), read)
	})
}

func (h *Handler) stopPlan(w http.ResponseWriter, r *http.Request, f *form) error {
	return h.onPlan(w, r, f, func(plan tracker.RecordID) error {
		return h.care.StopPlan(r.Context(), actorOf(r), f.record(), plan, f.text("why"))
	})
}

// onPlan does something with a version of a plan and goes back to its page.
func (h *Handler) onPlan(w http.ResponseWriter, r *http.Request, f *form, do func(plan tracker.RecordID) error) error {
	plan := tracker.RecordID(chi.URLParam(r, "plan"))
	return h.done(w, r, f, func() error { return do(plan) }, "/plan/"+string(plan), h.plan)
}
