package draw

import (
	"encoding/xml"
	"html/template"
	"io"
	"math"
	"strconv"
	"strings"
)

// node is one element of a drawing as encoding/xml reads it.
type node struct {
	name  string
	attrs map[string]string
	text  string
}

func (n node) has(class string) bool {
	for c := range strings.FieldsSeq(n.attrs["class"]) {
		if c == class {
			return true
		}
	}
	return false
}

func (n node) number(t fataler, attr string) float64 {
	v, err := strconv.ParseFloat(n.attrs[attr], 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		t.Fatalf("<%s %s=%q> is not a number", n.name, attr, n.attrs[attr])
	}
	return v
}

type fataler interface{ Fatalf(string, ...any) }

// parse reads a drawing as XML and fails on anything that is not well formed, on a style attribute,
// on a script, and on a number that is none.
func parse(t fataler, drawing template.HTML) []node {
	d := xml.NewDecoder(strings.NewReader(string(drawing)))
	d.Strict = true
	var nodes []node
	ids := map[string]bool{}
	for {
		token, err := d.Token()
		if err == io.EOF {
			return nodes
		}
		if err != nil {
			t.Fatalf("not well-formed XML: %v\n%s", err, drawing)
		}
		switch token := token.(type) {
		case xml.StartElement:
			n := node{name: token.Name.Local, attrs: map[string]string{}}
			for _, a := range token.Attr {
				n.attrs[a.Name.Local] = a.Value
				if a.Name.Local == "style" || strings.HasPrefix(a.Name.Local, "on") {
					t.Fatalf("attribute %s, which the content policy forbids", a.Name.Local)
				}
				if strings.Contains(a.Value, "NaN") || strings.Contains(a.Value, "Inf") {
					t.Fatalf("%s=%q", a.Name.Local, a.Value)
				}
			}
			if id := n.attrs["id"]; id != "" {
				if ids[id] {
					t.Fatalf("id %q stands twice", id)
				}
				ids[id] = true
			}
			nodes = append(nodes, n)
		case xml.CharData:
			if len(nodes) > 0 {
				nodes[len(nodes)-1].text += string(token)
			}
		}
	}
}

func of(nodes []node, class string) []node {
	var found []node
	for _, n := range nodes {
		if n.has(class) {
			found = append(found, n)
		}
	}
	return found
}

// pathPoints reads a path of the form "Mx,y x,y x,y".
func pathPoints(t fataler, d string) [][2]float64 {
	var points [][2]float64
	for pair := range strings.FieldsSeq(strings.TrimPrefix(d, "M")) {
		xs, ys, ok := strings.Cut(pair, ",")
		x, errX := strconv.ParseFloat(xs, 64)
		y, errY := strconv.ParseFloat(ys, 64)
		if !ok || errX != nil || errY != nil {
			t.Fatalf("path %q", d)
		}
		points = append(points, [2]float64{x, y})
	}
	return points
}
