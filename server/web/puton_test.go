package web_test

import (
	"strings"
	"testing"
	"time"

	"leground/server/webtest"
	"leground/tracker"
)

// creamed is a yard in which 2 g of a cream go on both front legs of Bramble in the morning and the evening, with a tube of 30 g.
func creamed(t *testing.T, facts ...string) (site *webtest.Site, yard *webtest.Yard, product, tube string) {
	t.Helper()
	site = webtest.Start(t, webtest.Options{Now: time.Date(2026, 5, 14, 6, 30, 0, 0, time.UTC)}) // 07:30 in London
	yard = site.Marl()
	tube = bottleOf(yard, "anything", "1% w/w", "cream", facts...)
	product = productOf(yard.Carer.Get("/stores/bottle/" + tube))
	setSteps(yard, yard.Bramble, "owner", "leg=LF|RF", "s1_kind=apply", "s1_product="+product, "s1_amount=2 g", "s1_p1_often=2", "s1_p1_until=vet")
	return site, yard, product, tube
}

func productOf(bottle *webtest.Page) string {
	for _, a := range bottle.Is(200).Root().Named("a") {
		if id, ok := strings.CutPrefix(a.Attr["href"], "/stores/product/"); ok {
			return id
		}
	}
	bottle.TB.Fatal("the bottle has no product")
	return ""
}

// What a tick says was put on goes out of the tube, once however it is ticked: on the leg's line, again by the same post as
// a phone sends it, and on the Due list. What is taken back or put right is given back; what was not done takes nothing.
func TestATickTakesOutOfTheTube(t *testing.T) {
	_, yard, _, tube := creamed(t)
	left := func(says string) {
		t.Helper()
		yard.Carer.Get("/stores/bottle/" + tube).Says(says + " left").Silent("disagree")
	}
	left("30 g")
	line := yard.Carer.Line(yard.Bramble, "LF").With("clear", "1").With("care", "applied")
	yard.Carer.Send(line).Redirects("/round?saved=")
	left("28 g")
	yard.Carer.Send(line).Redirects("/round?saved=")
	left("28 g")
	yard.Carer.Get("/stores/bottle/"+tube).Says("opened Thu 14 May", "used on a horse, 2 g, Thu 14 May: Bramble LF, morning round")
	yard.Carer.Send(yard.Carer.Line(yard.Bramble, "RF").With("clear", "1").With("care", "dried")).Redirects("/round?saved=")
	left("28 g") // not ticked, not taken

	due := yard.Carer.Get("/due")
	tick := due.Form("/due/tick", "slot=morning") // the right leg only: the left is done
	yard.Carer.Send(tick).Redirects("/due")
	yard.Carer.Send(tick).Redirects("/due")
	left("26 g")
	yard.Owner.Send(due.Form("/due/tick", "slot=morning").With("record", newID())).Redirects("/due") // had the list open before
	left("26 g")
	yard.Carer.Get("/stores").Says("26 g left")

	check := yard.Carer.Get("/check/" + line.Values.Get("record")).Is(200)
	yard.Carer.Send(check.Form("/round/leg").With("care", "dried")).Redirects("/check/") // it was put right
	left("28 g")
	yard.Carer.Get("/stores/bottle/" + tube).Says("given back, since its tick was taken back, 2 g, Thu 14 May: Bramble LF, morning round")
	skip := yard.Carer.Get("/due").Form("/due/tick", "slot=morning", "outcome=skipped").With("why", "would not stand")
	yard.Carer.Send(skip).Redirects("/due")
	left("28 g")
	for range 2 { // two ticked the right leg, and both take it back
		yard.Carer.Send(yard.Carer.Get("/due").Form("/due/undo")).Redirects("/due")
	}
	yard.Carer.Send(yard.Carer.Get("/due").Form("/due/undo")).Redirects("/due")
	left("30 g")
	yard.Carer.Get("/stores").Says("30 g, sealed") // nothing was taken out of it after all
}

