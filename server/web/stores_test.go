package web_test

import (
	"strings"
	"testing"
	"time"

	"leground/server/webtest"
)

// Before the second reader has typed what they read, nothing that is sent to them holds the first reading:
// no page, no header, nothing that a browser could keep (Joint commissions and safety bodies agree that a
// double check works only when the second person does not see the first answer; Institute for Safe Medication
// Practices Canada 2019, are your checks truly independent).
func TestTheSecondReaderSeesNoFirstReading(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	product, bottle := unread(yard, "3.7143% w/v")
	sent := 0
	for _, path := range []string{
		"/", "/more", "/round", "/phone", "/phone/pages", "/stores", "/stores/product/" + product, "/stores/bottle/" + bottle, "/mix",
		"/mix?stock=bottle:" + bottle, "/mix?work=1&want=0.05%25+w/v&stock=bottle:" + bottle + "&says=bottle:" + bottle + "&make=500+mL&device=20+mL+syringe,+1+mL+marks",
		"/mix/sums", "/mix/sums?sum=pour&stock1=bottle:" + bottle, "/mix/sums?sum=cream&by=units&number=2&times=1&days=7&product=" + product,
		"/conflicts", "/people", "/rules", "/horses", "/horse/" + string(yard.Bramble),
	} {
		page := yard.Carer.Get(path)
		if page.Status >= 500 {
			t.Errorf("%s answers %d", path, page.Status)
		}
		whole := string(page.Body)
		for name, values := range page.Header {
			whole += name + strings.Join(values, " ")
		}
		for _, first := range []string{"3.7143", "3,7143", "37143", "37.143", "37,143"} {
			if strings.Contains(whole, first) {
				t.Errorf("%s holds %q before the second reading", path, first)
			}
		}
		sent += len(whole)
	}
	if sent < 20000 {
		t.Errorf("only %d bytes were looked at", sent)
	}
	yard.Owner.Get("/stores/bottle/"+bottle).Is(200).Says("3.7143 g per 100 mL", "A second person signs in")
	// A form that comes twice with different strengths puts neither of them on the page of what needs a look.
	form := press(yard.Owner.Get("/stores/bottle/"+bottle), "left").With("kind", "read").With("strength", "9.1% w/v")
	yard.Owner.Send(form).Is(409)
	reads(yard.Carer, bottle, "3.7143% w/v").Redirects("/stores/bottle/")
	yard.Carer.Get("/stores/bottle/"+bottle).Is(200).Says("label read by Ada and Bea", "3.7143 g per 100 mL")
	yard.Carer.Get("/stores").Is(200).Says("label read by Ada and Bea", "3.7143 g per 100 mL")
}

// The same label in another unit is the same reading: 2% w/v, 20 mg/mL and 2 g per 100 mL (USP general notices).
func TestTheSameLabelInAnotherUnit(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	product, first := unread(yard, "2% w/v")
	for bottle, typed := range map[string]string{first: "20 mg/mL", comes(yard.Owner, product, "2% w/v", "1 L"): "2 g per 100 mL"} {
		reads(yard.Carer, bottle, typed).Redirects("/stores/bottle/")
		yard.Carer.Get("/stores/bottle/" + bottle).Says("label read by Ada and Bea")
	}
	third := comes(yard.Owner, product, "2% w/v", "1 L")
	reads(yard.Carer, third, "2% w/w").Redirects("/stores/bottle/")
	yard.Carer.Get("/stores/bottle/" + third).Says("read differently by Ada and Bea")
	fourth := comes(yard.Owner, product, "2% w/v", "1 L")
	reads(yard.Carer, fourth, "2").Is(422).Says("The strength has no unit")
	reads(yard.Carer, fourth, "1.500% w/v").Is(422).Says("Did you mean 1.5 or 1")
}

