package web_test

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"leground/server/webtest"
	"leground/testdata/seed"
	"leground/tracker"
)

// state is one page as somebody may meet it.
type state struct {
	name string
	who  string // "owner", "carer" or "" for nobody
	path string
	do   string // a script that leads on to the state, such as sending a form with mistakes
	barn bool
}

// send submits the first form that a selector finds past the browser's own checks, as an old browser or one
// without them would, after setting fields.
func send(selector string, set ...string) string {
	var script strings.Builder
	fmt.Fprintf(&script, "{ const f = document.querySelector(%q); f.noValidate = true;", selector)
	for _, field := range set {
		name, value, _ := strings.Cut(field, "=")
		fmt.Fprintf(&script, "f.elements.namedItem(%q).value = %q;", name, value)
	}
	return script.String() + " HTMLFormElement.prototype.submit.call(f) }"
}

// marlpit is the made-up yard with everything that has a page, and a yard that has nothing yet.
type marlpit struct {
	site         *webtest.Site
	owner, carer *webtest.Person
	states       []state
	tabs         map[string]*webtest.Tab
}

func openMarlpit(t *testing.T, width, height int64) *marlpit {
	t.Helper()
	browser := webtest.StartChromium(t)
	m := &marlpit{site: webtest.Start(t, webtest.Options{Seed: seed.Marlpit}), tabs: map[string]*webtest.Tab{}}
	m.owner = m.site.Seeded()
	m.carer = m.owner.Invites("Cy", "carer")
	for who, p := range map[string]*webtest.Person{"owner": m.owner, "carer": m.carer, "": m.site.Nobody()} {
		m.tabs[who] = browser.Tab(t, m.site, width, height)
		if who != "" {
			m.tabs[who].SignIn(p)
		}
	}
	m.states = m.list(t)
	return m
}

// list names every state, after making what they show: cautions, a form that came twice, invitations.
func (m *marlpit) list(t *testing.T) []state {
	t.Helper()
	round := m.owner.Get("/round")
	var sites, lines []webtest.Form
	for _, f := range round.Forms() {
		switch f.Action {
		case "/round/site":
			sites = append(sites, f)
		case "/round/leg":
			lines = append(lines, f)
		}
	}
	site := sites[0].With("length", "40").With("width", "20").With("exudate", "2").With("pain", "1").With("crust", "1").With("redness", "1").With("danger", "maggots", "not-bearing").WithFile("photo", picture(t, 800, 600))
	m.owner.Send(site).Redirects("/round")
	m.carer.Send(site.With("note", "the other answer")).Is(409)
	m.owner.Send(lines[0].With("filling", "2").With("care", "washed")).Redirects("/round")
	m.owner.Send(lines[1].With("outcome", "skipped").With("skip", "Would not stand")).Redirects("/round")
	invite := m.owner.Send(m.owner.Get("/people").Form("/people/invite").With("note", "Farrier")).Is(200).Link()
	horse := "/horse/" + lines[0].Values.Get("horse")
	var caution string
	for _, a := range m.owner.Get("/").Root().Named("a") {
		if strings.HasPrefix(a.Attr["href"], "/caution/") && caution == "" {
			caution = a.Attr["href"]
		}
	}
	card := func(f webtest.Form) string { // the anchor of the card that a form stands in
		for _, box := range round.Root().Classed("card") {
			for _, r := range box.All(func(e *webtest.Node) bool { return e.Attr["name"] == "record" }) {
				if r.Attr["value"] == f.Values.Get("record") {
					return "/round#" + box.Attr["id"]
				}
			}
		}
		t.Fatal("a form of the round stands in no card")
		return ""
	}
	asksSize := `form:has(input[name=length][data-last])`
	return append(m.vetStates(t, tracker.HorseID(lines[0].Values.Get("horse"))), []state{
		{"board", "owner", "/", "", true}, {"round", "owner", "/round", "", true},
		{"round-wound", "owner", card(sites[1]), "", true}, {"round-last", "owner", card(sites[len(sites)-1]), "", true}, {"round-done-card", "owner", card(sites[0]), "", true},
		{"round-leg", "owner", card(lines[2]), "", true}, {"round-end", "owner", "/round#done", "", true},
		{"card-error", "owner", card(sites[1]), send(asksSize, "length=900", "note=kept"), true},
		{"card-question", "owner", "/round", send(asksSize, "length=390", "width=380"), true},
		{"line-error", "owner", card(lines[2]), send(`form[action="/round/leg"]`), true},
		{"site-error", "owner", "/round", send(`form[action="/sites"]`), true},
		{"horses", "owner", "/horses", "", false}, {"horses-error", "owner", "/horses", send(`form[action="/horses"]`, "name=", "order=LF"), false},
		{"horse", "owner", horse, "", false}, {"horse-error", "owner", horse, send(`form[method=post]:has(#name)`, "name=", "order=LF RF"), false},
		{"leg", "owner", horse + "/leg/RH", "", true}, {"leg-band", "owner", horse + "/leg/LF?view=inside&region=fetlock", "", true},
		{"whole", "owner", horse + "/look", "", true}, {"whole-error", "owner", horse + "/look", send("main form", "temperature=378", "condition=3.3"), true},
		{"horse-older", "owner", horse + "?to=2026-05-01", "", false},
		{"event-error", "owner", horse, send(`form[action="/events"]`, "day=2028-01-01"), false},
		{"caution", "owner", caution, "", true}, {"caution-error", "owner", caution, `document.querySelector("[value=will-ring]").click()`, true},
		{"check-site", "owner", "/check/" + site.Values.Get("record"), "", false}, {"check-leg", "owner", "/check/" + lines[0].Values.Get("record"), "", false},
		{"conflicts", "owner", "/conflicts", "", false}, {"people", "owner", "/people", "", false}, {"people-carer", "carer", "/people", "", false},
		{"invited", "owner", "/people", send(`form[action="/people/invite"]`), false},
		{"rules", "owner", "/rules", "", false}, {"rules-carer", "carer", "/rules", "", false}, {"rules-error", "owner", "/rules", send(`form[action="/rules"]`, "zone=Marlpit", "order=LF"), false},
		{"more", "owner", "/more", "", false}, {"not-found", "owner", "/horse/none", "", false}, {"not-allowed", "carer", "/no/such/page", "", false},
		{"sign-in", "", "/sign-in", "", false}, {"sign-in-error", "", "/sign-in", send("main form", "email=ada@marlpit.example", "password=not the password"), false},
		{"signed-out", "", "/sign-in", `{const f = Object.assign(document.createElement("form"), {method: "post", action: "/round/leg"}); f.append(Object.assign(document.createElement("input"), {name: "note", value: "kept"})); document.body.append(f); f.submit()}`, false},
		{"invitation", "", invite, "", false}, {"invitation-error", "", invite, send("main form", "email=ada"), false},
	}...)
}

