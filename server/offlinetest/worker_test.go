package offlinetest

import (
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// program is a leground that runs as a process of its own, of any build.
type program struct {
	URL string
}

// newBuild builds the program with one file changed, as the next release might be.
func newBuild(t testing.TB, file string, change func(string) string) string {
	t.Helper()
	root, err := filepath.Abs("../..")
	if err != nil {
		t.Fatal(err)
	}
	was, err := os.ReadFile(filepath.Join(root, file))
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	changed := filepath.Join(folder, "changed")
	if err := os.WriteFile(changed, []byte(change(string(was))), 0o644); err != nil {
		t.Fatal(err)
	}
	overlay, err := json.Marshal(map[string]any{"Replace": map[string]string{filepath.Join(root, file): changed}})
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(folder, "overlay.json"), overlay, 0o644); err != nil {
		t.Fatal(err)
	}
	binary := filepath.Join(folder, "leground")
	build := exec.Command("go", "build", "-overlay", filepath.Join(folder, "overlay.json"), "-o", binary, "./cmd/leground")
	build.Dir = root
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("go build: %v\n%s", err, out)
	}
	return binary
}

// serve runs a binary over the data of the test's site and waits until it answers.
func serve(t testing.TB, binary, where string, flags ...string) program {
	t.Helper()
	address := freeAddress(t)
	cmd := exec.Command(binary, append([]string{"serve", "-data", where, "-listen", address}, flags...)...)
	var log strings.Builder
	cmd.Stdout, cmd.Stderr = &log, &log
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		cmd.Process.Signal(syscall.SIGTERM)
		cmd.Wait()
	})
	p := program{URL: "http://" + address}
	for try := 0; ; try++ {
		answer, err := http.Get(p.URL + "/healthz")
		if err == nil {
			answer.Body.Close()
			return p
		}
		if try > 200 {
			t.Fatalf("the other build does not answer: %v\n%s", err, log.String())
		}
		time.Sleep(50 * time.Millisecond)
	}
}

// Two builds in turn. The new one is fetched whole beside the old one, says on the page that it is ready, and
// takes over only when no form is open and nothing is being sent. Pages that the old build made keep their
// style until they are fetched anew; a file that is missing is never kept.
func TestTwoBuildsInTurn(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	first := Eval[string](p, `document.documentElement.dataset.build`)
	binary := newBuild(t, "server/web/static/leground.css", func(s string) string { return s + "\n.of-the-next-build { color: red }\n" })
	next := serve(t, binary, b.site.Where)
	b.link.Lead(next.URL)

	// The old page is open with a card half filled in. The new build arrives and waits.
	enter(p, b.tags[0], "42", "25")
	Eval[bool](p, `navigator.serviceWorker.getRegistration().then((r) => r.update()).then(() => true)`)
	p.Wait(`navigator.serviceWorker.getRegistration().then((r) => r.waiting)`)
	p.Says("A newer version is ready")
	p.Shot("newer-360")
	p.Tap("#newer button")
	p.Says("Save or leave the open card first")
	if Eval[bool](p, `navigator.serviceWorker.getRegistration().then((r) => !r.waiting)`) {
		t.Error("the new build took over while a card was half filled in")
	}
	if got := Eval[string](p, `document.querySelector(`+quote(card(b.tags[0])+` input[name=length]`)+`).value`); got != "42" {
		t.Errorf("the card says %q, want 42", got)
	}
	save(p, b.tags[0])

	// Something is being sent over a link that hangs: it still waits.
	b.link.Cut(Hang)
	Eval[bool](p, `(leground.sendNow(), true)`)
	p.Wait(`navigator.locks.query().then((q) => q.held.some((l) => l.name === 'leground-send'))`)
	p.Tap("#newer button")
	time.Sleep(300 * time.Millisecond)
	if Eval[bool](p, `navigator.serviceWorker.getRegistration().then((r) => !r.waiting)`) {
		t.Error("the new build took over while something was being sent")
	}
	b.link.Cut(Pass)
	sent(p)
	b.seen(p)
	Eval[bool](p, `(window.before = true)`)
	p.Tap("#newer button")
	p.Wait(`!window.before && leground.started.then(() => navigator.serviceWorker.controller)`)
	if got := Eval[string](p, `document.documentElement.dataset.build`); got == first {
		t.Error("the page is still of the first build")
	}
	b.same(onPhone(p, "record"), nil)

	// With no signal: pages of both builds are in the copy, each with its own style sheet.
	b.link.Cut(Refuse)
	for _, path := range []string{"/", "/round", "/phone"} {
		p.Open(path)
		if !Eval[bool](p, `[...document.styleSheets].some((s) => s.cssRules.length > 100)`) {
			t.Errorf("%s of build %s has no style", path, Eval[string](p, `document.documentElement.dataset.build`))
		}
	}
	if status := Eval[int](p, `fetch('/static/00000000/none.css').then((r) => r.status, () => 0)`); status != 0 {
		t.Errorf("a missing file answers %d with no signal", status)
	}
	b.link.Cut(Pass)
	if status := Eval[int](p, `fetch('/static/00000000/none.css').then((r) => r.status)`); status != 404 {
		t.Errorf("a missing file answers %d, want 404", status)
	}
	if Eval[bool](p, `caches.match('/static/00000000/none.css').then((r) => !!r)`) {
		t.Error("a missing file was kept")
	}
	// Once every page has been fetched anew the first build's files go.
	p.Open("/")
	p.Wait(`(navigator.serviceWorker.controller.postMessage('fill'), new Promise((done) => setTimeout(done, 500)).then(() => leground.get('note', 'filled')))`)
	if got := Eval[int](p, `caches.keys().then((k) => k.filter((n) => n.startsWith('shell-')).length)`); got > 2 {
		t.Errorf("%d builds are on the phone, want at most 2", got)
	}
}

