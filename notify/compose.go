package notify

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	htmltemplate "html/template"
	"leground/tracker"
	"strings"
	"text/template"
)

//go:embed templates/message.txt templates/message.html
var templateFiles embed.FS

// ErrUnknownKind says that this program knows no words for a kind of reminder: a newer one planned it.
var ErrUnknownKind = errors.New("unknown kind of reminder")

// MaxBytes bounds a whole mail: both parts, encoded, with their headers.
const MaxBytes = 64 << 10

// headerBytes is left for the header of a mail and of its two parts.
const headerBytes = 6 << 10

// Compose puts content into words. It is pure: the same content gives the same words. Text typed by
// people is made harmless, and lists are cut where needed so that the mail stays under MaxBytes.
func Compose(c Content) (Words, error) {
	subject, title, short, err := headlines(c)
	if err != nil {
		return Words{}, err
	}
	words := Words{Subject: subject, Title: title, Short: short}
	for _, z := range sizes {
		v := viewOf(c, z)
		v.Subject = subject
		if words.Text, words.HTML, err = render(v); err != nil {
			return Words{}, err
		}
		if encodedSize(words.Text)+encodedSize(words.HTML) <= MaxBytes-headerBytes {
			return words, nil
		}
	}
	return Words{}, fmt.Errorf("a %s message stays over %d KiB even with its lists cut", c.Kind, MaxBytes>>10)
}

// The templates share two functions; neither is changed after the program has started.
var (
	functions = template.FuncMap{"count": tracker.Count, "sentence": tracker.Capital}
	plainText = template.Must(template.New("message.txt").Funcs(functions).ParseFS(templateFiles, "templates/message.txt"))
	webPage   = htmltemplate.Must(htmltemplate.New("message.html").Funcs(htmltemplate.FuncMap(functions)).
			ParseFS(templateFiles, "templates/message.html"))
)

// render fills both templates from one view.
func render(v view) (text, html string, err error) {
	var a, b bytes.Buffer
	if err := errors.Join(plainText.Execute(&a, v), webPage.Execute(&b, v)); err != nil {
		return "", "", err
	}
	return tidy(a.String()), b.String(), nil
}

// tidy keeps at most one empty line in a row and none at the ends.
func tidy(text string) string {
	var out []string
	for line := range strings.Lines(text) {
		line = strings.TrimRight(line, " \t\n")
		if line == "" && (len(out) == 0 || out[len(out)-1] == "") {
			continue
		}
		out = append(out, line)
	}
	return strings.TrimRight(strings.Join(out, "\n"), "\n") + "\n"
}

// encodedSize bounds the length of text in quoted-printable (RFC 2045 6.7): three bytes for one that is
// not plain, and a soft line end after at most 73.
func encodedSize(text string) int {
	size := 0
	for i := range len(text) {
		switch b := text[i]; {
		case b == '=' || b > '~' || b < ' ':
			size += 3
		default:
			size++
		}
	}
	return size + size/73*3
}