// open goes to a state.
func (m *marlpit) open(t *testing.T, s state) *webtest.Tab {
	t.Helper()
	tab := m.tabs[s.who].In(t)
	tab.Open("/healthz") // so that a place on the same page is a new page too
	tab.Open(s.path)
	if strings.HasPrefix(s.path, "/round") {
		tab.Until(`document.querySelectorAll("#cards article:not([hidden])").length <= 1`) // the script has taken over
	}
	if s.do != "" {
		tab.Leads(s.do)
	}
	return tab
}

// violation is one fault that axe found.
type violation struct {
	ID    string
	Help  string
	Nodes []struct {
		Target []string
		HTML   string
	}
}

// axeFinds runs axe-core in the page and gives what is wrong.
func axeFinds(tab *webtest.Tab, source, rules string) []violation {
	tab.TB.Helper()
	if !webtest.Eval[bool](tab, `typeof axe === "object"`) {
		webtest.Eval[int](tab, source+"; 1")
	}
	run := `axe.run(document, {runOnly: ` + rules + `, resultTypes: ["violations"]}).then(r =>
		JSON.stringify(r.violations.map(v => ({ID: v.id, Help: v.help, Nodes: v.nodes.slice(0, 4).map(n => ({Target: n.target.map(String), HTML: n.html.slice(0, 200)}))}))))`
	var out []violation
	if err := json.Unmarshal([]byte(webtest.Eval[string](tab, run)), &out); err != nil {
		tab.TB.Fatal(err)
	}
	return out
}

// What axe looks for: everything, and what can change with the light alone.
const (
	allRules   = `["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]`
	lightRules = `{type: "rule", values: ["color-contrast", "link-in-text-block", "target-size"]}`
)

func axeSource(t *testing.T) string {
	t.Helper()
	source, err := os.ReadFile(filepath.Join("..", "..", "testdata", "axe", "axe.min.js"))
	if err != nil {
		t.Fatal(err)
	}
	return string(source)
}

// Every page in every state, in three lights, at 320 px with everything unfolded and at 1280 px as it opens,
// has no fault that axe-core 4.14.1 (an outside judge of WCAG 2.2 AA and good practice) can find.
func TestNoAccessibilityFaults(t *testing.T) {
	source := axeSource(t)
	m := openMarlpit(t, 1280, 900)
	for _, s := range m.states {
		t.Run(s.name, func(t *testing.T) {
			tab := m.open(t, s)
			found := map[string]bool{} // said once, with the first light and width that has it
			for _, width := range []int64{1280, 320} {
				tab.Resize(width, 590) // under 600 px no bar covers anything
				if width == 320 {
					webtest.Eval[int](tab, `document.querySelectorAll("details").forEach(d => { if (!d.firstElementChild.hidden) d.open = true }), 1`)
				}
				for light, rules := range map[string]string{"day": allRules, "noon": lightRules, "lantern": lightRules} {
					webtest.Eval[string](tab, fmt.Sprintf(`document.documentElement.dataset.light = %q`, light))
					for _, v := range axeFinds(tab, source, rules) {
						if found[v.ID] {
							continue
						}
						found[v.ID] = true
						t.Errorf("%s, %d px, %s: %s (%s): %+v", s.path, width, light, v.ID, v.Help, v.Nodes)
					}
				}
			}
		})
	}
}

