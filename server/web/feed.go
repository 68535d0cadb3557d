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
	page.Feed = h.toSend(r, "/calendar/"+token+".ics")
	return h.draw(w, http.StatusOK, "remindme", page)
}

func (h *Handler) stopFeed(w http.ResponseWriter, r *http.Request) error {
	return then(w, r, h.care.StopFeed(r.Context(), actorOf(r)), "/reminders/me?saved=1")
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
	head.Set("Content-Disposition", `inline; filename="rounds.ics"`)
	return send(w, "text/calendar; charset=utf-8", []byte(text))
}
