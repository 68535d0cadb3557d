package web_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"leground/server/webtest"
	"leground/tracker"
	"leground/tracker/care"
)

// linkFor makes a link to a horse's sheet as its owner does, with every photo that is offered, and gives its path.
func linkFor(t *testing.T, owner *webtest.Person, horse tracker.HorseID, ask string) string {
	t.Helper()
	path := "/horse/" + string(horse) + "/vet"
	page := owner.Get(path)
	form := webtest.Form{Action: path + "/link", Values: webtest.Values("ask=" + ask)}
	for _, e := range page.Root().Named("input") {
		if e.Attr["name"] == "photo" && len(form.Values["photo"]) < 4 {
			form.Values.Add("photo", e.Attr["value"])
		}
	}
	made := owner.Send(form).Is(200).Says("The link is made.")
	return made.Link()
}

// outside holds what each answer to somebody without an account must have: nothing is kept in the browser, found by
// a search engine or run, and nothing leads into the yard.
func outside(t *testing.T, page *webtest.Page) {
	t.Helper()
	if got := page.Header.Values("Set-Cookie"); len(got) > 0 {
		t.Errorf("%s sets a cookie: %q", page.Path, got)
	}
	if got := page.Header.Get("X-Robots-Tag"); !strings.Contains(got, "noindex") {
		t.Errorf("%s: X-Robots-Tag is %q", page.Path, got)
	}
	if got := page.Header.Get("Cache-Control"); got != "no-store" {
		t.Errorf("%s: Cache-Control is %q", page.Path, got)
	}
	if !strings.HasPrefix(page.Header.Get("Content-Type"), "text/html") {
		return
	}
	if page.Status == 200 && len(page.Root().All(func(e *webtest.Node) bool {
		return e.Name == "meta" && e.Attr["name"] == "robots" && strings.Contains(e.Attr["content"], "noindex")
	})) != 1 {
		t.Errorf("%s may be indexed", page.Path)
	}
	for _, e := range page.Root().All(func(*webtest.Node) bool { return true }) {
		to := e.Attr["href"] + e.Attr["action"] + e.Attr["src"]
		if e.Name == "script" || strings.HasPrefix(to, "/") && !strings.HasPrefix(to, "/v/") && !strings.HasPrefix(to, "/static/") {
			t.Errorf("%s holds <%s> to %q", page.Path, e.Name, to)
		}
	}
}

