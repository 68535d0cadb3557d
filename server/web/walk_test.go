package web_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"leground/server/webtest"
)

// walker walks a leg round in a real browser at 360 px.
type walker struct {
	*webtest.Tab
	yard *webtest.Yard
}

// newWalker makes a yard with a look at its first wound yesterday. Its clock is the real one, which the
// browser's worker has too.
func newWalker(t *testing.T, scripts bool) (walker, *webtest.Site) {
	t.Helper()
	now := time.Now().UTC()
	site := webtest.Start(t, webtest.Options{Now: now.AddDate(0, 0, -1)})
	yard := site.Marl()
	// A zone in which it is between noon and one o'clock, so that no round ends while the test runs.
	zone := "Etc/GMT"
	if hours := now.Hour() - 12; hours != 0 {
		zone += fmt.Sprintf("%+d", hours)
	}
	yard.Owner.Send(rules(yard).With("zone", zone)).Redirects("/rules")
	yard.Owner.Looks(yard.Wound, "42", "25")
	site.Clock.Set(now)
	w := walker{webtest.StartChromium(t).Tab(t, site, 360, 740), yard}
	w.SignIn(yard.Carer)
	w.Scripts(scripts)
	return w, site
}

// tap taps what a selector finds, once, where a finger would.
func (w walker) tap(selector string) {
	w.TB.Helper()
	w.Do(chromedp.Click(chromedp.CSS(selector)))
}

// fields are those of a site card that must be filled in, with what is seen.
func (w walker) fields(card string) (lengths bool, signs []string) {
	w.TB.Helper()
	list := webtest.Eval[string](w.Tab, fmt.Sprintf(`[...new Set([...document.querySelectorAll(%q)].map(e => e.name))].join(" ")`, card+" fieldset.tiles[id] input[type=radio]"))
	return webtest.Eval[bool](w.Tab, fmt.Sprintf(`!!document.querySelector(%q)`, card+" input[name=length]")), strings.Fields(list)
}

const openCard = "article.card:not([hidden])"

// With scripts the round shows one card at a time, each save says so at once and goes on to the next, and
// all that was saved reaches the yard. Only single taps are needed.
func TestRoundByTaps(t *testing.T) {
	w, site := newWalker(t, true)
	w.Open("/")
	w.Click(`a.main-bar[href="/round"]`)
	w.Until(`document.querySelector("#start") && document.querySelectorAll("#cards article:not([hidden])").length === 0`)
	w.tap("#start")
	for n := 1; ; n++ {
		at := w.next("")
		if at == "done" {
			if n != 16 {
				t.Errorf("the round ended after %d cards, want 15", n-1)
			}
			break
		}
		if n > 15 {
			t.Fatalf("card %d: %s", n, at)
		}
		w.fillByTaps()
		w.next(at)
	}
	w.Until(`document.querySelector("#status").textContent.includes("15 of 15 sent to the yard")`)
	w.yard.Owner.Get("/").Says("15 of 15 looks recorded")
	w.yard.Owner.Get("/horse/" + string(w.yard.Bramble)).Says("41 x 25 mm")
	if n := count(site, "leg_check"); n != 16 {
		t.Errorf("%d looks are kept, want 16", n)
	}
}

// next waits for a card other than the one at an anchor and gives its own.
func (w walker) next(from string) string {
	w.TB.Helper()
	w.Until(fmt.Sprintf(`location.hash.slice(1) && location.hash.slice(1) !== %q && (location.hash === "#done" || [...document.querySelectorAll(%q)].map(e => e.id).join() === location.hash.slice(1))`, from, openCard))
	return webtest.Eval[string](w.Tab, `location.hash.slice(1)`)
}

