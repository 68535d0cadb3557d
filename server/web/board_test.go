package web_test

import (
	"testing"

	"leground/server/webtest"
	"leground/tracker"
)

// A horse that is away keeps its name in its own cautions, with where it is, and its place on the vet's list.
func TestCautionsOfAHorseThatIsAway(t *testing.T) {
	yard := webtest.Start(t, webtest.Options{}).Marl()
	yard.Carer.Send(yard.Carer.Line(yard.Junip, "LF").With("danger", string(tracker.NotBearing))).Redirects("/round")
	yard.Owner.Get("/").Says("Juniper. ")
	yard.Owner.Send(yard.Owner.Get("/due").Form("/away").With("horse", string(yard.Junip)).With("from", "2026-05-14")).Redirects("/due")
	yard.Owner.Get("/").Says("Juniper (away). ")
	yard.Owner.Get("/vet").Says("Juniper")
	path := "/horse/" + string(yard.Junip)
	yard.Owner.Send(yard.Owner.Get(path).Form(path).With("place", "clinic")).Redirects(path)
	yard.Owner.Get("/").Says("Juniper (at the clinic). ")
	yard.Owner.Get("/vet").Says("Juniper")
}

// A wound by a joint is ring now when it is found, with a size or without, and not once more at its first look.
func TestAWoundByAJointIsFound(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	found := yard.Carer.Finds(yard.Junip, "RH", "wound", "pastern-fold", "plantar")
	yard.Owner.Get("/").Says("Ring the vet now", "A wound by a joint or tendon sheath, first seen Thu 14 May")
	before := count(site, "caution")
	yard.Carer.Looks(found, "15", "10")
	if now := count(site, "caution"); now != before {
		t.Errorf("the first look raised %d cautions more", now-before)
	}
}

// Dates that may lie years back are shown with their year.
func TestDatesOfAHorseHaveTheirYear(t *testing.T) {
	yard := webtest.Start(t, webtest.Options{}).Marl()
	path := "/horse/" + string(yard.Bramble)
	yard.Carer.Send(yard.Carer.Get(path).Form(path).With("arrived", "2025-11-02").With("tetanus", "2023-03-01")).Redirects(path)
	yard.Carer.Get(path).Says("came Sun 2 Nov 2025", "last dose Wed 1 Mar 2023")
}
