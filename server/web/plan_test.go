package web_test

import (
	"regexp"
	"strings"
	"testing"
	"time"

	"leground/server/webtest"
	"leground/tracker"
)

// planFor fills in the form of a new plan of the vet for a site: wash twice a day for 7 days, then once a day until
// closed over; dry each time.
func planFor(yard *webtest.Yard) webtest.Form {
	owner := yard.Owner
	path := "/horse/" + string(yard.Bramble) + "/plan"
	form := owner.Get(path + "/new").Is(200).Form(path)
	owner.Send(form.With("s1_kind", "wash").With("do", "more")).Is(200)
	form = form.With("site", string(yard.Wound)).With("source", "vet").With("set_name", "Marl vets").With("ring_if", "the leg is hot above the fetlock").
		With("s1_kind", "wash").With("s1_of", "chlorhexidine gluconate").With("s1_strength", "0.05 g per 100 mL").With("s1_minutes", "10").
		With("s1_p1_often", "2").With("s1_p1_until", "days").With("s1_p1_count", "7").With("s1_p2_often", "1").With("s1_p2_every", "1").With("s1_p2_until", "closed")
	more := owner.Send(form.With("do", "more")).Is(200).Form(path)
	return more.With("s2_kind", "dry").With("s2_p1_often", "2").With("s2_p1_every", "1").With("s2_p1_until", "vet")
}

// setPlan looks at a plan and keeps it.
func setPlan(yard *webtest.Yard, form webtest.Form) string {
	yard.Owner.TB.Helper()
	preview := yard.Owner.Send(form.With("do", "look")).Is(200).Says("Nothing is kept yet")
	yard.Owner.Send(preview.Form(form.Action).With("do", "keep")).Redirects(form.Action + "?saved=1")
	return form.Values.Get("record")
}

// setSteps keeps a plan with the fields that are given, and gives its id.
func setSteps(yard *webtest.Yard, horse tracker.HorseID, source string, fields ...string) string {
	yard.Owner.TB.Helper()
	path := "/horse/" + string(horse) + "/plan"
	form := yard.Owner.Get(path+"/new").Form(path).With("source", source).With("set_name", "Marl vets").With("do", "more")
	for _, field := range fields {
		name, value, _ := strings.Cut(field, "=")
		if strings.HasSuffix(name, "_kind") && form.Values.Get(strings.TrimSuffix(name, "kind")+"id") == "" {
			form = yard.Owner.Send(form.With("do", "more")).Is(200).Form(path)
		}
		form = form.With(name, strings.Split(value, "|")...)
	}
	return setPlan(yard, form)
}

// planned gives a yard one of everything that has to do with plans, and the ids.
func planned(yard *webtest.Yard, ids map[string]string) {
	ids["plan"] = setPlan(yard, planFor(yard))
	away := yard.Carer.Get("/due").Form("/away").With("horse", string(yard.OldTom)).With("from", "2026-05-20")
	yard.Carer.Send(away).Redirects("/due")
	ids["absence"] = away.Values.Get("record")
	tick := yard.Carer.Get("/due").Form("/due/tick", "slot=morning")
	ids["item"], ids["tick"] = tick.Values.Get("item"), tick.Values.Get("record")
	yard.Carer.Send(tick).Redirects("/due")
}

