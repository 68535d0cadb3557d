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

func (h *Handler) mixed(w http.ResponseWriter, r *http.Request, state sent) error {
	view, err := h.care.Mix(r.Context(), actorOf(r), tracker.MixID(chi.URLParam(r, "mix")))
	if err != nil {
		return err
	}
	page := MixedPage{Base: h.base(r, "Label").inYard(view.Moment, "mix").barn().wrong(state.why), sent: state, View: view}
	page.CanCheck = view.Stock.Mix.By != page.Person.ID && view.Stock.Mix.Ended.IsZero()
	for _, act := range view.Stock.Mix.Acts {
		if act.Kind == tracker.Checked && act.By == page.Person.ID {
			page.CanCheck = false
		}
	}
	return h.draw(w, page.status(), "mixed", page)
}

func (h *Handler) actOnMix(w http.ResponseWriter, r *http.Request, f *form) error {
	id := tracker.MixID(chi.URLParam(r, "mix"))
	act := tracker.StoreAct{Kind: tracker.StoreActKind(f.text("kind")), Amount: care.ExactAmount(f.amount("amount")), Note: f.text("note")}
	return h.done(w, r, f, func() error { return h.care.ActOnMix(r.Context(), actorOf(r), formOf(f), id, act) }, "/mix/"+string(id), h.mixed)
}
