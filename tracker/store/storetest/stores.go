package storetest

import (
	"maps"
	"testing"
	"time"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
)

// The exact numbers of a wash concentrate, as package mixing writes them.
const (
	twoPercent  tracker.StrengthText = "2|% w/v|chlorhexidine gluconate"
	aTwentieth  tracker.StrengthText = "1/20|% w/v|chlorhexidine gluconate"
	oneLitre    tracker.AmountText   = "1000|mL"
	twentyFive  tracker.AmountText   = "25|mL"
	thirdOfIt   tracker.AmountText   = "1000/3|mL"
	syringeText                      = "20 mL syringe, 1 mL marks"
)

// stocked is one thing of every sort in a yard's Stores.
type stocked struct {
	product tracker.Product
	bottle  tracker.Bottle
	mix     tracker.Mix
	used    tracker.StoreAct
	put     tracker.StoreAct // on Bramble, in the morning round of today
}

func product(p Place) tracker.Product {
	return tracker.Product{
		ID: tracker.ProductID(NewID()), Name: "Wash concentrate A", Label: twoPercent, CreatedAt: noon, CreatedBy: p.Ada.ID, Hash: "hash", Gone: true,
		Facts: tracker.ProductFacts{
			Form: "solution", Weakest: "1/100|% w/v|chlorhexidine gluconate", Strongest: aTwentieth, Density: "53/50", IodineFactor: "1/10", InUseDays: 30,
			MixHours: 48, MixHoursBy: "the label", Cautions: []string{"Do not swallow.", "Not for eyes."}, Prescription: true,
			FoodNote: "Not for horses that may be eaten.", ConcentrateFirst: true, BleachDoubt: "scented", DeliveryDays: 7, MostCM2: "200", StripGrams: "2/5",
		},
	}
}

func storeAct(p Place, kind tracker.StoreActKind, after time.Duration) tracker.StoreAct {
	return tracker.StoreAct{ID: newRecord(), Kind: kind, At: noon.Add(after), By: p.Ada.ID}
}

func bottle(p Place, of tracker.Product, after time.Duration) tracker.Bottle {
	b := tracker.Bottle{ID: tracker.BottleID(NewID()), Product: of.ID, Size: oneLitre, Expiry: today + 400, AddedAt: noon.Add(after), AddedBy: p.Ada.ID, Hash: "hash"}
	read, opened := storeAct(p, tracker.LabelRead, after), storeAct(p, tracker.Opened, after+time.Second)
	read.Bottle, read.Strength, read.Hash = b.ID, twoPercent, "hash"
	opened.Bottle, opened.Day = b.ID, today
	b.Acts = []tracker.StoreAct{read, opened}
	return b
}

func mix(p Place, product tracker.ProductID, of tracker.BottleID, after time.Duration) tracker.Mix {
	return tracker.Mix{
		ID: tracker.MixID(NewID()), Product: product, Bottle: of, Horse: p.Bramble.ID, Plan: "wash", Want: aTwentieth, Strength: aTwentieth, Concentrate: twentyFive,
		Total: oneLitre, MadeAt: noon.Add(after), By: p.Bea.ID, ThrowAway: noon.Add(after + 24*time.Hour), Hash: "hash",
		Facts: tracker.MixFacts{Name: "Wash concentrate A", From: "Wash concentrate A, label read by Ada and Bea", Why: "24 hours after mixing",
			Diluent: "boiled and cooled water", Cautions: []string{"Not for eyes."}, Ticks: []string{"W6"}, Working: []string{"Add 25 mL.", "Top up."}},
	}
}

// stock puts a product, a bottle, a mix of it and its use into a yard.
func (h *House) stock(t testing.TB, p Place) stocked {
	t.Helper()
	s := stocked{product: product(p)}
	s.bottle = bottle(p, s.product, 0)
	s.mix = mix(p, s.product.ID, s.bottle.ID, time.Minute)
	s.used = storeAct(p, tracker.Used, time.Minute)
	s.used.Bottle, s.used.Amount, s.used.For = s.bottle.ID, twentyFive, s.mix.ID
	s.put = putOn(p, s, 2*time.Minute, tracker.PutOn)
	s.put.Bottle = s.bottle.ID
	h.write(t, p, func(tx care.Tx) error {
		must(t, tx.AddProduct(s.product))
		must(t, tx.AddBottle(s.bottle))
		must(t, tx.AddMix(s.mix))
		must(t, tx.AddStoreAct(s.used))
		must(t, tx.AddStoreAct(s.put))
		return tx.SaveMeasures(tracker.Measures{Volumes: []tracker.AmountText{oneLitre}, Devices: []string{syringeText}})
	})
	s.bottle.Acts = append(s.bottle.Acts, s.used, s.put)
	return s
}

