package main_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The house rules. Who may know whom, in direct imports of this module's packages; server knows all.
// Packages whose name ends in "test" hold helpers for tests: they may know anybody, and only tests know them.
var mayImport = map[string]string{
	"cmd/leground":       "server tracker tracker/care tracker/cautions tracker/healing tracker/mixing tracker/rounds notify/email testdata/seed",
	"server":             "*",
	"server/web":         "server/web/draw server/web/picture server/web/sheet tracker tracker/care tracker/healing tracker/cautions tracker/mixing tracker/rounds",
	"server/web/draw":    "tracker tracker/healing", // pure drawing: values in, SVG out
	"server/web/sheet":   "",                        // the vet sheet on paper: values in, PDF out
	"server/web/picture": "tracker",                 // posted photos: checked, turned upright, made small
	"server/worker":      "tracker tracker/care notify",
	"tracker":            "",
	"tracker/healing":    "tracker",
	"tracker/cautions":   "tracker tracker/healing",
	"tracker/mixing":     "tracker",
	"tracker/rounds":     "tracker",
	"tracker/care":       "tracker tracker/healing tracker/cautions tracker/mixing tracker/rounds",
	"tracker/store":      "tracker tracker/care migrations",
	"notify":             "tracker",
	"notify/email":       "notify tracker",
	"notify/push":        "notify tracker",
	"notify/webhook":     "notify tracker",
	"notify/calendar":    "notify tracker",
	"migrations":         "",
	"testdata/seed":      "server/web/picture tracker tracker/care tracker/mixing", // the made-up yard, played through care
}

// pure packages see values only: no context, no I/O, no SQL, no randomness, no logging.
var pure = strings.Fields("tracker tracker/healing tracker/cautions tracker/mixing tracker/rounds")

// pureImports are all they may import from outside the module.
var pureImports = strings.Fields("cmp encoding/json errors fmt iter maps math math/big slices sort strconv strings time unicode unicode/utf8")

// livesIn says which packages may import something that has one home; a key stands for all below it too.
var livesIn = map[string]string{
	"database/sql":                        "migrations tracker/store",
	"modernc.org/sqlite":                  "tracker/store",
	"github.com/jackc/pgx/v5":             "tracker/store",
	"net/http":                            "cmd/leground server server/web notify notify/email notify/push notify/webhook notify/calendar",
	"github.com/go-chi/chi/v5":            "server server/web",
	"github.com/robfig/cron/v3":           "server/worker",
	"github.com/emersion":                 "notify notify/email",
	"github.com/SherClockHolmes":          "notify/push",
	"github.com/arran4/golang-ical":       "notify/calendar",
	"github.com/urfave/cli/v3":            "cmd/leground",
	"github.com/prometheus/client_golang": "server server/web",
	"codeberg.org/go-pdf/fpdf":            "server/web/sheet",
}

var topLevel = strings.Fields("cmd server tracker notify migrations testdata deploy go.mod go.sum README.md DEVELOPERS.md .ci .gitignore .gitattributes .golangci.yml")

const (
	maxFile = 500 // lines
	maxFunc = 70
)

// banned holds what no committed file may say. The patterns are put together from pieces, so that this
// file does not hold them.
var banned = []struct {
	pattern *regexp.Regexp
	why     string
}{

	{pieces(`(^|[^\w./-])/wo`, `rk/`), "a path of one machine"},
	{pieces(`\.\./sha`, `red`), "a path outside the repository"},
	{pieces(`(^|[^\w./-])/tmp/br`, `ief`), "a path of one machine"},
	{pieces(`\b(proxy|sum)\.gol`, `ang\.org`), "a package registry's host"},
	{pieces(`\bnpmj`, `s\.(org|com)`), "a package registry's host"},
	{pieces(`\b(deb|security|snapshot)\.deb`, `ian\.org`), "a package registry's host"},
	{pieces(`\b(pyp`, `i\.org|crates\.i`, `o|docker\.i`, `o|ghcr\.i`, `o|quay\.i`, `o|rubygems\.o`, `rg)\b`), "a package registry's host"},
	{pieces(`(^|[^\w-])(architecture|healing|legs|libraries|mixing|models|photo|product|reminders|screens|trust)\.m`, `d\b`), "a page that is not in this repository"},
	{regexp.MustCompile(`\b(TO` + `DO|FIX` + `ME)\b`), "work left undone: do it, or file it as an issue"},
}