// A plan is looked at before it is kept, read back by a second person, due, ticked off and taken back; all with
// ordinary forms.
func TestAPlanFromFormToDueList(t *testing.T) {
	site := webtest.Start(t, webtest.Options{Now: time.Date(2026, 5, 14, 6, 30, 0, 0, time.UTC)}) // 07:30 in London
	yard := site.Marl()
	path := "/horse/" + string(yard.Bramble) + "/plan"
	yard.Owner.Get(path).Is(200).Says("There is no plan for Bramble")
	form := planFor(yard)
	preview := yard.Owner.Send(form.With("do", "look")).Is(200).
		Says("RF 1", "Wash with chlorhexidine gluconate at 0.05 g per 100 mL, leave on for 10 minutes", "twice a day for 7 days, then once a day until closed over",
			"Set by the vet, Marl vets, on Thu 14 May", "RF 1: Wash: chlorhexidine gluconate", "the leg is hot above the fetlock")
	if n := len(preview.Root().Classed("due-cell")); n != 28 {
		t.Errorf("the two weeks have %d rounds with something due, want 28", n)
	}
	yard.Owner.Get(path).Says("There is no plan for Bramble") // looking keeps nothing
	plan := setPlan(yard, form)
	again := yard.Owner.Send(preview.Form(path).With("do", "keep"))
	again.Redirects(path + "?saved=1") // the same form twice is one plan
	page := yard.Carer.Get(path).Says("Entered by Ada", "nobody has read it back", "This week", "Read it back", "01234 000000")
	if n := len(page.Root().Classed("plan-steps")); n != 1 {
		t.Errorf("%d plans, want 1", n)
	}
	yard.Owner.Get(path).Silent("Read it back") // not by who entered it
	yard.Carer.Send(yard.Carer.Get("/plan/" + plan).Is(200).Form("/plan/" + plan + "/read")).Redirects("/plan/" + plan)
	yard.Owner.Get(path).Says("read back by Bea").Silent("nobody has read it back")

	due := yard.Carer.Get("/due").Is(200).Says("Morning round", "Evening round", "RF", "Wash with", "Dry")
	links := due.Root().All(func(n *webtest.Node) bool { return strings.HasPrefix(n.Attr["href"], "/mix?") })
	if len(links) != 2 || !strings.Contains(links[0].Attr["href"], "want=0.05%25+w%2Fv") {
		t.Errorf("the washes of the list start %d mixes", len(links))
	}
	yard.Carer.Get(links[0].Attr["href"]).Is(200)
	tick := due.Form("/due/tick", "slot=morning")
	yard.Carer.Send(tick).Redirects("/due?day=2026-05-14")
	yard.Carer.Send(tick).Redirects("/due") // the same press twice is one
	yard.Carer.Send(tick.With("slot", "evening")).Is(409).Says("Both are kept")
	yard.Carer.Get("/conflicts").Says("slot: evening")
	done := yard.Carer.Get("/due").Says("RF done 07:30 by Bea")
	yard.Carer.Send(done.Form("/due/undo")).Redirects("/due")
	yard.Carer.Get("/due").Silent("done 07:30")
	skip := yard.Carer.Get("/due").Form("/due/tick", "slot=morning", "outcome=skipped")
	yard.Carer.Send(skip).Is(422).Says("Say why it was not done")
	yard.Carer.Send(skip.With("why", "would not stand")).Redirects("/due")
	yard.Carer.Get("/due").Says("RF skipped (would not stand) 07:30 by Bea")
	yard.Carer.Send(yard.Carer.Line(yard.Bramble, "RF").With("care", "washed", "dried")).Redirects("/round?saved=")
	yard.Carer.Get("/due").Says("RF done 07:30 by Bea")
}

