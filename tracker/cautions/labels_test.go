package cautions

import (
	"os"
	"regexp"
	"testing"

	"leground/tracker/healing"
)

// The rules look for labels by their words, which package healing gives. A word that it never gives would be a
// rule that never speaks.
func TestLabelsOfTheRulesAreGiven(t *testing.T) {
	given := map[string]bool{}
	for l := healing.Label(1); l.String() != ""; l++ {
		given[l.String()] = true
	}
	source, err := os.ReadFile("site.go")
	if err != nil {
		t.Fatal(err)
	}
	calls := regexp.MustCompile(`labelled\(("[^)]*")\)`).FindAllSubmatch(source, -1)
	if len(calls) < 7 {
		t.Fatalf("%d rules go by a label", len(calls))
	}
	for _, call := range calls {
		for _, word := range regexp.MustCompile(`"([^"]+)"`).FindAllSubmatch(call[1], -1) {
			if !given[string(word[1])] {
				t.Errorf("no site is ever labelled %q", word[1])
			}
		}
	}
}
