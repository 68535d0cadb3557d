package web_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"leground/server/webtest"
	"leground/tracker"
)

// order lists the forms of the round as they stand on the page: "Bramble LF", "Bramble RF 1", ...
func order(page *webtest.Page) []string {
	var out []string
	for _, card := range page.Root().Classed("card") {
		heading := card.Named("h3")[0]
		tag := heading.Classed("tag")[0].Text()
		horse, _, _ := strings.Cut(heading.Classed("spoken")[0].Text(), ",")
		out = append(out, horse+" "+tag)
	}
	return out
}

// The round goes in the yard's walking order, then a horse's own, with an isolated horse last whatever its
// place in the yard; its card says own kit, and a handling warning stands with every horse that has one.
// The default order is the same every time (common practice, no source).
func TestWalkingOrder(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	want := strings.Split("Bramble LF,Bramble RF,Bramble RF 1,Bramble RH,Bramble RH 1,Bramble LH,"+
		"Old Tom LF,Old Tom LF 1,Old Tom RF,Old Tom RH,Old Tom LH,Juniper LF,Juniper RF,Juniper RH,Juniper LH", ",")
	if got := order(yard.Carer.Get("/round")); !slices.Equal(got, want) {
		t.Errorf("the default walk is %v, want %v", got, want)
	}
	yard.Owner.Send(rules(yard).With("order", "LF LH RH RF")).Redirects("/rules")
	bramble := "/horse/" + string(yard.Bramble)
	yard.Owner.Send(yard.Owner.Get(bramble).Form(bramble).With("order", "RF LF LH RH").With("order_reason", "kicks on the right hind").
		With("handling", "Kicks: two people").With("isolated_until", "2026-05-20")).Redirects(bramble)
	want = strings.Split("Old Tom LF,Old Tom LF 1,Old Tom LH,Old Tom RH,Old Tom RF,Juniper LF,Juniper LH,Juniper RH,Juniper RF,"+
		"Bramble RF,Bramble RF 1,Bramble LF,Bramble LH,Bramble RH,Bramble RH 1", ",")
	page := yard.Carer.Get("/round").Says("In isolation until Wed 20 May: own kit, wash hands.", "Kicks: two people")
	if got := order(page); !slices.Equal(got, want) {
		t.Errorf("the walk is %v, want %v", got, want)
	}
	yard.Carer.Get("/").Says("in isolation")
	// On the day after isolation the horse is back in its place.
	site.Clock.Set(webtest.Noon().AddDate(0, 0, 7))
	if got := order(yard.Carer.Get("/round").Silent("own kit")); got[0] != "Bramble RF" {
		t.Errorf("after isolation the walk begins with %s", got[0])
	}
}

// A leg or site that was not looked at is recorded with its reason, counts as recorded, and never as looked.
func TestSkipping(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	yard.Carer.Send(card(yard).With("outcome", "skipped").With("skip", "Would not stand")).Redirects("/round")
	yard.Carer.Send(line(yard).With("outcome", "skipped").With("skip", "No time")).Redirects("/round")
	yard.Carer.Get("/round").Says("Not looked at: Would not stand", "Not looked at: No time")
	yard.Carer.Get("/").Says("2 of 15 looks recorded")
	yard.Carer.Get("/horse/" + string(yard.Bramble)).Says("Not looked at: Would not stand")
	site.Clock.Set(webtest.Noon().AddDate(0, 0, 3))
	yard.Carer.Get("/").Says("RF 1 has not been looked at yet. We cannot say how it is doing.")
}

// A soak is started once for a leg and its start stays on the page until the round ends.
func TestSoakClock(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	soak := yard.Carer.Get("/round").Form("/events", "kind=soak-started", "leg=RH", "horse="+string(yard.Bramble))
	yard.Carer.Send(soak).Redirects("/round")
	yard.Carer.Send(soak).Redirects("/round")
	site.Clock.Add(10 * time.Minute)
	yard.Owner.Get("/round").Says("Soak started 13:00.")
	// A phone whose clock is an hour fast does not start a soak in the future.
	fast := yard.Carer.Get("/round").Form("/events", "kind=soak-started", "leg=LH", "horse="+string(yard.Bramble)).With("at", "2026-05-14T15:10:00+01:00")
	yard.Carer.Send(fast).Redirects("/round")
	yard.Owner.Get("/round").Says("Soak started 13:10.").Silent("Soak started 15:10")
	site.Clock.Set(webtest.Noon().Add(8 * time.Hour))
	yard.Owner.Get("/round").Silent("Soak started")
}

