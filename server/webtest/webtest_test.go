package webtest_test

import (
	"testing"

	"leground/server/webtest"
	"leground/tracker/store/storetest/pgtest"
)

// A yard can be made and looked at on both databases, through the pages alone.
func TestAYardOnBothDatabases(t *testing.T) {
	for name, where := range map[string]func(testing.TB) string{
		"SQLite": func(testing.TB) string { return "" }, "PostgreSQL": pgtest.URL,
	} {
		t.Run(name, func(t *testing.T) {
			site := webtest.Start(t, webtest.Options{Where: where(t)})
			yard := site.Marl()
			yard.Carer.Get("/").Is(200).Says("Bramble", "Old Tom", "Juniper", "0 of 15 looks recorded")
			yard.Carer.Looks(yard.Wound, "42", "25")
			yard.Owner.Get("/").Says("1 of 15 looks recorded")
			yard.Owner.Get("/horse/"+string(yard.Bramble)).Is(200).Says("42 x 25 mm", "Bea")
			site.Nobody().Get("/").Redirects("/sign-in?to=%2F")
			other := site.OpenYard("Other Yard", "Cy")
			other.Get("/").Silent("Bramble", "Juniper")
			other.Get("/horse/" + string(yard.Bramble)).Is(404)
		})
	}
}

// The browser shows the same pages.
func TestChromium(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	tab := webtest.StartChromium(t).Tab(t, site, 360, 740)
	tab.SignIn(yard.Owner)
	tab.Light("lantern")
	tab.Open("/")
	if got := webtest.Eval[string](tab, `document.documentElement.dataset.light`); got != "lantern" {
		t.Errorf("light is %q, want lantern", got)
	}
	tab.Scripts(false)
	tab.Click(`a.main-bar[href="/round"]`)
	if got := webtest.Eval[int](tab, `document.querySelectorAll("form[action='/round/site']").length`); got != 3 {
		t.Errorf("the round shows %d site cards, want 3", got)
	}
	tab.Shot("round-lantern-360")
}
