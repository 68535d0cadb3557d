package web_test

import (
	"strings"
	"testing"

	"leground/server/webtest"
)

// Nobody is out of the yard by one slip of a finger: what it does is said first, and the button names the person.
func TestTakingSomebodyOut(t *testing.T) {
	yard := webtest.Start(t, webtest.Options{}).Marl()
	page := yard.Owner.Get("/people").Says("Bea is signed out everywhere", "What Bea recorded stays.")
	var folded []string
	for _, d := range page.Root().Named("details") {
		for _, b := range d.Named("button") {
			folded = append(folded, b.Text())
		}
	}
	if got := strings.Join(folded, ", "); got != "Take Bea out of the yard" {
		t.Errorf("folded away is %q", got)
	}
	yard.Carer.Get("/people").Silent("Take Bea out")
}
