package web

import (
	"net/http"

	"github.com/go-chi/chi/v5"

	"leground/tracker"
	"leground/tracker/care"
)

// VetLinkPage is the sheet that a vet opens by a link, without an account: no cookie, no script, no other page.
type VetLinkPage struct {
	Base
	sent
	Sheet  SheetPart
	Photos []SheetPhoto // of the last weeks, oldest first
	Token  string
	Until  string
}

// outside wraps what somebody without an account asks for: nothing is kept or indexed, and whatever is wrong
// is said on a plain page that leads nowhere.
func (h *Handler) outside(do answer) answer {
	return func(w http.ResponseWriter, r *http.Request) error {
		w.Header().Set("X-Robots-Tag", "noindex, nofollow")
		err := do(w, r)
		if kind := tracker.KindOf(err); err == nil || kind == 0 {
			return err
		}
		if slow := h.slowed(r); slow != nil {
			err = slow
		}
		page := FailPage{Base: h.base(r, titleOf(statusOf(err)))}
		page.Message, page.Outside = refusalOf(err).Message, true
		return h.draw(w, statusOf(err), "fail", page)
	}
}

func (h *Handler) vetLink(w http.ResponseWriter, r *http.Request, state sent) error {
	token := chi.URLParam(r, "token")
	view, link, err := h.care.OpenVetLink(r.Context(), token)
	if err != nil {
		return err
	}
	page := VetLinkPage{Base: h.base(r, view.Horse.Name).inYard(view.Moment, "").wrong(state.why), sent: state, Token: token, Until: tracker.TimeName(link.ExpiresAt, view.Zone)}
	page.Person, page.Role, page.YardID, page.Bare, page.Outside, page.Close = tracker.Person{}, 0, "", true, true, true
	photos := "/v/" + token + "/photo/"
	page.Sheet = linkSheet(view, link, photos)
	for i := min(len(view.Photos), choiceMost) - 1; i >= 0; i-- {
		page.Photos = append(page.Photos, sheetPhoto(view, view.Photos[i], photos))
	}
	if r.URL.Query().Get("kept") != "" {
		page.Notice = "The yard has what you wrote. Somebody there reads it before anything is done."
	}
	return h.draw(w, page.status(), "vetlink", page)
}

// linkSheet is the sheet as the owner picked it.
func linkSheet(view care.SheetView, link care.Link, photos string) SheetPart {
	ids := make([]string, len(link.Photos))
	for i, id := range link.Photos {
		ids[i] = string(id)
	}
	return sheetOf(view, link.Note, pick(view, ids), photos)
}

// vetLinkPDF gives the same sheet as a PDF.
func (h *Handler) vetLinkPDF(w http.ResponseWriter, r *http.Request) error {
	token := chi.URLParam(r, "token")
	view, link, err := h.care.OpenVetLink(r.Context(), token)
	if err != nil {
		return err
	}
	part := linkSheet(view, link, "")
	return h.sendPDF(w, r, part, func(id tracker.PhotoID) ([]byte, error) { return h.care.PhotoByLink(r.Context(), token, id, false) })
}

// vetLinkPhoto gives a photo of the link's horse or its thumbnail. A browser may keep neither: the link can be
// stopped.
func (h *Handler) vetLinkPhoto(thumb bool) answer {
	return func(w http.ResponseWriter, r *http.Request) error {
		data, err := h.care.PhotoByLink(r.Context(), chi.URLParam(r, "token"), tracker.PhotoID(chi.URLParam(r, "photo")), thumb)
		if err != nil {
			return err
		}
		return send(w, "image/jpeg", data)
	}
}

// propose keeps what the vet wrote.
func (h *Handler) propose(w http.ResponseWriter, r *http.Request, f *form) error {
	token := chi.URLParam(r, "token")
	return h.done(w, r, f, func() error { return h.care.Propose(r.Context(), token, readProposal(f)) }, "/v/"+token+"?kept=1", h.vetLink)
}
