package web

import (
	"net/http"

	"leground/tracker"
)

// PhonePage shows what this phone holds. The phone itself fills it in: the server cannot know.
type PhonePage struct {
	Base
}

func (h *Handler) phone(w http.ResponseWriter, r *http.Request) error {
	yard, err := h.care.Yard(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	page := PhonePage{Base: h.base(r, "Saved on this phone").inYard(yard, "more").barn()}
	return h.draw(w, http.StatusOK, "phone", page)
}

// phonePages is what a phone keeps a copy of for when there is no signal.
type phonePages struct {
	Pages    []string `json:"pages"`
	Pictures []string `json:"pictures"`
}

// pagesForPhone lists the pages that must open with no signal, most needed first, and the newest photo of
// each site.
func (h *Handler) pagesForPhone(w http.ResponseWriter, r *http.Request) error {
	view, err := h.care.Round(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	out := phonePages{Pages: []string{"/", "/round", "/phone", "/mix", "/due"}, Pictures: []string{}}
	for _, horse := range view.Horses {
		for _, c := range horse.Cautions {
			out.Pages = append(out.Pages, "/caution/"+string(c.ID))
		}
	}
	for _, horse := range view.Horses {
		out.Pages = append(out.Pages, "/horse/"+string(horse.Horse.ID))
		for _, leg := range horse.Legs {
			for _, card := range leg.Cards {
				if card.Photo != nil {
					out.Pictures = append(out.Pictures, photoPath(card.Photo.ID)+"/thumb")
				}
			}
		}
	}
	writeJSON(w, http.StatusOK, out)
	return nil
}

func photoPath(id tracker.PhotoID) string { return "/photo/" + string(id) }