// A newly found site gets the next number of its leg, for life: a closed or joined one never gives its own away.
func TestANewSite(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	second := yard.Carer.Finds(yard.Bramble, "RF", "wound", "fetlock", "lateral")
	page := yard.Carer.Get("/round").Says("right fore, upper cannon, back", "right fore, fetlock, outside")
	if got := order(page); !slices.Contains(got, "Bramble RF 2") {
		t.Errorf("the second site is not RF 2: %v", got)
	}
	bramble := "/horse/" + string(yard.Bramble)
	join := yard.Owner.Get(bramble).Form("/sites/change", "site="+string(second)).With("do", "join").With("into", string(yard.Wound)).With("kind")
	yard.Owner.Send(join).Redirects(bramble)
	yard.Carer.Finds(yard.Bramble, "RF", "patch", "coronet", "back")
	got := order(yard.Carer.Get("/round"))
	if !slices.Contains(got, "Bramble RF 3") || slices.Contains(got, "Bramble RF 2") {
		t.Errorf("after RF 2 joined RF 1 a new site should be RF 3: %v", got)
	}
	yard.Owner.Get(bramble).Says("joined another site")
	// Both kinds keep their history when a site changes kind.
	yard.Carer.Looks(yard.Wound, "42", "25")
	yard.Owner.Send(yard.Owner.Get(bramble).Form("/sites/change", "site="+string(yard.Wound)).With("do", "kind")).Redirects(bramble)
	yard.Owner.Get(bramble).Says("42 x 25 mm", "Active score")
	if !strings.Contains(patchOf(yard, yard.Wound), "Redness") {
		t.Error("after the change the card does not ask for the signs of a patch")
	}
}

func patchOf(yard *webtest.Yard, site tracker.SiteID) string {
	return yard.Carer.Card(site).Node.Text()
}

// A wound is asked for its size once a day at most; a patch for its reach and its chronic signs once a week;
// on that day of the week the last size is hidden until the new one is saved.
func TestWhatACardAsks(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	asks := func(id tracker.SiteID) (size, chronic, last bool) {
		form := yard.Carer.Card(id)
		text := form.Node.Text()
		return strings.Contains(text, "in millimetres"), strings.Contains(text, "Lumps"), form.Values.Get("last_length") != ""
	}
	patch := yard.Carer.Card(yard.Patch).With("length", "80").With("width", "60")
	for _, sign := range tracker.ActiveSigns() {
		patch = patch.With(string(sign), "1")
	}
	yard.Carer.Send(patch).Redirects("/round")
	yard.Carer.Looks(yard.Wound, "42", "25")
	for hour := 8; hour < 24*15; hour += 12 { // from the evening on, each morning and evening
		site.Clock.Set(webtest.Noon().Add(time.Duration(hour) * time.Hour))
		day, morning := (hour+12)/24, (hour+12)%24 < 12
		size, _, last := asks(yard.Wound)
		if size != morning {
			t.Errorf("day %d, morning %v: the wound is asked for its size: %v", day, morning, size)
		}
		weekly := day%7 == 0
		if size && last == weekly {
			t.Errorf("day %d: the last size is shown: %v; it is hidden once a week", day, last)
		}
		reach, chronic, _ := asks(yard.Patch)
		if want := weekly && day > 0 && morning; reach != want {
			t.Errorf("day %d, morning %v: the patch is asked for its reach: %v, want %v", day, morning, reach, want)
		}
		if chronic != weekly {
			t.Errorf("day %d: the patch is asked for its chronic signs: %v, want %v", day, chronic, weekly)
		}
		if size {
			yard.Carer.Looks(yard.Wound, fmt.Sprint(42-day), "25")
		}
		if reach {
			yard.Carer.Send(patch.With("record", newID()).With("round_day").With("slot")).Redirects("/round")
		}
	}
}

// "All the same as last time" takes the scores that the card showed; one that is chosen beside it wins.
func TestAllTheSame(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	first := yard.Carer.Card(yard.Patch).With("size", "could-not")
	for i, sign := range tracker.ActiveSigns() {
		first = first.With(string(sign), fmt.Sprint(i%4))
	}
	yard.Carer.Send(first).Redirects("/round")
	site.Clock.Set(webtest.Noon().AddDate(0, 0, 1))
	second := yard.Carer.Card(yard.Patch).With("size", "could-not").With("same", "1").With("pain", "3")
	yard.Carer.Send(second).Redirects("/round")
	scores := func(record string) string {
		for _, row := range site.Dump()["leg_check"] {
			if strings.Contains(row, "record_id="+record+" ") {
				_, signs, _ := strings.Cut(row, "signs=")
				signs, _, _ = strings.Cut(signs, " ")
				return signs
			}
		}
		return "none"
	}
	if got, want := scores(second.Values.Get("record")), `{"crust":0,"exudate":3,"pain":3,"redness":1,"skin-break":2,"swelling":0}`; got != want {
		t.Errorf("the scores are %s, want %s", got, want)
	}
}

