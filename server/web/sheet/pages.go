package sheet

import (
	"bytes"
	"fmt"
	"math"
	"strings"

	"codeberg.org/go-pdf/fpdf"
)

const madeUp = "MADE-UP YARD: nothing here is real"

// line is the height of a line of letters.
func line(points float64) float64 { return points * pointMM * 1.28 }

func (p *press) width() float64 { return p.wide - 2*margin }

func (p *press) headHigh() float64 {
	high := line(15) + 3
	if p.sheet.MadeUp {
		high += line(9) + 2
	}
	return high
}

// page begins a page with its head and foot.
func (p *press) page(number, of int) {
	p.AddPage()
	p.SetDrawColor(0, 0, 0)
	p.SetTextColor(0, 0, 0)
	y := margin
	if p.sheet.MadeUp {
		p.words(p.wide/2, y, 9, "B", "C", madeUp)
		y += line(9) + 2
	}
	p.words(margin, y, 15, "B", "L", p.sheet.Title)
	p.words(p.wide-margin, y+1.2, 9, "", "R", p.sheet.Yard+": sheet for the vet")
	p.SetLineWidth(0.5)
	p.Line(margin, y+line(15)+0.5, p.wide-margin, y+line(15)+0.5)
	p.y = margin + p.headHigh()

	foot := p.high - margin - line(9)
	p.SetLineWidth(0.2)
	p.Line(margin, foot-1, p.wide-margin, foot-1)
	p.words(margin, foot, 9, "", "L", p.cut(p.sheet.Made+"  "+p.sheet.Link, p.width()-30, 9))
	p.words(p.wide-margin, foot, 9, "", "R", fmt.Sprintf("page %d of %d", number, of))
}

// words writes one line with its top at y; align is L, C or R of x.
func (p *press) words(x, y, points float64, style, align, text string) {
	p.SetFont("go", style, points)
	switch align {
	case "C":
		x -= p.GetStringWidth(text) / 2
	case "R":
		x -= p.GetStringWidth(text)
	}
	p.Text(x, y+points*pointMM, text)
}

// cut shortens a line to a width.
func (p *press) cut(text string, wide, points float64) string {
	p.SetFont("go", "", points)
	runes := []rune(text)
	for len(runes) > 0 && p.GetStringWidth(string(runes)) > wide {
		runes = runes[:len(runes)-1]
	}
	if len(runes) < len([]rune(text)) && len(runes) > 3 {
		return string(runes[:len(runes)-3]) + "..."
	}
	return string(runes)
}

// para writes text in lines of a width from x on, moves down, and gives how far.
func (p *press) para(x, wide, points float64, style, text string) float64 {
	p.SetFont("go", style, points)
	y := p.y
	for _, text := range p.SplitText(text, wide) {
		if !p.dry {
			p.Text(x, y+points*pointMM, strings.TrimSpace(text))
		}
		y += line(points)
	}
	high := y - p.y
	p.y = y
	return high
}

func (p *press) heading(text string) {
	p.y += 2
	p.para(margin, p.width(), p.size+1.5, "B", text)
	p.y += 0.5
}

// bullets writes a list under a heading; an empty one writes nothing.
func (p *press) bullets(heading string, items []string) {
	if len(items) == 0 {
		return
	}
	p.heading(heading)
	for _, item := range items {
		top := p.y
		p.para(margin+4, p.width()-4, p.size, "", item)
		if !p.dry {
			p.words(margin, top, p.size, "", "L", "–")
		}
	}
}

// first writes the first page: why, background, leg by leg, what was done, what is asked.
func (p *press) first() {
	if p.sheet.Sub != "" {
		p.para(margin, p.width(), p.size, "", p.sheet.Sub)
	}
	p.bullets("Why we are asking", p.sheet.Why)
	p.bullets("Background", p.sheet.Background)
	if len(p.sheet.Rows) > 0 {
		p.heading("What we see, leg by leg")
		p.table()
	}
	if p.sheet.Plan != "" {
		p.y += 2
		p.y += p.drawing(string(p.sheet.Plan), margin, p.y, 0.2268)
	}
	p.bullets("What has been done", p.sheet.Done)
	p.bullets("What the vet said before", p.sheet.Word)
	p.heading("What we want to know")
	p.para(margin, p.width(), p.size, "", orElse(p.sheet.Question, "Please look at these and tell us what to do next."))
	if p.sheet.Ring != "" {
		p.y += 1
		p.para(margin, p.width(), p.size, "", "We ring: "+p.sheet.Ring)
	}
	if p.sheet.short {
		p.y += 1
		p.para(margin, p.width(), 9, "", "Not all of it fits on two pages. The rest is on the yard's own pages.")
	}
}

func orElse(text, other string) string {
	if strings.TrimSpace(text) == "" {
		return other
	}
	return text
}

