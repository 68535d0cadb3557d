package web_test

import (
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"leground/server/webtest"
	"leground/tracker"
)

// The measures of the made-up yard, as its form takes them.
const measures = "20 mL syringe, 1 mL marks\n1 000 mL jug, 50 mL marks"

// concentrate puts a product, the yard's measures and a bottle of 500 mL read by Ada and Bea into Stores.
func concentrate(y *webtest.Yard, strength string) (product, bottle string) {
	y.Owner.TB.Helper()
	product, bottle = unread(y, strength)
	reads(y.Carer, bottle, strength).Redirects("/stores/bottle/" + bottle)
	return product, bottle
}

// unread is concentrate for a bottle that only Ada has read.
func unread(y *webtest.Yard, strength string) (product, bottle string) {
	y.Owner.TB.Helper()
	form := y.Owner.Get("/stores").Is(200).Form("/stores/products").With("name", "Wash concentrate A").With("of", "chlorhexidine gluconate").
		With("strength", strength).With("in_use_days", "30").With("cautions", "Do not swallow.\nNot for eyes.")
	y.Owner.Send(form).Redirects("/stores/product/")
	product = form.Values.Get("record")
	y.Owner.Send(y.Owner.Get("/stores").Form("/stores/measures").With("devices", measures)).Redirects("/stores")
	return product, comes(y.Owner, product, strength, "500 mL")
}

// comes puts a bottle into Stores and gives its id.
func comes(p *webtest.Person, product, strength, size string) string {
	p.TB.Helper()
	form := p.Get("/stores/product/"+product).Is(200).Form("/stores/bottles").With("strength", strength).With("size", size)
	p.Send(form).Redirects("/stores/bottle/")
	return form.Values.Get("record")
}

// reads types a strength from the label of a bottle.
func reads(p *webtest.Person, bottle, strength string) *webtest.Page {
	p.TB.Helper()
	return p.Send(press(p.Get("/stores/bottle/"+bottle).Is(200), "read").With("strength", strength))
}

// press gives the form of a page that has a button with this act.
func press(page *webtest.Page, kind string) webtest.Form {
	page.TB.Helper()
	for _, f := range page.Forms() {
		if slices.ContainsFunc(f.Node.Named("button"), func(b *webtest.Node) bool { return b.Attr["name"] == "kind" && b.Attr["value"] == kind }) {
			return f.With("kind", kind)
		}
	}
	page.TB.Fatalf("%s has no button %q:\n%s", page.Path, kind, page.Text())
	return webtest.Form{}
}

// works asks for a mix in the first step and gives the page of the second.
func works(p *webtest.Person, bottle, want, volume string, more ...string) *webtest.Page {
	p.TB.Helper()
	form := p.Get("/mix?"+url.Values{"want": {want}, "make": {volume}}.Encode()).Is(200).Form("/mix").With("stock", "bottle:"+bottle).With("says", "bottle:"+bottle)
	for _, field := range more {
		name, value, _ := strings.Cut(field, "=")
		form = form.With(name, value)
	}
	return p.Get("/mix?" + form.Values.Encode())
}

// choiceOf gives the number of the choice of the ten-times check that is an amount, or one fill of it.
func choiceOf(page *webtest.Page, words string) string {
	page.TB.Helper()
	for _, tile := range page.Form("/mix", "shown="+shownIn(page)).Node.Classed("tile") {
		for _, input := range tile.Named("input") {
			if input.Attr["name"] == "choice" && (tile.Text() == words || tile.Text() == "1 fill to the "+words+" mark") {
				return input.Attr["value"]
			}
		}
	}
	page.TB.Fatalf("%s has no choice %q:\n%s", page.Path, words, page.Text())
	return ""
}

func shownIn(page *webtest.Page) string {
	page.TB.Helper()
	for _, f := range page.Forms() {
		if f.Values.Has("shown") {
			return f.Values.Get("shown")
		}
	}
	page.TB.Fatalf("%s has no second step:\n%s", page.Path, page.Text())
	return ""
}