// A yard with three rounds a day, and a plan with every kind of step and every kind of end, at any of its rounds: the
// page and the Due list say each, and a form that is only opened and kept changes nothing.
func TestEveryStepOnThePages(t *testing.T) {
	site := webtest.Start(t, webtest.Options{Now: time.Date(2026, 5, 14, 5, 30, 0, 0, time.UTC)})
	yard := site.Marl()
	yard.Owner.Send(rules(yard).With("slot3_name", "noon").With("slot3_at", "12:30")).Redirects("/rules")
	plan := setSteps(yard, yard.Bramble, "vet", "leg=RF|RH",
		"s1_kind=wash", "s1_of=chlorhexidine gluconate", "s1_strength=0.05 g per 100 mL", "s1_minutes=10", "s1_rinse=1", "s1_p1_often=some", "s1_p1_at=morning|noon", "s1_p1_until=days", "s1_p1_count=7",
		"s1_p2_often=some", "s1_p2_at=evening", "s1_p2_every=2", "s1_p2_until=closed",
		"s2_kind=dry", "s2_p1_often=3", "s2_p1_until=times", "s2_p1_count=10",
		"s3_kind=apply", "s3_of=barrier cream", "s3_amount=2 g", "s3_p1_often=some", "s3_p1_at=noon|evening", "s3_p1_until=date", "s3_p1_date=2026-05-20",
		"s4_kind=bandage", "s4_p1_often=some", "s4_p1_at=evening", "s4_p1_until=vet",
		"s5_kind=air", "s5_p1_often=some", "s5_p1_at=noon", "s5_p1_until=vet",
		"s6_kind=measure", "s6_p1_often=1", "s6_p1_every=3", "s6_p1_until=closed",
		"ring_if=the leg is hot above the fetlock")
	setSteps(yard, yard.Bramble, "owner", "whole=1", "s1_kind=walk", "s1_minutes=10", "s1_p1_often=2", "s1_p1_until=vet",
		"s2_kind=weigh", "s2_p1_often=1", "s2_p1_on=mon, thu", "s2_p1_until=vet", "s3_kind=trim", "s3_p1_often=1", "s3_p1_every=28", "s3_p1_until=vet")
	path := "/horse/" + string(yard.Bramble) + "/plan"
	page := yard.Carer.Get(path).Says("RF, RH", "leave on for 10 minutes, rinse off", "morning and noon every day for 7 days, then evening every other day until closed over",
		"3 times a day 10 times in all", "Put on barrier cream 2 g on each leg", "noon and evening every day to the end of Wed 20 May", "Bandage", "evening every day until the vet says", "noon every day until the vet says",
		"every 3 days until closed over", "Walk for 10 minutes", "twice a day until the vet says", "Weigh", "on Mon, Thu until the vet says", "Trim the feet", "the leg is hot above the fetlock")
	before := page.Root().Classed("plan-steps")[0].Text()
	setPlan(yard, yard.Owner.Get("/plan/"+plan+"/change").Form(path))
	if after := yard.Carer.Get(path).Root().Classed("plan-steps")[0].Text(); after != before {
		t.Errorf("kept as it was, the plan says\n%s\nand said\n%s", after, before)
	}
	rows := map[string]int{}
	for _, group := range yard.Carer.Get("/due").Root().Named("section") {
		rows[strings.Fields(group.Named("h2")[0].Text())[0]] = len(group.Classed("due-row"))
	}
	// Morning: wash, dry, size, walk. Noon: wash, dry, barrier, bandage off. Evening: dry, barrier, bandage, walk. Any time: weigh, trim.
	for group, want := range map[string]int{"Morning": 4, "Noon": 4, "Evening": 4, "Any": 2} {
		if rows[group] != want {
			t.Errorf("%s has %d lines, want %d: %v", group, rows[group], want, rows)
		}
	}
	none := yard.Owner.Get(path+"/new").Form(path).With("whole", "1").With("source", "owner").With("s1_kind", "walk").With("s1_p1_often", "some").With("do", "look")
	yard.Owner.Send(none).Is(422).Says("Say how many times a day, or tick the rounds")
}

// The leg line says what the plan asks for, how the wash is mixed with no signal, and how long it stays on.
func TestTheRoundShowsThePlan(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	setPlan(yard, planFor(yard))
	page := yard.Carer.Get("/round").Says("Wash with chlorhexidine gluconate at 0.05 g per 100 mL, leave on for 10 minutes", "Nobody has read this plan back",
		"Stores has no bottle for this", "Start the soak clock, 10 minutes")
	if n := len(page.Root().Classed("asks")); n != 1 {
		t.Errorf("%d legs are asked about, want one", n)
	}
	soak := page.Form("/events", "kind=soak-started", "leg=RF")
	yard.Carer.Send(soak).Redirects("/round")
	yard.Carer.Get("/round").Says("By the plan it stays on for 10 minutes, until 13:10.") // the clock stands at 13:00
	yard.Carer.Send(yard.Carer.Line(yard.Bramble, "RF").With("care", "washed")).Redirects("/round?saved=")
	words := yard.Carer.Get("/round").Root().Classed("asked")[0].Text()
	if !strings.Contains(words, "done: Wash") || !strings.Contains(words, "to do: Dry") {
		t.Errorf("after washing the leg line says %q", words)
	}
}

