package web

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"time"
	"unicode"

	"leground/tracker"
	"leground/tracker/care"
)

//go:embed templates
var templateFiles embed.FS

// pages holds one template set for each page, named by its file.
type pages struct{ byName map[string]*template.Template }

func loadPages(a *assets) (*pages, error) {
	shared := template.New("").Funcs(template.FuncMap{"asset": func(name string) (string, error) {
		address, ok := a.byName[name]
		if !ok {
			return "", fmt.Errorf("there is no asset %q", name)
		}
		return address, nil
	}}).Funcs(wordFuncs()).Funcs(mixFuncs()).Funcs(planFuncs()).Option("missingkey=error")
	shared, err := shared.ParseFS(templateFiles, "templates/layout/*.html", "templates/parts/*.html")
	if err != nil {
		return nil, err
	}
	files, err := fs.Glob(templateFiles, "templates/pages/*.html")
	if err != nil {
		return nil, err
	}
	p := &pages{map[string]*template.Template{}}
	for _, file := range files {
		set, err := shared.Clone()
		if err == nil {
			set, err = set.ParseFS(templateFiles, file)
		}
		if err != nil {
			return nil, err
		}
		p.byName[strings.TrimSuffix(path.Base(file), ".html")] = set.Lookup("base.html")
	}
	return p, nil
}

// draw sends a page, drawn whole before the first byte leaves.
func (h *Handler) draw(w http.ResponseWriter, status int, name string, page any) error {
	set, ok := h.pages.byName[name]
	if !ok {
		return fmt.Errorf("there is no page %q", name)
	}
	var body bytes.Buffer
	if err := set.Execute(&body, page); err != nil {
		return err
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	body.WriteTo(w) // the reader has gone if this fails: there is nobody to answer
	return nil
}

// send sends something that is no page.
func send(w http.ResponseWriter, kind string, data []byte) error {
	w.Header().Set("Content-Type", kind)
	w.Write(data) // the reader has gone if this fails
	return nil
}

// Base is what every page needs.
type Base struct {
	Title    string
	Density  string // "barn" or "table"
	Light    string // "day", "noon", "lantern", or empty: the phone's own wish
	Nav      string // which entry of the navigation this page is
	Bare     bool   // no navigation: inside a round, or with nobody signed in
	Inside   bool   // inside a mix: on a phone, Leave is the one way out
	Outside  bool   // for somebody without an account: no cookie, no way to another page
	Close    bool   // small on paper, so that a sheet fits
	MadeUp   bool
	Build    string    // of the program that drew it
	DrawnAt  time.Time // by the yard's clock
	NoCopy   bool      // phones keep no copy of the pages
	YardID   tracker.YardID
	YardName string
	Person   tracker.Person
	Role     tracker.Role
	Mark     tracker.DecimalMark
	Words    tracker.LegWords
	Zone     *time.Location
	Ring     Ring                   // whom to ring
	Problems []tracker.FieldProblem // of the form that was sent
	Message  string                 // the sentence above them
	Again    bool                   // the form is on the page again, with what was sent
	Notice   string                 // what has just been done
}

// base fills in what can be known from the request alone; pages of a yard add to it with inYard.
func (h *Handler) base(r *http.Request, title string) Base {
	b := Base{Title: title, Density: "table", Light: lightOf(r), Bare: true, Mark: tracker.Point, Words: tracker.LeftRight, Zone: time.UTC}
	b.Build, b.DrawnAt, b.NoCopy = h.assets.build, h.care.Now(), h.settings.NoCopy
	if actor := actorOf(r); actor.Person.ID != "" {
		b.Person, b.Role, b.YardID, b.Bare = actor.Person, actor.Role, actor.Yard, false
	}
	return b
}

// today is the yard's day on which the page is drawn.
func (b Base) today() tracker.Date { return tracker.DateOf(b.DrawnAt.In(b.Zone)) }

// inYard adds what a page of a yard needs.
func (b Base) inYard(m care.Moment, nav string) Base {
	yard := m.Yard
	b.YardName, b.MadeUp, b.Mark, b.Words, b.Zone, b.Nav = yard.Name, yard.MadeUp, yard.Mark, yard.LegWords, m.Zone, nav
	b.Ring = Ring{yard.RingName, yard.RingNumber}
	return b
}

// barn makes a page one for wet hands.
func (b Base) barn() Base {
	b.Density = "barn"
	return b
}

// wrong adds why the form that was sent was not kept; nil: nothing was wrong, or none was sent.
func (b Base) wrong(err error) Base {
	if err == nil {
		return b
	}
	refusal := refusalOf(err)
	b.Title, b.Message, b.Problems, b.Again = "Error: "+b.Title, refusal.Message, refusal.Fields, true
	return b
}

// status is that of the page's answer.
func (b Base) status() int {
	if b.Again {
		return http.StatusUnprocessableEntity
	}
	return http.StatusOK
}

// Shown tells whether the page says beside the field what is wrong with it, so that the summary can lead
// there. Nobody can see the fields that hold a form's ids.
func (b Base) Shown(field string) bool {
	return b.Again && field != "record" && field != "id" && field != "leg"
}

func problemIn(list []tracker.FieldProblem, field string) *tracker.FieldProblem {
	for _, p := range list {
		if p.Field == field {
			return &p
		}
	}
	return nil
}

const lightCookie = "light"

func lightOf(r *http.Request) string {
	cookie, err := r.Cookie(lightCookie)
	if err != nil {
		return ""
	}
	for _, known := range lights {
		if cookie.Value == known {
			return known
		}
	}
	return ""
}

var lights = []string{"day", "noon", "lantern"}

// changeLight goes to the next light and remembers it on this phone.
func (h *Handler) changeLight(w http.ResponseWriter, r *http.Request) error {
	next := lights[0]
	for i, known := range lights {
		if lightOf(r) == known {
			next = lights[(i+1)%len(lights)]
		}
	}
	if lightOf(r) == "" {
		next = lights[1]
	}
	http.SetCookie(w, &http.Cookie{Name: lightCookie, Value: next, Path: "/", Secure: h.settings.Secure, SameSite: http.SameSiteLaxMode, MaxAge: 400 * 24 * 3600})
	http.Redirect(w, r, localPath(r.FormValue("back")), http.StatusSeeOther)
	return nil
}

// localPath keeps a redirect on this site.
func localPath(to string) string {
	// Browsers drop tabs and line ends from an address and take a backslash for a slash.
	if !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.Contains(to, `\`) || strings.ContainsFunc(to, unicode.IsControl) {
		return "/"
	}
	return to
}
