package web_test

import (
	"net/http"
	"strings"
	"testing"

	"leground/server/webtest"
	"leground/testdata/seed"
)

// A first visit to the round of three horses with eight sites, without photos, fetches 100 KiB at most over
// the wire, of which the scripts that the round needs are 10 KiB at most for the round's own; nothing comes
// from another host, and a second visit fetches the page alone.
func TestBytesOfARound(t *testing.T) {
	site := webtest.Start(t, webtest.Options{Seed: seed.Marlpit})
	owner := site.Seeded()
	wire := func(path string) (int, *webtest.Page) {
		req, err := http.NewRequest(http.MethodGet, site.URL+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Accept-Encoding", "gzip") // set by hand, so that the client does not unpack it
		page := owner.Do(req).Is(200)
		return len(page.Body), page
	}
	page := owner.Get("/round")
	html, packed := wire("/round")
	if got := packed.Header.Get("Content-Encoding"); got != "gzip" {
		t.Fatalf("the round comes as %q", got)
	}
	total, scripts, round, styles := html, 0, 0, 0
	for _, e := range page.Root().All(func(e *webtest.Node) bool { return e.Name == "script" || e.Name == "link" }) {
		path := e.Attr["src"] + e.Attr["href"]
		if strings.Contains(path, "://") {
			t.Errorf("the round fetches %s", path)
			continue
		}
		if e.Attr["rel"] == "apple-touch-icon" {
			continue // fetched when it is put on a home screen
		}
		n, _ := wire(path)
		total += n
		switch {
		case strings.HasSuffix(path, "round.js"):
			round = n
			scripts += n
		case e.Name == "script":
			scripts += n
		case strings.HasSuffix(path, ".css"):
			styles = n
		}
	}
	t.Logf("page %d, style %d, scripts %d (round.js %d), in all %d bytes over the wire", html, styles, scripts, round, total)
	for what, c := range map[string]struct{ got, most int }{
		"all": {total, 100 << 10}, "round.js": {round, 10 << 10}, "the scripts": {scripts, 35 << 10}, "the style sheet": {styles, 20 << 10}, "the page": {html, 25 << 10},
	} {
		if c.got == 0 || c.got > c.most {
			t.Errorf("%s: %d bytes, at most %d", what, c.got, c.most)
		}
	}
	for _, e := range page.Root().All(func(e *webtest.Node) bool { return strings.HasPrefix(e.Attr["src"]+e.Attr["href"], "/static/") }) {
		if got := owner.Get(e.Attr["src"] + e.Attr["href"]).Header.Get("Cache-Control"); !strings.Contains(got, "immutable") {
			t.Errorf("%s is fetched again at each visit: %q", e.Attr["src"]+e.Attr["href"], got)
		}
	}
}
