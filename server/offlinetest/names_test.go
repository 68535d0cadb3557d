package offlinetest

import (
	"context"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/accessibility"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"leground/server/webtest"
	"leground/testdata/seed"
)

var update = flag.Bool("update", false, "write the golden files anew")

// spoken gives what a screen reader is told of a part of the page, a line each: role, name, description, value.
func (p *Phone) spoken(selector string) string {
	p.TB.Helper()
	ctx, cancel := context.WithTimeout(p.context, within)
	defer cancel()
	var nodes []*accessibility.Node
	err := chromedp.Do(ctx, chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
		found, err := chromedp.Call(ctx, runtime.Evaluate, runtime.EvaluateParams{Expression: `document.querySelector(` + quote(selector) + `)`})
		if err != nil {
			return err
		}
		got, err := chromedp.Call(ctx, accessibility.QueryAXTree, accessibility.QueryAXTreeParams{ObjectID: found.Result.ObjectID})
		nodes = got.Nodes
		return err
	}))
	if err != nil {
		p.TB.Fatal(err)
	}
	text := func(v *accessibility.Value) string {
		if v == nil {
			return ""
		}
		var words string
		if json.Unmarshal(v.Value, &words) != nil {
			return string(v.Value) // a number
		}
		return strings.ReplaceAll(words, "\n", " ")
	}
	var out strings.Builder
	last := ""
	for _, n := range nodes {
		role := text(n.Role)
		if n.Ignored || slices.Contains([]string{"generic", "none", "InlineTextBox", "ListMarker", "LineBreak", "MenuListPopup", "paragraph", "LabelText", "strong", "Legend", "listitem", "list"}, role) {
			continue
		}
		if role == "StaticText" && strings.TrimSpace(text(n.Name)) == last {
			continue // the words of the control before it
		}
		last = text(n.Name)
		out.WriteString(strings.TrimRight(strings.Join([]string{role, text(n.Name), text(n.Description), text(n.Value)}, " | "), " |") + "\n")
	}
	return out.String()
}

// golden holds a text against a file of testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name+".txt")
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s is now:\n%s\nand was:\n%s\n(go test -run %s -update, then read the difference)", file, got, want, t.Name())
	}
}

// A37: what a screen reader is told of a site card, of the pad and of a worked mix, as it was when somebody last
// read it through. A size is said with its unit as a word; amounts of a mix are said as written, "5 mL", since that is
// how they stand on the syringe.
func TestA37Names(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	yard.Owner.Looks(yard.Wound, "42", "25")
	site.Clock.Add(24 * time.Hour)
	p := NewPhone(t, NewLink(t, site.URL))
	p.ClockAhead(time.Until(site.Clock.Now()))
	p.SignIn(yard.Owner)
	p.Open("/round")
	goTo(p, "Bramble RF 1")
	golden(t, "names-card", p.spoken(card("Bramble RF 1")))
	p.Tap(card("Bramble RF 1") + ` .stepper button[value="5"]`)
	p.Wait(`document.getElementById('spoken').textContent === '47 millimetres'`)
	p.Tap(card("Bramble RF 1") + " .type")
	golden(t, "names-pad", p.spoken("#pad"))

	made := webtest.Start(t, webtest.Options{Seed: seed.Marlpit})
	p = NewPhone(t, NewLink(t, made.URL))
	p.ClockAhead(time.Until(made.Clock.Now()))
	p.SignIn(made.Seeded())
	p.Open("/mix")
	p.Tap(`main section a.button[href^="/mix?"]`)
	p.Wait(`location.search && document.querySelector('input[name=says]')`)
	p.Tap(`input[name=says]`)
	p.Tap(`input[name=make][value="1 L"], input[name=make]`)
	p.Tap(`.save-bar .main-bar`)
	p.Wait(`document.querySelector('ol.do')`)
	golden(t, "names-mix", p.spoken(`.step:has(ol.do)`))
}

// A13 for mixing: with no signal the page for mixing opens and shows the worked amounts of each plan, and how old
// they are; a mix of any other kind says that it needs signal.
func TestA13MixWithNoSignal(t *testing.T) {
	noon := time.Now().UTC().Truncate(24 * time.Hour).Add(12 * time.Hour) // a worker's clock cannot be set
	site := webtest.Start(t, webtest.Options{Seed: seed.Marlpit, Now: noon})
	link := NewLink(t, site.URL)
	p := NewPhone(t, link)
	p.ClockAhead(time.Until(noon))
	p.SignIn(site.Seeded())
	p.Open("/round")
	p.Wait(`navigator.serviceWorker.controller && leground.get('note', 'filled')`)
	page := site.Seeded().Get("/mix")
	link.Cut(Refuse)
	p.Open("/mix")
	Eval[bool](p, `(document.querySelectorAll('.asked details').forEach((d) => { d.open = true; }), true)`)
	p.Shot("mix-offline-360")
	amounts := 0
	for _, e := range page.Root().Classed("asked") {
		for _, words := range e.Named("p") {
			if text := words.Text(); text != "" && !strings.HasPrefix(text, "Mix it") {
				amounts++
				p.Says(text)
			}
		}
	}
	if amounts < 2 {
		t.Errorf("only %d lines stand under the plans", amounts)
	}
	p.Says("As of")
	p.Tap(`main section a.button[href^="/mix?"]`)
	p.Says("needs signal")
}
