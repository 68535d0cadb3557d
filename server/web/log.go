package web

import (
	"log/slog"
	"net/http"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"
)

// logged writes one line a request: what was asked and how it went, never who, and never a path with a
// secret in it: the route's pattern stands for it.
func (h *Handler) logged(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		start := time.Now()
		wrapped := middleware.NewWrapResponseWriter(w, r.ProtoMajor)
		next.ServeHTTP(wrapped, r)
		pattern := "none"
		if route := chi.RouteContext(r.Context()); route != nil && route.RoutePattern() != "" {
			pattern = route.RoutePattern()
		}
		h.settings.Log.LogAttrs(r.Context(), slog.LevelInfo, "request",
			slog.String("id", middleware.GetReqID(r.Context())), slog.String("method", r.Method), slog.String("route", pattern),
			slog.Int("status", wrapped.Status()), slog.Int("bytes", wrapped.BytesWritten()),
			slog.Duration("took", time.Since(start)))
	})
}