// A vet opens one horse's sheet by a link without an account: the page is the sheet that the owner sees, no other
// horse can be reached by it, and after it was stopped or has ended it answers as a link that never was.
func TestVetLink(t *testing.T) {
	f := follow(t, 3, 1)
	other := f.owner.TakesIn("Old Tom")
	wound := f.owner.Finds(other, "LF", "wound", "fetlock", "back")
	f.owner.Send(f.owner.Card(wound).With("length", "20").With("width", "10").With("exudate", "0").With("pain", "0").WithFile("photo", picture(t, 64, 48))).Redirects("/round")
	var others string
	for _, row := range f.site.Dump()["photo"] {
		if strings.Contains(row, "horse_id="+string(other)) {
			others = anID.FindString(row[strings.Index(row, "photo_id="):])
		}
	}
	link := linkFor(t, f.owner, f.horse, "Is a visit needed today?")
	sheet := f.path("/vet")
	f.owner.Get(sheet).Says("Links that work", "Not opened yet.")
	vet := f.site.Nobody()
	page := vet.Get(link).Is(200)
	outside(t, page)
	page.Says("Bramble", "Why we are asking", "Background", "Food chain, by its passport: not known.", "What we see, leg by leg", "What has been done", "What we want to know", "Is a visit needed today?", "Ring me if", "This link shows one horse.").
		Silent("Old Tom", "Juniper", "Sign out", "Stop this link", "Board")
	whole := f.owner.Get(sheet)
	for _, part := range []string{"table", "svg"} {
		theirs, mine := page.Root().Classed("sheet")[0].Named(part), whole.Root().Classed("sheet")[0].Named(part)
		if len(theirs) == 0 || len(theirs) != len(mine) {
			t.Fatalf("the link shows %d of <%s>, the owner's sheet %d", len(theirs), part, len(mine))
		}
		for i := range theirs {
			if theirs[i].Text() != mine[i].Text() {
				t.Errorf("by the link <%s> %d says %q, to the owner %q", part, i, theirs[i].Text(), mine[i].Text())
			}
		}
	}
	f.owner.Get(sheet).Says("Last opened Thu 14 May, 13:00.").Silent("Not opened yet.")

	images := 0
	for _, e := range page.Root().Named("img") {
		images++
		got := vet.Get(e.Attr["src"]).Is(200)
		outside(t, got)
		if got.Header.Get("Content-Type") != "image/jpeg" || http.DetectContentType(got.Body) != "image/jpeg" {
			t.Errorf("%s is no picture", e.Attr["src"])
		}
	}
	if images < 8 {
		t.Errorf("the link shows %d pictures, want four picked and four below", images)
	}
	for _, paper := range []string{"", "?paper=letter"} {
		got := vet.Get(link + "/sheet.pdf" + paper).Is(200)
		outside(t, got)
		if !strings.HasPrefix(string(got.Body), "%PDF-") {
			t.Errorf("the sheet%s is no PDF", paper)
		}
	}
	for _, path := range []string{link + "/photo/" + others, link + "/photo/" + others + "/thumb", link + "/photo/" + care.NewID(), "/v/" + care.NewSecret(), "/v/none"} {
		got := vet.Get(path).Is(404)
		outside(t, got)
		got.Says("This link opens nothing, or nothing any more. Ask the yard for a new one.")
	}
	vet.Get("/horse/" + string(other) + "/vet").Redirects("/sign-in")
	vet.Get("/photo/" + others).Redirects("/sign-in")
	f.owner.Get("/link" + link[2:]).Is(404) // no invitation opens by it
	never := vet.Get("/v/" + care.NewSecret()).Text()

	second := linkFor(t, f.owner, f.horse, "")
	photo := page.Root().Named("img")[0].Attr["src"]
	f.carer.Get(sheet).Says("Links that work").Silent("Stop this link")
	stop := ""
	for action := range actions(f.owner.Get(sheet)) {
		if strings.HasSuffix(action, "/stop") {
			f.carer.Post(action, nil).Is(403)
			stop = action
		}
	}
	if stop == "" {
		t.Fatal("there is no link to stop")
	}
	for action := range actions(f.owner.Get(sheet)) {
		if strings.HasSuffix(action, "/stop") {
			f.owner.Post(action, webtest.Values("back="+sheet)).Redirects(sheet)
		}
	}
	third := linkFor(t, f.owner, f.horse, "")
	vet.Get(third).Is(200)
	f.site.Clock.Add(14*24*time.Hour - time.Minute)
	vet.Get(third).Is(200)
	f.site.Clock.Add(time.Minute)
	for _, path := range []string{link, second, third, link + "/sheet.pdf", photo, photo + "/thumb"} {
		got := vet.Get(path).Is(404)
		outside(t, got)
		if got.Text() != never {
			t.Errorf("%s answers unlike a link that never was:\n%s", path, got.Text())
		}
	}
	got := vet.Post(third, webtest.Values("record="+newID(), "name=Dr Furrow", "plan=Wash.")).Is(404)
	outside(t, got)
	f.owner.Get(sheet).Silent("Links that work", "Dr Furrow")
}

