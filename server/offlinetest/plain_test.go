package offlinetest

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"leground/server/webtest"
	"leground/tracker"
)

// Scripts turns the page's own scripts on or off, from the next page on.
func (p *Phone) Scripts(on bool) {
	p.TB.Helper()
	p.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !on})
		return err
	}))
}

// press is Tap where no script of any kind runs, no timer either.
func (p *Phone) press(selector string) {
	p.TB.Helper()
	at := Eval[[]float64](p, `(() => {
		const e = [...document.querySelectorAll(`+quote(selector)+`)].find((e) => (e.closest('.tile, .danger') || e).checkVisibility());
		if (!e) return [];
		e.scrollIntoView({ block: 'center', behavior: 'instant' });
		const r = e.getBoundingClientRect();
		return [r.x + r.width / 2, r.y + r.height / 2];
	})()`)
	if len(at) == 0 {
		p.TB.Fatalf("nothing to press: %s", selector)
	}
	p.Do(chromedp.MouseClickXY(at[0], at[1]))
}

// Leads taps and waits for the page that it leads to.
func (p *Phone) Leads(selector string) {
	p.TB.Helper()
	Eval[bool](p, `(document.documentElement.dataset.old = '1', true)`)
	p.press(selector)
	p.Wait(`!document.documentElement.dataset.old && document.readyState === 'complete'`)
}

// mistake holds the page that a form with a mistake leads to: what is wrong, at the top and beside its field, and
// what was typed.
func (p *Phone) mistake(words string) {
	p.TB.Helper()
	if title := Eval[string](p, `document.title`); !strings.HasPrefix(title, "Error:") {
		p.TB.Errorf("after a mistake the title is %q", title)
	}
	p.Says(words)
}

// A12: with scripts off every form of the round is sent, says what is wrong and leads back; what folds opens; and
// the page says that it needs signal. (Every other form of the site: package web.)
func TestA12WithoutScripts(t *testing.T) {
	b := newBarn(t)
	b.once("Blood test", "Salt lick")
	p := b.phone(b.yard.Owner)
	p.Scripts(false)
	p.Open("/round")
	p.Says("With scripts off the round needs signal")
	line, wound := card("Bramble LF"), card(b.tags[0])

	p.Leads(line + ` .main-bar[name=clear]`)
	p.Wait(`location.search.startsWith('?saved=')`)
	p.Says("Bramble LF is saved in the yard.")
	p.Leads(`#saved button`) // taken back
	p.Says("0 of 19")

	p.press(line + ` form > details:not(:has([name=skip])) > summary`)
	p.Leads(line + ` details .save-bar .main-bar`)
	p.mistake("Say what you found, or press: looked, nothing to note.")
	p.Open("/round")
	p.press(line + ` details:has([name=skip]) > summary`)
	p.Leads(line + ` button[value=skipped]`)
	p.mistake("Say why it was not looked at, like: would not stand.")
	p.press(`[name=skip]`)
	p.Do(chromedp.KeyEvent("No time"))
	p.Leads(`button[value=skipped]`)
	p.Says("Not looked at: No time")

	for _, length := range []string{"900", "42"} {
		p.press(wound + ` input[name=length]`)
		Eval[bool](p, `(document.querySelector(`+quote(wound+" input[name=length]")+`).value = `+quote(length)+`, true)`)
		Eval[bool](p, `(document.querySelector(`+quote(wound+" input[name=width]")+`).value = '25', true)`)
		for _, sign := range []string{"exudate", "pain"} {
			p.press(wound + ` input[name=` + sign + `][value="0"]`)
		}
		if length == "42" {
			setFile(p, wound+" input[type=file]", picture(t, 800, 600, 2))
		}
		p.Leads(wound + ` .save-bar .main-bar`)
		if length == "900" {
			p.mistake("Longest way must be a whole number from 1 to 400, like 42.")
			if got := Eval[string](p, `document.querySelector('[name=length]').value`); got != "900" {
				t.Errorf("what was typed is %q now", got)
			}
			p.Open("/round")
		}
	}
	p.Says("Bramble RF 1 is saved in the yard.")

	adder := `form[data-tag="Bramble LF new site"]`
	for _, kind := range []string{"", "wound"} {
		p.press(`.more-on-leg:has(` + adder + `) > summary`)
		if kind != "" {
			p.press(adder + ` [name=kind][value=wound]`)
			Eval[bool](p, `['length', 'width'].every((name) => document.querySelector(`+quote(adder)+`).elements.namedItem(name).value = '20')`)
			setFile(p, adder+" input[type=file]", picture(t, 640, 480, 4))
		}
		p.Leads(adder + ` > button`)
		if kind == "" {
			p.mistake("Say whether it is a wound with an edge or a patch of sore skin.")
			p.Open("/round")
		}
	}
	p.Says("LF 1")
	p.press(`.more-on-leg:has(` + adder + `) > summary`)
	p.Leads(`.more-on-leg:has(` + adder + `) form[action="/events"] button`)
	p.press(`.more-on-leg:has(` + adder + `) > summary`)
	p.Says("Soak started")

	p.Open("/due")
	p.press(dueRow("Salt lick") + ` summary`)
	Eval[bool](p, `(document.querySelector(`+quote(dueRow("Salt lick")+" [name=why]")+`).value = 'no time', true)`)
	p.Leads(dueRow("Salt lick") + ` details button`)
	p.Leads(dueRow("Blood test") + ` > .row > form button`)
	p.Leads(dueRow("Blood test") + ` > .row > form[action="/due/undo"] button`)
	if ticks := b.ticks(); len(ticks) != 3 {
		t.Errorf("the yard has %d ticks, want three", len(ticks))
	}
	p.Leads(`#light button`)
	if got := Eval[string](p, `document.documentElement.dataset.light`); got != "noon" {
		t.Errorf("the light is %q", got)
	}

	sizes := map[int]int{}
	for _, c := range b.checks() {
		sizes[c.Size.LengthMM]++
	}
	if sizes[42] != 1 || sizes[20] != 1 {
		t.Errorf("the yard has looks of these lengths: %v, want one of 42 mm and one of 20", sizes)
	}
	if photos := len(b.site.Rows("photo", "photo_id")); photos != 2 {
		t.Errorf("the yard has %d photos, want 2", photos)
	}
}

