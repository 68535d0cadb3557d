package web_test

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"

	"leground/server/webtest"
	"leground/tracker"
)

// count gives the rows of a table.
func count(site *webtest.Site, table string) int { return len(site.Dump()[table]) }

// The same post twice is one record, whatever it records: a double tap, a reload, a retry.
func TestTheSamePostTwice(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	path := "/horse/" + string(yard.Bramble)
	photo := picture(t, 60, 40)
	wound := yard.Owner.Card(yard.Wound).With("length", "42").With("width", "25").With("exudate", "0").With("pain", "0").With("danger", "maggots").WithFile("photo", photo)
	yard.Owner.Send(wound).Redirects("/round")
	caution := "/caution/" + site.Rows("caution", "caution_id")[0]
	for _, c := range []struct {
		name   string
		form   webtest.Form
		tables string
	}{
		{"a site card with a photo", wound, "leg_check photo photo_bytes caution judgement"},
		{"a leg line", yard.Owner.Line(yard.Bramble, "LF").With("clear", "1"), "leg_check"},
		{"a new site", yard.Owner.Get("/round").Form("/sites", "leg=LH").With("kind", "patch"), "site"},
		{"something that happened", yard.Owner.Get(path).Form("/events").With("kind", "vet-visit"), "event"},
		{"a change of a site", webtest.Form{Action: "/sites/change", Values: webtest.Values("record="+newID(), "site="+string(yard.Small), "do=kind", "kind=patch")}, "event site"},
		{"an undo", webtest.Form{Action: "/round/undo", Values: webtest.Values("record="+newID(), "of="+wound.Values.Get("record"))}, "leg_check"},
		{"a horse", yard.Owner.Get("/horses").Form("/horses").With("name", "Fern"), "horse"},
		{"an act on a caution", yard.Owner.Get(caution).Form(caution).With("kind", "vet-knows"), "caution_act"},
		{"a photo by itself", webtest.Form{Action: "/photos", Enctype: "multipart/form-data", Values: webtest.Values("of="+wound.Values.Get("record"), "photo_id="+newID())}.WithFile("photo", photo), "photo photo_bytes"},
	} {
		first := yard.Owner.Send(c.form)
		if first.Status != 303 {
			t.Errorf("%s answers %d:\n%s", c.name, first.Status, first.Text())
		}
		before := map[string]int{}
		for _, table := range strings.Fields(c.tables + " conflict audit") {
			before[table] = count(site, table)
		}
		var all sync.WaitGroup
		answers := make([]*webtest.Page, 6)
		for i := range answers {
			all.Go(func() { answers[i] = yard.Owner.Send(c.form) })
		}
		all.Wait()
		for _, again := range answers {
			if again.Status != 303 {
				t.Errorf("%s, sent again, answers %d:\n%s", c.name, again.Status, again.Text())
			}
		}
		for table, n := range before {
			if got := count(site, table); got != n {
				t.Errorf("%s, sent again, made %d rows of %s from %d", c.name, got, table, n)
			}
		}
	}
	yard.Owner.Get("/").Silent("came twice")
}

// Six phones send the same new form at once: one record, and everybody gets the same answer.
func TestTheSamePostAtOnce(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	form := yard.Owner.Card(yard.Wound).With("length", "42").With("width", "25").With("exudate", "0").With("pain", "0")
	var all sync.WaitGroup
	answers := make([]*webtest.Page, 6)
	for i := range answers {
		all.Go(func() { answers[i] = yard.Owner.Send(form) })
	}
	all.Wait()
	for _, a := range answers {
		a.Redirects("/round?saved=" + form.Values.Get("record"))
	}
	if got := count(site, "leg_check"); got != 1 {
		t.Errorf("there are %d checks, want 1", got)
	}
}

