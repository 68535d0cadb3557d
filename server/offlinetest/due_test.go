package offlinetest

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/serviceworker"
	"github.com/chromedp/chromedp"

	"leground/tracker"
	"leground/tracker/care"
)

// once notes two things that are due today, in words.
func (b *barn) once(words ...string) {
	b.Helper()
	for _, what := range words {
		form := b.yard.Owner.Get("/due").Form("/due/once").With("kind", "other").With("what", what).With("day", tracker.DateOf(b.site.Clock.Now()).String())
		b.yard.Owner.Send(form).Redirects("/due")
	}
}

// ticks gives what the yard has of the Due list, by record id.
func (b *barn) ticks() map[string]tracker.TickOff {
	b.Helper()
	today := tracker.DateOf(b.site.Clock.Now())
	out := map[string]tracker.TickOff{}
	err := b.site.Store().Read(b.Context(), b.yardID(), func(tx care.Tx) error {
		all, err := tx.TickOffs(today-1, today-1)
		for _, tick := range all {
			out[string(tick.ID)] = tick
		}
		return err
	})
	if err != nil {
		b.Fatal(err)
	}
	return out
}

func dueRow(words string) string { return `.due-row[data-tag*="` + words + `"]` }

// A40 for the Due list, with no signal: what is ticked is kept on the phone, with the way back, and goes like a
// look, with the time at which it was ticked. The copy of the page still says so when it is opened again.
func TestA40TicksWithNoSignal(t *testing.T) {
	b := newBarn(t)
	b.once("Blood test", "Salt lick", "New rug")
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	p.Open("/due")
	before := b.site.Clock.Now()
	p.Tap(dueRow("Blood test") + ` > .row > form button`)
	p.Wait(`document.querySelector(` + quote(dueRow("Blood test")+" .kept") + `).innerText.includes('Saved on this phone')`)
	p.Tap(dueRow("Salt lick") + ` summary`)
	p.Tap(dueRow("Salt lick") + ` [name=why]`)
	p.Do(chromedp.KeyEvent("no time"))
	p.Tap(dueRow("Salt lick") + ` details button`)
	p.Wait(`document.querySelector(` + quote(dueRow("Salt lick")+" .kept") + `).innerText.includes('Saved on this phone')`)
	p.Tap(dueRow("New rug") + ` > .row > form button`)
	p.Wait(`document.querySelector(` + quote(dueRow("New rug")+" .kept button") + `)`)
	p.Shot("due-offline-360")
	p.Tap(dueRow("New rug") + ` .kept button`) // a slip: taken back before it ever went
	p.Wait(`document.querySelector(` + quote(dueRow("New rug")+" > .row") + `).checkVisibility()`)
	after := b.site.Clock.Now()
	p.Open("/due")
	p.Wait(`[...document.querySelectorAll('.due-row .kept .state')].length === 2`)
	if Eval[bool](p, `document.querySelector(`+quote(dueRow("Blood test")+" > .row")+`).checkVisibility()`) {
		t.Error("what is ticked on this phone can be ticked again")
	}
	p.Says("4 forms saved on this phone") // the slip and its taking back too

	b.link.Cut(Pass)
	sent(p)
	p.Wait(`[...document.querySelectorAll('.due-row .kept .state')].every((e) => e.innerText.includes('Sent to the yard'))`)
	ticks, phone := b.ticks(), onPhone(p, "record")
	slices.SortFunc(phone, func(x, y kept) int { return strings.Compare(x.field("at"), y.field("at")) })
	for i, want := range []tracker.TickOutcome{tracker.TickDone, tracker.TickSkipped, tracker.TickDone, tracker.TickUndone} {
		if got := ticks[phone[i].ID]; got.Outcome != want || len(ticks) != 4 {
			t.Errorf("%s (%s) is %q in the yard, want %q; it has %d", phone[i].Words, phone[i].Path, got.Outcome, want, len(ticks))
		}
	}
	if at := ticks[phone[0].ID].At; at.Before(before.Add(-2*time.Second)) || at.After(after.Add(2*time.Second)) {
		t.Errorf("ticked at %v, want between %v and %v", at, before, after)
	}

	// The way back of what the yard has, still there after ten idle minutes.
	b.jump(10 * time.Minute)
	p.Tap(dueRow("Blood test") + ` .kept button`)
	sent(p)
	p.Open("/due")
	p.Wait(`document.querySelector(` + quote(dueRow("Blood test")+" > .row > form button") + `).checkVisibility()`)
	if ticks := b.ticks(); len(ticks) != 5 {
		t.Errorf("the yard has %+v, want one more, which takes back", ticks)
	}
	// Ticked again: under an id of its own.
	p.Tap(dueRow("Blood test") + ` > .row > form button`)
	sent(p)
	if ticks := b.ticks(); len(ticks) != 6 {
		t.Errorf("the yard has %+v, want one more", ticks)
	}
	b.yard.Owner.Get("/due").Says("Blood test")
}