// What a vet writes by a link waits until an owner accepts it: a carer cannot, a declined one shows nowhere, and
// an accepted rule stands on the Board and on the horse's page until it is no longer asked for. Who and when is
// kept.
func TestVetSays(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	sheet := "/horse/" + string(yard.Bramble) + "/vet"
	link := linkFor(t, yard.Owner, yard.Bramble, "")
	vet := site.Nobody()
	form := vet.Get(link).Form(link)
	wrong := vet.Send(form.With("name", "Dr Furrow")).Is(422).Says("Write a plan, or when you want to be rung")
	outside(t, wrong)
	summary(t, wrong, "plan")
	kept(t, wrong, form.With("name", "Dr Furrow"))
	said := form.With("name", "Dr Furrow").With("plan", "Wash once a day, not twice.").With("ring_if", "any site grows for a week <b>")
	vet.Send(said).Redirects(link + "?kept=1")
	outside(t, vet.Get(link+"?kept=1").Says("The yard has what you wrote."))
	vet.Send(said).Redirects(link) // a second press keeps nothing new
	other := vet.Get(link).Form(link)
	vet.Send(other.With("name", "Somebody").With("plan", "Sell the horse.")).Redirects(link)
	if got := count(site, "proposal"); got != 2 {
		t.Fatalf("%d proposals are kept, want 2", got)
	}
	vet.Get(link).Silent("Sell the horse.", "not twice") // what others wrote is not shown by the link

	yard.Owner.Get("/").Says("Dr Furrow").Silent("any site grows")
	yard.Carer.Get(sheet).Says("Dr Furrow wrote, Thu 14 May, 13:00:", "any site grows for a week <b>", "The owner accepts or declines it.").Silent("Accept it")
	answer := func(words string) webtest.Form {
		page := yard.Owner.Get(sheet)
		for _, note := range page.Root().Classed("note") {
			if strings.Contains(note.Text(), words) {
				action := note.Named("form")[0].Attr["action"]
				return page.Form(action)
			}
		}
		t.Fatalf("nothing to answer about %q", words)
		return webtest.Form{}
	}
	accept, decline := answer("not twice"), answer("Sell")
	yard.Carer.Send(accept.With("answer", "accepted")).Is(403)
	yard.Owner.Send(decline.With("answer", "declined")).Redirects(sheet)
	yard.Owner.Send(accept.With("answer", "accepted")).Redirects(sheet)
	yard.Owner.Send(decline.With("answer", "accepted")).Is(409)
	for _, path := range []string{"/", "/horse/" + string(yard.Bramble)} {
		yard.Carer.Get(path).Says("any site grows for a week", "Dr Furrow").Silent("Sell the horse")
	}
	yard.Carer.Get(sheet).Says("Dr Furrow, Thu 14 May, 13:00, by a link: accepted by Ada, Thu 14 May, 13:00.", "Somebody, Thu 14 May, 13:00, by a link: declined by Ada")
	vet.Get(link).Says("What the vet said before", "not twice").Silent("Sell the horse")

	site.Clock.Add(time.Hour)
	word := yard.Owner.Get(sheet).Form(sheet + "/word")
	yard.Owner.Send(word.With("name", "Marl vets").With("ring_if", "she stops eating")).Redirects(sheet)
	yard.Carer.Get("/").Says("she stops eating")
	for _, f := range yard.Owner.Get(sheet).Forms() {
		if strings.HasPrefix(f.Action, "/proposal/") && strings.Contains(f.Action, accept.Action) {
			yard.Owner.Send(f.With("answer", "ended")).Redirects(sheet)
		}
	}
	yard.Carer.Get("/").Says("she stops eating").Silent("any site grows")
	yard.Carer.Get(sheet).Says("no longer asked for")
}

// Who is to measure again never meets the first numbers before their own are kept, and five pairs make a spread.
func TestSecondReadings(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	yard.Owner.Get("/spread").Says("5 more pairs are needed", "Nothing to measure again")
	for day := range 5 {
		if day > 0 {
			site.Clock.Add(24 * time.Hour)
		}
		yard.Carer.Looks(yard.Wound, []string{"41", "43", "44", "45", "47"}[day], "27")
		yard.Carer.Get("/spread").Says("Nothing to measure again")
		page := yard.Owner.Get("/spread").Says("Bramble", "RF 1", "Measured today by Bea; the size is hidden.")
		form := page.Form("/spread")
		for _, first := range []string{"41", "43", "44", "45", "47", "27"} {
			if hidden := strings.ReplaceAll(anID.ReplaceAllString(string(page.Body), ""), "/static/", ""); day > 0 && strings.Contains(page.Text(), first+" x") || strings.Contains(hidden, `value="`+first+`"`) {
				t.Errorf("day %d: the page gives the first reading away", day)
			}
		}
		if day == 0 {
			wrong := yard.Owner.Send(form.With("length", "41")).Is(422)
			summary(t, wrong, "width")
			kept(t, wrong, form.With("length", "41"))
			yard.Carer.Send(form.With("length", "41").With("width", "27")).Is(422).Says("Somebody else must take the second reading")
		}
		yard.Owner.Send(form.With("length", []string{"43", "43", "42", "46", "46"}[day]).With("width", "27")).Redirects("/spread")
	}
	// Differences of the lengths -2, 0, 2, -1, 1 and of the widths 0: the mean of the squares of ten is 1, so the
	// spread is 1 / sqrt 2 = 0.7 mm. Source: Bland and Altman 1986, repeatability of a method, from memory.
	page := yard.Owner.Get("/spread").Says("Everybody 0.7 mm 5 pairs", "Bea read 47 x 27 mm, you read 46 x 27 mm.").Silent("more pairs are needed")
	if got := page.Text(); !strings.Contains(got, "Bea 0.7 mm 5 pairs") || !strings.Contains(got, "Ada 0.7 mm 5 pairs") {
		t.Errorf("nobody has a spread of their own:\n%s", got)
	}
	yard.Owner.Get("/rules/healing").Says("Measuring spread", "0.707", "second readings")
	// Both readings are dots and rows of the table; the day counts once.
	yard.Owner.Get("/horse/"+string(yard.Bramble)+"/trend?tables=1").Says("10 readings", "Its 5 measured days", "blind second reading", "46 mm", "47 mm")
}

