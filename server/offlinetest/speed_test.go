package offlinetest

import (
	"context"
	"fmt"
	"image/jpeg"
	"os"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"leground/server/webtest"
	"leground/tracker"
)

// slowLink lets the browser itself be slow: the profiles of the checks are given in its words.
func slowLink(p *Phone, down, up, latency float64) {
	p.TB.Helper()
	p.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
			return err
		}
		_, err := chromedp.Call(ctx, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
			MatchedNetworkConditions: []*network.Conditions{{DownloadThroughput: down * 1e6 / 8, UploadThroughput: up * 1e6 / 8, Latency: latency}},
		})
		return err
	}))
}

// busy is by how much slower this machine is than an idle one, by its own account: times are held against
// their bars only as far as it had time for us. On an idle machine it is 1.
func busy(t testing.TB) float64 {
	t.Helper()
	var load float64
	text, err := os.ReadFile("/proc/loadavg")
	if err == nil {
		_, err = fmt.Sscan(string(text), &load)
	}
	if err != nil {
		t.Logf("how busy this machine is cannot be known: %v", err)
		return 1
	}
	by := max(1, load/float64(runtime.NumCPU()))
	t.Logf("the machine is busy: times %.1f", by)
	return by
}

// A27: what a cold visit of the round, the Board and the phone's page transfers, without photos.
func TestA27Weight(t *testing.T) {
	b := newBarn(t)
	for path, most := range map[string]int{"/round": 100 << 10, "/": 100 << 10, "/phone": 100 << 10} {
		p := b.phone(b.yard.Owner)
		p.Open(path)
		p.Wait(`navigator.serviceWorker.controller`)
		type asked struct {
			Name string
			Size int
		}
		list := Eval[[]asked](p, `[...performance.getEntriesByType('navigation'), ...performance.getEntriesByType('resource')].filter((e) => e.initiatorType !== 'fetch').map((e) => ({ Name: new URL(e.name).pathname, Size: e.transferSize }))`)
		var sum, scripts, html int
		for _, a := range list {
			sum += a.Size
			switch {
			case strings.HasSuffix(a.Name, ".js"):
				scripts += a.Size
			case a.Name == path:
				html = a.Size
			}
		}
		t.Logf("%s: %d bytes in %d requests, scripts %d, page %d", path, sum, len(list), scripts, html)
		if sum > most || scripts > 20<<10 || html > 25<<10 || len(list) > 12 {
			t.Errorf("%s transfers %d bytes (at most %d), scripts %d (20480), page %d (25600), requests %d (12): %v", path, sum, most, scripts, html, len(list), list)
		}
		p.end()
		p.end = nil
	}
}

// A28: a second visit of the round fetches the page and nothing else; with no signal it needs nothing at all.
func TestA28WarmVisit(t *testing.T) {
	b := newBarn(t)
	p := NewPhone(t, b.link) // with a true clock: pages and worker must agree how old the copy is
	p.SignIn(b.yard.Owner)
	b.ready(p)
	p.Open("/")
	b.link.Down()
	p.Open("/round")
	time.Sleep(300 * time.Millisecond)
	down := b.link.Down()
	t.Logf("%d bytes with signal", down)
	if down == 0 || down > 20<<10 {
		t.Errorf("a second visit of the round fetches %d bytes, at most 20480", down)
	}
	b.link.Cut(Refuse)
	p.Open("/round")
	p.Says("Works with no signal")
	if down := b.link.Down(); down != 0 {
		t.Errorf("with no signal %d bytes came", down)
	}
}

// A30: a cold visit over a weak link (400 and 200 kbit/s, 400 ms) shows the round within 5 s; on a machine that
// has time for us.
func TestA30WeakLink(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	slowLink(p, 0.4, 0.2, 400)
	p.Do(chromedp.Navigate(p.Link.URL + "/round"))
	p.Wait(`document.querySelector('#round[data-open]')`)
	shown := Eval[float64](p, `new Promise((done) => new PerformanceObserver((l) => done(l.getEntries().at(-1).startTime)).observe({ type: 'largest-contentful-paint', buffered: true }))`)
	t.Logf("the largest part stands after %.0f ms", shown)
	if shown > 5000*busy(t) {
		late(t, "over a weak link the round stands after %.0f ms, at most 5000", shown)
	}
}