// putOn is 5 mL on a leg of Bramble, or their giving back.
func putOn(p Place, s stocked, after time.Duration, kind tracker.StoreActKind) tracker.StoreAct {
	a := storeAct(p, kind, after)
	a.Day, a.Amount, a.Product, a.Horse, a.Item, a.Note = today, "5|mL", s.product.ID, p.Bramble.ID, "morning step/LF", "Bramble LF, morning round"
	return a
}

func testStores(t *testing.T, h *House) {
	h.read(t, h.Mine, func(tx care.Tx) error {
		m, err := tx.Measures()
		same(t, "the measures of a yard that set none", m, tracker.Measures{})
		return err
	})
	s := h.stock(t, h.Mine)
	wantFilled(t, s.product)
	wantFilled(t, s.bottle, "Ended")
	wantFilled(t, s.mix, "Parent", "Ended", "Acts") // from a mix: below
	changed := s.product
	changed.Name, changed.Gone, changed.Facts = "Wash B", false, tracker.ProductFacts{Form: "scrub"}
	later := bottle(h.Mine, s.product, time.Hour)
	later.Acts = nil
	second := mix(h.Mine, s.product.ID, "", time.Hour)
	second.Parent, second.Horse, second.Facts = s.mix.ID, "", tracker.MixFacts{Name: "weaker"}
	checked := storeAct(h.Mine, tracker.Checked, 2*time.Hour)
	checked.Mix, checked.Note = s.mix.ID, "both looked"
	h.write(t, h.Mine, func(tx care.Tx) error {
		must(t, tx.SaveProduct(changed))
		must(t, tx.AddBottle(later))
		must(t, tx.AddMix(second))
		must(t, tx.AddStoreAct(checked))
		return tx.SaveMeasures(tracker.Measures{Volumes: []tracker.AmountText{"500|mL", thirdOfIt}})
	})
	withCheck := s.mix
	withCheck.Acts = []tracker.StoreAct{checked}
	h.read(t, h.Mine, func(tx care.Tx) error {
		p, err := tx.Product(changed.ID)
		must(t, err)
		same(t, "a changed product", p, changed)
		all, err := tx.Products()
		must(t, err)
		same(t, "products", all, []tracker.Product{changed})
		bottles, err := tx.Bottles()
		must(t, err)
		same(t, "bottles, oldest first", bottles, []tracker.Bottle{s.bottle, later})
		mixes, err := tx.Mixes(noon)
		must(t, err)
		same(t, "mixes, newest first", mixes, []tracker.Mix{second, withCheck})
		mixes, err = tx.Mixes(second.ThrowAway)
		must(t, err)
		same(t, "mixes that are still good", mixes, []tracker.Mix{second})
		made, err := tx.MixesMade(h.Mine.Bramble.ID, noon)
		must(t, err)
		same(t, "mixes made for a horse", made, []tracker.Mix{s.mix})
		made, err = tx.MixesMade("", second.MadeAt)
		must(t, err)
		same(t, "mixes made since", made, []tracker.Mix{second})
		uses, err := tx.Uses(s.used.At.Add(time.Millisecond))
		must(t, err)
		same(t, "uses since", uses, []care.Use{{Product: s.product.ID, At: s.put.At, Amount: "5|mL", Horse: h.Mine.Bramble.ID}})
		act, err := tx.StoreAct(checked.ID)
		must(t, err)
		same(t, "an act", act, checked)
		m, err := tx.Measures()
		must(t, err)
		same(t, "measures", m, tracker.Measures{Volumes: []tracker.AmountText{"500|mL", thirdOfIt}})
		_, err = tx.Bottle(tracker.BottleID(NewID()))
		wantKind(t, "an unknown bottle", err, tracker.NotFound)
		_, err = tx.Mix(tracker.MixID(NewID()))
		wantKind(t, "an unknown mix", err, tracker.NotFound)
		return nil
	})
	testPutOn(t, h, s)
	testStoreEnds(t, h, s)
	testStoreCounts(t, h)
}