// What somebody sees left wins from then on, over what was put on before and is posted later too. What was put on before
// and is given back after changes nothing of it.
func TestWhatIsSeenLeftWins(t *testing.T) {
	site, yard, _, tube := creamed(t)
	late := yard.Carer.Line(yard.Bramble, "LF").With("clear", "1").With("care", "applied").With("at", site.Clock.Now().Format(time.RFC3339))
	first := yard.Carer.Line(yard.Bramble, "RF").With("clear", "1").With("care", "applied")
	yard.Carer.Send(first).Redirects("/round?saved=")
	site.Clock.Add(time.Hour)
	yard.Carer.Send(press(yard.Carer.Get("/stores/bottle/"+tube), "left").With("amount", "20 g")).Redirects("/stores/bottle/")
	site.Clock.Add(time.Hour)
	yard.Carer.Send(late).Redirects("/round?saved=") // a phone that had no signal
	yard.Carer.Get("/stores/bottle/"+tube).Says("20 g left", "Bramble LF, morning round")
	yard.Carer.Send(yard.Carer.Get("/check/" + first.Values.Get("record")).Form("/round/undo")).Redirects("/check/")
	yard.Carer.Get("/stores/bottle/" + tube).Says("20 g left")
	site.Clock.Add(10 * time.Hour) // the evening round
	yard.Carer.Send(yard.Carer.Get("/due").Form("/due/tick", "slot=evening")).Redirects("/due")
	yard.Carer.Get("/stores/bottle/" + tube).Says("16 g left")
}

// The open tube comes before the sealed one, and what it does not hold comes out of the next. Care is never refused: what
// no tube had by the book is said, with what to do about it, until somebody has looked.
func TestMorePutOnThanTheBookHas(t *testing.T) {
	site, yard, product, tube := creamed(t)
	next := comes(yard.Owner, product, "1% w/w", "30 g")
	yard.Carer.Send(press(yard.Carer.Get("/stores/bottle/"+next), "left").With("amount", "1 g")).Redirects("/stores/bottle/")
	yard.Carer.Send(press(yard.Carer.Get("/stores/bottle/"+tube), "left").With("amount", "3 g")).Redirects("/stores/bottle/")
	yard.Carer.Send(press(yard.Carer.Get("/stores/bottle/"+next), "opened").With("opened", "2026-05-13")).Redirects("/stores/bottle/")
	yard.Carer.Send(yard.Carer.Line(yard.Bramble, "LF").With("clear", "1").With("care", "applied")).Redirects("/round?saved=")
	yard.Carer.Get("/stores/bottle/"+next).Says("0 g left", "used on a horse, 1 g")
	yard.Carer.Get("/stores/bottle/"+tube).Says("2 g left", "used on a horse, 1 g")
	yard.Carer.Get("/stores").Silent("disagree")
	site.Clock.Add(12 * time.Hour)
	yard.Carer.Send(yard.Carer.Get("/due").Form("/due/tick", "slot=evening")).Redirects("/due") // 4 g, and 2 g are there
	says := "The book and the shelf disagree: since Thu 14 May 2 g were used on horses that by the book no bottle had. Look at the bottle in use and write down what is left in it, as seen."
	yard.Carer.Get("/stores").Says(says)
	yard.Carer.Get("/stores/product/"+product).Says(says, "0 g left")
	site.Clock.Add(time.Minute)
	yard.Carer.Send(press(yard.Carer.Get("/stores/bottle/"+tube), "left").With("amount", "9 g")).Redirects("/stores/bottle/")
	yard.Carer.Get("/stores").Says("9 g left").Silent("disagree")
	site.Clock.Add(12 * time.Hour)
	yard.Carer.Send(yard.Carer.Line(yard.Bramble, "LF").With("clear", "1").With("care", "applied")).Redirects("/round?saved=")
	yard.Carer.Get("/stores").Says("7 g left").Silent("disagree")
}

// A product of which Stores has no bottle, or only one that is past its time, is put on all the same.
func TestPutOnFromNoBottle(t *testing.T) {
	site, yard, product, tube := creamed(t, "in_use_days", "1")
	yard.Carer.Send(yard.Carer.Line(yard.Bramble, "LF").With("clear", "1").With("care", "applied")).Redirects("/round?saved=")
	site.Clock.Add(48 * time.Hour)
	yard.Carer.Send(yard.Carer.Line(yard.Bramble, "LF").With("clear", "1").With("care", "applied")).Redirects("/round?saved=")
	yard.Carer.Get("/stores").Says("28 g left", "past its throw-away time", "since Sat 16 May 2 g were used on horses that by the book no bottle had")
	yard.Carer.Send(press(yard.Carer.Get("/stores/bottle/"+tube), "used-up")).Redirects("/stores/bottle/")
	yard.Carer.Get("/stores").Silent("disagree") // it was looked at, and nothing is left
	site.Clock.Add(time.Minute)
	yard.Carer.Send(yard.Carer.Line(yard.Bramble, "RF").With("clear", "1").With("care", "applied")).Redirects("/round?saved=")
	yard.Carer.Get("/stores").Says("There is no bottle of it.", "2 g were used on horses that by the book no bottle had", "By the plans about")
	site.Clock.Add(time.Minute)
	comes(yard.Owner, product, "1% w/w", "30 g")
	yard.Owner.Get("/stores").Says("30 g, sealed").Silent("disagree")
}

