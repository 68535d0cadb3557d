package web_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"leground/server/webtest"
)

// plannedYard is a yard at work: three horses with five plans, a medicine, a wash that Stores can mix, the farrier
// on Saturday, and a horse that goes away.
func plannedYard(t *testing.T, site *webtest.Site) (yard *webtest.Yard, plan, dose string) {
	t.Helper()
	yard = site.Marl()
	concentrate(yard, "2% w/v")
	plan = setPlan(yard, planFor(yard))
	setSteps(yard, yard.Bramble, "vet", "site="+string(yard.Patch), "s1_kind=wash", "s1_of=povidone-iodine", "s1_strength=0.1 g per 100 mL", "s1_minutes=5", "s1_rinse=1", "s1_p1_often=1",
		"s2_kind=dry", "s2_p1_often=1", "s2_p1_every=1", "s3_kind=apply", "s3_of=barrier cream", "s3_amount=2 g", "s3_p1_often=some", "s3_p1_at=evening", "s3_p1_every=1")
	setSteps(yard, yard.Bramble, "owner", "whole=1", "s1_kind=walk", "s1_minutes=10", "s1_p1_often=2", "s2_kind=weigh", "s2_p1_often=1", "s2_p1_every=7", "s3_kind=trim", "s3_p1_often=1", "s3_p1_every=28")
	setSteps(yard, yard.OldTom, "owner", "site="+string(yard.Small), "s1_kind=wash", "s1_of=boiled and cooled water", "s1_p1_often=2", "s2_kind=dry", "s2_p1_often=2", "s2_p1_every=1")
	dose = setSteps(yard, yard.OldTom, "vet", "whole=1", "s1_kind=give", "s1_of=Paste B", "s1_label=100 mg/mL", "s1_per_kg=5", "s1_weight=740", "s1_max_per_kg=5", "s1_p1_often=2", "s1_p1_until=days", "s1_p1_count=5")
	due := yard.Carer.Get("/due")
	yard.Carer.Send(due.Form("/due/once").With("kind", "farrier").With("horse", string(yard.OldTom)).With("day", "2026-05-16").With("at", "15:00")).Redirects("/due")
	yard.Carer.Send(due.Form("/away").With("horse", string(yard.Junip)).With("from", "2026-05-17")).Redirects("/due")
	yard.Carer.Send(yard.Carer.Line(yard.Bramble, "RF").With("care", "washed")).Redirects("/round?saved=")
	return yard, plan, dose
}

// Every page of plans and of what is due, with its errors, at two widths: nothing that axe-core finds, nothing wider
// than the screen, and controls as large as their density asks for.
func TestPlanPagesInABrowser(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard, plan, dose := plannedYard(t, site)
	horse := "/horse/" + string(yard.Bramble) + "/plan"
	tom := "/horse/" + string(yard.OldTom)
	yard.Carer.Send(yard.Carer.Get(tom+"/look").Form(tom+"/look").With("weight", "372")).Redirects(tom)
	tab := webtest.StartChromium(t).Tab(t, site, 360, 740)
	tab.SignIn(yard.Owner)
	for _, width := range []int64{360, 1280} {
		for name, path := range map[string]string{"plans": horse, "plan": "/plan/" + plan, "plan-change": "/plan/" + plan + "/change", "plan-dose": "/plan/" + dose + "/change", "plan-new": horse + "/new",
			"due": "/due", "due-empty": "/due?day=2026-04-20", "week-sheet": "/due/week", "board-due": "/", "round-asks": "/round"} {
			tab.Resize(width, 800)
			tab.Open(path)
			lookAt(t, tab, name, width)
		}
		tab.Open("/plan/" + plan + "/change")
		tab.Click(`button[value="look"]`)
		lookAt(t, tab, "plan-preview", width)
		tab.Open(horse + "/new")
		tab.Click(`button[value="look"]`)
		lookAt(t, tab, "plan-error", width)
		tab.Open("/plan/" + dose + "/change")
		webtest.Eval[bool](tab, `document.querySelector("[name=source][value=vet]").checked = true`)
		webtest.Eval[string](tab, `document.getElementById("set_name").value = "Marl vets"`)
		webtest.Eval[string](tab, `document.getElementById("s1_weight").value = "700"`)
		tab.Click(`button[value="look"]`)
		lookAt(t, tab, "plan-weight-asked", width)
		tab.Open("/due")
		webtest.Eval[bool](tab, `document.querySelector("form[action='/away']").closest("details").open = true`)
		webtest.Eval[string](tab, `document.getElementById("away-from").value = "2026-05-15"`)
		tab.Click(`form[action="/away"] button`)
		lookAt(t, tab, "due-known-asked", width)
		if tick := webtest.Eval[bool](tab, `!!document.querySelector("[name=known]")`); !tick {
			t.Error("what falls out is not asked about")
		}
	}
	tab.SignIn(yard.Carer)
	for _, width := range []int64{360, 1280} {
		tab.Resize(width, 800)
		tab.Open("/plan/" + dose)
		lookAt(t, tab, "plan-read-blind", width)
	}
}

