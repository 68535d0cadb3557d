package webtest_test

import (
	"strings"
	"testing"

	"leground/server/webtest"
	"leground/tracker/store/storetest/pgtest"
)

// What Fill puts into a database can be looked at through the pages, on both.
func TestFill(t *testing.T) {
	var told []string
	for _, where := range []string{"", pgtest.URL(t)} {
		site := webtest.Start(t, webtest.Options{Where: where})
		filled := site.Fill(2, 50)
		filled.Owner.Get("/").Is(200).Says("Horse 01", "Horse 02", "0 of 12 looks recorded")
		horse := filled.Owner.Get("/horse/"+string(filled.Horses[0])).Is(200).Says("Wash changed", "Wed 13 May, 08:00")
		if n := len(horse.Root().Named("img")); n != 6 { // one a week, in six weeks
			t.Errorf("the horse's page shows %d photos, want 6", n)
		}
		told = append(told, filled.Owner.Get("/horses").Text())
		if n := len(site.Dump()["leg_check"]); n != 2*50*6 {
			t.Errorf("%d looks were filled in, want %d", n, 2*50*6)
		}
	}
	if strings.Join(told[:1], "") != told[1] {
		t.Errorf("the two databases show %q and %q", told[0], told[1])
	}
}