// Without an amount, or with one that cannot be counted as the tube is, nothing is guessed, and Stores says so.
func TestPutOnWithoutAnAmount(t *testing.T) {
	_, yard, product, tube := creamed(t)
	yard.Carer.Get("/stores").Silent("not counted")
	for _, amount := range []string{"", "2 mL"} {
		setSteps(yard, yard.OldTom, "owner", "whole=1", "s1_kind=apply", "s1_product="+product, "s1_amount="+amount, "s1_p1_often=2", "s1_p1_until=vet")
		yard.Carer.Send(yard.Carer.Line(yard.OldTom, map[string]string{"": "LF", "2 mL": "RF"}[amount]).With("clear", "1").With("care", "applied")).Redirects("/round?saved=")
		yard.Carer.Get("/stores").Says("A plan uses it and does not say how much each time in g, or nobody has read that plan back. What it takes is not counted.").Silent("disagree")
		yard.Carer.Get("/stores/bottle/" + tube).Says("30 g left").Silent("used on a horse")
		stop(yard, yard.OldTom)
	}
}

// stop ends the plans of a horse.
func stop(yard *webtest.Yard, horse tracker.HorseID) {
	yard.Owner.TB.Helper()
	path := "/horse/" + string(horse) + "/plan"
	for _, f := range yard.Owner.Get(path).Forms() {
		if strings.HasSuffix(f.Action, "/stop") {
			yard.Owner.Send(f.With("why", "enough")).Redirects(path)
		}
	}
}

// A wash comes out of what was mixed for it, and its concentrate is not counted twice: 25 mL of 2% make 1 L, of which one
// leg takes 500 mL. What no mix had is said, and that a wash without an amount is not counted.
func TestAWashComesOutOfItsMix(t *testing.T) {
	site := webtest.Start(t, webtest.Options{Now: time.Date(2026, 5, 14, 6, 30, 0, 0, time.UTC)})
	yard := site.Marl()
	product, bottle := concentrate(yard, "2% w/v")
	path := "/horse/" + string(yard.Bramble) + "/plan"
	form := yard.Owner.Get(path+"/new").Form(path).With("leg", "LF", "RF", "RH").With("source", "owner").With("s1_kind", "wash").With("s1_product", product).With("s1_strength", "0.05% w/v").
		With("s1_p1_often", "2").With("s1_p1_every", "1").With("s1_p1_until", "vet")
	yard.Owner.Send(form.With("s1_amount", "5 g").With("do", "look")).Is(422).Says("How much of a wash goes on a leg is in mL, like 250 mL.")
	setPlan(yard, form)
	const unsaid = "A plan does not say how much of its wash a leg takes. Ticks do not count that mix down."
	yard.Carer.Get("/stores").Silent(unsaid) // there is no mix
	old := mixes(yard.Carer, bottle, "0.05% w/v", "1 L")
	yard.Carer.Get("/stores").Says(unsaid)
	yard.Carer.Send(press(yard.Carer.Get("/mix/"+old), "used-up")).Redirects("/mix/")
	yard.Carer.Get("/stores").Silent(unsaid)
	stop(yard, yard.Bramble)
	form = form.With("record", newID()).With("s1_id", newID())
	setPlan(yard, form.With("s1_amount", "500 mL"))
	yard.Carer.Get("/due").Says("Wash with Wash concentrate A at 0.05 g per 100 mL of chlorhexidine gluconate, 500 mL on each leg")
	mix := mixes(yard.Carer, bottle, "0.05% w/v", "1 L")
	yard.Carer.Get("/stores").Says("450 mL left", "1 000 mL left")
	site.Clock.Add(time.Minute)
	for _, leg := range []string{"LF", "RF"} {
		yard.Carer.Send(yard.Carer.Line(yard.Bramble, leg).With("clear", "1").With("care", "washed")).Redirects("/round?saved=")
	}
	yard.Carer.Get("/mix/"+mix).Says("By the book nothing is left of it.", "used on a horse, 500 mL: Bramble LF, morning round", "used on a horse, 500 mL: Bramble RF, morning round")
	yard.Carer.Get("/stores").Says("450 mL left").Silent("disagree")
	yard.Carer.Send(yard.Carer.Line(yard.Bramble, "RH").With("clear", "1").With("care", "washed")).Redirects("/round?saved=")
	left := press(yard.Carer.Get("/mix/"+mix).Says("By the book it is 0 mL."), "left")
	yard.Carer.Send(left).Is(422).Says("Say how much is left, like 180 mL.")
	yard.Carer.Send(left.With("amount", "2 L")).Is(422).Says("What is left must be in mL and at most what there was when it was mixed.")
	yard.Carer.Send(left.With("amount", "150 mL")).Redirects("/mix/")
	yard.Carer.Get("/mix/"+mix).Says("By the book it is 150 mL.", "looked at what is left, 150 mL").Silent("nothing is left")
	yard.Carer.Get("/stores").Says("450 mL left", "since Thu 14 May 500 mL of a wash of 0.05 g per 100 mL of chlorhexidine gluconate were used that by the book no mix had.")
}