// A changed plan is a new version; the old one stays, a form that is only opened and kept changes nothing, and the
// wash that changed is marked on the trend.
func TestPlanVersionsOnThePages(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	path := "/horse/" + string(yard.Bramble) + "/plan"
	first := setPlan(yard, planFor(yard))
	before := yard.Owner.Get(path).Root().Classed("plan-steps")[0].Text()
	change := yard.Owner.Get("/plan/" + first + "/change").Is(200).Form(path)
	second := setPlan(yard, change)
	if after := yard.Owner.Get(path).Root().Classed("plan-steps")[0].Text(); after != before {
		t.Errorf("kept as it was, the plan says\n%s\nand said\n%s", after, before)
	}
	yard.Owner.Send(change.With("do", "keep").With("note", "sent again")).Is(409).Says("Both are kept")
	if link := yard.Owner.Get("/conflicts").Says("note: sent again").Root().All(func(n *webtest.Node) bool { return n.Attr["href"] == "/plan/"+second }); len(link) != 1 {
		t.Errorf("what was kept first is not linked: %v", link)
	}
	yard.Owner.Send(yard.Owner.Get("/plan/"+first+"/change").Form(path).With("do", "look")).Is(409).Says("changed this plan meanwhile")
	yard.Owner.Get("/horse/" + string(yard.Bramble)).Says("Wash: chlorhexidine gluconate").Silent("Wash changed")
	site.Clock.Add(24 * time.Hour)
	change = yard.Owner.Get("/plan/"+second+"/change").Form(path).With("s2_note", "with a clean towel")
	yard.Owner.Send(change.With("do", "look")).Is(200).Says("Set by the vet, Marl vets, on Thu 14 May") // nothing but a note: it is still the vet's
	weaker := change.With("s1_strength", "0.04 g per 100 mL")
	yard.Owner.Send(weaker.With("do", "look")).Is(422).Says("Say who set what is changed") // an owner's own change must not read as the vet's
	yard.Owner.Send(weaker.With("source", "owner").With("do", "look")).Is(200).Says("Set by the owner, on Fri 15 May").Silent("Marl vets")
	third := setPlan(yard, weaker.With("source", "vet").With("set_name", "Marl vets"))
	yard.Owner.Get("/horse/" + string(yard.Bramble)).Says("Wash changed to chlorhexidine gluconate at 0.04")
	history := yard.Carer.Get("/plan/"+first).Is(200).Says("Version 3", "Version 2", "Version 1", "0.04", "0.05")
	if history.Form("/plan/"+third+"/read").Action == "" {
		t.Error("the newest version cannot be read back")
	}
	yard.Owner.Send(yard.Owner.Get("/plan/" + third).Form("/plan/" + third + "/stop")).Is(422).Says("Say why it ends")
	stop := yard.Owner.Get("/plan/"+third).Form("/plan/"+third+"/stop").With("why", "the vet said so")
	yard.Owner.Send(stop).Redirects("/plan/" + third)
	yard.Owner.Send(stop).Redirects("/plan/" + third)
	yard.Owner.Get(path).Says("There is no plan for Bramble", "Old plans")
	yard.Owner.Get("/plan/"+first).Says("Version 4", "Stopped: the vet said so").Silent("Version 5")
	yard.Owner.Get("/due").Says("Nothing is due by a plan")
}

// Everything that is wrong with a plan's form is said beside its field, with what was typed still there.
func TestPlanFormMistakes(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	form := planFor(yard).With("source").With("s1_strength", "1:40").With("s1_minutes", "ten").With("s2_p1_every", "0").With("do", "look")
	page := yard.Owner.Send(form).Is(422).Says("Say who set this plan", "A colon ratio has two meanings", "Minutes must be a whole number", "Every 0 days is not possible")
	if got := page.Form(form.Action).Values.Get("s1_strength"); got != "1:40" {
		t.Errorf("what was typed is %q", got)
	}
	for _, field := range []string{"s1_strength", "s1_minutes", "s2_when", "source"} {
		if page.Root().ID("wrong-"+field) == nil {
			t.Errorf("nothing stands beside %s", field)
		}
	}
	fixed := page.Form(form.Action).With("source", "vet").With("s1_strength", "0.05% w/v").With("s1_minutes", "10").With("s2_p1_every", "1")
	yard.Owner.Send(fixed.With("do", "look")).Is(200).Says("Nothing is kept yet")
}

