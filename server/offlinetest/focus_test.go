package offlinetest

import (
	"bytes"
	"context"
	"image"
	"image/png"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// spot is a rectangle of the page, in CSS pixels of the view.
type spot struct{ X, Y, W, H float64 }

// cut takes a picture of a spot and some pixels around it.
func (p *Phone) cut(s spot, around float64) image.Image {
	p.TB.Helper()
	ctx, cancel := context.WithTimeout(p.context, within)
	defer cancel()
	var out []byte
	err := chromedp.Do(ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		got, err := chromedp.Call(ctx, page.CaptureScreenshot, page.CaptureScreenshotParams{Clip: &page.Viewport{X: s.X - around, Y: s.Y - around, Width: s.W + 2*around, Height: s.H + 2*around, Scale: 1}})
		out = got.Data
		return err
	}))
	if err != nil {
		p.TB.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(out))
	if err != nil {
		p.TB.Fatal(err)
	}
	return img
}

// ring counts how many pixels change on each side outside a spot, on the lines through its middle.
func ring(before, after image.Image, around int) (least int) {
	size := before.Bounds().Size()
	changed := func(x, y int) int {
		r, g, b, _ := before.At(x, y).RGBA()
		r2, g2, b2, _ := after.At(x, y).RGBA()
		if max(r, r2)-min(r, r2)+max(g, g2)-min(g, g2)+max(b, b2)-min(b, b2) > 3<<13 {
			return 1
		}
		return 0
	}
	var left, right, top, bottom int
	for i := range around {
		left += changed(i, size.Y/2)
		right += changed(size.X-1-i, size.Y/2)
		top += changed(size.X/2, i)
		bottom += changed(size.X/2, size.Y-1-i)
	}
	return min(left, right, top, bottom)
}

// A03: every control that has the focus shows a ring of at least 4 px on each side, apart from what it is round (the
// inner ring is paper on paper), held against a picture without it. The bar that floats covers nothing that has the focus.
func TestA03FocusShows(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	p.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error { // as in a window that people look at
		_, err := chromedp.Call(ctx, emulation.SetFocusEmulationEnabled, emulation.SetFocusEmulationEnabledParams{Enabled: true})
		return err
	}))
	const controls = `[...document.querySelectorAll('button, a[href], input:not([type=hidden]), select, textarea, summary')].filter((e) => e.checkVisibility() && !e.closest('.skip, .spoken') || e.closest('.tile, .danger > label, .photo-take') && e.closest('article:not([hidden])') && e.checkVisibility())`
	looked := 0
	for _, where := range []string{"walk", b.tags[0], "/phone"} {
		switch where {
		case "walk":
		case "/phone":
			p.Open(where)
		default:
			goTo(p, where)
		}
		Eval[bool](p, `(document.querySelectorAll('details').forEach((d) => { if (!d.firstElementChild.hidden) d.open = true; }), true)`)
		n := Eval[int](p, `(window.controls = `+controls+`, controls.length)`)
		if where == b.tags[0] {
			n = min(n, 60) // the rest is that of the leg's other forms
		}
		for i := range n {
			type target struct {
				Spot spot
				Name string
			}
			Eval[bool](p, `(document.activeElement.blur(), controls[`+itoa(int64(i))+`].scrollIntoView({ block: 'center', behavior: 'instant' }), new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done(true)))))`)
			const about = `(() => { const e = controls[N], box = e.closest('.tile, .danger, .photo-take') && e.matches('input') ? e.closest('.tile, .photo-take') || e : e, r = box.getBoundingClientRect();
				return { Spot: { X: r.x + scrollX, Y: r.y + scrollY, W: r.width, H: r.height }, Name: e.outerHTML.slice(0, 90) }; })()`
			at := Eval[target](p, strings.Replace(about, "N]", itoa(int64(i))+"]", 1))
			before := p.cut(at.Spot, 9)
			Eval[bool](p, `(controls[`+itoa(int64(i))+`].focus({ focusVisible: true, preventScroll: true }), new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(() => done(true)))))`)
			if r := ring(before, p.cut(at.Spot, 9), 9); r < 4 {
				t.Errorf("%s: the focus shows in %d px on %s, want at least 4 on each side", where, r, at.Name)
			}
			looked++
		}
	}
	if looked < 80 {
		t.Errorf("only %d controls were looked at", looked)
	}

	p.Open("/round")
	goTo(p, b.tags[0])
	for range 60 {
		p.Do(chromedp.KeyEvent(kb.Tab))
		if got := Eval[string](p, `(() => {
			const e = document.activeElement, box = e.closest('.tile, .danger, .photo-take') || e, a = box.getBoundingClientRect();
			for (const bar of document.querySelectorAll('.save-bar, .phone-bar')) {
				if (bar.contains(e) || !bar.checkVisibility() || e === document.body) continue;
				const b = bar.getBoundingClientRect(), w = Math.min(a.right, b.right) - Math.max(a.left, b.left), h = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
				if (w > 0 && h > 0) return e.outerHTML.slice(0, 90) + ' is covered by ' + h + ' px';
			}
			return '';
		})()`); got != "" {
			t.Error(got)
		}
	}
}