// The same record id with other content keeps both: the answer says so, the Board says so, both can be read
// beside each other, and it is put away only by somebody who looked.
func TestTheSameIDWithOtherContent(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	path := "/horse/" + string(yard.Bramble)
	card := yard.Owner.Card(yard.Wound).With("length", "42").With("width", "25").With("exudate", "0").With("pain", "0")
	n := 0
	for _, c := range []struct {
		name       string
		form       webtest.Form
		field      string
		other      string
		shows      string
		firstStays string
	}{
		{"a site card", card, "length", "51", "length: 51", "42 x 25 mm"},
		{"a leg line", yard.Owner.Line(yard.Bramble, "LF").With("filling", "1"), "filling", "3", "filling: 3", "fetlock"},
		{"a new site", yard.Owner.Get("/round").Form("/sites", "leg=LH", "horse="+string(yard.Bramble)).With("kind", "patch"), "kind", "wound", "kind: wound", "LH 1"},
		{"something that happened", yard.Owner.Get(path).Form("/events").With("kind", "vet-visit").With("note", "first"), "note", "second", "note: second", ""},
		{"a change of a site", webtest.Form{Action: "/sites/change", Values: webtest.Values("record="+newID(), "site="+string(yard.Small), "do=kind", "kind=patch")}, "kind", "wound", "kind: wound", ""},
		{"a horse", yard.Owner.Get("/horses").Form("/horses").With("name", "Fern"), "name", "Moss", "name: Moss", ""},
	} {
		yard.Owner.Send(c.form).Redirects("/")
		other := c.form.With(c.field, c.other)
		for range 2 { // sending it once more changes nothing
			yard.Carer.Send(other).Is(409).Says("Both are kept and need a look on the Board.")
		}
		n++
		board := yard.Owner.Get("/").Text()
		if !strings.Contains(board, fmt.Sprintf("%d posted forms came twice with different answers.", n)) && (n > 1 || !strings.Contains(board, "1 posted form came twice with different answers.")) {
			t.Errorf("%s: the Board does not say that %d came twice:\n%s", c.name, n, board)
		}
		yard.Owner.Get("/conflicts").Says(c.shows, "Bea")
		yard.Owner.Get(path).Says(c.firstStays)
	}
	// Each can be read where it was kept first, and is put away one by one.
	page := yard.Owner.Get("/conflicts")
	for _, a := range page.Root().ID("main").Named("a") {
		yard.Owner.Get(a.Attr["href"]).Is(200)
	}
	for ; n > 0; n-- {
		for action := range actions(yard.Owner.Get("/conflicts")) {
			if strings.HasPrefix(action, "/conflicts/") {
				yard.Owner.Post(action, nil).Redirects("/conflicts")
				break
			}
		}
	}
	yard.Owner.Get("/conflicts").Says("Nothing needs a look.")
	yard.Owner.Get("/").Silent("came twice")
	if got := count(site, "conflict"); got != 6 {
		t.Errorf("%d of 6 are still in the book after they were put away", got)
	}
}

// Two people who look at the same site in the same round are both kept, and neither is averaged away.
func TestTwoPeopleInOneRound(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	one := yard.Owner.Card(yard.Wound).With("length", "42").With("width", "25").With("exudate", "0").With("pain", "0")
	two := yard.Carer.Card(yard.Wound).With("length", "48").With("width", "26").With("exudate", "1").With("pain", "0")
	yard.Owner.Send(one).Redirects("/round")
	site.Clock.Add(1e9)
	yard.Carer.Send(two).Redirects("/round")
	yard.Owner.Get("/round").Says("48 x 26 mm", "Also looked at in this round at 13:00", "42 x 25 mm", "Both are kept.")
	yard.Owner.Get("/horse/"+string(yard.Bramble)).Says("48 x 26 mm", "42 x 25 mm", "Ada", "Bea")
}

// A correction adds a version: the new value counts, the old one stays readable with who and when, and a
// correction can be corrected.
func TestCorrections(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	record := yard.Carer.Looks(yard.Wound, "24", "25", "note=typed the wrong way round")
	site.Clock.Add(3600e9)
	check := "/check/" + record
	form := yard.Owner.Get(check).Form("/round/site")
	if got := form.Values.Get("length"); got != "25" { // 24 x 25: the longest way is the longer of the two
		t.Errorf("the correction starts from length %q, want what was recorded", got)
	}
	yard.Owner.Send(form.With("length", "42").With("note", "")).Redirects(check)
	page := yard.Owner.Get(check).Says("25 x 24 mm", "42 x 24 mm", "typed the wrong way round", "Bea", "Ada")
	if rows := page.Root().Named("tbody")[0].Named("tr"); len(rows) != 2 {
		t.Errorf("the check shows %d versions, want 2", len(rows))
	}
	horse := yard.Owner.Get("/horse/" + string(yard.Bramble))
	struck := horse.Root().Named("s")
	if len(struck) != 1 || !strings.Contains(struck[0].Text(), "4.7") { // pi/4 x 25 mm x 24 mm = 4.71 cm2
		t.Errorf("the old value is not struck out in the table: %v", horse.Text())
	}
	horse.Says("7.9 cm²") // pi/4 x 42 mm x 24 mm = 7.92 cm2
	second := yard.Owner.Get(check).Form("/round/site").With("length", "41")
	yard.Owner.Send(second).Redirects(check)
	yard.Owner.Get("/round").Says("41 x 24 mm").Silent("42 x 24 mm")
	for _, row := range site.Dump()["leg_check"] {
		if !strings.Contains(row, "day=2026-05-14") || !strings.Contains(row, fmt.Sprintf("seen_at=%d", webtest.Noon().UnixMilli())) {
			t.Errorf("a correction moved the look: %s", row)
		}
	}
	if got := count(site, "leg_check"); got != 3 {
		t.Errorf("there are %d versions, want 3", got)
	}
	// The round it belongs to is the one it was seen in, even when it is put right two days later.
	site.Clock.Set(site.Clock.Now().AddDate(0, 0, 2))
	yard.Owner.Send(yard.Owner.Get(check).Form("/round/site").With("length", "40")).Redirects(check)
	yard.Owner.Get("/").Says("0 of 15 looks recorded")
}