func lookAt(t *testing.T, tab *webtest.Tab, name string, width int64) {
	t.Helper()
	tab.Shot(fmt.Sprintf("%s-%d", name, width))
	webtest.Eval[bool](tab, `document.querySelectorAll('details').forEach((d) => { if (!d.firstElementChild.hidden) d.open = true }), true`)
	tab.Resize(width, int64(webtest.Eval[int](tab, `document.documentElement.scrollHeight`)))
	if found := axe(tab); found != "" {
		t.Errorf("%s, %d px: axe finds\n%s", name, width, found)
	}
	if wide := webtest.Eval[int](tab, `document.documentElement.scrollWidth`); int64(wide) > width {
		t.Errorf("%s is %d px wide on a screen of %d", name, wide, width)
	}
	if small := webtest.Eval[string](tab, smallControls); small != "" {
		t.Errorf("%s, %d px: too small:\n%s", name, width, small)
	}
	tab.Resize(width, 800)
}

// The form of a plan works where scripts are off, and shows the fields of the chosen step alone.
func TestPlanFormWithoutScripts(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	tab := webtest.StartChromium(t).Tab(t, site, 360, 740)
	tab.SignIn(yard.Owner)
	tab.Scripts(false)
	tab.Open("/horse/" + string(yard.Bramble) + "/plan/new")
	shown := func(field string) bool {
		return webtest.Eval[bool](tab, fmt.Sprintf(`document.getElementById(%q).getBoundingClientRect().height > 0`, field))
	}
	for kind, want := range map[string][3]bool{"wash": {true, false, true}, "give": {false, true, false}, "apply": {false, false, true}, "dry": {}} {
		webtest.Eval[string](tab, fmt.Sprintf(`document.getElementById("s1_kind").value = %q`, kind))
		if got := [3]bool{shown("s1_strength"), shown("s1_per_kg"), shown("s1_amount")}; got != want {
			t.Errorf("a step of kind %s shows strength, amount per kg and amount: %v, want %v", kind, got, want)
		}
	}
	webtest.Eval[string](tab, `document.getElementById("s1_kind").value = "walk"`)
	webtest.Eval[bool](tab, `document.querySelector("[name=source][value=owner]").checked = true`)
	webtest.Eval[bool](tab, `document.querySelector("[name=whole]").checked = true`)
	tab.Click(`button[value="look"]`)
	tab.Click(`button[value="keep"]`)
	yard.Owner.Get("/horse/"+string(yard.Bramble)+"/plan").Says("Walk", "once a day until the vet says")
}

// The sheet for the wall prints on one page of A4 and of Letter, with every line and no control.
func TestWeekSheetPrintsOnOnePage(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard, _, _ := plannedYard(t, site)
	tab := webtest.StartChromium(t).Tab(t, site, 1280, 800)
	tab.SignIn(yard.Carer)
	for paper, size := range map[string][2]float64{"A4": {8.27, 11.69}, "Letter": {8.5, 11}} {
		tab.Open("/due/week")
		var pdf []byte
		tab.Do(chromedp.Func(func(ctx context.Context, _ *chromedp.Target) error {
			made, err := chromedp.Call(ctx, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: size[0], PaperHeight: size[1]})
			pdf = made.Data
			return err
		}))
		file := filepath.Join(t.TempDir(), paper+".pdf")
		if shots := os.Getenv("LEGROUND_SHOTS"); shots != "" {
			file = filepath.Join(shots, "week-sheet-"+paper+".pdf")
		}
		if err := os.WriteFile(file, pdf, 0o644); err != nil {
			t.Fatal(err)
		}
		if info := tool(t, "pdfinfo", file); !strings.Contains(info, "Pages:           1\n") {
			t.Errorf("%s:\n%s", paper, info)
		}
		text := strings.Join(strings.Fields(tool(t, "pdftotext", "-layout", file, "-")), " ")
		for _, words := range []string{"Bramble", "Old Tom", "Juniper", "barrier cream", "Walk for 10", "Weigh", "Trim the feet", "Paste B: the amount is hidden", "01234 000000", "15:00: Old Tom"} {
			if !strings.Contains(text, words) {
				t.Errorf("%s does not say %q:\n%s", paper, words, text)
			}
		}
		for _, words := range []string{"Light:", "For the wall", "Sign out"} {
			if strings.Contains(text, words) {
				t.Errorf("%s prints %q", paper, words)
			}
		}
	}
}