// mixes makes a mix of a 2% bottle with the yard's syringe and gives its id.
func mixes(p *webtest.Person, bottle, want, volume string, more ...string) string {
	p.TB.Helper()
	page := works(p, bottle, want, volume, more...).Is(200)
	form := page.Form("/mix", "shown="+shownIn(page))
	for n := range 3 { // two of the three stop it
		form = form.With("choice", string(rune('0'+n)))
		if answer := p.Send(form); answer.Status == 303 {
			return form.Values.Get("record")
		}
	}
	p.TB.Fatalf("no answer to the ten-times check is right:\n%s", page.Text())
	return ""
}

// washLink is the address that the wash of a plan on the Due list leads to, with a volume chosen. The plan is
// made when there is none.
func washLink(y *webtest.Yard, volume string) string {
	y.Owner.TB.Helper()
	for range 2 {
		for _, a := range y.Owner.Get("/due").Root().Named("a") {
			if strings.HasPrefix(a.Attr["href"], "/mix?") {
				return a.Attr["href"] + "&" + url.Values{"make": {volume}}.Encode()
			}
		}
		setPlan(y, planFor(y))
	}
	y.Owner.TB.Fatal("the Due list leads to no mix")
	return ""
}

// What the plan asks for is looked up: its strength, the most it allows, and that the vet ordered it. What a
// form says of it counts for nothing.
func TestAMixByThePlan(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	product, bottle := concentrate(yard, "2% w/v")
	facts := yard.Owner.Get("/stores/product/"+product).Form("/stores/product/"+product, "name=Wash concentrate A")
	yard.Owner.Send(facts.With("prescription", "1")).Redirects("/stores/product/")
	alone := works(yard.Carer, bottle, "0.05% w/v", "1 L", "horse="+string(yard.Bramble)).Is(200)
	alone.Says("Stop", "This is a prescription medicine. Record the vet's instruction first.", "No plan asks for this: it is what you choose.")
	form := planFor(yard).With("s1_ceiling", "0.06 g per 100 mL")
	setPlan(yard, form)
	link := yard.Carer.Get(washLink(yard, "1 L")).Is(200).Form("/mix")
	link = link.With("says", link.Values.Get("stock"))
	page := yard.Carer.Get("/mix?" + link.Values.Encode()).Is(200).Says("Want 0.05 g per 100 mL of chlorhexidine gluconate (vet plan 14 May, checked by one person only).")
	mixed := page.Form("/mix", "shown="+shownIn(page)).With("choice", choiceOf(page, "1 fill to the 20 mL mark, then 1 fill to the 5 mL mark"))
	yard.Carer.Send(mixed).Is(422).Says("Tick that you have read this: This horse is not declared out of the food chain.") // a prescription medicine, W15
	tick := page.Root().All(func(n *webtest.Node) bool { return n.Attr["name"] == "tick" })[0].Attr["value"]
	yard.Carer.Send(mixed.With("tick", tick)).Redirects("/mix/")
	first := yard.Carer.Get("/mix").Is(200).Says("By a plan, today", "Bramble Wash with chlorhexidine gluconate at 0.05 g per 100 mL", "Hold Wash concentrate A. Does the label say 2 g per 100 mL (2% w/v)?",
		"12.5 mL rounded to 12 mL", "Another mix", "As of 13:00")
	leads := func(a *webtest.Node) bool {
		return strings.HasPrefix(a.Attr["href"], "/mix?") && strings.HasPrefix(a.Text(), "Mix it for Bramble")
	}
	if !slices.ContainsFunc(first.Root().Named("a"), leads) {
		t.Error("the page leads to no planned mix")
	}
	if rows := strings.Join(site.Dump()["mix"], ""); !strings.Contains(rows, "plan="+link.Values.Get("plan")+" ") {
		t.Errorf("the mix does not say which step asked for it: %s", rows)
	}
	yard.Carer.Get("/mix?"+link.With("want", "0.07% w/v").Values.Encode()).Is(200).
		Says("Stop", "The wanted strength is above the most that was recorded: 0.06 g per 100 mL.", "This is a prescription medicine.")
	yard.Carer.Get("/mix?"+link.With("want", "0.04% w/v").With("from", "vet plan 1 Jan").With("plan_want", "0.04% w/v").Values.Encode()).Is(200).
		Says("Stop", "This is a prescription medicine.", "Want 0.04 g per 100 mL of chlorhexidine gluconate (you chose).").Silent("1 Jan")
	other := link.With("horse", string(yard.OldTom))
	yard.Carer.Get("/mix?"+other.Values.Encode()).Is(200).Says("Stop", "No plan asks for this")
	for _, row := range yard.Owner.Get("/horse/" + string(yard.Bramble) + "/plan").Root().Named("a") {
		if strings.HasPrefix(row.Attr["href"], "/plan/") && !strings.HasSuffix(row.Attr["href"], "/change") {
			stop := yard.Owner.Get(row.Attr["href"]).Form(row.Attr["href"] + "/stop")
			yard.Owner.Send(stop.With("why", "the vet said so")).Redirects("/plan/")
			break
		}
	}
	yard.Carer.Get("/mix?"+link.Values.Encode()).Is(200).Says("Stop", "No plan asks for this")
}