// A look whose size was not due can be put right without one.
func TestCorrectionWithoutASize(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	yard.Owner.Looks(yard.Wound, "42", "25")
	site.Clock.Set(webtest.Noon().Add(7 * 3600e9)) // 20:00: the evening round
	form := yard.Owner.Card(yard.Wound)
	if form.Values.Get("size_not_due") == "" {
		t.Fatal("the evening round asks for a size again")
	}
	yard.Owner.Send(form).Is(422).Says("Score what you see").Silent("Enter the size")
	form = yard.Owner.Send(form).Form("/round/site").With("exudate", "1")
	yard.Owner.Send(form).Redirects("/round")
	check := "/check/" + form.Values.Get("record")
	again := yard.Owner.Get(check).Form("/round/site").With("exudate", "2")
	yard.Owner.Send(again).Redirects(check)
}

// A correction with a mistake comes back on the page of what it corrects, and can then be sent.
func TestCorrectionWithAMistake(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	record := yard.Owner.Looks(yard.Wound, "42", "25")
	form := yard.Owner.Get("/check/"+record).Form("/round/site").With("length", "4200").With("note", "seen again")
	page := yard.Owner.Send(form).Is(422).Says("Longest way must be a whole number from 1 to 400", "What was recorded", "42 x 25 mm")
	kept(t, page, form)
	yard.Owner.Send(page.Form("/round/site").With("length", "43")).Redirects("/check/" + record)
	yard.Owner.Get("/check/"+record).Says("43 x 25 mm", "seen again")
}

// Undo takes a look back as if it had not been made: the card is to do again, the label and the last size
// are what they were before, and the book still holds what was said. It is offered long after.
func TestUndo(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	for day := range 3 {
		site.Clock.Set(webtest.Noon().AddDate(0, 0, day))
		yard.Owner.Looks(yard.Wound, fmt.Sprint(42-day), "25")
	}
	site.Clock.Set(webtest.Noon().AddDate(0, 0, 3))
	words := func() []string {
		return []string{yard.Owner.Get("/round").Text(), yard.Owner.Get("/").Text(), judged(site)}
	}
	before := words()
	record := yard.Carer.Looks(yard.Wound, "60", "50", "danger=maggots", "pain=2")
	site.Clock.Add(20 * 60e9)
	round := yard.Owner.Get("/round?saved=" + record).Says("Bramble RF 1 is saved in the yard.")
	yard.Owner.Send(round.Form("/round/undo", "of="+record)).Redirects("/round")
	site.Clock.Add(-20 * 60e9)
	after := words()
	// The caution that the danger raised stays until somebody rings: taking back a tick must not silence it.
	const caution = "Ring the vet today: Ticked Sun 17 May, 13:00: maggots. It is on the right fore, upper cannon, back (RF 1). See it "
	if !strings.Contains(after[0], caution) {
		t.Errorf("the caution went with the look:\n%s", after[0])
	}
	after[0] = strings.Replace(after[0], caution, "", 1)
	if after[0] != before[0] {
		t.Errorf("the round after Undo is not the one before:\n%s\n%s", before[0], after[0])
	}
	if after[2] != before[2] {
		t.Errorf("the judgement after Undo is not the one before:\n%s\n%s", before[2], after[2])
	}
	yard.Owner.Get("/check/"+record).Says("60 x 50 mm", "Taken back").Silent("Put it right")
	yard.Owner.Get("/horse/"+string(yard.Bramble)).Says("taken back", "60 x 50 mm")
	yard.Owner.Looks(yard.Wound, "39", "25") // the card is free again
}

// A look that closed a site and is taken back, or put right, puts the site back into the round.
func TestUndoOpensASiteAgain(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	var record string
	for day, size := range []string{"", "closed", "closed"} {
		site.Clock.Set(webtest.Noon().AddDate(0, 0, day))
		if size == "" {
			yard.Owner.Looks(yard.Wound, "4", "3")
			continue
		}
		form := yard.Owner.Card(yard.Wound).With("size", size).With("skin_seen", "1").With("exudate", "0").With("pain", "0")
		yard.Owner.Send(form).Redirects("/round")
		record = form.Values.Get("record")
	}
	yard.Owner.Get("/horse/" + string(yard.Bramble)).Says("closed over on")
	site.Clock.Add(12 * 3600e9)
	card := func() bool {
		return slices.ContainsFunc(yard.Owner.Get("/round").Forms(), func(f webtest.Form) bool { return f.Values.Get("site") == string(yard.Wound) })
	}
	if card() {
		t.Error("a closed site is still in the round")
	}
	yard.Owner.Post("/round/undo", webtest.Values("record="+newID(), "of="+record)).Redirects("/round")
	if !card() {
		t.Error("the site is not back in the round")
	}
	yard.Owner.Get("/horse/" + string(yard.Bramble)).Silent("closed over on")
}

func judged(site *webtest.Site) string {
	var out []string
	for _, row := range site.Dump()["judgement"] {
		at := strings.Index(row, "made_at=")
		out = append(out, row[:at])
	}
	slices.Sort(out)
	return strings.Join(out, "\n")
}

func newID() string { return string(tracker.RecordID(newRecord())) }