// A36: a vet opens a link on a phone of their own. Nothing is kept there: no cookie, no worker, no copy; search
// engines are told to stay away; no other horse can be reached; and after it was stopped, or its 14 days are over, it
// answers as a link that never was.
func TestA36VetLink(t *testing.T) {
	b := newBarn(t)
	owner, horse := b.yard.Owner, "/horse/"+string(b.yard.Bramble)
	link := func() string {
		t.Helper()
		return owner.Send(webtest.Form{Action: horse + "/vet/link", Values: webtest.Values("ask=Is a visit needed?")}).Is(200).Link()
	}
	first, second := link(), link()
	p := NewPhone(t, b.link)
	for _, way := range []string{first, second} {
		p.Open(way)
		p.Says("Is a visit needed?")
		if text := p.Text("body"); strings.Contains(text, "Old Tom") || strings.Contains(text, "Juniper") {
			t.Error("the vet's page names another horse")
		}
	}
	if got := Eval[int](p, `navigator.serviceWorker.getRegistrations().then(async (r) => r.length + (await caches.keys()).length + document.scripts.length + (await indexedDB.databases()).length)`); got != 0 {
		t.Errorf("%d workers, copies, scripts and databases are on the vet's phone", got)
	}
	cookies := 0
	p.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		got, err := chromedp.Call(ctx, network.GetCookies, network.GetCookiesParams{URLs: []string{b.link.URL}})
		cookies = len(got.Cookies)
		return err
	}))
	if cookies > 0 {
		t.Errorf("%d cookies are on the vet's phone", cookies)
	}
	if robots := b.site.Nobody().Get(first).Header.Get("X-Robots-Tag"); !strings.Contains(robots, "noindex") {
		t.Errorf("X-Robots-Tag is %q", robots)
	}
	for _, other := range []tracker.HorseID{b.yard.OldTom, b.yard.Bramble} {
		p.Open("/horse/" + string(other))
		p.Wait(`location.pathname === '/sign-in'`)
	}
	never := func(way string) {
		t.Helper()
		p.Open(way)
		p.Says("This link opens nothing, or nothing any more. Ask the yard for a new one.")
	}
	for _, form := range owner.Get(horse + "/vet").Forms() {
		if strings.HasSuffix(form.Action, "/stop") {
			owner.Send(form)
		}
	}
	never(first)
	third := link()
	b.jump(14*24*time.Hour - time.Minute)
	p.Open(third)
	p.Says("Is a visit needed?")
	b.jump(2 * time.Minute)
	never(third)
}
