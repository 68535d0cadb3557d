// Package draw writes the drawings of the pages as SVG: the marks that stand beside words, the legs,
// the four-post plan, the charts and the icon.
//
// Every drawing is one ink on the page's own colour, told apart by shape, position and hatch, so that
// it prints in black and survives forced colours. Drawings carry classes of leground.css and plain
// presentation attributes, never a style attribute: the pages' content policy forbids those. A mark is
// hidden from screen readers, because its word always stands beside it; every larger drawing has
// role="img" and the ids of its headline and summary, which the caller gives. Ids inside a drawing
// start with the caller's own prefix, so two drawings on a page never clash.
//
// The marks are this project's own. A wound is two edges of skin and the gap between them: wedges
// that point in, wedges that point out, level bars. A patch is the same figure cut out of a solid
// square, since a patch has no edges to watch.
package draw

import (
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// svg gathers the elements of one drawing.
type svg struct{ strings.Builder }

// add writes a piece of markup; the arguments must already be safe: see esc and num.
func (s *svg) add(format string, args ...any) { fmt.Fprintf(s, format, args...) }

// text writes words at a place. anchor is "start", "middle" or "end"; class may be empty.
func (s *svg) text(x, y float64, anchor, class, words string) {
	s.add(`<text x="%s" y="%s" font-size="14"`, num(x), num(y))
	if anchor != "start" {
		s.add(` text-anchor="%s"`, anchor)
	}
	if class != "" {
		s.add(` class="%s"`, class)
	}
	if strings.HasPrefix(class, "strong") {
		s.WriteString(` font-weight="700"`)
	}
	s.add(` fill="currentColor">%s</text>`, esc(words))
}

// html closes the drawing and gives it to a template.
func (s *svg) html() template.HTML {
	s.WriteString("</svg>")
	return template.HTML(s.String()) // every word in it went through esc
}

// open starts a drawing of the given size that is described by the elements with the given ids.
func open(class, role, labelledBy string, x, y, width, height float64) *svg {
	s := new(svg)
	s.add(`<svg class="%s" viewBox="%s %s %s %s" width="%s" height="%s"`,
		class, num(x), num(y), num(width), num(height), num(width), num(height))
	if labelledBy == "" {
		s.WriteString(` aria-hidden="true" focusable="false">`)
	} else {
		s.add(` role="%s" aria-labelledby="%s">`, role, esc(labelledBy))
	}
	return s
}

// hatch defines the one pattern of the drawings, lines at 45 degrees, under the given id.
func (s *svg) hatch(id, transform string) {
	s.add(`<defs><pattern id="%s" patternUnits="userSpaceOnUse" width="6" height="6" patternTransform="%srotate(45)">`+
		`<path d="M3,0V6" stroke="currentColor" stroke-width="2"/></pattern></defs>`, esc(id), transform)
}

// num writes a coordinate with at most one decimal place. A number that cannot be drawn is a fault
// of the caller, who has to leave it out.
func num(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		panic("draw: a coordinate is not a number")
	}
	r := math.Round(v*10) / 10
	if r == 0 {
		return "0" // and never -0
	}
	return strconv.FormatFloat(r, 'f', -1, 64)
}

// esc makes words safe inside markup and leaves out what XML cannot hold.
func esc(words string) string {
	words = strings.ToValidUTF8(words, "\uFFFD")
	words = strings.Map(func(r rune) rune {
		if r < ' ' && r != '\t' && r != '\n' && r != '\r' || r == 0xFFFE || r == 0xFFFF {
			return utf8.RuneError
		}
		return r
	}, words)
	return template.HTMLEscapeString(words)
}

// width guesses how wide words are at 14 units, on the broad side.
func width(words string) float64 { return 7.8 * float64(utf8.RuneCountInString(words)) }

// num3 writes a scale factor with three decimal places.
func num3(v float64) string { return strconv.FormatFloat(v, 'f', 3, 64) }
