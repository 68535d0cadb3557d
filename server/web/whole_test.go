package web_test

import (
	"net/http"
	"strings"
	"testing"

	"leground/server/webtest"
	"leground/tracker"
	"leground/tracker/care"
)

// wholeYard is a yard with a number to ring and one horse.
func wholeYard(t *testing.T) (*webtest.Site, *webtest.Person, string) {
	t.Helper()
	site := webtest.Start(t, webtest.Options{Now: webtest.Noon().AddDate(0, 0, -40)})
	owner := site.OpenYard("Marlpit Yard", "Ada")
	return site, owner, "/horse/" + string(owner.TakesIn("Bramble"))
}

// The bands are those of tracker/cautions, whose sources stand beside each rule there: what is held here is
// that a person can enter each of them and that each comes out as its caution.
func TestALookAtTheWholeHorse(t *testing.T) {
	for _, c := range []struct {
		fields map[string]string
		says   string // on the Board; empty: no caution
	}{
		{map[string]string{"temperature": "38,1", "pulse": "36", "gums": "pink", "refill": "1.5"}, ""},
		{map[string]string{"temperature": "39.3"}, "Ring the vet now"},
		{map[string]string{"temperature": "38.7"}, "Ring the vet today"},
		{map[string]string{"pulse": "64"}, "Ring the vet now"},
		{map[string]string{"refill": "2.5"}, "Ring the vet today"},
		{map[string]string{"gums": "brick red"}, "Ring the vet now"},
		{map[string]string{"no_gut_sounds": "1"}, "Ring the vet now"},
		{map[string]string{"laboured": "1"}, "Ring the vet now"},
		{map[string]string{"flag": "weak"}, "weak, wobbly, down or seizing"},
		{map[string]string{"flag": "foot-sore"}, "leans back, shifts weight"},
		{map[string]string{"flag": "white-skin"}, "Ring the vet today"},
		{map[string]string{"condition": "2,5"}, "Condition score 2.5 of 9"},
		{map[string]string{"condition": "3"}, "What the horse was fed before is not known"},
		{map[string]string{"condition": "3", "flag": "feed-known"}, ""},
	} {
		_, owner, horse := wholeYard(t)
		form := owner.Get(horse + "/look").Form(horse + "/look")
		for name, value := range c.fields {
			form = form.With(name, value)
		}
		owner.Send(form).Redirects(horse)
		board := owner.Get("/")
		if c.says != "" {
			board.Says(c.says)
		} else {
			board.Silent("Ring the vet", "next visit")
		}
	}
}

// A leg is compared with itself over four weeks, condition too: the looks that count are weeks old.
func TestSlowChangesOfAHorse(t *testing.T) {
	site, owner, horse := wholeYard(t)
	for _, fields := range []map[string]string{{"girth.RH": "280", "condition": "4", "weight": "712"}, {"girth.RH": "291", "condition": "4"}} {
		form := owner.Get(horse + "/look").Form(horse + "/look")
		for name, value := range fields {
			form = form.With(name, value)
		}
		owner.Send(form).Redirects(horse)
		site.Clock.Set(site.Clock.Now().AddDate(0, 0, 28))
	}
	site.Clock.Set(site.Clock.Now().AddDate(0, 0, -28))
	owner.Get(horse).Says("right hind was 280 mm round", "291 mm on", "Condition score 4 on", "712 kg", "right hind 291 mm round")
}

// What cannot be right is said beside its field, and what was typed stays.
func TestAWholeHorseThatCannotBe(t *testing.T) {
	_, owner, horse := wholeYard(t)
	for name, c := range map[string]struct{ typed, says string }{
		"temperature": {"378", "The temperature must be from 34 to 43"},
		"pulse":       {"3x", "The pulse must be a whole number"},
		"refill":      {"1.55", "takes at most one decimal"},
		"condition":   {"3.3", "takes half points"},
		"weight":      {"7", "must be from 20 to 1 500 kg"},
		"girth.LF":    {"2", "must be from 50 to 900 mm"},
		"gums":        {"green", "Choose one of the answers"},
		"":            {"", "Nothing is filled in"},
	} {
		form := owner.Get(horse+"/look").Form(horse+"/look").With("breaths", "12")
		if name == "" {
			form = form.With("breaths", "")
		} else {
			form = form.With(name, c.typed)
		}
		page := owner.Send(form).Is(http.StatusUnprocessableEntity).Says(c.says)
		if name != "" && name != "gums" && (!strings.Contains(string(page.Body), `value="`+c.typed+`"`) || !strings.Contains(string(page.Body), `value="12"`)) {
			t.Errorf("%s: what was typed is gone", name)
		}
	}
}

