package sheet

import (
	"fmt"
	"math"
	"strings"
	"unicode"

	"codeberg.org/go-pdf/fpdf"
)

// trace follows a path. With into it gathers the corners, without it moves the pen of the page.
func (d *pen) trace(path string, into *[]fpdf.PointType) {
	t := tracer{pen: d, into: into}
	for path != "" {
		next := strings.IndexFunc(path[1:], unicode.IsLetter) + 1
		if next == 0 {
			next = len(path)
		}
		if err := t.step(path[0], numbers(path[1:next])); err != nil {
			d.SetError(err)
			return
		}
		path = strings.TrimLeft(path[next:], " ")
	}
}

// tracer is where a path has come to.
type tracer struct {
	*pen
	into           *[]fpdf.PointType
	nowX, nowY     float64
	startX, startY float64
}

func (t *tracer) step(command byte, n []float64) error {
	switch command {
	case 'M', 'L', 'l':
		for i := 0; i+1 < len(n); i += 2 {
			x, y := n[i], n[i+1]
			if command == 'l' {
				x, y = t.nowX+x, t.nowY+y
			}
			t.to(x, y, command == 'M' && i == 0)
		}
		return whole(command, len(n) > 0 && len(n)%2 == 0)
	case 'H', 'h', 'V', 'v':
		for _, v := range n {
			x, y := t.nowX, t.nowY
			switch command {
			case 'H':
				x = v
			case 'h':
				x += v
			case 'V':
				y = v
			case 'v':
				y += v
			}
			t.to(x, y, false)
		}
		return whole(command, len(n) > 0)
	case 'a':
		if len(n) != 7 || n[0] != n[1] || n[6] != 0 || n[4] != 0 || math.Abs(n[5]-2*n[0]) > 0.11 { // drawings round to a tenth
			return fmt.Errorf("sheet: a drawing has the arc %v, which is no half circle from the left below to the right", n)
		}
		t.half(n[0])
		return nil
	case 'Z', 'z':
		t.nowX, t.nowY = t.startX, t.startY
		if t.into == nil {
			t.ClosePath()
		}
		return whole(command, len(n) == 0)
	}
	return fmt.Errorf("sheet: a drawing has the stroke %q", command)
}

func whole(command byte, ok bool) error {
	if !ok {
		return fmt.Errorf("sheet: a drawing has a broken stroke %q", command)
	}
	return nil
}

func (t *tracer) to(x, y float64, lift bool) {
	t.nowX, t.nowY = x, y
	pageX, pageY := t.at(x, y)
	switch {
	case t.into != nil:
		*t.into = append(*t.into, fpdf.PointType{X: pageX, Y: pageY})
	case lift:
		t.MoveTo(pageX, pageY)
	default:
		t.LineTo(pageX, pageY)
	}
	if lift {
		t.startX, t.startY = x, y
	}
}

// half draws the lower half of a circle from its left end to its right one, in two arcs.
func (t *tracer) half(r float64) {
	const round = 0.5523 // of a quarter circle by a cubic curve
	x, y := t.at(t.nowX, t.nowY)
	r *= t.scale
	t.CurveBezierCubicTo(x, y+round*r, x+r-round*r, y+r, x+r, y+r)
	t.CurveBezierCubicTo(x+r+round*r, y+r, x+2*r, y+round*r, x+2*r, y)
	t.nowX += 2 * r / t.scale
}
