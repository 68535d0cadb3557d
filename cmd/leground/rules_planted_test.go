package main_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// planted are small repositories with one breach each: what must be found, and by which rule. One that
// finds nothing shows what a rule must let pass.
var planted = []struct{ rule, path, text, want string }{
	{"top level names", "Makefile", "all:", "Makefile: nothing but"},
	{"top level names", "deploy/Dockerfile", "FROM scratch", ""},

	{"imports", "tracker/a.go", `import "leground/notify"`, "tracker may not know notify"},
	{"imports", "tracker/mixing/a.go", `import "leground/tracker/healing"`, "tracker/mixing may not know tracker/healing"},
	{"imports", "tracker/cautions/a.go", `import "leground/tracker/healing"`, ""},
	{"imports", "tracker/care/a.go", `import "leground/tracker/store"`, "tracker/care may not know tracker/store"},
	{"imports", "server/web/a.go", `import _ "leground/notify"`, "server/web may not know notify"},
	{"imports", "server/build.go", `import "leground/notify/email"`, ""},
	{"imports", "notify/email/a.go", `import "leground/tracker/care"`, "notify/email may not know tracker/care"},
	{"imports", "server/a.go", `import "leground/tracker/store/storetest"`, "is for tests only"},
	{"imports", "server/a_test.go", `import "leground/tracker/store/storetest"`, ""},
	{"imports", "tracker/store/storetest/a.go", `import "leground/tracker/care"`, ""},
	{"imports", "attic/a.go", ``, "package attic is not in mayImport"},
	{"imports", "tracker/a.go", `import "context"`, "tracker sees values only and may not import context"},
	{"imports", "tracker/healing/a.go", `import "math/rand/v2"`, "may not import math/rand/v2"},
	{"imports", "tracker/healing/a.go", `import "math/big"`, ""},
	{"imports", "server/web/a.go", `import "github.com/jackc/pgx/v5/pgconn"`, "belongs in tracker/store only"},
	{"imports", "tracker/care/a.go", `import "database/sql"`, "belongs in migrations tracker/store only"},

	{"wall clock", "tracker/care/a.go", "import \"time\"\nvar now = time.Now", "time.Now: now is an argument"},
	{"wall clock", "tracker/care/a.go", "import t \"time\"\nfunc f(at t.Time) t.Duration { return t.Since(at) }", "time.Since"},
	{"wall clock", "server/web/log.go", "import \"time\"\nfunc f() { time.Now() }", ""},
	{"wall clock", "tracker/care/a_test.go", "import \"time\"\nfunc f() { time.Now() }", ""},

	{"sizes", "tracker/a.go", strings.Repeat("\n", 501), "split the file before 500"},
	{"sizes", "tracker/a.go", "func f() {" + strings.Repeat("\n", 69) + "}", ""},
	{"sizes", "tracker/a.go", "func f() {" + strings.Repeat("\n", 70) + "}", "f has 71 lines; at most 70"},
	{"sizes", "tracker/a_test.go", strings.Repeat("\n", 501), ""},

	{"doc comments", "tracker/b.go", "package other // in the way of the planted comment", "has no comment that starts"},
	{"doc comments", "tracker/a.go", "type Horse struct{}", "Horse has no doc comment"},
	{"doc comments", "tracker/a.go", "const Legs = 4", "Legs has no doc comment"},
	{"doc comments", "tracker/a.go", "const Legs = 4 // of a horse", ""},
	{"doc comments", "tracker/a.go", "type horse struct{}\nfunc (h *horse) Name() string { return \"\" }", ""},
	{"doc comments", "tracker/a.go", "// Horse is one.\ntype Horse struct{}\nfunc (h *Horse) Name() string { return \"\" }", "Name has no doc comment"},

	{"exact amounts", "tracker/mixing/a.go", "type amount float64", "float64 is floating point"},
	{"exact amounts", "tracker/mixing/a.go", "const half = 0.5", "0.5 is a floating point number"},
	{"exact amounts", "tracker/mixing/a.go", "import \"strconv\"\nfunc f(s string) { strconv.ParseFloat(s, 64) }", "ParseFloat is floating point"},
	{"exact amounts", "tracker/mixing/a.go", "import \"math/big\"\nfunc f(r *big.Rat) { _, _ = r.Float64() }", "Float64 is floating point"},
	{"exact amounts", "tracker/mixing/a.go", "import \"math\"\nfunc f() { _ = math.Pi }", "package math is floating point"},
	{"exact amounts", "tracker/healing/a.go", "const half = 0.5", ""},

	{"no package state", "tracker/a.go", "func init() {}", "init: do it where the program starts"},
	{"no package state", "tracker/a.go", "var count int", "count has no value"},
	{"no package state", "tracker/a.go", "//go:embed words.txt\nvar words string", ""},
	{"no package state", "tracker/a.go", "var seen = make(map[string]bool)", "seen is made empty"},
	{"no package state", "tracker/a.go", "import \"sync\"\nvar mu = sync.Mutex{}", "mu can change"},
	{"no package state", "tracker/a.go", "var legs = []string{\"LF\"}\nfunc f() { legs[0] = \"RF\" }", "f changes the package variable legs"},
	{"no package state", "tracker/a.go", "var legs = []string{\"LF\"}\nfunc f() { legs = append(legs, \"RF\") }", "f changes the package variable legs"},
	{"no package state", "tracker/a.go", "var legs = 1\nfunc f() { legs++ }", "f changes the package variable legs"},
	{"no package state", "tracker/a.go", "var legs = map[int]int{}\nfunc f() { delete(legs, 1) }", "f changes the package variable legs"},
	{"no package state", "tracker/a.go", "var legs = 1\nfunc g(*int) {}\nfunc f() { g(&legs) }", "f changes the package variable legs"},
	{"no package state", "tracker/a.go", "var legs = []string{\"LF\"}\nfunc f() string { legs := legs[0]; return legs }", ""},
	{"no package state", "tracker/a.go", "var legs = []string{\"LF\"}\nfunc f() string { return legs[0] }", ""},
	{"no package state", "tracker/a.go", "var _ error = (*int)(nil)\nfunc f() { _ = 1 }", ""},

	{"words in files", "README.md", "cd /wo" + "rk/main", "a path of one machine"},
	{"words in files", "README.md", "see ../sha" + "red/x", "a path outside the repository"},
	{"words in files", "deploy/x.sh", "GOPROXY=https://proxy.gol" + "ang.org", "a package registry's host"},
	{"words in files", "deploy/x.sh", "https://registry.npmj" + "s.org/x", "a package registry's host"},
	{"words in files", "tracker/a.go", "// As legs.m" + "d says.", "a page that is not in this repository"},
	{"words in files", "DEVELOPERS.md", "(design/screens.m" + "d)", "a page that is not in this repository"},
	{"words in files", "tracker/a.go", "// TO" + "DO: more", "work left undone"},
	{"words in files", "README.md", "frame/work/home, DEVELOPERS.md, golang.org/x/text", ""},

	{"templates", "server/web/templates/a.html", "<p>1:40 in water", "a colon ratio"},
	{"templates", "server/web/templates/a.html", "<p>at 11:40 and 21:05", ""},
	{"templates", "server/web/templates/a.html", "<p>{{.Amount}} ml", "the unit is written mL"},
	{"templates", "server/web/templates/a.html", `<input name="volume_ml" value="{{.Volume}}"> mL`, ""},
	{"templates", "server/web/templates/a.html", "<script>alert(1)</script>", "an inline script"},
	{"templates", "server/web/templates/a.html", `<script src="/static/round.js" defer></script>`, ""},
	{"templates", "server/web/templates/a.html", `<p style="color:red">`, "an inline style"},
	{"templates", "server/web/templates/a.html", `<button onclick="x()">`, "an inline style or handler"},
	{"templates", "notify/templates/a.html", `<p style="color:red">`, ""}, // mail readers know no other way
	{"templates", "server/web/a.go", `const draw = "draw up %s ml"`, "the unit is written mL"},
}

func TestEveryRuleCatchesItsFault(t *testing.T) {
	caught := map[string]bool{}
	for i, p := range planted {
		t.Run(fmt.Sprintf("%d %s", i, p.rule), func(t *testing.T) {
			text := p.text
			if name := strings.Split(p.path, "/"); strings.HasSuffix(p.path, ".go") && !strings.HasPrefix(text, "package ") {
				pkg := name[len(name)-2]
				text = "// Package " + pkg + " is planted.\npackage " + pkg + "\n" + text
			}
			h, err := build(map[string]string{p.path: text})
			if err != nil {
				t.Fatal(err)
			}
			i := slices.IndexFunc(rules, func(r rule) bool { return r.name == p.rule })
			rules[i].check(h)
			got := strings.Join(h.findings, "\n")
			if p.want == "" && got != "" || !strings.Contains(got, p.want) {
				t.Errorf("in %s\n%s\nwant %q, found %q", p.path, text, p.want, got)
			}
			caught[p.rule] = caught[p.rule] || p.want != ""
		})
	}
	for _, r := range rules {
		if !caught[r.name] {
			t.Errorf("no fault is planted for the rule on %s", r.name)
		}
	}
}
