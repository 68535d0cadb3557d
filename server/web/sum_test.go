package web_test

import (
	"net/url"
	"testing"
	"time"

	"leground/server/webtest"
)

// sum asks for a sum beside a mix.
func sum(p *webtest.Person, kind string, fields ...string) *webtest.Page {
	p.TB.Helper()
	v := url.Values{"sum": {kind}}
	for i := 0; i < len(fields); i += 2 {
		v.Set(fields[i], fields[i+1])
	}
	return p.Get("/mix/sums?" + v.Encode())
}

// Two leftovers make the sum of what is in them in the sum of their amounts, good until the earlier time: 100 mL of
// 0.05% and 300 mL of 0.1% hold 0.35 g in 400 mL. What cannot be poured together is refused in words.
func TestLeftoversPouredTogether(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	product, bottle := concentrate(yard, "2% w/v")
	weak := mixes(yard.Carer, bottle, "0.05% w/v", "1 L")
	site.Clock.Add(3 * time.Hour)
	strong := mixes(yard.Carer, bottle, "0.1% w/v", "400 mL", "skin=whole")
	yard.Carer.Get("/mix").Says("Other sums: leftovers, a recipe from elsewhere, cream")
	ask := func(more ...string) *webtest.Page {
		t.Helper()
		return sum(yard.Carer, "pour", append([]string{"stock1", "mix:" + weak, "stock2", "mix:" + strong}, more...)...)
	}
	ask("amount1", "100 mL", "amount2", "300 mL").Is(200).Says("Makes 0.0875 g per 100 mL of chlorhexidine gluconate", "In all 400 mL", "Throw away after Fri 15 May 2026, 13:00, the earlier of the two",
		"100 mL of 0.05 g per 100 mL of chlorhexidine gluconate.", "together = sum of (strength × amount) ÷ sum of amounts")
	ask().Is(200).Says("In all 1 400 mL") // all that is left of both
	ask("amount1", "2 L").Is(422).Says("By the book only 1 000 mL are left of it.")
	ask("amount1", "1.500 mL").Is(422).Says("Did you mean 1.5 or 1 500?")
	ask("stock2", "mix:"+weak).Is(422).Says("Choose two that are not the same.")
	ask("stock2", "").Is(422).Says("Choose one from the list.")
	ask("stock2", "mix:"+newID()).Is(404)
	unread := comes(yard.Owner, product, "2% w/v", "1 L")
	ask("stock2", "bottle:"+unread).Is(422).Says("Only one person has read its label. Read it yourself first.")
	bleach := bottleOf(yard, "sodium hypochlorite", "5% w/v", "solution")
	ask("stock2", "bottle:"+bleach).Is(200).Says("Stop", "Chlorhexidine and bleach make a brown sludge and undo each other.", "R7. Source").Silent("Makes")
	ask("stock2", "bottle:"+bottleOf(yard, "povidone-iodine", "10% w/v", "solution")).Is(200).Says("Stop", "These do not count the same thing in the same way. Do not pour them together.", "R4. Source").Silent("Makes")
	sum(yard.Carer, "pour", "stock1", "bottle:"+bleach, "stock2", "bottle:"+bottleOf(yard, "acetic acid", "5% w/v", "solution")).Is(200).
		Says("Bleach and an acid make chlorine gas.", "leave, let air in, and ring your poison centre or emergency number", "CDC, Morbidity and Mortality Weekly Report: chlorine gas").Silent("Makes")
	site.Clock.Add(22 * time.Hour)
	ask().Is(422).Says("This is past its throw-away time (24 hours after mixing). Throw it away.")
}