// inTemplates holds what a page or message may not say or do, and the folder that this is about.
var inTemplates = []struct {
	where   string
	pattern *regexp.Regexp
	why     string
}{

	{"", regexp.MustCompile(`(^|[^\d:])1 ?: ?\d+\b`), "a colon ratio: say how much in how much"},
	{"", regexp.MustCompile(`(^|[^\w.$-])(ml|cc)\b`), "the unit is written mL"},
	{"server/", regexp.MustCompile(`<script(\s[^>]*)?>\s*[^\s<]`), "an inline script, which the content security policy blocks"},
	{"server/", regexp.MustCompile(`<[^>]*\s(style|on[a-z]+)=`), "an inline style or handler, which the content security policy blocks"},
}

// spokenUnit finds a wrong unit beside a number in Go's strings.
var spokenUnit = regexp.MustCompile(`(\d|%[a-z]) ?(ml|cc)\b`)

func pieces(p ...string) *regexp.Regexp { return regexp.MustCompile("(?i)" + strings.Join(p, "")) }

// rules are run over the repository by TestHouseRules and over planted faults by TestEveryRuleCatchesItsFault.
var rules = []rule{
	{"top level names", (*house).checkTopLevel},
	{"imports", (*house).checkImports},
	{"wall clock", (*house).checkClock},
	{"sizes", (*house).checkSizes},
	{"doc comments", (*house).checkDocs},
	{"exact amounts", (*house).checkFloats},
	{"no package state", (*house).checkState},
	{"words in files", (*house).checkWords},
	{"templates", (*house).checkTemplates},
}

type rule struct {
	name  string
	check func(*house)
}

// house is the repository, or a planted one: its files by path, the Go ones parsed.
type house struct {
	texts    map[string]string
	fset     *token.FileSet
	sources  []source
	findings []string
}

type source struct {
	path, pkg string // pkg is the folder
	test      bool   // a _test.go file
	file      *ast.File
}

func build(texts map[string]string) (*house, error) {
	h := &house{texts: texts, fset: token.NewFileSet()}
	for _, name := range h.paths() {
		if !strings.HasSuffix(name, ".go") {
			continue
		}
		file, err := parser.ParseFile(h.fset, name, texts[name], parser.ParseComments)
		if err != nil {
			return nil, err
		}
		h.sources = append(h.sources, source{name, path.Dir(name), strings.HasSuffix(name, "_test.go"), file})
	}
	return h, nil
}