// Two readings that differ are both shown, and nobody mixes from the bottle until the owner has settled it.
func TestReadingsThatDiffer(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	_, bottle := unread(yard, "2% w/v")
	reads(yard.Carer, bottle, "20% w/v").Redirects("/stores/bottle/")
	for _, p := range []*webtest.Person{yard.Owner, yard.Carer} {
		p.Get("/stores/bottle/"+bottle).Says("2 g per 100 mL", "20 g per 100 mL", "Nobody may use it until the owner has settled")
		page := p.Get("/mix").Is(200).Says("Nobody may use it until the owner has settled")
		if radios(page, "stock") != 0 {
			t.Errorf("%s may choose a bottle whose readings differ", p.Name)
		}
		works2 := p.Get("/mix?work=1&want=0.05%25+w/v&make=500+mL&device=20+mL+syringe,+1+mL+marks&stock=bottle:" + bottle + "&says=bottle:" + bottle)
		works2.Is(422).Says("Nobody may use it")
	}
	yard.Carer.Get("/stores/bottle/" + bottle).Silent("Settle it")
	settle := press(yard.Owner.Get("/stores/bottle/"+bottle), "settled").With("strength", "2% w/v")
	yard.Carer.Send(settle.With("record", newID())).Is(403)
	yard.Owner.Send(settle).Redirects("/stores/bottle/")
	yard.Carer.Get("/stores/bottle/"+bottle).Says("settled by Ada", "label read, 2 g per 100 mL", "label read, 20 g per 100 mL")
	works(yard.Carer, bottle, "0.05% w/v", "1 L").Is(200).Says("label, settled by Ada", "25 mL")
}

func radios(page *webtest.Page, name string) (n int) {
	for _, input := range page.Root().Named("input") {
		if input.Attr["type"] == "radio" && input.Attr["name"] == name {
			n++
		}
	}
	return n
}

// Alone in the yard one may mix, and the label and the record say so. There is no second tap that stands for
// a second person.
func TestAloneInTheYard(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	_, bottle := unread(yard, "2% w/v")
	works(yard.Owner, bottle, "0.05% w/v", "1 L").Is(422).Says("Only you have read this label. Fetch somebody to read it too, or tick that nobody else is here.")
	page := works(yard.Owner, bottle, "0.05% w/v", "1 L", "alone=1").Is(200)
	form := page.Form("/mix", "shown="+shownIn(page))
	yard.Owner.Send(form.With("choice", choiceOf(page, "1 fill to the 20 mL mark, then 1 fill to the 5 mL mark"))).Redirects("/mix/")
	label := yard.Owner.Get("/mix/" + form.Values.Get("record"))
	label.Says("Checked by one person", "label read by Ada only")
	yard.Owner.Send(press(label, "used-up").With("kind", "checked").With("record", newID())).Is(409).Says("Only another person can check it")
	// Bea, who has not read the label, may not see it worked out; she may check the mix once she has.
	yard.Carer.Get("/mix/" + form.Values.Get("record")).Silent("2 g per 100 mL of").Says("This is shown once you have read the label")
	reads(yard.Carer, bottle, "2% w/v").Redirects("/stores/bottle/")
	yard.Carer.Send(press(yard.Carer.Get("/mix/"+form.Values.Get("record")).Says("2 g per 100 mL of"), "checked")).Redirects("/mix/")
	yard.Owner.Get("/mix/" + form.Values.Get("record")).Says("Checked by Bea").Silent("Checked by one person")
}

// A bottle whose label does not say what Stores says is stopped for one reader, and for everybody once it is
// doubted.
func TestABottleThatSaysSomethingElse(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	product, first := concentrate(yard, "5% w/v")
	other := comes(yard.Owner, product, "2% w/v", "1 L")
	yard.Owner.Get("/mix?stock=bottle:" + other).Says("Stop. The bottle says 2 g per 100 mL, Stores says 5 g per 100 mL. Do not mix until two people have read the label.")
	reads(yard.Carer, other, "2% w/v").Redirects("/stores/bottle/")
	works(yard.Carer, other, "0.05% w/v", "1 L").Is(200).Says("Have 2 g per 100 mL")
	yard.Carer.Send(press(yard.Carer.Get("/stores/bottle/"+first), "doubted")).Redirects("/stores/bottle/")
	for _, p := range []*webtest.Person{yard.Owner, yard.Carer} {
		p.Get("/stores/bottle/"+first).Says("Its label was doubted", "Read its label").Silent("5 g per 100 mL")
		works3 := p.Get("/mix?work=1&want=0.05%25+w/v&make=500+mL&device=20+mL+syringe,+1+mL+marks&stock=bottle:" + first + "&says=bottle:" + first)
		works3.Is(422).Says("Its label was doubted. Two people must read it again.")
	}
	reads(yard.Carer, first, "5% w/v").Redirects("/stores/bottle/")
	yard.Carer.Get("/mix?stock=bottle:" + first).Says("A second person must read it again")
	reads(yard.Owner, first, "5% w/v").Redirects("/stores/bottle/")
	works(yard.Carer, first, "0.05% w/v", "1 L").Is(200).Says("read by Bea and Ada")
}