// Numbers and rules are changed by the owner with a vet's word: each change stays, with who, why and when; a rule
// for a danger sign offers no change and takes none.
func TestSettingsOnPages(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	rules := yard.Owner.Get("/rules").Is(200)
	for _, path := range []string{"/rules/cautions", "/rules/healing"} {
		if !slices.ContainsFunc(rules.Root().Named("a"), func(a *webtest.Node) bool { return a.Attr["href"] == path }) {
			t.Errorf("Yard rules do not lead to %s", path)
		}
	}
	healing := yard.Owner.Get("/rules/healing").Says("Nothing was changed yet.").Form("/rules/healing")
	for name, change := range map[string]struct{ field, value, says string }{
		"no word":  {"word_of", "", "Whose word"},
		"no why":   {"why", "", "why"},
		"too much": {"v.closing", "40", ""},
		"words":    {"v.closing", "fast", "fast"},
		"tomorrow": {"day", "2026-05-15", ""},
	} {
		t.Run(name, func(t *testing.T) {
			sent := healing.With("v.closing", "0.2").With("word_of", "our vet").With("why", "a slow horse").With(change.field, change.value)
			page := yard.Owner.In(t).Send(sent).Is(422).Says(change.says)
			summary(t, page, change.field)
			kept(t, page, sent)
		})
	}
	yard.Owner.Get("/rules/healing").Says("Nothing was changed yet.")
	yard.Owner.Send(healing.With("v.closing", "0.2").With("word_of", "our vet").With("why", "a slow horse")).Redirects("/rules/healing?saved=1")
	yard.Owner.Get("/rules/healing").Says("Thu 14 May, 13:00", "0.2", "our vet, Thu 14 May: a slow horse", "Ada")
	one := "/rules/healing?site=" + string(yard.Wound)
	own := yard.Owner.Get(one).Says("These numbers count for Bramble").Form("/rules/healing")
	site.Clock.Add(time.Minute)
	yard.Owner.Send(own.With("v.closing", "0.3").With("word_of", "our vet").With("why", "a deep one").With("day", "2026-05-13")).Redirects("/rules/healing")
	page := yard.Carer.Get("/rules/healing").Says("Bramble RF 1", "numbers of its own", "our vet, Wed 13 May: a deep one", "a slow horse")
	if len(page.Root().Named("form")) > 1 || strings.Contains(page.Text(), "Keep the change") {
		t.Error("a carer is offered to change the numbers")
	}

	cautions := yard.Owner.Get("/rules/cautions").Is(200)
	forms, boxes := 0, 0
	for _, box := range cautions.Root().Classed("keep") {
		boxes++
		fixed, has := strings.Contains(box.Text(), "It cannot be changed or switched off."), len(box.Named("form")) > 0
		if fixed == has {
			t.Errorf("a rule is fixed: %v, and has a form: %v: %s", fixed, has, box.Text())
		}
		if has {
			forms++
		}
	}
	dangers := 0
	for _, d := range append(tracker.SiteDangers(), tracker.LegDangers()...) {
		id := string(d)
		box := cautions.Root().ID("rule-" + id)
		if box == nil {
			t.Fatalf("the rule of danger %s is not on the page", d)
		}
		dangers++
		if len(box.Named("form")) > 0 {
			t.Errorf("the rule of danger %s can be changed", d)
		}
		yard.Owner.Post("/rules/cautions", webtest.Values("record="+newID(), "rule="+id, "off=1", "word_of=me", "why=x")).Is(422)
	}
	if forms < 5 || forms+dangers > boxes {
		t.Errorf("%d rules, %d with forms, %d of danger signs", boxes, forms, dangers)
	}
	var off webtest.Form
	for _, f := range cautions.Forms() {
		if f.Action == "/rules/cautions" && len(f.Node.All(func(e *webtest.Node) bool { return e.Attr["name"] == "off" })) > 0 {
			off = f
			break
		}
	}
	wrong := yard.Owner.Send(off.With("off", "1")).Is(422)
	summary(t, wrong, "word_of")
	kept(t, wrong, off.With("off", "1"))
	yard.Carer.Send(off.With("off", "1").With("word_of", "our vet").With("why", "known")).Is(403)
	yard.Owner.Send(off.With("off", "1").With("word_of", "our vet").With("why", "known")).Redirects("/rules/cautions?saved=1")
	yard.Owner.Get("/rules/cautions").Says("switched off", "our vet, Thu 14 May: known", "Put it back as before any change")
	site.Clock.Add(time.Minute)
	back := yard.Owner.Get("/rules/cautions").Form("/rules/cautions", "rule="+off.Values.Get("rule"))
	yard.Owner.Send(back.With("off").With("do", "back").With("word_of", "our vet").With("why", "not known after all")).Redirects("/rules/cautions")
	yard.Owner.Get("/rules/cautions").Says("switched off", "not known after all", "as before any change")
}

