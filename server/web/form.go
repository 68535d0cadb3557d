package web

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

// form reads the fields of a post into typed values and gathers what is wrong with them.
type form struct {
	values   url.Values
	problems tracker.Problems
	zone     *time.Location // for local times that a person types
	secret   string         // the field that nobody else may see; empty: none
}

// mostForm and mostUpload bound what a post may send: a form, or a form with a photo.
const (
	mostForm   = 256 << 10
	mostUpload = 21 << 20
)

// readForm reads the fields of an ordinary form or of one with a file.
func readForm(r *http.Request) (*form, error) {
	var err error
	if strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data") {
		err = r.ParseMultipartForm(mostForm)
	} else {
		err = r.ParseForm()
	}
	var tooLarge *http.MaxBytesError
	if err != nil && !errors.As(err, &tooLarge) {
		err = tracker.Refuse(tracker.Invalid, "The form did not arrive whole. Go back and send it again.")
	}
	return &form{values: r.PostForm, zone: time.UTC}, err
}

// posted answers a post with what a handler makes of its form. One whose record id already holds something else is
// kept beside it.
func (h *Handler) posted(do func(w http.ResponseWriter, r *http.Request, f *form) error) answer {
	return func(w http.ResponseWriter, r *http.Request) error {
		f, err := readForm(r)
		if err != nil {
			return err
		}
		if err = do(w, r, f); errors.Is(err, care.ErrOtherContent) {
			record := tracker.RecordID(cmp.Or(f.text("record"), f.text("id")))
			other := care.Conflict{Record: record, Path: r.URL.Path, Fields: f.values, Hash: f.hash()}
			if keep := h.care.KeepOther(r.Context(), actorOf(r), other, f.secret); keep != nil {
				return keep
			}
		}
		return err
	}
}

func (f *form) text(name string) string { return strings.TrimSpace(f.values.Get(name)) }

// record reads the id of the record that the form makes.
func (f *form) record() tracker.RecordID { return tracker.RecordID(f.text("record")) }

func (f *form) ticked(name string) bool { return f.values.Get(name) != "" }

// also adds problems with fields of which none is known yet, so that all are said at once.
func (f *form) also(more tracker.Problems) {
	for _, p := range more {
		if problemIn(f.problems, p.Field) == nil {
			f.problems = append(f.problems, p)
		}
	}
}

// has tells whether a field of several values holds one of them.
func (f *form) has(name, value string) bool { return slices.Contains(f.values[name], value) }

// whole reads a whole number, with its unit behind it or not; an empty field is 0. Unknown text is a problem with
// the field.
func (f *form) whole(name, what string, unit ...string) int {
	text := f.text(name)
	for _, u := range unit {
		text = strings.TrimSpace(strings.TrimSuffix(text, u))
	}
	if text == "" {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		f.problems.Add(name, what+" must be a whole number, like 42.")
	}
	return n
}

// date reads a day; an empty field is the zero Date.
func (f *form) date(name, what string) tracker.Date {
	text := f.text(name)
	if text == "" {
		return 0
	}
	day, err := tracker.ParseDate(text)
	if err != nil {
		f.problems.Add(name, what+" must be a date, like 2026-05-14.")
	}
	return day
}

// instant reads what a phone's clock said, with its offset from UTC. A clock that writes nonsense is as
// good as none.
func (f *form) instant(name string) time.Time {
	t, err := time.Parse(time.RFC3339Nano, f.text(name))
	if err != nil {
		return time.Time{}
	}
	return t
}

// local reads a date and time that a person typed, in the yard's zone; empty is the zero time.
func (f *form) local(name, what string) time.Time {
	text := f.text(name)
	if text == "" {
		return time.Time{}
	}
	t, err := time.ParseInLocation("2006-01-02T15:04", text, f.zone)
	if err != nil {
		f.problems.Add(name, what+" must be a day and time, like 2026-05-14T07:40.")
	}
	return t
}

// parsed reads a field with a parser of package tracker; an empty field is the zero value.
func parsed[T any](f *form, name string, parse func(string) (T, error)) T {
	var zero T
	text := f.text(name)
	if text == "" {
		return zero
	}
	value, err := parse(text)
	if err != nil {
		f.problems.Add(name, "Choose one of the answers that are offered.")
		return zero
	}
	return value
}

// hash gives the SHA-256 of what was posted, without files: names in byte order, each value after its
// name, line ends as one character. The round's script works out the same one, so that a receipt can be
// held against what the phone has.
func (f *form) hash() string {
	sum := sha256.New()
	for _, name := range slices.Sorted(maps.Keys(f.values)) {
		for _, value := range f.values[name] {
			io.WriteString(sum, name+"\x1f"+strings.ReplaceAll(value, "\r\n", "\n")+"\x1e")
		}
	}
	return hex.EncodeToString(sum.Sum(nil))
}

// sent is a form as it was posted, with why it was not kept, so that it can be shown again as it was. The zero
// value is a form that nobody has sent yet. Pages embed it beside Base, so the two share no name.
type sent struct {
	Values url.Values
	Wrong  []tracker.FieldProblem
	why    error
}

// back is the form as it was posted, with why it was not kept.
func (f *form) back(why error) sent { return sent{f.values, refusalOf(why).Fields, why} }

// formPage draws a page with forms on it: as they start, or one of them as it was sent.
type formPage func(w http.ResponseWriter, r *http.Request, state sent) error

// fresh answers with a page whose forms nobody has sent yet.
func fresh(page formPage) answer {
	return func(w http.ResponseWriter, r *http.Request) error { return page(w, r, sent{}) }
}

// refused is for a form that stands on no page of its own: why it was not kept is all there is to show.
func refused(_ http.ResponseWriter, _ *http.Request, state sent) error { return state.why }

// then goes on to the next page, unless something went wrong.
func then(w http.ResponseWriter, r *http.Request, err error, next string) error {
	if err == nil {
		http.Redirect(w, r, next, http.StatusSeeOther)
	}
	return err
}

// done does what a form asks for, unless something in it could not be read, and ends the post. The form is shown again
// where an answer in it was wrong; else the page that comes next is. The round's script gets a receipt.
func (h *Handler) done(w http.ResponseWriter, r *http.Request, f *form, do func() error, next string, again formPage) error {
	err := f.problems.Err()
	if err == nil {
		err = do()
	}
	switch {
	case tracker.KindOf(err) == tracker.Invalid && !wantsJSON(r):
		return again(w, r, f.back(err))
	case err == nil && wantsJSON(r):
		writeJSON(w, http.StatusOK, receipt{Record: f.record(), Hash: f.hash(), State: "kept", At: h.care.Now()})
		return nil
	}
	return then(w, r, err, next)
}

// Value gives a field as it was sent, or what it starts with.
func (s sent) Value(name, start string) string {
	if s.Values == nil {
		return start
	}
	return s.Values.Get(name)
}

// Record gives the record id of the form: its own when it was sent, else a fresh one.
func (s sent) Record() tracker.RecordID {
	return cmp.Or(tracker.RecordID(s.Value("record", "")), care.NewRecord())
}

// Is tells whether a tile was chosen when the form was sent, or is at the start.
func (s sent) Is(name, value string, start bool) bool {
	if s.Values == nil {
		return start
	}
	return slices.Contains(s.Values[name], value)
}

// Problem gives what is wrong with a field; nil when nothing is.
func (s sent) Problem(name string) *tracker.FieldProblem { return problemIn(s.Wrong, name) }
