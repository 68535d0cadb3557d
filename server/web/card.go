package web

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"leground/tracker"
	"leground/tracker/care"
)

// cardAgain shows a card or leg line that could not be kept, with everything that was entered: a
// correction on the page of what it corrects.
func (h *Handler) cardAgain(w http.ResponseWriter, r *http.Request, f *form, check tracker.Check, problem error) error {
	state := f.back(problem)
	if corrects := f.text("corrects"); corrects != "" {
		return h.checkPage(w, r, tracker.RecordID(corrects), state)
	}
	if check.Subject == tracker.OfHorse {
		return h.whole(w, r, state)
	}
	view, err := h.care.Round(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	round := RoundPage{Base: h.base(r, "Leg round").inYard(view.Moment, "round").barn(), Round: view.Round}
	round.Bare = true
	page := CardPage{Base: round.Base.wrong(problem)}
	for _, horse := range view.Horses {
		for _, leg := range round.horse(view, horse).Legs {
			if check.Subject == tracker.OfLeg && horse.Horse.ID == check.Horse && leg.Line.Leg.Leg == check.Leg {
				leg.Line.again(state)
				leg.Line.Leg.Here = nil
				page.Line = &leg.Line
			}
			for _, card := range leg.Cards {
				if check.Subject == tracker.OfSite && card.Card.Site.ID == check.Site {
					card.again(state)
					card.Card.Here, card.Card.AskSize = nil, !f.ticked("size_not_due")
					page.Site = &card
				}
			}
		}
	}
	if page.Site == nil && page.Line == nil {
		return problem
	}
	return h.draw(w, page.status(), "card", page)
}

// again makes it the form that was sent.
func (f *LookForm) again(state sent) {
	f.sent, f.Record, f.Back, f.Next = state, state.Record(), state.Value("back", ""), state.Value("next", "")
}

// siteAgain shows the form for a new site again.
func (h *Handler) siteAgain(w http.ResponseWriter, r *http.Request, state sent, in care.NewSite) error {
	view, err := h.care.Round(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	base := h.base(r, "A new site").inYard(view.Moment, "round").barn().wrong(state.why)
	for _, horse := range view.Horses {
		if horse.Horse.ID == in.Horse && in.Leg != 0 {
			adder := SiteAdder{sent: state, Base: base, Horse: horse.Horse, Leg: in.Leg, Record: in.Record, Photo: tracker.PhotoID(state.Value("photo_id", "")), Next: state.Value("next", ""), Back: state.Value("back", "")}
			return h.draw(w, base.status(), "card", CardPage{Base: base, New: &adder})
		}
	}
	return state.why
}

// ChecksPage is everything one check ever said, and the form to put it right.
type ChecksPage struct {
	Base
	View  care.CheckView
	Site  *SiteForm
	Line  *LegForm
	Whole *WholeForm
}

func (h *Handler) check(w http.ResponseWriter, r *http.Request) error {
	return h.checkPage(w, r, tracker.RecordID(chi.URLParam(r, "record")), sent{})
}

// checkPage shows a check with the form that puts it right: as it stands, or as it was sent with a mistake.
func (h *Handler) checkPage(w http.ResponseWriter, r *http.Request, record tracker.RecordID, state sent) error {
	view, err := h.care.Check(r.Context(), actorOf(r), record)
	if err != nil {
		return err
	}
	last := view.Last()
	page := ChecksPage{Base: h.base(r, "One look").inYard(view.Moment, "horses").wrong(state.why), View: view}
	if last.Outcome == tracker.Retracted {
		return h.draw(w, http.StatusOK, "check", page)
	}
	if state.Values == nil {
		state.Values = valuesOf(last)
	}
	look := LookForm{sent: state, Record: state.Record(), Base: page.Base, Round: tracker.Round{Day: last.RoundDay, Slot: last.Slot}, Horse: view.Horse, Anchor: "card", People: sortedNames(view.People),
		Corrects: last.ID, Back: "/check/" + string(last.Root)}
	switch last.Subject {
	case tracker.OfSite:
		card := care.Card{Site: view.Site, AskSize: last.Size.Answer != tracker.NotDue, AskChronic: view.Site.Kind == tracker.Patch}
		page.Site = &SiteForm{LookForm: look, Card: card, Photo: tracker.PhotoID(care.NewID())}
	case tracker.OfHorse:
		look.Anchor = "whole"
		page.Whole = &WholeForm{LookForm: look, Order: view.Horse.OrderIn(view.Yard)}
	case tracker.OfLeg:
		page.Line = &LegForm{LookForm: look, Leg: care.RoundLeg{Leg: last.Leg}}
	}
	return h.draw(w, page.status(), "check", page)
}
