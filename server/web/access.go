package web

import (
	"net"
	"net/http"
	"sync"
	"time"

	"github.com/go-chi/chi/v5/middleware"
	"golang.org/x/time/rate"

	"leground/tracker"
	"leground/tracker/care"
)

// access is who may ask for a route.
type access int

const (
	anybody access = iota + 1 // no session needed
	members                   // everybody of the yard
	owners
)

func (a access) String() string { return [...]string{"", "anybody", "members", "owners"}[a] }

func (a access) allows(role tracker.Role) bool {
	return role == tracker.Owner || a == members && role == tracker.Carer
}

// sessionCookie names the cookie that holds the session's secret.
const sessionCookie = "leground"

// errSignIn sends to the sign-in page.
var errSignIn = tracker.Refuse(tracker.Forbidden, "Sign in first.")

func (h *Handler) signedIn(r *http.Request) (care.Actor, error) {
	cookie, err := r.Cookie(sessionCookie)
	if err != nil || cookie.Value == "" {
		return care.Actor{}, errSignIn
	}
	actor, err := h.care.Actor(r.Context(), cookie.Value)
	if tracker.KindOf(err) == tracker.NotFound {
		return care.Actor{}, errSignIn
	}
	return actor, err
}

func (h *Handler) setSession(w http.ResponseWriter, token string) {
	http.SetCookie(w, &http.Cookie{
		Name: sessionCookie, Value: token, Path: "/", HttpOnly: true, Secure: h.settings.Secure,
		SameSite: http.SameSiteLaxMode, MaxAge: int((90 * 24 * time.Hour).Seconds()),
	})
}

func (h *Handler) clearSession(w http.ResponseWriter) {
	http.SetCookie(w, &http.Cookie{Name: sessionCookie, Path: "/", HttpOnly: true, Secure: h.settings.Secure, MaxAge: -1})
}

// brake slows one address down where secrets can be guessed: ten tries at once, then one each six
// seconds. The growing delay of one account is kept in the store.
type brake struct {
	mu     sync.Mutex
	limits map[string]*rate.Limiter
}

// brakePlaces is how many addresses are remembered; past it everybody starts afresh.
const brakePlaces = 10_000

func newBrake() *brake { return &brake{limits: map[string]*rate.Limiter{}} }

func (b *brake) allow(r *http.Request, now time.Time) bool {
	address := middleware.GetClientIP(r.Context())
	if address == "" {
		address, _, _ = net.SplitHostPort(r.RemoteAddr)
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.limits) >= brakePlaces {
		clear(b.limits)
	}
	limit, ok := b.limits[address]
	if !ok {
		limit = rate.NewLimiter(rate.Every(6*time.Second), 10)
		b.limits[address] = limit
	}
	return limit.AllowN(now, 1)
}

// slowed refuses an address that tries too often.
func (h *Handler) slowed(r *http.Request) error {
	if h.brake.allow(r, h.care.Now()) {
		return nil
	}
	return tracker.Refuse(tracker.Unavailable, "Too many tries from here. Wait a minute, then try again.")
}
