package web

import (
	"encoding/json"
	"errors"
	"log/slog"
	"net/http"
	"net/url"
	"strings"

	"github.com/go-chi/chi/v5/middleware"

	"leground/tracker"
)

// FailPage says what is wrong and what to do next.
type FailPage struct {
	Base
	Held *HeldForm // nil: there is nothing to send again
}

// statusOf gives the status of each kind of refusal.
func statusOf(err error) int {
	var tooLarge *http.MaxBytesError
	switch {
	case errors.Is(err, errSignIn):
		return http.StatusUnauthorized
	case errors.As(err, &tooLarge):
		return http.StatusRequestEntityTooLarge
	}
	switch tracker.KindOf(err) {
	case tracker.Invalid:
		return http.StatusUnprocessableEntity
	case tracker.NotFound:
		return http.StatusNotFound
	case tracker.Conflict:
		return http.StatusConflict
	case tracker.Forbidden:
		return http.StatusForbidden
	case tracker.Unavailable:
		return http.StatusServiceUnavailable
	}
	return http.StatusInternalServerError
}

// refusalOf gives the words of an error for people; what is not meant for them becomes one plain sentence.
func refusalOf(err error) *tracker.Error {
	var refusal *tracker.Error
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &refusal):
		return refusal
	case errors.As(err, &tooLarge):
		return tracker.Refuse(tracker.Invalid, "That is more than can be taken at once. A photo may have at most 20 MB.")
	}
	return tracker.Refuse(tracker.Unavailable, "Something went wrong on the yard's machine, so this was not kept. Try again; if it stays, look at the program's log.")
}

// fail answers an error: with JSON to the round's script, else with a page; with nobody signed in, by
// way of the sign-in page.
func (h *Handler) fail(w http.ResponseWriter, r *http.Request, err error) {
	status := statusOf(err)
	if status == http.StatusInternalServerError {
		h.settings.Log.Error("fault", slog.String("id", middleware.GetReqID(r.Context())), slog.String("error", err.Error()))
	}
	refusal := refusalOf(err)
	if wantsJSON(r) {
		writeJSON(w, status, failReceipt{Message: refusal.Message, Fields: refusal.Fields})
		return
	}
	if errors.Is(err, errSignIn) {
		if r.Method == http.MethodGet || r.Method == http.MethodHead {
			http.Redirect(w, r, "/sign-in?to="+url.QueryEscape(r.URL.Path), http.StatusSeeOther)
			return
		}
		refusal = tracker.Refuse(tracker.Forbidden, "You are not signed in any more, so this was not kept. Sign in and send it again.")
	}
	page := FailPage{Base: h.base(r, titleOf(status))}
	if errors.Is(err, errSignIn) {
		page.Held = heldForm(r)
	}
	page.Message, page.Problems = refusal.Message, refusal.Fields
	if err := h.draw(w, status, "fail", page); err != nil {
		http.Error(w, refusal.Message, status)
	}
}

func titleOf(status int) string {
	switch status {
	case http.StatusNotFound:
		return "Not found"
	case http.StatusForbidden, http.StatusUnauthorized:
		return "Not allowed"
	case http.StatusConflict:
		return "Needs a look"
	case http.StatusUnprocessableEntity, http.StatusRequestEntityTooLarge:
		return "Error: some answers need another look"
	}
	return "Error: not kept"
}

// failReceipt is the answer to the round's script when something was not kept.
type failReceipt struct {
	Message string                 `json:"message"`
	Fields  []tracker.FieldProblem `json:"fields,omitempty"`
}

func wantsJSON(r *http.Request) bool {
	return strings.HasPrefix(r.Header.Get("Accept"), "application/json")
}

func writeJSON(w http.ResponseWriter, status int, value any) {
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	w.WriteHeader(status)
	json.NewEncoder(w).Encode(value) // the reader has gone if this fails: nobody is left to tell
}
