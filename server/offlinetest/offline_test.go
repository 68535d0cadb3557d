package offlinetest

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"

	"leground/tracker"
)

// A13 and A14, and the first bar of the issue: seven sites with five photos recorded with no signal, the
// browser killed halfway, then sent through a link that drops twice. The yard holds each record exactly
// once, with the very content that the phone kept, and the photos that the phone posted.
func TestA13A14SevenSitesFivePhotos(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	before := len(b.checks())
	var files []string
	for i := range 5 {
		files = append(files, picture(t, 1600, 1200, uint64(i+1)))
	}
	for i, tag := range b.tags {
		enter(p, tag, strconv.Itoa(40+i), strconv.Itoa(20+i))
		if i < 5 {
			choose(p, tag, files[i])
		}
		if i == 3 { // the battery falls out with a card half filled in
			p.Wait(`leground.all('draft').then((all) => all.some((d) => d.photo && d.fields.some((f) => f[0] === 'width' && f[1] === '23')))`)
			p.Kill()
			p.Start()
			p.Open("/round")
			p.Says("You were at " + tag)
			p.Shot("resume-360")
			p.Tap("#start")
			p.Wait(`document.querySelector(` + quote(card(tag)) + `).checkVisibility()`)
			for name, want := range map[string]string{"length": "43", "width": "23"} {
				if got := Eval[string](p, `document.querySelector(`+quote(card(tag)+` input[name=`+name+`]`)+`).value`); got != want {
					t.Errorf("after the kill %s is %q, want %q", name, got, want)
				}
			}
			p.Wait(`document.querySelector(` + quote(card(tag)+` .photo-here img`) + `)`)
		}
		save(p, tag)
	}
	p.Shot("end-offline-360")
	p.Kill()
	p.Start()
	p.Open("/round")
	p.Says("7 readings, 5 photos saved on this phone")
	p.Open("/phone")
	p.Says("7 readings, 5 photos saved on this phone")
	p.Shot("phone-offline-360")
	records, photos := onPhone(p, "record"), onPhone(p, "photo")
	if len(records) != 7 || len(photos) != 5 {
		t.Fatalf("the phone holds %d records and %d photos, want 7 and 5", len(records), len(photos))
	}
	if len(b.checks()) != before {
		t.Fatal("the yard had something before there was signal")
	}

	// The link drops in the middle of a record, then in the middle of a photo. Text arrives before photos.
	b.link.CutAt(Reset, 700, nil)
	Eval[bool](p, `leground.sendNow().then(() => true)`)
	if got := len(b.checks()); got != before {
		t.Errorf("a record that was cut off is in the yard: %d looks, want %d", got, before)
	}
	b.link.CutAt(Reset, 60_000, nil)
	Eval[bool](p, `leground.sendNow().then(() => true)`)
	if got := len(b.checks()); got != before+7 {
		t.Errorf("%d looks came before the photos, want 7", got-before)
	}
	for _, k := range onPhone(p, "photo") {
		if k.State != "saved" {
			t.Errorf("photo %s is %s, want saved: its upload was cut off", k.ID, k.State)
		}
	}
	b.link.Cut(Pass)
	sent(p)
	b.same(records, photos)
	b.inOrder(records)
	p.Says("Everything is sent")
	p.Open("/round")
	p.Says("7 of 19 sent to the yard")

	// The same queue on a second run: a copy of the phone taken back in and sent again changes nothing.
	p.Open("/phone")
	Eval[bool](p, `(async () => {
		for (const store of ['record', 'photo']) for (const r of await leground.all(store)) await leground.change(store, r.id, { state: 'saved' });
		return true;
	})()`)
	sent(p)
	b.same(records, photos)
}

// same holds what the phone kept against what the yard has.
func (b *barn) same(records, photos []kept) {
	b.Helper()
	have := b.checks()
	if len(have) != len(records) {
		b.Errorf("the yard has %d looks, want %d", len(have), len(records))
	}
	for _, r := range records {
		c, ok := have[tracker.RecordID(r.ID)]
		if !ok {
			b.Errorf("%s (%s) is not in the yard", r.Words, r.ID)
			continue
		}
		if c.Hash != r.Hash {
			b.Errorf("%s: the yard has hash %s, the phone %s", r.Words, c.Hash, r.Hash)
		}
		if size := fmt.Sprint(c.Size.LengthMM, "x", c.Size.WidthMM); size != r.field("length")+"x"+r.field("width") && r.field("length") != "" {
			b.Errorf("%s: the yard has %s, the phone %sx%s", r.Words, size, r.field("length"), r.field("width"))
		}
	}
	for _, k := range photos {
		photo, data := b.photo(k.ID)
		if photo.Posted != k.SHA256 || string(photo.Check) != k.Of {
			b.Errorf("photo %s: posted %s of %s, the phone kept %s of %s", k.ID, photo.Posted, photo.Check, k.SHA256, k.Of)
		}
		if len(data) == 0 || k.Length > 350<<10 || photo.Width != 1600 {
			b.Errorf("photo %s: %d bytes stored, %d posted, %d px wide", k.ID, len(data), k.Length, photo.Width)
		}
	}
}

// inOrder tells whether the yard has the looks in the order in which they were saved.
func (b *barn) inOrder(records []kept) {
	b.Helper()
	have := b.checks()
	slices.SortFunc(records, func(x, y kept) int { return strings.Compare(x.field("at"), y.field("at")) })
	for i := 1; i < len(records); i++ {
		if !have[tracker.RecordID(records[i-1].ID)].At.Before(have[tracker.RecordID(records[i].ID)].At) {
			b.Errorf("%s and %s are not in the order in which they were saved", records[i-1].Words, records[i].Words)
		}
	}
}
