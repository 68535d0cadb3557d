package care

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

// reading writes an act of a label: who, what kind, and the strength in % w/v.
func labelAct(by tracker.PersonID, kind tracker.StoreActKind, percent string) tracker.StoreAct {
	act := tracker.StoreAct{ID: NewRecord(), Kind: kind, By: by, At: noon}
	if percent != "" {
		act.Strength = tracker.StrengthText(percent + "|% w/v|chlorhexidine gluconate")
	}
	return act
}

// What a bottle's acts say of its strength, and who may not see it yet.
func TestReadings(t *testing.T) {
	read, doubt, settle := tracker.LabelRead, tracker.LabelDoubted, tracker.LabelSettled
	for _, c := range []struct {
		name  string
		acts  []tracker.StoreAct
		state ReadState
		value string
		blind string // of ada, bea and cy: those who may not see it
	}{
		{"nobody has read it", nil, NotRead, "", "ada bea cy"},
		{"one has", []tracker.StoreAct{labelAct("ada", read, "2")}, ReadByOne, "2", "bea cy"},
		{"both read the same", []tracker.StoreAct{labelAct("ada", read, "2"), labelAct("bea", read, "2")}, ReadByTwo, "2", ""},
		{"they differ", []tracker.StoreAct{labelAct("ada", read, "2"), labelAct("bea", read, "20")}, ReadingsDiffer, "", ""},
		{"a third reading settles nothing", []tracker.StoreAct{labelAct("ada", read, "2"), labelAct("bea", read, "20"), labelAct("cy", read, "2")}, ReadingsDiffer, "", ""},
		{"the owner settles it", []tracker.StoreAct{labelAct("ada", read, "2"), labelAct("bea", read, "20"), labelAct("ada", settle, "2")}, LabelIsSettled, "2", ""},
		{"doubted", []tracker.StoreAct{labelAct("ada", read, "2"), labelAct("bea", read, "2"), labelAct("cy", doubt, "")}, NotRead, "", "ada bea cy"},
		{"doubted and read once", []tracker.StoreAct{labelAct("ada", read, "2"), labelAct("cy", doubt, ""), labelAct("bea", read, "3")}, ReadByOne, "3", "ada cy"},
		{"a later reading changes nothing", []tracker.StoreAct{labelAct("ada", read, "2"), labelAct("bea", read, "2"), labelAct("cy", read, "9")}, ReadByTwo, "2", ""},
		{"other acts say nothing of it", []tracker.StoreAct{labelAct("ada", read, "2"), {Kind: tracker.Opened}, {Kind: tracker.Used, Amount: "5|mL"}, labelAct("bea", read, "2")}, ReadByTwo, "2", ""},
	} {
		got, err := readingOf(c.acts)
		if err != nil {
			t.Fatal(err)
		}
		value := ""
		if got.Strength.Value != nil {
			value = got.Strength.Value.RatString()
		}
		var blind []string
		for _, who := range []string{"ada", "bea", "cy"} {
			if got.blindFor(tracker.PersonID(who)) {
				blind = append(blind, who)
			}
		}
		if got.State != c.state || value != c.value || strings.Join(blind, " ") != c.blind {
			t.Errorf("%s: state %d, strength %q, blind %v; want %d, %q, %s", c.name, got.State, value, blind, c.state, c.value, c.blind)
		}
	}
}

// What is left: what the bottle held or somebody saw, less what was taken since; weight and volume meet by the
// density only.
func TestLeft(t *testing.T) {
	used := func(amount tracker.AmountText) tracker.StoreAct {
		return tracker.StoreAct{Kind: tracker.Used, Amount: amount}
	}
	for _, c := range []struct {
		name    string
		size    tracker.AmountText
		acts    []tracker.StoreAct
		density *big.Rat
		want    string
	}{
		{"untouched", "500|mL", nil, nil, "500 mL"},
		{"used twice", "500|mL", []tracker.StoreAct{used("25|mL"), used("100/3|mL")}, nil, "441.7 mL"},
		{"looked at in between", "500|mL", []tracker.StoreAct{used("25|mL"), {Kind: tracker.AmountLeft, Amount: "400|mL"}, used("10|mL")}, nil, "390 mL"},
		{"more than was there", "20|mL", []tracker.StoreAct{used("25|mL")}, nil, "0 mL"},
		{"grams out of a bottle in mL", "500|mL", []tracker.StoreAct{used("106|g")}, big.NewRat(53, 50), "400 mL"},
		{"mL out of a bottle in grams", "530|g", []tracker.StoreAct{used("100|mL")}, big.NewRat(53, 50), "424 g"},
		{"without a density nothing is guessed", "500|mL", []tracker.StoreAct{used("106|g")}, nil, "500 mL"},
	} {
		left, err := leftAfter(c.size, c.acts, c.density)
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(strings.Fields(left.Words(tracker.Point)), " "); got != c.want {
			t.Errorf("%s: %s left, want %s", c.name, got, c.want)
		}
	}
}

