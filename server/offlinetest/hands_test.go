package offlinetest

import (
	"context"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// A09: the round goes by single taps only, with every gesture blocked; a finger that slides off does nothing.
func TestA09NoGesture(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	Eval[bool](p, `(['touchmove', 'dblclick', 'contextmenu', 'dragstart', 'wheel'].forEach((n) => addEventListener(n, (e) => { e.preventDefault(); e.stopImmediatePropagation(); }, { capture: true, passive: false })), true)`)
	p.Tap("#start")
	p.Wait(`document.querySelector('article.card:not([hidden]) .look form')`)
	for {
		tag := Eval[string](p, `(document.querySelector('article.card:not([hidden]) .look form') || { dataset: {} }).dataset.tag || ''`)
		if tag == "" || Eval[string](p, `location.hash`) == "#done" {
			break
		}
		box := card(tag)
		b.seen(p)
		if Eval[bool](p, `!!document.querySelector(`+quote(box+` .measure`)+`)`) {
			for _, name := range []string{"length", "width"} {
				id := Eval[string](p, `document.querySelector(`+quote(box+` input[name=`+name+`]`)+`).id`)
				b.seen(p)
				p.Tap(`[data-for="` + id + `"] button[value="5"]`)
			}
			for _, sign := range Eval[[]string](p, `[...new Set([...document.querySelectorAll(`+quote(box+` .section input[type=radio][value="0"]`)+`)].map((e) => e.name))]`) {
				p.Tap(box + ` input[name="` + sign + `"][value="0"]`)
			}
			b.seen(p)
			p.Tap(box + " .save-bar .main-bar")
		} else {
			p.Tap(box + " .main-bar[name=clear]")
		}
		p.Wait(`location.hash === '#done' || (document.querySelector('article.card:not([hidden]) .look form') || { dataset: {} }).dataset.tag !== ` + quote(tag))
	}
	if got := Eval[int](p, `leground.all('record').then((all) => all.length)`); got != 19 {
		t.Errorf("%d looks are saved by taps alone, want 19", got)
	}
	p.Shot("done-360")

	p.Tap("#saved button") // back on the last card
	p.Wait(`document.querySelector('article.card:not([hidden])')`)
	before := len(onPhone(p, "record"))
	type spot struct{ X, Y float64 }
	at := Eval[spot](p, `(() => { const e = [...document.querySelectorAll('article.card:not([hidden]) .main-bar')].find((e) => e.checkVisibility()); e.scrollIntoView({ block: 'center' }); const r = e.getBoundingClientRect(); return { X: r.x + r.width / 2, Y: r.y + r.height / 2 }; })()`)
	p.Do(chromedp.MouseEvent("mousePressed", at.X, at.Y, chromedp.ButtonLeft), chromedp.MouseEvent("mouseReleased", at.X, at.Y-200, chromedp.ButtonLeft))
	time.Sleep(300 * time.Millisecond)
	if got := len(onPhone(p, "record")); got != before {
		t.Error("a finger that slid off the bar saved a look")
	}
}

// seen takes a call for the vet off the screen when there is one.
func (b *barn) seen(p *Phone) {
	b.Helper()
	Eval[bool](p, `leground.sendNow().then(() => new Promise((done) => setTimeout(() => done(true), 50)))`)
	if Eval[bool](p, `document.getElementById('ring').open`) {
		time.Sleep(600 * time.Millisecond)
		p.Tap("#ring .main-bar")
		p.Wait(`!document.getElementById('ring').open`)
	}
}

// A10: two taps 60 ms apart on a stepper, on a pad key and on Save count once.
func TestA10Bounce(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	enter(p, b.tags[0], "40", "25")
	twice := func(selector string) {
		t.Helper()
		type spot struct{ X, Y float64 }
		at := Eval[spot](p, `(() => { const e = [...document.querySelectorAll(`+quote(selector)+`)].find((e) => e.checkVisibility()); e.scrollIntoView({ block: 'center' }); const r = e.getBoundingClientRect(); return { X: r.x + r.width / 2, Y: r.y + r.height / 2 }; })()`)
		p.Do(chromedp.MouseClickXY(at.X, at.Y), chromedp.Sleep(60*time.Millisecond), chromedp.MouseClickXY(at.X, at.Y))
		time.Sleep(400 * time.Millisecond)
	}
	length := card(b.tags[0]) + " input[name=length]"
	id := Eval[string](p, `document.querySelector(`+quote(length)+`).id`)
	twice(`[data-for="` + id + `"] button[value="5"]`)
	if got := Eval[string](p, `document.querySelector(`+quote(length)+`).value`); got != "45" {
		t.Errorf("+5 twice in 60 ms on 40 gives %s, want 45", got)
	}
	p.Tap(card(b.tags[0]) + " .type")
	p.Shot("pad-360")
	twice(`#pad button[value="7"]`)
	if got := p.Text("#pad-value"); got != "7 mm" {
		t.Errorf("7 twice in 60 ms shows %q, want 7 mm", got)
	}
	p.Tap(`#pad button[value="back"]`)
	twice(card(b.tags[0]) + " .save-bar .main-bar")
	if got := len(onPhone(p, "record")); got != 1 {
		t.Errorf("Save twice in 60 ms kept %d looks, want 1", got)
	}
}

// 2.3 and W4: the pad has no decimal key, states its limits, blocks with a message and never ignores a key;
// a number under half or over double the last one is asked about beside it, and stops the save until answered.
func TestPadAndQuestion(t *testing.T) {
	b := newBarn(t)
	b.yard.Owner.Looks(b.yard.Wound, "42", "25")
	b.jump(24 * time.Hour)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	tag := b.tags[0]
	goTo(p, tag)
	if got := p.Text("#pad button"); strings.ContainsAny(got, ".,") {
		t.Errorf("the pad has a decimal key: %s", got)
	}
	p.Tap(card(tag) + " .type")
	if got := p.Text("#pad-limits"); got != "Last time 42 mm. Allowed 1 to 400 mm." {
		t.Errorf("the pad says %q", got)
	}
	for _, k := range "4200" {
		p.Tap(`#pad button[value="` + string(k) + `"]`)
		time.Sleep(260 * time.Millisecond)
	}
	if got := p.Text("#pad-value") + " " + p.Text("#pad-problem"); got != "4200 mm Longest way must be a whole number from 1 to 400, like 42." {
		t.Errorf("4200 shows %q", got)
	}
	p.Tap(`#pad button[value="use"]`)
	p.Tap(`#pad button[value="Clear"]`)
	p.Tap(`#pad button[value="4"]`)
	p.Tap(`#pad button[value="use"]`)
	p.Wait(`document.getElementById('pad-name').textContent.includes('across that')`)
	p.Tap(`#pad button[value="2"]`)
	p.Tap(`#pad button[value="5"]`)
	time.Sleep(260 * time.Millisecond)
	p.Tap(`#pad button[value="use"]`)
	p.Wait(`!document.getElementById('pad').open`)
	p.Says("Last time 42 mm, now 4 mm. Is 4 right?")
	p.Shot("question-360")
	for _, sign := range []string{"exudate", "pain"} {
		p.Tap(card(tag) + ` input[name="` + sign + `"][value="0"]`)
	}
	p.Tap(card(tag) + " .save-bar .main-bar")
	time.Sleep(500 * time.Millisecond)
	if got := len(onPhone(p, "record")); got != 0 {
		t.Fatal("a number that was asked about was saved without an answer")
	}
	p.Tap(card(tag) + " .question button")
	save(p, tag)
	if got := onPhone(p, "record")[0].field("length"); got != "4" {
		t.Errorf("kept %q, want 4", got)
	}
}

// A39: an unchanged site takes six taps or fewer from card to card.
func TestA39Taps(t *testing.T) {
	b := newBarn(t)
	b.yard.Owner.Looks(b.yard.Wound, "42", "25")
	b.jump(24 * time.Hour)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	goTo(p, b.tags[0])
	taps := 0
	for _, selector := range []string{` input[name=size][value=same]`, ` input[name=same]`, ` .save-bar .main-bar`} {
		p.Tap(card(b.tags[0]) + selector)
		taps++
	}
	p.Wait(`leground.all('record').then((all) => all.length === 1)`)
	sent(p)
	t.Logf("%d taps", taps)
	if taps > 6 {
		t.Errorf("%d taps, at most 6", taps)
	}
}

// A11: nothing jumps, with saves, states and errors; A34: nothing is asked of another host.
func TestA11A34NothingJumpsAndNobodyElseIsAsked(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	p.Open("/round")
	Eval[bool](p, `(window.shift = 0, window.shifts = [], new PerformanceObserver((l) => { for (const e of l.getEntries()) if (!e.hadRecentInput) { window.shift += e.value; window.shifts.push(e.value.toFixed(4) + ': ' + e.sources.map((s) => (s.node && (s.node.id || s.node.className || s.node.innerText || s.node.nodeName)) + ' ' + s.previousRect.y + ' to ' + s.currentRect.y).join('; ')); } }).observe({ type: 'layout-shift', buffered: true }), true)`)
	enter(p, b.tags[0], "42", "25")
	choose(p, b.tags[0], picture(t, 1600, 1200, 4))
	save(p, b.tags[0])
	b.seen(p)
	b.link.Cut(Refuse)
	enter(p, b.tags[1], "42", "25")
	save(p, b.tags[1])
	b.link.Cut(Pass)
	sent(p)
	time.Sleep(300 * time.Millisecond)
	shift := Eval[float64](p, `window.shift`)
	t.Logf("layout shift %.4f", shift)
	if shift > 0.02 {
		t.Errorf("layout shift is %.3f, at most 0.02:\n%s", shift, strings.Join(Eval[[]string](p, `window.shifts`), "\n"))
	}
	for _, path := range []string{"/", "/round", "/phone"} {
		p.Open(path)
		if got := Eval[string](p, `performance.getEntriesByType('resource').map((e) => e.name).filter((n) => !n.startsWith(location.origin) && !n.startsWith('blob:')).join()`); got != "" {
			t.Errorf("%s asks %s", path, got)
		}
		if got := Eval[int](p, `document.querySelectorAll('script:not([src]), [style], img:not([width]), img:not([height])').length`); got > 0 {
			t.Errorf("%s has %d inline scripts, inline styles or pictures without a size", path, got)
		}
	}
}

// A07 and A08 for the pages of the round: every control is large enough and far enough from the next.
func TestA07A08Targets(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	for _, width := range []int64{320, 360, 412} {
		p.Resize(width, 740)
		p.Open("/round")
		for _, where := range []string{"walk", "Bramble RF", "Bramble RF 1", "Bramble RH 1", "pad", "/phone"} {
			switch where {
			case "walk":
			case "pad":
				goTo(p, "Bramble RF 1")
				p.Tap(card("Bramble RF 1") + " .type")
			case "/phone":
				p.Open("/phone")
			default:
				goTo(p, where)
			}
			for _, fault := range Eval[[]string](p, targets) {
				t.Errorf("%d px, %s: %s", width, where, fault)
			}
			if wide := Eval[int64](p, `document.documentElement.scrollWidth`); wide > width {
				t.Errorf("%d px, %s: the page is %d px wide", width, where, wide)
			}
		}
	}
}

// targets lists the controls that are too small or too near another. Links inside a sentence are exempt.
const targets = `(() => {
	const out = [], list = [];
	const top = document.querySelector('dialog[open]') || document.body;
	for (const e of top.querySelectorAll('button, a[href], input:not([type=hidden]):not([type=radio]):not([type=checkbox]):not([type=file]), select, textarea, summary, .tile, .danger > input, .photo-take')) {
		if (!e.checkVisibility() || e.closest('.skip, .status, .note p, main > p, .fine') || e.matches('.note a:not(.button)') || e.matches('.last > a')) continue;
		const r = e.getBoundingClientRect();
		if (r.width === 0) continue;
		const floats = e.closest('.save-bar, .phone-bar'); // a bar that stays in place passes over the rest
		const name = (e.innerText || e.name || e.className).trim().slice(0, 40);
		const least = e.classList.contains('main-bar') ? 76 : 72, wide = e.classList.contains('main-bar') ? Math.min(innerWidth - 32, 448) : e.closest('.pad') ? 72 : 75.5;
		if (r.height < least - 0.5 || r.width < wide - 0.5) out.push(name + ' is ' + r.width.toFixed(1) + ' x ' + r.height.toFixed(1));
		if (!floats) list.push([name, r]);
	}
	for (let i = 0; i < list.length; i++) for (let j = i + 1; j < list.length; j++) {
		const a = list[i][1], b = list[j][1];
		if (a.top > innerHeight * 20) continue;
		const dx = Math.max(a.left - b.right, b.left - a.right), dy = Math.max(a.top - b.bottom, b.top - a.bottom);
		if (Math.max(dx, dy) < 7.5 && !(dx < -10 && dy < -10)) out.push(list[i][0] + ' and ' + list[j][0] + ' are ' + Math.max(dx, dy).toFixed(1) + ' px apart');
	}
	return out;
})()`

// A02 in part: the round by keyboard alone, with the focus always on something that can be seen.
func TestA02KeyboardOnly(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	tab := func(until string) {
		t.Helper()
		for range 120 {
			p.Do(chromedp.KeyEvent(kb.Tab))
			if Eval[bool](p, `document.activeElement.matches(`+quote(until)+`)`) {
				if !Eval[bool](p, `document.activeElement.checkVisibility()`) {
					t.Fatalf("the focus is on something that cannot be seen: %s", until)
				}
				return
			}
		}
		t.Fatalf("120 tabs do not reach %s", until)
	}
	tab("#start")
	p.Do(chromedp.KeyEvent(kb.Enter))
	p.Wait(`location.hash.includes('LF')`)
	tab("article.card:not([hidden]) .main-bar[name=clear]")
	p.Do(chromedp.KeyEvent(kb.Enter))
	p.Wait(`location.hash.endsWith('-RF')`)
	goTo(p, b.tags[0])
	box := card(b.tags[0])
	tab(box + " input[name=length]")
	p.Do(chromedp.KeyEvent("42"))
	tab(box + " input[name=width]")
	p.Do(chromedp.KeyEvent("25"))
	for _, sign := range []string{"exudate", "pain"} {
		tab(box + ` input[name="` + sign + `"]`)
		p.Do(chromedp.KeyEvent(" "))
	}
	tab(box + " .save-bar .main-bar")
	p.Do(chromedp.KeyEvent(kb.Enter))
	p.Wait(`leground.all('record').then((all) => all.length === 2)`)
	r := onPhone(p, "record")
	if r[0].field("length")+r[1].field("length") != "42" {
		t.Errorf("kept %v", r)
	}
}

// A22: in forced colours every state still has its words.
func TestA22ColourOff(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	enter(p, b.tags[0], "42", "25")
	save(p, b.tags[0])
	p.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "forced-colors", Value: "active"}}})
		return err
	}))
	p.Open("/round")
	if bad := Eval[[]string](p, `[...document.querySelectorAll('.state')].filter((e) => e.checkVisibility() && !/To do|Saved on this phone|Sent to the yard|Needs a look|Not looked at/.test(e.innerText)).map((e) => e.outerHTML)`); len(bad) > 0 {
		t.Errorf("states without words: %v", bad)
	}
	p.Shot("forced-colours-360")
}

// The light changes with no signal, and stays.
func TestLightWithNoSignal(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	p.Open("/round")
	for _, want := range []string{"noon", "lantern", "day", "noon", "lantern"} {
		p.Tap("#light button")
		if got := Eval[string](p, `document.documentElement.dataset.light`); got != want {
			t.Errorf("the light is %q, want %q", got, want)
		}
		time.Sleep(260 * time.Millisecond)
	}
	p.Open("/")
	if got := Eval[string](p, `document.documentElement.dataset.light + ' ' + document.querySelector('#light').innerText`); got != "lantern Light: Lantern" {
		t.Errorf("on the next page: %q", fmt.Sprint(got))
	}
	p.Shot("board-lantern-360")
}
