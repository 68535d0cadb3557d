package notifytest

import (
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"io"
	"log"
	"net"
	"net/mail"
	"slices"
	"strings"
	"sync"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
)

// Encryption is how a Sink encrypts its links.
type Encryption int

// The ways.
const (
	ImplicitTLS Encryption = iota + 1
	StartTLS
	NoTLS
)

// SinkSettings says what kind of mail server a Sink is.
type SinkSettings struct {
	Encryption Encryption
	Mechanisms []string // offered for signing in, such as PLAIN, LOGIN, XOAUTH2, OAUTHBEARER; none: no sign-in
	User       string
	Password   string
	Token      string // the bearer token that is good now
	OtherName  bool   // its certificate bears another name
}

// Mail is one message that a Sink took.
type Mail struct {
	From string
	To   string
	Raw  string
}

// Header reads the mail's header with the standard library.
func (m Mail) Header() (mail.Header, error) {
	read, err := mail.ReadMessage(strings.NewReader(m.Raw))
	if err != nil {
		return nil, err
	}
	return read.Header, nil
}

// Sink is a mail server on 127.0.0.1 that keeps what it takes and can be told to fail at any step.
type Sink struct {
	Port  int
	Roots *x509.CertPool // trusts its certificate

	set      SinkSettings
	server   *smtp.Server
	listener net.Listener
	closed   chan struct{}
	serving  sync.WaitGroup

	mu       sync.Mutex
	faults   []Fault
	links    int
	signedIn []string // mechanism of each good sign-in
	mails    []Mail
}

// StartSink starts a mail server. Close it in the end.
func StartSink(set SinkSettings) (*Sink, error) {
	certificate, roots, err := selfSigned(set.OtherName)
	if err != nil {
		return nil, err
	}
	raw, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	s := &Sink{Port: raw.Addr().(*net.TCPAddr).Port, Roots: roots, set: set, closed: make(chan struct{})}
	config := &tls.Config{Certificates: []tls.Certificate{certificate}}
	s.server = smtp.NewServer(smtp.BackendFunc(func(c *smtp.Conn) (smtp.Session, error) { return &sinkSession{sink: s}, nil }))
	s.server.Domain = "sink.example"
	s.server.ErrorLog = log.New(io.Discard, "", 0)
	s.server.EnableSMTPUTF8 = true
	// The server cannot see encryption below the layer that fails, so it may not insist on it. That no
	// password comes in the clear is the client's to keep, and is tested there.
	s.server.AllowInsecureAuth = set.Encryption != StartTLS
	if set.Encryption == StartTLS {
		s.server.TLSConfig = config
	}
	s.listener = &faultyListener{Listener: raw, sink: s, config: config}
	s.serving.Go(func() { s.server.Serve(s.listener) })
	return s, nil
}

// Close stops the server and cuts every link.
func (s *Sink) Close() {
	close(s.closed)
	s.server.Close()
	s.serving.Wait()
}

// Fail adds a fault; see Fault. Mend takes all of them back.
func (s *Sink) Fail(f Fault) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.faults = append(s.faults, f)
}

// Mend takes back every fault.
func (s *Sink) Mend() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.faults = nil
}

// SetToken changes the bearer token that is good.
func (s *Sink) SetToken(token string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.set.Token = token
}

// Mails gives the messages taken so far, in order.
func (s *Sink) Mails() []Mail {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.mails)
}

// Links counts the connections made so far.
func (s *Sink) Links() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.links
}

// SignedIn lists the mechanism of each good sign-in so far.
func (s *Sink) SignedIn() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.signedIn)
}

// sinkSession is one client of a Sink.
type sinkSession struct {
	sink  *Sink
	known bool // signed in
	from  string
	to    string
}

// Reset is part of smtp.Session.
func (s *sinkSession) Reset() { s.from, s.to = "", "" }