// The amounts that a phone keeps are behind a tap that says when they were worked out, on the round and on the mix page:
// nobody reads yesterday's by accident. No script opens them, since they hold nothing that was filled in.
func TestWorkedAmountsSayWhen(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	concentrate(yard, "2% w/v")
	setPlan(yard, planFor(yard))
	for _, path := range []string{"/round", "/mix"} {
		found := 0
		for _, d := range yard.Carer.Get(path).Is(200).Root().Named("details") {
			if !strings.Contains(d.Text(), "Top up with water to the 1 000 mL line.") || len(d.Named("details")) > 1 {
				continue
			}
			found++
			_, open := d.Attr["open"]
			if !strings.HasPrefix(d.Text(), "How to mix it, worked out Thu 14 May, 13:00 It can be read with no signal. Is it more than a day old?") || open || len(d.Named("input")) > 0 {
				t.Errorf("%s: %s", path, d.Text())
			}
		}
		if found != 1 {
			t.Errorf("%s has %d worked amounts", path, found)
		}
	}
}

// A mix by plain forms: asked for, worked out, checked, recorded and labelled.
func TestAMixWithoutScripts(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	concentrate(yard, "2% w/v")
	link := yard.Carer.Get(washLink(yard, "1 L")).Is(200)
	link.Says("A wash that needs no arithmetic: saline from the bottle, as it is.", "The plan asks for 0.05% w/v (vet plan 14 May, checked by one person only).", "Hold Wash concentrate A. Does the label say 2 g per 100 mL (2% w/v)?").Silent("Ten-times check")
	form := link.Form("/mix")
	if got := form.Values["device"]; len(got) != 2 {
		t.Errorf("the yard's measures are not chosen: %v", form.Values)
	}
	yard.Carer.Get("/mix?" + form.Values.Encode()).Is(422).Says("Hold it and read its label first.")
	form = form.With("says", form.Values.Get("stock"))
	page := yard.Carer.Get("/mix?" + form.Values.Encode()).Is(200)
	// The order in which the working stands; the numbers are those of a practitioners' table topic on wound
	// care, 25 mL of 2% made up to 1 L (Table topic 2004, also in the vectors).
	have := page.Text()
	for _, words := range []string{
		"Half-fill the 1", "Add Wash concentrate A: 25", "Top up with boiled and cooled water to the", "Makes 0.05",
		"Have 2", "read by Ada and Bea", "Want 0.05", "vet plan 14 May", "concentrate = want ÷ have × make", "= 0.05 ÷ 2 ×", "25 × 2 ÷", "Agrees.", "None needed",
		"Ten-times check",
	} {
		i := strings.Index(have, words)
		if i < 0 {
			t.Fatalf("%q is missing or out of order:\n%s", words, page.Text())
		}
		have = have[i:]
	}
	mixed := page.Form("/mix", "shown="+shownIn(page))
	yard.Carer.Send(mixed).Is(422).Says("Look at the measure in your hand and say what is in it.")
	yard.Carer.Send(mixed.With("choice", choiceOf(page, "1 fill to the 20 mL mark, then 1 fill to the 5 mL mark"))).Redirects("/mix/")
	label := yard.Carer.Get("/mix/" + mixed.Values.Get("record")).Is(200)
	lines := label.Root().Classed("bottle-label")[0].Text()
	want := "Wash concentrate A 0.05 g per 100 mL of chlorhexidine gluconate Made Thu 14 May 2026, 13:00 by Bea Checked by one person " +
		"From Wash concentrate A, label read by Ada and Bea Throw away after Fri 15 May 2026, 13:00 For Bramble Do not swallow. Not for eyes."
	if lines != want {
		t.Errorf("the label says\n%s\nwant\n%s", lines, want)
	}
	yard.Carer.Get("/stores").Says("Wash concentrate A, 0.05 g per 100 mL of chlorhexidine gluconate, mixed Thu 14 May, 13:00. 1 000 mL left", "475 mL left")
	yard.Carer.Get("/mix").Says("Wash concentrate A, 0.05 g per 100 mL of chlorhexidine gluconate. Mixed Thu 14 May, 13:00")
}

