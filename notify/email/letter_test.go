package email

import (
	"context"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net"
	"strings"
	"testing"
	"time"

	"leground/notify"
	"leground/notify/notifytest"
)

// TestMail reads a mail back with the standard library: header fields, both parts, their order.
func TestMail(t *testing.T) {
	sink, c := implicit(t)
	m := reminder("0190")
	if _, err := c.Send(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	taken := sink.Mails()[0]
	h, err := taken.Header()
	if err != nil {
		t.Fatal(err)
	}
	for field, want := range map[string]string{
		"Message-Id": "<r.0190@marlpit.example>", "References": "<t.yard.2026-05-14@marlpit.example>",
		"Date": "Thu, 14 May 2026 06:00:00 +0000", "Auto-Submitted": "auto-generated", "To": "<ada@marlpit.example>",
		"List-Unsubscribe": "<https://marlpit.example/stop/abc>", "List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
		"From": `"Marlpit Yard" <reminders@marlpit.example>`, "Subject": m.Subject, "Mime-Version": "1.0",
	} {
		if got := h[field]; len(got) != 1 || got[0] != want {
			t.Errorf("%s: %q, want %q", field, got, want)
		}
	}
	text, page := parts(t, taken.Raw)
	if text != m.Text || page != m.HTML {
		t.Errorf("text %q\npage %q", text, page)
	}
	if taken.From != "reminders@marlpit.example" || taken.To != "ada@marlpit.example" {
		t.Errorf("envelope %q to %q", taken.From, taken.To)
	}
	m.Unsubscribe = "http://yard.local/stop/abc"
	raw, err := write(m, "reminders@marlpit.example", "ada@marlpit.example")
	if err != nil || strings.Contains(string(raw), "One-Click") || !strings.Contains(string(raw), "List-Unsubscribe: <http://yard.local/stop/abc>") {
		t.Errorf("without https: %v\n%s", err, raw)
	}
}

// parts reads the two parts of a mail with the standard library.
func parts(t *testing.T, raw string) (text, page string) {
	t.Helper()
	m := notifytest.Mail{Raw: raw}
	h, err := m.Header()
	if err != nil {
		t.Fatal(err)
	}
	kind, params, err := mime.ParseMediaType(h.Get("Content-Type"))
	if err != nil || kind != "multipart/alternative" {
		t.Fatalf("content type %q: %v", kind, err)
	}
	_, body, _ := strings.Cut(raw, "\r\n\r\n")
	r := multipart.NewReader(strings.NewReader(body), params["boundary"])
	var got []string
	for _, want := range []string{"text/plain; charset=utf-8", "text/html; charset=utf-8"} {
		part, err := r.NextRawPart()
		if err != nil {
			t.Fatal(err)
		}
		if part.Header.Get("Content-Type") != want || part.Header.Get("Content-Transfer-Encoding") != "quoted-printable" {
			t.Errorf("part header %v, want %s", part.Header, want)
		}
		b, err := io.ReadAll(quotedprintable.NewReader(part))
		if err != nil {
			t.Fatal(err)
		}
		got = append(got, strings.ReplaceAll(string(b), "\r\n", "\n"))
	}
	if _, err := r.NextRawPart(); err != io.EOF {
		t.Errorf("after the second part: %v", err)
	}
	return got[0], got[1]
}

// TestAddresses: what may not be written between angle brackets never reaches a server.
func TestAddresses(t *testing.T) {
	sink, c := implicit(t)
	for _, to := range []string{"", "ada", "ada@", "@marlpit.example", "ada@marlpit.example\r\nRCPT TO:<eve@example.org>",
		`"a@marlpit.example> SIZE=1"@x.example`, `"ada eve"@marlpit.example`, "<ada@marlpit.example", "ada@[127.0.0.1]",
		strings.Repeat("a", 65) + "@marlpit.example", "ada@" + strings.Repeat("a.", 130) + "example", "ada@marlpit.example, eve@marlpit.example"} {
		m := reminder("1")
		m.To = to
		_, err := c.Send(t.Context(), m)
		if f := notify.FailureOf(err); f.Class != notify.BadAddress || len(f.Error()) > 400 {
			t.Errorf("%q: %v: %v", to, f.Class, f)
		}
	}
	if sink.Links() != 0 {
		t.Errorf("a server was asked about a bad address")
	}
	for _, to := range []string{"ada@marlpit.example", "Ada <ada+leg@marlpit.example>", "ädä@märlpit.example"} {
		m := reminder("1")
		m.To = to
		if _, err := c.Send(t.Context(), m); err != nil {
			t.Errorf("%q: %v", to, err)
		}
	}
}

// TestCutStays: once a step is over its time, nothing that the mail library does to the link's deadline
// brings it back.
func TestCutStays(t *testing.T) {
	ours, theirs := net.Pipe()
	defer theirs.Close()
	s := &session{conn: cutConn{ours}}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	start := time.Now()
	p := s.step(ctx, stepMail, time.Minute, func() error {
		time.Sleep(50 * time.Millisecond)
		s.conn.SetDeadline(time.Now().Add(2 * time.Second))
		_, err := s.conn.Read(make([]byte, 1))
		return err
	})
	if took := time.Since(start); p == nil || took > time.Second {
		t.Errorf("%+v after %v", p, took)
	}
}
