package web

import (
	"context"
	"log/slog"
	"net/http"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"

	"leground/server/web/picture"
	"leground/tracker"
	"leground/tracker/care"
)

// Settings are what the pages need to know of how the program runs.
type Settings struct {
	Site      string       // address under which others open it: "https://yard.example"; empty: not known
	Secure    bool         // reached over HTTPS, so cookies say so
	ProxyHops int          // trusted proxies in front; 0: none
	Kept      string       // folder for the files of older builds; empty: only this build's are answered
	NoCopy    bool         // phones keep no copy of the pages: those that have one put it away
	Log       *slog.Logger // requests and faults, without personal data
	Courier   Courier      // the channels; nil: none, as in tests without a server
}

// Handler answers every request of the site.
type Handler struct {
	care     *care.Service
	settings Settings
	pages    *pages
	assets   *assets
	brake    *brake
	desk     *picture.Desk // every posted photo passes it
	routes   []route
}

// New makes the handler. It fails only when a template or an asset that is built in cannot be read.
func New(service *care.Service, settings Settings) (*Handler, error) {
	h := &Handler{care: service, settings: settings, brake: newBrake(), desk: picture.NewDesk()}
	var err error
	if h.assets, err = loadAssets(); err != nil {
		return nil, err
	}
	if settings.Kept != "" {
		if err := h.assets.keep(settings.Kept, service.Now()); err != nil {
			settings.Log.Warn("the files of older builds cannot be kept: a phone with an old page may miss its style", slog.String("error", err.Error()))
		}
	}
	if h.pages, err = loadPages(h.assets); err != nil {
		return nil, err
	}
	h.routes = append(h.allRoutes(), h.vetRoutes()...)
	return h, nil
}

// answer is what a handler is: it writes a page, or returns why it could not.
type answer func(w http.ResponseWriter, r *http.Request) error

// Router gives the site with everything around the handlers: request ids, limits, headers and the
// refusal of posts from other sites.
func (h *Handler) Router() http.Handler {
	r := chi.NewRouter()
	r.Use(middleware.RequestID, h.clientIP(), h.logged, h.headers, middleware.Compress(5, "text/html", "application/json"))
	cross := http.NewCrossOriginProtection()
	cross.SetDenyHandler(h.plain(func(w http.ResponseWriter, r *http.Request) error {
		return tracker.Refuse(tracker.Forbidden, "This was sent from another site, so nothing was done. Open the page here and try again.")
	}))
	r.Use(cross.Handler)
	for _, route := range h.routes {
		r.Method(route.method, route.path, h.guarded(route))
	}
	r.NotFound(h.plain(func(http.ResponseWriter, *http.Request) error { return errNoPage }))
	r.MethodNotAllowed(h.plain(func(http.ResponseWriter, *http.Request) error { return errNoPage }))
	return r
}

var errNoPage = tracker.Refuse(tracker.NotFound, "There is no such page. Go back to the Board.")

// plain wraps an answer that needs nobody signed in.
func (h *Handler) plain(do answer) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if err := do(w, r); err != nil {
			h.fail(w, r, err)
		}
	}
}

// guarded wraps a route: who may ask, and how much they may send.
func (h *Handler) guarded(route route) http.HandlerFunc {
	return h.plain(func(w http.ResponseWriter, r *http.Request) error {
		r.Body = http.MaxBytesReader(w, r.Body, route.most())
		if route.access == anybody {
			return route.do(w, r)
		}
		actor, err := h.signedIn(r)
		if err != nil {
			return err
		}
		if !route.access.allows(actor.Role) {
			return tracker.Refuse(tracker.Forbidden, "Only the owner of the yard may do that. Ask them to do it.")
		}
		r = r.WithContext(context.WithValue(r.Context(), actorKey{}, actor))
		if err := recordedBy(r); err != nil {
			return err
		}
		return route.do(w, r)
	})
}

type actorKey struct{}

// actorOf gives who asks. Only routes that are not open to anybody have one.
func actorOf(r *http.Request) care.Actor {
	actor, _ := r.Context().Value(actorKey{}).(care.Actor)
	return actor
}

func (h *Handler) clientIP() func(http.Handler) http.Handler {
	if h.settings.ProxyHops > 0 {
		return middleware.ClientIPFromXFFTrustedProxies(h.settings.ProxyHops)
	}
	return middleware.ClientIPFromRemoteAddr
}

// headers sets what every answer says about itself. By the build a phone knows an answer of the yard from
// that of anything else between them.
func (h *Handler) headers(next http.Handler) http.Handler {
	const policy = "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' blob:; connect-src 'self'; " +
		"manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		head := w.Header()
		head.Set("Content-Security-Policy", policy)
		head.Set("Leground-Build", h.assets.build)
		head.Set("X-Content-Type-Options", "nosniff")
		head.Set("Referrer-Policy", h.referrer(r))
		head.Set("Cache-Control", "no-store")
		head.Set("Permissions-Policy", "camera=(self), geolocation=(), microphone=()")
		next.ServeHTTP(w, r)
	})
}

// referrer keeps our addresses from other sites. Over plain http a browser says where a form comes from only
// by Origin, and under no-referrer that is "null" (Fetch Standard, "append a request Origin header"): every
// form would count as sent from another site. There same-origin tells other sites just as little.
func (h *Handler) referrer(r *http.Request) string {
	if h.settings.Secure || r.TLS != nil {
		return "no-referrer"
	}
	return "same-origin"
}
