package web_test

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"leground/server/webtest"
)

// finger taps in a tab and counts.
type finger struct {
	*webtest.Tab
	taps int
}

// tap taps the first visible control whose words hold a text.
func (f *finger) tap(selector, words string) {
	f.TB.Helper()
	f.taps++
	mark := fmt.Sprintf("tap-%d", f.taps)
	found := webtest.Eval[bool](f.Tab, fmt.Sprintf(`(() => {
		const plain = (e) => e.innerText.replace(/\s+/g, ' ');
		const it = [...document.querySelectorAll(%[1]q)].find((e) => e.getClientRects().length && (plain(e).trim() === %[2]q || %[2]q.length > 8 && plain(e).includes(%[2]q)));
		if (!it) return false;
		(it.querySelector('input') || it).dataset.tap = %[3]q;
		return true;
	})()`, selector, words, mark))
	if !found {
		f.TB.Fatalf("there is no %s with %q to tap:\n%s", selector, words, webtest.Eval[string](f.Tab, `document.body.innerText`))
	}
	at := fmt.Sprintf(`[data-tap="%s"]`, mark)
	if selector == "button" || selector == "a" {
		f.Click(at)
		return
	}
	f.Do(chromedp.Click(chromedp.CSS(at)))
}

// choice gives the choice of the ten-times check that is written in one of these ways.
func (f *finger) choice(ways string) string {
	f.TB.Helper()
	return webtest.Eval[string](f.Tab, fmt.Sprintf(`[...document.querySelectorAll('label.tile:has([name=choice])')].map((e) => e.innerText.replace(/\s+/g, ' ').trim())
		.find((words) => %q.split('|').includes(words)) || 'no such choice'`, ways))
}

func (f *finger) says(words string) {
	f.TB.Helper()
	if text := webtest.Eval[string](f.Tab, `document.body.innerText.replace(/\s+/g, ' ')`); !strings.Contains(text, words) {
		f.TB.Fatalf("the page does not say %q:\n%s", words, text)
	}
}

// Somebody who has never seen the page makes 1 L of 0.05% from a 2% bottle with a 20 mL syringe, from the plan
// step to the label, in at most 8 taps, with scripts and without; and again where the amount is no whole number
// of marks.
func TestMixStory(t *testing.T) {
	chromium := webtest.StartChromium(t)
	for _, scripts := range []bool{true, false} {
		for _, story := range []struct{ name, volume, amount, line string }{
			{"whole marks", "1 L", "1 fill to the 20 mL mark, then 1 fill to the 5 mL mark", "Makes 0.05 g per 100 mL."},
			{"between marks", "500 mL", "12 mL|1 fill to the 12 mL mark", "12.5 mL rounded to 12 mL: your syringe has 1 mL marks. Makes 0.048 instead of 0.05 g per 100 mL (4% weaker)."},
		} {
			t.Run(fmt.Sprintf("%s, scripts %t", story.name, scripts), func(t *testing.T) {
				site := webtest.Start(t, webtest.Options{})
				yard := site.Marl()
				concentrate(yard, "2% w/v")
				f := &finger{Tab: chromium.Tab(t, site, 360, 740)}
				f.SignIn(yard.Carer)
				f.Scripts(scripts)
				f.Open(washLink(yard, story.volume))
				f.says("Hold Wash concentrate A. Does the label say 2 g per 100 mL (2% w/v)?")
				f.tap("label.tile", "Yes, it says that")
				f.tap("button", "Work it out")
				f.says(story.line)
				f.tap("label.tile", f.choice(story.amount))
				f.tap("button", "Mixed. Write the label")
				f.says("Throw away after Fri 15 May 2026, 13:00")
				f.says("For Bramble")
				if f.taps > 8 {
					t.Errorf("it took %d taps", f.taps)
				}
				t.Logf("%d taps", f.taps)
			})
		}
	}
}

// A wrong answer to the ten-times check leads back to the measure and not to a label.
func TestTenTimesCheckInTheBrowser(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	concentrate(yard, "2% w/v")
	f := &finger{Tab: webtest.StartChromium(t).Tab(t, site, 360, 740)}
	f.SignIn(yard.Carer)
	f.Open(washLink(yard, "400 mL"))
	f.tap("label.tile", "Yes, it says that")
	f.tap("button", "Work it out")
	choice := webtest.Eval[string](f.Tab, `[...document.querySelectorAll('label.tile:has([name=choice])')].map((e) => e.innerText.replace(/\s+/g, ' ')).find((w) => !/^(1 fill to the )?10 mL/.test(w))`)
	f.tap("label.tile", choice)
	f.tap("button", "Mixed. Write the label")
	f.says("Stop. That is not what goes in.")
	f.says("Empty it and start again at the measure.")
	if n := webtest.Eval[int](f.Tab, `document.querySelectorAll('[name=choice]:checked').length`); n != 0 || count(site, "mix") != 0 {
		t.Errorf("%d answers are still chosen, %d mixes recorded", n, count(site, "mix"))
	}
	f.Shot("mix-wrong-360")
}