// What a label or whoever set a plan allows at one time holds for all legs together (R12): 150 cm² on each of two legs are
// 300 cm². With either recorded the area must be said; at the limit itself it is allowed. The amounts are invented.
func TestAreaAboveTheMost(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	cream := productOf(yard.Carer.Get("/stores/bottle/" + bottleOf(yard, "anything", "1% w/w", "cream", "most_cm2", "250")))
	yard.Carer.Get("/stores/product/" + cream).Says("Largest area at one time 250 cm²")
	facts := yard.Owner.Get("/stores/product/"+cream).Form("/stores/product/"+cream, "name=Product of anything 1% w/w")
	if facts.Values.Get("most_cm2") != "250" {
		t.Errorf("the form starts from %v", facts.Values)
	}
	yard.Owner.Send(facts.With("most_cm2", "0")).Is(422).Says("An area must be more than 0 and at most 100 000 cm², like 200.")
	yard.Owner.Send(facts.With("most_cm2", "1.500")).Is(422).Says("Did you mean 1.5 or 1 500?")
	path := "/horse/" + string(yard.Bramble) + "/plan"
	form := yard.Owner.Get(path+"/new").Form(path).With("leg", "LF", "RF").With("source", "vet").With("set_name", "Marl vets").With("s1_kind", "apply").
		With("s1_of", "barrier cream").With("s1_amount", "2 g").With("s1_p1_often", "1").With("s1_p1_every", "1").With("s1_p1_until", "vet").With("do", "look")
	yard.Owner.Send(form).Is(200)
	yard.Owner.Send(form.With("s1_area", "150").With("s1_most", "200")).Is(422).Says("An area of 300 cm² is above the most that the vet allows at one time: 200 cm². Ring the vet.")
	yard.Owner.Send(form.With("s1_most", "200")).Is(422).Says("Say how large the area on each leg is, since the most that is allowed is recorded.")
	yard.Owner.Send(form.With("s1_product", cream)).Is(422).Says("Say how large the area on each leg is")
	yard.Owner.Send(form.With("s1_product", cream).With("s1_area", "150").With("s1_most", "300")).Is(422).
		Says("An area of 300 cm² is above the most that the label of Product of anything 1% w/w allows at one time: 250 cm².").Silent("the vet allows")
	plan := setPlan(yard, form.With("s1_product", cream).With("s1_area", "112.5").With("s1_most", "225"))
	yard.Carer.Get(path).Says("Put on Product of anything 1% w/w 2 g on 112.5 cm² on each leg")
	change := yard.Owner.Get("/plan/" + plan + "/change").Form(path)
	if change.Values.Get("s1_area") != "112.5" || change.Values.Get("s1_most") != "225" {
		t.Errorf("a change of the plan starts from %v", change.Values)
	}
	yard.Owner.Send(change.With("leg", "LF", "RF", "RH").With("do", "look")).Is(422).Says("An area of 337.5 cm² is above the most that the vet allows at one time: 225 cm².")
}

