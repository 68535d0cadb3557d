package web

import (
	"net/http"

	"leground/tracker"
)

// EventForm notes what happened to a site or a horse between looks.
type EventForm struct {
	sent
	Prefix string // of ids on the page
	Horse  tracker.HorseID
	Site   tracker.SiteID // empty: of the horse
	Next   string
	Back   string
}

// siteEvents and horseEvents are what can be noted about a site and about a horse on the horse's page.
func siteEvents() []tracker.EventKind {
	return []tracker.EventKind{
		tracker.TreatmentChange, tracker.Debridement, tracker.Clipping, tracker.CrustsRemoved, tracker.NewInjury,
		tracker.MethodChange, tracker.BandageOn, tracker.BandageOff, tracker.VetVisit, tracker.FarrierVisit,
	}
}

func horseEvents() []tracker.EventKind {
	return []tracker.EventKind{tracker.VetVisit, tracker.FarrierVisit, tracker.TreatmentChange, tracker.Clipping}
}

// Kinds lists what can have happened.
func (f EventForm) Kinds() []Step {
	kinds := horseEvents()
	if f.Site != "" {
		kinds = siteEvents()
	}
	var out []Step
	for _, kind := range kinds {
		out = append(out, Step{string(kind), tracker.EventName(kind), f.Is("kind", string(kind), false)})
	}
	return out
}

// addEvent notes something that happened between looks, such as a soak that was started.
func (h *Handler) addEvent(w http.ResponseWriter, r *http.Request, f *form) error {
	event := tracker.Event{
		ID: f.record(), Kind: tracker.EventKind(f.text("kind")), Horse: tracker.HorseID(f.text("horse")),
		Leg: parsed(f, "leg", tracker.ParseLeg), Site: tracker.SiteID(f.text("site")), Day: f.date("day", "The day"), At: h.pressedAt(r, f), Note: f.text("note"), Hash: f.hash(),
	}
	return h.done(w, r, f, func() error { return h.care.AddEvent(r.Context(), actorOf(r), event) }, backOr(f, "/round"), h.eventAgain)
}

// eventAgain shows the form of an event again.
func (h *Handler) eventAgain(w http.ResponseWriter, r *http.Request, state sent) error {
	yard, err := h.care.Yard(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	base := h.base(r, "What happened").inYard(yard, "horses").wrong(state.why)
	form := EventForm{sent: state, Prefix: "e", Horse: tracker.HorseID(state.Value("horse", "")), Site: tracker.SiteID(state.Value("site", "")),
		Next: state.Value("next", ""), Back: state.Value("back", "")}
	return h.draw(w, base.status(), "card", CardPage{Base: base, Event: &form})
}