// Two mixes that are poured together are one of its own: what went in is taken out of both, its time is that of the first
// that must be thrown away, and it is made and used up like any other. A part leaves the rest; the same post twice is one;
// what was not shown so is refused. 100 mL of 0.05% and 400 mL of 0.1% hold 0.45 g in 500 mL.
func TestPouredTogetherIsAMix(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	_, bottle := concentrate(yard, "2% w/v")
	weak := mixes(yard.Carer, bottle, "0.05% w/v", "1 L")
	site.Clock.Add(3 * time.Hour)
	strong := mixes(yard.Carer, bottle, "0.1% w/v", "400 mL", "skin=whole")
	ask := func(first, amount, second string) *webtest.Page {
		t.Helper()
		return sum(yard.Carer, "pour", "stock1", first, "amount1", amount, "stock2", second)
	}
	sumForm := func(page *webtest.Page) webtest.Form {
		t.Helper()
		return page.Is(200).Form("/mix/sums", "shown="+shownIn(page))
	}
	pour := sumForm(ask("mix:"+weak, "100 mL", "mix:"+strong).Says("They are poured together."))
	yard.Carer.Send(pour.With("amount1", "200 mL")).Is(422).Says("Something has changed since this was worked out")
	yard.Carer.Send(pour.With("amount1", "2 L")).Is(422).Says("By the book only 1 000 mL are left of it.")
	yard.Carer.Send(pour.With("stock2", "bottle:"+bottle)).Is(422).Says("these may not be poured together")
	yard.Carer.Send(pour).Is(422).Says("Tick that you have read this: Chlorhexidine this strong harms cells in open skin.")
	pour = pour.With("tick", tooStrong)
	yard.Carer.Send(pour).Redirects("/mix/")
	yard.Carer.Send(pour).Redirects("/mix/")
	mix := pour.Values.Get("record")
	yard.Carer.Get("/mix/"+mix).Is(200).Says("0.09 g per 100 mL of chlorhexidine gluconate", "Made Thu 14 May 2026, 16:00 by Bea", "Checked by one person", "Throw away after Fri 15 May 2026, 13:00",
		"From what was left of the mixes of Thu 14 May, 13:00 and Thu 14 May, 16:00", "Do not swallow.", "mixed, 500 mL", "together = sum of (strength × amount) ÷ sum of amounts")
	yard.Carer.Get("/mix/" + weak).Says("used for a mix, 100 mL").Silent("used up,")
	yard.Carer.Get("/mix/"+strong).Says("used for a mix, 400 mL", "used up", "It has been used up or thrown away.")
	yard.Carer.Get("/stores").Says("900 mL left", "500 mL left", "455 mL left") // 25 and 20 mL of the bottle went into them, and no more
	yard.Carer.Send(pour.With("record", newID())).Is(422).Says("It has been used up or thrown away.")
	again := sumForm(ask("mix:"+mix, "", "mix:"+weak))
	yard.Carer.Send(again.With("tick", tooStrong)).Redirects("/mix/")
	yard.Carer.Get("/mix/"+again.Values.Get("record")).Says("1 400 mL", "Throw away after Fri 15 May 2026, 13:00")
	for _, p := range []*webtest.Page{ask("bottle:"+bottle, "", "mix:"+again.Values.Get("record")), ask("bottle:"+bottle, "", "bottle:"+bottleOf(yard, "povidone-iodine", "10% w/v", "solution"))} {
		p.Is(200).Silent("They are poured together.")
	}
}

// tooStrong is what W1 says of chlorhexidine, in this yard's writing of numbers.
const tooStrong = "Chlorhexidine this strong harms cells in open skin. The usual most is 0.05\u00a0g per 100\u00a0mL."

// What is poured together is held to the rules of a mix: 450 mL of 5% with as much of 0.05% hold 22.725 g in 900 mL, 2.525%.
// What is too strong for open skin wants a tick and is written down, what must not go on skin is refused, and what is for
// no horse is neither.
func TestPouredTogetherKeepsTheRulesOfAMix(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	_, strong := concentrate(yard, "5% w/v")
	weak := mixes(yard.Carer, strong, "0.05% w/v", "1 L")
	ask := func(first, second string, more ...string) *webtest.Page {
		t.Helper()
		return sum(yard.Carer, "pour", append([]string{"stock1", first, "stock2", second}, more...)...).Is(200)
	}
	for skin, warns := range map[string]bool{"": true, "open": true, "whole": false, "no": false} {
		page := ask("bottle:"+strong, "mix:"+weak, "amount1", "450 mL", "amount2", "450 mL", "skin", skin).Says("Makes 2.525 g per 100 mL")
		if warns {
			page.Says("Chlorhexidine this strong harms cells in open skin.", "W1. Source")
		} else {
			page.Silent("Chlorhexidine this strong")
		}
	}
	ask("mix:"+weak, "mix:"+mixes(yard.Carer, strong, "0.05% w/v", "2 L")).Says("Makes 0.05 g per 100 mL").Silent("Read, and tick")
	bleach := bottleOf(yard, "sodium hypochlorite", "5% w/v", "solution")
	for i, want := range []string{"0.4% w/v", "0.5% w/v"} { // 5% with as much of 0.5% makes 2.75%
		dilute := mixes(yard.Carer, bleach, want, "400 mL", "skin=whole")
		ask("bottle:"+bleach, "mix:"+dilute, "amount1", "400 mL", "skin", "whole").Says("Stop", "R13. Source").Silent("Makes", "They are poured together.")
		ask("bottle:"+bleach, "mix:"+dilute, "amount1", "400 mL", "skin", "no").Says([]string{"Makes 2.7 g", "Makes 2.75 g"}[i]).Silent("Stop", "R13")
	}
}

