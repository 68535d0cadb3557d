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

// TestTenTimesPlace: the three places come up as the caller's number says, each choice is ten times the
// one before, and a wrong choice is explained.
func TestTenTimesPlace(t *testing.T) {
	right := mixing.Amount{Value: big.NewRat(20, 1), Unit: mixing.ML}
	seen := map[int]bool{}
	for pick := -3; pick < 6; pick++ {
		check := mixing.NewTenTimes(right, nil, pick, tracker.Point)
		seen[check.Right] = true
		if check.Amounts[check.Right].Value.Cmp(right.Value) != 0 || check.Explain(check.Right) != "" {
			t.Errorf("pick %d: the right choice is not right: %v", pick, check)
		}
		for i := 1; i < 3; i++ {
			if ratio := new(big.Rat).Quo(check.Amounts[i].Value, check.Amounts[i-1].Value); ratio.Cmp(big.NewRat(10, 1)) != 0 {
				t.Errorf("pick %d: choices %v", pick, check.Choices)
			}
		}
	}
	if len(seen) != 3 {
		t.Errorf("places used: %v", seen)
	}
	middle := mixing.NewTenTimes(right, nil, 1, tracker.Point)
	if got := middle.Explain(2); got != "200\u00a0mL would be ten times too strong. Look at the measure again." {
		t.Error(got)
	}
	if got := mixing.NewTenTimes(right, nil, 2, tracker.Point).Explain(0); !strings.Contains(got, "0.2\u00a0mL would be a hundred times too weak") {
		t.Error(got)
	}
}

// TestTenTimesByFills: when a wrong choice cannot fit the syringe, each choice says how many fills.
func TestTenTimesByFills(t *testing.T) {
	d := device(t, "20 mL syringe, 1 mL marks")
	for pick, want := range map[int]string{
		0: "1 fill to the 20 mL mark, then 1 fill to the 5 mL mark; 12 fills to the 20 mL mark, then 1 fill to the 10 mL mark; 125 fills to the 20 mL mark",
		1: "1 fill to the 2.5 mL mark; 1 fill to the 20 mL mark, then 1 fill to the 5 mL mark; 12 fills to the 20 mL mark, then 1 fill to the 10 mL mark",
	} {
		check := mixing.NewTenTimes(mixing.Millilitres(25), &d, pick, tracker.Point)
		if got := strings.ReplaceAll(strings.Join(check.Choices[:], "; "), "\u00a0", " "); got != want || !strings.Contains(check.Question, "How many fills") {
			t.Errorf("pick %d: %s %s", pick, check.Question, got)
		}
		checkSentence(t, "ten times", check.Explain(2), 40)
	}
	fits := mixing.NewTenTimes(mixing.Millilitres(20), &d, 2, tracker.Point)
	if fits.Question != "What is in the syringe?" || fits.Choices[0] != "0.2\u00a0mL" {
		t.Errorf("%v", fits)
	}
}

