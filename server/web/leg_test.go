package web_test

import (
	"strings"
	"testing"

	"leground/server/webtest"
	"leground/tracker"
)

// Every part of every face of every leg leads to the form for something new with that place chosen, and the
// site that is made there is drawn there.
func TestThePlaceOfSomethingNew(t *testing.T) {
	_, owner, horse := wholeYard(t)
	chosen := func(page *webtest.Page, name string) string {
		return page.Form("/sites").Values.Get(name)
	}
	for _, leg := range tracker.Legs() {
		path := horse + "/leg/" + leg.String()
		page := owner.Get(path).Is(200)
		links := 0
		for _, view := range []string{"lateral", "dorsal", "medial", "back"} {
			face := owner.Get(path + "?view=" + view).Is(200)
			for _, a := range face.Root().Classed("ladder")[0].Named("a") {
				links++
				part := owner.Get(strings.TrimSuffix(a.Attr["href"], "#new")).Is(200)
				region := a.Attr["href"][strings.Index(a.Attr["href"], "region=")+len("region="):]
				if got := chosen(part, "region"); got+"#new" != region {
					t.Errorf("%s leads to a form with the part %q", a.Attr["href"], got)
				}
				if got := chosen(part, "aspect"); got != view {
					t.Errorf("%s leads to a form with the side %q", a.Attr["href"], got)
				}
			}
		}
		if links < 28 {
			t.Errorf("%s: %d parts on four faces, want seven or more on each", leg, links)
		}
		page.Silent("RH 1")
	}
	form := owner.Get(horse + "/leg/RH?view=medial&region=fetlock").Form("/sites")
	owner.Send(form.With("kind", "wound").With("length", "41").With("width", "27").WithFile("photo", picture(t, 640, 480))).Redirects(horse)
	owner.Get(horse + "/leg/RH?view=medial").Says("fetlock RH 1")
	owner.Send(owner.Get(horse).Form("/sites").With("kind", "patch").WithFile("photo", picture(t, 640, 480))).Redirects(horse)
	if photos := strings.Count(string(owner.Get(horse).Is(200).Says("41 x 27 mm").Body), "/thumb"); photos != 2 {
		t.Errorf("%d photos of the first looks, want 2", photos)
	}
	owner.Get(horse + "/leg/RH?view=lateral").Silent("fetlock RH 1")
	owner.Get(horse + "/leg/XX").Is(404)
	owner.Get(horse + "/leg/LF?view=nowhere&region=nothing").Is(200).Silent("Something new")
}
