package server_test

import (
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net/mail"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"leground/notify/email"
	"leground/notify/notifytest"
	"leground/server/webtest"
)

// sink starts a mail server with TLS from the first byte and a sign-in, and gives the settings to use it.
func sink(tb testing.TB) (*notifytest.Sink, *email.Settings) {
	tb.Helper()
	s, err := notifytest.StartSink(notifytest.SinkSettings{Encryption: notifytest.ImplicitTLS, Mechanisms: []string{"PLAIN"}, User: "yard", Password: "a made-up password"})
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(s.Close)
	return s, &email.Settings{Host: "localhost", Port: s.Port, Security: email.ImplicitTLS, SignIn: email.Password, User: "yard",
		Password: "a made-up password", From: "yard@marlpit.example", Roots: s.Roots}
}

// letter is a mail as its reader sees it.
type letter struct {
	To, Subject, Text, HTML string
	Header                  mail.Header
}

// read takes a mail apart with the standard library.
func read(tb testing.TB, raw string) letter {
	tb.Helper()
	check := func(err error) {
		if err != nil {
			tb.Fatalf("%v in\n%s", err, raw)
		}
	}
	m, err := mail.ReadMessage(strings.NewReader(raw))
	check(err)
	out := letter{Header: m.Header, To: m.Header.Get("To")}
	out.Subject, err = new(mime.WordDecoder).DecodeHeader(m.Header.Get("Subject"))
	check(err)
	_, params, err := mime.ParseMediaType(m.Header.Get("Content-Type"))
	check(err)
	for parts := multipart.NewReader(m.Body, params["boundary"]); ; {
		part, err := parts.NextRawPart()
		if err == io.EOF {
			return out
		}
		check(err)
		var body io.Reader = part
		if part.Header.Get("Content-Transfer-Encoding") == "quoted-printable" {
			body = quotedprintable.NewReader(part)
		}
		text, err := io.ReadAll(body)
		check(err)
		if strings.HasPrefix(part.Header.Get("Content-Type"), "text/plain") {
			out.Text = string(text)
		} else {
			out.HTML = string(text)
		}
	}
}

var link = regexp.MustCompile(`http://yard\.example(/message/[^/\s"]+/(?:on-it|later|stop))`)

// paths gives the links in a mail that act, by what they do.
func (l letter) paths() map[string]string {
	out := map[string]string{}
	for _, m := range link.FindAllStringSubmatch(l.Text, -1) {
		out[m[1][strings.LastIndex(m[1], "/")+1:]] = m[1]
	}
	return out
}

// The night of 24 to 25 October 2026 in Europe/London: at 01:00 UTC the clocks go back from 02:00 to 01:00, so
// that 01:30 comes twice (the zone data of IANA; RFC 5545 3.3.5 takes the first). A yard has a round at 01:30, at
// 07:00 and at 18:30 and the rules of a new yard: the first person at once and once more after 45 minutes, a second
// one after 90, at most 4 messages a person and day, of which calls to come keep their part. The mails that this
// means are written down here by hand. They go to a real mail server with TLS and sign-in.
func TestChangedNight(t *testing.T) {
	box, settings := sink(t)
	start := time.Date(2026, 10, 24, 20, 0, 0, 0, time.UTC)
	site := webtest.Start(t, webtest.Options{Now: start, Base: "http://yard.example", Mail: settings})
	yard := site.Marl()
	rules := yard.Owner.Get("/rules").Form("/rules").With("slot1_name", "night").With("slot1_at", "01:30").With("slot2_name", "morning").
		With("slot2_at", "07:00").With("slot3_name", "evening").With("slot3_at", "18:30")
	yard.Owner.Send(rules).Redirects("/rules")

	type sent struct{ at, to, what string }
	ada, bea := yard.Owner.Email, yard.Carer.Email
	want := []sent{
		{"00:30", ada, "Night round, Sun 25 Oct, 01:30"}, // the first 01:30
		{"01:15", ada, "Night round not received yet"},
		{"02:00", bea, "Can you look? Night round not received yet"},
		// At 02:10 Bea says that she is on it. Nothing is received, but nobody is left to ask.
		{"07:00", ada, "Morning round, Sun 25 Oct, 07:00"},
		// No nudge at 07:45: of her 4 messages on this day Ada has had 3, and the evening keeps one.
		{"08:30", bea, "Can you look? Morning round not received yet"},
		{"18:30", ada, "Evening round, Sun 25 Oct, 18:30"},
		// All is received by 18:45, so nothing follows.
	}
	var got []sent
	ids := map[string]bool{}
	for now := start; now.Before(start.Add(24 * time.Hour)); now = now.Add(5 * time.Minute) {
		site.Clock.Set(now)
		before := len(box.Mails())
		site.Run()
		for _, m := range box.Mails()[before:] {
			l := read(t, m.Raw)
			got = append(got, sent{now.Format("15:04"), m.To, strings.TrimSuffix(strings.TrimPrefix(l.Subject, ring), ", Marlpit Yard")})
			checkLetter(t, l, ids)
			show(t, len(got), l)
		}
		switch now.Format("15:04") {
		case "02:10":
			press := read(t, box.Mails()[2].Raw).paths()["on-it"]
			page := site.Nobody().Get(press).Is(200).Says("I am on it", "Night round", "Nobody is asked about it for an hour")
			site.Nobody().Send(page.Form(press)).Is(200).Says("Noted, Bea.")
			yard.Owner.Get("/").Says("Bea at 02:10: on it.")
		case "09:00":
			everything(yard, yard.Carer)
		case "18:45":
			everything(yard, yard.Owner)
		}
	}
	if !slices.Equal(got, want) {
		t.Errorf("sent:\n%s\nwant:\n%s", lines(got), lines(want))
	}
	yard.Owner.Get("/").Says("Sun 25 Oct, night round: no record.")
	yard.Owner.Get("/reminders").Says("Evening round: first message", "The receiving server accepted it.")
	states := strings.Join(site.Dump()["round"], "\n")
	for day, state := range map[string]string{"night": "no-record", "morning": "done", "evening": "done"} {
		if !regexp.MustCompile(`day=2026-10-25 .*slot=` + day + ` .*state=` + state).MatchString(states) {
			t.Errorf("the %s round is not %s:\n%s", day, state, states)
		}
	}
	if signed := box.SignedIn(); len(signed) == 0 || signed[0] != "PLAIN" {
		t.Errorf("signed in by %v", signed)
	}
}

