package web_test

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"leground/server/webtest"
	"leground/testdata/seed"
)

// numberSlips are ways of writing numbers that have been misread in medicine. Sources: ISMP, List of
// Error-Prone Abbreviations, Symbols and Dose Designations (trailing zero, naked decimal, number and unit run
// together, cc, ug, IU, U); CGPM 2003 Resolution 10 (no comma or dot as a group mark); ratios: the project's
// own rule, since 1:50 is read as 1 in 50 and as 1 and 50.
var numberSlips = map[string]*regexp.Regexp{
	"a trailing zero":          regexp.MustCompile(`\d[.,]\d*0(\D|$)`),
	"a decimal without a zero": regexp.MustCompile(`(^|[^\d.])[.,]\d`),
	"a number stuck to a unit": regexp.MustCompile(`\d(mL|ml|L|mg|g|kg|mm|cm|cm²|micrograms|units|days?|°C|h)([^\w]|$)`),
	"ml for mL":                regexp.MustCompile(`\bml\b`),
	"cc for mL":                regexp.MustCompile(`\bcc\b`),
	"a micro sign":             regexp.MustCompile(`[µμ]g|\b(mcg|ug)\b`),
	"IU or U for units":        regexp.MustCompile(`\d ?(IU|U)\b|\bIU\b`),
	"a colon ratio":            regexp.MustCompile(`\b\d+ ?: ?\d+\b`),
	"a comma between digits":   regexp.MustCompile(`\d,\d`),
	"a full stop after a unit": regexp.MustCompile(`\d (mL|mg|mm|kg)\. [a-z]`),
	"a comparison by a symbol": regexp.MustCompile(`[<>≤≥] ?\d`),
	"a slash for per":          regexp.MustCompile(`\b(mL|mg|g|mm|cm²)/(mL|100|kg|day|h)\b`),
	"a household measure":      regexp.MustCompile(`(?i)\b(teaspoons?|tablespoons?|capfuls?|glugs?|cupfuls?)\b`),
	"frequency in Latin":       regexp.MustCompile(`\b(bid|qod|tid|qid|od)\b`),
	"lengths in two units":     regexp.MustCompile(`\d (cm|inch(es)?)([^\w²]|$)`),
	"one of several":           regexp.MustCompile(`\b1 (signs|days|looks|sites|horses|weeks|photos|messages|people)\b`),
	"a day as if a time":       regexp.MustCompile(`\bat (Mon|Tue|Wed|Thu|Fri|Sat|Sun) \d+ [A-Z][a-z]+($|[^,a-z])`),
	"a date of digits":         regexp.MustCompile(`\b\d{1,2}/\d{1,2}(/\d{2,4})?\b`),
}

// plainThousands is a group mark that a line may be broken at. Text that was read from a page has plain spaces
// only, so this is looked for in the page itself.
var plainThousands = regexp.MustCompile(`\b\d{1,3} \d{3} (mL|mg|g|L)\b`)

// allowed are the places where such a form is right: times of day, a number to ring, the question how a half
// is written, and the example of what a bottle's label may say.
var allowed = regexp.MustCompile(`like 2% w/v, 20 mg/mL|\b([01]\d|2[0-3]):[0-5]\d(:[0-5]\d)?\b|01234 000000|0,5, with a comma|\b\d{4}-\d{2}-\d{2}(T\S*)?`)

// bannedWords may not be read by anybody: words of machines and of clinics, words that promise what nobody
// knows, and words that blame or beg. (Why: plain words for people in a barn; the list is the project's own.)
var bannedWords = regexp.MustCompile(`(?i)\b(diagnos(e|ed|es|ing)|detect(ed|s)?|risk scores?|abnormal|critical|(non-)?complian(ce|t)|patients?|users?|sync(ed|ing|s)?|cached?|submit(ted)?|` +
	`invalid|oops|all (is )?fine|all clear|nothing to worry about|deteriorat\w+|tenant|database error|null|undefined|NaN)\b`)

// scan fails for each slip and word in a text.
func scan(t *testing.T, where, text string) {
	t.Helper()
	for _, m := range bannedWords.FindAllStringIndex(text, 3) {
		t.Errorf("%s says %q: ...%s...", where, text[m[0]:m[1]], text[max(0, m[0]-40):min(len(text), m[1]+40)])
	}
	text = allowed.ReplaceAllString(text, "-")
	for name, slip := range numberSlips {
		for _, m := range slip.FindAllStringIndex(text, 3) {
			t.Errorf("%s has %s: ...%s...", where, name, text[max(0, m[0]-40):min(len(text), m[1]+40)])
		}
	}
}