// axe gives what axe-core finds in a page, with WCAG 2.2 AA and best practices.
func axe(t *webtest.Tab) string {
	t.TB.Helper()
	source, err := os.ReadFile("../../testdata/axe/axe.min.js")
	if err != nil {
		t.TB.Fatal(err)
	}
	webtest.Eval[bool](t, string(source)+"; true")
	return webtest.Eval[string](t, `axe.run({ runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })
		.then((r) => r.violations.map((v) => v.id + ': ' + v.nodes.map((n) => n.html + ' ' + n.failureSummary).join(' | ')).join('\n'))`)
}

// Every page of Stores and of a mix, with its errors, at two widths (and with LEGROUND_LONG=1 in three lights): nothing that axe-core
// finds, nothing wider than the screen, and controls as large as their density asks for.
func TestStoresAndMixPages(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	product, bottle := concentrate(yard, "2% w/v")
	pending := comes(yard.Carer, product, "2% w/v", "1 L")
	mix := mixes(yard.Carer, bottle, "0.05% w/v", "1 L")
	asked := works(yard.Carer, bottle, "0.1% w/v", "150 mL", "bandage=1", "with=tap water").Is(200).Path
	recipe := url.Values{"sum": {"recipe"}, "stock1": {"bottle:" + bottle}, "amount1": {"25 mL"}, "amount2": {"2 L"}, "liquid": {"added"}, "claim": {"0.05% w/v"}}
	pour := url.Values{"sum": {"pour"}, "stock1": {"mix:" + mix}, "stock2": {"mix:" + mixes(yard.Carer, bottle, "0.1% w/v", "500 mL", "skin=whole")}}
	cream := bottleOf(yard, "anything", "1% w/w", "cream", "most_cm2", "400")
	plan := setSteps(yard, yard.OldTom, "vet", "leg=LF|RF", "s1_kind=apply", "s1_product="+productOf(yard.Carer.Get("/stores/bottle/"+cream)), "s1_amount=20 g", "s1_area=150", "s1_p1_often=2", "s1_p1_until=vet")
	site.Clock.Add(time.Minute)
	for _, leg := range []string{"LF", "RF"} { // 40 g out of a tube of 30 g
		yard.Carer.Send(yard.Carer.Line(yard.OldTom, leg).With("clear", "1").With("care", "applied")).Redirects("/round?saved=")
	}
	tab := webtest.StartChromium(t).Tab(t, site, 360, 740)
	tab.SignIn(yard.Owner)
	pages := map[string]string{
		"put-on": "/stores/bottle/" + cream, "sums-pour": "/mix/sums?" + pour.Encode(), "plan-area": "/plan/" + plan + "/change",
		"stores": "/stores", "product": "/stores/product/" + product, "bottle": "/stores/bottle/" + bottle, "bottle-unread": "/stores/bottle/" + pending,
		"mix": washLink(yard, "1 L"), "mix-plans": "/mix", "mix-error": "/mix?work=1", "mix-work": asked, "mix-stop": strings.Replace(asked, "want=0.1", "want=9", 1), "mixed": "/mix/" + mix,
		"sums": "/mix/sums", "sums-error": "/mix/sums?sum=cream&by=load&area=1.500", "sums-recipe": "/mix/sums?" + recipe.Encode(),
	}
	lights := []string{"day"}
	if os.Getenv("LEGROUND_LONG") == "1" {
		lights = append(lights, "noon", "lantern")
	}
	tab.Resize(320, 800)
	for name, path := range pages {
		tab.Open(path)
		webtest.Eval[bool](tab, `document.querySelectorAll('details').forEach((d) => d.open = true), true`)
		if wide := webtest.Eval[int](tab, `document.documentElement.scrollWidth`); wide > 320 {
			t.Errorf("%s is %d px wide on a screen of 320", name, wide)
		}
	}
	for _, width := range []int64{360, 1280} {
		tab.Resize(width, 800)
		for _, light := range lights {
			tab.Light(light)
			for name, path := range pages {
				tab.Open(path)
				webtest.Eval[bool](tab, `document.querySelectorAll('details').forEach((d) => d.open = true), true`)
				tall := webtest.Eval[int](tab, `document.documentElement.scrollHeight`)
				tab.Resize(width, int64(tall)) // so that the bar at the bottom covers nothing
				if found := axe(tab); found != "" {
					t.Errorf("%s, %d px, %s: axe finds\n%s", name, width, light, found)
				}
				if wide := webtest.Eval[int](tab, `document.documentElement.scrollWidth`); int64(wide) > width {
					t.Errorf("%s is %d px wide on a screen of %d", name, wide, width)
				}
				tab.Resize(width, 800)
				if light != "day" {
					continue
				}
				if small := webtest.Eval[string](tab, smallControls); small != "" {
					t.Errorf("%s, %d px: too small:\n%s", name, width, small)
				}
				tab.Open(path)
				tab.Shot(fmt.Sprintf("%s-%d", name, width))
			}
		}
	}
}

