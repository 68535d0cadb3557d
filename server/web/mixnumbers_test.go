package web_test

import (
	"fmt"
	"math/big"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"leground/server/webtest"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/mixing"
)

// How numbers may not stand on a page, against the list of error-prone abbreviations, symbols and dose
// designations of the Institute for Safe Medication Practices, and the SI brochure on marks between digits.
// Clock times are let through.
var wrongNumbers = map[string]*regexp.Regexp{
	"a zero at the end":          regexp.MustCompile(`\b\d+[.,]\d*0\b`),
	"no zero before the mark":    regexp.MustCompile(`(^|[^\d])[.,]\d`),
	"a unit stuck to its number": regexp.MustCompile(`\d(mL|L|mg|g|kg|mm|cm|units)\b`),
	"ml, cc or a Greek mu":       regexp.MustCompile(`\b(ml|cc|mcg|IU|ug)\b|[µμ]g`),
	"a ratio with a colon":       regexp.MustCompile(`\d ?: ?\d`),
	"a comma between digits":     regexp.MustCompile(`\d,\d`),
	"a full stop after a unit":   regexp.MustCompile(`\b(mL|mg|kg|mm)\.[a-z]`),
}

var clockTime = regexp.MustCompile(`\b\d\d:\d\d\b`)

func numberFaults(text string) (faults []string) {
	text = clockTime.ReplaceAllString(text, "TIME")
	for what, pattern := range wrongNumbers {
		if at := pattern.FindStringIndex(text); at != nil {
			faults = append(faults, fmt.Sprintf("%s: ...%s...", what, text[max(0, at[0]-20):min(len(text), at[1]+20)]))
		}
	}
	return faults
}

// The patterns find what they are for.
func TestNumberPatternsAreAwake(t *testing.T) {
	for _, bad := range []string{"5.0 mL", ".5 mL", "20mL", "20 ml", "5 cc", "5 μg", "100 IU", "1:50", "1,500 mL", "0.50 g"} {
		if numberFaults(bad) == nil {
			t.Errorf("%q is let through", bad)
		}
	}
	for _, good := range []string{"0.5 mL", "1 500 mL", "13:00", "5 g per 100 mL (5% w/v)", "Fri 15 May, 13:00", "20 mL syringe, 1 mL marks", "W1. Source: 1988, volume 17"} {
		if faults := numberFaults(good); faults != nil {
			t.Errorf("%q: %q", good, faults)
		}
	}
}

// Every page of Stores and mixes writes its numbers in the safe form, in yards of either decimal mark.
func TestNumbersOnMixPages(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	product, bottle := concentrate(yard, "2% w/v")
	mix := mixes(yard.Carer, bottle, "0.05% w/v", "1 L")
	for _, path := range []string{
		"/stores", "/stores/product/" + product, "/stores/bottle/" + bottle, "/mix", "/mix/" + mix, "/mix?work=1&want=5&make=.5", "/mix/sums?sum=cream&by=load&area=520&number=2", "/mix/sums?sum=cream&by=units&number=.5&times=2&days=40",
		works(yard.Carer, bottle, "0.0625% w/v", "1.5 L", "bandage=1", "with=saline").Is(200).Path, works(yard.Carer, bottle, "0.05% w/v", "10 mL").Is(200).Path,
		works(yard.Carer, bottle, "3% w/v", "1 L").Is(200).Path, works(yard.Carer, bottle, "20 ppm w/v", "2500 mL").Is(200).Path, works(yard.Carer, bottle, "0.3 mg/mL", "700 mL").Is(200).Path,
	} {
		page := yard.Owner.Get(path)
		if faults := numberFaults(page.Text()); faults != nil {
			t.Errorf("%s: %q\n%s", path, faults, page.Text())
		}
	}
	yard.Owner.Send(yard.Owner.Get("/rules").Form("/rules").With("mark", "comma")).Redirects("/rules")
	page := works(yard.Carer, bottle, "0,0625 % w/v", "1,5 L").Is(200).Says("Want 0,0625 g per 100 mL", "46,875 mL rounded to 47 mL")
	for _, fault := range numberFaults(page.Text()) {
		if !strings.HasPrefix(fault, "a comma between digits") {
			t.Error(fault)
		}
	}
}

