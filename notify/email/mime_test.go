package email

import (
	"bufio"
	"maps"
	"mime"
	"net/mail"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"leground/notify"
	"leground/notify/notifytest"
)

// hostile holds names that have broken mail elsewhere (common knowledge, no source).
var hostile = []string{
	"Bramble", "", "\r\n", "Bramble\r\nBcc: all@example.org\r\n\r\nHello", ".\r\n.\r\nQUIT\r\n", "\x00\x01\x7f", "\xff\xfe\xc3\x28",
	"=?utf-8?q?hello=0D=0ABcc:_eve?=", "a\"b\\c", "(comment) <eve@example.org>", "a, b; c: d", "\u202eelbmarB", "שחור 5\u00a0mL", "العربية", "🐴👩🏽‍🌾🇬🇧",
	strings.Repeat("é", 2000), strings.Repeat("🐴", 2000), strings.Repeat("a ", 1000), strings.Repeat("x", 2000), "Z̸̧̢͎̤a̷l̶g̵o̴", "--=_boundary--", "From Bramble",
}

// checkMail reads a mail with the standard library and compares what a reader sees with what was meant.
func checkMail(t *testing.T, m notify.Message) {
	t.Helper()
	raw, err := write(m, "reminders@marlpit.example", "ada@marlpit.example")
	if err != nil {
		t.Fatal(err)
	}
	if again, _ := write(m, "reminders@marlpit.example", "ada@marlpit.example"); string(again) != string(raw) {
		t.Error("the same message gave other bytes")
	}
	read := notifytest.Mail{Raw: string(raw)}
	h, err := read.Header()
	if err != nil {
		t.Fatalf("%v\n%q", err, raw)
	}
	want := []string{"Auto-Submitted", "Content-Type", "Date", "From", "List-Unsubscribe", "List-Unsubscribe-Post", "Message-Id",
		"Mime-Version", "References", "Subject", "To"}
	if got := slices.Sorted(maps.Keys(h)); !slices.Equal(got, want) {
		t.Errorf("header fields %v, want %v", got, want)
	}
	subject, err := new(mime.WordDecoder).DecodeHeader(h.Get("Subject"))
	if meant := notify.OneLine(m.Subject, 100); err != nil || subject != meant {
		t.Errorf("subject %q (%v), want %q, from %q", subject, err, meant, h.Get("Subject"))
	}
	from, err := mail.ParseAddress(h.Get("From"))
	if meant := notify.OneLine(m.From, 40); err != nil || from.Name != meant || from.Address != "reminders@marlpit.example" {
		t.Errorf("from %+v (%v), want %q, from %q", from, err, meant, h.Get("From"))
	}
	if to, err := mail.ParseAddressList(h.Get("To")); err != nil || len(to) != 1 || to[0].Address != "ada@marlpit.example" {
		t.Errorf("to %v (%v)", to, err)
	}
	lines := bufio.NewScanner(strings.NewReader(string(raw)))
	for lines.Scan() {
		if line := lines.Text(); len(line) > 78 || !isASCII(line) || strings.ContainsRune(line, '\r') {
			t.Errorf("a line of %d bytes, longer than 78 (RFC 5322 2.1.1; 76 with an encoded word, RFC 2047 2) or not plain: %q", len(line), line)
		} else if strings.Contains(line, "=?utf-8?") && len(line) > 76 {
			t.Errorf("a line of %d bytes with an encoded word: %q", len(line), line)
		}
	}
	if strings.Count(string(raw), "\n") != strings.Count(string(raw), "\r\n") {
		t.Error("a line end without a carriage return")
	}
	text, page := parts(t, string(raw))
	if text != strings.ReplaceAll(m.Text, "\r\n", "\n") || page != strings.ReplaceAll(m.HTML, "\r\n", "\n") {
		t.Errorf("the parts do not read back: %q", text)
	}
	if len(raw) > notify.MaxBytes {
		t.Errorf("%d bytes", len(raw))
	}
}

// FuzzMail: whatever the yard, the horses and the people are called, a mail has the header fields that
// we meant and no others, reads back as it was, and keeps its lines short.
func FuzzMail(f *testing.F) {
	for i, s := range hostile {
		f.Add(s, hostile[(i+7)%len(hostile)])
	}
	f.Fuzz(func(t *testing.T, yard, horse string) {
		words, err := notify.Compose(notify.Content{Kind: notify.RoundDue, Yard: yard, Round: "morning round", Due: "Tue 14 May, 07:00",
			Horses:   []notify.Horse{{Name: horse, Note: yard, Legs: []notify.Leg{{Name: "right hind", What: horse}}}},
			Cautions: []notify.Caution{{Level: "Ring the vet today", Where: horse, Seen: yard, Ring: horse, Number: yard}}})
		if err != nil {
			t.Fatal(err)
		}
		m := reminder("0190")
		m.From, m.Words = yard, words
		checkMail(t, m)
		m.Subject = horse + yard
		if !utf8.ValidString(m.Subject) {
			m.Subject = strings.ToValidUTF8(m.Subject, "?")
		}
		checkMail(t, m)
	})
}

// TestHugeMail: a yard with 500 horses and the longest names still makes a mail under 64 KiB.
func TestHugeMail(t *testing.T) {
	for _, name := range hostile {
		c := notify.Content{Kind: notify.RoundDue, Yard: name, Round: name, Due: name}
		for range 500 {
			legs := make([]notify.Leg, 8)
			for i := range legs {
				legs[i] = notify.Leg{Name: name, What: name}
			}
			c.Horses = append(c.Horses, notify.Horse{Name: name, Note: name, Legs: legs})
			c.Lines = append(c.Lines, name)
		}
		words, err := notify.Compose(c)
		if err != nil {
			t.Fatal(err)
		}
		m := reminder("0190")
		m.From, m.Words = name, words
		checkMail(t, m)
	}
}

// TestMalformedIDs: a Message-ID that could end its line or its brackets is a fault of ours, not a mail.
func TestMalformedIDs(t *testing.T) {
	for _, id := range []string{"", "r.1", "r.1@", "r 1@marlpit.example", "r.1@marlpit.example>\r\nBcc: <eve@example.org", "r.1@a@b"} {
		m := reminder("1")
		m.MessageID = id
		if _, err := write(m, "a@marlpit.example", "b@marlpit.example"); err == nil {
			t.Errorf("%q was written", id)
		}
	}
}