// smallControls lists controls smaller than the density of the page asks for: 72 by 76 in the barn (the bar 76
// high), 44 by 44 at the table. Links in running text are exempt.
const smallControls = `(() => {
	const barn = document.body.classList.contains('barn'), out = [];
	for (const e of document.querySelectorAll('main button, main .button, main .tile, main select, main input:not([type=hidden]), main textarea, main summary')) {
		const box = e.getBoundingClientRect();
		if (!box.width || e.closest('.tile') && !e.matches('.tile')) continue;
		const [w, h] = e.matches('.main-bar') ? [300, 76] : barn ? [76, 72] : [44, 44];
		if (box.width < Math.min(w, innerWidth - 40) - 0.5 || box.height < h - 0.5) out.push(e.outerHTML.slice(0, 120) + ' ' + box.width + ' x ' + box.height);
	}
	return out.join('\n');
})()`

// The label of a mix prints on one page of A4 and of Letter, with nothing but the label, in black.
func TestLabelPrintsOnOnePage(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	_, bottle := concentrate(yard, "2% w/v")
	mix := mixes(yard.Carer, bottle, "0.05% w/v", "1 L")
	tab := webtest.StartChromium(t).Tab(t, site, 1280, 800)
	tab.SignIn(yard.Carer)
	tab.Open("/mix/" + mix)
	for paper, size := range map[string][2]float64{"A4": {8.27, 11.69}, "Letter": {8.5, 11}} {
		var pdf []byte
		tab.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
			made, err := chromedp.Call(ctx, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: size[0], PaperHeight: size[1]})
			pdf = made.Data
			return err
		}))
		file := filepath.Join(t.TempDir(), paper+".pdf")
		if err := os.WriteFile(file, pdf, 0o644); err != nil {
			t.Fatal(err)
		}
		if info := tool(t, "pdfinfo", file); !strings.Contains(info, "Pages:           1\n") {
			t.Errorf("%s:\n%s", paper, info)
		}
		text := strings.Join(strings.Fields(tool(t, "pdftotext", "-layout", file, "-")), " ")
		for _, words := range []string{"0.05 g per 100 mL of chlorhexidine gluconate", "Made Thu 14 May 2026, 13:00 by Bea", "Checked by one person", "Throw away after Fri 15 May 2026, 13:00", "Not for eyes."} {
			if !strings.Contains(text, words) {
				t.Errorf("%s does not say %q:\n%s", paper, words, text)
			}
		}
		for _, words := range []string{"It is used up", "worked out", "Print this page", "Mix another"} {
			if strings.Contains(text, words) {
				t.Errorf("%s prints %q:\n%s", paper, words, text)
			}
		}
	}
	tab.Light("lantern") // light text on dark, on the screen
	tab.Open("/mix/" + mix)
	tab.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
		return err
	}))
	if inks := webtest.Eval[string](tab, colours); inks != "rgb(0, 0, 0)" {
		t.Errorf("the label prints in %s", inks)
	}
}

// colours lists the colours of the label's text.
const colours = `[...new Set([...document.querySelectorAll('.bottle-label, .bottle-label *')].map((e) => getComputedStyle(e).color))].join(' ')`

// tool runs an outside program and gives what it prints.
func tool(t *testing.T, name string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("LEGROUND_NO_SKIP") == "1" {
			t.Fatalf("%s is missing (Debian: apt-get install poppler-utils)", name)
		}
		t.Skipf("%s is missing (Debian: apt-get install poppler-utils)", name)
	}
	out, err := exec.Command(path, args...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", name, err, out)
	}
	return string(out)
}
