package offlinetest

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	cdpruntime "github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"leground/server/webtest"
)

// Phone is a browser with a profile of its own.
type Phone struct {
	TB   testing.TB
	Link *Link

	profile string
	shots   string
	width   int64
	height  int64
	clock   time.Duration // how far its clock is ahead of this machine's
	flags   []chromedp.ExecAllocatorOption
	context context.Context
	end     func()
	session string
}

// NewPhone starts a phone of 360 by 740 pixels at the end of a link, and throws it away with the test.
func NewPhone(tb testing.TB, link *Link, flags ...chromedp.ExecAllocatorOption) *Phone {
	tb.Helper()
	p := &Phone{TB: tb, Link: link, profile: tb.TempDir(), shots: os.Getenv("LEGROUND_SHOTS"), width: 360, height: 740, flags: flags}
	tb.Cleanup(func() {
		if p.end != nil {
			p.end()
		}
	})
	p.Start()
	return p
}

// Start starts the browser with whatever its profile holds.
func (p *Phone) Start() {
	p.TB.Helper()
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(chromium(p.TB)), chromedp.UserDataDir(p.profile),
		chromedp.NoSandbox, // a container's root may not make one; the only pages opened are our own
		chromedp.DisableGPU, chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("hide-scrollbars", true),
		chromedp.ModifyCmdFunc(func(cmd *exec.Cmd) { cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }))
	options = append(options, p.flags...)
	allocator, endAllocator := chromedp.NewExecAllocator(context.Background(), options...)
	browser, endBrowser := chromedp.NewContext(allocator)
	p.context, p.end = browser, func() { endBrowser(); endAllocator() }
	p.Do(chromedp.EmulateViewport(p.width, p.height))
	if err := chromedp.Listen(p.context, p.fault); err != nil {
		p.TB.Fatal(err)
	}
	if p.clock != 0 {
		p.setClock()
	}
	if p.session != "" {
		p.cookie() // a browser writes cookies to its disk only now and then
	}
}

// fault fails the test when a script of the page throws.
func (p *Phone) fault(event any) {
	if e, ok := event.(*cdpruntime.EventExceptionThrown); ok && e.ExceptionDetails != nil && e.ExceptionDetails.Exception != nil {
		p.TB.Errorf("a script of the page threw: %s %s", e.ExceptionDetails.Text, e.ExceptionDetails.Exception.Description)
	}
}

func chromium(tb testing.TB) string {
	tb.Helper()
	// The wrapper script of some systems would stand between us and the process that is to be killed.
	for _, name := range []string{"/usr/lib/chromium/chromium", "chromium", "chromium-browser", "google-chrome", "chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	const words = "no Chromium in PATH (Debian: apt-get install chromium)"
	if os.Getenv("LEGROUND_NO_SKIP") == "1" {
		tb.Fatal(words)
	}
	tb.Skip(words)
	return ""
}

// Kill ends the browser and all its processes at once, with signal 9.
func (p *Phone) Kill() {
	p.TB.Helper()
	process := chromedp.FromContext(p.context).Browser.Process()
	if err := syscall.Kill(-process.Pid, syscall.SIGKILL); err != nil {
		p.TB.Fatalf("the browser could not be killed: %v", err)
	}
	p.end()
	p.end = nil
	// A phone that starts again has no process of before: one that still dies here holds the locks of the profile's
	// databases. (In a container in which nobody buries the dead they stay listed: that is what the bound is for.)
	for until := time.Now().Add(5 * time.Second); syscall.Kill(-process.Pid, 0) == nil && time.Now().Before(until); {
		time.Sleep(2 * time.Millisecond)
	}
	for _, name := range []string{"SingletonLock", "SingletonSocket", "SingletonCookie"} {
		os.Remove(filepath.Join(p.profile, name))
	}
}

// SignIn gives the phone a person's session.
func (p *Phone) SignIn(who *webtest.Person) {
	p.TB.Helper()
	p.session = who.Session()
	p.cookie()
}

func (p *Phone) cookie() {
	p.TB.Helper()
	p.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, network.SetCookie, network.SetCookieParams{Name: "leground", Value: p.session, URL: p.Link.URL})
		return err
	}))
}

// ClockAhead lets the phone's pages see a clock that is ahead of the true one, from the next page on. Its
// service worker still sees the true one: so such a phone has no Background Sync, and only pages send.
func (p *Phone) ClockAhead(by time.Duration) {
	p.TB.Helper()
	p.clock = by
	p.setClock()
}

func (p *Phone) setClock() {
	const wrong = `(() => { const Real = Date, off = MS; class Wrong extends Real { constructor(...a) { if (a.length) super(...a); else super(Real.now() + off); } static now() { return Real.now() + off; } } self.Date = Wrong; if (self.SyncManager) SyncManager.prototype.register = () => Promise.reject(new Error('not on this phone')); })()`
	source := strings.Replace(wrong, "MS", itoa(p.clock.Milliseconds()), 1)
	p.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: source})
		return err
	}))
}

