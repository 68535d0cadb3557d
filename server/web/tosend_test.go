package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"leground/server/webtest"
)

// A link that somebody sends on is shown whole: with the address that the settings give, or with the one that their own
// browser has just used; and when that opens on one machine only, the page says so.
func TestLinksAreShownWhole(t *testing.T) {
	const only = "It opens on this machine only."
	for _, c := range []struct{ base, host, origin, want string }{
		{"http://yard.example", "", "", "http://yard.example"},
		{"http://0.0.0.0:8400", "192.168.1.20:8400", "", "http://192.168.1.20:8400"},
		{"", "legs.example", "https://legs.example", "https://legs.example"},
		{"", "legs.example", "null", "http://legs.example"},
		{"http://127.0.0.1:8400", "", "", "http://127.0.0.1:"},
	} {
		site := webtest.Start(t, webtest.Options{Base: c.base})
		yard := site.Marl()
		for _, action := range []string{"/people/invite", "/horse/" + string(yard.Bramble) + "/vet/link", "/reminders/calendar"} {
			req, err := http.NewRequest(http.MethodPost, site.URL+action, strings.NewReader(url.Values{"role": {"carer"}}.Encode()))
			if err != nil {
				t.Fatal(err)
			}
			req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			for _, cookie := range yard.Owner.Client.Jar.Cookies(req.URL) {
				if c.host != "" { // the jar gives none for another name of the same site
					req.AddCookie(cookie)
				}
			}
			if req.Host = c.host; c.origin != "" {
				req.Header.Set("Origin", c.origin)
				req.Header.Set("Sec-Fetch-Site", "same-origin")
			}
			page := yard.Owner.Do(req).Is(200)
			if got := page.Root().Named("code")[0].Text(); !strings.HasPrefix(got, c.want) {
				t.Errorf("with base %q and host %q %s shows %q, want %s...", c.base, c.host, action, got, c.want)
			}
			if said := strings.Contains(page.Text(), only); said != strings.HasPrefix(c.want, "http://127.") {
				t.Errorf("with base %q and host %q %s says %t that it opens here only", c.base, c.host, action, said)
			}
		}
	}
}