// The judge is awake: it finds the faults of a page that has some.
func TestAxeFindsFaults(t *testing.T) {
	source := axeSource(t)
	m := openMarlpit(t, 360, 740)
	tab := m.open(t, state{path: "/sign-in"})
	webtest.Eval[int](tab, `document.querySelector("label").remove(), document.querySelector("h1").style.color = "#eee", document.documentElement.removeAttribute("lang"), 1`)
	found := map[string]bool{}
	for _, v := range axeFinds(tab, source, allRules) {
		found[v.ID] = true
	}
	for _, id := range []string{"label", "html-has-lang"} {
		if !found[id] {
			t.Errorf("axe did not find %s: %v", id, found)
		}
	}
}

// measured is what a page's controls and width come to.
type measured struct {
	Wide   float64
	Faults []string
}

// measure looks at every control that can be seen: in the barn the bar is 76 px high and as wide as the page
// less its margins, everything else at least 72 by 76; at the table 44 by 44. Links in a line of words are
// held to 24 px, as WCAG 2.2 (2.5.8) does.
const measureScript = `(barn => {
	const faults = [], wide = document.documentElement.scrollWidth, view = innerWidth;
	const seen = e => e.checkVisibility({checkVisibilityCSS: true, checkOpacity: false}) && e.getBoundingClientRect().width > 0;
	for (const e of document.querySelectorAll("main a[href], main button, main input:not([type=hidden]), main select, main textarea, main summary, header button, header a, .phone-bar a, .column a")) {
		let box = e;
		if (e.matches("input[type=radio], input[type=checkbox], input[type=file]")) box = e.closest("label, .danger") || e;
		if (!seen(box)) continue;
		const r = box.getBoundingClientRect();
		const words = (e.closest("label") || e).textContent.trim().slice(0, 40) || e.name || e.id;
		let high = 44, least = 44;
		if (barn) [high, least] = [72, 76];
		if (e.matches(".ring")) [high, least] = [76, 200];
		if (e.matches(".main-bar")) [high, least] = [76, barn ? Math.min(view, 480) - 32 - 1 : 44];
		if (e.closest("svg") || e.tagName === "A" && !e.className && !e.closest("nav")) [high, least] = [24, 24]; // in a line of words, or a drawing
		if (r.height < high - 0.5 || r.width < least - 0.5) faults.push(e.tagName.toLowerCase() + " " + JSON.stringify(words) + " is " + Math.round(r.width) + " x " + Math.round(r.height) + ", want " + least + " x " + high);
		if (r.right > view + 0.5 && !e.closest(".scroll")) faults.push(e.tagName.toLowerCase() + " " + JSON.stringify(words) + " stands out to the right: " + Math.round(r.right));
	}
	return {Wide: wide, Faults: faults};
})`

// At every width from 320 to 1280 px no page scrolls sideways, and every control is large enough for where it
// is used (sizes: the project's own, from published studies of touch with wet or gloved hands).
func TestSizes(t *testing.T) {
	m := openMarlpit(t, 320, 640)
	for _, s := range m.states {
		t.Run(s.name, func(t *testing.T) {
			tab := m.open(t, s)
			webtest.Eval[int](tab, `document.querySelectorAll("details").forEach(d => { if (!d.firstElementChild.hidden) d.open = true }), 1`)
			for _, width := range []int64{320, 360, 412, 768, 1280} {
				tab.Resize(width, 640)
				got := webtest.Eval[measured](tab, measureScript+fmt.Sprintf("(%v)", s.barn))
				if got.Wide > float64(width) {
					t.Errorf("%s at %d px is %v wide", s.path, width, got.Wide)
				}
				for _, fault := range got.Faults {
					t.Errorf("%s at %d px: %s", s.path, width, fault)
				}
			}
		})
	}
}

// Pictures of every state for people to look at, when LEGROUND_SHOTS names a folder.
func TestPictures(t *testing.T) {
	if os.Getenv("LEGROUND_SHOTS") == "" {
		t.Skip("LEGROUND_SHOTS names no folder")
	}
	m := openMarlpit(t, 360, 740)
	for _, s := range m.states {
		tab := m.open(t, s)
		for _, width := range []int64{360, 1280} {
			tab.Resize(width, 590) // under 600 px no bar floats
			for _, light := range []string{"day", "noon", "lantern"} {
				webtest.Eval[string](tab, fmt.Sprintf(`document.documentElement.dataset.light = %q`, light))
				tab.Shot(fmt.Sprintf("%s-%d-%s", s.name, width, light))
			}
		}
	}
}