// Slow lets the phone's processor be so many times slower.
func (p *Phone) Slow(times float64) {
	p.TB.Helper()
	p.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetCPUThrottlingRate, emulation.SetCPUThrottlingRateParams{Rate: times})
		return err
	}))
}

const within = 40 * time.Second

// Do runs steps in the phone's tab.
func (p *Phone) Do(steps ...chromedp.Action[chromedp.Void]) {
	p.TB.Helper()
	ctx, cancel := context.WithTimeout(p.context, within)
	defer cancel()
	first := p.context
	if chromedp.FromContext(first).Target == nil { // the tab lives as long as the context of its first step
		if err := chromedp.Do(first); err != nil {
			p.TB.Fatalf("Chromium does not start: %v", err)
		}
	}
	if err := chromedp.Do(ctx, steps...); err != nil {
		p.TB.Fatal(err)
	}
}

// Open goes to a page of the site.
func (p *Phone) Open(path string) {
	p.TB.Helper()
	p.Do(chromedp.Navigate(p.Link.URL + path))
	p.Wait(`document.readyState === 'complete' && (!self.leground || leground.started.then(() => !document.querySelector('#round:not([data-open])')))`)
}

// Eval runs an expression in the page, waits for its promise and gives its value.
func Eval[T any](p *Phone, expression string) T {
	p.TB.Helper()
	ctx, cancel := context.WithTimeout(p.context, within)
	defer cancel()
	value, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		p.TB.Fatalf("%s: %v", expression, err)
	}
	return value
}

// Wait waits until an expression is true.
func (p *Phone) Wait(expression string) {
	p.TB.Helper()
	until := time.Now().Add(within)
	for {
		ctx, cancel := context.WithTimeout(p.context, within)
		value, err := chromedp.Run(ctx, chromedp.Evaluate[bool]("(async () => !!(await ("+expression+")))()", chromedp.EvalAwaitPromise))
		cancel()
		if err == nil && value {
			return
		}
		if time.Now().After(until) {
			p.Shot("waited-" + strings.Map(letters, p.TB.Name()))
			p.TB.Fatalf("never came true: %s (last: %v, %v)\npage says: %s", expression, value, err, Eval[string](p, "location.pathname + location.hash + ' ' + document.body.innerText.slice(0, 1500)"))
		}
		time.Sleep(50 * time.Millisecond)
	}
}

func letters(r rune) rune {
	if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' {
		return r
	}
	return '-'
}

// Tap presses and lets go in the middle of what a selector finds first and visible, as a finger does.
func (p *Phone) Tap(selector string) {
	p.TB.Helper()
	type spot struct{ X, Y float64 }
	at := Eval[spot](p, `(async () => {
		const e = [...document.querySelectorAll(`+quote(selector)+`)].find((e) => e.checkVisibility() || (e.closest('.tile, .danger') || e).checkVisibility());
		if (!e) throw new Error('nothing to tap: ' + `+quote(selector)+`);
		e.scrollIntoView({ block: 'center', behavior: 'instant' });
		await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
		const r = e.getBoundingClientRect();
		return { X: r.x + r.width / 2, Y: r.y + r.height / 2 };
	})()`)
	p.Do(chromedp.MouseClickXY(at.X, at.Y))
}

// Text gives the words that can be seen of what a selector finds.
func (p *Phone) Text(selector string) string {
	p.TB.Helper()
	return Eval[string](p, `[...document.querySelectorAll(`+quote(selector)+`)].map((e) => e.innerText).join(' ').replace(/\s+/g, ' ').trim()`)
}

// Says waits until a text stands on the page.
func (p *Phone) Says(text string) {
	p.TB.Helper()
	p.Wait(`document.body.innerText.replace(/\s+/g, ' ').toLowerCase().includes(` + quote(strings.ToLower(text)) + `)`)
}

// Shot saves a picture of the whole page as NAME.png where LEGROUND_SHOTS names a folder.
func (p *Phone) Shot(name string) {
	p.TB.Helper()
	if p.shots == "" {
		return
	}
	ctx, cancel := context.WithTimeout(p.context, within)
	defer cancel()
	picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err == nil {
		err = os.MkdirAll(p.shots, 0o755)
	}
	if err == nil {
		err = os.WriteFile(filepath.Join(p.shots, name+".png"), picture, 0o644)
	}
	if err != nil {
		p.TB.Fatalf("a picture: %v", err)
	}
}

// Resize gives the page another size.
func (p *Phone) Resize(width, height int64) {
	p.TB.Helper()
	p.width, p.height = width, height
	p.Do(chromedp.EmulateViewport(width, height))
}

func quote(text string) string { return strconv.Quote(text) }

func itoa(n int64) string { return strconv.FormatInt(n, 10) }

// try goes to a page and gives the browser's error.
func (p *Phone) try(path string) error {
	p.TB.Helper()
	ctx, cancel := context.WithTimeout(p.context, within)
	defer cancel()
	return chromedp.Do(ctx, chromedp.Navigate(p.Link.URL+path))
}
