package server

import (
	"context"
	"net/http"
	"strconv"
	"time"

	"github.com/go-chi/chi/v5"
	"github.com/go-chi/chi/v5/middleware"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
)

// meters count what the program does. No label ever names a yard or a person.
type meters struct {
	db       *store.DB
	now      func() time.Time
	clock    func() time.Time // for how long things take; nil: nothing is timed
	registry *prometheus.Registry
	requests *prometheus.CounterVec
	took     *prometheus.HistogramVec
	store    *prometheus.HistogramVec
	tries    *prometheus.CounterVec
}

func newMeters(db *store.DB, now, clock func() time.Time) *meters {
	seconds := []float64{0.001, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10}
	counter := func(name, help string, labels ...string) *prometheus.CounterVec {
		return prometheus.NewCounterVec(prometheus.CounterOpts{Name: name, Help: help}, labels)
	}
	histogram := func(name, help, label string) *prometheus.HistogramVec {
		return prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: name, Help: help, Buckets: seconds}, []string{label})
	}
	m := &meters{
		db: db, now: now, clock: clock, registry: prometheus.NewRegistry(),
		requests: counter("leground_requests_total", "Requests answered.", "method", "route", "status"),
		took:     histogram("leground_request_seconds", "Time to answer a request.", "route"),
		store:    histogram("leground_store_seconds", "Time that a transaction took.", "kind"),
		tries:    counter("leground_reminder_tries_total", "What came of tries to send a reminder.", "state", "reason"),
	}
	m.registry.MustRegister(m.requests, m.took, m.store, m.tries, m)
	return m
}

// handler answers /metrics and nothing else.
func (m *meters) handler() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{}))
	return mux
}

// What is looked up each time that somebody asks.
var (
	databaseUp = prometheus.NewDesc("leground_database_up", "1 when the database answers.", nil, nil)
	due        = prometheus.NewDesc("leground_reminders_due", "Reminders that are due and have not ended.", []string{"state", "reason"}, nil)
	tickLag    = prometheus.NewDesc("leground_tick_lag_seconds", "Time since reminders were last looked at.", nil, nil)
	backupAge  = prometheus.NewDesc("leground_backup_age_seconds", "Time since the last good backup; missing when there was none.", nil, nil)
)

// Describe is part of prometheus.Collector.
func (m *meters) Describe(to chan<- *prometheus.Desc) {
	for _, d := range []*prometheus.Desc{databaseUp, due, tickLag, backupAge} {
		to <- d
	}
}

// lookTime bounds how long somebody who looks at the metrics waits for the database.
const lookTime = 5 * time.Second

// Collect is part of prometheus.Collector: it asks the database what is due, and when it was last looked at and copied.
func (m *meters) Collect(to chan<- prometheus.Metric) {
	gauge := func(d *prometheus.Desc, value float64, labels ...string) {
		to <- prometheus.MustNewConstMetric(d, prometheus.GaugeValue, value, labels...)
	}
	ctx, cancel := context.WithTimeout(context.Background(), lookTime)
	defer cancel()
	vitals, err := m.db.Vitals(ctx, m.now())
	if err != nil {
		gauge(databaseUp, 0)
		return
	}
	gauge(databaseUp, 1)
	for _, d := range vitals.Due {
		gauge(due, float64(d.Count), d.State, d.Reason)
	}
	if at := vitals.LookedAt; !at.IsZero() {
		gauge(tickLag, m.now().Sub(at).Seconds())
	}
	if at := vitals.BackedUpAt; !at.IsZero() {
		gauge(backupAge, m.now().Sub(at).Seconds())
	}
}

// ended counts what came of a try.
func (m *meters) ended(state, reason string) { m.tries.WithLabelValues(state, reason).Inc() }

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
		m.requests.WithLabelValues(knownMethod(r.Method), pattern, strconv.Itoa(answer.Status())).Inc()
		if m.clock != nil {
			m.took.WithLabelValues(pattern).Observe(took)
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
	s.meters.store.WithLabelValues(kind).Observe(s.meters.time(func() { err = do() }))
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

// MetricsAddress is where /metrics is answered, once started; empty: nowhere.
func (s *Server) MetricsAddress() string { return s.metricsAddress }
