package web_test

import (
	"bytes"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leground/server/webtest"
	"leground/tracker/care"
)

func newRecord() string { return string(care.NewRecord()) }

// The session's cookie is out of reach of scripts and other sites, is sent over HTTPS only where the site is
// reached so, and the database holds no secret that a thief of the file could use.
func TestSessionCookie(t *testing.T) {
	for base, secure := range map[string]bool{"https://yard.example": true, "http://127.0.0.1": false} {
		site := webtest.Start(t, webtest.Options{Base: base})
		yard := site.Marl()
		p := site.Nobody()
		page := signIn(p, yard.Owner.Email, webtest.Password).Redirects("/round")
		cookie := (&http.Response{Header: page.Header}).Cookies()[0]
		if !cookie.HttpOnly || cookie.Secure != secure || cookie.SameSite != http.SameSiteLaxMode || cookie.Path != "/" || cookie.Domain != "" {
			t.Errorf("at %s the session's cookie is %s", base, page.Header.Get("Set-Cookie"))
		}
		if len(cookie.Value) < 43 { // 256 bits in base 64
			t.Errorf("the session's secret has %d letters, want 43 or more", len(cookie.Value))
		}
		all := fmt.Sprint(site.Dump())
		for what, secret := range map[string]string{"session": cookie.Value, "password": webtest.Password} {
			if strings.Contains(all, secret) {
				t.Errorf("the database holds the %s itself", what)
			}
		}
		if !strings.Contains(all, "$argon2id$v=19$m=19456,t=2,p=1$") { // OWASP Password Storage Cheat Sheet 2024, lowest of its settings
			t.Error("no password hash with at least 19 MiB, two passes and one lane")
		}
	}
}

// Signing out ends the session on the server too, and one device can be signed out from another.
func TestSessionsEnd(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	phone := site.Nobody()
	phone.Header.Set("User-Agent", "Old phone of the tack room")
	signIn(phone, yard.Owner.Email, webtest.Password).Redirects("/round")
	phone.Get("/").Is(200)
	yard.Owner.Get("/people").Says("Old phone of the tack room")
	for action := range actions(yard.Owner.Get("/people")) {
		if strings.HasPrefix(action, "/sessions/") {
			yard.Owner.Post(action, nil).Redirects("/people")
		}
	}
	phone.Get("/").Redirects("/sign-in")
	phone.Post("/round/leg", webtest.Values("record="+newID())).Is(401).Says("You are not signed in any more, so this was not kept.")
	secret := yard.Owner.Session()
	yard.Owner.Post("/sign-out", nil).Redirects("/sign-in")
	req, err := http.NewRequest("GET", site.URL+"/", nil)
	if err != nil {
		t.Fatal(err)
	}
	req.AddCookie(&http.Cookie{Name: "leground", Value: secret})
	site.Nobody().Do(req).Redirects("/sign-in")
	// A phone that is kept in the yard stays signed in while it is used, and 90 days after.
	kept := site.Nobody()
	signIn(kept, yard.Owner.Email, webtest.Password).Redirects("/round")
	for range 4 {
		site.Clock.Add(89 * 24 * time.Hour)
		kept.Get("/more").Is(200)
	}
	site.Clock.Add(91 * 24 * time.Hour)
	kept.Get("/more").Redirects("/sign-in")
}

// An unknown name and a wrong password get the same answer; each failure after the third makes the next
// try wait longer, also with the right password; the delay ends by itself and by signing in.
func TestSignInDelay(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	p := site.Nobody()
	wrong := signIn(p, yard.Owner.Email, "not the password at all").Is(422)
	unknown := signIn(p, "nobody@marlpit.example", "not the password at all").Is(422)
	same := func(page *webtest.Page, email string) string {
		return strings.ReplaceAll(string(page.Body), email, "EMAIL")
	}
	if diff := cmp.Diff(same(unknown, "nobody@marlpit.example"), same(wrong, yard.Owner.Email)); diff != "" {
		t.Errorf("a known name answers unlike an unknown one:\n%s", diff)
	}
	for _, name := range []string{yard.Owner.Email, "nobody@marlpit.example"} {
		var waits []time.Duration
		for range 9 { // each from another address, as a thief would
			var waited time.Duration
			for signIn(site.Nobody(), name, "not the password at all").Status == 503 {
				site.Clock.Add(time.Second)
				waited += time.Second
			}
			waits = append(waits, waited)
		}
		t.Logf("%s: waits before each try: %v", name, waits)
		for i := 1; i < len(waits); i++ {
			if waits[i] < waits[i-1] || i > 3 && waits[i] <= waits[1] {
				t.Errorf("%s: the delay does not grow: %v", name, waits)
				break
			}
		}
	}
	page := signIn(site.Nobody(), yard.Owner.Email, webtest.Password).Is(503).Says("Too many tries with this name.")
	if strings.Contains(string(page.Body), webtest.Password) {
		t.Error("the page repeats the password")
	}
	site.Clock.Add(16 * time.Minute)
	signIn(site.Nobody(), yard.Owner.Email, webtest.Password).Redirects("/round")
	signIn(site.Nobody(), yard.Owner.Email, "not the password at all").Is(422) // the count begins anew
	signIn(site.Nobody(), yard.Owner.Email, webtest.Password).Redirects("/round")
}