// store makes Stores of one product with bottles that are usable, by what is left and days until the end of each.
func testStores(left map[string]int) *stores {
	product := tracker.Product{ID: "p", Name: "Wash concentrate A", Label: "2|% w/v|chlorhexidine gluconate", Facts: tracker.ProductFacts{Form: "solution", DeliveryDays: 5}}
	s := &stores{Moment: Moment{tracker.Yard{Mark: tracker.Point}, time.UTC, noon, tracker.DateOf(noon)}, viewer: "ada", products: []tracker.Product{product}, measures: Measures{Volumes: usualVolumes()}}
	for amount, days := range left {
		n, _ := Amount(tracker.AmountText(amount + "|mL"))
		b := Stock{Key: "bottle:" + amount, Name: product.Name, Product: product, Left: n, Opened: 1, ReadWords: "read by Ada and Bea",
			Strength: mixing.Strength{Value: big.NewRat(2, 1), Unit: mixing.PercentWV, Of: mixing.ChlorhexidineGluconate}}
		if days > 0 {
			b.ThrowAway = noon.AddDate(0, 0, days)
		}
		s.bottles = append(s.bottles, b)
	}
	return s
}

// Days of supply by what plans take day by day, or at the use of the last two weeks; whether to order, and how many
// containers. Worked out by hand.
func TestSupply(t *testing.T) {
	use := func(daysAgo int, amount string) Use {
		return Use{Product: "p", At: noon.AddDate(0, 0, -daysAgo), Amount: tracker.AmountText(amount + "|mL")}
	}
	each := func(from, to, every int, mL int64) []*big.Rat { // mL a day on every so many days of a span
		need := slices.Repeat([]*big.Rat{new(big.Rat)}, supplyDays)
		for day := from; day < to; day += every {
			need[day] = big.NewRat(mL, 1)
		}
		return need
	}
	for _, c := range []struct {
		name    string
		left    map[string]int
		uses    []Use
		planned []*big.Rat
		keeps   int // days after opening; the bottles of these are then sealed
		days    int
		need    string // in the 5 days that a delivery takes
		order   bool
		buy     int
	}{
		{"nothing was used", map[string]int{"500": 0}, nil, nil, 0, 0, "", false, 0},
		{"first used today", map[string]int{"475": 0}, []Use{use(0, "25")}, nil, 0, 19, "125", false, 0},
		{"25 mL on each of 14 days", map[string]int{"150": 0}, []Use{use(13, "175"), use(0, "175")}, nil, 0, 6, "125", false, 0},
		{"it will not last until a delivery", map[string]int{"149": 0}, []Use{use(13, "350")}, nil, 0, 5, "125", true, 5}, // 33 days want 825: 149 and 5 of 149
		{"two bottles", map[string]int{"100": 0, "75": 0}, []Use{use(13, "350")}, nil, 0, 7, "125", false, 0},
		{"a bottle that ends first is used first", map[string]int{"500": 2, "100": 0}, []Use{use(13, "350")}, nil, 0, 6, "125", false, 0},
		{"both end soon", map[string]int{"500": 2, "400": 3}, []Use{use(13, "350")}, nil, 0, 3, "125", true, 2}, // 30 days of 25 mL out of 500 mL
		{"another product's use says nothing", map[string]int{"500": 0}, []Use{{Product: "q", At: noon, Amount: "99|mL"}}, nil, 0, 0, "", false, 0},
		{"a plan counts, not the use", map[string]int{"500": 0}, []Use{use(0, "500")}, each(0, 90, 1, 25), 0, 20, "125", false, 0},
		{"a plan of which nothing is known to have been used", map[string]int{"100": 0}, nil, each(0, 90, 1, 25), 0, 4, "125", true, 8}, // 33 days want 825
		{"a plan that ends before it runs out", map[string]int{"100": 0}, nil, each(0, 4, 1, 25), 0, supplyDays, "100", false, 0},
		{"a plan that begins after a delivery", map[string]int{"10": 0}, nil, each(9, 90, 1, 25), 0, 9, "0", false, 0},
		{"every third day", map[string]int{"100": 0}, nil, each(0, 90, 3, 25), 0, 12, "50", false, 0},
		{"opened bottles keep 4 days", map[string]int{"500": 0}, nil, each(0, 90, 1, 25), 4, 4, "125", true, 8},                  // days 4 to 32, 4 days each
		{"opened bottles keep longer than they last", map[string]int{"500": 0}, nil, each(0, 90, 1, 150), 28, 3, "750", true, 9}, // 33 days want 4 950
		{"all that is wanted comes on the day of the delivery", map[string]int{"100": 0}, nil, each(5, 6, 1, 101), 0, 5, "0", true, 1},
	} {
		s := testStores(c.left)
		s.uses = c.uses
		if c.planned != nil {
			s.planned = map[tracker.ProductID][]*big.Rat{"p": c.planned}
		}
		s.products[0].Facts.InUseDays = c.keeps
		for i := range s.bottles {
			s.bottles[i].Bottle.Size = ExactAmount(s.bottles[i].Left)
			if c.keeps > 0 {
				s.bottles[i].Opened = 0
			}
		}
		slices.SortFunc(s.bottles, func(a, b Stock) int { return a.Left.Value.Cmp(b.Left.Value) })
		got, err := s.supply(s.products[0])
		if err != nil {
			t.Fatal(err)
		}
		need := ""
		if got.Need.Value != nil {
			need = got.Need.Value.RatString()
		}
		if got.Days != c.days || got.Reorder != c.order || need != c.need || got.Buy != c.buy || got.ByPlan != (c.planned != nil) {
			t.Errorf("%s: %d days, order %t, %s until a delivery, buy %d, by plan %t; want %d, %t, %s, %d", c.name, got.Days, got.Reorder, need, got.Buy, got.ByPlan, c.days, c.order, c.need, c.buy)
		}
	}
}