// bottleOf puts a product of any substance into Stores, and a bottle of it that both have read.
func bottleOf(y *webtest.Yard, of, strength, form string, facts ...string) (bottle string) {
	y.Owner.TB.Helper()
	product := y.Owner.Get("/stores").Form("/stores/products").With("name", "Product of "+of+" "+strength).With("of", of).With("strength", strength).With("form", form)
	for i := 0; i < len(facts); i += 2 {
		product = product.With(facts[i], facts[i+1])
	}
	y.Owner.Send(product).Redirects("/stores/product/")
	size := "1 L"
	if form == "cream" || form == "powder" {
		size = "30 g"
	}
	bottle = comes(y.Owner, product.Values.Get("record"), strength, size)
	reads(y.Carer, bottle, strength).Redirects("/stores/bottle/")
	return bottle
}

// A recipe from elsewhere is worked out from the label (W14). This one is in a dog owner's handbook, and claims twice
// what it makes: 25 mL of 2% to 2 L, said to be 0.05% (vector 92 of testdata/vectors/mixing/traps.txt).
func TestRecipeFromElsewhere(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	_, bottle := concentrate(yard, "2% w/v")
	ask := func(more ...string) *webtest.Page {
		t.Helper()
		return sum(yard.Carer, "recipe", append([]string{"stock1", "bottle:" + bottle, "amount1", "25 mL", "amount2", "2 L", "claim", "0.05% w/v"}, more...)...)
	}
	ask("liquid", "added").Is(200).Says("Makes 0.02469 g per 100 mL of chlorhexidine gluconate", "The recipe says 0.05 g per 100 mL. From the label it makes 0.02469 g per 100 mL, 50.6% weaker.", "W14. Source",
		"makes = have × concentrate ÷ whole")
	ask().Is(200).Says("Makes 0.025 g per 100 mL", "50% weaker")
	ask("amount2", "1 L").Is(200).Says("Makes 0.05 g per 100 mL").Silent("W14")
	ask("claim", "0.05").Is(422).Says("The strength has no unit")
	ask("claim", "0.05% w/w").Is(200).Says("Stop", "The recipe makes a strength of another kind than it claims.")
	ask("amount1", "2 spoons").Is(422).Says("is not an amount we can read")
}

