package web_test

import (
	"strings"
	"testing"

	"leground/server/webtest"
)

// What somebody typed while they had been signed out is not lost: the page says where to sign in and sends it again,
// as the same record. A photo cannot wait there, and that is said.
func TestTypedWhileSignedOut(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	p, said := yard.Carer, `Swollen "below" the <fetlock>.`
	form := p.Get("/round").Form("/round/leg", "leg=RF").With("filling", "1").With("note", said)
	card := p.Get("/round").Form("/round/site").With("note", said).With("length", "40").With("width", "20").With("exudate", "1").WithFile("photo", []byte("a photo"))
	p.Post("/sign-out", nil).Redirects("/sign-in")
	held := p.Send(form).Is(401).Says("You are not signed in any more, so this was not kept.", "What you typed is still on this page.")
	if held = p.Send(held.Form("/round/leg")).Is(401); len(held.Root().All(func(n *webtest.Node) bool { return n.Attr["href"] == "/sign-in" })) != 1 {
		t.Error("there is no way to sign in on the page")
	}
	photo := p.Send(card).Is(401).Says("Only the photo is not: add it afterwards.").Form("/round/site")
	if photo.Enctype != card.Enctype || photo.Values.Get("length") != "40" || photo.Values.Get("record") != card.Values.Get("record") {
		t.Errorf("of a form with a photo %v came back", photo)
	}
	if got := len(site.Dump()["leg_check"]); got != 0 {
		t.Fatalf("%d looks were kept of somebody who is not signed in", got)
	}
	signIn(p, p.Email, webtest.Password).Redirects("/round")
	p.Send(held.Form("/round/leg")).Redirects("/round")
	p.Send(photo).Redirects("/round")
	for _, record := range []string{form.Values.Get("record"), card.Values.Get("record")} {
		if text := p.Get("/check/" + record).Is(200).Text(); !strings.Contains(text, said) {
			t.Errorf("the look was kept without what was typed:\n%s", text)
		}
	}
	long := form.With("note", strings.Repeat("x", 300<<10))
	site.Nobody().Send(long).Is(401).Silent("What you typed is still")
}

// A round without a horse says how to get one, on the first thing that is seen.
func TestRoundWithoutAHorse(t *testing.T) {
	p := webtest.Start(t, webtest.Options{}).OpenYard("Marlpit Yard", "Ada")
	walk := p.Get("/round").Root().ID("walk")
	for _, a := range walk.Named("a") {
		if a.Attr["href"] == "/horses" && a.Text() == "Take in a horse" {
			return
		}
	}
	t.Errorf("the start of an empty round leads to no horse: %s", walk.Text())
}