// Supply goes by the plan once there is one: twice a day for a week, then once. The sums are by hand: 12.5 mL of 2%
// make the 500 mL that this yard usually mixes, 25 mL the 1 L that it then mixed for the plan.
func TestSupplyGoesByThePlan(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	product, bottle := concentrate(yard, "2% w/v")
	setPlan(yard, planFor(yard))
	// This evening, then 6 days of two rounds, is 13 times 12.5 mL; the other 337.5 mL are 27 days of one, but a bottle
	// keeps for 30 days, opened.
	yard.Carer.Get("/stores").Says("500 mL left that may be used: enough for 30 days. By the plans about 163 mL go in the 7 days until a delivery comes. The amount would do for 34 days, but a throw-away time comes first.")
	link := yard.Carer.Get(washLink(yard, "1 L")).Form("/mix")
	page := yard.Carer.Get("/mix?" + link.With("says", link.Values.Get("stock")).Values.Encode()).Is(200)
	mixed := page.Form("/mix", "shown="+shownIn(page))
	yard.Carer.Send(mixed.With("choice", choiceOf(page, "1 fill to the 20 mL mark, then 1 fill to the 5 mL mark"))).Redirects("/mix/")
	// A use of 25 mL in one day would be 19 days; the plan takes 13 times 25 mL in a week, then 25 mL a day.
	yard.Carer.Get("/stores").Says("475 mL left that may be used: enough for 13 days. By the plans about 325 mL go in the 7 days until a delivery comes.").Silent("order now", "last two weeks")
	yard.Carer.Send(press(yard.Carer.Get("/stores/bottle/"+bottle), "left").With("amount", "300 mL")).Redirects("/stores/bottle/")
	yard.Carer.Get("/stores/product/"+product).Says("300 mL left that may be used: enough for 6 days. By the plans about 325 mL go in the 7 days until a delivery comes: order now.",
		"To last for 28 days after it takes 2 of 500 mL. An opened one keeps for 30 days.")
	// Whoever has yet to read a label learns nothing of its strength from what a plan takes.
	comes(yard.Owner, product, "2% w/v", "1 L")
	yard.Carer.Get("/stores").Silent("By the plans")
}

// What is put on counts for each leg: 2 g on four legs each morning are 48 g in the 6 mornings before a delivery, and 272 g
// in 34, of which 242 g are to be bought.
func TestSupplyOfWhatIsPutOn(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	cream := bottleOf(yard, "anything", "1% w/w", "cream")
	page := yard.Carer.Get("/stores/bottle/" + cream).Is(200)
	product := ""
	for _, a := range page.Root().Named("a") {
		if id, ok := strings.CutPrefix(a.Attr["href"], "/stores/product/"); ok {
			product = id
		}
	}
	path := "/horse/" + string(yard.Bramble) + "/plan"
	form := yard.Owner.Get(path+"/new").Form(path).With("whole", "1").With("source", "vet").With("set_name", "Marl vets").With("s1_kind", "apply").With("s1_product", product).
		With("s1_amount", "2 g").With("s1_p1_often", "1").With("s1_p1_every", "1").With("s1_p1_until", "vet")
	setPlan(yard, form)
	yard.Carer.Get("/stores").Says("30 g left that may be used: enough for 4 days. By the plans about 48 g go in the 7 days until a delivery comes: order now.", "To last for 28 days after it takes 9 of 30 g.")
}

