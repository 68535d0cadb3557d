package web_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"leground/server/webtest"
	"leground/tracker/mixing"
)

// ruleShelf is a yard with a bottle for each rule about mixes.
type ruleShelf struct {
	*webtest.Yard
	site    *webtest.Site
	bottles map[string]string // by a short name
}

// works is a mix on whole skin, so that only what is asked for speaks.
func (s ruleShelf) works(name, want, volume string, more ...string) *webtest.Page {
	return works(s.Carer, s.bottles[name], want, volume, append([]string{"skin=whole"}, more...)...)
}

func (s ruleShelf) add(name, of, strength, form string, facts ...string) {
	s.bottles[name] = bottleOf(s.Yard, of, strength, form, facts...)
}

// records makes a mix from a page of the second step, ticking all that it warns of, and gives its id. Without the
// ticks the same form is refused.
func records(p *webtest.Person, page *webtest.Page) string {
	p.TB.Helper()
	form := page.Is(200).Form("/mix", "shown="+shownIn(page))
	var ticks []string
	for _, input := range page.Root().Named("input") {
		if input.Attr["name"] == "tick" {
			ticks = append(ticks, input.Attr["value"])
		}
	}
	for n := range 3 {
		form = form.With("choice", string(rune('0'+n)))
		if len(ticks) > 0 {
			p.Send(form).Is(422).Says("Tick that you have read this")
		}
		if p.Send(form.With("tick", ticks...)).Status == 303 {
			return form.Values.Get("record")
		}
	}
	p.TB.Fatalf("no answer is right:\n%s", page.Text())
	return ""
}