// A32: the yard's machine makes a page within 100 ms, the trend sheet within 200, in 95 of 100 times, with five
// horses and two years of looks; on a machine that has time for us.
func TestA32ServerTime(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Fill(5, 730)
	for path, most := range map[string]time.Duration{"/": 100 * time.Millisecond, "/round": 100 * time.Millisecond, "/horse/" + string(yard.Horses[0]): 100 * time.Millisecond, "/horse/" + string(yard.Horses[0]) + "/trend": 200 * time.Millisecond} {
		var all []time.Duration
		for range 40 {
			began := time.Now()
			yard.Owner.Get(path).Is(200)
			all = append(all, time.Since(began))
		}
		slices.Sort(all)
		t.Logf("%s: median %v, 95th of 100 %v", path, all[20].Round(100*time.Microsecond), all[37].Round(100*time.Microsecond))
		if float64(all[37]) > float64(most)*busy(t) {
			late(t, "%s takes %v in the slowest twentieth, at most %v", path, all[37], most)
		}
	}
}

// A29 and A30: on Slow 4G with a processor four times slower the round can be used within 3.0 s; from the phone's
// copy with no signal within 1.0 s on a processor as it is, which is what this machine can promise.
func TestA29A30Speed(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	slowLink(p, 1.6, 0.75, 150)
	p.Slow(4)
	open := func(path string) (usable, first float64) {
		t.Helper()
		p.Do(chromedp.Navigate(p.Link.URL + path)) // p as it is then
		p.Wait(`document.querySelector('#round[data-open]')`)
		return Eval[float64](p, `+document.querySelector('#round').dataset.openedAt`), Eval[float64](p, `(performance.getEntriesByName('first-contentful-paint')[0] || { startTime: 0 }).startTime`)
	}
	usable, first := open("/round")
	t.Logf("Slow 4G, 4 x: first paint %.0f ms, usable %.0f ms", first, usable)
	by := busy(t)
	if usable > 3000*by || first > 1500*by {
		late(t, "Slow 4G: usable after %.0f ms (3000), first paint %.0f ms (1500)", usable, first)
	}
	p.end()
	p = b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	var all []float64
	for range 5 {
		usable, _ := open("/round")
		all = append(all, usable)
	}
	slices.Sort(all)
	t.Logf("from the copy with no signal: usable after %.0f ms (median of 5: %.0f)", all[2], all)
	if all[2] > 1000*by {
		late(t, "from the copy: %.0f ms, at most 1000", all[2])
	}
}

// A31 and the bar of the issue: from the tap to "Saved on this phone" in a median under 100 ms with a processor
// four times slower; steppers answer within 100 ms.
func TestA31TapToSaved(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	p.Slow(4)
	var saves []float64
	for i, leg := range []string{"Bramble LF", "Bramble RF", "Bramble RH", "Bramble LH", "Old Tom LF", "Old Tom RF", "Old Tom RH", "Old Tom LH", "Juniper LF"} {
		goTo(p, leg)
		took := Eval[float64](p, `(async () => {
			const bar = document.querySelector(`+quote(card(leg)+` .main-bar[name=clear]`)+`), line = document.querySelector('#saved p');
			await new Promise((done) => requestAnimationFrame(() => setTimeout(done, 50)));
			const began = performance.now();
			const seen = new Promise((done) => new MutationObserver(() => line.textContent.startsWith(`+quote(leg+" saved")+`) && done(performance.now())).observe(line, { childList: true, subtree: true, characterData: true }));
			bar.click();
			return (await seen) - began;
		})()`)
		saves = append(saves, took)
		p.Wait(`leground.all('record').then((all) => all.length === ` + fmt.Sprint(i+1) + `)`)
		p.Wait(`!document.querySelector(` + quote(card(leg)) + `).checkVisibility()`)
	}
	slices.Sort(saves)
	t.Logf("tap to saved: median %.0f ms, most %.0f ms (%d saves, 4 x)", saves[len(saves)/2], saves[len(saves)-1], len(saves))
	by := busy(t)
	if saves[len(saves)/2] > 100*by {
		late(t, "tap to saved takes %.0f ms in the median, at most 100", saves[len(saves)/2])
	}
	goTo(p, b.tags[0])
	var steps []float64
	for range 9 {
		steps = append(steps, Eval[float64](p, `(async () => {
			const key = [...document.querySelectorAll(`+quote(card(b.tags[0])+` .stepper button`)+`)][2], input = document.querySelector(`+quote(card(b.tags[0])+` input[name=length]`)+`), was = input.value, began = performance.now();
			key.click();
			if (input.value === was) throw new Error('nothing happened');
			await new Promise((done) => requestAnimationFrame(() => setTimeout(done, 0)));
			const took = performance.now() - began;
			await new Promise((done) => setTimeout(done, 300));
			return took;
		})()`))
	}
	slices.Sort(steps)
	t.Logf("a step: median %.0f ms", steps[4])
	if steps[4] > 100*by {
		late(t, "a step takes %.0f ms, at most 100", steps[4])
	}
}

