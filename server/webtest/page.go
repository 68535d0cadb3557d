package webtest

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
)

// Page is an answer.
type Page struct {
	TB     testing.TB
	Path   string // that was asked for
	Status int
	Header http.Header
	Body   []byte
	root   *Node
}

// Is fails the test unless the answer has a status.
func (p *Page) Is(status int) *Page {
	p.TB.Helper()
	if p.Status != status {
		p.TB.Fatalf("%s answered %d, want %d:\n%s", p.Path, p.Status, status, p.Text())
	}
	return p
}

// Redirects fails the test unless the answer is 303 to a place that starts so.
func (p *Page) Redirects(to string) *Page {
	p.TB.Helper()
	if p.Status != http.StatusSeeOther || !strings.HasPrefix(p.Header.Get("Location"), to) {
		p.TB.Fatalf("%s answered %d to %q, want 303 to %q:\n%s", p.Path, p.Status, p.Header.Get("Location"), to, p.Text())
	}
	return p
}

// Link gives the path of the address that the page shows once, to send on.
func (p *Page) Link() string {
	p.TB.Helper()
	address, err := url.Parse(p.Root().Named("code")[0].Text())
	check(p.TB, err)
	if address.Host == "" {
		p.TB.Fatalf("%s shows %q, which is no whole address", p.Path, address)
	}
	return address.Path
}

// Says fails the test unless each text stands on the page.
func (p *Page) Says(texts ...string) *Page {
	p.TB.Helper()
	have := p.Text()
	for _, text := range texts {
		if !strings.Contains(have, text) {
			p.TB.Fatalf("%s does not say %q:\n%s", p.Path, text, have)
		}
	}
	return p
}

// Silent fails the test when one of the texts stands on the page.
func (p *Page) Silent(texts ...string) *Page {
	p.TB.Helper()
	have := p.Text()
	for _, text := range texts {
		if strings.Contains(have, text) {
			p.TB.Fatalf("%s says %q:\n%s", p.Path, text, have)
		}
	}
	return p
}

// Root gives the page as a tree. A page that is not well formed fails the test.
func (p *Page) Root() *Node {
	p.TB.Helper()
	if p.root == nil {
		root, err := parse(p.Body)
		if err != nil {
			p.TB.Fatalf("%s is not well formed: %v\n%s", p.Path, err, p.Body)
		}
		p.root = root
	}
	return p.root
}

// Text gives the words of the page, with single spaces.
func (p *Page) Text() string {
	p.TB.Helper()
	if !strings.HasPrefix(p.Header.Get("Content-Type"), "text/html") {
		return string(p.Body)
	}
	return p.Root().Text()
}

// Node is an element, or a piece of text when it has no name.
type Node struct {
	Name  string
	Attr  map[string]string // an attribute without a value has its own name
	Words string
	Nodes []*Node
}

// parse reads HTML as loose XML, which is what our templates write: elements that HTML leaves open are
// closed, everything else must stand in order.
func parse(body []byte) (*Node, error) {
	in := xml.NewDecoder(bytes.NewReader(body))
	in.Strict, in.AutoClose, in.Entity = false, append(slices.Clone(xml.HTMLAutoClose), "source", "wbr"), xml.HTMLEntity
	root := &Node{}
	open := []*Node{root}
	for {
		token, err := in.Token()
		if errors.Is(err, io.EOF) {
			return root, nil
		} else if err != nil {
			return nil, err
		}
		top := open[len(open)-1]
		switch t := token.(type) {
		case xml.StartElement:
			n := &Node{Name: t.Name.Local, Attr: map[string]string{}}
			for _, a := range t.Attr {
				n.Attr[a.Name.Local] = a.Value
			}
			top.Nodes = append(top.Nodes, n)
			open = append(open, n)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			top.Nodes = append(top.Nodes, &Node{Words: string(t)})
		}
	}
}

// All lists the elements below that a test picks, in page order. What stands in a <template> is not on the
// page.
func (n *Node) All(pick func(*Node) bool) []*Node {
	var out []*Node
	for _, below := range n.Nodes {
		if below.Name == "template" {
			continue
		}
		if below.Name != "" && pick(below) {
			out = append(out, below)
		}
		out = append(out, below.All(pick)...)
	}
	return out
}

// Named lists the elements of a name.
func (n *Node) Named(name string) []*Node {
	return n.All(func(e *Node) bool { return e.Name == name })
}

