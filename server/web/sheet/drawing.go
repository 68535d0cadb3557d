package sheet

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"codeberg.org/go-pdf/fpdf"
)

// A drawing of package draw is redrawn from its SVG: paths of straight lines and half circles, circles,
// rectangles, words, one level of groups that are moved and scaled, and the hatch. Anything else is an error,
// so that a new kind of stroke is noticed here and not missed on paper.

// pen draws one SVG with its top left corner at x, y of the page; scale is mm a unit.
type pen struct {
	*press
	x, y, scale float64
}

// drawing draws an SVG and gives how high it is.
func (p *press) drawing(svg string, x, y, scale float64) float64 {
	in := xml.NewDecoder(strings.NewReader(svg))
	d := &pen{p, x, y, scale}
	var high float64
	var outer []pen
	for {
		token, err := in.Token()
		if errors.Is(err, io.EOF) {
			return high
		}
		if err != nil {
			p.SetError(fmt.Errorf("sheet: a drawing: %w", err))
			return high
		}
		switch t := token.(type) {
		case xml.StartElement:
			at := attributes(t)
			switch t.Name.Local {
			case "svg":
				box := numbers(at["viewBox"])
				if len(box) != 4 {
					p.SetError(fmt.Errorf("sheet: a drawing has the view box %q", at["viewBox"]))
					return high
				}
				d.x, d.y, high = x-box[0]*scale, y-box[1]*scale, box[3]*scale
				if p.dry {
					return high
				}
			case "defs":
				err = in.Skip() // the hatch, which is drawn by hand
			case "g":
				outer = append(outer, *d)
				d.group(at["transform"])
			case "text":
				err = d.text(in, at)
			case "path":
				d.path(at)
			case "circle":
				d.circle(at)
			case "rect":
				d.rect(at)
			default:
				err = fmt.Errorf("sheet: a drawing has an element %q", t.Name.Local)
			}
			if err != nil {
				p.SetError(err)
				return high
			}
		case xml.EndElement:
			if t.Name.Local == "g" {
				*d, outer = outer[len(outer)-1], outer[:len(outer)-1]
			}
		}
	}
}

func attributes(e xml.StartElement) map[string]string {
	out := map[string]string{}
	for _, a := range e.Attr {
		out[a.Name.Local] = a.Value
	}
	return out
}

// numbers reads numbers that spaces or commas part; nonsense is left out.
func numbers(text string) []float64 {
	var out []float64
	for _, field := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' }) {
		if v, err := strconv.ParseFloat(field, 64); err == nil {
			out = append(out, v)
		}
	}
	return out
}

func number(text string) float64 {
	v, _ := strconv.ParseFloat(text, 64) // missing is 0, as in SVG
	return v
}

func (d *pen) group(transform string) {
	var x, y, scale float64
	if _, err := fmt.Sscanf(transform, "translate(%g,%g) scale(%g)", &x, &y, &scale); err != nil {
		d.SetError(fmt.Errorf("sheet: a drawing is moved by %q", transform))
		return
	}
	d.x, d.y, d.scale = d.x+x*d.scale, d.y+y*d.scale, d.scale*scale
}

func (d *pen) at(x, y float64) (float64, float64) { return d.x + x*d.scale, d.y + y*d.scale }

func (d *pen) text(in *xml.Decoder, at map[string]string) error {
	var words struct {
		Text string `xml:",chardata"`
	}
	start := xml.StartElement{Name: xml.Name{Local: "text"}}
	if err := in.DecodeElement(&words, &start); err != nil {
		return err
	}
	style := ""
	if at["font-weight"] == "700" {
		style = "B"
	}
	points := number(at["font-size"]) * d.scale / pointMM
	d.SetFont("go", style, points)
	x, y := d.at(number(at["x"]), number(at["y"]))
	switch wide := d.GetStringWidth(words.Text); at["text-anchor"] {
	case "middle":
		x -= wide / 2
	case "end":
		x -= wide
	}
	d.Text(x, y, words.Text)
	return nil
}

// thinnest is the thinnest line that a printer shows for certain: half a point.
const thinnest = 0.5 * pointMM

// style sets the pen for an element and gives fpdf's word for what to do with its outline; "" is nothing.
func (d *pen) style(at map[string]string) string {
	d.SetLineWidth(max(thinnest, orOne(at["stroke-width"])*d.scale))
	dash := numbers(at["stroke-dasharray"])
	if len(dash) == 1 {
		dash = append(dash, dash[0])
	}
	if at["class"] == "chart-grid" { // grey on the screen: on paper a row of dots
		d.SetLineWidth(thinnest)
		dash = []float64{1, 4}
	}
	for i := range dash {
		dash[i] *= d.scale
	}
	d.SetDashPattern(dash, 0)
	d.SetFillColor(0, 0, 0)
	fills := at["fill"] == "currentColor" || strings.HasPrefix(at["fill"], "url(")
	strokes := at["stroke"] != "" && at["stroke"] != "none"
	switch {
	case fills && strokes:
		return "FD"
	case fills && at["fill-rule"] == "evenodd":
		return "F*"
	case fills:
		return "F"
	case strokes:
		return "D"
	}
	return ""
}

func orOne(text string) float64 {
	if text == "" {
		return 1
	}
	return number(text)
}

func (d *pen) circle(at map[string]string) {
	if style := d.style(at); style != "" {
		x, y := d.at(number(at["cx"]), number(at["cy"]))
		d.Circle(x, y, number(at["r"])*d.scale, style)
	}
	d.SetDashPattern(nil, 0)
}

func (d *pen) rect(at map[string]string) {
	if style := d.style(at); style != "" {
		x, y := d.at(number(at["x"]), number(at["y"]))
		d.Rect(x, y, number(at["width"])*d.scale, number(at["height"])*d.scale, style)
	}
	d.SetDashPattern(nil, 0)
}

func (d *pen) path(at map[string]string) {
	style := d.style(at)
	if strings.HasPrefix(at["fill"], "url(") {
		d.hatch(at["d"])
		style = "D"
	}
	if style != "" {
		d.trace(at["d"], nil)
		d.DrawPath(style)
	}
	d.SetDashPattern(nil, 0)
}

// hatch fills an outline with lines at 45 degrees, 1.5 mm apart.
func (d *pen) hatch(path string) {
	var points []fpdf.PointType
	d.trace(path, &points)
	if len(points) < 3 {
		return
	}
	left, right, top, bottom := points[0].X, points[0].X, points[0].Y, points[0].Y
	for _, q := range points {
		left, right, top, bottom = min(left, q.X), max(right, q.X), min(top, q.Y), max(bottom, q.Y)
	}
	d.ClipPolygon(points, false)
	for x := left - (bottom - top); x < right; x += 1.5 * 1.414 {
		d.Line(x, bottom, x+bottom-top, top)
	}
	d.ClipEnd()
}
