package webtest

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// Chromium is a running browser of one test.
type Chromium struct {
	context context.Context
	shots   string
}

// StartChromium starts the browser of this machine without a window and ends it with the test. A machine
// without one skips the test by name, or fails it when LEGROUND_NO_SKIP=1. Screenshots go to the folder
// that LEGROUND_SHOTS names, else to one of the test's own.
func StartChromium(tb testing.TB) *Chromium {
	tb.Helper()
	path := findChromium(tb)
	c := &Chromium{shots: os.Getenv("LEGROUND_SHOTS")}
	if c.shots == "" {
		c.shots = tb.TempDir()
	}
	check(tb, os.MkdirAll(c.shots, 0o755))
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.UserDataDir(tb.TempDir()),
		chromedp.NoSandbox, // a container's root may not make one; the only pages opened are our own
		chromedp.DisableGPU, chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
		chromedp.Flag("no-default-browser-check", true), chromedp.Flag("hide-scrollbars", true))
	allocator, endAllocator := chromedp.NewExecAllocator(context.Background(), options...)
	browser, endBrowser := chromedp.NewContext(allocator)
	tb.Cleanup(func() {
		endBrowser()
		endAllocator()
	})
	if err := chromedp.Do(browser); err != nil {
		tb.Fatalf("Chromium (%s) does not start: %v", path, err)
	}
	c.context = browser
	return c
}

func findChromium(tb testing.TB) string {
	tb.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
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

// Tab is a tab with cookies of its own.
type Tab struct {
	TB      testing.TB
	Context context.Context // of chromedp
	site    *Site
	shots   string
}

// clockScript makes a page's own clock run on from an instant, unless it is there already. A service worker
// keeps the machine's clock: a test of what a phone keeps must let the site's clock stand at the real time.
const clockScript = `(() => { const Real = Date, off = %d - Real.now();
if (Math.abs(off) < 6e5) return;
globalThis.Date = class extends Real { constructor(...a) { a.length ? super(...a) : super(Real.now() + off); } static now() { return Real.now() + off; } }; })()`

// Tab opens a tab of a width and height in CSS pixels, and closes it with the test. Its clock starts where
// the site's stands, as a phone's in the yard would.
func (c *Chromium) Tab(tb testing.TB, site *Site, width, height int64) *Tab {
	tb.Helper()
	ctx, end := chromedp.NewContext(c.context, chromedp.WithNewBrowserContext())
	tb.Cleanup(end)
	t := &Tab{TB: tb, Context: ctx, site: site, shots: c.shots}
	check(tb, chromedp.Do(ctx)) // the tab lives as long as the context of its first step
	t.Do(chromedp.EmulateViewport(width, height), chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		script := page.AddScriptToEvaluateOnNewDocumentParams{Source: fmt.Sprintf(clockScript, site.Clock.Now().UnixMilli())}
		_, err := chromedp.Call(ctx, page.AddScriptToEvaluateOnNewDocument, script)
		return err
	}))
	return t
}

// within bounds one step in the browser, on a busy machine too.
const within = 30 * time.Second

// Do runs steps of chromedp.
func (t *Tab) Do(steps ...chromedp.Action[chromedp.Void]) {
	t.TB.Helper()
	ctx, cancel := context.WithTimeout(t.Context, within)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		t.TB.Fatalf("%s: %v", t.where(), err)
	}
}

// In gives the same tab seen from a subtest, so that its failures are the subtest's.
func (t *Tab) In(tb testing.TB) *Tab {
	copied := *t
	copied.TB = tb
	return &copied
}

// where is the address of the tab's page, for a failure.
func (t *Tab) where() string {
	ctx, cancel := context.WithTimeout(t.Context, within)
	defer cancel()
	at, err := chromedp.Run(ctx, chromedp.Location())
	if err != nil {
		return "a tab that does not answer"
	}
	return strings.TrimPrefix(at, t.site.URL)
}

// Resize gives the tab another size.
func (t *Tab) Resize(width, height int64) {
	t.TB.Helper()
	t.Do(chromedp.EmulateViewport(width, height))
}

// SignIn gives the tab a person's session.
func (t *Tab) SignIn(p *Person) {
	t.TB.Helper()
	t.cookie("leground", p.Session())
}

// Light chooses day, noon or lantern, as the button does.
func (t *Tab) Light(name string) {
	t.TB.Helper()
	t.cookie("light", name)
}

func (t *Tab) cookie(name, value string) {
	t.TB.Helper()
	t.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, network.SetCookie, network.SetCookieParams{Name: name, Value: value, URL: t.site.URL})
		return err
	}))
}

// Scripts turns the page's own scripts on or off, from the next page on.
func (t *Tab) Scripts(on bool) {
	t.TB.Helper()
	t.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		_, err := chromedp.Call(ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: !on})
		return err
	}))
}

// Open goes to a page of the site and waits until it is loaded.
func (t *Tab) Open(path string) {
	t.TB.Helper()
	t.Do(chromedp.Navigate(t.site.URL + path))
}

// Click clicks what a CSS selector finds first, and waits for the page that it leads to.
func (t *Tab) Click(selector string) {
	t.TB.Helper()
	ctx, cancel := context.WithTimeout(t.Context, within)
	defer cancel()
	if _, err := chromedp.RunResponse(ctx, chromedp.Click(chromedp.CSS(selector))); err != nil {
		t.TB.Fatalf("%s: clicking %s: %v", t.where(), selector, err)
	}
}

// Leads runs a script and waits for the page that it leads to.
func (t *Tab) Leads(script string) {
	t.TB.Helper()
	ctx, cancel := context.WithTimeout(t.Context, within)
	defer cancel()
	if _, err := chromedp.RunResponse(ctx, chromedp.Evaluate[chromedp.Void](script)); err != nil {
		t.TB.Fatalf("%s: after %s: %v", t.where(), script, err)
	}
}

// Eval runs an expression in the page and gives its value.
func Eval[T any](t *Tab, expression string) T {
	t.TB.Helper()
	ctx, cancel := context.WithTimeout(t.Context, within)
	defer cancel()
	value, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		t.TB.Fatalf("%s: %v", t.where(), err)
	}
	return value
}

// Keys types keys, such as kb.Tab or " ", as a keyboard would.
func (t *Tab) Keys(keys string) {
	t.TB.Helper()
	t.Do(chromedp.KeyEvent(keys))
}

// Until waits until an expression holds in the page, also when the page changes meanwhile.
func (t *Tab) Until(expression string) {
	t.TB.Helper()
	ctx, cancel := context.WithTimeout(t.Context, within)
	defer cancel()
	for {
		holds, err := chromedp.Run(ctx, chromedp.Evaluate[bool](expression))
		if err == nil && holds {
			return
		}
		if ctx.Err() != nil {
			t.TB.Fatalf("%s: waited in vain for %s (%v)", t.where(), expression, err)
		}
		time.Sleep(10 * time.Millisecond)
	}
}

// Shot saves a picture of the whole page as NAME.png.
func (t *Tab) Shot(name string) {
	t.TB.Helper()
	ctx, cancel := context.WithTimeout(t.Context, within)
	defer cancel()
	picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(100))
	if err != nil {
		t.TB.Fatalf("%s: a picture: %v", t.where(), err)
	}
	check(t.TB, os.WriteFile(filepath.Join(t.shots, name+".png"), picture, 0o644))
}