// ID gives the element with an id; nil when there is none.
func (n *Node) ID(id string) *Node {
	for _, e := range n.All(func(e *Node) bool { return e.Attr["id"] == id }) {
		return e
	}
	return nil
}

// Classed lists the elements with a class.
func (n *Node) Classed(class string) []*Node {
	return n.All(func(e *Node) bool { return slices.Contains(strings.Fields(e.Attr["class"]), class) })
}

// Text gives the words in it that are not hidden, with single spaces.
func (n *Node) Text() string {
	var out strings.Builder
	n.write(&out)
	return strings.Join(strings.Fields(out.String()), " ")
}

func (n *Node) write(out *strings.Builder) {
	if _, hidden := n.Attr["hidden"]; hidden || n.Name == "script" || n.Name == "style" || n.Name == "template" {
		return
	}
	out.WriteString(n.Words)
	for _, below := range n.Nodes {
		below.write(out)
	}
	if n.Name != "" && !slices.Contains(inline, n.Name) {
		out.WriteByte(' ')
	}
}

// inline elements do not part words.
var inline = []string{"a", "b", "code", "em", "i", "s", "small", "span", "strong", "sub", "sup"}

// Form is a form with what a browser would send if nothing were touched.
type Form struct {
	Action, Method, Enctype string
	Values                  url.Values
	Files                   map[string][]byte
	Node                    *Node
}

// Forms lists the forms of the page.
func (p *Page) Forms() []Form {
	p.TB.Helper()
	here, _, _ := strings.Cut(p.Path, "?")
	return p.Root().forms(here)
}

// Form gives the page's first form with an action that also holds these fields ("site=...").
func (p *Page) Form(action string, fields ...string) Form {
	p.TB.Helper()
	for _, f := range p.Forms() {
		if f.Action == action && f.holds(fields) {
			return f
		}
	}
	p.TB.Fatalf("%s has no form to %s with %v:\n%s", p.Path, action, fields, p.Text())
	return Form{}
}

func (f Form) holds(fields []string) bool {
	for _, field := range fields {
		name, value, _ := strings.Cut(field, "=")
		if !slices.Contains(f.Values[name], value) {
			return false
		}
	}
	return true
}

func (n *Node) forms(here string) []Form {
	var out []Form
	for _, e := range n.Named("form") {
		f := Form{Action: e.Attr["action"], Method: e.Attr["method"], Enctype: e.Attr["enctype"], Values: url.Values{}, Node: e}
		if f.Action == "" {
			f.Action = here
		}
		for _, field := range e.All(func(e *Node) bool { return e.Attr["name"] != "" }) {
			field.into(f.Values)
		}
		out = append(out, f)
	}
	return out
}

// into adds what an untouched field sends.
func (n *Node) into(values url.Values) {
	name := n.Attr["name"]
	_, checked := n.Attr["checked"]
	switch {
	case n.Name == "textarea":
		var lines strings.Builder
		for _, below := range n.Nodes {
			lines.WriteString(below.Words)
		}
		values.Add(name, lines.String())
	case n.Name == "select":
		options := n.Named("option")
		for _, o := range options {
			if _, chosen := o.Attr["selected"]; chosen {
				options = []*Node{o}
			}
		}
		if len(options) > 0 {
			values.Add(name, options[0].Attr["value"])
		}
	case n.Name != "input" || n.Attr["type"] == "file":
	case n.Attr["type"] == "radio" || n.Attr["type"] == "checkbox":
		if checked {
			values.Add(name, n.Attr["value"])
		}
	default:
		values.Add(name, n.Attr["value"])
	}
}

// With gives the form with a field filled in, ticked or pressed; no value takes the field out.
func (f Form) With(name string, values ...string) Form {
	changed := url.Values{}
	for n, v := range f.Values {
		changed[n] = v
	}
	changed.Del(name)
	for _, value := range values {
		changed.Add(name, value)
	}
	f.Values = changed
	return f
}

// At gives the form as a button with an address of its own sends it, by POST.
func (f Form) At(action string) Form {
	f.Action, f.Method, f.Enctype = action, "post", ""
	return f
}

// WithFile gives the form with a file chosen.
func (f Form) WithFile(name string, data []byte) Form {
	f.Files = map[string][]byte{name: data}
	return f
}