// TestThrowAway: the earliest of all limits wins; days after opening are calendar days, also over the
// night when the clocks go forward (Europe/London, 29 March 2026).
func TestThrowAway(t *testing.T) {
	london, err := time.LoadLocation("Europe/London")
	if err != nil {
		t.Fatal(err)
	}
	at := func(month time.Month, day, hour int) time.Time {
		return time.Date(2026, month, day, hour, 0, 0, 0, london)
	}
	for _, c := range []struct {
		shelf mixing.Shelf
		want  time.Time
		why   string
	}{
		{mixing.Shelf{}, time.Time{}, "no limit"},
		{mixing.Shelf{Expiry: at(6, 1, 0)}, at(6, 1, 0), "printed"},
		{mixing.Shelf{Expiry: at(6, 1, 0), Opened: at(3, 27, 9), InUseDays: 28}, at(4, 24, 9), "28 days after opening"},
		{mixing.Shelf{Made: at(5, 14, 8)}, at(5, 15, 8), "24 hours"},
		{mixing.Shelf{Made: at(5, 14, 8), Keeps: 12 * time.Hour}, at(5, 14, 20), "set for the mix"},
		{mixing.Shelf{Made: at(5, 14, 8), Keeps: 7 * 24 * time.Hour}, at(5, 15, 8), "24 hours"},
		{mixing.Shelf{Made: at(5, 14, 8), Keeps: 7 * 24 * time.Hour, KeepsSource: "the label"}, at(5, 21, 8), "the label"},
		{mixing.Shelf{Made: at(5, 14, 8), Keeps: 7 * 24 * time.Hour, KeepsSource: "the label", Parent: at(5, 16, 0)}, at(5, 16, 0), "made from"},
	} {
		until, why := c.shelf.ThrowAway()
		if !until.Equal(c.want) || !strings.Contains(why, c.why) {
			t.Errorf("%+v: %v, %s; want %v, %s", c.shelf, until, why, c.want, c.why)
		}
		if until.IsZero() {
			continue
		}
		if notes := c.shelf.Check(until.Add(-time.Second)); len(notes) != 0 {
			t.Errorf("a second before: %v", notes)
		}
		if notes := c.shelf.Check(until); !strings.HasPrefix(ids(notes), "R8") {
			t.Errorf("at its time: %v", notes)
		}
	}
	old := mixing.Shelf{Made: at(5, 14, 8)}.Check(at(5, 15, 9))
	if ids(old) != "R8 W16" {
		t.Errorf("a mix of yesterday: %v", old)
	}
	for _, n := range old {
		checkSentence(t, n.ID, n.Text, 20)
	}
}

func TestKeepingsAndLabel(t *testing.T) {
	for _, k := range mixing.Keepings() {
		if k.Source == "" || k.Keeps <= mixing.DilutionKeeps || k.Of.Family() == "" || k.UpTo.Sign() <= 0 {
			t.Errorf("%+v", k)
		}
	}
	l := mixing.Label{Name: "Brown wash", Strength: strength(t, "0.1% w/v", "povidone-iodine"), Made: noon, By: "Ada", ThrowAway: noon.Add(24 * time.Hour),
		For: "Bramble", From: "Brown concentrate, opened 2 May", Cautions: []string{"Do not swallow.", "Not for eyes."}}
	want := []string{"Brown wash", "0.1\u00a0g per 100\u00a0mL of povidone-iodine", "Made Thu 14 May 2026, 12:00 by Ada", "Checked by one person",
		"From Brown concentrate, opened 2 May", "Throw away after Fri 15 May 2026, 12:00", "For Bramble", "Do not swallow.", "Not for eyes."}
	if got := l.Lines(tracker.Point); !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
	l.CheckedBy = "Bea"
	if got := l.Lines(tracker.Point); got[3] != "Checked by Bea" {
		t.Errorf("%q", got)
	}
}