// Each wrong answer to the ten-times check stops the mix, says where the slip would be, is written into the
// yard's book and brings a fresh check; and the right answer is in each of the three places at times.
func TestTenTimesCheck(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	_, bottle := concentrate(yard, "2% w/v")
	seen := map[string]int{}
	wrong := 0
	for range 24 {
		page := works(yard.Carer, bottle, "0.05% w/v", "400 mL").Is(200)
		right := choiceOf(page, "10 mL")
		seen[right]++
		for _, choice := range []string{"0", "1", "2"} {
			if choice == right || wrong > 8 {
				continue
			}
			wrong++
			form := page.Form("/mix", "shown="+shownIn(page))
			again := yard.Carer.Send(form.With("choice", choice)).Is(422).Says("Stop. That is not what goes in.", "times too", "Empty it and start again at the measure.")
			if next := again.Form("/mix", "shown="+shownIn(again)); next.Values.Get("record") == form.Values.Get("record") || next.Values.Has("choice") {
				t.Error("the check is not asked afresh")
			}
		}
	}
	if len(seen) != 3 {
		t.Errorf("the right answer stood at %v only", seen)
	}
	if n := count(site, "mix"); n != 0 {
		t.Errorf("%d mixes were recorded with a wrong answer", n)
	}
	logged := 0
	for _, row := range site.Dump()["audit"] {
		row = strings.ReplaceAll(row, "\u00a0", " ")
		if strings.Contains(row, "action=ten-times check wrong") && (strings.Contains(row, "right is 1 fill to the 10") || strings.Contains(row, "right is 10")) {
			logged++
		}
	}
	if logged != wrong || wrong < 6 {
		t.Errorf("%d of %d wrong answers are in the book", logged, wrong)
	}
	yard.Carer.Get("/stores").Says("500 mL left")
}