// testPutOn: what is put on is found by the day of its round, with what was given back. It counts as a use until then; what
// no bottle had is told apart until a bottle of the product ends, and what came out of a mix was counted when it was made.
func testPutOn(t *testing.T, h *House, s stocked) {
	act := func(after time.Duration, kind tracker.StoreActKind, spoil func(*tracker.StoreAct)) tracker.StoreAct {
		a := putOn(h.Mine, s, after, kind)
		spoil(&a)
		return a
	}
	fromMix := act(3*time.Minute, tracker.PutOn, func(a *tracker.StoreAct) { a.Mix = s.mix.ID })
	fromNone := act(4*time.Minute, tracker.PutOn, func(a *tracker.StoreAct) { a.Strength = aTwentieth })
	later := act(5*time.Minute, tracker.PutOn, func(a *tracker.StoreAct) { a.Day, a.Mix = today+1, s.mix.ID })
	taken := act(6*time.Minute, tracker.PutOn, func(a *tracker.StoreAct) { a.Day = today + 1 })
	back := act(7*time.Minute, tracker.GivenBack, func(a *tracker.StoreAct) { a.Day, a.Of = today+1, taken.ID })
	h.write(t, h.Mine, func(tx care.Tx) error {
		for _, a := range []tracker.StoreAct{fromMix, fromNone, later, taken, back} {
			must(t, tx.AddStoreAct(a))
		}
		return nil
	})
	h.read(t, h.Mine, func(tx care.Tx) error {
		day, err := tx.PutOn(today)
		must(t, err)
		same(t, "put on in a day", day, []tracker.StoreAct{s.put, fromMix, fromNone})
		day, err = tx.PutOn(today + 1)
		must(t, err)
		same(t, "put on and given back", day, []tracker.StoreAct{later, taken, back})
		uses, err := tx.Uses(noon)
		must(t, err)
		same(t, "uses with what was put on", uses, []care.Use{{Product: s.product.ID, At: s.used.At, Amount: twentyFive}, {Product: s.product.ID, At: s.put.At, Amount: "5|mL", Horse: h.Mine.Bramble.ID},
			{Product: s.product.ID, At: fromNone.At, Amount: "5|mL", Strength: aTwentieth, Horse: h.Mine.Bramble.ID, Unmet: true}})
		return nil
	})
}

// testStoreEnds: what is used up or thrown away is no longer there, stays in the book, and ends once.
func testStoreEnds(t *testing.T, h *House, s stocked) {
	empty, again, thrown := storeAct(h.Mine, tracker.UsedUp, 3*time.Hour), storeAct(h.Mine, tracker.ThrownAway, 4*time.Hour), storeAct(h.Mine, tracker.ThrownAway, 3*time.Hour)
	empty.Bottle, again.Bottle, thrown.Mix = s.bottle.ID, s.bottle.ID, s.mix.ID
	h.write(t, h.Mine, func(tx care.Tx) error {
		for _, a := range []tracker.StoreAct{empty, again, thrown} {
			must(t, tx.AddStoreAct(a))
		}
		return nil
	})
	h.read(t, h.Mine, func(tx care.Tx) error {
		uses, err := tx.Uses(s.put.At.Add(time.Minute))
		must(t, err)
		if len(uses) != 1 || uses[0].Unmet {
			t.Errorf("what no bottle had is told apart after one ended: %v", uses)
		}
		b, err := tx.Bottle(s.bottle.ID)
		must(t, err)
		want := s.bottle
		want.Ended, want.Acts = empty.At, append(want.Acts, empty, again)
		same(t, "a bottle that was used up", b, want)
		past, err := tx.PastBottles(s.product.ID)
		must(t, err)
		want.Acts = nil
		same(t, "bottles that ended", past, []tracker.Bottle{want})
		bottles, err := tx.Bottles()
		must(t, err)
		if len(bottles) != 1 || bottles[0].ID == s.bottle.ID {
			t.Errorf("an ended bottle is listed: %v", bottles)
		}
		m, err := tx.Mix(s.mix.ID)
		must(t, err)
		if !m.Ended.Equal(thrown.At) {
			t.Errorf("a mix ended at %v, want %v", m.Ended, thrown.At)
		}
		mixes, err := tx.Mixes(noon)
		must(t, err)
		if len(mixes) != 1 || mixes[0].ID == s.mix.ID {
			t.Errorf("an ended mix is listed: %v", mixes)
		}
		return nil
	})
}