// Five rules and more that one horse meets make one slab, of the gravest, and lines: only what is ring now has a slab
// of its own each time. What lasts is not shown again within a day; nothing closes without an answer; ring now stands
// on the card too.
func TestManyRulesOneSlab(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	wound := yard.Carer.Finds(yard.Junip, "LH", "wound", "upper-cannon", "lateral")
	dangers := []string{string(tracker.Maggots), string(tracker.HotSwelling)}
	tick := func(p *webtest.Person) {
		t.Helper()
		p.Send(p.Card(wound).With("length", "42").With("width", "25").With("exudate", "3").With("pain", "3").With("redness", "2").With("odour", "2").With("danger", dangers...)).Redirects("/round?saved=")
	}
	slabs := func(p *webtest.Person) (out []*webtest.Node) {
		for _, s := range p.Get("/").Root().Classed("slab") {
			if strings.Contains(s.Text(), "Juniper") {
				out = append(out, s)
			}
		}
		return out
	}
	tick(yard.Carer)
	met := count(site, "caution")
	if met < 5 {
		t.Fatalf("%d rules were met, want five at least", met)
	}
	for _, p := range []*webtest.Person{yard.Owner, yard.Carer} {
		if got := slabs(p); len(got) != 1 || !strings.HasPrefix(got[0].Text(), "Ring the vet now") {
			for _, slab := range got {
				t.Log(slab.Text())
			}
			t.Errorf("%d slabs, want one that begins with ring now", len(got))
		}
	}
	yard.Carer.Get("/round").Says("Ring the vet now")
	tick(yard.Owner) // the same again, an hour later
	site.Clock.Add(time.Hour)
	tick(yard.Carer)
	if got := count(site, "caution"); got != met {
		t.Errorf("the same signs within a day raise %d more cautions", got-met)
	}
	if got := slabs(yard.Owner); len(got) != 1 {
		t.Errorf("%d slabs of one horse", len(got))
	}
	for _, id := range site.Rows("caution", "caution_id") {
		path := "/caution/" + id
		page := yard.Owner.Get(path).Is(200)
		yard.Owner.Send(page.Form(path)).Is(422) // closing without saying how
	}
	if got := slabs(yard.Owner); len(got) != 1 {
		t.Errorf("after no answer there are %d slabs", len(got))
	}
	for _, id := range site.Rows("caution", "caution_id") {
		path := "/caution/" + id
		yard.Owner.Send(yard.Owner.Get(path).Form(path).With("kind", "rang")).Redirects("/")
	}
	yard.Owner.Get("/").Silent("Ring the vet now").Says("Rang")
	site.Clock.Add(25 * time.Hour)
	tick(yard.Carer)
	if got := count(site, "caution"); got <= met {
		t.Error("the same signs a day later raise nothing")
	}
}

