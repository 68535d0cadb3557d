package web_test

import (
	"strings"
	"testing"

	"leground/server/webtest"
)

// The Board says of each of two looks that differ what it found, and leads to each, where it can be put right or taken
// back; then the note is gone.
func TestTwoLooksOnTheBoard(t *testing.T) {
	yard := webtest.Start(t, webtest.Options{}).Marl()
	const note = "was looked at more than once in this round."
	card := func(p *webtest.Person) webtest.Form {
		return p.Get("/round").Form("/round/site", "site="+string(yard.Wound)).With("length", "40").With("width", "20").With("exudate", "1").With("pain", "1")
	}
	mine, hers := card(yard.Owner), card(yard.Carer)
	yard.Owner.Send(mine).Redirects("/round")
	yard.Carer.Send(hers).Redirects("/round")
	yard.Owner.Get("/").Silent(note)
	other := hers.With("record", newID()).With("length", "").With("width", "").With("size", "could-not")
	yard.Carer.Send(other).Redirects("/round")
	board := yard.Owner.Get("/").Says(note, "Ada: 40 x 20 mm.", "Bea: could not measure.")
	var to []string
	for _, a := range board.Root().Named("a") {
		if strings.HasPrefix(a.Attr["href"], "/check/") {
			to = append(to, a.Attr["href"])
		}
	}
	if len(to) != 3 {
		t.Fatalf("the note leads to %v, want the three looks", to)
	}
	look := yard.Carer.Get("/check/" + other.Values.Get("record")).Form("/round/undo")
	yard.Carer.Send(look).Redirects("/check/")
	yard.Owner.Get("/").Silent(note)
}
