package rounds

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"
)

// constants gives the values of the string constants of a type in this package's source, so that a new
// one cannot be left out of a test.
func constants(t *testing.T, typ string) []string {
	t.Helper()
	var values []string
	files, err := os.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	for _, entry := range files {
		if !strings.HasSuffix(entry.Name(), ".go") || strings.HasSuffix(entry.Name(), "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), entry.Name(), nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, decl := range file.Decls {
			gen, ok := decl.(*ast.GenDecl)
			if !ok || gen.Tok != token.CONST {
				continue
			}
			for _, spec := range gen.Specs {
				value := spec.(*ast.ValueSpec)
				if name, ok := value.Type.(*ast.Ident); !ok || name.Name != typ {
					continue
				}
				text, err := strconv.Unquote(value.Values[0].(*ast.BasicLit).Value)
				if err != nil {
					t.Fatal(err)
				}
				values = append(values, text)
			}
		}
	}
	return values
}

func TestEveryReasonHasItsSentence(t *testing.T) {
	all := constants(t, "Reason")
	if len(all) < 50 {
		t.Fatalf("only %d reasons found", len(all))
	}
	seen := map[string]string{}
	for _, value := range all {
		sentence := Reason(value).Sentence()
		if !strings.HasSuffix(sentence, ".") || sentence[:1] != strings.ToUpper(sentence[:1]) {
			t.Errorf("%q: %q is not a sentence", value, sentence)
		}
		if strings.Contains(strings.ToLower(sentence), "not done") || strings.Contains(strings.ToLower(sentence), "missed") {
			t.Errorf("%q: %q blames; nobody knows what was done where there is no signal", value, sentence)
		}
		for _, text := range []string{value, sentence} {
			if other, twice := seen[text]; twice {
				t.Errorf("%q means both %q and %q", text, other, value)
			}
			seen[text] = value
		}
	}
	if Reason("").Sentence() != "" || Reason("nonsense").Sentence() != "" {
		t.Error("a text that is no reason has a sentence")
	}
}

// TestLife compares all changes of state with the design of a reminder's life:
// planned -> sending -> sent, sending -> planned (again at), given up, withdrawn or folded; a planned one
// may also be put off, withdrawn, folded or given up; only a person brings back what has ended.
func TestLife(t *testing.T) {
	var states []Life
	for _, s := range constants(t, "Life") {
		states = append(states, Life(s))
	}
	if len(states) != 6 {
		t.Fatalf("%d states, want 6", len(states))
	}
	const design = `
planned>sending planned>planned planned>withdrawn planned>folded planned>given up
sending>sent sending>planned sending>withdrawn sending>folded sending>given up
sent>planned given up>planned withdrawn>planned folded>planned`
	moves, ends := 0, map[Reason]int{}
	for _, from := range append(states, "") {
		for _, to := range append(states, "") {
			allowed := 0
			for _, why := range append(constants(t, "Reason"), "", "nonsense") {
				if from.Move(to, Reason(why)) == nil {
					allowed++
					if from == Planned && to != Planned && to != Sending {
						ends[Reason(why)]++
					}
				}
			}
			if want := from != "" && to != "" && strings.Contains(strings.ReplaceAll(design, "\n", " ")+" ", " "+string(from)+">"+string(to)+" "); want != (allowed > 0) {
				t.Errorf("from %q to %q: %d reasons, in the design %v", from, to, allowed, want)
			}
			if allowed > 0 {
				moves++
			}
			if slices.Contains([]Life{Sent, GivenUp, Withdrawn, Folded}, from) && allowed > 0 && from.Move(to, AskedAgain) != nil {
				t.Errorf("%s goes on to %s without a person", from, to)
			}
		}
	}
	if moves != 14 {
		t.Errorf("%d changes of state, want 14", moves)
	}
	for why, n := range ends {
		if n != 1 {
			t.Errorf("%q ends a planned reminder in %d ways", why, n)
		}
		if end := why.Life(); Planned.Move(end, why) != nil || end == Planned {
			t.Errorf("%q ends as %s, which is not allowed", why, end)
		}
	}
	if NotYet.Life() != Planned || Reason("").Life() != Planned {
		t.Error("a reason that drops nothing leaves a reminder planned")
	}
	if err := Planned.Move(Sent, Accepted); err == nil || !strings.Contains(err.Error(), "planned cannot become sent") {
		t.Errorf("the refusal reads %v", err)
	}
}

// TestNextTry is the table of waits of our own design: 1, 2, 5, 10, 20, 30 minutes and then every 30.
func TestNextTry(t *testing.T) {
	start := instant(t, "2026-05-14T06:00:00Z")
	useBy := start.Add(3 * time.Hour)
	var tries []string
	now := start
	for failed := 1; ; failed++ {
		next, ok := NextTry(now, failed, useBy)
		if !ok {
			break
		}
		if !next.Before(useBy) {
			t.Fatalf("try at %s is not before the use-by", next)
		}
		now = next
		tries = append(tries, fmt.Sprint(int(now.Sub(start).Minutes())))
	}
	if got, want := strings.Join(tries, " "), "1 3 8 18 38 68 98 128 158"; got != want {
		t.Errorf("tries after %s minutes, want %s", got, want)
	}
	if next, ok := NextTry(start, 0, useBy); !ok || next.Sub(start) != time.Minute {
		t.Errorf("before any failure counted: %s, %v", next, ok)
	}
}