// No page of the made-up yard, and no answer to a form with a mistake, writes a number in a way that can be
// misread, or uses a word that nobody should have to read; sentences in slabs have 20 words at most.
func TestWordsAndNumbersOnPages(t *testing.T) {
	site := webtest.Start(t, webtest.Options{Seed: seed.Marlpit})
	owner := site.Seeded()
	seen := map[string]bool{}
	var visit func(path string, depth int)
	visit = func(path string, depth int) {
		path, _, _ = strings.Cut(path, "#")
		kind := anID.ReplaceAllString(path, "ID")
		if seen[path] || depth > 3 || kind == "/check/ID" && depth > 2 || strings.HasPrefix(path, "/photo/") || strings.HasPrefix(path, "tel:") {
			return
		}
		seen[path] = true
		page := owner.Get(path)
		if !strings.HasPrefix(page.Header.Get("Content-Type"), "text/html") {
			return
		}
		scan(t, path, page.Text())
		if m := plainThousands.FindString(string(page.Body)); m != "" {
			t.Errorf("%s writes %q with a plain space", path, m)
		}
		for _, e := range page.Root().All(func(e *webtest.Node) bool { return e.Attr["alt"]+e.Attr["aria-label"]+e.Attr["title"] != "" }) {
			scan(t, path, e.Attr["alt"]+" "+e.Attr["aria-label"]+" "+e.Attr["title"])
		}
		for _, slab := range page.Root().Classed("slab") {
			shortSentences(t, path, slab.Text())
		}
		for i, a := range page.Root().Named("a") {
			if strings.HasPrefix(a.Attr["href"], "/") && i < 120 {
				visit(a.Attr["href"], depth+1)
			}
		}
	}
	visit("/", 0)
	if len(seen) < 40 {
		t.Errorf("only %d pages were read", len(seen))
	}
	t.Logf("%d pages were read", len(seen))
}

var sentenceEnd = regexp.MustCompile(`[.:!?]( |$)`)

func shortSentences(t *testing.T, where, text string) {
	t.Helper()
	for _, sentence := range sentenceEnd.Split(text, -1) {
		if n := len(strings.Fields(sentence)); n > 20 {
			t.Errorf("%s: a sentence of %d words in a slab: %s", where, n, sentence)
		}
	}
}

func TestWordsOfMistakes(t *testing.T) {
	site := webtest.Start(t, webtest.Options{})
	yard := site.Marl()
	for _, m := range mistakes {
		form := m.form(yard)
		for name, value := range m.change {
			form = form.With(name, value)
		}
		person := yard.Carer
		if form.Action == "/rules" {
			person = yard.Owner
		}
		text := person.Send(form).Text()
		if strings.Contains(strings.ToLower(text), "please") {
			t.Errorf("the answer to %s begs: %s", m.name, text)
		}
		scan(t, "the answer to "+m.name, text)
	}
	for _, path := range []string{"/no/such/page", "/check/none", "/horse/none?to=yesterday", "/link/none"} {
		scan(t, path, yard.Owner.Get(path).Text())
	}
}

// The scan is awake.
func TestScanFindsSlips(t *testing.T) {
	for text, want := range map[string]string{
		"Mix 5.0 mL": "a trailing zero", "Mix .5 mL": "a decimal without a zero", "Mix 5mL": "a number stuck to a unit", "5 ml of it": "ml for mL", "1:50 of it": "a colon ratio",
		"1,500 mL": "a comma between digits", "5 µg": "a micro sign", "100 IU": "IU or U for units", "20 mg/kg": "a slash for per", "2 of 3, 1 signs judged": "one of several", "It came at Sun 29 Nov": "a day as if a time",
	} {
		if !numberSlips[want].MatchString(allowed.ReplaceAllString(text, "-")) {
			t.Errorf("%q passes as free of %s", text, want)
		}
	}
	if !bannedWords.MatchString("Wound deteriorating") || !bannedWords.MatchString("An Invalid value") || bannedWords.MatchString("This is not a diagnosis.") {
		t.Error("the list of banned words is not what it should be")
	}
}

// Templates and scripts, read as files, hold none of the words either: also those that no page showed.
func TestWordsInFiles(t *testing.T) {
	actions := regexp.MustCompile(`\{\{[^}]*\}\}|<[^>]*>`)
	spoken := regexp.MustCompile(`'([^'\\\n;(){}=]* [^'\\\n;(){}=]*)'`)
	files := 0
	for _, pattern := range []string{"templates/*/*.html", "static/*.js"} {
		names, err := filepath.Glob(pattern)
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range names {
			text, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			words := actions.ReplaceAllString(string(text), " ")
			if strings.HasSuffix(name, ".js") {
				words = strings.Join(spoken.FindAllString(string(text), -1), " ")
				words = strings.NewReplacer("no-cache", "", "use strict", "").Replace(words)
			}
			files++
			for _, m := range bannedWords.FindAllStringIndex(words, 3) {
				t.Errorf("%s says %q: ...%s...", name, words[m[0]:m[1]], words[max(0, m[0]-40):min(len(words), m[1]+40)])
			}
		}
	}
	if files < 25 {
		t.Errorf("only %d files were read", files)
	}
}