func (h *house) paths() []string {
	var names []string
	for name := range h.texts {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// found notes a breach at a place in a Go file.
func (h *house) found(at token.Pos, format string, args ...any) {
	p := h.fset.Position(at)
	h.findings = append(h.findings, fmt.Sprintf("%s:%d: ", p.Filename, p.Line)+fmt.Sprintf(format, args...))
}

// code gives the Go files that end up in the program.
func (h *house) code() (files []source) {
	for _, s := range h.sources {
		if !s.test {
			files = append(files, s)
		}
	}
	return files
}

// repository reads every file that git knows or would take; without git, every file there is.
func repository(t *testing.T) map[string]string {
	t.Helper()
	root := filepath.Join("..", "..")
	var names []string
	git := exec.Command("git", "ls-files", "-z", "--cached", "--others", "--exclude-standard")
	git.Dir = root
	if out, err := git.Output(); err == nil {
		names = strings.Split(strings.TrimSuffix(string(out), "\x00"), "\x00")
	} else {
		err := fs.WalkDir(os.DirFS(root), ".", func(name string, d fs.DirEntry, err error) error {
			if err == nil && d.Type().IsRegular() && !strings.HasPrefix(name, ".git/") {
				names = append(names, name)
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	texts := map[string]string{}
	for _, name := range names {
		text, err := os.ReadFile(filepath.Join(root, name))
		if os.IsNotExist(err) {
			continue // removed, but not yet from git's list
		}
		if err != nil {
			t.Fatal(err)
		}
		texts[name] = string(text)
	}
	if texts["go.mod"] == "" {
		t.Fatal("go.mod was not found: this is not the repository")
	}
	return texts
}

func TestHouseRules(t *testing.T) {
	texts := repository(t)
	for _, rule := range rules {
		t.Run(rule.name, func(t *testing.T) {
			h, err := build(texts)
			if err != nil {
				t.Fatal(err)
			}
			rule.check(h)
			for _, finding := range h.findings {
				t.Error(finding)
			}
		})
	}
}

func (h *house) checkTopLevel() {
	for _, name := range h.paths() {
		if top, _, _ := strings.Cut(name, "/"); !slices.Contains(topLevel, top) {
			h.findings = append(h.findings, name+": nothing but "+strings.Join(topLevel, ", ")+" stands at the top")
		}
	}
}

// helps tells whether a package is for tests only.
func helps(pkg string) bool {
	return slices.ContainsFunc(strings.Split(pkg, "/"), func(part string) bool { return strings.HasSuffix(part, "test") })
}

func (h *house) checkImports() {
	for _, s := range h.code() {
		if helps(s.pkg) {
			continue
		}
		allowed, listed := mayImport[s.pkg]
		if !listed {
			h.found(s.file.Package, "package %s is not in mayImport of the house rules: say there whom it may know", s.pkg)
			continue
		}
		for _, spec := range s.file.Imports {
			name := strings.Trim(spec.Path.Value, `"`)
			if ours, ok := strings.CutPrefix(name, "leground/"); ok {
				if helps(ours) {
					h.found(spec.Pos(), "%s is for tests only", name)
				} else if allowed != "*" && !slices.Contains(strings.Fields(allowed), ours) {
					h.found(spec.Pos(), "%s may not know %s (it may know: %s)", s.pkg, ours, allowed)
				}
				continue
			}
			if slices.Contains(pure, s.pkg) && !slices.Contains(pureImports, name) {
				h.found(spec.Pos(), "%s sees values only and may not import %s", s.pkg, name)
			}
			for home, packages := range livesIn {
				if (name == home || strings.HasPrefix(name, home+"/")) && !slices.Contains(strings.Fields(packages), s.pkg) {
					h.found(spec.Pos(), "%s belongs in %s only", name, packages)
				}
			}
		}
	}
}

func (h *house) checkWords() {
	for _, name := range h.paths() {
		text := h.texts[name]
		if strings.Contains(text[:min(len(text), 8000)], "\x00") || strings.HasPrefix(name, "testdata/axe/") {
			continue // pictures; and another project's file
		}
		for i, line := range strings.Split(text, "\n") {
			for _, b := range banned {
				if hit := b.pattern.FindString(line); hit != "" {
					h.findings = append(h.findings, fmt.Sprintf("%s:%d: %q is %s", name, i+1, strings.TrimSpace(hit), b.why))
				}
			}
		}
	}
}

func (h *house) checkTemplates() {
	for _, name := range h.paths() {
		if !strings.Contains(name, "/templates/") {
			continue
		}
		for i, line := range strings.Split(h.texts[name], "\n") {
			for _, b := range inTemplates {
				if hit := b.pattern.FindString(line); hit != "" && strings.HasPrefix(name, b.where) {
					h.findings = append(h.findings, fmt.Sprintf("%s:%d: %q is %s", name, i+1, strings.TrimSpace(hit), b.why))
				}
			}
		}
	}
	for _, s := range h.code() {
		if strings.HasPrefix(s.pkg, "server") || strings.HasPrefix(s.pkg, "notify") || strings.HasPrefix(s.pkg, "cmd") {
			ast.Inspect(s.file, func(n ast.Node) bool {
				if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING && spokenUnit.MatchString(lit.Value) {
					h.found(n.Pos(), "%s: the unit is written mL", lit.Value)
				}
				return true
			})
		}
	}
}