// A warning wants its tick, in its own words, before the mix can be recorded.
func TestWarningsWantTicks(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	_, bottle := concentrate(yard, "2% w/v")
	page := works(yard.Carer, bottle, "0.1% w/v", "200 mL", "with=tap water", "bandage=1").Is(200)
	page.Says("Chlorhexidine this strong harms cells in open skin.", "A bandage makes the skin take up more.", "can turn hazy", "Grade A: law, pharmacopoeia or reviewed paper.")
	form := page.Form("/mix", "shown="+shownIn(page))
	form = form.With("choice", choiceOf(page, "10 mL"))
	yard.Carer.Send(form).Is(422).Says("Tick that you have read this: Chlorhexidine this strong")
	var ticks []string
	for _, input := range page.Root().Named("input") {
		if input.Attr["name"] == "tick" {
			ticks = append(ticks, input.Attr["value"])
		}
	}
	if len(ticks) != 3 {
		t.Fatalf("%d warnings, want 3: %q", len(ticks), ticks)
	}
	yard.Carer.Send(form.With("tick", ticks[:2]...)).Is(422)
	yard.Carer.Send(form.With("tick", ticks...).With("shown", "0123456789abcdef")).Is(422).Says("Something has changed since this was worked out.")
	yard.Carer.Send(form.With("tick", ticks...)).Redirects("/mix/")
	yard.Carer.Get("/mix/"+form.Values.Get("record")).Says("Ticked", "W1 Chlorhexidine this strong")
}

// The words of refusals that a page must give, and no way past them.
func TestMixesThatAreStopped(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	_, bottle := concentrate(yard, "2% w/v")
	for _, c := range []struct {
		want, volume string
		more         []string
		status       int
		words        string
	}{
		{"5% w/v", "1 L", nil, 200, "The bottle is weaker than the plan asks for. Nothing you add can make it stronger. Ring whoever set the plan."},
		{"0.05% w/v", "10 mL", nil, 200, "less than the finest mark of your syringe"},
		{"0.05% w/w", "1 L", nil, 200, "The bottle is by volume and the wanted strength by weight."},
		{"0.05% w/v", "1 L", []string{"device=100 mL cylinder, 30 mL marks", "device_other="}, 200, "Use a finer measure or make a larger batch."},
		{"1:40", "1 L", nil, 422, "A colon ratio has two meanings. 1 part made up to 40 makes 0.05 g per 100 mL. 1 part plus 40 makes 0.04878 g per 100 mL."},
		{"0.05", "1 L", nil, 422, "The strength has no unit"},
		{"0.05% w/v", "1.500 L", nil, 422, "Did you mean 1.5 or 1 500?"},
		{"0.05% w/v", "2 cups", nil, 422, "is not an amount we can read. Write it in mL or L"},
		{"0.05% w/v", "1", nil, 422, "The amount has no unit"},
		{"0.05% w/v", "1 L", []string{"device=", "device_other="}, 422, "Choose what you measure the concentrate with"},
		{"0.05% w/v", "1 L", []string{"device=", "device_other=15 mL spoon"}, 200, "A spoon is not a unit"},
		{"", "1 L", nil, 422, "Say the strength that is wanted"},
		{"0.05% w/v", "1 L", []string{"says="}, 422, "Hold it and read its label first."},
	} {
		page := works(yard.Carer, bottle, c.want, c.volume, c.more...).Is(c.status)
		page.Says(c.words).Silent("Mixed. Write the label")
		form := page.Form("/mix").With("record", newID()).With("choice", "0").With("shown", "x")
		form.Action = "/mix"
		yard.Carer.Post("/mix", form.Values).Is(422)
	}
	if n := count(site, "mix"); n != 0 {
		t.Errorf("%d mixes were recorded", n)
	}
}

