package server

import (
	"testing"

	"leground/notify/email"
)

// The part behind the @ of a Message-ID is a domain of the sender's, so that it is unlike any other's (RFC 5322, 3.6.4).
func TestMailHost(t *testing.T) {
	mail := &email.Settings{From: "reminders@marlpit.example"}
	for base, want := range map[string]string{
		"https://yard.example": "yard.example", "https://yard.example:8443": "yard.example", "http://127.0.0.1:8400": "marlpit.example",
		"https://[fd00::1]:8443": "marlpit.example", "http://localhost:8400": "marlpit.example", "http://:8400": "marlpit.example",
	} {
		if got := (Settings{Base: base, Mail: mail}).mailHost(); got != want {
			t.Errorf("at %s messages are of %q, want %q", base, got, want)
		}
	}
	if got := (Settings{Base: "http://127.0.0.1:8400"}).mailHost(); got != "leground.invalid" {
		t.Errorf("without mail they are of %q", got)
	}
}