// What is left may be more than can be used in time: 490 mL at 10 mL a day are 49 days, and an opened bottle keeps for 30.
func TestSupplyEndsWithTheBottle(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	_, bottle := concentrate(yard, "2% w/v")
	mixes(yard.Carer, bottle, "0.05% w/v", "400 mL")
	yard.Carer.Get("/stores").Says("490 mL left that may be used: enough for 30 days at about 10 mL a day, by the use of the last two weeks. A delivery takes 7 days. The amount would do for 49 days, but a throw-away time comes first.")
}

// What is left goes down with use; what will not last until a delivery is said; what is past its time, used up
// or thrown away cannot be chosen and stays in the book.
func TestWhatIsLeftAndWhenItEnds(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	product, bottle := concentrate(yard, "2% w/v")
	yard.Carer.Get("/stores").Says("500 mL left").Silent("order now")
	mix := mixes(yard.Carer, bottle, "0.05% w/v", "1 L")
	yard.Carer.Get("/stores").Silent("throw-away time comes first").Says("475 mL left", "opened Thu 14 May", "enough for 19 days at about 25 mL a day, by the use of the last two weeks. A delivery takes 7 days.").Silent("order now")
	for range 2 {
		mixes(yard.Carer, bottle, "0.05% w/v", "4 L")
	}
	// 500 less 25 and two times 100 is 275 mL; 225 mL in one day lasts 1 more day, and 35 days take 7 875 mL.
	yard.Carer.Get("/stores").Says("275 mL left that may be used: enough for 1 day at about 225 mL a day, by the use of the last two weeks.",
		"A delivery takes 7 days: order now. To last for 28 days after it takes 16 of 500 mL. An opened one keeps for 30 days.")
	yard.Carer.Send(press(yard.Carer.Get("/stores/bottle/"+bottle), "left").With("amount", "260 mL")).Redirects("/stores/bottle/")
	yard.Carer.Get("/stores/bottle/"+bottle).Says("260 mL left", "looked at what is left, 260 mL", "used for a mix, 100 mL")
	yard.Carer.Send(press(yard.Carer.Get("/stores/bottle/"+bottle), "left").With("amount", "2 L")).Is(422).Says("at most what the bottle held")
	works(yard.Carer, bottle, "0.05% w/v", "11 L").Is(422).Says("By the book only 260 mL are left and this takes 275 mL.")

	site.Clock.Add(24 * time.Hour) // the mix of a day ago is past its time at the minute
	yard.Carer.Get("/mix/" + mix).Says("This is past its throw-away time (24 hours after mixing). Throw it away.")
	yard.Carer.Get("/mix?work=1&want=0.01%25+w/v&make=100+mL&device=20+mL+syringe,+1+mL+marks&stock=mix:" + mix + "&says=mix:" + mix).Is(422).Says("past its throw-away time")
	yard.Carer.Send(press(yard.Carer.Get("/mix/"+mix), "thrown-away")).Redirects("/mix/")
	yard.Carer.Get("/mix/"+mix).Says("thrown away", "Made Thu 14 May 2026, 13:00 by Bea").Silent("The rest was thrown away")

	site.Clock.Add(29 * 24 * time.Hour) // 30 days after opening
	yard.Carer.Get("/mix").Says("There is nothing to mix from", "past its throw-away time (30 days after opening)")
	yard.Carer.Send(press(yard.Carer.Get("/stores/bottle/"+bottle), "thrown-away").With("note", "")).Is(422).Says("Say why it is thrown away")
	yard.Carer.Send(press(yard.Carer.Get("/stores/bottle/"+bottle), "thrown-away").With("note", "past its time")).Redirects("/stores/bottle/")
	yard.Carer.Get("/stores").Silent("past its throw-away time (30 days")
	yard.Carer.Get("/stores/product/"+product).Says("Bottles that are gone", "There is none.")
	yard.Carer.Get("/stores/bottle/"+bottle).Says("thrown away: past its time", "label read, 2 g per 100 mL").Silent("It is used up")
}

// Only the owner adds products, changes them or sets the measures; a carer mixes and adds bottles.
func TestWhoMayDoWhatInStores(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	product, _ := concentrate(yard, "2% w/v")
	yard.Carer.Get("/stores").Is(200).Silent("Add a product", "Change them")
	yard.Carer.Get("/stores/product/" + product).Is(200).Silent("Change the facts")
	comes(yard.Carer, product, "2% w/v", "250 mL")
	page := yard.Owner.Get("/stores/product/" + product).Is(200)
	page.Says("Its strength is hidden from you until you have read the label of its new bottle.").Silent("2 g per 100 mL", "Change the facts")
}