func testStoreCounts(t *testing.T, h *House) {
	h.stock(t, h.Mine)
	for name, c := range map[string]struct {
		statements int64
		call       func(care.Tx) error
	}{
		"Products":  {1, func(tx care.Tx) error { _, err := tx.Products(); return err }},
		"Bottles":   {2, func(tx care.Tx) error { _, err := tx.Bottles(); return err }},
		"Mixes":     {2, func(tx care.Tx) error { _, err := tx.Mixes(noon); return err }},
		"MixesMade": {1, func(tx care.Tx) error { _, err := tx.MixesMade("", noon); return err }},
		"PutOn":     {1, func(tx care.Tx) error { _, err := tx.PutOn(today); return err }},
		"Uses":      {1, func(tx care.Tx) error { _, err := tx.Uses(noon); return err }},
		"Measures":  {1, func(tx care.Tx) error { _, err := tx.Measures(); return err }},
	} {
		var counts store.Counts
		must(t, h.DB.Read(store.Counting(t.Context(), &counts), h.Mine.Yard.ID, c.call))
		if got := counts.Statements.Load(); got != c.statements || counts.Rows.Load() == 0 {
			t.Errorf("Tx.%s took %d statements for %d rows, want %d", name, got, counts.Rows.Load(), c.statements)
		}
	}
}

// testStoreBadValues gives what cannot be kept, and what points into the other yard.
func testStoreBadValues(t *testing.T, h *House) {
	theirs, mine := h.stock(t, h.Other), h.stock(t, h.Mine)
	act := func(spoil func(*tracker.StoreAct)) func(care.Tx) error {
		return func(tx care.Tx) error {
			a := storeAct(h.Mine, tracker.AmountLeft, 0)
			a.Bottle = mine.bottle.ID
			spoil(&a)
			return tx.AddStoreAct(a)
		}
	}
	newMix := func(spoil func(*tracker.Mix)) func(care.Tx) error {
		return func(tx care.Tx) error {
			m := mix(h.Mine, mine.product.ID, mine.bottle.ID, 0)
			spoil(&m)
			return tx.AddMix(m)
		}
	}
	newBottle := func(spoil func(*tracker.Bottle)) func(care.Tx) error {
		return func(tx care.Tx) error { b := bottle(h.Mine, mine.product, 0); spoil(&b); return tx.AddBottle(b) }
	}
	for what, c := range map[string]struct {
		do   func(care.Tx) error
		kind tracker.ErrorKind // 0: a fault of the program
	}{
		"a product without a strength":      {func(tx care.Tx) error { p := product(h.Mine); p.Label = ""; return tx.AddProduct(p) }, 0},
		"a product by their person":         {func(tx care.Tx) error { return tx.AddProduct(product(h.Other)) }, tracker.NotFound},
		"a bottle of unknown size":          {newBottle(func(b *tracker.Bottle) { b.Size = "" }), 0},
		"a bottle of their product":         {newBottle(func(b *tracker.Bottle) { b.Product = theirs.product.ID }), tracker.NotFound},
		"a bottle by their person":          {newBottle(func(b *tracker.Bottle) { b.AddedBy = h.Other.Ada.ID }), tracker.NotFound},
		"a mix of no strength":              {newMix(func(m *tracker.Mix) { m.Strength = "" }), 0},
		"a mix of nothing":                  {newMix(func(m *tracker.Mix) { m.Concentrate = "" }), 0},
		"a mix of their product":            {newMix(func(m *tracker.Mix) { m.Product = theirs.product.ID }), tracker.NotFound},
		"a mix of their bottle":             {newMix(func(m *tracker.Mix) { m.Bottle = theirs.bottle.ID }), tracker.NotFound},
		"a mix of their mix":                {newMix(func(m *tracker.Mix) { m.Parent = theirs.mix.ID }), tracker.NotFound},
		"a mix for their horse":             {newMix(func(m *tracker.Mix) { m.Horse = h.Other.Tom.ID }), tracker.NotFound},
		"a mix by their person":             {newMix(func(m *tracker.Mix) { m.By = h.Other.Ada.ID }), tracker.NotFound},
		"an act of no kind":                 {act(func(a *tracker.StoreAct) { a.Kind = "party" }), 0},
		"an act about nothing":              {act(func(a *tracker.StoreAct) { a.Bottle = "" }), 0},
		"an act about two things":           {act(func(a *tracker.StoreAct) { a.Mix = mine.mix.ID }), 0},
		"an act on their bottle":            {act(func(a *tracker.StoreAct) { a.Bottle = theirs.bottle.ID }), tracker.NotFound},
		"an act on their mix":               {act(func(a *tracker.StoreAct) { a.Bottle, a.Mix = "", theirs.mix.ID }), tracker.NotFound},
		"a use in their mix":                {act(func(a *tracker.StoreAct) { a.Kind, a.For = tracker.Used, theirs.mix.ID }), tracker.NotFound},
		"an end of their bottle":            {act(func(a *tracker.StoreAct) { a.Kind, a.Bottle = tracker.UsedUp, theirs.bottle.ID }), tracker.NotFound},
		"an act by their person":            {act(func(a *tracker.StoreAct) { a.By = h.Other.Ada.ID }), tracker.NotFound},
		"the same act a second time, by id": {act(func(a *tracker.StoreAct) { a.ID = mine.used.ID }), tracker.Conflict},
	} {
		err := h.DB.Write(t.Context(), h.Mine.Yard.ID, c.do)
		if err == nil {
			t.Errorf("%s was kept", what)
		}
		wantKind(t, what, err, c.kind)
	}
	h.read(t, h.Mine, func(tx care.Tx) error {
		b, err := tx.Bottle(mine.bottle.ID)
		same(t, "the bottle after all that", b, mine.bottle)
		return err
	})
}

