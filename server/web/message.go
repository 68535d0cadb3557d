package web

import (
	"fmt"
	"net/http"

	"github.com/go-chi/chi/v5"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/rounds"
)

// MessagePage is what a link in a message opens: one question with its button. Opening it changes nothing,
// since mail scanners open links. Nobody is slowed down here: a secret of 256 bits cannot be guessed, and a mail
// provider stops mail for many people from one address.
type MessagePage struct {
	Base
	View  care.MessageView
	Do    string // "on-it", "later" or "stop"
	Path  string // of this page
	Round string // "Morning round, Thu 14 May, 07:00"
	Done  bool
}

func (h *Handler) messagePage(do string) answer {
	return func(w http.ResponseWriter, r *http.Request) error {
		return h.drawMessage(w, r, do, nil, false)
	}
}

func (h *Handler) drawMessage(w http.ResponseWriter, r *http.Request, do string, problem error, done bool) error {
	view, err := h.care.Message(r.Context(), chi.URLParam(r, "token"))
	if err != nil {
		return err
	}
	title := map[string]string{"on-it": "I am on it", "later": "Tell me later", "stop": "Stop mail"}[do]
	page := MessagePage{Base: h.base(r, title).inYard(view.Moment, "").wrong(problem), View: view, Do: do, Path: r.URL.Path, Done: done}
	page.Bare = true
	if view.Round.Slot != "" {
		page.Round = fmt.Sprintf("%s round, %s", tracker.Capital(view.Round.Slot), tracker.TimeName(view.Round.DueAt, view.Zone))
	}
	if do != "stop" && view.Message.Kind != rounds.AboutRound {
		return errNoPage
	}
	return h.draw(w, page.status(), "message", page)
}

// pressMessage acts on "on it" or "later".
func (h *Handler) pressMessage(do string) answer {
	return h.posted(func(w http.ResponseWriter, r *http.Request, f *form) error {
		kind, later := readPress(f)
		if do == "on-it" {
			kind, later = care.OnIt, 0
		}
		err := h.care.PressMessage(r.Context(), chi.URLParam(r, "token"), kind, later)
		if tracker.KindOf(err) == tracker.Invalid {
			return h.drawMessage(w, r, do, err, false)
		}
		if err != nil {
			return err
		}
		return h.drawMessage(w, r, do, nil, true)
	})
}

// stopMail acts on "stop mail": by the button, and by the one post that a mail program makes (RFC 8058).
func (h *Handler) stopMail(w http.ResponseWriter, r *http.Request) error {
	if err := h.care.StopMail(r.Context(), chi.URLParam(r, "token")); err != nil {
		return err
	}
	return h.drawMessage(w, r, "stop", nil, true)
}