// A danger that is ticked raises its caution at once, with the level, what was seen, the yard's number to
// ring and the sentence that it is no diagnosis; on the Board, on the round and on a page of its own. Ring
// now is always a slab. The levels are the project's reading of published advice on emergencies, one level
// for each danger (package cautions names the sources).
func TestDangerTicks(t *testing.T) {
	const noDiagnosis = "This is not a diagnosis. Only your vet can say what it means."
	for danger, level := range map[tracker.Danger]string{
		tracker.NotBearing: "Ring the vet now", tracker.LameAtWalk: "Ring the vet now", tracker.Bleeding: "Ring the vet now", tracker.StickyFluid: "Ring the vet now",
		tracker.HotSwelling: "Ring the vet now", tracker.DeepOrObject: "Ring the vet now", tracker.SmellHeat: "Ring the vet today", tracker.Maggots: "Ring the vet today",
	} {
		t.Run(string(danger), func(t *testing.T) {
			site := webtest.Start(t, webtest.Options{})
			yard := site.Marl()
			yard.Owner.Get("/").Silent("Ticked")
			patch := yard.Carer.Finds(yard.Junip, "LF", "patch", "pastern", "back")
			yard.Carer.Send(yard.Carer.Card(patch).With("size", "could-not").With("crust", "1").With("danger", string(danger))).Redirects("/round")
			board := yard.Owner.Get("/").Says(level, "Juniper", "Ticked Thu 14 May, 13:00")
			slabs := board.Root().Classed("slab")
			if level == "Ring the vet now" && !strings.Contains(slabs[0].Text(), "Ticked") {
				t.Errorf("ring now is not the first slab on the Board:\n%s", board.Text())
			}
			for _, e := range board.Root().All(func(e *webtest.Node) bool { return strings.HasPrefix(e.Attr["href"], "/caution/") }) {
				slabs = append(slabs, yard.Owner.Get(e.Attr["href"]).Is(200).Root().Classed("slab")...)
			}
			whole := 0
			for _, slab := range slabs {
				text := slab.Text()
				if !strings.HasSuffix(text, noDiagnosis) || len(slab.Classed("ring")) != 1 || slab.Classed("ring")[0].Attr["href"] != "tel:01234000000" {
					t.Errorf("the slab is not whole: %s", text)
				}
				if strings.Contains(text, "Juniper") && strings.Contains(text, "Ticked") && strings.Contains(text, level) {
					whole++
				}
			}
			if whole == 0 {
				t.Errorf("no slab anywhere names what was ticked:\n%s", board.Text())
			}
			yard.Owner.Get("/round").Says(level + ": Ticked")
		})
	}
}

// A look that is taken back after it raised ring now does not end it, since only ringing does; its page says so, so that
// nobody has to write down what is not true.
func TestAMisTapIsSaidOnItsCaution(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	wound := yard.Carer.Card(yard.Small).With("size", "could-not").With("exudate", "0").With("pain", "0").With("danger", string(tracker.NotBearing))
	yard.Carer.Send(wound).Redirects("/round")
	caution := ""
	for _, row := range site.Dump()["caution"] {
		if strings.Contains(row, wound.Values.Get("record")) && strings.Contains(row, "level=ring-now") {
			caution = "/caution/" + anID.FindString(row[strings.Index(row, "caution_id="):])
		}
	}
	yard.Owner.Get(caution).Is(200).Silent("The look that raised this was")
	yard.Carer.Post("/round/undo", webtest.Values("record="+newID(), "of="+wound.Values.Get("record"))).Redirects("/round")
	page := yard.Owner.Get(caution).Says("The look that raised this was taken back by Bea, Thu 14 May, 13:00. Ring all the same and say so: ring now stays until somebody has rung.")
	yard.Owner.Send(page.Form(caution).With("kind", "vet-knows")).Is(422)
	yard.Owner.Get("/").Says("Ring the vet now")
}

