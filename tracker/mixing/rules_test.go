package mixing_test

import (
	"math/big"
	"slices"
	"strings"
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/mixing"
)

var noon = time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)

// plain is a mix that no rule speaks against: 1 L of a substance on whole skin.
func plain(t testing.TB, of, have, want string) mixing.Request {
	t.Helper()
	r := mixing.Request{Kind: mixing.MakeUpTo, Amount: mixing.Millilitres(1000), Mark: tracker.Point, Now: noon, Want: strength(t, want, of)}
	r.Stock.Label = strength(t, have, of)
	r.Use.Skin = mixing.IntactSkin
	return r
}

// ruleCases name, for each rule about a mix, the one thing that makes it speak.
var ruleCases = []struct {
	id, of, have, want string
	make               func(*testing.T, *mixing.Request)
}{
	{"R1", "anything", "5% w/v", "1% w/v", func(t *testing.T, r *mixing.Request) { r.Want = strength(t, "6% w/v", "anything") }},
	{"R1", "anything", "5% w/v", "1% w/v", func(_ *testing.T, r *mixing.Request) { r.Amount.Value = new(big.Rat) }},
	{"R1", "anything", "5% w/v", "1% w/v", func(_ *testing.T, r *mixing.Request) { r.Kind = 0 }},
	{"R1", "anything", "5% w/v", "1% w/v", func(_ *testing.T, r *mixing.Request) { r.Stock.Label = mixing.Strength{} }},
	{"R1", "anything", "5% w/v", "1% w/v", func(t *testing.T, r *mixing.Request) { r.Devices = []mixing.Device{device(t, "15 mL tablespoon")} }},
	{"R1", "anything", "5% w/v", "0.001% w/v", func(t *testing.T, r *mixing.Request) {
		r.Devices = []mixing.Device{device(t, "20 mL syringe, 1 mL marks")}
	}},
	{"R2", "anything", "5% w/v", "1% w/v", func(t *testing.T, r *mixing.Request) { r.Stock.Label = strength(t, "5% w/w", "anything") }},
	{"R2", "anything", "5% w/v", "1% w/v", func(t *testing.T, r *mixing.Request) { r.Amount = amount(t, "500 g") }},
	{"R3", "anything", "5% w/v", "1% w/v", func(t *testing.T, r *mixing.Request) { r.Stock.Label = strength(t, "500 units/mL", "anything") }},
	{"R4", "chlorhexidine gluconate", "5% w/v", "1% w/v", func(_ *testing.T, r *mixing.Request) { r.Stock.Label.Of = "chlorhexidine acetate" }},
	{"R4", "povidone-iodine", "5% w/v", "0.1% w/v", func(_ *testing.T, r *mixing.Request) { r.Want.Of = mixing.AvailableIodine }},
	{"R7", "sodium hypochlorite", "5% w/v", "0.05% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.Recent = []mixing.Substance{"acetic acid"} }},
	{"R7", "dimethyl sulfoxide", "90% w/v", "50% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.Recent = []mixing.Substance{"copper naphthenate"} }},
	{"R7", "iodine tincture", "5% w/v", "1% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.Bandage = true }},
	{"R8", "anything", "5% w/v", "1% w/v", func(_ *testing.T, r *mixing.Request) { r.Stock.GoodUntil = noon }},
	{"R8", "anything", "5% w/v", "1% w/v", func(_ *testing.T, r *mixing.Request) {
		r.Stock.GoodUntil, r.Now = noon, time.Time{}
	}},
	{"R9", "anything", "5% w/v", "1% w/v", func(_ *testing.T, r *mixing.Request) { r.ByParts, r.Stock.Diluted = true, true }},
	{"R10", "tea tree oil", "100% v/v", "1% v/v", func(t *testing.T, r *mixing.Request) { r.Want = strength(t, "100% v/v", "tea tree oil") }},
	{"R11", "hydrogen peroxide", "3% w/v", "1% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.Closed = true }},
	{"R12", "anything", "5% w/v", "1% w/v", func(_ *testing.T, r *mixing.Request) { r.Stock.Prescription = true }},
	{"R12", "anything", "5% w/v", "1% w/v", func(t *testing.T, r *mixing.Request) { r.Ceiling = ptr(strength(t, "0.9% w/v", "anything")) }},
	{"R12", "anything", "5% w/v", "1% w/v", func(t *testing.T, r *mixing.Request) { r.Stock.Strongest = ptr(strength(t, "9 mg/mL", "anything")) }},
	{"R12", "anything", "5% w/v", "1% w/v", func(t *testing.T, r *mixing.Request) { r.Ceiling = ptr(strength(t, "2% w/w", "anything")) }},
	{"R13", "sodium hypochlorite", "5% w/v", "0.5% w/v", func(t *testing.T, r *mixing.Request) { r.Want = strength(t, "0.51% w/v", "sodium hypochlorite") }},
	{"R14", "sodium hypochlorite", "5% w/v", "0.05% w/v", func(_ *testing.T, r *mixing.Request) { r.Stock.BleachDoubt = "scented" }},
	{"R15", "anything", "1% w/v", "0.0234% w/v", func(t *testing.T, r *mixing.Request) {
		r.Devices = []mixing.Device{device(t, "100 mL cylinder, 5 mL marks")}
	}},
	{"W1", "chlorhexidine gluconate", "5% w/v", "0.06% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.Skin = mixing.OpenSkin }},
	{"W1", "chlorhexidine base", "5% w/v", "0.03% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.Skin = 0 }},
	{"W1", "povidone-iodine", "10% w/v", "1.1% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.Skin = mixing.OpenSkin }},
	{"W1", "acetic acid", "5% w/v", "2.1% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.Skin = mixing.OpenSkin }},
	{"W1", "sodium hypochlorite", "5% w/v", "0.13% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.Skin = mixing.OpenSkin }},
	{"W2", "anything", "5% w/v", "1% w/v", func(_ *testing.T, r *mixing.Request) {
		r.Stock.Form, r.Use.Skin = mixing.Scrub, mixing.OpenSkin
	}},
	{"W2", "anything", "5% w/v", "1% w/v", func(_ *testing.T, r *mixing.Request) { r.Stock.Form, r.Use.Skin = mixing.Alcoholic, 0 }},
	{"W3", "chlorhexidine gluconate", "5% w/v", "0.05% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.NearEye = true }},
	{"W3", "copper naphthenate", "37.5% w/v", "1% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.NearEye = true }},
	{"W4", "anything", "5% w/v", "1% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.NearJoint = true }},
	{"W5", "anything", "5% w/v", "1% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.Bandage = true }},
	{"W6", "chlorhexidine gluconate", "5% w/v", "0.05% w/v", func(_ *testing.T, r *mixing.Request) { r.Diluent = mixing.SalineSolution }},
	{"W6", "chlorhexidine acetate", "5% w/v", "0.05% w/v", func(_ *testing.T, r *mixing.Request) { r.Diluent = mixing.HardTapWater }},
	{"W7", "chlorhexidine gluconate", "5% w/v", "0.05% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.SoapBefore = true }},
	{"W8", "chlorhexidine gluconate", "5% w/v", "0.05% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.Recent = []mixing.Substance{"sodium hypochlorite"} }},
	{"W8", "povidone-iodine", "10% w/v", "0.1% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.Recent = []mixing.Substance{"silver sulfadiazine"} }},
	{"W9", "anything", "10% w/v", "0.55% w/v", func(t *testing.T, r *mixing.Request) {
		r.Amount, r.Devices = mixing.Millilitres(100), []mixing.Device{device(t, "5 mL syringe, 1 mL marks")}
	}},
	{"W10", "anything", "5% w/v", "1% w/v", func(t *testing.T, r *mixing.Request) {
		r.Devices = []mixing.Device{device(t, "5 mL spoon"), device(t, "250 mL jug, 10 mL marks")}
	}},
	{"W12", "povidone-iodine", "10% w/v", "0.1% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.Delicate = true }},
	{"W13", "anything", "5% w/v", "1% w/v", func(t *testing.T, r *mixing.Request) { r.Use.Last = ptr(strength(t, "1.12% w/v", "anything")) }},
	{"W13", "anything", "5% w/v", "1% w/v", func(t *testing.T, r *mixing.Request) { r.Use.Last = ptr(strength(t, "1% w/w", "anything")) }},
	{"W15", "anything", "5% w/v", "1% w/v", func(_ *testing.T, r *mixing.Request) { r.Use.FoodChain = true }},
	{"W17", "sodium hypochlorite", "5% w/v", "0.01% w/v", func(t *testing.T, r *mixing.Request) { r.Want = strength(t, "90 ppm w/v", "sodium hypochlorite") }},
	{"W17", "anything", "5% w/v", "1% w/v", func(t *testing.T, r *mixing.Request) { r.Stock.Weakest = ptr(strength(t, "1.1% w/v", "anything")) }},
	{"W18", "anything", "5% w/v", "0.05% w/v", func(t *testing.T, r *mixing.Request) {
		r.Amount, r.Devices = mixing.Millilitres(500), []mixing.Device{device(t, "20 mL syringe, 1 mL marks")}
	}},
	{"W18", "anything", "5% w/v", "1% w/v", func(t *testing.T, r *mixing.Request) {
		r.Amount, r.Devices = mixing.Millilitres(330), []mixing.Device{device(t, "60 mL syringe, 1 mL marks"), device(t, "1000 mL jug, 50 mL marks")}
	}},
}

func ptr(s mixing.Strength) *mixing.Strength { return &s }

// elsewhere are the rules that speak outside a mix, each with its own test.
var elsewhere = strings.Fields("R5 R6 W11 W14 W16")

// TestEveryRuleSpeaksAndIsSilent: each rule speaks for its cause and is silent without it.
func TestEveryRuleSpeaksAndIsSilent(t *testing.T) {
	spoke := map[string]bool{}
	for _, c := range ruleCases {
		before := mixing.Mix(plain(t, c.of, c.have, c.want))
		if notes := append(before.Warnings, before.Refusals...); strings.Contains(ids(notes), c.id) {
			t.Errorf("%s speaks without a cause (%s): %v", c.id, c.of, notes)
		}
		r := plain(t, c.of, c.have, c.want)
		c.make(t, &r)
		got := mixing.Mix(r)
		where := got.Warnings
		if c.id[0] == 'R' {
			where = got.Refusals
			if got.Concentrate.Value != nil || got.Total.Value != nil || got.RelativeError != nil || got.Fills != nil {
				t.Errorf("%s leaves amounts in a refused mix", c.id)
			}
			if last := len(got.Working) - 1; last < 0 || got.Working[last].Part != mixing.Stop {
				t.Errorf("%s: the working does not end with the reason: %v", c.id, got.Working)
			}
		}
		if !slices.Contains(strings.Fields(ids(where)), c.id) {
			t.Errorf("%s is silent (%s): warnings %v, refusals %v", c.id, c.of, got.Warnings, got.Refusals)
		}
		spoke[c.id] = true
		checkWords(t, c.id, got)
	}
	for _, rule := range mixing.Rules() {
		if !spoke[rule.ID] && !slices.Contains(elsewhere, rule.ID) {
			t.Errorf("%s is never tried", rule.ID)
		}
		if rule.Source == "" || rule.Means == "" || rule.Grade < mixing.Law || rule.Grade > mixing.OurOwn || rule.Refuses() != (rule.ID[0] == 'R') {
			t.Errorf("%s is not whole: %+v", rule.ID, rule)
		}
	}
}

// TestExactWords: the sentences that people are to see when the bottle is too weak.
func TestExactWords(t *testing.T) {
	got := mixing.Mix(plain(t, "anything", "0.5% w/v", "2% w/v"))
	want := "The bottle is weaker than the plan asks for. Nothing you add can make it stronger. Ring whoever set the plan."
	if len(got.Refusals) != 1 || got.Refusals[0].Text != want {
		t.Errorf("got %v, want %q", got.Refusals, want)
	}
}

func TestColonRatioShowsBothMeanings(t *testing.T) {
	stock := strength(t, "2% w/v", "chlorhexidine gluconate")
	_, _, err := mixing.ParseWant("1:40", stock, "chlorhexidine gluconate")
	if outcome(err) != "R5" || !strings.Contains(err.Error(), "0.05\u00a0g per 100") || !strings.Contains(err.Error(), "0.04878\u00a0g per 100") {
		t.Errorf("got %v", err)
	}
	checkSentence(t, "R5", err.Error(), 20)
	for text, want := range map[string]string{"1 in 40": "1/20", "1 part made up to 40 parts": "1/20", "1 part plus 40 parts": "2/41", "1 + 39": "1/20"} {
		got, byParts, err := mixing.ParseWant(text, stock, "chlorhexidine gluconate")
		if err != nil || !byParts || got.Value.Cmp(rat(t, want)) != 0 {
			t.Errorf("%s: %v %v %v, want %s", text, got.Value, byParts, err, want)
		}
	}
	if _, byParts, err := mixing.ParseWant("0.05% w/v", stock, "chlorhexidine gluconate"); err != nil || byParts {
		t.Errorf("a strength is taken for parts: %v", err)
	}
}

func TestAskingIsR6(t *testing.T) {
	_, err := mixing.ParseStrength("1.500% w/v", mixing.Anything)
	if note, ok := mixing.AsNote(err); !ok || note.ID != "R6" || !strings.Contains(note.Text, "1.5 or 1\u202f500") {
		t.Errorf("%v, %v", note, err)
	}
	if _, ok := mixing.AsNote(tracker.Refuse(tracker.Invalid, "x")); ok {
		t.Error("an error without a rule became one")
	}
}

func TestOpenNamesAsk(t *testing.T) {
	for _, name := range []string{"Chlorhexidine", "copper sulphate", "zinc sulfate", "iodine", "bleach", "hypochlorite"} {
		if _, err := mixing.FindSubstance(name); outcome(err) != "R1" || !strings.Contains(err.Error(), "Say which") {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, s := range mixing.Substances() {
		if got, err := mixing.FindSubstance(string(s)); err != nil || got != s || s.Family() == "" {
			t.Errorf("%s cannot be found by its own name: %v", s, err)
		}
	}
}

// TestGasFormingPairs: the pairs that make gas are refused in one container with the poison centre's
// line; the list is that of the published warnings (CDC on chlorine gas, and the others named in it).
func TestGasFormingPairs(t *testing.T) {
	for _, pair := range [][2]string{{"sodium hypochlorite", "vinegar"}, {"available chlorine", "citric acid"}, {"calcium hypochlorite", "phosphoric acid"},
		{"sodium hypochlorite", "urine"}, {"sodium hypochlorite", "ethanol"}, {"sodium hypochlorite", "another cleaner"},
		{"hydrogen peroxide", "vinegar"}, {"hydrogen peroxide", "sodium hypochlorite"}, {"hydrogen peroxide", "povidone-iodine"}} {
		for _, order := range [][2]string{pair, {pair[1], pair[0]}} {
			notes := mixing.Combine(substance(t, order[0]), substance(t, order[1]), mixing.SameContainer, true)
			if ids(notes) != "R7" || !strings.Contains(notes[0].Text, mixing.PoisonCentre) {
				t.Errorf("%v in one container: %v", order, notes)
			}
		}
	}
	for pair, want := range map[[2]string]string{
		{"chlorhexidine gluconate", "sodium hypochlorite"}: "R7", {"chlorhexidine gluconate", "soap"}: "W8", {"copper sulfate anhydrous", "zinc sulfate anhydrous"}: "W8",
		{"povidone-iodine", "chlorhexidine acetate"}: "W8", {"povidone-iodine", "acetic acid"}: "W8", {"dimethyl sulfoxide", "povidone-iodine"}: "R7",
		{"sodium chloride", "povidone-iodine"}: "", {"anything", "sodium hypochlorite"}: "", {"povidone-iodine", "available iodine"}: "", {"saline", "vinegar"}: "",
	} {
		notes := mixing.Combine(substance(t, pair[0]), substance(t, pair[1]), mixing.SameContainer, false)
		if ids(notes) != want {
			t.Errorf("%v: %v, want %q", pair, notes, want)
		}
		for _, n := range notes {
			checkSentence(t, n.ID, n.Text, 20)
			if strings.Contains(n.Text, mixing.PoisonCentre) {
				t.Errorf("%v makes no gas", pair)
			}
		}
	}
	site := mixing.Combine("chlorhexidine gluconate", "sodium hypochlorite", mixing.SameSite, false)
	if ids(site) != "W8" || !strings.Contains(site[0].Text, "Rinse") {
		t.Errorf("on one site: %v", site)
	}
	if notes := mixing.Combine("dimethyl sulfoxide", "povidone-iodine", mixing.SameSite, true); len(notes) != 0 {
		t.Errorf("the vet ordered both: %v", notes)
	}
	for _, p := range mixing.Pairs() {
		if p.Words == "" || p.Source == "" || p.Grade < mixing.Law || p.Grade > mixing.OurOwn || p.Gas && !p.Refused {
			t.Errorf("a pair is not whole: %+v", p)
		}
	}
}

func TestIodineByTheLabelsOwnFactor(t *testing.T) {
	r := plain(t, "povidone-iodine", "10% w/v", "0.1% w/v")
	r.Want.Of, r.Stock.IodineFactor = mixing.AvailableIodine, rat(t, "1/10")
	if got := mixing.Mix(r); got.Refused() || got.Concentrate.Value.Cmp(rat(t, "100")) != 0 {
		t.Errorf("%v, %v", got.Concentrate.Value, got.Refusals)
	}
}

// TestRoundingStopsAtTheCeiling: the nearest mark would pass the most that is allowed, so the one below
// is taken.
func TestRoundingStopsAtTheCeiling(t *testing.T) {
	r := plain(t, "anything", "10% w/v", "0.98% w/v")
	r.Amount, r.Devices = mixing.Millilitres(1000), []mixing.Device{device(t, "250 mL cylinder, 5 mL marks")}
	if got := mixing.Mix(r); got.Concentrate.Value.Cmp(rat(t, "100")) != 0 {
		t.Fatalf("98 mL goes to %v", got.Concentrate.Value)
	}
	r.Ceiling = ptr(strength(t, "0.99% w/v", "anything"))
	if got := mixing.Mix(r); got.Concentrate.Value.Cmp(rat(t, "95")) != 0 || ids(got.Refusals) != "" {
		t.Errorf("98 mL under a ceiling goes to %v, %v", got.Concentrate.Value, got.Refusals)
	}
}

func TestWeakerIsToldInTwoDegrees(t *testing.T) {
	for want, words := range map[string]string{"0.54% w/v": "Rounded to 5", "0.45% w/v": "Stop and think."} {
		r := plain(t, "anything", "10% w/v", want)
		r.Amount, r.Devices = mixing.Millilitres(100), []mixing.Device{device(t, "20 mL syringe, 1 mL marks")}
		got := mixing.Mix(r)
		if i := slices.IndexFunc(got.Warnings, func(n mixing.Note) bool { return n.ID == "W9" }); i < 0 || !strings.HasPrefix(got.Warnings[i].Text, words) {
			t.Errorf("%s: %v, want %q", want, got.Warnings, words)
		}
	}
}

func TestBestDeviceIsChosen(t *testing.T) {
	all := []mixing.Device{device(t, "1000 mL jug, 50 mL marks"), device(t, "100 mL cylinder, 1 mL marks"), device(t, "20 mL syringe, 1 mL marks"), device(t, "2 mL syringe, 0.1 mL marks")}
	for text, want := range map[string]string{"1.5 mL": "2 mL syringe", "15 mL": "20 mL syringe", "70 mL": "100 mL cylinder", "700 mL": "1000 mL jug"} {
		r := plain(t, "anything", "100% w/v", "50% w/v")
		r.Amount = amount(t, text)
		r.Amount.Value.Mul(r.Amount.Value, big.NewRat(2, 1))
		r.Devices = all
		got := mixing.Mix(r)
		if name := strings.ReplaceAll(got.Measure.Words(tracker.Point), "\u202f", ""); !strings.HasPrefix(strings.ReplaceAll(name, "\u00a0", " "), want) {
			t.Errorf("%s is measured with a %s, want %s", text, name, want)
		}
	}
}

func TestParseDevice(t *testing.T) {
	for text, want := range map[string]string{
		"20 mL syringe, 1 mL marks": "20 mL syringe, 1 mL marks", "2,5 mL syringe, 0,1 mL marks": "2.5 mL syringe, 0.1 mL marks",
		"1 L jug with 50 mL marks": "1 000 mL jug, 50 mL marks", "500 g scale, 1 g marks": "500 g scale, 1 g marks", "5 mL spoon": "5 mL spoon, 5 mL marks",
	} {
		got := strings.NewReplacer("\u00a0", " ", "\u202f", " ").Replace(device(t, text).Words(tracker.Point))
		if again, err := mixing.ParseDevice(device(t, text).Words(tracker.Comma)); got != want || err != nil || again.Kind != device(t, text).Kind {
			t.Errorf("%s: %s, want %s; read again as %v, %v", text, got, want, again, err)
		}
	}
	for text, want := range map[string]string{"20 mL syringe": "unreadable", "syringe": "unreadable", "20 mL bucket, 1 mL marks": "unreadable", "": "unreadable",
		"1,000 mL jug, 50 mL marks": "asks", "20 mL syringe, 0 mL marks": "R1", "20 mL syringe, 30 mL marks": "unreadable", "20 mL scale, 1 mL marks": "unreadable", "20 mL syringe, 1 marks": "R1"} {
		if _, err := mixing.ParseDevice(text); outcome(err) != want {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
}

func TestFills(t *testing.T) {
	d := device(t, "20 mL syringe, 1 mL marks")
	for ml, want := range map[int64]string{20: "1×20", 25: "1×20 1×5", 41: "1×20 1×11 1×10", 42: "1×20 2×11", 7: "1×7", 60: "3×20", 22: "2×11", 63: "2×20 1×12 1×11"} {
		var got []string
		for _, f := range d.Fills(big.NewRat(ml, 1)) {
			got = append(got, big.NewRat(int64(f.Count), 1).RatString()+"×"+f.To.RatString())
		}
		if text := strings.Join(got, " "); text != want {
			t.Errorf("%d mL: %s, want %s", ml, text, want)
		}
	}
}