// One address may not try for ever, whatever names it tries and whatever it says that it is.
func TestOneAddressIsSlowed(t *testing.T) {
	site := webtest.Start(t, webtest.Options{Direct: true})
	p := site.Nobody()
	slowed := 0
	for i := range 15 {
		p.Header.Set("X-Forwarded-For", fmt.Sprintf("192.0.2.%d", i))
		if p.Post("/sign-in", webtest.Values(fmt.Sprintf("email=a%d@b.example", i), "password=x")).Status == 503 {
			slowed++
		}
	}
	if slowed != 5 {
		t.Errorf("of 15 tries %d were slowed, want 5", slowed)
	}
	site.Clock.Add(time.Minute)
	p.Get("/link/nothing").Is(404)
}

// A link that acts does nothing when it is only opened, as mail scanners do, works once, and not after it
// was stopped or is too old.
func TestLinksActOnPostOnly(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	invite := func() string {
		return yard.Owner.Send(yard.Owner.Get("/people").Form("/people/invite")).Is(200).Link()
	}
	path := invite()
	token := strings.TrimPrefix(path, "/link/")
	before := site.Dump()
	if strings.Contains(fmt.Sprint(before), token) {
		t.Error("the database holds the link's secret itself")
	}
	for _, method := range []string{"GET", "HEAD", "OPTIONS", "GET"} {
		req, err := http.NewRequest(method, site.URL+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		site.Nobody().Do(req)
	}
	if diff := cmp.Diff(before, site.Dump()); diff != "" {
		t.Errorf("opening a link changed something:\n%s", diff)
	}
	join := func(path, name string) *webtest.Page {
		return site.Nobody().Post(path, webtest.Values("name="+name, "email="+name+"@marlpit.example", "password="+webtest.Password))
	}
	join(path, "Cy").Redirects("/")
	join(path, "Dot").Is(404).Says("This link has been used, stopped or is too old. Ask for a new one.")
	site.Nobody().Get(path).Is(404)
	path = invite()
	for action := range actions(yard.Owner.Get("/people")) {
		if strings.HasPrefix(action, "/links/") {
			yard.Owner.Post(action, nil).Redirects("/people")
		}
	}
	join(path, "Dot").Is(404)
	path = invite()
	site.Clock.Add(7*24*time.Hour + time.Second)
	join(path, "Dot").Is(404)
	if got := count(site, "member"); got != 3 {
		t.Errorf("the yard has %d people, want Ada, Bea and Cy", got)
	}
}

// The set-up link of the first start works once; no second yard can be opened by it or by one that was
// printed at an earlier start.
func TestSetUpLinkOnce(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	early, err := site.Care.FirstLink(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	site.OpenYard("Marlpit Yard", "Ada")
	site.Nobody().Get("/link/" + early).Is(404)
	form := webtest.Values("yard=Second", "zone=Europe/London", "order=LF RF RH LH", "name=Eve", "email=eve@far.example", "password="+webtest.Password)
	site.Nobody().Post("/link/"+early, form).Is(404)
	if got := count(site, "yard"); got != 1 {
		t.Errorf("there are %d yards, want 1", got)
	}
	if token, err := site.Care.FirstLink(t.Context()); err != nil || token != "" {
		t.Errorf("a yard is there and a set-up link is made all the same: %q, %v", token, err)
	}
}

// A post from another site is refused before anything is read, and changes nothing.
func TestCrossSitePosts(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard, ids := used(t, site)
	if err := site.Care.Tick(t.Context()); err != nil {
		t.Fatal(err)
	}
	before := site.Dump()
	for name, headers := range map[string]map[string]string{
		"another site":        {"Sec-Fetch-Site": "cross-site", "Origin": "https://evil.example"},
		"a neighbouring site": {"Sec-Fetch-Site": "same-site", "Origin": "https://evil.yard.example"},
		"an old browser":      {"Origin": "https://evil.example"},
		"a sandboxed frame":   {"Origin": "null"},
	} {
		for header, value := range headers {
			yard.Owner.Header.Set(header, value)
		}
		for _, r := range routeList(t) {
			if r.method != "POST" {
				continue
			}
			page := yard.Owner.Post(fill(param.ReplaceAllStringFunc(r.path, func(p string) string { return ids[strings.Trim(p, "{}")] }), ids), url.Values{"record": {newID()}})
			if page.Status != 403 {
				t.Errorf("POST %s from %s answers %d, want 403", r.path, name, page.Status)
			}
		}
		yard.Owner.Header.Del("Sec-Fetch-Site")
		yard.Owner.Header.Del("Origin")
	}
	if diff := cmp.Diff(before, site.Dump()); diff != "" {
		t.Errorf("a post from another site changed something:\n%s", diff)
	}
	yard.Owner.Header.Set("Sec-Fetch-Site", "same-origin")
	yard.Owner.Send(yard.Owner.Line(yard.Bramble, "RF").With("clear", "1")).Redirects("/round")
}

// A redirect never leaves the site, however the address is dressed up.
func TestNoRedirectLeaves(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	for _, to := range []string{"https://evil.example", "//evil.example", "/\\evil.example", "/\t/evil.example", "/\n/evil.example", "\\/evil.example", "javascript:alert(1)", "", "evil", "/\x00/evil", "/\u0085/evil"} {
		page := yard.Owner.Post("/light", url.Values{"back": {to}}).Is(303)
		if got := page.Header.Get("Location"); got != "/" {
			t.Errorf("back to %q leads to %q", to, got)
		}
		form := site.Nobody().Get("/sign-in?to=" + url.QueryEscape(to)).Form("/sign-in")
		if got := form.Values.Get("to"); got != "/" {
			t.Errorf("signing in to %q leads to %q", to, got)
		}
		got := yard.Owner.Send(yard.Owner.Line(yard.Bramble, "LF").With("clear", "1").With("record", newID()).With("back", to)).Is(303).Header.Get("Location")
		if got != "/" && !strings.HasPrefix(got, "/round?saved=") {
			t.Errorf("a look with back=%q leads to %q", to, got)
		}
	}
}

// A post that is too large is refused with the limit in a sentence.
func TestLargePosts(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	yard.Owner.Post("/events", url.Values{"note": {strings.Repeat("n", 300<<10)}}).Is(413)
	form := yard.Owner.Card(yard.Wound).With("length", "42").With("width", "25").With("exudate", "0")
	yard.Owner.Send(form.WithFile("photo", make([]byte, 22<<20))).Is(413).Says("A photo may have at most 20 MB.")
	yard.Owner.Send(form.WithFile("photo", []byte("GIF89a no photo"))).Is(422)
	if got := count(site, "leg_check"); got != 0 {
		t.Errorf("%d looks were kept with a photo that was refused", got)
	}
}

// The log says what was asked and how it went, and nothing about anybody.
func TestTheLogKnowsNobody(t *testing.T) {
	var log bytes.Buffer
	site := webtest.Start(t, webtest.Options{Log: slog.New(slog.NewJSONHandler(&log, nil))})
	yard, ids := used(t, site)
	yard.Owner.Get("/horse/" + ids["horse"]).Is(200)
	signIn(site.Nobody(), "spy@far.example", "not the password at all").Is(422)
	text := log.String()
	if strings.Count(text, `"route":"/horse/{horse}"`) == 0 {
		t.Errorf("the log does not name the route:\n%s", text)
	}
	for what, word := range map[string]string{
		"a horse": "Bramble", "a person": "Ada", "an address": "marlpit", "a name tried": "spy@", "a session": yard.Owner.Session(), "an id": ids["horse"],
		"an address on the network": "10.0.0.", "a note": "another answer", "a password": "password at all",
	} {
		if strings.Contains(text, word) {
			t.Errorf("the log holds %s: %q", what, word)
		}
	}
}