// Amounts of cream: printed examples of a dermatology reference (both arms of a woman, 6 fingertip units of 0.4 g: 2.4 g a
// day, 30 g last 12.5 days; twice a day 6.25) and of a sunscreen page (520 cm² at 2 mg: 1.04 g), with our 30% on top of
// an area; the strip is 5 inches, 127 mm, of 4 g in 100 mm.
func TestAmountOfCream(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	bottleOf(yard, "anything", "1% w/w", "cream", "strip", "4", "density", "1.1", "in_use_days", "4")
	bottleOf(yard, "anything", "2% w/w", "cream")
	bottleOf(yard, "anything", "3% w/w", "cream", "prescription", "1")
	creams := map[string]string{}
	for _, o := range yard.Carer.Get("/mix/sums").Is(200).Root().Named("option") {
		creams[o.Text()] = o.Attr["value"]
	}
	one, two, vets := creams["Product of anything 1% w/w"], creams["Product of anything 2% w/w"], creams["Product of anything 3% w/w"]
	for _, c := range []struct {
		fields []string
		status int
		says   []string
	}{
		{[]string{"by", "area", "area", "286"}, 200, []string{"Each time about 0.65 g", "with 30% on top", "This is an estimate for clipped, bare skin."}},
		{[]string{"by", "load", "area", "520", "number", "2"}, 200, []string{"grams = 520 × 2 ÷ 1 000 = 1.04 g", "= 1.352 g", "That is about 1.4 g: an estimate is no finer.", "Each time about 1.4 g"}},
		{[]string{"by", "film", "area", "100", "number", "20", "product", one}, 200, []string{"grams = 100 × 20 ÷ 10 000 × 1.1 = 0.22 g", "Each time about 0.29 g"}},
		{[]string{"by", "film", "area", "100", "number", "20"}, 200, []string{"Stop", "A film thickness needs the density in g per mL.", "R2. Source"}},
		{[]string{"by", "units", "number", "6", "finger", "woman", "times", "1", "days", "7", "product", two}, 200,
			[]string{"Each time about 2.4 g", "2.4 g × 7 days = 16.8 g", "30 g left ÷ 2.4 g a day: enough for 12 whole days", "What is left is enough for the whole course. Nothing to buy."}},
		{[]string{"by", "units", "number", "6", "finger", "woman", "times", "2", "days", "7", "product", two}, 200, []string{"4.8 g × 7 days = 33.6 g", "enough for 6 whole days", "33.6 g − 30 g of what is left = 3.6 g still to buy", "containers of 30 g to buy: 1"}},
		{[]string{"by", "units", "number", "6", "finger", "woman", "times", "1", "days", "8", "product", one}, 200, []string{"30 g left ÷ 2.4 g a day: enough for 12 whole days", "It must be thrown away before that: it does for 4 whole days.", "19.2 g − 9.6 g of what is left = 9.6 g still to buy",
			"An opened container keeps for 4 days, less than it lasts.", "to buy: 1"}},
		{[]string{"by", "area", "area", "286", "times", "2", "days", "14", "product", two}, 200, []string{"1.3 g × 14 days = 18.2 g", "enough for 23 whole days", "Nothing to buy."}},
		{[]string{"by", "strip", "number", "127", "product", one}, 200, []string{"127 mm × 4 g ÷ 100 mm = 5.08 g", "Each time about 5.1 g"}},
		{[]string{"by", "strip", "number", "127", "product", two}, 422, []string{"Another tube has another nozzle."}},
		{[]string{"by", "strip", "number", "127"}, 422, []string{"Choose a cream of which Stores knows"}},
		{[]string{"by", "units", "number", "2", "product", vets}, 422, []string{"This is a prescription medicine. How much of it is used stands in the vet's plan."}},
		{[]string{"by", "area", "area", "1.500"}, 422, []string{"Did you mean 1.5 or 1 500?"}},
		{[]string{"by", "load", "area", "0", "number", "two"}, 422, []string{"This must be more than zero, and enough to be seen, like 50."}},
		{[]string{"area", "50"}, 422, []string{"Choose what it is worked out from."}},
		{[]string{"by", "units", "number", "0.0001"}, 422, []string{"This must be more than zero, and enough to be seen, like 50."}},
		{[]string{"by", "units", "number", "9999999999999999999999", "times", "9", "days", "9"}, 422, []string{"That is more than any horse takes. Check the zeros: write it like 50."}},
		{[]string{"by", "units", "number", "2", "times", "0", "days", "x"}, 422, []string{"This must be a whole number from 1 to 24, once an hour, like 2.", "This must be a whole number from 1 to 365, a year, like 2."}},
	} {
		sum(yard.Carer, "cream", c.fields...).Is(c.status).Says(c.says...)
	}
	form := yard.Owner.Get("/stores/product/"+one).Form("/stores/product/"+one, "name=Product of anything 1% w/w")
	yard.Owner.Send(form.With("strip", "0")).Is(422).Says("A strip of 100 mm weighs more than 0")
	wash, _ := concentrate(yard, "2% w/v")
	form = yard.Owner.Get("/stores/product/"+wash).Form("/stores/product/"+wash, "name=Wash concentrate A")
	yard.Owner.Send(form.With("strip", "4")).Is(422).Says("Only a cream is measured by the strip.")
}