// table writes the rows of the legs, each as high as its longest cell.
func (p *press) table() {
	share := []float64{0.07, 0.25, 0.13, 0.19, 0.17, 0.19}
	row := func(style string, cells ...string) {
		x, top, deepest := margin, p.y+0.8, p.y
		for i, cell := range cells {
			p.y = top
			wide := share[i] * p.width()
			cellStyle := style
			if i == 0 || i == 2 {
				cellStyle = "B"
			}
			p.para(x, wide-2, 9, cellStyle, cell)
			deepest = max(deepest, p.y)
			x += wide
		}
		p.y = deepest + 0.6
		if !p.dry {
			p.SetLineWidth(0.15)
			p.Line(margin, p.y, p.wide-margin, p.y)
		}
	}
	row("B", "Site", "Where", "Judged", "Size or score", "Closing rate", "Also")
	for _, r := range p.sheet.Rows {
		row("", r.Tag, r.Place, r.Label, r.Size, r.Rate, r.Note)
	}
}

// The measures of the second page, mm.
const (
	smallest  = 9 / 14.0 * pointMM // mm a unit of a drawing whose letters of 14 units are to be 9 points
	photoWide = 70.0
	photoHigh = 52.5
	rowOfFour = 43.0

	photoLeast = 32.0 // high, four in a row
)

// methodHigh is how high the lines under the charts are.
func (p *press) methodHigh() float64 {
	if p.sheet.Method == "" {
		return 0
	}
	start := p.y
	p.dry = true
	high := p.para(margin, p.width(), 9, "", p.sheet.Method) + 2
	p.y, p.dry = start, false
	return high
}

func (p *press) column() float64 { return (p.width() - gap) / 2 }

// chartsFit tells whether the second page holds its charts at their smallest with the photos in one row.
func (p *press) chartsFit() bool {
	p.y = margin + p.headHigh()
	end := p.room() - p.methodHigh()
	if len(p.sheet.Photos) > 0 {
		end -= photoLeast + line(9) + 2
	}
	return p.y+p.panels(p.column(), smallest, true) <= end
}

// second writes the second page: charts two by two, photos, how it was measured.
func (p *press) second() error {
	end := p.room() - p.methodHigh()
	photos := p.photoRows(photoHigh * 0.9)
	scale := p.column() / 328
	for scale > smallest && p.y+p.panels(p.column(), scale, true) > end-photos {
		scale -= 0.004
	}
	p.y += p.panels(p.column(), max(scale, smallest), false)
	if err := p.photos(end - p.y); err != nil {
		return err
	}
	if p.sheet.Method != "" {
		p.y = end + 2
		p.para(margin, p.width(), 9, "", p.sheet.Method)
	}
	return nil
}

// panels sets the charts two in a row and gives how high they are together.
func (p *press) panels(column, scale float64, dry bool) float64 {
	start := p.y
	p.dry = dry
	for i := 0; i < len(p.sheet.Panels); i += 2 {
		top, deepest := p.y, p.y
		for j, panel := range p.sheet.Panels[i:min(i+2, len(p.sheet.Panels))] {
			x := margin + float64(j)*(column+gap)
			p.y = top
			p.para(x, column, 9.5, "B", panel.Headline)
			p.y += p.drawing(string(panel.SVG), x, p.y+0.5, scale)
			deepest = max(deepest, p.y)
		}
		p.y = deepest + 2
	}
	high := p.y - start
	p.y, p.dry = start, false
	return high
}

// photoRows is how much room the photos want at least, two in a row.
func (p *press) photoRows(each float64) float64 {
	return math.Ceil(float64(len(p.sheet.Photos))/2) * (each + line(9) + 2)
}

// photos sets the photos two in a row where they stay large enough, else all in one row.
func (p *press) photos(room float64) error {
	n := len(p.sheet.Photos)
	if n == 0 {
		return nil
	}
	inRow := 2
	wide, high := photoWide, min(photoHigh, room/math.Ceil(float64(n)/2)-line(9)-2)
	if high < photoHigh*0.6 {
		inRow, wide, high = 4, rowOfFour, min(photoHigh, room-line(9)-2)
	}
	for i, photo := range p.sheet.Photos {
		column := (p.width() + gap) / float64(inRow)
		x, y := margin+float64(i%inRow)*column, p.y+float64(i/inRow)*(high+line(9)+2)
		scale := min(wide/float64(photo.Width), high/float64(photo.Height))
		name := fmt.Sprintf("photo %d", i)
		options := fpdf.ImageOptions{ImageType: "JPEG"}
		p.RegisterImageOptionsReader(name, options, bytes.NewReader(photo.JPEG))
		p.ImageOptions(name, x, y, scale*float64(photo.Width), scale*float64(photo.Height), false, options, 0, "")
		p.words(x, y+scale*float64(photo.Height)+0.8, 9, "", "L", p.cut(photo.Caption, column-gap, 9))
	}
	return p.Error()
}