// A medicine by weight: the vet's order with its working, and a second person who types weight and strength blind.
func TestADoseOnThePages(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	path := "/horse/" + string(yard.Bramble) + "/plan"
	form := yard.Owner.Get(path+"/new").Form(path).With("whole", "1").With("source", "owner").With("s1_kind", "give").With("s1_of", "Paste B").With("s1_label", "100 mg/mL").
		With("s1_per_kg", "5").With("s1_weight", "740").With("s1_max_per_kg", "5").With("s1_p1_often", "2").With("s1_p1_until", "days").With("s1_p1_count", "5")
	yard.Owner.Send(form.With("do", "look")).Is(422).Says("Only the vet can set a medicine")
	form = form.With("source", "vet").With("set_name", "Marl vets")
	yard.Owner.Send(form.With("s1_max_per_kg", "").With("do", "look")).Is(422).Says("must carry the most per kg")
	yard.Owner.Send(form.With("do", "look")).Is(200).Says("Give Paste B 37 mL", "dose = per kg × weight ÷ strength") // 5 x 740 / 100
	plan := setPlan(yard, form)
	read := yard.Carer.Get("/plan/"+plan).Says("Paste B").Silent("740", "100 mg", "37")
	blind := read.Form("/plan/" + plan + "/read")
	var step string
	for name := range blind.Values {
		if m := regexp.MustCompile(`^(.+)_weight$`).FindStringSubmatch(name); m != nil {
			step = m[1]
		}
	}
	yard.Carer.Send(blind.With(step+"_weight", "740")).Is(422).Silent("37")
	yard.Carer.Send(blind.With(step+"_weight", "704").With(step+"_label", "100 mg/mL")).Redirects("/plan/" + plan)
	yard.Owner.Get(path).Says("read differently by Bea", "704 kg")
	for _, path := range []string{"/", "/due", "/due/week", "/round", path, "/plan/" + plan} {
		yard.Carer.Get(path).Says("Paste B").Silent("37 mL", "740", "100 mg")
	}
	yard.Owner.Get("/due").Says("read differently by Bea", "Do not give Paste B yet: it was read in two ways.", "Entered: Paste B: 740 kg", "Read back: Paste B: 704 kg").Silent("37 mL")
	blind = yard.Carer.Get("/plan/" + plan).Form("/plan/" + plan + "/read")
	yard.Carer.Send(blind.With(step+"_weight", "740 kg").With(step+"_label", "10% w/v")).Redirects("/plan/" + plan)
	yard.Owner.Get(path).Says("read back by Bea")
	yard.Carer.Get("/due").Says("Give Paste B 37 mL", "Marl vets wrote 5 mg per kg for 740 kg on Thu 14 May", "Give 37 mL, twice a day for 5 days.")
}

// What a vet wrote by a link becomes a plan with one form: filled in with whose it is and when to ring, the words beside
// it; kept, it is accepted, and the plan is confirmed by the words. The numbers of a medicine are read back all the same.
func TestAPlanOfWhatTheVetWrote(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	horse := "/horse/" + string(yard.Bramble)
	vet, link := site.Nobody(), linkFor(t, yard.Owner, yard.Bramble, "")
	wrote := vet.Get(link).Form(link).With("name", "Dr Furrow").With("plan", "Wash both right legs once a day for 10 days, dry well.").With("ring_if", "If any site grows for a week.")
	vet.Send(wrote)
	from := wrote.Values.Get("record")
	yard.Carer.Get(horse + "/vet").Silent("Make a plan of it")
	yard.Owner.Get(horse + "/vet").Says("Make a plan of it")
	form := yard.Owner.Get(horse+"/plan/new?from="+from).Is(200).Says("Dr Furrow wrote:", "Wash both right legs once a day for 10 days, dry well.").Form(horse + "/plan")
	for name, want := range map[string]string{"source": "vet", "set_name": "Dr Furrow", "set_on": "2026-05-14", "ring_if": "If any site grows for a week."} {
		if got := form.Values.Get(name); got != want {
			t.Errorf("the form begins with %s %q, want %q", name, got, want)
		}
	}
	form = form.With("leg", "RF", "RH").With("s1_kind", "wash").With("s1_of", "boiled and cooled water").With("s1_p1_often", "1").With("s1_p1_until", "days").With("s1_p1_count", "10")
	yard.Owner.Send(form.With("source", "owner").With("do", "look")).Is(422).Says("What a vet wrote makes a plan that the vet set.", "Dr Furrow wrote:")
	yard.Owner.Send(form.With("do", "look")).Is(200).Says("Dr Furrow wrote:")
	plan := setPlan(yard, form)
	yard.Carer.Get(horse+"/plan").Says("Set by the vet, Dr Furrow, on Thu 14 May", "confirmed by the vet, Dr Furrow, in their own words of Thu 14 May", "If any site grows for a week.").Silent("Read it back")
	yard.Carer.Get("/plan/" + plan).Says("the vet's own words, Ada, Dr Furrow: Wash both right legs once a day for 10 days, dry well.")
	yard.Owner.Get(horse + "/vet").Says("accepted by Ada")

	again := yard.Owner.Get(horse+"/plan/new?from="+from).Form(horse+"/plan").With("whole", "1").With("s1_kind", "give").With("s1_of", "Paste B").With("s1_label", "100 mg/mL").
		With("s1_per_kg", "5").With("s1_weight", "740").With("s1_max_per_kg", "5").With("s1_p1_often", "2").With("s1_p1_until", "days").With("s1_p1_count", "5")
	setPlan(yard, again)
	yard.Carer.Get("/due").Says("Paste B").Silent("37 mL")
	yard.Owner.Get(horse + "/plan").Says("nobody has read it back")

	yard.Owner.Send(yard.Owner.Get(horse+"/vet").Form("/proposal/"+from).With("answer", "ended"))
	yard.Owner.Get(horse + "/plan/new?from=" + from).Is(409).Says("no longer asked for")
	yard.Owner.Get("/horse/" + string(yard.OldTom) + "/plan/new?from=" + from).Is(422)
}