// The words to act on stand in the card beside each tick before anything is sent, so that they can appear
// without script or signal, and a danger on a leg line counts as one on a card.
func TestDangerWordsAreInThePage(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	for _, form := range []webtest.Form{card(yard), line(yard)} {
		acts := form.Node.Classed("act")
		if len(acts) == 0 || len(acts) != len(form.Node.Classed("danger")) {
			t.Errorf("%s has %d dangers and %d sets of words to act on", form.Action, len(form.Node.Classed("danger")), len(acts))
		}
		for _, act := range acts {
			if !strings.Contains(act.Text(), "Ring the vet") {
				t.Errorf("%s: the words to act on are %q", form.Action, act.Text())
			}
		}
		if !strings.Contains(form.Node.Text(), "Ring 01234 000000") {
			t.Errorf("%s does not show the number to ring", form.Action)
		}
	}
	yard.Carer.Send(line(yard).With("danger", string(tracker.NotBearing))).Redirects("/round")
	yard.Owner.Get("/").Says("Ring the vet now", "Ticked Thu 14 May, 13:00: will not put weight on the left fore.")
}

// Only "rang" closes ring now; "I will ring at" brings it back at that time; "the vet knows" is not offered
// for it; and when a carer has rung, the owner is told.
func TestActingOnRingNow(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	yard.Carer.Send(yard.Carer.Line(yard.Junip, "LF").With("danger", string(tracker.NotBearing))).Redirects("/round")
	var path string
	for _, row := range site.Dump()["caution"] {
		if strings.Contains(row, "level=ring-now") {
			path = "/caution/" + anID.FindString(row[strings.Index(row, "caution_id="):])
		}
	}
	page := yard.Carer.Get(path).Is(200).Says("What to say", "Juniper", "left fore", "This is not a diagnosis.").Silent("The vet knows already")
	yard.Carer.Send(page.Form(path).With("kind", "vet-knows")).Is(422)
	yard.Carer.Send(page.Form(path).With("kind", "will-ring")).Is(422).Says("Give the time you will ring, like 18:30.")
	told := count(site, "reminder")
	yard.Carer.Send(page.Form(path).With("kind", "will-ring").With("until", "14:30").With("record", newID())).Redirects("/")
	yard.Owner.Get("/").Says("Bea will ring at 14:30.")
	site.Clock.Add(91 * time.Minute)
	yard.Owner.Get("/").Says("Ring the vet now")
	yard.Carer.Send(yard.Carer.Get(path).Form(path).With("kind", "rang")).Redirects("/")
	yard.Owner.Get("/").Says("Rang 14:31, Bea.").Silent("Ring the vet now")
	yard.Owner.Get(path).Says("Bea will ring at 14:30.", "Rang 14:31, Bea.")
	if got := count(site, "reminder"); got == told {
		t.Error("the owner was not told what the carer did about ring now")
	}
}

// A yard without a number to ring is told so on the Board and wherever the number would stand, until it has one.
func TestAYardWithoutANumber(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	yard.Owner.Send(rules(yard).With("ring_number", "")).Redirects("/rules")
	const none = "This yard has no number to ring."
	yard.Owner.Get("/").Says(none, "Add the number")
	yard.Carer.Get("/").Says(none, "Ask the owner to add it under Yard rules.").Silent("Add the number")
	yard.Carer.Looks(yard.Small, "20", "10", "danger="+string(tracker.NotBearing))
	for _, slab := range yard.Carer.Get("/").Root().Classed("slab") {
		if !strings.Contains(slab.Text(), "This yard has no number to ring yet.") {
			t.Errorf("a slab does not say that there is no number: %s", slab.Text())
		}
	}
	yard.Carer.Get("/round").Says("This yard has no number to ring yet.")
	yard.Owner.Send(rules(yard).With("ring_number", "01234 000000")).Redirects("/rules")
	yard.Owner.Get("/").Silent(none)
}

// A photo goes in through the card's own form and is upright, small and without a place in it; its page and
// thumbnail are the yard's alone.
func TestPhotoThroughTheForm(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	form := card(yard).With("length", "42").With("width", "25").With("exudate", "0").WithFile("photo", sideways(t))
	yard.Carer.Send(form).Redirects("/round")
	page := yard.Owner.Get("/round")
	images := page.Root().Named("img")
	if len(images) != 1 || images[0].Attr["width"] == "" || images[0].Attr["height"] == "" || images[0].Attr["alt"] == "" {
		t.Fatalf("the round shows %d pictures with width, height and words", len(images))
	}
	thumb := images[0].Attr["src"]
	full := yard.Owner.Get(strings.TrimSuffix(thumb, "/thumb")).Is(200)
	upright(t, full.Body, 1600)
	upright(t, yard.Owner.Get(thumb).Is(200).Body, 0)
	if len(full.Body) > 350<<10 {
		t.Errorf("the photo has %d bytes, more than 350 KiB", len(full.Body))
	}
	if got := full.Header.Get("Content-Type"); got != "image/jpeg" {
		t.Errorf("the photo is sent as %q", got)
	}
	site.Nobody().Get(thumb).Redirects("/sign-in")
	yard.Owner.Get("/horse/" + string(yard.Bramble)).Says("42 x 25 mm")
}

