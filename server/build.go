// Package server puts the program together and runs it. This file is the only one that knows every part.
package server

import (
	"context"
	"crypto/tls"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/http"
	"net/url"
	"strings"
	"time"

	"leground/notify"
	"leground/notify/email"
	"leground/notify/webhook"
	"leground/server/web"
	"leground/server/worker"
	"leground/tracker/care"
	"leground/tracker/rounds"
	"leground/tracker/store"
)

// Settings are how the program runs.
type Settings struct {
	Where         string // folder of the data, or a PostgreSQL address
	Listen        string // "127.0.0.1:8400"; port 0 takes a free one
	MetricsListen string // where /metrics is answered; empty: nowhere
	Base          string // address under which people reach the site, for links in messages; empty: from Listen
	ProxyHops     int    // trusted proxies in front
	Kept          string // folder for the files of older builds, which phones may still ask for; empty: none is kept
	NoCopy        bool   // phones keep no copy of the pages, and put away the one they have
	TLS           *tls.Config
	PlainListen   string                          // where plain http is sent on to Base; empty: nowhere
	Plain         func(http.Handler) http.Handler // answers an authority's questions in plain http before the rest; nil: none come
	Mail          *email.Settings                 // nil: no mail is sent
	Guard         notify.Guard                    // which addresses of phones and webhooks may be talked to
	Now           func() time.Time
	Log           *slog.Logger
	LogTime       func() time.Time // for how long things take; nil: it is not measured
}

// Server is the program, put together.
type Server struct {
	settings Settings
	Care     *care.Service
	http     *http.Server
	metrics  *http.Server // nil: none
	plain    *http.Server // nil: none
	worker   *worker.Worker
	deliver  *notify.Deliver
	address  string
	failed   chan error
	stops    []step

	metricsAddress string
}

// New opens the database, brings its schema up to date and wires everything. Nothing runs yet.
func New(ctx context.Context, in Settings) (*Server, error) {
	db, err := store.Open(ctx, in.Where, in.Now())
	if err != nil {
		return nil, err
	}
	s := &Server{settings: in, failed: make(chan error, 1)}
	s.onStop("database", func(context.Context) error { return db.Close() })
	if err := s.wire(ctx, db); err != nil {
		return nil, closeAfter(db, err)
	}
	return s, nil
}

func (s *Server) wire(ctx context.Context, db *store.DB) error {
	in := s.settings
	m := newMeters(db, in.Now, in.LogTime)
	s.Care = care.New(m.timed(db), in.Now)
	post, err := s.newCourier(ctx)
	if err != nil {
		return err
	}
	s.Care.Serving(post.names()...)
	s.deliver = s.newDeliver(&outbox{db: db, care: s.Care, base: in.Base, host: in.mailHost(), count: m.ended}, post.channels)
	post.deliver = s.deliver
	pages, err := web.New(s.Care, web.Settings{Site: in.site(), Secure: in.secure(), ProxyHops: in.ProxyHops, Kept: in.Kept, NoCopy: in.NoCopy, Log: in.Log, Courier: post})
	if err != nil {
		return err
	}
	s.worker = worker.New(worker.Jobs{Tick: s.Care.Tick, Deliver: s.send, Wait: s.deliver.Wait}, in.Log)
	s.http = newHTTP(in, m.counted(pages.Router()))
	s.http.TLSConfig = in.TLS
	if in.PlainListen != "" {
		s.plain = newHTTP(in, in.sendOn())
	}
	if in.MetricsListen != "" {
		s.metrics = newHTTP(in, m.handler())
	}
	return nil
}

func newHTTP(in Settings, handler http.Handler) *http.Server {
	return &http.Server{
		Handler: handler, ErrorLog: slog.NewLogLogger(in.Log.Handler(), slog.LevelWarn),
		ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 2 * time.Minute, WriteTimeout: 2 * time.Minute, IdleTimeout: 2 * time.Minute,
	}
}

// send sends what is due now.
func (s *Server) send(ctx context.Context) error { return s.deliver.RunOnce(ctx, s.settings.Now()) }

// RunOnce does what the worker does each time it wakes, and waits for messages that are being sent.
func (s *Server) RunOnce(ctx context.Context) {
	s.worker.RunOnce(ctx)
	s.deliver.Wait()
}

func closeAfter(db *store.DB, err error) error {
	if closing := db.Close(); closing != nil {
		return fmt.Errorf("%w (and closing the database: %w)", err, closing)
	}
	return err
}

// secure tells whether people reach the site over HTTPS.
func (in Settings) secure() bool {
	base, err := url.Parse(in.Base)
	return in.TLS != nil || err == nil && base.Scheme == "https"
}

// sendOn answers plain http: whatever is asked for is at the site's own address.
func (in Settings) sendOn() http.Handler {
	to := http.Handler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		http.Redirect(w, r, in.Base+r.URL.RequestURI(), http.StatusFound)
	}))
	if in.Plain != nil {
		to = in.Plain(to)
	}
	return to
}

// newDeliver makes the engine that sends.
func (s *Server) newDeliver(box notify.Outbox, channels []notify.Channel) *notify.Deliver {
	return &notify.Deliver{
		Outbox: box, Channels: channels, Clock: s.settings.Now, Log: s.settings.Log,
		Jitter: func(most time.Duration) time.Duration { return rand.N(most + 1) },
		Pace:   map[string]notify.Pace{care.ChannelPush: {PerMinute: 600, Burst: 100}, care.ChannelWebhook: {PerMinute: 60, Burst: 10}},
		NextTry: func(c notify.Claimed, now time.Time) time.Time {
			if c.Account.Channel == care.ChannelWebhook {
				return webhook.NextTry(c.Try, now)
			}
			next, _ := rounds.NextTry(now, c.Try, c.Message.UseBy) // past the use-by the engine folds it
			return next
		},
	}
}

// mailHost is the name behind the @ of a Message-ID: the site's, or, where it has only a number, that of the sender's
// mail address. Many machines call themselves 127.0.0.1.
func (in Settings) mailHost() string {
	base, err := url.Parse(in.Base)
	if err == nil && strings.Contains(base.Hostname(), ".") && net.ParseIP(base.Hostname()) == nil {
		return base.Hostname()
	}
	if in.Mail != nil {
		return in.Mail.Domain()
	}
	return "leground.invalid"
}

// site is Base when others can open it too: not when it is only where this machine listens.
func (in Settings) site() string {
	base, err := url.Parse(in.Base)
	if err != nil || base.Hostname() == "" || base.Hostname() == "localhost" {
		return ""
	}
	if ip := net.ParseIP(base.Hostname()); ip != nil && (ip.IsLoopback() || ip.IsUnspecified()) {
		return ""
	}
	return in.Base
}
