package web

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"leground/tracker"
	"leground/tracker/care"
)

// MixedPage is a mix that was made, with the label to print or to copy.
type MixedPage struct {
	Base
	sent
	View     care.MixPage
	CanCheck bool // this person did not make it, and has not checked it
}

func (h *Handler) mixed(w http.ResponseWriter, r *http.Request) error {
	return h.mixedPage(w, r, sent{}, nil)
}

func (h *Handler) mixedPage(w http.ResponseWriter, r *http.Request, state sent, problem error) error {
	view, err := h.care.Mix(r.Context(), actorOf(r), tracker.MixID(chi.URLParam(r, "mix")))
	if err != nil {
		return err
	}
	page := MixedPage{Base: h.base(r, "Label").inYard(view.Yard, view.Zone, "mix").barn(), sent: state, View: view}
	page.CanCheck = view.Stock.Mix.By != page.Person.ID && view.Stock.Mix.Ended.IsZero()
	for _, act := range view.Stock.Mix.Acts {
		if act.Kind == tracker.Checked && act.By == page.Person.ID {
			page.CanCheck = false
		}
	}
	status := http.StatusOK
	if problem != nil {
		page.Base, status = page.Base.wrong(problem), http.StatusUnprocessableEntity
		page.Wrong = page.Base.Problems
	}
	return h.draw(w, status, "mixed", page)
}

func (h *Handler) actOnMix(w http.ResponseWriter, r *http.Request) error {
	f, err := readForm(r)
	if err != nil {
		return err
	}
	id := tracker.MixID(chi.URLParam(r, "mix"))
	act := tracker.StoreAct{Kind: tracker.StoreActKind(f.text("kind")), Amount: care.ExactAmount(f.amount("amount")), Note: f.text("note")}
	if err = f.problems.Err(); err == nil {
		err = h.care.ActOnMix(r.Context(), actorOf(r), formOf(r, f), id, act)
	}
	if tracker.KindOf(err) == tracker.Invalid {
		return h.mixedPage(w, r, sent{Values: f.values}, err)
	}
	if err != nil {
		return err
	}
	http.Redirect(w, r, "/mix/"+string(id), http.StatusSeeOther)
	return nil
}
