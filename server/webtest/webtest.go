// Package webtest gives tests the whole program in process: the server over a fresh database with a clock
// that the test sets, people who use the site with an ordinary HTTP client, and a real Chromium.
//
//	site := webtest.Start(t, webtest.Options{})
//	yard := site.Marl()                    // a yard with an owner, a carer, three horses and three sites
//	page := yard.Owner.Get("/round")       // as a browser without scripts would
//	form := page.Form("/round/site")
//	yard.Owner.Send(form.With("length", "42"))
//
//	tab := webtest.StartChromium(t).Tab(t, site, 360, 740)
//	tab.SignIn(yard.Owner)
//	tab.Open("/round")
//	tab.Shot("round")
//
// Nothing here reaches past the site's own pages, except where a doc comment says so.
package webtest

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"leground/notify"
	"leground/notify/email"
	"leground/server"
	"leground/server/web"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
)

// Noon is the instant at which a test's clock stands unless it says otherwise: Thursday 14 May 2026,
// 13:00 in Europe/London, inside the morning round of a yard with the default rounds.
func Noon() time.Time { return time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC) }

// Clock is a clock that stands still until a test moves it.
type Clock struct{ at atomic.Pointer[time.Time] }

// Now gives the instant at which the clock stands.
func (c *Clock) Now() time.Time { return *c.at.Load() }

// Set puts the clock to an instant.
func (c *Clock) Set(t time.Time) { c.at.Store(&t) }

// Add moves the clock on.
func (c *Clock) Add(d time.Duration) { c.Set(c.Now().Add(d)) }

// Options say how a site starts. The zero value is a SQLite file in a temporary folder at Noon.
type Options struct {
	Where   string           // database: a folder or a PostgreSQL address, such as pgtest gives
	Base    string           // address under which people reach it; https makes cookies secure
	Now     time.Time        // where the clock stands
	Log     *slog.Logger     // nil: nothing is written
	Direct  bool             // no proxy in front: every client has the address 127.0.0.1
	Mail    *email.Settings  // nil: no mail is sent
	Guard   notify.Guard     // which addresses of phones and webhooks may be talked to
	Meters  bool             // metrics are answered, at Site.Meters
	LogTime func() time.Time // for how long things take; nil: it is not measured
	Seed    Seed             // fills the database before the server starts, such as testdata/seed.Marlpit
}

// Seed plays the past of a made-up yard through its use cases, moving the clock as it goes.
type Seed func(ctx context.Context, service *care.Service, setNow func(time.Time), now time.Time) (owner care.Actor, err error)

// Site is a running server.
type Site struct {
	TB     testing.TB
	URL    string // "http://127.0.0.1:43210"
	Where  string
	Clock  *Clock
	Care   *care.Service
	Meters string // "http://127.0.0.1:43211/metrics"
	// Run does at once what the worker does each time it wakes. The worker itself sleeps as long as a test lasts.
	Run    func()
	direct bool
	seeded care.Actor
	people atomic.Int32
}

// Start runs a server for one test and stops it afterwards.
func Start(tb testing.TB, o Options) *Site {
	tb.Helper()
	s := &Site{TB: tb, Where: o.Where, Clock: &Clock{}, direct: o.Direct}
	if s.Where == "" {
		s.Where = filepath.Join(tb.TempDir(), "yard")
	}
	if o.Now.IsZero() {
		o.Now = Noon()
	}
	if o.Log == nil {
		o.Log = slog.New(slog.DiscardHandler)
	}
	s.Clock.Set(o.Now)
	in := server.Settings{Where: s.Where, Listen: "127.0.0.1:0", Base: o.Base, ProxyHops: 1, Now: s.Clock.Now, Log: o.Log, LogTime: o.LogTime, Mail: o.Mail, Guard: o.Guard}
	if o.Meters {
		in.MetricsListen = "127.0.0.1:0"
	}
	if o.Direct {
		in.ProxyHops = 0
	}
	srv, err := server.New(tb.Context(), in)
	check(tb, err)
	if o.Seed != nil {
		s.seeded, err = o.Seed(tb.Context(), srv.Care, s.Clock.Set, o.Now)
		check(tb, err)
		s.Clock.Set(o.Now)
	}
	if err := srv.Start(); err != nil {
		tb.Fatal(err, srv.Stop())
	}
	tb.Cleanup(func() { check(tb, srv.Stop()) })
	s.URL, s.Care, s.Meters = "http://"+srv.Address(), srv.Care, "http://"+srv.MetricsAddress()+"/metrics"
	s.Run = func() { srv.RunOnce(context.WithoutCancel(tb.Context())) }
	return s
}

// Store opens the site's database a second time, for what no page does: filling it quickly, or reading it
// back to see that nothing changed.
func (s *Site) Store() *store.DB {
	s.TB.Helper()
	db, err := store.Open(s.TB.Context(), s.Where, s.Clock.Now())
	check(s.TB, err)
	s.TB.Cleanup(func() { check(s.TB, db.Close()) })
	return db
}

// Handler gives the pages over the site's database without a network between, and counts what each
// request asks of the database. Two requests at once are counted together.
func (s *Site) Handler() (http.Handler, *store.Counts) {
	s.TB.Helper()
	pages, err := web.New(care.New(s.Store(), s.Clock.Now), web.Settings{ProxyHops: 1, Log: slog.New(slog.DiscardHandler)})
	check(s.TB, err)
	counts, router := &store.Counts{}, pages.Router()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		router.ServeHTTP(w, r.WithContext(store.Counting(r.Context(), counts)))
	}), counts
}

// SetUpLink gives the path of a link that opens one more yard. The first is the one that the program prints;
// for the rest, which no page makes, the link is put into the database.
func (s *Site) SetUpLink() string {
	s.TB.Helper()
	token, err := s.Care.FirstLink(s.TB.Context())
	check(s.TB, err)
	if token == "" {
		token = care.NewSecret()
		link := care.Link{ID: care.NewID(), TokenHash: care.HashToken(token), Kind: care.SetUpLink, Role: tracker.Owner, MadeBy: "a test", MadeAt: s.Clock.Now(), ExpiresAt: s.Clock.Now().Add(time.Hour)}
		check(s.TB, s.Store().Across(s.TB.Context(), func(g care.Gate) error { return g.AddLink(link) }))
	}
	return "/link/" + token
}

// Seeded signs in the owner of the yard that Options.Seed made.
func (s *Site) Seeded() *Person {
	s.TB.Helper()
	token, err := s.Care.SignInLinkFor(s.TB.Context(), s.seeded)
	check(s.TB, err)
	p := s.Nobody()
	p.Name, p.Email = s.seeded.Person.Name, s.seeded.Person.Email
	p.Send(p.Get("/link/" + token).Form("/link/" + token)).Redirects("/")
	return p
}

func check(tb testing.TB, err error) {
	tb.Helper()
	if err != nil {
		tb.Fatal(err)
	}
}

// address gives each person an address of their own, so that the limit on sign-ins of one address is met
// only by tests that want to meet it.
func (s *Site) address() string {
	n := s.people.Add(1)
	return fmt.Sprintf("10.0.%d.%d", n/250, 1+n%250)
}