// TestDoseNeedsAWholeInstruction: without who, when, weight or maximum there is no dose.
func TestDoseNeedsAWholeInstruction(t *testing.T) {
	stock := strength(t, "10 mg/mL", "anything")
	for name, spoil := range map[string]func(*mixing.Instruction){
		"by whom":     func(in *mixing.Instruction) { in.By = "" },
		"when":        func(in *mixing.Instruction) { in.On = 0 },
		"weight":      func(in *mixing.Instruction) { in.WeightKG = nil },
		"per kg":      func(in *mixing.Instruction) { in.PerKG = new(big.Rat) },
		"maximum":     func(in *mixing.Instruction) { in.MaxPerKG = nil },
		"above max":   func(in *mixing.Instruction) { in.MaxPerKG = big.NewRat(1, 100) },
		"how often":   func(in *mixing.Instruction) { in.TimesPerDay = 0 },
		"too long":    func(in *mixing.Instruction) { in.Days, in.MaxDays = 8, 7 },
		"over course": func(in *mixing.Instruction) { in.MaxCourse = big.NewRat(749, 1) },
	} {
		in := instruction(t, "0.05", "500", 3, 10)
		if got := in.Dose(stock, nil, tracker.Point); got.Refused() || got.Each.Value.Cmp(big.NewRat(5, 2)) != 0 {
			t.Fatalf("a whole instruction is refused: %v", got.Refusals)
		}
		spoil(&in)
		got := in.Dose(stock, nil, tracker.Point)
		if ids(got.Refusals) != "R12" || got.Each.Value != nil {
			t.Errorf("%s: %v %v", name, got.Each.Value, got.Refusals)
		}
		for _, n := range got.Refusals {
			checkSentence(t, name, n.Text, 20)
		}
	}
	in := instruction(t, "0.05", "500", 3, 10)
	in.Of = "chlorhexidine gluconate"
	if got := in.Dose(stock, nil, tracker.Point); ids(got.Refusals) != "R4" {
		t.Errorf("another substance: %v", got.Refusals)
	}
	if got := instruction(t, "0.05", "500", 1, 1).Dose(strength(t, "100 units/mL", "anything"), nil, tracker.Point); ids(got.Refusals) != "R3" {
		t.Errorf("units for mg: %v", got.Refusals)
	}
}

// TestDoseRoundsDownAtTheMaximum: 2.6 mL would go to 3 mL, but that passes the vet's maximum.
func TestDoseRoundsDownAtTheMaximum(t *testing.T) {
	in := instruction(t, "0.052", "500", 2, 5)
	in.MaxPerKG, in.WeightEstimated = rat(t, "0.055"), true
	d := device(t, "10 mL syringe, 0.5 mL marks")
	got := in.Dose(strength(t, "10 mg/mL", "anything"), &d, tracker.Point)
	if got.Refused() || got.Each.Value.Cmp(rat(t, "2.5")) != 0 || got.Course.Value.Cmp(rat(t, "25")) != 0 || ids(got.Warnings) != "W11" {
		t.Errorf("%v %v %v %v", got.Each.Value, got.Course.Value, got.Warnings, got.Refusals)
	}
	if !strings.Contains(got.Warnings[0].Text, "from 450 to 550\u00a0kg") {
		t.Errorf("%v", got.Warnings)
	}
	coarse := device(t, "10 mL syringe, 1 mL marks")
	if got := in.Dose(strength(t, "10 mg/mL", "anything"), &coarse, tracker.Point); got.Each.Value.Cmp(rat(t, "2")) != 0 || ids(got.Warnings) != "W11 W9" {
		t.Errorf("%v %v %v", got.Each.Value, got.Warnings, got.Refusals)
	}
	in.MaxPerKG = rat(t, "0.07")
	if got := in.Dose(strength(t, "10 mg/mL", "anything"), &coarse, tracker.Point); ids(got.Refusals) != "R15" {
		t.Errorf("15%% more than the vet wrote: %v %v", got.Each.Value, got.Refusals)
	}
	for _, line := range got.Working {
		checkSentence(t, "dose", line.Text, 40)
	}
}