// What was put on the same place within 24 hours counts until somebody says that it was rinsed off or
// elsewhere. Bleach and acid make chlorine gas (CDC, Morbidity and Mortality Weekly Report, chlorine gas).
func TestWhatWasPutOnBefore(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	_, wash := concentrate(yard, "2% w/v")
	add := func(name, of, strength string) string {
		form := yard.Owner.Get("/stores").Form("/stores/products").With("name", name).With("of", of).With("strength", strength)
		yard.Owner.Send(form).Redirects("/stores/product/")
		bottle := comes(yard.Owner, form.Values.Get("record"), strength, "1 L")
		reads(yard.Carer, bottle, strength).Redirects("/stores/bottle/")
		return bottle
	}
	bleach, vinegar := add("Bleach", "sodium hypochlorite", "5% w/v"), add("Vinegar", "acetic acid", "5% w/v")
	page := works(yard.Carer, bleach, "0.05% w/v", "1 L", "horse="+string(yard.Bramble)).Is(200)
	yard.Carer.Send(page.Form("/mix", "shown="+shownIn(page)).With("choice", choiceOf(page, "10 mL"))).Redirects("/mix/")
	stop := works(yard.Carer, vinegar, "0.5% w/v", "200 mL", "horse="+string(yard.Bramble)).Is(200)
	stop.Says("Stop", "Bleach and an acid make chlorine gas.", "ring your poison centre or emergency number", "Bleach, mixed Thu 14 May, 13:00")
	works(yard.Carer, vinegar, "0.5% w/v", "200 mL", "horse="+string(yard.OldTom)).Is(200).Silent("chlorine gas")
	form := stop.Form("/mix") // the first step, with the question about the last 24 hours
	yard.Carer.Get("/mix?" + form.With("recent").Values.Encode()).Is(200).Silent("chlorine gas").Says("Ten-times check")
	// Another bottle asks the question anew.
	warned := yard.Carer.Get("/mix?" + form.With("recent").With("stock", "bottle:"+wash).With("says", "bottle:"+wash).With("want", "0.05% w/v").With("make", "1 L").Values.Encode())
	warned.Is(200).Says("Chlorhexidine and bleach make a brown sludge")
	site.Clock.Add(25 * time.Hour)
	works(yard.Carer, vinegar, "0.5% w/v", "200 mL", "horse="+string(yard.Bramble)).Is(200).Silent("chlorine gas")
}

// What was put on as it was bought counts like a mix, whether its plan says how much or not: iodine cream ticked this
// morning, then a chlorhexidine wash.
func TestWhatWasPutOnByATick(t *testing.T) {
	for _, amount := range []string{"2 g", ""} {
		t.Run("amount "+amount, func(t *testing.T) { testPutOnByATick(t, amount) })
	}
}

func testPutOnByATick(t *testing.T, amount string) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	_, wash := concentrate(yard, "2% w/v")
	cream := productOf(yard.Carer.Get("/stores/bottle/" + bottleOf(yard, "povidone-iodine", "10% w/w", "cream")))
	setSteps(yard, yard.Bramble, "owner", "leg=LF|RF", "s1_kind=apply", "s1_product="+cream, "s1_amount="+amount, "s1_p1_often=2", "s1_p1_until=vet")
	mixes := func(horse tracker.HorseID) *webtest.Page {
		t.Helper()
		return works(yard.Carer, wash, "0.05% w/v", "1 L", "horse="+string(horse)).Is(200)
	}
	mixes(yard.Bramble).Silent("undo each other")
	for _, leg := range []string{"LF", "RF"} {
		yard.Carer.Send(yard.Carer.Line(yard.Bramble, leg).With("clear", "1").With("care", "applied")).Redirects("/round?saved=")
	}
	page := mixes(yard.Bramble).Says("Chlorhexidine and iodine can undo each other.", "Product of povidone-iodine 10% w/w, put on Thu 14 May, 13:00")
	yard.Carer.Get("/mix?" + page.Form("/mix", "work=1").With("recent").Values.Encode()).Is(200).Silent("undo each other") // it was rinsed off
	mixes(yard.OldTom).Silent("undo each other")
	site.Clock.Add(25 * time.Hour)
	mixes(yard.Bramble).Silent("undo each other")
}

