package web

import (
	"net/http"

	"leground/tracker"
)

// PaperPage is the round to print and fill in by hand, for a phone that is at home or a hand that is not
// free. What is on it is typed into the same cards later, with the time at which it was written down.
type PaperPage struct{ RoundPage }

// paper draws the round sheet from the same cards as the round.
func (h *Handler) paper(w http.ResponseWriter, r *http.Request) error {
	round, err := h.roundPage(r)
	if err != nil {
		return err
	}
	page := PaperPage{round}
	page.Title, page.Nav, page.Density, page.Bare = "Round sheet", "paper", "table", false
	return h.draw(w, http.StatusOK, "paper", page)
}

// Dangers names the danger signs, which stand on the sheet once: each of them calls for the vet.
func (PaperPage) Dangers() []string {
	var names []string
	for _, d := range tracker.SiteDangers() {
		names = append(names, tracker.DangerName(d))
	}
	return names
}