// TestBuysOnlyWhatIsMissing: 10 mL twice a day for 60 days are 1 200 mL. Of 500 mL left all is used, or in 14 days
// 280 mL; a litre lasts 50 days, but where an opened one keeps for 28 the other 46 days take two.
func TestBuysOnlyWhatIsMissing(t *testing.T) {
	for _, c := range []struct {
		left             string
		leftFor, inUse   int
		days, buy        int
		says, doesNotSay string
	}{
		{"", 0, 0, 0, 2, "containers of 1\u202f000 mL to buy: 2", "left"},
		{"500 mL", 0, 0, 25, 1, "1\u202f200 mL − 500 mL of what is left = 700 mL still to buy", "thrown away"},
		{"500 mL", 14, 28, 14, 2, "It must be thrown away before that: it does for 14 whole days.", "Nothing to buy"},
		{"500 mL", 14, 90, 14, 1, "1\u202f200 mL − 280 mL of what is left = 920 mL still to buy", "An opened container"},
		{"1200 mL", 0, 28, 60, 0, "What is left is enough for the whole course. Nothing to buy.", "to buy:"},
		{"3 L", 60, 0, 60, 0, "Nothing to buy.", "to buy:"},
	} {
		n := mixing.Need{Each: amount(t, "10 mL"), TimesADay: 2, Days: 60, Pack: amount(t, "1 L"), LeftForDays: c.leftFor, InUseDays: c.inUse}
		if c.left != "" {
			n.Left = amount(t, c.left)
		}
		got := n.Lasts(tracker.Point)
		var text strings.Builder
		for _, line := range got.Working {
			checkSentence(t, c.left, line.Text, 40)
			text.WriteString(strings.ReplaceAll(line.Text, "\u00a0", " ") + "\n")
		}
		if got.Containers != c.buy || got.Days != c.days || got.Course.Value.Cmp(rat(t, "1200")) != 0 || !strings.Contains(text.String(), c.says) || strings.Contains(text.String(), c.doesNotSay) {
			t.Errorf("%+v: %d days, %d to buy\n%s", c, got.Days, got.Containers, &text)
		}
	}
}

// TestEstimatesAreShort: an estimate of cream has two digits, and whole grams from 100 up.
func TestEstimatesAreShort(t *testing.T) {
	for exact, want := range map[string]string{"1.352": "1.4", "0.286": "0.29", "5.08": "5.1", "0.65": "0.65", "2.4": "2.4", "13.52": "14", "9.96": "10", "135.2": "135", "1000": "1000", "0.00123": "0.0012"} {
		a := mixing.Fingertips(rat(t, exact), big.NewRat(1, 1), tracker.Point)
		lines := len(a.Working)
		got := a.About(tracker.Point)
		if said := len(got.Working) > lines; got.Amount.Value.Cmp(rat(t, want)) != 0 || said != (exact != want) {
			t.Errorf("%s g is about %s, want %s: %v", exact, got.Amount.Value.FloatString(5), want, got.Working)
		}
	}
}

func TestSpreadAddsItsMargin(t *testing.T) {
	got := mixing.Spread{AreaCM2: rat(t, "286")}.Grams(tracker.Comma)
	if got.Refused() || got.Amount.Value.Cmp(rat(t, "0.65")) != 0 {
		t.Errorf("%v %v", got.Amount.Value, got.Refusals)
	}
	for _, line := range got.Working {
		checkSentence(t, "spread", strings.ReplaceAll(line.Text, ",", "."), 20)
	}
	for _, s := range []mixing.Spread{{}, {AreaCM2: rat(t, "10"), FilmMicrometres: rat(t, "20")}, {AreaCM2: rat(t, "-1")}} {
		if got := s.Grams(tracker.Point); !got.Refused() || got.Amount.Value != nil {
			t.Errorf("%+v: %v", s, got)
		}
	}
}

func TestStripBelongsToOneProduct(t *testing.T) {
	s := mixing.Strip{Product: "Cream A", GramsPer100MM: rat(t, "4")}
	if got := s.Grams("Cream A", rat(t, "127"), tracker.Point); got.Refused() || got.Amount.Value.Cmp(rat(t, "5.08")) != 0 {
		t.Errorf("%v", got)
	}
	if got := s.Grams("Cream B", rat(t, "127"), tracker.Point); ids(got.Refusals) != "R4" {
		t.Errorf("%v", got)
	}
}