// A wanted strength is worked out for each usual volume, in words that need no arithmetic; without a bottle or
// a measure it says why not.
func TestWorkedAmounts(t *testing.T) {
	wash := MixWanted{Want: mixing.Strength{Value: big.NewRat(1, 20), Unit: mixing.PercentWV, Of: mixing.ChlorhexidineGluconate}}
	s := testStores(map[string]int{"500": 0})
	if got := s.worked(wash); got.Stop != "This yard has no measures yet. The owner adds them in Stores." || len(got.Amounts) != 0 {
		t.Errorf("without measures: %+v", got)
	}
	for _, text := range []string{"20 mL syringe, 1 mL marks", "1000 mL jug, 50 mL marks"} {
		d, err := mixing.ParseDevice(text)
		if err != nil {
			t.Fatal(err)
		}
		s.measures.Devices = append(s.measures.Devices, d)
	}
	got := s.worked(wash)
	said := got.Question
	for _, a := range got.Amounts {
		said += " | " + strings.Join(a.Lines, " ") + " / " + strings.Join(a.Notes, " ")
	}
	said = strings.Join(strings.Fields(said), " ")
	want := "Hold Wash concentrate A. Does the label say 2 g per 100 mL (2% w/v)?" +
		" | Half-fill the 1 000 mL jug with water. Add Wash concentrate A: 12 mL. With the syringe: 1 fill to the 12 mL mark. Top up with water to the 500 mL line. Makes 0.048 g per 100 mL." +
		" / 12.5 mL rounded to 12 mL: your syringe has 1 mL marks. Makes 0.048 instead of 0.05 g per 100 mL (4% weaker). The syringe itself may be off by 0.48 mL. At worst the mix is 8% off." +
		" | Half-fill the 1 000 mL jug with water. Add Wash concentrate A: 25 mL. With the syringe: 1 fill to the 20 mL mark, then 1 fill to the 5 mL mark. Top up with water to the 1 000 mL line. Makes 0.05 g per 100 mL." +
		" 1 part concentrate + 39 parts water (makes 40 parts). / "
	if said != strings.TrimSpace(want) || got.Stop != "" {
		t.Errorf("worked out as\n%s\nwant\n%s", said, want)
	}
	strong := wash
	strong.Ceiling = &mixing.Strength{Value: big.NewRat(1, 50), Unit: mixing.PercentWV, Of: mixing.ChlorhexidineGluconate}
	if got := s.worked(strong); !got.Amounts[0].Stop || !strings.Contains(strings.Join(got.Amounts[0].Lines, " "), "above the most that was recorded") {
		t.Errorf("above the maximum: %+v", got)
	}
	s.bottles[0].Stop = "past its time"
	if got := s.worked(wash); got.Stop == "" || got.Question != "" {
		t.Errorf("without a bottle: %+v", got)
	}
}

// What is kept of exact numbers reads back as itself.
func TestExactTexts(t *testing.T) {
	for _, text := range []tracker.StrengthText{"", "1/20|% w/v|chlorhexidine gluconate", "100000|units/g|anything"} {
		s, err := Strength(text)
		if err != nil || ExactStrength(s) != text {
			t.Errorf("strength %q reads as %q, %v", text, ExactStrength(s), err)
		}
	}
	for _, text := range []tracker.AmountText{"", "1000|mL", "100/3|mL", "5/2|g"} {
		a, err := Amount(text)
		if err != nil || ExactAmount(a) != text {
			t.Errorf("amount %q reads as %q, %v", text, ExactAmount(a), err)
		}
	}
	for _, text := range []tracker.AmountText{"1000", "1e3|mL", "1.5|mL", "|mL", "5|litres", "x|mL"} {
		if a, err := Amount(text); err == nil {
			t.Errorf("amount %q reads as %v", text, a)
		}
	}
}