// A mix is a stock of its own: its label strength counts, not the bottle's, the label's parts are refused for
// it, and what is made of it keeps no longer than it does.
func TestMixingFromAMix(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	_, bottle := concentrate(yard, "2% w/v")
	first := mixes(yard.Carer, bottle, "0.5% w/v", "500 mL", "skin=whole")
	site.Clock.Add(5 * time.Hour)
	page := works(yard.Carer, bottle, "0.05% w/v", "200 mL", "stock=mix:"+first, "says=mix:"+first).Is(200)
	page.Says("Have 0.5 g per 100 mL of chlorhexidine gluconate (label of the mix).", "Add Wash concentrate A, mixed 13:00: 20 mL.", "Throw away after Fri 15 May 2026, 13:00: throw-away time of the bottle it was made from")
	form := page.Form("/mix", "shown="+shownIn(page))
	yard.Carer.Send(form.With("choice", choiceOf(page, "20 mL"))).Redirects("/mix/")
	yard.Carer.Get("/mix/" + form.Values.Get("record")).Says("From Wash concentrate A, the mix of Thu 14 May, 13:00")
	yard.Carer.Get("/mix/" + first).Says("used for a mix, 20 mL")
	yard.Carer.Get("/stores").Says("480 mL left")
	works(yard.Carer, bottle, "1 in 40", "100 mL", "stock=mix:"+first, "says=mix:"+first).Is(200).Says("Stop", "This bottle is already diluted. The parts on the label are for the bottle as bought.")
}

// All that is left can be asked for; the bottle is then used up, by the same form.
func TestAllThatIsLeft(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	_, bottle := concentrate(yard, "2% w/v")
	yard.Carer.Send(press(yard.Carer.Get("/stores/bottle/"+bottle), "left").With("amount", "18 mL")).Redirects("/stores/bottle/")
	page := works(yard.Carer, bottle, "0.05% w/v", "1 L", "how=left").Is(200).Says("all of it, 18 mL", "make = 18 × 2 ÷ 0.05 = 720 mL", "left by the book")
	form := page.Form("/mix", "shown="+shownIn(page))
	yard.Carer.Send(form.With("choice", choiceOf(page, "18 mL"))).Redirects("/mix/")
	yard.Carer.Get("/stores/bottle/" + bottle).Says("used up").Silent("Write it down")
	yard.Carer.Get("/mix?stock=bottle:" + bottle).Is(200).Says("It has been used up or thrown away.")
	// What was asked for before it ended is not recorded after it.
	yard.Carer.Send(form.With("record", newID())).Is(422).Says("It has been used up or thrown away.")
}

// A published limit may be chosen in place of 24 hours; without it a mix keeps a day (United States
// Pharmacopeia, sodium hypochlorite topical solution: 7 days).
func TestAPublishedLimitMayBeChosen(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	concentrate(yard, "2% w/v")
	form := yard.Owner.Get("/stores").Form("/stores/products").With("name", "Bleach").With("of", "sodium hypochlorite").With("strength", "5% w/v")
	yard.Owner.Send(form).Redirects("/stores/product/")
	bottle := comes(yard.Owner, form.Values.Get("record"), "5% w/v", "1 L")
	reads(yard.Carer, bottle, "5% w/v").Redirects("/stores/bottle/")
	page := works(yard.Carer, bottle, "0.025% w/v", "2 L").Is(200).Says("7 days, kept so: tight, light-resistant plastic.", "As usual: throw away after Fri 15 May 2026, 13:00")
	mixed := page.Form("/mix", "shown="+shownIn(page)).With("choice", choiceOf(page, "10 mL"))
	yard.Carer.Send(mixed.With("keeps", "United States Pharmacopeia, sodium hypochlorite topical solution")).Redirects("/mix/")
	yard.Carer.Get("/mix/" + mixed.Values.Get("record")).Says("Throw away after Thu 21 May 2026, 13:00")
	page = works(yard.Carer, bottle, "0.025% w/v", "2 L")
	again := page.Form("/mix", "shown="+shownIn(page)).With("choice", choiceOf(page, "10 mL")).With("keeps", "my cousin")
	yard.Carer.Send(again).Redirects("/mix/")
	yard.Carer.Get("/mix/" + again.Values.Get("record")).Says("Throw away after Fri 15 May 2026, 13:00")
}