// A33: a photo of 12 megapixels, lying on its side by what the camera wrote, is made small and upright on the
// phone, without the place; the yard checks it again.
func TestA33Photo(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	name := picture(t, 4000, 3000, 12)
	data, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	// EXIF, big endian (Exif 2.3, section 4.6): orientation 6 ("turn right"), a GPS block with a latitude.
	exif := []byte("Exif\x00\x00MM\x00\x2a\x00\x00\x00\x08" +
		"\x00\x02" + "\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06\x00\x00" + "\x88\x25\x00\x04\x00\x00\x00\x01\x00\x00\x00\x26" + "\x00\x00\x00\x00" +
		"\x00\x01" + "\x00\x01\x00\x02\x00\x00\x00\x02N\x00\x00\x00" + "\x00\x00\x00\x00")
	size := len(exif) + 2
	marked := append([]byte{0xff, 0xd8, 0xff, 0xe1, byte(size >> 8), byte(size)}, exif...)
	marked = append(marked, data[2:]...)
	if err := os.WriteFile(name, marked, 0o644); err != nil {
		t.Fatal(err)
	}
	enter(p, b.tags[0], "42", "25")
	Eval[bool](p, `(window.blocked = 0, new PerformanceObserver((l) => { for (const e of l.getEntries()) window.blocked = Math.max(window.blocked, e.duration); }).observe({ type: 'longtask' }), true)`)
	var blocks []float64 // the longest of each photo; 0: none was over 50 ms
	began := time.Now()
	for i := range 10 {
		if i > 0 {
			p.Tap(card(b.tags[0]) + " .take-away")
			p.Wait(`!document.querySelector('.photo-here img')`)
		}
		choose(p, b.tags[0], name)
		blocks = append(blocks, Eval[float64](p, `new Promise((done) => setTimeout(() => { done(window.blocked); window.blocked = 0; }, 300))`))
	}
	slices.Sort(blocks)
	t.Logf("ten photos in %v; the longest block: median %.0f ms, most %.0f ms", time.Since(began).Round(time.Millisecond), blocks[5], blocks[9])
	save(p, b.tags[0])
	sent(p)
	k := onPhone(p, "photo")[0]
	bytes := Eval[[]byte](p, `leground.get('bytes', `+quote(k.ID)+`).then((b) => btoa(Array.from(new Uint8Array(b), (c) => String.fromCharCode(c)).join('')))`)
	if strings.Contains(string(bytes), "Exif") || k.Length > 350<<10 {
		t.Errorf("the phone posts %d bytes, with metadata: %v", k.Length, strings.Contains(string(bytes), "Exif"))
	}
	photo, stored := b.photo(k.ID)
	img, err := jpeg.DecodeConfig(strings.NewReader(string(stored)))
	if err != nil {
		t.Fatal(err)
	}
	if img.Width != 1200 || img.Height != 1600 || len(stored) > 350<<10 || strings.Contains(string(stored), "Exif") || photo.Check == tracker.RecordID("") {
		t.Errorf("stored %d x %d px in %d bytes, want 1200 x 1600 and at most 358400", img.Width, img.Height, len(stored))
	}
	thumb, err := b.thumb(k.ID)
	if err != nil || len(thumb) == 0 || len(thumb) > 20<<10 {
		t.Errorf("the thumbnail has %d bytes (%v), at most 20480", len(thumb), err)
	}
	if blocks[9] > 200*busy(t) {
		late(t, "the page was blocked for %.0f ms, at most 200", blocks[9])
	}
}

// late reports a bar of time that was not kept. It fails the test only where time is what is looked at: on a
// machine that runs other tests beside it, a clock proves nothing.
func late(t *testing.T, format string, args ...any) {
	t.Helper()
	if os.Getenv("LEGROUND_LONG") == "1" {
		t.Errorf(format, args...)
		return
	}
	t.Logf("over its bar: "+format, args...)
}