// The owner changes what else is known of a product; its strength stays, and the old facts stay in the book.
func TestFactsOfAProduct(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	product, bottle := concentrate(yard, "2% w/v")
	form := yard.Owner.Get("/stores/product/"+product).Form("/stores/product/"+product, "name=Wash concentrate A")
	if form.Values.Get("in_use_days") != "30" || form.Values.Get("cautions") != "Do not swallow.\nNot for eyes." {
		t.Errorf("the form starts from %v", form.Values)
	}
	yard.Owner.Send(form.With("mix_hours", "72")).Is(422).Says("More than 24 hours needs a source")
	yard.Owner.Send(form.With("density", "12")).Is(422).Says("A density must be from 0.5 to 3 g per mL")
	yard.Owner.Send(form.With("mix_hours", "48").With("mix_hours_by", "the label").With("strongest", "0.05% w/v").With("order", "concentrate").
		With("food_note", "not for horses meant for food").With("strength", "9% w/v").With("form", "powder")).Redirects("/stores/product/")
	page := works(yard.Carer, bottle, "0.05% w/v", "1 L").Is(200)
	page.Says("Put in first Wash concentrate A: 25 mL.", "Throw away after Sat 16 May 2026, 13:00: what the label allows for the mix", "not declared out of the food chain", "Have 2 g per 100 mL")
	works(yard.Carer, bottle, "0.1% w/v", "1 L").Is(200).Says("Stop", "The wanted strength is above the most that was recorded: 0.05 g per 100 mL.").Silent("Mixed. Write the label")
	if audit := strings.Join(site.Dump()["audit"], "\n"); !strings.Contains(audit, "InUseDays:30 MixHours:0") || !strings.Contains(audit, "MixHours:48") {
		t.Errorf("the book does not hold old and new facts:\n%s", audit)
	}
}

// The warning about the food chain goes by the product and the horse: not known counts as may be eaten, and so does
// any horse. It stands with the worked amounts of a plan too.
func TestFoodChainGoesByProductAndHorse(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	product, bottle := concentrate(yard, "2% w/v")
	setPlan(yard, planFor(yard))
	const words = "This horse is not declared out of the food chain. Record date, substance and vet, and ask about withdrawal."
	says := func(horse string, warned bool) {
		t.Helper()
		page := works(yard.Carer, bottle, "0.05% w/v", "1 L", "horse="+horse).Is(200)
		planned := yard.Carer.Get("/mix").Is(200).Says("By a plan, today", "Bramble")
		if horse != string(yard.Bramble) {
			planned = page
		}
		for _, p := range []*webtest.Page{page, planned} {
			if warned {
				p.Says(words)
			} else {
				p.Silent(words)
			}
		}
	}
	declare := func(food string) {
		t.Helper()
		path := "/horse/" + string(yard.Bramble)
		yard.Owner.Send(yard.Owner.Get(path).Is(200).Form(path, "name=Bramble").With("food", food)).Redirects(path)
	}
	bramble := string(yard.Bramble)
	yard.Owner.Get("/horse/" + bramble).Says("Food chain: not known.")
	says(bramble, false) // of a product that says nothing of it
	facts := yard.Owner.Get("/stores/product/"+product).Form("/stores/product/"+product, "name=Wash concentrate A")
	yard.Owner.Send(facts.With("food_note", "not for horses meant for food")).Redirects("/stores/product/")
	says(bramble, true)
	declare("may")
	says(bramble, true)
	declare("not")
	yard.Owner.Get("/horse/" + bramble).Says("Food chain: not for food.")
	says(bramble, false)
	says("", true)
	works(yard.Carer, bottle, "0.05% w/v", "1 L", "horse=", "skin=no").Is(200).Silent(words)
	path := "/horse/" + bramble
	yard.Owner.Send(yard.Owner.Get(path).Form(path, "name=Bramble").With("food", "perhaps")).Is(422).Says("Choose one of the answers that are offered.")
	if audit := strings.Join(site.Dump()["audit"], ""); !strings.Contains(audit, "food chain may be eaten one day;") || !strings.Contains(audit, "food chain not for food;") {
		t.Errorf("the book does not say what was declared:\n%s", audit)
	}
}