// A length under half or over double last time's is asked about with scripts off too: the card comes back as it
// was sent, with a tick that goes for these lengths alone.
func TestATenfoldSlipIsAskedAbout(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	yard.Carer.Looks(yard.Wound, "24", "18")
	site.Clock.Set(webtest.Noon().Add(20 * time.Hour))
	slip := yard.Carer.Card(yard.Wound).With("length", "240").With("width", "180").With("exudate", "2").With("pain", "1").With("note", "Stood well")
	back := yard.Carer.Send(slip).Is(422).Says("Last time 24 mm, now 240 mm. Is 240 right?", "Last time 18 mm, now 180 mm. Is 180 right?", "Yes, 240 x 180 mm is right")
	again := back.Form("/round/site")
	for name, want := range map[string]string{"length": "240", "width": "180", "exudate": "2", "pain": "1", "note": "Stood well", "record": slip.Values.Get("record"), "sure": ""} {
		if got := again.Values.Get(name); got != want {
			t.Errorf("%s came back as %q, want %q", name, got, want)
		}
	}
	yard.Owner.Get("/horse/" + string(yard.Bramble)).Silent("240 x 180 mm")
	ticked := again.With("sure", "240 x 180 mm")
	yard.Carer.Send(ticked.With("length", "250")).Is(422).Says("Yes, 250 x 180 mm is right")
	page := yard.Carer.Send(ticked.With("exudate").With("pain")).Is(422).Silent("Is 240 right?")
	if got := page.Form("/round/site").Values.Get("sure"); got != "240 x 180 mm" {
		t.Errorf("beside another mistake the tick came back as %q", got)
	}
	yard.Carer.Send(ticked).Redirects("/round?saved=")
	yard.Owner.Get("/horse/" + string(yard.Bramble)).Says("240 x 180 mm")
}

// Neither half nor double is asked about, nor a card with its lengths the other way round.
func TestAnOrdinaryChangeIsNotAskedAbout(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	yard.Carer.Looks(yard.Wound, "24", "10")
	for day, size := range [][2]string{{"48", "20"}, {"24", "10"}, {"10", "24"}, {"12", "5"}} {
		site.Clock.Set(webtest.Noon().Add(time.Duration(20+24*day) * time.Hour))
		yard.Carer.Looks(yard.Wound, size[0], size[1])
	}
}

// A slip in a post of the queue is kept at once, and one about a site that has left the round since the page was
// opened: nobody can be asked, and nothing seen may be lost.
func TestASlipThatCannotBeAskedAboutIsKept(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	yard.Carer.Looks(yard.Wound, "24", "18")
	site.Clock.Set(webtest.Noon().Add(20 * time.Hour))
	slip := yard.Carer.Card(yard.Wound).With("length", "240").With("width", "180").With("exudate", "0").With("pain", "0")
	yard.Carer.Header = http.Header{"Accept": {"application/json"}}
	yard.Carer.Send(slip.With("record", newID())).Is(200).Says(`"state":"kept"`)
	yard.Carer.Header = nil
	other := yard.Carer.Finds(yard.Bramble, "RF", "wound", "fetlock", "lateral")
	bramble := "/horse/" + string(yard.Bramble)
	join := yard.Owner.Get(bramble).Form("/sites/change", "site="+string(yard.Wound)).With("do", "join").With("into", string(other)).With("kind")
	yard.Owner.Send(join).Redirects(bramble)
	yard.Carer.Send(slip).Redirects("/round?saved=")
}

// A label some days old says its day in the round, on the round on paper and on the horse's page.
func TestAnOldLabelSaysItsDay(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	yard.Carer.Looks(yard.Wound, "24", "18")
	pages := []string{"/round", "/round/paper", "/horse/" + string(yard.Bramble)}
	for _, path := range pages {
		yard.Carer.Get(path).Silent("as of")
	}
	site.Clock.Set(webtest.Noon().Add(4 * 24 * time.Hour))
	for _, path := range pages {
		yard.Carer.Get(path).Says("too early to say, as of Thu 14 May")
	}
}
