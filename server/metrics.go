package server

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strconv"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
)

// meters count what the program does. No label ever names a yard or a person.
type meters struct {
	db       *store.DB
	now      func() time.Time
	clock    func() time.Time // for how long things take; nil: nothing is timed
	requests family
	took     family
	store    family
	tries    family
}

func newMeters(db *store.DB, now, clock func() time.Time) *meters {
	seconds := []float64{0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10}
	return &meters{
		db: db, now: now, clock: clock,
		requests: family{name: "leground_requests_total", help: "Requests answered.", labels: []string{"method", "route", "status"}},
		took:     family{name: "leground_request_seconds", help: "Time to answer a request.", labels: []string{"route"}, bounds: seconds},
		store:    family{name: "leground_store_seconds", help: "Time that a transaction took.", labels: []string{"kind"}, bounds: seconds},
		tries:    family{name: "leground_reminder_tries_total", help: "What came of tries to send a reminder.", labels: []string{"state", "reason"}},
	}
}

// handler answers /metrics and nothing else.
func (m *meters) handler() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /metrics", func(w http.ResponseWriter, r *http.Request) {
		var out bytes.Buffer
		for _, f := range []*family{&m.requests, &m.took, &m.store, &m.tries} {
			f.write(&out)
		}
		m.look(r.Context(), &out)
		w.Header().Set("Content-Type", "text/plain; version=0.0.4; charset=utf-8")
		w.Write(out.Bytes()) // the reader has gone if this fails: nobody is left to tell
	})
	return mux
}

// lookTime bounds how long somebody who looks at the metrics waits for the database.
const lookTime = 5 * time.Second

// look asks the database what is due, and when it was last looked at and copied.
func (m *meters) look(ctx context.Context, out *bytes.Buffer) {
	ctx, cancel := context.WithTimeout(ctx, lookTime)
	defer cancel()
	vitals, err := m.db.Vitals(ctx, m.now())
	if err != nil {
		gauge(out, "leground_database_up", "1 when the database answers.", 0)
		return
	}
	gauge(out, "leground_database_up", "1 when the database answers.", 1)
	fmt.Fprint(out, "# HELP leground_reminders_due Reminders that are due and have not ended.\n# TYPE leground_reminders_due gauge\n")
	for _, d := range vitals.Due {
		fmt.Fprintf(out, "leground_reminders_due%s %d\n", braced(written([]string{"state", "reason"}, []string{d.State, d.Reason})), d.Count)
	}
	if at := vitals.LookedAt; !at.IsZero() {
		gauge(out, "leground_tick_lag_seconds", "Time since reminders were last looked at.", m.now().Sub(at).Seconds())
	}
	if at := vitals.BackedUpAt; !at.IsZero() {
		gauge(out, "leground_backup_age_seconds", "Time since the last good backup; missing when there was none.", m.now().Sub(at).Seconds())
	}
}

// ended counts what came of a try.
func (m *meters) ended(state, reason string) { m.tries.add(0, state, reason) }

// counted counts requests by the pattern of their route: a path may hold a secret.
func (m *meters) counted(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		// The router fills in a route context that is there already, so that the pattern is known out here.
		route := chi.NewRouteContext()
		r = r.WithContext(context.WithValue(r.Context(), chi.RouteCtxKey, route))
		answer := middleware.NewWrapResponseWriter(w, r.ProtoMajor)
		took := m.time(func() { next.ServeHTTP(answer, r) })
		pattern := route.RoutePattern()
		if pattern == "" {
			pattern = "none"
		}
		m.requests.add(0, knownMethod(r.Method), pattern, strconv.Itoa(answer.Status()))
		if m.clock != nil {
			m.took.add(took, pattern)
		}
	})
}

// time gives how long something takes in seconds; 0 when nothing is timed.
func (m *meters) time(do func()) float64 {
	if m.clock == nil {
		do()
		return 0
	}
	start := m.clock()
	do()
	return m.clock().Sub(start).Seconds()
}

// knownMethod keeps made-up methods from becoming labels without end.
func knownMethod(method string) string {
	switch method {
	case http.MethodGet, http.MethodHead, http.MethodPost:
		return method
	}
	return "other"
}

// timed measures every transaction of a store.
func (m *meters) timed(db care.Store) care.Store {
	if m.clock == nil {
		return db
	}
	return timedStore{db, m}
}

type timedStore struct {
	care.Store
	meters *meters
}

func (s timedStore) time(kind string, do func() error) (err error) {
	s.meters.store.add(s.meters.time(func() { err = do() }), kind)
	return err
}

// Read is part of care.Store.
func (s timedStore) Read(ctx context.Context, yard tracker.YardID, do func(care.Tx) error) error {
	return s.time("read", func() error { return s.Store.Read(ctx, yard, do) })
}

// Write is part of care.Store.
func (s timedStore) Write(ctx context.Context, yard tracker.YardID, do func(care.Tx) error) error {
	return s.time("write", func() error { return s.Store.Write(ctx, yard, do) })
}

// Across is part of care.Store.
func (s timedStore) Across(ctx context.Context, do func(care.Gate) error) error {
	return s.time("write across", func() error { return s.Store.Across(ctx, do) })
}

// AcrossRead is part of care.Store.
func (s timedStore) AcrossRead(ctx context.Context, do func(care.Gate) error) error {
	return s.time("read across", func() error { return s.Store.AcrossRead(ctx, do) })
}

// startMetrics answers /metrics on a listener of its own.
func (s *Server) startMetrics() error {
	listener, err := net.Listen("tcp", s.settings.MetricsListen)
	if err != nil {
		return fmt.Errorf("cannot listen on %s for metrics: %w", s.settings.MetricsListen, err)
	}
	s.metricsAddress = listener.Addr().String()
	s.onStop("metrics", func(ctx context.Context) error { return s.metrics.Shutdown(ctx) })
	go func() {
		if err := s.metrics.Serve(listener); !errors.Is(err, http.ErrServerClosed) {
			s.failed <- err
		}
	}()
	return nil
}

// MetricsAddress is where /metrics is answered, once started; empty: nowhere.
func (s *Server) MetricsAddress() string { return s.metricsAddress }