// Each form of Stores and of a mix, sent twice, is one record; other content under the same id is kept apart.
func TestStoresFormsTwice(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	product, bottle := concentrate(yard, "2% w/v")
	page := works(yard.Carer, bottle, "0.05% w/v", "500 mL").Is(200)
	second := comes(yard.Owner, product, "2% w/v", "1 L")
	mixing := page.Form("/mix", "shown="+shownIn(page)).With("choice", choiceOf(page, "12 mL"))
	_ = second
	made := mixes(yard.Carer, bottle, "0.05% w/v", "1 L")
	for _, c := range []struct {
		name   string
		form   webtest.Form
		change string
		tables string
	}{
		{"a product", yard.Owner.Get("/stores").Form("/stores/products").With("name", "Saline").With("of", "sodium chloride").With("strength", "0.9% w/v"), "name", "product"},
		{"a bottle", yard.Owner.Get("/stores/product/"+product).Form("/stores/bottles").With("strength", "2% w/v").With("size", "250 mL"), "size", "bottle store_act"},
		{"what is left", press(yard.Owner.Get("/stores/bottle/"+bottle), "left").With("amount", "300 mL"), "amount", "store_act"},
		{"a mix", mixing, "from", "mix store_act bottle"},
		{"the end of a mix", press(yard.Owner.Get("/mix/"+made), "used-up"), "note", "store_act mix"},
		{"a doubt", press(yard.Owner.Get("/stores/bottle/"+bottle), "doubted"), "note", "store_act"},
		{"a reading", press(yard.Carer.Get("/stores/bottle/"+second), "read").With("strength", "2% w/v"), "strength", "store_act"},
	} {
		who := yard.Owner
		if c.name == "a reading" || c.name == "a mix" {
			who = yard.Carer
		}
		who.Send(c.form).Is(303)
		before := map[string]int{}
		for _, table := range strings.Fields(c.tables + " audit conflict") {
			before[table] = count(site, table)
		}
		for range 3 {
			who.Send(c.form).Is(303)
		}
		for table, n := range before {
			if got := count(site, table); got != n {
				t.Errorf("%s, sent again, made %d rows of %s from %d", c.name, got, table, n)
			}
		}
		who.Send(c.form.With(c.change, "5 mL")).Is(409)
		if got := count(site, "conflict"); got != before["conflict"]+1 {
			t.Errorf("%s with other content: %d conflicts, want %d", c.name, got, before["conflict"]+1)
		}
	}
}

// A bottle printed 31 Dec may be used on that day and on no other after it: its day is what is shown, with the year, of
// the bottle and of a mix that it ends. Source: what "use by" means on a label, common practice.
func TestThePrintedDayIsTheLastDayOfUse(t *testing.T) {
	site := webtest.Start(t, webtest.Options{Now: time.Date(2026, 12, 31, 12, 0, 0, 0, time.UTC)})
	yard := site.Marl()
	product, _ := concentrate(yard, "2% w/v")
	form := yard.Owner.Get("/stores/product/"+product).Form("/stores/bottles").With("strength", "2% w/v").With("size", "500 mL").With("expiry", "2026-12-31")
	yard.Owner.Send(form).Redirects("/stores/bottle/")
	bottle := form.Values.Get("record")
	reads(yard.Carer, bottle, "2% w/v")
	const last = "ast day of use Thu 31 Dec 2026"
	yard.Owner.Get("/stores/bottle/"+bottle).Says("Printed: l"+last, "l"+last).Silent("1 Jan", "00:00")
	yard.Carer.Get("/mix?want=0.05%25+w/v&make=1+L").Says("l"+last).Silent("1 Jan", "00:00")
	works(yard.Carer, bottle, "0.05% w/v", "1 L").Says("L"+last+": throw-away time of the bottle it was made from").Silent("1 Jan", "00:00")
	mix := mixes(yard.Carer, bottle, "0.05% w/v", "1 L")
	yard.Carer.Get("/mix/"+mix).Says("L"+last).Silent("1 Jan", "00:00")
}