// A medicine by weight goes out of its bottle at each tick, by the vet's order as it was rounded: 37 mL of 100 mg/mL. While
// nobody has read the plan back its amount is hidden, and nothing is counted. Its strength must be that of Stores.
func TestAMedicineComesOutOfItsBottle(t *testing.T) {
	site := webtest.Start(t, webtest.Options{Now: time.Date(2026, 5, 14, 6, 30, 0, 0, time.UTC)})
	yard := site.Marl()
	bottle := bottleOf(yard, "anything", "100 mg/mL", "solution", "prescription", "1")
	product := productOf(yard.Carer.Get("/stores/bottle/" + bottle))
	form := doseForm(yard).With("s1_product", product).With("s1_measure", "60 mL syringe, 1 mL marks")
	yard.Owner.Send(form.With("s1_label", "50 mg/mL").With("do", "look")).Is(422).Says("That is not the strength of Product of anything 100 mg/mL in Stores.")
	plan := setPlan(yard, form)
	yard.Carer.Get("/stores").Says("1 000 mL left", "nobody has read that plan back. What it takes is not counted.").Silent("74", "By the plans")
	read := yard.Carer.Get("/plan/" + plan).Form("/plan/" + plan + "/read")
	step := form.Values.Get("s1_id")
	yard.Carer.Send(read.With(step+"_weight", "740").With(step+"_label", "100 mg/mL")).Redirects("/plan/" + plan)
	yard.Carer.Get("/stores").Silent("not counted").Says("By the plans about 333 mL go in the 7 days until a delivery comes.") // the 9 doses still to come
	yard.Carer.Send(yard.Carer.Get("/due").Form("/due/tick", "slot=morning")).Redirects("/due")
	yard.Carer.Get("/stores").Says("963 mL left")
	yard.Carer.Get("/stores/bottle/" + bottle).Says("used on a horse, 37 mL, Thu 14 May: Bramble morning round")
	yard.Carer.Send(yard.Carer.Get("/due").Form("/due/undo")).Redirects("/due")
	yard.Carer.Get("/stores").Says("1 000 mL left")
}

// A medicine that was ticked before anybody had read its plan back is counted with the next tick of its round after that.
func TestAMedicineTickedBeforeItIsReadBack(t *testing.T) {
	site := webtest.Start(t, webtest.Options{Now: time.Date(2026, 5, 14, 6, 30, 0, 0, time.UTC)})
	yard := site.Marl()
	product := productOf(yard.Carer.Get("/stores/bottle/" + bottleOf(yard, "anything", "100 mg/mL", "solution", "prescription", "1")))
	form := doseForm(yard).With("s1_product", product).With("s1_measure", "60 mL syringe, 1 mL marks")
	plan, step := setPlan(yard, form), form.Values.Get("s1_id")
	open := yard.Owner.Get("/due").Form("/due/tick", "slot=morning")
	yard.Carer.Send(yard.Carer.Get("/due").Form("/due/tick", "slot=morning")).Redirects("/due")
	yard.Carer.Get("/stores").Says("1 000 mL left")
	read := yard.Carer.Get("/plan/" + plan).Form("/plan/" + plan + "/read")
	yard.Carer.Send(read.With(step+"_weight", "740").With(step+"_label", "100 mg/mL")).Redirects("/plan/" + plan)
	yard.Owner.Send(open).Redirects("/due")
	yard.Owner.Get("/stores").Says("963 mL left")
}

// A plan that is stopped in its morning leaves what was ticked on the Due list, with its Undo; taken back, the tube has it again.
func TestWhatAStoppedPlanPutOnCanBeTakenBack(t *testing.T) {
	_, yard, _, tube := creamed(t)
	yard.Carer.Send(yard.Carer.Get("/due").Form("/due/tick", "slot=morning")).Redirects("/due")
	yard.Carer.Get("/stores/bottle/" + tube).Says("26 g left")
	var plan string
	for _, a := range yard.Owner.Get("/horse/" + string(yard.Bramble) + "/plan").Root().Named("a") {
		if id, ok := strings.CutSuffix(strings.TrimPrefix(a.Attr["href"], "/plan/"), "/change"); ok {
			plan = id
		}
	}
	yard.Owner.Send(yard.Owner.Get("/plan/"+plan).Form("/plan/"+plan+"/stop").With("why", "the vet said so")).Redirects("/plan/" + plan)
	due := yard.Carer.Get("/due").Says("LF done 07:30 by Bea", "The plan asks for this no more.").Silent("Nothing is due by a plan")
	if actions(due)["/due/tick"] {
		t.Error("a stopped plan still asks")
	}
	yard.Carer.Get("/stores/bottle/" + tube).Says("26 g left")
	yard.Carer.Send(due.Form("/due/undo")).Redirects("/due")
	yard.Carer.Get("/stores/bottle/" + tube).Says("30 g left")
	yard.Carer.Get("/due").Says("Nothing is due by a plan")
}
