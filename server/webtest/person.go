package webtest

import (
	"bytes"
	"io"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"testing"
)

// Password is every invented person's.
const Password = "four invented words here"

// Person is somebody with a browser without scripts: it keeps cookies and follows no redirect by itself.
type Person struct {
	TB      testing.TB
	Site    *Site
	Name    string
	Email   string
	Client  *http.Client
	Header  http.Header // sent with each request
	address string
}

// Nobody gives somebody who is not signed in.
func (s *Site) Nobody() *Person {
	s.TB.Helper()
	jar, err := cookiejar.New(nil)
	check(s.TB, err)
	client := &http.Client{Jar: jar, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	s.TB.Cleanup(client.CloseIdleConnections)
	return &Person{TB: s.TB, Site: s, Client: client, Header: http.Header{}, address: s.address()}
}

// Get asks for a page.
func (p *Person) Get(path string) *Page {
	p.TB.Helper()
	req, err := http.NewRequest(http.MethodGet, p.Site.URL+path, nil)
	check(p.TB, err)
	return p.Do(req)
}

// Post sends an ordinary form.
func (p *Person) Post(path string, values url.Values) *Page {
	p.TB.Helper()
	req, err := http.NewRequest(http.MethodPost, p.Site.URL+path, strings.NewReader(values.Encode()))
	check(p.TB, err)
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return p.Do(req)
}

// Send sends a form of a page as it stands, by its own method and encoding.
func (p *Person) Send(f Form) *Page {
	p.TB.Helper()
	if f.Action == "" {
		p.TB.Fatal("webtest: sending a form that is not there")
	}
	if f.Enctype != "multipart/form-data" {
		return p.Post(f.Action, f.Values)
	}
	var body bytes.Buffer
	parts := multipart.NewWriter(&body)
	for name, values := range f.Values {
		for _, value := range values {
			check(p.TB, parts.WriteField(name, value))
		}
	}
	for name, data := range f.Files {
		part, err := parts.CreateFormFile(name, "IMG_0001.jpg")
		check(p.TB, err)
		_, err = part.Write(data)
		check(p.TB, err)
	}
	check(p.TB, parts.Close())
	req, err := http.NewRequest(http.MethodPost, p.Site.URL+f.Action, &body)
	check(p.TB, err)
	req.Header.Set("Content-Type", parts.FormDataContentType())
	return p.Do(req)
}

// Do sends a request with the person's cookies and headers.
func (p *Person) Do(req *http.Request) *Page {
	p.TB.Helper()
	for name, values := range p.Header {
		req.Header[name] = values
	}
	if !p.Site.direct {
		req.Header.Set("X-Forwarded-For", p.address)
	}
	res, err := p.Client.Do(req)
	check(p.TB, err)
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	check(p.TB, err)
	return &Page{TB: p.TB, Path: req.URL.RequestURI(), Status: res.StatusCode, Header: res.Header, Body: body}
}

// Session gives the value of the person's session cookie; empty when they are not signed in.
func (p *Person) Session() string {
	address, err := url.Parse(p.Site.URL)
	check(p.TB, err)
	for _, c := range p.Client.Jar.Cookies(address) {
		if c.Name == "leground" {
			return c.Value
		}
	}
	return ""
}

// keep gives the person a session's cookie.
func (p *Person) keep(session string) {
	p.TB.Helper()
	address, err := url.Parse(p.Site.URL)
	check(p.TB, err)
	p.Client.Jar.SetCookies(address, []*http.Cookie{{Name: "leground", Value: session, Path: "/"}})
}

// In gives the same person seen from a subtest, so that its failures are the subtest's.
func (p *Person) In(tb testing.TB) *Person {
	copied := *p
	copied.TB = tb
	return &copied
}