// shelf puts products and bottles straight through the use cases, for tests that need many.
type shelf struct {
	yard         *webtest.Yard
	site         *webtest.Site
	owner, carer care.Actor
	bottles      map[string]string // by substance, strength, density and size
}

func newShelf(t *testing.T, site *webtest.Site) *shelf {
	s := &shelf{yard: site.Marl(), site: site, bottles: map[string]string{}}
	for to, p := range map[*care.Actor]*webtest.Person{&s.owner: s.yard.Owner, &s.carer: s.yard.Carer} {
		actor, err := site.Care.Actor(t.Context(), p.Session())
		if err != nil {
			t.Fatal(err)
		}
		*to = actor
	}
	return s
}

// bottle gives a bottle of a strength that two people have read, making it when there is none; "" when the
// strength itself cannot be typed.
func (s *shelf) bottle(t *testing.T, of mixing.Substance, strength, density string, size mixing.Amount) string {
	t.Helper()
	key := string(of) + strength + density + string(care.ExactAmount(size))
	if id, ok := s.bottles[key]; ok {
		return id
	}
	label, err := mixing.ParseStrength(strength, of)
	if err != nil {
		return ""
	}
	product := tracker.Product{Name: fmt.Sprintf("Bottle %d", len(s.bottles)), Label: care.ExactStrength(label), Facts: tracker.ProductFacts{Form: "solution"}}
	if density != "" {
		d, err := mixing.ParseDensity(density)
		if err != nil {
			t.Fatal(err)
		}
		product.Facts.Density = care.ExactFraction(d)
	}
	id, as := care.NewRecord(), care.NewRecord()
	in := care.NewBottle{Product: tracker.ProductID(as), Size: size, Strength: strength}
	err = s.site.Care.AddProduct(t.Context(), s.owner, care.Form{Record: as}, product)
	if err == nil {
		err = s.site.Care.AddBottle(t.Context(), s.owner, care.Form{Record: id}, in)
	}
	if err == nil { // the clock stands still, so the order of the two readings is that of their ids
		err = s.site.Care.ActOnBottle(t.Context(), s.carer, care.Form{Record: care.NewRecord()}, tracker.BottleID(id), tracker.StoreAct{Kind: tracker.LabelRead}, strength)
	}
	if err != nil {
		t.Fatalf("%s of %s: %v", strength, of, err)
	}
	s.bottles[key] = string(id)
	return string(id)
}

// vectors reads the golden rows that the command and the package are held to.
func vectors(t *testing.T) (rows [][]string) {
	t.Helper()
	data, err := os.ReadFile("../../testdata/vectors/mixing/dilution.txt")
	if err != nil {
		t.Fatal(err)
	}
	_, body, _ := strings.Cut(string(data), "\n\n")
	for line := range strings.SplitSeq(strings.TrimSpace(body), "\n") {
		row := strings.Split(line, "|")
		for i := range row {
			row[i] = strings.TrimSpace(row[i])
		}
		rows = append(rows, row)
	}
	return rows
}

// The page says what the golden file says, for every row that a page can show: the amount to take, what it
// makes, or the words of the refusal; and its working is the one that the command prints. A page always has a
// measure: a row without one is given one that shows its amount.
func TestPageAgreesWithGoldenRows(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	s := newShelf(t, site)
	shown, stopped := 0, 0
	for _, row := range vectors(t) {
		request, bottle, device := s.request(t, row)
		if bottle == "" {
			continue
		}
		result := mixing.Mix(request)
		page := works(s.yard.Carer, bottle, row[2], row[5], "of="+row[3], "how="+row[4], "device=", "device_other="+device)
		text := page.Text()
		if row[8] == "" {
			page.Is(200).Silent("Mixed. Write the label")
			for _, n := range result.Refusals {
				page.Says(plain(n.Text))
				if !slices.Contains(strings.Fields(row[12]), n.ID) {
					t.Errorf("%v: the page refuses by %s, the file by %s", row, n.ID, row[12])
				}
			}
			stopped++
			continue
		}
		page.Is(200)
		want, ok := new(big.Rat).SetString(row[9])
		if !ok || result.Concentrate.Value.Cmp(want) != 0 {
			t.Errorf("%v: takes %v, the file says %s", row, result.Concentrate.Value, row[9])
		}
		for _, line := range result.Working {
			if !strings.Contains(text, plain(line.Text)) {
				t.Errorf("%v: the page does not say %q", row, line.Text)
			}
		}
		if amount := plain(result.Concentrate.Words(tracker.Point)); !strings.Contains(text, amount) {
			t.Errorf("%v: the page does not say %q", row, amount)
		}
		shown++
	}
	t.Logf("%d rows shown, %d stopped, of %d", shown, stopped, len(vectors(t)))
	if shown < 150 || stopped < 25 {
		t.Errorf("only %d rows were shown and %d stopped", shown, stopped)
	}
}