// Logout is part of smtp.Session.
func (s *sinkSession) Logout() error { return nil }

// Mail is part of smtp.Session.
func (s *sinkSession) Mail(from string, _ *smtp.MailOptions) error {
	if len(s.sink.set.Mechanisms) > 0 && !s.known {
		return &smtp.SMTPError{Code: 530, EnhancedCode: smtp.EnhancedCode{5, 7, 0}, Message: "Authentication required"}
	}
	s.from = from
	return nil
}

// Rcpt is part of smtp.Session.
func (s *sinkSession) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.to = to
	return nil
}

// Data is part of smtp.Session: it keeps the message unless a fault refuses it.
func (s *sinkSession) Data(r io.Reader) error {
	raw, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	s.sink.mu.Lock()
	defer s.sink.mu.Unlock()
	for _, f := range s.sink.faults {
		if f.At == AtDot && f.Do == Refuse {
			return fmt.Errorf("refused by a fault")
		}
	}
	s.sink.mails = append(s.sink.mails, Mail{From: s.from, To: s.to, Raw: string(raw)})
	return nil
}

// AuthMechanisms is part of smtp.AuthSession.
func (s *sinkSession) AuthMechanisms() []string { return s.sink.set.Mechanisms }

// Auth is part of smtp.AuthSession.
func (s *sinkSession) Auth(mechanism string) (sasl.Server, error) {
	if !slices.Contains(s.sink.set.Mechanisms, mechanism) {
		return nil, smtp.ErrAuthUnknownMechanism
	}
	check := func(user, password string) error {
		return s.check(mechanism, user == s.sink.set.User && password == s.sink.set.Password)
	}
	s.sink.mu.Lock()
	token := s.sink.set.Token
	s.sink.mu.Unlock()
	switch mechanism {
	case sasl.Plain:
		return sasl.NewPlainServer(func(_, user, password string) error { return check(user, password) }), nil
	case sasl.Login:
		return &loginServer{check: check}, nil
	case sasl.OAuthBearer:
		return sasl.NewOAuthBearerServer(func(o sasl.OAuthBearerOptions) *sasl.OAuthBearerError {
			if s.check(mechanism, o.Token == token) != nil {
				return &sasl.OAuthBearerError{Status: "invalid_token", Schemes: "bearer"}
			}
			return nil
		}), nil
	}
	want := "user=" + s.sink.set.User + "\x01auth=Bearer " + token + "\x01\x01"
	return &xoauth2Server{check: func(said string) error { return s.check(mechanism, said == want) }}, nil
}

// check ends a sign-in.
func (s *sinkSession) check(mechanism string, good bool) error {
	if !good {
		return smtp.ErrAuthFailed
	}
	s.known = true
	s.sink.mu.Lock()
	defer s.sink.mu.Unlock()
	s.sink.signedIn = append(s.sink.signedIn, mechanism)
	return nil
}

// loginServer is the server's side of LOGIN, which the mail library does not have.
type loginServer struct {
	check func(user, password string) error
	user  *string
}

// Next is part of sasl.Server.
func (l *loginServer) Next(response []byte) (challenge []byte, done bool, err error) {
	switch {
	case response == nil:
		return []byte("Username:"), false, nil
	case l.user == nil:
		user := string(response)
		l.user = &user
		return []byte("Password:"), false, nil
	}
	return nil, true, l.check(*l.user, string(response))
}

// xoauth2Server is the server's side of XOAUTH2: a refusal comes as a challenge first.
type xoauth2Server struct {
	check  func(said string) error
	failed error
}

// Next is part of sasl.Server.
func (x *xoauth2Server) Next(response []byte) (challenge []byte, done bool, err error) {
	if x.failed != nil {
		return nil, false, x.failed
	}
	if x.failed = x.check(string(response)); x.failed != nil {
		return []byte(`{"status":"401","schemes":"bearer"}`), false, nil
	}
	return nil, true, nil
}