func (w walker) fillByTaps() {
	w.TB.Helper()
	if webtest.Eval[bool](w.Tab, fmt.Sprintf(`!!document.querySelector(%q)`, openCard+` form[action="/round/leg"]`)) {
		w.tap(openCard + " button[name=clear]")
		return
	}
	lengths, signs := w.fields(openCard)
	if lengths {
		last := webtest.Eval[bool](w.Tab, fmt.Sprintf(`!!document.querySelector(%q)`, openCard+" input[name=length][data-last]"))
		for i, by := range []string{"-1", "5"} {
			stepper := openCard + fmt.Sprintf(" .stepper:nth-of-type(%d)", 2*i+2)
			if last && i == 1 { // the width is as it was: one step up and one down
				w.tap(stepper + ` button[value="1"]`)
				by = "-1"
			}
			w.tap(stepper + fmt.Sprintf(` button[value="%s"]`, by))
		}
	}
	for _, sign := range signs {
		w.tap(openCard + fmt.Sprintf(` label.tile:has(input[name="%s"][value="0"])`, sign))
	}
	w.tap(openCard + " .save-bar button")
}

// Without scripts the round is one long page of ordinary forms, and the same walk works.
func TestRoundWithoutScripts(t *testing.T) {
	w, site := newWalker(t, false)
	w.Open("/round")
	for n := 1; n <= 15; n++ {
		card := webtest.Eval[string](w.Tab, `(document.querySelector('article.card[data-here=""]') || {}).id || ""`)
		if card == "" {
			t.Fatalf("the round ended after %d cards, want 15", n-1)
		}
		card = `[id="` + card + `"]`
		if webtest.Eval[bool](w.Tab, fmt.Sprintf(`!!document.querySelector(%q)`, card+` form[action="/round/leg"]`)) {
			w.Click(card + " button[name=clear]")
			continue
		}
		lengths, signs := w.fields(card)
		if lengths {
			w.Do(chromedp.SendKeys(chromedp.CSS(card+" input[name=length]"), "41"), chromedp.SendKeys(chromedp.CSS(card+" input[name=width]"), "25"))
		}
		for _, sign := range signs {
			w.tap(card + fmt.Sprintf(` label.tile:has(input[name="%s"][value="0"])`, sign))
		}
		w.Click(card + " .save-bar button")
		if at := webtest.Eval[string](w.Tab, "location.href"); !strings.Contains(at, "/round?saved=") {
			t.Fatalf("after card %d the browser is at %s", n, at)
		}
	}
	w.yard.Owner.Get("/").Says("15 of 15 looks recorded")
	if n := count(site, "leg_check"); n != 16 {
		t.Errorf("%d looks are kept, want 16", n)
	}
	// A danger's words appear by the tick alone.
	w.Open("/round")
	again := `[id="` + webtest.Eval[string](w.Tab, `document.querySelector('article.card:has(form[action="/round/site"])').id`) + `"]`
	w.tap(again + " details.look > summary")
	w.tap(again + ` .danger:has([value="maggots"])`)
	if !webtest.Eval[bool](w.Tab, fmt.Sprintf(`document.querySelector(%q).checkVisibility()`, again+` .danger:has([value="maggots"]) .act`)) {
		t.Error("the words to act on do not appear when a danger is ticked without scripts")
	}
}

// The whole round can be walked with Tab, Space, Enter and digits. Wherever the focus is, it shows, and
// nothing covers it.
func TestRoundByKeyboard(t *testing.T) {
	w, _ := newWalker(t, true)
	w.Open("/round")
	w.Until(`document.querySelector("#start") && document.querySelectorAll("#cards article:not([hidden])").length === 0`)
	w.tabTo("#start")
	w.Keys(kb.Enter)
	at := ""
	for n := 0; n < 15; n++ {
		at = w.next(at)
		if at == "done" {
			t.Fatalf("the round ended after %d cards, want 15", n)
		}
		if webtest.Eval[bool](w.Tab, fmt.Sprintf(`!!document.querySelector(%q)`, openCard+` form[action="/round/leg"]`)) {
			w.tabTo("button[name=clear]")
			w.Keys(kb.Enter)
			continue
		}
		lengths, signs := w.fields(openCard)
		if lengths {
			w.tabTo("input[name=length]")
			w.Keys("41")
			w.tabTo("input[name=width]")
			w.Keys("25")
		}
		for _, sign := range signs {
			w.tabTo(fmt.Sprintf(`input[name="%s"]`, sign))
			w.Keys(" ")
		}
		w.tabTo(".save-bar button")
		w.Keys(kb.Enter)
	}
	if at := w.next(at); at != "done" {
		t.Errorf("after 15 cards the round is at %s", at)
	}
	w.Until(`document.querySelector("#status").textContent.includes("15 of 15 sent to the yard")`)
	w.yard.Owner.Get("/").Says("15 of 15 looks recorded")
}