// Carers see plans and read them back, and set none.
func TestCarersSetNoPlans(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	form := planFor(yard)
	plan := setPlan(yard, form)
	path := "/horse/" + string(yard.Bramble) + "/plan"
	yard.Carer.Get(path).Is(200).Silent("New plan", "Change this plan")
	for _, page := range []string{path + "/new", "/plan/" + plan + "/change"} {
		yard.Carer.Get(page).Is(403)
	}
	for _, post := range []string{path, "/plan/" + plan + "/confirm", "/plan/" + plan + "/stop"} {
		yard.Carer.Post(post, webtest.Values("record="+plan, "why=x", "do=keep")).Is(403)
	}
}

// A weight that is written down ticks the weighing off, and a trim, the farrier or the vet that is ticked off is marked
// on the trend; taking back the tick takes that back.
func TestWhatATickLeadsTo(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	bea, horse := yard.Carer, "/horse/"+string(yard.Bramble)
	yard.Owner.Looks(yard.Wound, "40", "30")
	setSteps(yard, yard.Bramble, "owner", "whole=1", "s1_kind=weigh", "s1_p1_often=1", "s1_p1_every=7", "s1_p1_until=vet", "s2_kind=trim", "s2_p1_often=1", "s2_p1_every=28", "s2_p1_until=vet")
	var link string
	for _, a := range bea.Get("/due").Root().Classed("button") {
		if strings.HasPrefix(a.Text(), "Write down the weight") {
			link = a.Attr["href"]
		}
	}
	look := bea.Get(strings.TrimSuffix(link, "#weight")).Is(200).Form(horse+"/look").With("weight", "612")
	bea.Send(look).Redirects("/due?day=2026-05-14")
	due := bea.Get("/due").Says("done 13:00 by Bea").Silent("Write down the weight")
	bea.Get(horse).Says("612 kg")
	bea.Send(due.Form("/due/undo")).Redirects("/due")
	bea.Get("/due").Says("Write down the weight").Silent("done 13:00")
	again := bea.Get(horse+"/look").Form(horse+"/look").With("weight", "615") // written down on the horse's own page
	bea.Send(again).Redirects(horse)
	bea.Get("/due").Says("done 13:00 by Bea").Silent("Write down the weight")
	bea.Send(bea.Get("/check/" + again.Values.Get("record")).Form("/round/undo")).Redirects("/check/")
	bea.Get("/due").Says("Write down the weight")
	skip := bea.Get("/due").Form("/due/tick", "outcome=skipped")
	bea.Send(skip.With("outcome", "").With("why", "")).Is(422).Says("Write down the weight: that ticks it off")

	marks := func() string { return bea.Get(horse + "/trend").Root().Text() }
	visit := func(kind, day string) {
		bea.Send(bea.Get("/due").Form("/due/once").With("kind", kind).With("day", day)).Redirects("/due")
	}
	visit("vet", "2026-05-14")
	bea.Get(horse).Says("The vet comes on Thu 14 May")
	for _, c := range []struct{ line, mark string }{{"Trim the feet", "Farrier was here"}, {"The vet comes", "Vet was here"}} {
		page := bea.Get("/due")
		var tick webtest.Form
		for _, row := range page.Root().Classed("due-row") {
			if strings.Contains(row.Text(), c.line) {
				tick = page.Form("/due/tick", "item="+row.Named("input")[3].Attr["value"])
			}
		}
		bea.Send(tick).Redirects("/due")
		if !strings.Contains(marks(), c.mark) {
			t.Errorf("after %q was ticked off the horse's page does not say %q", c.line, c.mark)
		}
	}
	for _, row := range bea.Get("/due").Root().Classed("due-row") {
		if form := row.Named("form"); len(form) == 1 && strings.Contains(row.Text(), "Trim") {
			bea.Post("/due/undo", webtest.Values("record="+newID(), "of="+row.Named("input")[1].Attr["value"])).Redirects("/due")
		}
	}
	if strings.Contains(marks(), "Farrier was here") || !strings.Contains(marks(), "Vet was here") {
		t.Error("taking back the trim takes back the farrier alone")
	}
}