// ring stands before each subject: both horses have a wound, and nobody knows their last tetanus dose.
const ring = "Ring the vet today. "

// checkLetter holds a mail to what every mail must be: RFC 5322 (an id of its own), RFC 3834 (made by a machine),
// RFC 2369 (an address that stops it), and never a word that blames.
func checkLetter(t *testing.T, l letter, ids map[string]bool) {
	t.Helper()
	id := l.Header.Get("Message-ID")
	if id == "" || ids[id] || l.Header.Get("Auto-Submitted") != "auto-generated" ||
		l.Header.Get("List-Unsubscribe") != "<http://yard.example"+l.paths()["stop"]+">" {
		t.Errorf("the header of %q: %v", l.Subject, l.Header)
	}
	ids[id] = true
	for _, text := range []string{l.Text, l.HTML} {
		for _, must := range []string{"Bramble", "Old Tom", "Juniper", "01234 000000", "This is not a diagnosis.", "I am on it", "Tell me later"} {
			if !strings.Contains(text, must) {
				t.Errorf("%q does not say %q", l.Subject, must)
			}
		}
		if lower := strings.ToLower(text); strings.Contains(lower, "not done") || strings.Contains(lower, "missed") {
			t.Errorf("%q blames", l.Subject)
		}
	}
}

func lines[T any](list []T) string {
	var out []string
	for _, x := range list {
		out = append(out, fmt.Sprint(x))
	}
	return strings.Join(out, "\n")
}

// show writes a mail to the folder that LEGROUND_SHOTS names, for somebody to look at.
func show(tb testing.TB, n int, l letter) {
	if folder := os.Getenv("LEGROUND_SHOTS"); folder != "" {
		for name, text := range map[string]string{"txt": "Subject: " + l.Subject + "\nTo: " + l.To + "\n\n" + l.Text, "html": l.HTML} {
			if err := os.WriteFile(filepath.Join(folder, fmt.Sprintf("night-%d.%s", n, name)), []byte(text), 0o644); err != nil {
				tb.Fatal(err)
			}
		}
	}
}

// everything records every leg line and card of the round that is on.
func everything(y *webtest.Yard, p *webtest.Person) {
	p.TB.Helper()
	for _, f := range p.Get("/round").Forms() {
		switch f.Action {
		case "/round/leg":
			p.Send(f.With("clear", "1")).Redirects("/round?saved=")
		case "/round/site":
			form := f.With("not_judged", "1")
			if _, asked := f.Values["length"]; asked {
				form = form.With("length", "40").With("width", "25")
			}
			p.Send(form).Redirects("/round?saved=")
		}
	}
}