// ruleWays brings each rule to somebody on a page, by its one cause, with its words. Where it is a rule of a mix the page
// gives its id and source beside it.
var ruleWays = []struct {
	id    string
	words string
	asks  func(s ruleShelf) *webtest.Page
}{
	{"R1", "The bottle is weaker than the plan asks for. Nothing you add can make it stronger.", func(s ruleShelf) *webtest.Page { return s.works("wash", "5% w/v", "1 L") }},
	{"R2", "The bottle is by volume and the wanted strength by weight.", func(s ruleShelf) *webtest.Page { return s.works("wash", "0.05% w/w", "1 L") }},
	{"R3", "Units of potency cannot be turned into weight.", func(s ruleShelf) *webtest.Page { return s.works("units", "1% w/v", "1 L") }},
	{"R4", "Two salts are not the same medicine.", func(s ruleShelf) *webtest.Page {
		return s.works("wash", "0.05% w/v", "1 L", "of=chlorhexidine acetate")
	}},
	{"R5", "A colon ratio has two meanings.", func(s ruleShelf) *webtest.Page { return s.works("wash", "1:40", "1 L") }},
	{"R6", "Did you mean 1.5 or 1 500?", func(s ruleShelf) *webtest.Page { return s.works("wash", "0.05% w/v", "1.500 L") }},
	{"R7", "Bleach and an acid make chlorine gas.", func(s ruleShelf) *webtest.Page {
		mixes(s.Carer, s.bottles["vinegar"], "0.5% w/v", "200 mL", "horse="+string(s.Bramble))
		return s.works("bleach", "0.05% w/v", "1 L", "horse="+string(s.Bramble))
	}},
	{"R9", "This bottle is already diluted. The parts on the label are for the bottle as bought.", func(s ruleShelf) *webtest.Page {
		mix := mixes(s.Carer, s.bottles["wash"], "0.05% w/v", "1 L")
		return s.works("wash", "1 in 40", "100 mL", "stock=mix:"+mix, "says=mix:"+mix)
	}},
	{"R10", "Essential oil is never used undiluted. A few drops have made animals very ill.", func(s ruleShelf) *webtest.Page { return s.works("oil", "100% v/v", "50 mL") }},
	{"R11", "Hydrogen peroxide must not go into a puncture or a closed wound.", func(s ruleShelf) *webtest.Page {
		return s.works("peroxide", "1% w/v", "300 mL", "closed=1")
	}},
	{"R12", "This is a prescription medicine. Record the vet's instruction first.", func(s ruleShelf) *webtest.Page { return s.works("prescription", "1% w/v", "100 mL") }},
	{"R12", "An area of 300 cm² is above the most that the label of Product of anything 3% w/w allows at one time: 200 cm². Ring the vet.", func(s ruleShelf) *webtest.Page {
		return sum(s.Carer, "cream", "product", productOf(s.Carer.Get("/stores/bottle/"+s.bottles["cream"])), "by", "area", "area", "300")
	}},
	{"R13", "Hypochlorite above 0.5 g per 100 mL is never put on skin or a wound.", func(s ruleShelf) *webtest.Page { return s.works("bleach", "0.6% w/v", "1 L") }},
	{"R14", "This bleach is scented. Its strength cannot be trusted, so use plain bleach.", func(s ruleShelf) *webtest.Page { return s.works("scented", "0.05% w/v", "1 L") }},
	{"R15", "Use a finer measure or make a larger batch.", func(s ruleShelf) *webtest.Page {
		return s.works("wash", "0.05% w/v", "1 L", "device=100 mL cylinder, 30 mL marks")
	}},
	{"W1", "Chlorhexidine this strong harms cells in open skin.", func(s ruleShelf) *webtest.Page { return s.works("wash", "0.1% w/v", "1 L", "skin=open") }},
	{"W2", "This is a scrub with detergent.", func(s ruleShelf) *webtest.Page { return s.works("scrub", "0.05% w/v", "1 L", "skin=open") }},
	{"W3", "Keep this away from eyes and ears. A splash can harm the eye for good.", func(s ruleShelf) *webtest.Page {
		return s.works("wash", "0.05% w/v", "1 L", "near_eye=1")
	}},
	{"W4", "A wound near a joint, tendon sheath or the sole can reach inside. Ring the vet now.", func(s ruleShelf) *webtest.Page {
		return s.works("wash", "0.05% w/v", "1 L", "near_joint=1")
	}},
	{"W5", "A bandage makes the skin take up more.", func(s ruleShelf) *webtest.Page { return s.works("wash", "0.05% w/v", "1 L", "bandage=1") }},
	{"W6", "Chlorhexidine in tap water can turn hazy.", func(s ruleShelf) *webtest.Page { return s.works("wash", "0.05% w/v", "1 L", "with=tap water") }},
	{"W7", "Soap or shampoo makes chlorhexidine useless. Rinse it off first.", func(s ruleShelf) *webtest.Page {
		return s.works("wash", "0.05% w/v", "1 L", "soap=1")
	}},
	{"W8", "Chlorhexidine and iodine can undo each other.", func(s ruleShelf) *webtest.Page {
		mixes(s.Carer, s.bottles["iodine"], "0.1% w/v", "1 L", "horse="+string(s.OldTom))
		return s.works("wash", "0.05% w/v", "1 L", "horse="+string(s.OldTom))
	}},
	{"W9", "20% weaker than wanted", func(s ruleShelf) *webtest.Page {
		page := s.works("wash", "0.05% w/v", "100 mL", "device=5 mL syringe, 1 mL marks")
		records(s.Carer, page)
		return page
	}},
	{"W10", "Spoons differ from 5 to 20 mL.", func(s ruleShelf) *webtest.Page {
		return s.works("wash", "0.05% w/v", "1 L", "device_other=5 mL spoon")
	}},
	{"W11", "The weight is an estimate: it may be from 666 to 814 kg. A scale is better.", func(s ruleShelf) *webtest.Page {
		return s.Owner.Send(doseForm(s.Yard).With("s1_estimated", "1").With("do", "look"))
	}},
	{"W12", "The human label warns of iodine on large wounds, the young, the pregnant and in long courses.", func(s ruleShelf) *webtest.Page {
		return s.works("iodine", "0.1% w/v", "1 L", "delicate=1")
	}},
	{"W13", "The last batch of this plan was 0.04 g per 100 mL. This one is not.", func(s ruleShelf) *webtest.Page {
		form := s.Carer.Get(washLink(s.Yard, "1 L")).Is(200).Form("/mix")
		form = form.With("stock", "bottle:"+s.bottles["wash"]).With("says", "bottle:"+s.bottles["wash"]).With("recent")
		weak := form.With("make", "100 mL").With("device", "5 mL syringe, 1 mL marks")
		records(s.Carer, s.Carer.Get("/mix?"+weak.Values.Encode()))
		return s.Carer.Get("/mix?" + form.Values.Encode()).Is(200)
	}},
	{"W14", "The recipe says 0.05 g per 100 mL. From the label it makes 0.025 g per 100 mL, 50% weaker.", func(s ruleShelf) *webtest.Page {
		return sum(s.Carer, "recipe", "stock1", "bottle:"+s.bottles["wash"], "amount1", "25 mL", "amount2", "2 L", "claim", "0.05% w/v")
	}},
	{"W15", "This horse is not declared out of the food chain.", func(s ruleShelf) *webtest.Page { return s.works("food", "1% w/v", "100 mL") }},
	{"W17", "Hypochlorite this weak did not kill reliably in the laboratory.", func(s ruleShelf) *webtest.Page { return s.works("bleach", "90 ppm w/v", "5 L") }},
	{"W18", "Your jug has no line at 330 mL. Its nearest lines are 300 mL and 350 mL.", func(s ruleShelf) *webtest.Page { return s.works("wash", "0.5% w/v", "330 mL") }},
	// The last two wait for a day.
	{"R8", "This is past its throw-away time (24 hours after mixing). Throw it away.", oldMix},
	{"W16", "This was diluted more than 24 hours ago. No label, vet or monograph lets it keep longer.", oldMix},
}

func oldMix(s ruleShelf) *webtest.Page {
	mix := mixes(s.Carer, s.bottles["wash"], "0.05% w/v", "1 L")
	s.site.Clock.Add(24 * time.Hour)
	return s.works("wash", "0.02% w/v", "100 mL", "stock=mix:"+mix, "says=mix:"+mix)
}

