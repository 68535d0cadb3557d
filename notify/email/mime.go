package email

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	stdmail "net/mail"
	"strings"

	"github.com/emersion/go-message"
	"github.com/emersion/go-message/mail"

	"leground/notify"
)

// write gives the bytes of a mail: plain text first, then the page. The same message gives the same
// bytes, so its parts are divided by a boundary made from the Message-ID; "=_" cannot stand in
// quoted-printable text (RFC 2045 6.7 (1)).
func write(m notify.Message, from, to string) ([]byte, error) {
	if !isMessageID(m.MessageID) || m.References != "" && !isMessageID(m.References) {
		return nil, fmt.Errorf("the Message-ID %q or the thread %q is malformed", m.MessageID, m.References)
	}
	sum := sha256.Sum256([]byte(m.MessageID))
	h := header(m, from, to)
	h.SetContentType("multipart/alternative", map[string]string{"boundary": "=_" + hex.EncodeToString(sum[:12])})
	var b bytes.Buffer
	w, err := message.CreateWriter(&b, h.Header)
	if err != nil {
		return nil, err
	}
	for _, part := range []struct{ kind, body string }{{"text/plain", m.Text}, {"text/html", m.HTML}} {
		if err := writePart(w, part.kind, part.body); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	if b.Len() > notify.MaxBytes {
		return nil, fmt.Errorf("the mail has %d bytes, more than %d", b.Len(), notify.MaxBytes)
	}
	return b.Bytes(), nil
}

func writePart(w *message.Writer, kind, body string) error {
	var h message.Header
	h.SetContentType(kind, map[string]string{"charset": "utf-8"})
	h.Set("Content-Transfer-Encoding", "quoted-printable")
	part, err := w.CreatePart(h)
	if err != nil {
		return err
	}
	if _, err := io.WriteString(part, body); err != nil {
		return err
	}
	return part.Close()
}

// header builds the header from its last field to its first, since each new field goes on top.
func header(m notify.Message, from, to string) mail.Header {
	var h mail.Header
	if m.Unsubscribe != "" && !strings.ContainsAny(m.Unsubscribe, "<>\r\n ,") {
		if strings.HasPrefix(m.Unsubscribe, "https://") { // one click needs https (RFC 8058 3.1)
			h.Set("List-Unsubscribe-Post", "List-Unsubscribe=One-Click")
		}
		h.Set("List-Unsubscribe", "<"+m.Unsubscribe+">")
	}
	h.Set("Auto-Submitted", "auto-generated") // RFC 3834 5: nobody's holiday note answers it
	if m.References != "" {
		h.SetMsgIDList("References", []string{m.References})
	}
	h.SetMessageID(m.MessageID)
	h.SetDate(m.Date.UTC())
	h.AddRaw([]byte("Subject: " + words(notify.OneLine(m.Subject, 100)) + "\r\n"))
	h.AddRaw([]byte("To: <" + to + ">\r\n"))
	h.AddRaw([]byte("From: " + mailbox(notify.OneLine(m.From, 40), from) + "\r\n"))
	return h
}

// mailbox writes a name and address (RFC 5322 3.4).
func mailbox(name, address string) string {
	switch {
	case name == "":
		return "<" + address + ">"
	case isASCII(name) && !strings.Contains(name, "=?"):
		return strings.TrimSuffix((&stdmail.Address{Name: name, Address: address}).String(), "<"+address+">") + "\r\n <" + address + ">"
	}
	return words(name) + "\r\n <" + address + ">"
}

// words writes text as a header value. Short plain text stands as it is; anything else becomes encoded
// words on lines of their own, none longer than 76 characters with the field name (RFC 2047 2), no
// character divided between two (RFC 2047 5).
func words(text string) string {
	const most = 52 // encoded characters a word: 76 less "Subject: " and the word's own 12, with room
	if isASCII(text) && len(text) <= 66 && !strings.Contains(text, "=?") {
		return text
	}
	var lines []string
	word := ""
	for _, r := range text {
		code := encoded(r)
		if len(word)+len(code) > most {
			lines, word = append(lines, word), ""
		}
		word += code
	}
	return "=?utf-8?q?" + strings.Join(append(lines, word), "?=\r\n =?utf-8?q?") + "?="
}

// encoded gives one character in the Q encoding, plain only where even a phrase allows it (RFC 2047 5 (3)).
func encoded(r rune) string {
	if r == ' ' {
		return "_"
	}
	if r < 0x80 && (r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z') {
		return string(r)
	}
	var b strings.Builder
	for _, c := range []byte(string(r)) {
		fmt.Fprintf(&b, "=%02X", c)
	}
	return b.String()
}

// isMessageID tells whether an id can stand between angle brackets as it is.
func isMessageID(id string) bool {
	left, right, found := strings.Cut(id, "@")
	odd := func(r rune) bool {
		return !(r >= '0' && r <= '9' || r >= 'A' && r <= 'Z' || r >= 'a' && r <= 'z' || strings.ContainsRune(".-_", r))
	}
	return found && left != "" && right != "" && len(id) <= 200 && !strings.ContainsFunc(left, odd) && !strings.ContainsFunc(right, odd)
}
