package web_test

import (
	"flag"
	"net/http"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"leground/server/web"
	"leground/server/webtest"
)

var update = flag.Bool("update", false, "write the golden files anew")

// Who may ask for what is a file that is read when it changes.
func TestRoutesAndRoles(t *testing.T) {
	const file = "testdata/routes.txt"
	got := routes(t)
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("the routes or their roles have changed; when that is meant, run go test ./server/web -run RoutesAndRoles -update:\n%s", diff)
	}
}

func routes(t *testing.T) string {
	t.Helper()
	h, err := web.New(nil, web.Settings{})
	if err != nil {
		t.Fatal(err)
	}
	return h.Routes()
}

// asked is one route of the golden file.
type asked struct{ method, path, role string }

func routeList(t *testing.T) []asked {
	t.Helper()
	var out []asked
	for line := range strings.Lines(routes(t)) {
		f := strings.Fields(line)
		out = append(out, asked{f[0], f[1], f[2]})
	}
	if len(out) < 30 {
		t.Fatalf("only %d routes", len(out))
	}
	return out
}

var param = regexp.MustCompile(`\{\w+\}|\*`)

// Each answer carries the same strict headers, whoever asks and however it ends.
func TestEveryAnswerIsStrict(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	want := map[string]string{
		"Content-Security-Policy": "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self' blob:; connect-src 'self'; " +
			"manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'",
		"X-Content-Type-Options": "nosniff",
		"Referrer-Policy":        "same-origin", // over plain http; no-referrer over https
	}
	for _, r := range append(routeList(t), asked{"GET", "/no-such-page", "anybody"}, asked{"DELETE", "/", "anybody"}) {
		for who, p := range map[string]*webtest.Person{"owner": yard.Owner, "carer": yard.Carer, "nobody": site.Nobody()} {
			if r.path == "/sign-out" {
				continue // ends the session that the others need; its answer is checked in the sign-in tests
			}
			req, err := http.NewRequest(r.method, site.URL+param.ReplaceAllString(r.path, "0190f5fe-7c00-7000-8000-000000000000"), nil)
			if err != nil {
				t.Fatal(err)
			}
			page := p.Do(req)
			for name, value := range want {
				if got := page.Header.Get(name); got != value {
					t.Errorf("%s %s as %s: %s is %q, want %q", r.method, r.path, who, name, got, value)
				}
			}
			cache := "no-store"
			if r.path == "/sw.js" || r.path == "/manifest.webmanifest" {
				cache = "no-cache" // browsers fetch them by themselves and ask again each time
			}
			if got := page.Header.Get("Cache-Control"); got != cache {
				t.Errorf("%s %s as %s: Cache-Control is %q, want %s", r.method, r.path, who, got, cache)
			}
			if page.Status >= 500 {
				t.Errorf("%s %s as %s answers %d", r.method, r.path, who, page.Status)
			}
			if page.Status == 200 && strings.HasPrefix(page.Header.Get("Content-Type"), "text/html") {
				noInline(t, page)
			}
		}
	}
}

// noInline fails when a page holds what the policy forbids.
func noInline(t *testing.T, page *webtest.Page) {
	t.Helper()
	for _, e := range page.Root().All(func(*webtest.Node) bool { return true }) {
		for name, value := range e.Attr {
			if name == "style" || strings.HasPrefix(name, "on") || strings.HasPrefix(strings.ToLower(value), "javascript:") {
				t.Errorf("%s: <%s> has %s=%q, which the policy forbids", page.Path, e.Name, name, value)
			}
		}
		if e.Name == "style" || e.Name == "script" && e.Attr["src"] == "" {
			t.Errorf("%s: an inline <%s>", page.Path, e.Name)
		}
	}
}

// A built-in file may be kept for ever, and only under the hash of what it is.
func TestAssets(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	page := site.Nobody().Get("/sign-in")
	found := 0
	for _, e := range page.Root().Named("link") {
		if !strings.HasPrefix(e.Attr["href"], "/static/") {
			continue
		}
		found++
		file := site.Nobody().Get(e.Attr["href"]).Is(200)
		if got := file.Header.Get("Cache-Control"); !strings.Contains(got, "immutable") {
			t.Errorf("%s: Cache-Control is %q", file.Path, got)
		}
		site.Nobody().Get(strings.Replace(e.Attr["href"], "/static/", "/static/0", 1)).Is(404)
	}
	if found < 2 {
		t.Errorf("the page links %d files, want the style sheet and the icon", found)
	}
	site.Nobody().Get("/static/x/../../go.mod").Is(404)
}