func TestLeftoversKeepTheEarliestTime(t *testing.T) {
	a := mixing.Portion{Strength: strength(t, "0.05% w/v", "povidone-iodine"), Amount: mixing.Millilitres(100), GoodUntil: noon.Add(time.Hour)}
	b := a
	b.GoodUntil = noon
	if got, until := mixing.Leftovers([]mixing.Portion{a, b}, tracker.Point); got.Refused() || !until.Equal(noon) || !got.Strength.Same(a.Strength) {
		t.Errorf("%v until %v", got, until)
	}
	acid, bleach := a, a
	acid.Strength.Of, bleach.Strength.Of = "acetic acid", mixing.SodiumHypochlorite
	if got, _ := mixing.Leftovers([]mixing.Portion{a, acid, bleach}, tracker.Point); ids(got.Refusals) != "R7" || !strings.Contains(got.Working[0].Text, mixing.PoisonCentre) {
		t.Errorf("vinegar and bleach in one jug: %v", got.Refusals)
	}
	b.Strength.Of = mixing.AvailableIodine
	if got, until := mixing.Leftovers([]mixing.Portion{a, b}, tracker.Point); ids(got.Refusals) != "R4" || !until.IsZero() || got.Amount.Value != nil {
		t.Errorf("%v until %v", got, until)
	}
}

// TestPowderIsWeighed: powder is rounded to the scale's marks, in grams, and topped up to a volume.
func TestPowderIsWeighed(t *testing.T) {
	r := plain(t, "available chlorine", "35% w/w", "0.5% w/v")
	r.Stock.Form, r.Use.Skin = mixing.Powder, mixing.NotOnHorse
	r.Devices = []mixing.Device{device(t, "500 g scale, 1 g marks"), device(t, "1000 mL jug, 50 mL marks")}
	got := mixing.Mix(r)
	if got.Refused() || got.Concentrate.Value.Cmp(rat(t, "14")) != 0 || got.Concentrate.Unit != mixing.Gram || got.Achieved.Value.Cmp(rat(t, "0.49")) != 0 {
		t.Fatalf("%v %v %v", got.Concentrate, got.Achieved.Value, got.Refusals)
	}
	checkWords(t, "powder", got)
	r.Kind = mixing.AddTo
	if got := mixing.Mix(r); ids(got.Refusals) != "R2" {
		t.Errorf("powder added to water: %v", got.Refusals)
	}
}

// TestAmountsAreBounded: an amount beyond all measure is refused when it is read.
func TestAmountsAreBounded(t *testing.T) {
	for text, want := range map[string]string{"10000 L": "", "10001 L": "R1", "0.0000001 mL": "R1", "0 mL": "R1", "-5 mL": "R1", "500": "R1",
		"2 cups": "unreadable", "1 tablespoon": "unreadable", "1.500 L": "asks", "": "unreadable", "5 units": "unreadable"} {
		if _, err := mixing.ParseAmount(text); outcome(err) != want {
			t.Errorf("%q: %v, want %s", text, err, want)
		}
	}
	for text, want := range map[string]string{"1.065": "", "1,06 g/mL": "", "1065": "unreadable", "0": "unreadable", "1.06 kg": "unreadable"} {
		if _, err := mixing.ParseDensity(text); outcome(err) != want {
			t.Errorf("density %q: %v, want %s", text, err, want)
		}
	}
}

// TestAreaAboveTheMost: at the limit it is allowed, above it is not, and both areas are named. The areas are invented.
func TestAreaAboveTheMost(t *testing.T) {
	for _, c := range []struct{ area, most, want string }{
		{"200", "200", ""}, {"", "200", ""}, {"300", "", ""}, {"199.9", "200", ""},
		{"200.5", "200", "An area of 200.5 cm² is above the most that the vet allows at one time: 200 cm². Ring the vet."},
	} {
		read := func(text string) *big.Rat {
			if text == "" {
				return nil
			}
			return rat(t, text)
		}
		notes := mixing.CheckArea(read(c.area), read(c.most), "the vet", tracker.Point)
		said := ""
		for _, n := range notes {
			said += n.ID + " " + strings.ReplaceAll(n.Text, "\u00a0", " ")
		}
		if c.want != "" {
			c.want = "R12 " + c.want
		}
		if said != c.want {
			t.Errorf("%s of %s: %q, want %q", c.area, c.most, said, c.want)
		}
	}
}
