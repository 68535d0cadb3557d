package web

import (
	"io"
	"net/http"
	"net/url"
	"strings"
)

// HeldForm is what somebody posted after they had been signed out: it waits on the page that says so, to be sent
// again when they are signed in. Nothing of it stays on the server.
type HeldForm struct {
	Action string
	Values url.Values
	Upload bool // the form may carry a photo
	Photo  bool // it carried one, which cannot wait in a page
}

// heldForm reads what was typed, and passes over photos: whoever is not signed in leaves no file here. It is nil when
// the post does not arrive whole.
func heldForm(r *http.Request) *HeldForm {
	held := &HeldForm{Action: localPath(r.URL.Path), Values: url.Values{}}
	if !strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data") {
		r.Body = http.MaxBytesReader(nil, r.Body, mostForm)
		f, err := readForm(r)
		if err != nil {
			return nil
		}
		held.Values = f.values
		return held
	}
	held.Upload = true
	parts, err := r.MultipartReader()
	for left := mostForm; err == nil && left >= 0; {
		part, next := parts.NextPart()
		if next == io.EOF {
			return held
		}
		if err = next; err != nil {
			break
		}
		if part.FileName() != "" {
			held.Photo = true
		}
		if part.Header.Get("Content-Type") != "" { // a file, or the place of one
			continue
		}
		text, wrong := io.ReadAll(io.LimitReader(part, int64(left)+1))
		held.Values.Add(part.FormName(), string(text))
		left, err = left-len(text), wrong
	}
	return nil
}