// Things that are due once, horses that are away, and the sheet for the wall.
func TestOneOffsAwayAndTheWeekSheet(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	setPlan(yard, planFor(yard))
	once := yard.Carer.Get("/due").Form("/due/once").With("kind", "farrier").With("horse", string(yard.OldTom)).With("day", "2026-05-14").With("at", "15:00")
	yard.Carer.Send(once.With("day", "2026-05-13")).Is(422).Says("The day must be today or within a year")
	yard.Carer.Send(once).Redirects("/due")
	yard.Carer.Get("/due").Says("At 15:00", "Old Tom. The farrier comes")
	yard.Carer.Send(yard.Carer.Get("/due").Form("/away").With("horse", string(yard.Bramble)).With("from", "2026-05-15").With("to", "2026-05-16").With("why", "at the clinic").With("known", string(yard.Bramble)+" 2026-05-15 2026-05-16")).Redirects("/due")
	yard.Carer.Get("/due?day=2026-05-15").Silent("Wash")
	yard.Carer.Get("/due?day=2026-05-17").Says("Wash")
	sheet := yard.Carer.Get("/due/week").Is(200).Says("Week sheet Mon 11 May to Sun 17 May", "Wash with chlorhexidine gluconate", "Thu 14 May, 15:00: Old Tom, the farrier comes", "if: Bramble: the leg is hot above the fetlock")
	boxes := map[string]int{}
	for _, row := range sheet.Root().Named("tr") {
		if head := row.Named("th"); len(head) == 1 {
			boxes[head[0].Text()] += len(row.Classed("box-due"))
		}
	}
	// Bramble from Thursday at 13:00, the morning round being on, and away on Friday and Saturday: 2 + 2 rounds.
	// Looks: 14 for each of the three horses, less 4 of Bramble's.
	for line, want := range map[string]int{"RF Wash with chlorhexidine gluconate at 0.05 g per 100 mL, leave on for 10 minutes": 4, "RF Dry": 4, "Look at every leg": 38} {
		if boxes[line] != want {
			t.Errorf("%s has %d boxes, want %d: %v", line, boxes[line], want, boxes)
		}
	}
	for action := range actions(yard.Carer.Get("/due")) {
		if strings.HasPrefix(action, "/away/") {
			yard.Carer.Post(action, nil).Redirects("/due")
		}
	}
	yard.Carer.Get("/due?day=2026-05-15").Says("Wash")
	yard.Carer.Get("/due?day=2020-01-01").Is(422)
}

// What a plan puts on a horse or gives it is warned of in the words of a mix, wherever it is asked for, until the horse is
// known to be out of the food chain: rule W15, Regulation (EU) 2019/6, articles 112 to 115; 21 CFR 524 and 530.
func TestPlansWarnOfTheFoodChain(t *testing.T) {
	const words = "This horse is not declared out of the food chain. Record date, substance and vet, and ask about withdrawal."
	_, yard, product, _ := creamed(t, "food_note", "not for horses meant for food")
	horse := "/horse/" + string(yard.Bramble)
	form := yard.Owner.Get(horse+"/plan/new").Form(horse+"/plan").With("whole", "1").With("source", "vet").With("set_name", "Marl vets").With("s1_kind", "give").With("s1_of", "Paste B").
		With("s1_label", "100 mg/mL").With("s1_per_kg", "5").With("s1_weight", "740").With("s1_max_per_kg", "5").With("s1_p1_often", "2").With("s1_p1_until", "days").With("s1_p1_count", "5")
	yard.Owner.Send(form.With("do", "look")).Is(200).Says(words)
	dose := setPlan(yard, form)
	cream := setSteps(yard, yard.OldTom, "owner", "leg=LF", "s1_kind=apply", "s1_product="+product, "s1_amount=2 g", "s1_p1_often=2", "s1_p1_until=vet")
	for path, n := range map[string]int{horse + "/plan": 2, "/plan/" + dose: 1, "/plan/" + cream: 1, "/due": 6, "/round": 4} { // two rounds with three steps; a round with two legs, one leg and a medicine
		if got := strings.Count(yard.Owner.Get(path).Is(200).Root().Text(), words); got != n {
			t.Errorf("%s warns %d times, want %d", path, got, n)
		}
	}
	for id, name := range map[tracker.HorseID]string{yard.Bramble: "Bramble", yard.OldTom: "Old Tom"} {
		page := "/horse/" + string(id)
		yard.Owner.Send(yard.Owner.Get(page).Form(page, "name="+name).With("food", "not")).Redirects(page)
	}
	for _, path := range []string{horse + "/plan", "/plan/" + dose, "/plan/" + cream, "/due", "/round"} {
		yard.Owner.Get(path).Is(200).Silent(words)
	}
}

