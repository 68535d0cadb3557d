package email

import (
	"crypto/x509"
	"fmt"
	"net/mail"
	"strings"

	"leground/tracker"
)

// Security is how the link to the server is encrypted. The zero Security is none of them.
type Security int

// The ways.
const (
	ImplicitTLS Security = iota + 1 // from the first byte, usually port 465 (RFC 8314)
	StartTLS                        // by STARTTLS before anything else, usually port 587 or 25 (RFC 3207)
	NoTLS                           // never; only without sign-in, for a relay on this machine
)

// SignIn is how the account proves itself. The zero SignIn is none of them.
type SignIn int

// The ways.
const (
	NoSignIn SignIn = iota + 1
	Password        // PLAIN where the server offers it (RFC 4616), else LOGIN
	Bearer          // a token: OAUTHBEARER where the server offers it (RFC 7628), else XOAUTH2
)

// Settings is one mail account.
type Settings struct {
	Host     string // the server's name, which its certificate must bear
	Port     int
	Security Security
	SignIn   SignIn
	User     string
	Password string
	Grant    *Grant         // where tokens come from, with Bearer
	From     string         // the sender's address
	Hello    string         // our name in EHLO; empty: the domain of From
	Roots    *x509.CertPool // authorities to trust; nil: those of the system
}

// Check tells in words what is missing or cannot be. Its fields are named as in Settings, in lower case.
func (s Settings) Check() error {
	var p tracker.Problems
	if s.Host == "" || strings.ContainsAny(s.Host, " /:@\r\n") {
		p.Add("host", "The mail server must be a name, like smtp.example.org.")
	}
	if s.Port < 1 || s.Port > 65535 {
		p.Add("port", "The port must be a number from 1 to 65535, like 465 or 587.")
	}
	if s.Security < ImplicitTLS || s.Security > NoTLS {
		p.Add("security", "Choose how the link is encrypted: from the start (port 465) or by STARTTLS (port 587).")
	}
	if s.SignIn < NoSignIn || s.SignIn > Bearer {
		p.Add("signin", "Choose how to sign in: with a password, with a token, or not at all.")
	}
	if s.Security == NoTLS && s.SignIn != NoSignIn {
		p.Add("security", "A password is never sent without encryption. Choose encryption, or a server that asks for no sign-in.")
	}
	if s.SignIn > NoSignIn && s.User == "" {
		p.Add("user", "Signing in needs a user name, often the whole mail address.")
	}
	if s.SignIn == Password && s.Password == "" {
		p.Add("password", "Signing in needs the password of the mail account.")
	}
	if s.SignIn == Bearer && s.Grant == nil {
		p.Add("token", "Signing in with a token needs a way to get one.")
	} else if s.SignIn == Bearer && s.Grant.check() != "" {
		p.Add("token", s.Grant.check())
	}
	if a, err := cleanAddress(s.From); err != nil || !isASCII(a) {
		p.Add("from", "The sender must be a mail address, like reminders@example.org.")
	}
	if strings.ContainsAny(s.Hello, " \r\n") {
		p.Add("hello", "The name of this machine must be a name without spaces, like yard.example.org.")
	}
	return p.Err()
}

// hello is our name in EHLO.
func (s Settings) hello() string {
	if s.Hello != "" {
		return s.Hello
	}
	return s.Domain()
}

// Domain is that of the sender's address.
func (s Settings) Domain() string { return s.From[strings.LastIndexByte(s.From, '@')+1:] }

// cleanAddress gives the bare address of a mail address as typed. Addresses that need quotes are refused:
// they are not used by people, and they are the way to smuggle a second command into a line.
func cleanAddress(text string) (string, error) {
	a, err := mail.ParseAddress(text)
	if err != nil {
		return "", fmt.Errorf("%.80q is not a mail address like ada@example.org", text)
	}
	local, domain, _ := strings.Cut(a.Address, "@")
	odd := func(r rune) bool { return r <= ' ' || r == 0x7f || strings.ContainsRune(`"(),:;<>@[\]`, r) }
	if local == "" || domain == "" || len(local) > 64 || len(a.Address) > 254 || strings.ContainsFunc(local, odd) || strings.ContainsFunc(domain, odd) {
		return "", fmt.Errorf("%.80q is not a mail address like ada@example.org", text)
	}
	return a.Address, nil
}

func isASCII(text string) bool {
	return !strings.ContainsFunc(text, func(r rune) bool { return r > 0x7f })
}