// doseForm fills in a plan for a medicine by weight: 5 mg for each kg of 740 kg, of 100 mg/mL.
func doseForm(y *webtest.Yard) webtest.Form {
	path := "/horse/" + string(y.Bramble) + "/plan"
	return y.Owner.Get(path+"/new").Form(path).With("whole", "1").With("source", "vet").With("set_name", "Marl vets").With("s1_kind", "give").With("s1_of", "Paste B").
		With("s1_label", "100 mg/mL").With("s1_per_kg", "5").With("s1_weight", "740").With("s1_max_per_kg", "5.1").With("s1_p1_often", "2").With("s1_p1_until", "days").With("s1_p1_count", "5")
}

// Every rule about mixes and doses reaches somebody on a page, in its words; a mix that wants none of them shows none.
func TestEveryRuleReachesAPage(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	s := ruleShelf{site.Marl(), site, map[string]string{}}
	_, s.bottles["wash"] = concentrate(s.Yard, "2% w/v")
	s.add("units", "anything", "500 units/mL", "solution")
	s.add("vinegar", "acetic acid", "5% w/v", "solution")
	s.add("bleach", "sodium hypochlorite", "5% w/v", "solution")
	s.add("oil", "tea tree oil", "100% v/v", "solution")
	s.add("peroxide", "hydrogen peroxide", "3% w/v", "solution")
	s.add("prescription", "anything", "5% w/v", "solution", "prescription", "1")
	s.add("scented", "sodium hypochlorite", "4% w/v", "solution", "bleach_doubt", "scented")
	s.add("scrub", "chlorhexidine gluconate", "4% w/v", "scrub")
	s.add("iodine", "povidone-iodine", "10% w/v", "solution")
	s.add("food", "anything", "4% w/v", "solution", "food_note", "not for horses meant for food")
	s.add("cream", "anything", "3% w/w", "cream", "most_cm2", "200")
	calm := s.works("wash", "0.05% w/v", "1 L").Is(200)
	var tried []string
	for _, way := range ruleWays {
		if strings.Contains(calm.Text(), way.words) {
			t.Errorf("%s speaks without a cause", way.id)
		}
		page := way.asks(s).Says(way.words)
		beside := !slices.Contains(strings.Fields("R5 R6 R8 W11 W16"), way.id) // these stand beside a field or a bottle
		if beside && !strings.Contains(page.Text(), way.id+". Source: ") {
			t.Errorf("%s: the page does not say whose rule it is:\n%s", way.id, page.Text())
		}
		if way.id[0] == 'R' {
			page.Silent("Mixed. Write the label")
		}
		tried = append(tried, way.id)
	}
	for _, rule := range mixing.Rules() {
		if !slices.Contains(tried, rule.ID) {
			t.Errorf("%s reaches no page", rule.ID)
		}
	}
}

// A dose is rounded to the measure each time, and the course counts the rounded doses: 5 mg/kg of 745 kg at 100 mg/mL is
// 37.25 mL, given as 37 mL, and ten of these are 370 mL, not 372.5.
func TestADoseIsRoundedThenCounted(t *testing.T) {
	yard := webtest.Start(t, webtest.Options{}).Marl()
	form := doseForm(yard).With("s1_weight", "745").With("s1_measure", "60 mL syringe, 1 mL marks")
	yard.Owner.Send(form.With("do", "look")).Is(200).Says("Give Paste B 37 mL", "dose = 5 × 745 ÷ 100 mg/mL = 37.25 mL", "course = 37 mL × 2 × 5 = 370 mL", "37 mL gives about 4.966 mg per kg.", "37.25 mL rounded to 37 mL: your measure has 1 mL marks.")
	yard.Owner.Send(form.With("s1_weight", "").With("do", "look")).Is(422).Says("must carry the dose per kg, the weight")
	yard.Owner.Send(form.With("source", "owner").With("do", "look")).Is(422).Says("Only the vet can set a medicine")
}

// A powder is weighed and topped up to the line: 35% chlorine lime to 0.5% is 14.3 g in a litre (CDC, preparation of
// chlorine solutions, as printed).
func TestPowderOnThePage(t *testing.T) {
	yard := webtest.Start(t, webtest.Options{}).Marl()
	concentrate(yard, "2% w/v")
	powder := bottleOf(yard, "available chlorine", "35% w/w", "powder")
	page := works(yard.Carer, powder, "0.5% w/v", "1 L", "skin=no", "device_other=100 g scale, 0.1 g marks").Is(200).
		Says("Add Product of available chlorine 35% w/w: 14.3 g.", "Top up with boiled and cooled water to the 1 000 mL line.", "about 14.29 g", "Makes 0.501 instead of 0.5 g per 100 mL")
	records(yard.Carer, page)
	yard.Carer.Get("/stores").Says("15.7 g left")
}
