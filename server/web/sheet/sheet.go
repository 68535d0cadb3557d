// Package sheet sets the vet sheet on paper: at most two pages of A4 or Letter, black only, as a PDF.
//
// A sheet is values: whoever makes one has worked everything out. The charts and the four-post plan are the
// very drawings of the page, redrawn from their SVG, so that paper and screen cannot differ. What does not
// fit on two pages is left out from the end of its list, and the sheet says so. The PDF is not
// tagged: the page of the same content is the form for screen readers.
package sheet

import (
	"bytes"
	"fmt"
	"html/template"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
)

// Sheet is everything that stands on one horse's sheet, in its order.
type Sheet struct {
	Title      string // the horse's name
	Sub        string // what it is
	Yard       string
	MadeUp     bool
	Made       string // when and by whom
	MadeAt     time.Time
	Why        []string // why the yard asks
	Background []string
	Rows       []Row // leg by leg
	Plan       template.HTML
	Done       []string
	Word       []string // what the vet said before
	Question   string   // what the yard wants to know
	Panels     []Panel
	Phases     []string // what happened along them
	Photos     []Photo  // at most MostPhotos
	Method     string
	Ring       string // whom the yard rings
	Link       string // where the same can be read, if anywhere

	short bool // something was left out, since it did not fit
}

// Row is one line of the table of legs.
type Row struct{ Tag, Place, Label, Size, Rate, Note string }

// Panel is one chart under its headline.
type Panel struct {
	Headline string
	SVG      template.HTML
}

// Photo is one picked photo. Width and Height are in pixels.
type Photo struct {
	Caption       string
	JPEG          []byte
	Width, Height int
}

// MostPhotos is how many photos find room.
const MostPhotos = 4

// Paper is what a sheet is printed on.
type Paper int

// The two papers in use.
const (
	A4 Paper = iota + 1
	Letter
)

// The paper's measures in mm.
const (
	margin  = 14.0
	footer  = 10.0
	gap     = 6.0
	pointMM = 25.4 / 72
)

// The sizes of letters in points that are tried until a page holds what it must; 9 is the least that is read
// with ease.
func textSizes() []float64 { return []float64{10.5, 10, 9.5, 9} }

// PDF sets the sheet. The same values give the same bytes.
func PDF(s Sheet, paper Paper) ([]byte, error) {
	name := map[Paper]string{A4: "A4", Letter: "Letter"}[paper]
	if name == "" {
		return nil, fmt.Errorf("sheet: %d is not a paper", paper)
	}
	glyphs, err := newGlyphs()
	if err != nil {
		return nil, err
	}
	p := &press{Fpdf: fpdf.New("P", "mm", name, ""), sheet: glyphs.clean(s)}
	p.AddUTF8FontFromBytes("go", "", goregular.TTF)
	p.AddUTF8FontFromBytes("go", "B", gobold.TTF)
	p.SetCreationDate(s.MadeAt)
	p.SetModificationDate(s.MadeAt)
	p.SetCatalogSort(true)
	p.SetTitle(p.sheet.Title+": sheet for the vet", true)
	p.SetMargins(margin, margin, margin)
	p.SetAutoPageBreak(false, 0)
	p.SetCellMargin(0)
	p.wide, p.high = p.GetPageSize()
	if err := p.set(); err != nil {
		return nil, err
	}
	var out bytes.Buffer
	err = p.Output(&out)
	return out.Bytes(), err
}

// press is a sheet being set.
type press struct {
	*fpdf.Fpdf
	sheet      Sheet
	wide, high float64 // of the paper, mm
	y          float64 // where the next line begins
	size       float64 // of letters, points
	dry        bool    // only measured, not drawn
}

// room is where the text of a page must end.
func (p *press) room() float64 { return p.high - margin - footer }

func (p *press) set() error {
	if n := len(p.sheet.Photos); n > MostPhotos {
		return fmt.Errorf("sheet: %d photos, at most %d find room", n, MostPhotos)
	}
	for !p.chartsFit() && p.sheet.dropCharts() {
	}
	for !p.fits() && p.sheet.shorten() {
	}
	pages := 1
	if len(p.sheet.Panels)+len(p.sheet.Photos) > 0 {
		pages = 2
	}
	p.page(1, pages)
	p.first()
	if pages == 2 {
		p.page(2, pages)
		if err := p.second(); err != nil {
			return err
		}
	}
	return p.Error()
}

// fits finds the largest letters in which the first page holds its text.
func (p *press) fits() bool {
	p.dry = true
	defer func() { p.dry = false }()
	for _, p.size = range textSizes() {
		p.y = margin + p.headHigh()
		p.first()
		if p.y <= p.room() {
			return true
		}
	}
	return false
}