// tabTo presses Tab until the focus is on what a selector finds.
func (w walker) tabTo(selector string) {
	w.TB.Helper()
	const look = `(s => { const e = document.activeElement, r = e.getBoundingClientRect(), css = getComputedStyle(e);
		const box = e.closest("label, .danger") || e, top = document.elementFromPoint(r.left + r.width / 2, Math.min(r.top + r.height / 2, innerHeight - 1));
		return {There: e.matches(s), Ring: css.outlineStyle !== "none" && parseFloat(css.outlineWidth) >= 2 || css.boxShadow !== "none",
			Covered: e !== document.body && !!top && !box.contains(top) && !top.contains(e), What: e.outerHTML.slice(0, 120)} })`
	for range 150 {
		w.Keys(kb.Tab)
		got := webtest.Eval[struct {
			There, Ring, Covered bool
			What                 string
		}](w.Tab, look+fmt.Sprintf("(%q)", selector))
		if !got.Ring && !strings.HasPrefix(got.What, "<body") {
			w.TB.Errorf("the focus does not show on %s", got.What)
		}
		if got.Covered {
			w.TB.Errorf("the focus is covered on %s", got.What)
		}
		if got.There {
			return
		}
	}
	w.TB.Fatalf("150 times Tab did not lead to %s", selector)
}

// Two taps 60 ms apart on the same control are the bounce of a wet finger: one step, one look.
func TestABounceIsOneTap(t *testing.T) {
	w, site := newWalker(t, true)
	w.Open("/round")
	w.Until(`document.querySelector("#start") && document.querySelectorAll("#cards article:not([hidden])").length === 0`)
	twice := func(selector string) {
		w.Do(chromedp.ScrollIntoView(chromedp.CSS(selector)))
		at := webtest.Eval[[]float64](w.Tab, fmt.Sprintf(`(r => [r.left + r.width / 2, r.top + r.height / 2])(document.querySelector(%q).getBoundingClientRect())`, selector))
		w.Do(chromedp.MouseClickXY(at[0], at[1]), chromedp.Sleep(60*time.Millisecond), chromedp.MouseClickXY(at[0], at[1]))
	}
	anchor := webtest.Eval[string](w.Tab, `document.querySelector('article.card:has(input[name=length][data-last])').id`)
	webtest.Eval[string](w.Tab, fmt.Sprintf(`location.hash = %q`, anchor))
	w.next("")
	twice(openCard + ` .stepper button[value="5"]`)
	if got := webtest.Eval[string](w.Tab, fmt.Sprintf(`document.querySelector(%q).value`, openCard+" input[name=length]")); got != "47" {
		t.Errorf("two taps on +5 from 42 make %s, want 47", got)
	}
	w.Do(chromedp.SendKeys(chromedp.CSS(openCard+" input[name=width]"), "25"))
	_, signs := w.fields(openCard)
	for _, sign := range signs {
		w.tap(openCard + fmt.Sprintf(` label.tile:has(input[name="%s"][value="0"])`, sign))
	}
	before := count(site, "leg_check")
	twice(openCard + " .save-bar button")
	w.next(anchor)
	w.Until(`document.querySelector("#status").textContent.includes("1 of 15 sent to the yard")`)
	if got := count(site, "leg_check") - before; got != 1 {
		t.Errorf("two taps on Save kept %d looks, want 1", got)
	}
}