// A build that does not come whole is not used at all: the one before goes on.
func TestABuildComesWholeOrNotAtAll(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	shells := Eval[string](p, `caches.keys().then((k) => k.filter((n) => n.startsWith('shell-')).join())`)
	binary := newBuild(t, "server/web/static/leground.css", func(s string) string {
		return s + "\n/* " + strings.Repeat(fmt.Sprint(time.Now()), 4000) + " */\n"
	})
	next := serve(t, binary, b.site.Where)
	b.link.Lead(next.URL)
	b.link.CutAt(Drip, 600, nil) // 6 kB a second: there is time to cut it
	Eval[bool](p, `navigator.serviceWorker.getRegistration().then((r) => { r.update().catch(() => {}); return true; })`)
	p.Wait(`navigator.serviceWorker.getRegistration().then((r) => r.installing)`)
	b.link.Cut(Refuse)
	p.Wait(`navigator.serviceWorker.getRegistration().then((r) => !r.installing)`)
	if got := Eval[string](p, `caches.keys().then((k) => k.filter((n) => n.startsWith('shell-')).join())`); got != shells {
		t.Errorf("the phone has builds %s, want %s", got, shells)
	}
	p.Open("/round")
	p.Says("Walking order")
}

// The copy is switched off on the yard's machine: the worker removes itself and the copy, and what was not
// sent is still there and goes.
func TestTheWorkerRemovesItself(t *testing.T) {
	b := newBarn(t)
	p := b.phone(b.yard.Owner)
	b.ready(p)
	b.link.Cut(Refuse)
	enter(p, b.tags[0], "42", "25")
	save(p, b.tags[0])
	records := onPhone(p, "record")
	binary := newBuild(t, "server/web/static/leground.css", func(s string) string { return s })
	off := serve(t, binary, b.site.Where, "-phone-copy", "off")
	b.link.Lead(off.URL)
	b.link.Cut(Pass)
	Eval[bool](p, `navigator.serviceWorker.getRegistration().then((r) => r.update()).then(() => true)`)
	p.Wait(`caches.keys().then((k) => k.length === 0)`)
	p.Open("/round")
	p.Wait(`navigator.serviceWorker.getRegistrations().then((r) => r.length === 0)`)
	sent(p)
	b.same(records, nil)
}
