package sheet

import (
	"html/template"
	"strings"

	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
)

// longest is how many letters of one item are set; the rest is on the page.
const longest = 600

// glyphs tells which letters the font has. A letter past U+FFFF breaks the PDF library, and one that the
// font lacks would be left out without a trace, so both become a box.
type glyphs struct {
	font *sfnt.Font
	buf  sfnt.Buffer
	have map[rune]bool
}

const box = '□'

func newGlyphs() (*glyphs, error) {
	font, err := sfnt.Parse(goregular.TTF)
	return &glyphs{font: font, have: map[rune]bool{}}, err
}

func (g *glyphs) has(r rune) bool {
	have, known := g.have[r]
	if !known {
		index, err := g.font.GlyphIndex(&g.buf, r)
		have = err == nil && index != 0 && r <= 0xFFFF
		g.have[r] = have
	}
	return have
}

// text puts words on one line, with a box for every letter that cannot be set.
func (g *glyphs) text(words string) string {
	words = strings.Join(strings.Fields(strings.NewReplacer("\u202f", " ", "\u2212", "-").Replace(words)), " ")
	if runes := []rune(words); len(runes) > longest {
		words = string(runes[:longest]) + "..."
	}
	return g.letters(words)
}

func (g *glyphs) letters(words string) string {
	return strings.Map(func(r rune) rune {
		if g.has(r) || r == '\n' {
			return r
		}
		if g.has(box) {
			return box
		}
		return '?'
	}, words)
}

func (g *glyphs) all(list []string) []string {
	out := make([]string, 0, len(list))
	for _, words := range list {
		if words = g.text(words); words != "" {
			out = append(out, words)
		}
	}
	return out
}

// clean gives the sheet in letters that can be set.
func (g *glyphs) clean(s Sheet) Sheet {
	for _, words := range []*string{&s.Title, &s.Sub, &s.Yard, &s.Made, &s.Question, &s.Method, &s.Ring, &s.Link} {
		*words = g.text(*words)
	}
	s.Why, s.Background, s.Done, s.Word = g.all(s.Why), g.all(s.Background), g.all(s.Done), g.all(s.Word)
	s.Method = strings.TrimSpace(g.text(strings.Join(s.Phases, " ")) + " " + s.Method)
	s.Plan = template.HTML(g.letters(string(s.Plan)))
	s.Rows, s.Panels, s.Photos = append([]Row(nil), s.Rows...), append([]Panel(nil), s.Panels...), append([]Photo(nil), s.Photos...)
	for i, r := range s.Rows {
		s.Rows[i] = Row{g.text(r.Tag), g.text(r.Place), g.text(r.Label), g.text(r.Size), g.text(r.Rate), g.text(r.Note)}
	}
	for i, p := range s.Panels {
		s.Panels[i] = Panel{g.text(p.Headline), template.HTML(g.letters(string(p.SVG)))}
	}
	for i := range s.Photos {
		s.Photos[i].Caption = g.text(s.Photos[i].Caption)
	}
	return s
}

// dropCharts drops the last row of charts, and tells whether there was one to spare.
func (s *Sheet) dropCharts() bool {
	n := len(s.Panels)
	if n <= 2 {
		return false
	}
	s.short, s.Panels = true, s.Panels[:n-2+n%2]
	return true
}

// shorten drops the last item of the first list that can spare one, and tells whether there was any.
func (s *Sheet) shorten() bool {
	s.short = true
	for _, list := range []*[]string{&s.Done, &s.Word, &s.Background, &s.Why} {
		if n := len(*list); n > 2 {
			*list = (*list)[:n-1]
			return true
		}
	}
	if n := len(s.Rows); n > 4 {
		s.Rows = s.Rows[:n-1]
		return true
	}
	if s.Plan != "" {
		s.Plan = ""
		return true
	}
	return false
}