// storeLeaks are the leak cases of Stores.
func storeLeaks(h *House, theirs stocked, cases map[string]func(care.Tx) leak) map[string]func(care.Tx) leak {
	p := h.Other
	none := func(n int, err error) leak { return leak{err, n != 0} }
	refused := func(err error) leak { return leak{err: err, found: "no refusal"} }
	maps.Copy(cases, map[string]func(care.Tx) leak{
		"Products":    func(tx care.Tx) leak { l, err := tx.Products(); return none(len(l), err) },
		"Product":     func(tx care.Tx) leak { _, err := tx.Product(theirs.product.ID); return refused(err) },
		"AddProduct":  func(tx care.Tx) leak { return refused(tx.AddProduct(product(p))) },
		"SaveProduct": func(tx care.Tx) leak { return refused(tx.SaveProduct(theirs.product)) },
		"Bottles":     func(tx care.Tx) leak { l, err := tx.Bottles(); return none(len(l), err) },
		"Bottle":      func(tx care.Tx) leak { _, err := tx.Bottle(theirs.bottle.ID); return refused(err) },
		"AddBottle": func(tx care.Tx) leak {
			return refused(tx.AddBottle(bottle(h.Mine, theirs.product, 0)))
		},
		"PastBottles": func(tx care.Tx) leak { l, err := tx.PastBottles(theirs.product.ID); return none(len(l), err) },
		"Mixes":       func(tx care.Tx) leak { l, err := tx.Mixes(time.Time{}); return none(len(l), err) },
		"MixesMade":   func(tx care.Tx) leak { l, err := tx.MixesMade(p.Bramble.ID, time.Time{}); return none(len(l), err) },
		"Mix":         func(tx care.Tx) leak { _, err := tx.Mix(theirs.mix.ID); return refused(err) },
		"AddMix":      func(tx care.Tx) leak { return refused(tx.AddMix(mix(h.Mine, theirs.product.ID, "", 0))) },
		"StoreAct":    func(tx care.Tx) leak { _, err := tx.StoreAct(theirs.used.ID); return refused(err) },
		"AddStoreAct": func(tx care.Tx) leak {
			a := storeAct(h.Mine, tracker.ThrownAway, 0)
			a.Bottle = theirs.bottle.ID
			return refused(tx.AddStoreAct(a))
		},
		"PutOn":        func(tx care.Tx) leak { l, err := tx.PutOn(today); return none(len(l), err) },
		"Uses":         func(tx care.Tx) leak { l, err := tx.Uses(time.Time{}); return none(len(l), err) },
		"Measures":     func(tx care.Tx) leak { m, err := tx.Measures(); return none(len(m.Volumes)+len(m.Devices), err) },
		"SaveMeasures": func(tx care.Tx) leak { return leak{err: tx.SaveMeasures(tracker.Measures{})} }, // its own
	})
	return cases
}

// stores is everything that a yard can see of its Stores.
type stores struct {
	Products []tracker.Product
	Bottles  []tracker.Bottle
	Mixes    []tracker.Mix
	Uses     []care.Use
	Measures tracker.Measures
}

func readStores(t testing.TB, tx care.Tx) (s stores) {
	t.Helper()
	var errs [5]error
	s.Products, errs[0] = tx.Products()
	s.Bottles, errs[1] = tx.Bottles()
	s.Mixes, errs[2] = tx.Mixes(time.Time{})
	s.Uses, errs[3] = tx.Uses(time.Time{})
	s.Measures, errs[4] = tx.Measures()
	for _, err := range errs {
		must(t, err)
	}
	return s
}
