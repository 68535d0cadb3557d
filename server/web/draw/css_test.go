package draw

import (
	"bytes"
	"compress/gzip"
	"math"
	"os"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

func readStyleSheet(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile("../static/leground.css")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// styleSheet gives the glossary at the head of the style sheet, and its rules without any comment.
func styleSheet(t *testing.T) (glossary, rules string) {
	t.Helper()
	glossary, rules, ok := strings.Cut(readStyleSheet(t), "*/")
	if !ok {
		t.Fatal("the style sheet has lost its glossary")
	}
	return glossary, regexp.MustCompile(`(?s)/\*.*?\*/`).ReplaceAllString(rules, "")
}

// tokens reads the custom properties of the first block that follows the given words.
func tokens(t *testing.T, rules, selector string) map[string]string {
	t.Helper()
	_, block, ok := strings.Cut(rules, selector+" {")
	if !ok {
		t.Fatalf("no block %s", selector)
	}
	block, _, _ = strings.Cut(block, "}")
	found := map[string]string{}
	for declaration := range strings.SplitSeq(block, ";") {
		name, value, ok := strings.Cut(strings.TrimSpace(declaration), ":")
		if ok {
			found[name] = strings.TrimSpace(value)
		}
	}
	return found
}

// luminance is the relative luminance of WCAG 2.2 (W3C Recommendation, 2023, definition "relative
// luminance"): each channel made linear, then weighted 0.2126, 0.7152, 0.0722.
func luminance(t *testing.T, hex string) float64 {
	t.Helper()
	n, err := strconv.ParseUint(strings.TrimPrefix(hex, "#"), 16, 32)
	if err != nil || len(hex) != 7 {
		t.Fatalf("%q is not a colour", hex)
	}
	channel := func(shift uint) float64 {
		c := float64(n>>shift&0xFF) / 255
		if c <= 0.04045 {
			return c / 12.92
		}
		return math.Pow((c+0.055)/1.055, 2.4)
	}
	return 0.2126*channel(16) + 0.7152*channel(8) + 0.0722*channel(0)
}

// contrast is the contrast ratio of WCAG 2.2 (same source): lighter plus 0.05 over darker plus 0.05.
func contrast(t *testing.T, a, b string) float64 {
	x, y := luminance(t, a), luminance(t, b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// TestContrastFormula checks the formula against ratios that W3C prints: black on white is 21 to 1, and
// #767676 on white is the greyest text that reaches 4.5 to 1 (Understanding WCAG 2.2, 1.4.3, technique
// G18; the second from memory).
func TestContrastFormula(t *testing.T) {
	if got := contrast(t, "#000000", "#FFFFFF"); math.Abs(got-21) > 1e-9 {
		t.Errorf("black on white: %v", got)
	}
	if a, b := contrast(t, "#767676", "#FFFFFF"), contrast(t, "#777777", "#FFFFFF"); a < 4.5 || b >= 4.5 {
		t.Errorf("#767676 %v, #777777 %v", a, b)
	}
}

// TestTokenContrast holds the three lights to their design ratios and to the floors of text (7), barn
// text and numbers (12, by lantern 10), button labels (9), marks and edges (4.5). The floors above
// WCAG's own are this project's, for wet glass in the sun.
func TestTokenContrast(t *testing.T) {
	_, rules := styleSheet(t)
	for light, c := range map[string]struct {
		selector string
		barn     float64
		design   map[string]float64 // "front on back": ratio
	}{
		"day": {":root", 12, map[string]float64{
			"ink paper": 16.81, "ink panel": 14.62, "ink-2 paper": 9.42, "ink-2 panel": 8.19, "edge paper": 6.13, "edge panel": 5.33,
			"grid paper": 2.01, "grid panel": 1.74, "crayon paper": 10.56, "crayon panel": 9.19, "on-crayon crayon": 11.20, "panel paper": 1.15,
			"closing paper": 8.55, "closing panel": 7.44, "not-closing paper": 8.15, "not-closing panel": 7.09, "widening paper": 8.14, "widening panel": 7.08,
			"ink closing-tint": 14.33, "ink not-closing-tint": 14.26, "ink widening-tint": 14.27,
			"closing closing-tint": 7.29, "not-closing not-closing-tint": 6.92, "widening widening-tint": 6.91, "slab-text slab": 17.82,
		}},
		"noon": {`:root[data-light="noon"]`, 12, map[string]float64{
			"ink paper": 21, "ink-2 paper": 15.99, "crayon paper": 14.92, "on-crayon crayon": 14.92,
			"closing paper": 11.21, "not-closing paper": 11.97, "widening paper": 10.40, "grid paper": 3.36,
		}},
		"lantern": {`:root[data-light="lantern"]`, 10, map[string]float64{
			"ink paper": 12.23, "ink panel": 10.66, "ink-2 paper": 8.44, "ink-2 panel": 7.36, "edge paper": 5.53, "edge panel": 4.82,
			"crayon paper": 9.27, "crayon panel": 8.08, "on-crayon crayon": 9.24,
			"closing paper": 8.58, "closing panel": 7.48, "not-closing paper": 10.69, "not-closing panel": 9.32, "widening paper": 8.75, "widening panel": 7.63,
			"ink closing-tint": 10.01, "ink not-closing-tint": 9.60, "ink widening-tint": 9.85,
			"closing closing-tint": 7.03, "not-closing not-closing-tint": 8.40, "widening widening-tint": 7.04, "slab-text slab": 15.31,
		}},
	} {
		token := tokens(t, rules, c.selector)
		ratio := func(front, back string) float64 { return contrast(t, token["--"+front], token["--"+back]) }
		for pair, want := range c.design {
			front, back, _ := strings.Cut(pair, " ")
			if got := ratio(front, back); math.Abs(got-want) > 0.1 {
				t.Errorf("%s: %s on %s is %.2f, designed %.2f", light, front, back, got, want)
			}
		}
		atLeast := func(least float64, fronts, backs string) {
			for front := range strings.FieldsSeq(fronts) {
				for back := range strings.FieldsSeq(backs) {
					if got := ratio(front, back); got < least {
						t.Errorf("%s: %s on %s is %.2f, at least %v", light, front, back, got, least)
					}
				}
			}
		}
		atLeast(c.barn, "ink", "paper panel")
		atLeast(7, "ink ink-2 crayon", "paper panel")
		atLeast(7, "ink", "closing-tint not-closing-tint widening-tint")
		atLeast(9, "on-crayon", "crayon")
		atLeast(9, "crayon", "paper")
		atLeast(12, "slab-text", "slab")
		atLeast(4.5, "edge closing not-closing widening", "paper panel")
		for _, hue := range []string{"closing", "not-closing", "widening"} {
			atLeast(4.5, hue, hue+"-tint")
		}
	}
}

// TestLightsFollowThePhone checks that the lights chosen by the phone's wishes are the same as those
// chosen by hand: day in the plain block, lantern for a dark phone, noon for more contrast.
func TestLightsFollowThePhone(t *testing.T) {
	_, rules := styleSheet(t)
	for wish, light := range map[string]string{"(prefers-color-scheme: dark)": "lantern", "(prefers-contrast: more)": "noon"} {
		_, after, ok := strings.Cut(rules, wish)
		if !ok {
			t.Fatalf("nothing for %s", wish)
		}
		automatic, chosen := tokens(t, after, ":root:not([data-light])"), tokens(t, rules, `:root[data-light="`+light+`"]`)
		for name, value := range chosen {
			if automatic[name] != value {
				t.Errorf("%s: %s is %q by wish and %q by hand", light, name, automatic[name], value)
			}
		}
	}
}

// TestStyleSheetRules: own tokens only, nothing fetched, no shadow or gradient, small enough, and
// every class in the glossary, since people write templates by it.
func TestStyleSheetRules(t *testing.T) {
	glossary, rules := styleSheet(t)
	for _, banned := range []string{"url(", "@import", "@font-face", "gradient", "text-shadow", "drop-shadow", "animation", "transition"} {
		if strings.Contains(rules, banned) {
			t.Errorf("%s has no place here", banned)
		}
	}
	for _, shadow := range regexp.MustCompile(`box-shadow: [^;]*`).FindAllString(rules, -1) {
		if !slices.Contains([]string{"box-shadow: none", "box-shadow: 0 0 0 3px var(--paper)", "box-shadow: 0 0 0 3px var(--slab)"}, shadow) {
			t.Errorf("%q: the only shadow is the unblurred inner ring of focus", shadow)
		}
	}
	for _, use := range regexp.MustCompile(`var\((--[a-z0-9-]+)`).FindAllStringSubmatch(rules, -1) {
		if !strings.Contains(rules, use[1]+":") {
			t.Errorf("%s is used and never set", use[1])
		}
	}
	words := strings.FieldsFunc(glossary, func(r rune) bool { return !(r >= 'a' && r <= 'z' || r >= '0' && r <= '9' || r == '-') })
	for _, class := range regexp.MustCompile(`\.([a-z][a-z0-9-]*)`).FindAllStringSubmatch(rules, -1) {
		if !slices.Contains(words, class[1]) {
			t.Errorf("class %q is not in the glossary", class[1])
		}
	}
	var packed bytes.Buffer
	w := gzip.NewWriter(&packed)
	if _, err := w.Write([]byte(readStyleSheet(t))); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	if packed.Len() > 12<<10 {
		t.Errorf("the style sheet is %d bytes compressed, at most 12 KiB", packed.Len())
	}
}
