package web

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"leground/tracker"
	"leground/tracker/care"
)

// BottlePage is one bottle: what is known of it, and what can be done about it.
type BottlePage struct {
	Base
	sent
	View    care.BottlePage
	Settles bool // the owner may settle its strength
	CanRead bool // this person has yet to read its label
}

// StoreActName says what was done about a bottle or a mix.
func storeActName(kind tracker.StoreActKind) string {
	switch kind {
	case tracker.LabelRead:
		return "label read"
	case tracker.LabelDoubted:
		return "label doubted: it says something else"
	case tracker.LabelSettled:
		return "strength settled"
	case tracker.Opened:
		return "opened"
	case tracker.AmountLeft:
		return "looked at what is left"
	case tracker.Used:
		return "used for a mix"
	case tracker.Checked:
		return "checked"
	case tracker.PutOn:
		return "used on a horse"
	case tracker.GivenBack:
		return "given back, since its tick was taken back"
	case tracker.UsedUp:
		return "used up"
	case tracker.ThrownAway:
		return "thrown away"
	}
	return string(kind)
}

func (h *Handler) addBottle(w http.ResponseWriter, r *http.Request, f *form) error {
	f.secret = "strength"
	in := care.NewBottle{
		Product: tracker.ProductID(f.text("product")), Size: f.amount("size"), Expiry: f.date("expiry", "The date on the bottle"),
		Opened: f.date("opened", "The day it was opened"), Strength: f.text("strength"),
	}
	keep := func() error { return h.care.AddBottle(r.Context(), actorOf(r), formOf(f), in) }
	return h.done(w, r, f, keep, "/stores/bottle/"+f.text("record"), func(w http.ResponseWriter, r *http.Request, state sent) error {
		return h.productPage(w, r, in.Product, sent{}, state)
	})
}

func (h *Handler) bottle(w http.ResponseWriter, r *http.Request, state sent) error {
	view, err := h.care.Bottle(r.Context(), actorOf(r), tracker.BottleID(chi.URLParam(r, "bottle")))
	if err != nil {
		return err
	}
	page := BottlePage{Base: h.base(r, view.Stock.Name).inYard(view.Moment, "stores").wrong(state.why), sent: state, View: view}
	reading := view.Stock.Reading
	page.CanRead = view.Stock.Blind && view.Stock.Bottle.Ended.IsZero()
	page.Settles = page.Role == tracker.Owner && view.Stock.Bottle.Ended.IsZero() && !view.Stock.Blind &&
		(reading.State == care.ReadingsDiffer || reading.Doubted && reading.State != care.ReadByTwo)
	return h.draw(w, page.status(), "bottle", page)
}

func (h *Handler) actOnBottle(w http.ResponseWriter, r *http.Request, f *form) error {
	id := tracker.BottleID(chi.URLParam(r, "bottle"))
	act := tracker.StoreAct{
		Kind: tracker.StoreActKind(f.text("kind")), Day: f.date("opened", "The day it was opened"), Amount: care.ExactAmount(f.amount("amount")), Note: f.text("note"),
	}
	if act.Kind == tracker.LabelRead {
		f.secret = "strength"
	}
	keep := func() error {
		return h.care.ActOnBottle(r.Context(), actorOf(r), formOf(f), id, act, f.text("strength"))
	}
	return h.done(w, r, f, keep, "/stores/bottle/"+string(id), h.bottle)
}