// A site that is found with no signal goes with its first look and its photo, under the id of the one form.
func TestANewSiteWithNoSignal(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	p.Open("/round")
	goTo(p, "Bramble LF")
	box := `form[data-tag="Bramble LF new site"]`
	p.Tap(`.more-on-leg:has(` + box + `) > summary`)
	p.Tap(box + ` input[name=kind][value=wound]`)
	p.Tap(box + ` input[name=length]`)
	p.Do(chromedp.KeyEvent("30"))
	p.Tap(box + ` input[name=width]`)
	p.Do(chromedp.KeyEvent("12"))
	setFile(p, box+" input[type=file]", picture(t, 1600, 1200, 8))
	p.Wait(`document.querySelector(` + quote(box+` .photo-here img`) + `)`)
	p.Shot("new-site-360")
	p.Tap(box + ` > button`)
	p.Says("Bramble LF new site: 30 x 12 mm")
	p.Says("Saved on this phone. It has a card when the page is opened with signal.")
	record, photo := onPhone(p, "record")[0], onPhone(p, "photo")[0]
	b.link.Cut(Pass)
	sent(p)
	c, ok := b.checks()[tracker.RecordID(record.ID)]
	if !ok || c.Size.LengthMM != 30 || c.Size.WidthMM != 12 || c.Leg != tracker.LF || len(b.checks()) != 1 {
		t.Fatalf("the yard has %+v, want the first look of a site on LF, 30 x 12 mm", b.checks())
	}
	if kept, data := b.photo(photo.ID); kept.Posted != photo.SHA256 || kept.Check != c.ID || len(data) == 0 {
		t.Errorf("the photo in the yard is %+v, want %s of look %s", kept, photo.SHA256, c.ID)
	}
	p.Open("/round")
	goTo(p, "Bramble LF 1")
	if text := p.Text(card("Bramble LF 1")); !strings.Contains(text, "30 x 12 mm") {
		t.Errorf("the new site's card says %q", text)
	}
}

// Background Sync: a phone whose clock is true saves with no signal and is put away. The browser's own signal that
// there is a network again wakes the worker alone, and the record is at the yard with no page open.
func TestSentWithNoPageOpen(t *testing.T) {
	b := newBarn(t)
	p := NewPhone(t, b.link)
	p.SignIn(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	enter(p, b.tags[0], "42", "25")
	save(p, b.tags[0])
	record := onPhone(p, "record")[0]

	p.Wait(`navigator.serviceWorker.ready.then((r) => r.sync.getTags()).then((tags) => tags.includes('leground'))`)
	registration := make(chan string, 100)
	if err := chromedp.Listen(p.context, func(event any) {
		if e, ok := event.(*serviceworker.EventWorkerRegistrationUpdated); ok {
			for _, r := range e.Registrations {
				if strings.HasPrefix(r.ScopeURL, b.link.URL) {
					registration <- string(r.RegistrationID)
				}
			}
		}
	}); err != nil {
		t.Fatal(err)
	}

	p.Do(chromedp.Navigate("about:blank"))
	b.link.Cut(Pass)
	p.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		if _, err := chromedp.Call(ctx, serviceworker.Enable, cdp.Empty{}); err != nil {
			return err
		}
		select {
		case id := <-registration:
			_, err := chromedp.Call(ctx, serviceworker.DispatchSyncEvent, serviceworker.DispatchSyncEventParams{Origin: b.link.URL, RegistrationID: serviceworker.RegistrationID(id), Tag: "leground"})
			return err
		case <-ctx.Done():
			return fmt.Errorf("no worker is there: %w", ctx.Err())
		}
	}))

	for until := time.Now().Add(within); ; time.Sleep(50 * time.Millisecond) {
		if c, ok := b.checks()[tracker.RecordID(record.ID)]; ok {
			if c.Hash != record.Hash {
				t.Errorf("the yard has hash %s, the phone %s", c.Hash, record.Hash)
			}
			return
		}
		if time.Now().After(until) {
			t.Fatal("the worker sent nothing")
		}
	}
}

// What is ticked as put on with no signal goes out of its tube when it is sent, as of the time at which it was ticked:
// what somebody saw left in between wins.
func TestPutOnWithNoSignal(t *testing.T) {
	b := newBarn(t)
	owner := b.yard.Owner
	product := owner.Get("/stores").Form("/stores/products").With("name", "Barrier cream").With("of", "anything").With("strength", "1% w/w").With("form", "cream")
	owner.Send(product).Redirects("/stores/product/")
	tube := owner.Get("/stores/product/"+product.Values.Get("record")).Form("/stores/bottles").With("strength", "1% w/w").With("size", "30 g")
	owner.Send(tube).Redirects("/stores/bottle/")
	path, page := "/horse/"+string(b.yard.Bramble)+"/plan", "/stores/bottle/"+tube.Values.Get("record")
	plan := owner.Get(path+"/new").Form(path).With("whole", "1").With("source", "owner").With("s1_kind", "apply").With("s1_product", product.Values.Get("record")).
		With("s1_amount", "2 g").With("s1_p1_often", "2").With("s1_p1_every", "1").With("s1_p1_until", "vet")
	owner.Send(owner.Send(plan.With("do", "look")).Form(path).With("do", "keep")).Redirects(path)

	p := b.phone(owner)
	b.ready(p)
	b.link.Cut(Refuse)
	apply := func(leg string) {
		goTo(p, leg)
		p.Tap(card(leg) + ` form > details:not(:has([name=skip])) > summary`)
		p.Tap(card(leg) + ` input[name=care][value=applied]`)
		save(p, leg)
	}
	apply("Bramble LF")
	time.Sleep(1500 * time.Millisecond) // the phone's clock and the yard's may be that far apart
	for _, f := range owner.Get(page).Says("30 g left").Forms() {
		if f.Values.Has("amount") {
			owner.Send(f.With("kind", "left").With("amount", "20 g")).Redirects("/stores/bottle/")
		}
	}
	time.Sleep(1500 * time.Millisecond)
	apply("Bramble RF")
	owner.Get(page).Says("20 g left")
	b.link.Cut(Pass)
	sent(p)
	owner.Get(page).Says("18 g left", "used on a horse, 2 g", "Bramble LF, ", "Bramble RF, ")
}