// vetStates names every state of what the vet must know, may see and has said.
func (m *marlpit) vetStates(t *testing.T, id tracker.HorseID) []state {
	t.Helper()
	horse := "/horse/" + string(id)
	link := linkFor(t, m.owner, id, "Is a visit needed today?")
	vet := m.site.Nobody()
	form := vet.Get(link).Form(link)
	vet.Send(form.With("name", "Dr Furrow").With("plan", "Wash once a day, not twice.").With("ring_if", "any site grows for a week")).Redirects(link)
	word := m.owner.Get(horse + "/vet").Form(horse + "/vet/word")
	m.owner.Send(word.With("name", "Marl vets").With("ring_if", "she will not eat")).Redirects(horse)
	healing := m.owner.Get("/rules/healing").Form("/rules/healing")
	m.owner.Send(healing.With("v.closing", "0.12").With("word_of", "our vet").With("why", "a slow horse")).Redirects("/rules/healing")
	var one string
	for _, a := range m.owner.Get("/rules/healing").Root().Named("a") {
		if strings.Contains(a.Attr["href"], "?site=") {
			one = a.Attr["href"]
		}
	}
	return []state{
		{"vet", "owner", "/vet", "", false},
		{"trend", "owner", horse + "/trend", "", false}, {"trend-log", "owner", horse + "/trend?span=2&log=1&scale=own&tables=1", "", false}, {"trend-leg", "owner", horse + "/trend?by=leg&span=all", "", false},
		{"sheet", "owner", horse + "/vet", "", false}, {"sheet-error", "owner", horse + "/vet", send(`form[action$="/vet/word"]`, "name="), false},
		{"vet-link", "", link, "", false}, {"vet-link-error", "", link, send("main form", "name="), false}, {"vet-link-gone", "", "/v/none", "", false},
		{"spread", "carer", "/spread", "", true}, {"spread-error", "carer", "/spread", send(`form[action="/spread"]`, "width=41"), true},
		{"rules-cautions", "owner", "/rules/cautions", "", false}, {"rules-cautions-error", "owner", "/rules/cautions", send(`form[action="/rules/cautions"]`), false},
		{"rules-healing", "owner", "/rules/healing", "", false}, {"rules-healing-one", "owner", one, "", false}, {"rules-healing-error", "owner", one, send(`form[action="/rules/healing"]`, "v.closing=40"), false},
	}
}

// Over the wire, without photos, a trend sheet of six panels weighs at most 140 KiB, a vet's link 60 KiB, with the
// style sheet and every script, from a browser that has nothing yet (the budget is the project's own: a phone on a
// slow mobile line shows it within seconds).
func TestWeightOfSheets(t *testing.T) {
	f := follow(t, 5, 1)
	link := linkFor(t, f.owner, f.horse, "")
	for _, c := range []struct {
		path string
		who  *webtest.Person
		most int
	}{{f.path("/trend?span=4"), f.owner, 140 << 10}, {link, f.site.Nobody(), 60 << 10}, {"/vet", f.owner, 140 << 10}, {f.path("/vet"), f.owner, 140 << 10}} {
		page := c.who.Get(c.path).Is(200)
		if charts := len(page.Root().All(func(e *webtest.Node) bool { return strings.HasPrefix(e.Attr["class"], "chart-linear") })); charts < 4 {
			t.Errorf("%s has %d charts", c.path, charts)
		}
		zipped := *c.who
		zipped.Header = http.Header{"Accept-Encoding": {"gzip"}}
		weigh := func(path string) int {
			got := zipped.Get(path).Is(200)
			if got.Header.Get("Content-Encoding") != "gzip" && len(got.Body) > 2048 {
				t.Errorf("%s is not packed", path)
			}
			return len(got.Body)
		}
		total := weigh(c.path)
		for _, e := range page.Root().All(func(e *webtest.Node) bool {
			return e.Name == "script" || e.Name == "link" && strings.Contains(e.Attr["rel"], "stylesheet")
		}) {
			total += weigh(e.Attr["src"] + e.Attr["href"])
		}
		t.Logf("%s: %d bytes, of them %d for the page", anID.ReplaceAllString(c.path, "ID"), total, weigh(c.path))
		if total > c.most {
			t.Errorf("%s weighs %d bytes, at most %d", c.path, total, c.most)
		}
	}
}
