package web

import (
	"fmt"
	"net/http"
	"time"
)

// reminderLate is after how long without a look the reminders are called late.
const reminderLate = 3 * time.Minute

// healthz tells whether the program works: whether the worker has looked for what is due lately.
func (h *Handler) healthz(w http.ResponseWriter, r *http.Request) error {
	at, err := h.care.LookedAt(r.Context())
	if err != nil {
		http.Error(w, "the database does not answer", http.StatusServiceUnavailable)
		return nil
	}
	if late := h.care.Now().Sub(at); !at.IsZero() && late > reminderLate {
		http.Error(w, fmt.Sprintf("reminders were last looked at %s ago", late.Round(time.Second)), http.StatusServiceUnavailable)
		return nil
	}
	fmt.Fprintln(w, "ok")
	return nil
}

// readyz tells whether the program can take requests: whether the database answers.
func (h *Handler) readyz(w http.ResponseWriter, r *http.Request) error {
	if err := h.care.Ping(r.Context()); err != nil {
		http.Error(w, "the database does not answer", http.StatusServiceUnavailable)
		return nil
	}
	fmt.Fprintln(w, "ready")
	return nil
}