// The evening's dose asks before it is ticked in the morning, with scripts off too; and the page of a day to come has no
// button that would always fail.
func TestTheDueListAsksBeforeALaterRound(t *testing.T) {
	_, yard, _, tube := creamed(t)
	due := yard.Carer.Get("/due").Says("This is for the evening round, due at 18:30.", "Given early")
	evening := due.Form("/due/tick", "slot=evening")
	yard.Carer.Send(evening).Is(422).Says("This is for the evening round, due at 18:30. Was it given early?")
	yard.Carer.Get("/stores/bottle/" + tube).Says("30 g left")
	yard.Carer.Send(evening.With("early", "1")).Redirects("/due")
	yard.Carer.Get("/stores/bottle/" + tube).Says("26 g left")
	later := yard.Carer.Get("/due?day=2026-05-15").Says("Put on", "Ticked off on its day.")
	if actions(later)["/due/tick"] {
		t.Error("tomorrow's page has a button to tick off")
	}
}

// A dose for twice the last weight in the book is asked about on the form, which comes back as it was typed; the answer is
// for that weight alone. The preview and the reading back say it too.
func TestADoseForAnotherWeightIsAsked(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	horse := "/horse/" + string(yard.Bramble)
	yard.Carer.Send(yard.Carer.Get(horse+"/look").Form(horse+"/look").With("weight", "372")).Redirects(horse)
	form := yard.Owner.Get(horse+"/plan/new").Form(horse+"/plan").With("whole", "1").With("source", "vet").With("set_name", "Marl vets").With("s1_kind", "give").With("s1_of", "Paste B").
		With("s1_label", "100 mg/mL").With("s1_per_kg", "4.4").With("s1_weight", "740").With("s1_max_per_kg", "5").With("s1_p1_often", "2").With("s1_p1_until", "days").With("s1_p1_count", "5")
	const words = "The plan is for 740 kg. The last weight in the book differs by more than a quarter: 372 kg, of Thu 14 May."
	asked := yard.Owner.Send(form.With("do", "look")).Is(422).Says(words, "The vet gave it for 740 kg: that is meant")
	again := asked.Form(form.Action)
	if got := again.Values.Get("s1_weight"); got != "740" {
		t.Errorf("what was typed is %q", got)
	}
	sure := again.With("s1_weight_sure", "740")
	yard.Owner.Send(sure.With("s1_weight", "704").With("do", "look")).Is(422).Says("The plan is for 704 kg.")
	yard.Owner.Send(again.With("s1_weight", "372").With("do", "look")).Is(200).Silent("more than a quarter")
	yard.Owner.Send(sure.With("do", "look")).Is(200).Says(words)
	plan := setPlan(yard, sure)
	yard.Carer.Get("/plan/" + plan).Says("The weight in this plan differs by more than a quarter from the last one in the book: 372 kg, of Thu 14 May.").Silent("740")
}

// Closing the yard and sending a horse away ask about what the vet set; the answer is for these days alone, and one day reads
// as one day.
func TestClosingAsksAboutTheVetsSteps(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	setPlan(yard, planFor(yard))
	bramble := string(yard.Bramble)
	closing := yard.Owner.Get("/reminders/rules").Form("/reminders/close").With("from", "2026-05-20").With("to", "2026-05-20")
	again := yard.Owner.Send(closing).Is(422).Says("Bramble, Wed 20 May: Wash with chlorhexidine gluconate").Form("/reminders/close")
	known := again.With("known", "2026-05-20 2026-05-20")
	yard.Owner.Send(known.With("to", "2026-05-21")).Is(422).Says("Bramble, Wed 20 May to Thu 21 May: Wash")
	yard.Owner.Send(known).Redirects("/reminders/rules")
	yard.Owner.Get("/reminders/rules").Says("Wed 20 May Take out").Silent("Wed 20 May to")
	away := yard.Carer.Get("/due").Form("/away").With("horse", bramble).With("from", "2026-05-15").With("to", "2026-05-15")
	back := yard.Carer.Send(away).Is(422).Says("Bramble, Fri 15 May: Wash", "Bramble, Fri 15 May: Dry").Form("/away")
	if got := back.Values.Get("horse"); got != bramble {
		t.Errorf("the form comes back for %q", got)
	}
	yard.Carer.Send(back.With("known", bramble+" 2026-05-15 2026-05-15")).Redirects("/due")
	yard.Carer.Get("/due").Says("Bramble: Fri 15 May Back").Silent("Fri 15 May to")
}
