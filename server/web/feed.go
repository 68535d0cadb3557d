package web

import (
	"net/http"
	"strings"

	"github.com/go-chi/chi/v5"
)

// makeFeed makes a calendar address and shows it, once.
func (h *Handler) makeFeed(w http.ResponseWriter, r *http.Request) error {
	token, err := h.care.MakeFeed(r.Context(), actorOf(r))
	if err != nil {
		return err
	}
	page, err := h.remindMePage(r, sent{})
	if err != nil {
		return err
	}
	page.Feed = "/calendar/" + token + ".ics"
	return h.draw(w, http.StatusOK, "remindme", page)
}

func (h *Handler) stopFeed(w http.ResponseWriter, r *http.Request) error {
	if err := h.care.StopFeed(r.Context(), actorOf(r)); err != nil {
		return err
	}
	http.Redirect(w, r, "/reminders/me?saved=1", http.StatusSeeOther)
	return nil
}

// feed answers a calendar.
func (h *Handler) feed(w http.ResponseWriter, r *http.Request) error {
	view, err := h.care.Feed(r.Context(), strings.TrimSuffix(chi.URLParam(r, "token"), ".ics"))
	if err != nil {
		return err
	}
	if h.settings.Courier == nil {
		return errNoChannels
	}
	text, tag, err := h.settings.Courier.Calendar(view)
	if err != nil {
		return err
	}
	head := w.Header()
	head.Set("ETag", tag)
	head.Set("Cache-Control", "private, no-cache")
	if h.settings.Courier.Unchanged(r.Header.Get("If-None-Match"), tag) {
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	head.Set("Content-Type", "text/calendar; charset=utf-8")
	head.Set("Content-Disposition", `inline; filename="rounds.ics"`)
	_, err = w.Write([]byte(text))
	if err != nil {
		return nil // the reader has gone
	}
	return nil
}