// plain turns the spaces of an amount into ordinary ones, as the text of a page has them.
func plain(text string) string { return strings.Join(strings.Fields(text), " ") }

// request turns a row into what the page and the package are asked. Rows whose label cannot be in Stores, or
// whose amount no measure of this test shows, give no bottle.
func (s *shelf) request(t *testing.T, row []string) (r mixing.Request, bottle, device string) {
	of, err := mixing.FindSubstance(row[0])
	if err != nil {
		return r, "", ""
	}
	wantOf := of
	if row[3] != "" {
		if wantOf, err = mixing.FindSubstance(row[3]); err != nil {
			return r, "", ""
		}
	}
	label, err := mixing.ParseStrength(row[1], of)
	if err != nil {
		return r, "", ""
	}
	r = mixing.Request{Kind: mixing.MakeUpTo, Diluent: mixing.BoiledWater, Now: s.site.Clock.Now(), Mark: tracker.Point, MakeFrom: "you chose", WantFrom: "you chose", HaveFrom: "label, read by Ada and Bea"}
	switch row[4] {
	case "add":
		r.Kind = mixing.AddTo
	case "left":
		r.Kind, r.MakeFrom = mixing.UseUp, "left by the book"
	}
	if r.Want, r.ByParts, err = mixing.ParseWant(row[2], label, wantOf); err != nil {
		return r, "", ""
	}
	if r.Amount, err = mixing.ParseAmount(row[5]); err != nil {
		return r, "", ""
	}
	if device = row[6]; device == "" {
		if device = deviceFor(row[8]); device == "" {
			return r, "", ""
		}
	}
	d, err := mixing.ParseDevice(device)
	if err != nil {
		return r, "", ""
	}
	size := mixing.Millilitres(1_000_000)
	if r.Kind == mixing.UseUp {
		size = r.Amount
	}
	bottle = s.bottle(t, of, row[1], row[7], size)
	r.Devices = []mixing.Device{d}
	r.Stock = mixing.Stock{Name: s.name(bottle), Label: label, Form: mixing.Solution}
	if row[7] != "" {
		r.Stock.Density, err = mixing.ParseDensity(row[7])
	}
	if err != nil {
		return r, "", ""
	}
	r.Use.Skin = mixing.OpenSkin
	return r, bottle, device
}

// name gives what the product of a bottle is called.
func (s *shelf) name(bottle string) string {
	page, err := s.site.Care.Bottle(s.yard.Owner.TB.Context(), s.owner, tracker.BottleID(bottle))
	if err != nil {
		s.yard.Owner.TB.Fatal(err)
	}
	return page.Stock.Name
}

// deviceFor gives a measure that shows an exact amount in mL on a mark and measures it well; none for an
// amount that no decimal mark shows.
func deviceFor(exact string) string {
	if exact == "" {
		return "1000 mL cylinder, 1 mL marks"
	}
	v, ok := new(big.Rat).SetString(exact)
	if !ok {
		return ""
	}
	places, ends := v.FloatPrec()
	if !ends || places > 3 {
		return ""
	}
	mark := new(big.Rat).SetFrac64(1, 1)
	for range places {
		mark.Quo(mark, big.NewRat(10, 1))
	}
	ceiling := new(big.Rat).Add(v, mark)
	whole := new(big.Int).Quo(ceiling.Num(), ceiling.Denom())
	return fmt.Sprintf("%d mL cylinder, %s mL marks", whole.Int64()+1, mark.FloatString(places))
}