// A correction keeps the old look; a look that was taken back calls for nobody.
func TestPuttingAWholeHorseRight(t *testing.T) {
	site, owner, horse := wholeYard(t)
	owner.Send(owner.Get(horse+"/look").Form(horse+"/look").With("temperature", "37.8").With("pulse", "40")).Redirects(horse)
	actor, err := site.Care.Actor(t.Context(), owner.Session())
	no(t, err)
	var id tracker.RecordID
	no(t, site.Store().Read(t.Context(), actor.Yard, func(tx care.Tx) error {
		looks, err := tx.Checks(care.CheckQuery{Whole: true})
		if len(looks) != 1 {
			t.Fatalf("%d looks at the whole horse, want 1", len(looks))
		}
		id = looks[0].ID
		if looks[0].Slot != "" {
			t.Errorf("a look at the whole horse counts for the %s round", looks[0].Slot)
		}
		return err
	}))
	page := owner.Get("/check/" + string(id)).Says("37.8 °C. Pulse 40 a minute.")
	form := page.Form(horse + "/look")
	if form.Values.Get("temperature") != "37.8" || form.Values.Get("pulse") != "40" {
		t.Errorf("the form to put it right starts with %v", form.Values)
	}
	owner.Send(form.With("temperature", "38.7"))
	owner.Get("/check/"+string(id)).Says("37.8 °C", "38.7 °C")
	owner.Get("/").Says("Ring the vet today")
	owner.Get(horse).Says("(version 2)")
}

// A traced outline is a series of its own: the area is what was traced, the oval is not drawn on with it, and a
// bed that stands above the skin calls for the vet by its height alone.
func TestATracedOutline(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	owner := site.OpenYard("Marlpit Yard", "Ada")
	horse := "/horse/" + string(owner.TakesIn("Bramble"))
	owner.Send(owner.Get(horse+"/leg/RH?view=medial&region=fetlock").Form("/sites").With("kind", "wound"))
	card := func() webtest.Form { return owner.Get("/round").Form("/round/site") }
	filled := card().With("length", "40").With("width", "20").With("exudate", "0").With("pain", "0")
	for _, c := range []struct{ name, value, says string }{
		{"area", "62.5", "cannot be more than the longest way times the width"}, // 6.25 with the mark in the wrong place
		{"area", "6.2555", "at most two decimals"},
		{"depth", "900", "The depth must be"},
		{"bed_above", "200", "must be from 1 to 100 mm"},
	} {
		owner.Send(filled.With(c.name, c.value)).Is(http.StatusUnprocessableEntity).Says(c.says)
	}
	owner.Send(filled.With("size", "hair").With("length", "").With("width", "").With("area", "6.25")).Is(http.StatusUnprocessableEntity).Says("Give the longest way")
	owner.Send(filled).Redirects("/round")
	site.Clock.Set(site.Clock.Now().AddDate(0, 0, 1))
	owner.Send(card().With("length", "40").With("width", "20").With("exudate", "0").With("pain", "0").With("area", "5.5").With("depth", "4").With("bed_above", "3")).Redirects("/round")
	// An oval of 40 by 20 mm has pi/4 x 4 x 2 = 6.28 cm2.
	owner.Get(horse).Says("6.3 cm², give or take", "5.5 cm², give or take", "Outline traced. 4 mm deep.", "3 mm above the skin")
	owner.Get("/").Says("above the skin")
}

// A weight with a figure missing is asked about, and kept once somebody says that it is right.
func TestAWeightThatSlippedIsAskedAbout(t *testing.T) {
	_, owner, horse := wholeYard(t)
	path := horse + "/look"
	owner.Send(owner.Get(path).Form(path).With("weight", "740")).Redirects(horse)
	page := owner.Send(owner.Get(path).Form(path).With("weight", "74").With("pulse", "36")).Is(422).Says("Last time 740 kg, now 74 kg. Is 74 right?", "Yes, 74 kg is right")
	again := page.Form(path)
	if again.Values.Get("pulse") != "36" || again.Values.Get("weight") != "74" {
		t.Errorf("what was typed is gone: %v", again.Values)
	}
	owner.Send(again.With("weight", "73").With("sure", "74 kg")).Is(422).Says("Is 73 right?")
	owner.Send(again.With("sure", "74 kg")).Redirects(horse)
	owner.Send(owner.Get(path).Form(path).With("weight", "700")).Is(422).Says("Last time 74 kg, now 700 kg.")
}
