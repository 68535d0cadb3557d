package web_test

import (
	"strings"
	"testing"
	"time"

	"leground/server/webtest"
	"leground/testdata/seed"
)

// Nobody is out of the yard by one slip of a finger: what it does is said first, and the button names the person.
func TestTakingSomebodyOut(t *testing.T) {
	yard := webtest.Start(t, webtest.Options{}).Marl()
	page := yard.Owner.Get("/people").Says("Whoever is taken out is signed out everywhere")
	var folded []string
	for _, d := range page.Root().Named("details") {
		for _, b := range d.Named("button") {
			folded = append(folded, b.Text())
		}
	}
	if got := strings.Join(folded, ", "); got != "Take Bea out" {
		t.Errorf("folded away is %q", got)
	}
	yard.Carer.Get("/people").Silent("Take somebody out")
}

// Every page that More leads to from a phone can be reached from a desk too, where the list at the side takes the place
// of the bar: by itself or through More. The sheet to print is one step away.
func TestTheListAtTheSide(t *testing.T) {
	yard := webtest.Start(t, webtest.Options{}).Marl()
	beside := map[string]bool{}
	for _, nav := range yard.Owner.Get("/").Root().Classed("column") {
		for _, a := range nav.Named("a") {
			beside[a.Attr["href"]] = true
		}
	}
	for _, path := range []string{"/more", "/round/paper"} {
		if !beside[path] {
			t.Errorf("the list at the side has no %s, only %v", path, beside)
		}
	}
	yard.Owner.Get("/more").Says("Saved on this phone", "Round sheet to print")
}

// The link that signs in to the made-up yard is no invitation, and two phones of one kind are told apart by when they
// signed in and were last used.
func TestDevicesInPlainWords(t *testing.T) {
	site := webtest.Start(t, webtest.Options{Seed: seed.Marlpit})
	owner := site.Seeded()
	yard := site.OpenYard("Other Yard", "Eve")
	for range 2 {
		site.Clock.Add(time.Minute)
		phone := site.Nobody()
		phone.Header.Set("User-Agent", "Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/131.0.0.0 Mobile Safari/537.36")
		signIn(phone, yard.Email, webtest.Password).Redirects("/round")
	}
	yard.Get("/people").Silent("Mozilla").Says("Chrome on Android, signed in Thu 14 May, 13:01, last used", "Chrome on Android, signed in Thu 14 May, 13:02, last used")
	owner.Get("/people").Silent("Invitations that still work", "no name")
}
