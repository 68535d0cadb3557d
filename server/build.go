// Package server puts the program together and runs it. This file is the only one that knows every part.
package server

import (
	"context"
	"crypto/tls"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"net/http"
	"net/url"
	"time"

	"leground/notify"
	"leground/notify/email"
	"leground/server/web"
	"leground/server/worker"
	"leground/tracker/care"
	"leground/tracker/rounds"
	"leground/tracker/store"
)

// Settings are how the program runs.
type Settings struct {
	Where     string // folder of the data, or a PostgreSQL address
	Listen    string // "127.0.0.1:8400"; port 0 takes a free one
	Base      string // address under which people reach the site, for links in messages; empty: from Listen
	ProxyHops int    // trusted proxies in front
	Kept      string // folder for the files of older builds, which phones may still ask for; empty: none is kept
	NoCopy    bool   // phones keep no copy of the pages, and put away the one they have
	TLS       *tls.Config
	Mail      *email.Settings // nil: no mail is sent
	Now       func() time.Time
	Log       *slog.Logger
	LogTime   func() time.Time
}

// Server is the program, put together.
type Server struct {
	settings Settings
	Care     *care.Service
	http     *http.Server
	worker   *worker.Worker
	address  string
	failed   chan error
	stops    []step
}

// New opens the database, brings its schema up to date and wires everything. Nothing runs yet.
func New(ctx context.Context, in Settings) (*Server, error) {
	db, err := store.Open(ctx, in.Where, in.Now())
	if err != nil {
		return nil, err
	}
	s := &Server{settings: in, failed: make(chan error, 1)}
	s.onStop("database", func(context.Context) error { return db.Close() })
	s.Care = care.New(db, in.Now)
	deliver, err := s.deliver(db)
	if err != nil {
		return nil, closeAfter(db, err)
	}
	pages, err := web.New(s.Care, web.Settings{Secure: in.secure(), ProxyHops: in.ProxyHops, Kept: in.Kept, NoCopy: in.NoCopy, Log: in.Log})
	if err != nil {
		return nil, closeAfter(db, err)
	}
	s.worker = worker.New(worker.Jobs{
		Tick:    s.Care.Tick,
		Deliver: func(ctx context.Context) error { return deliver.RunOnce(ctx, in.Now()) },
		Wait:    deliver.Wait,
	}, in.Log)
	s.http = &http.Server{
		Handler: pages.Router(), TLSConfig: in.TLS, ErrorLog: slog.NewLogLogger(in.Log.Handler(), slog.LevelWarn),
		ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 2 * time.Minute, WriteTimeout: 2 * time.Minute, IdleTimeout: 2 * time.Minute,
	}
	return s, nil
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

// deliver wires the channels that have settings.
func (s *Server) deliver(db *store.DB) (*notify.Deliver, error) {
	d := &notify.Deliver{
		Outbox: &outbox{db: db, base: s.settings.Base, host: s.mailHost()}, Clock: s.settings.Now, Log: s.settings.Log,
		Jitter: func(most time.Duration) time.Duration { return rand.N(most + 1) },
		NextTry: func(c notify.Claimed, now time.Time) time.Time {
			next, ok := rounds.NextTry(now, c.Try, c.Message.UseBy)
			if !ok {
				return time.Time{}
			}
			return next
		},
	}
	if s.settings.Mail != nil {
		mail, err := email.New(*s.settings.Mail)
		if err != nil {
			return nil, err
		}
		d.Channels = append(d.Channels, mail)
		s.onStop("mail connections", func(context.Context) error { mail.Close(); return nil })
	}
	return d, nil
}

// mailHost is the host in Message-IDs.
func (s *Server) mailHost() string {
	if base, err := url.Parse(s.settings.Base); err == nil && base.Hostname() != "" {
		return base.Hostname()
	}
	return "leground.invalid"
}
