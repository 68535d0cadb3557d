package notifytest

import (
	"bytes"
	"crypto/tls"
	"errors"
	"net"
	"strings"
	"sync"
	"time"
)

// Step is where a Sink can fail.
type Step string

// The steps of a mail's way into a server. AtBody is while the message is being read, AtDot after it was
// read whole.
const (
	AtGreeting Step = "greeting"
	AtHello    Step = "hello"
	AtStartTLS Step = "starttls"
	AtAuth     Step = "auth"
	AtMail     Step = "mail"
	AtRcpt     Step = "rcpt"
	AtData     Step = "data"
	AtBody     Step = "body"
	AtDot      Step = "dot"
)

// Action is what a Sink does instead of going on.
type Action int

// The actions. A message at whose dot the link hangs, drips or dies has been taken all the same: only the
// answer is swallowed.
const (
	Refuse Action = iota + 1 // answer with Fault.Reply
	Hang                     // say nothing more
	Drip                     // say a little now and then, for ever
	Die                      // cut the link
)

// Fault is one failure of a Sink. On an encrypted link it needs ImplicitTLS, except at AtStartTLS and
// before: what STARTTLS has encrypted cannot be looked into.
type Fault struct {
	At    Step
	Do    Action
	Reply string // with Refuse: "550 5.1.1 no such person"
	Times int    // how often; 0: always
}

// fault takes the next fault for a step.
func (s *Sink) fault(at Step) (Fault, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for i, f := range s.faults {
		if f.At != at {
			continue
		}
		if f.Times == 1 {
			s.faults = append(s.faults[:i:i], s.faults[i+1:]...)
		} else if f.Times > 1 {
			s.faults[i].Times--
		}
		return f, true
	}
	return Fault{}, false
}

// faultyListener puts the failing layer between the mail server and the link: above the encryption where
// the link is encrypted from the start, below it otherwise.
type faultyListener struct {
	net.Listener
	sink   *Sink
	config *tls.Config
}

// Accept is part of net.Listener.
func (l *faultyListener) Accept() (net.Conn, error) {
	conn, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	l.sink.mu.Lock()
	l.sink.links++
	l.sink.mu.Unlock()
	if l.sink.set.Encryption == ImplicitTLS {
		conn = tls.Server(conn, l.config)
	}
	return &faultyConn{Conn: conn, sink: l.sink, at: AtGreeting, fresh: true}, nil
}

// faultyConn follows the conversation and replaces the server's next reply where a fault is due.
type faultyConn struct {
	net.Conn
	sink *Sink

	mu      sync.Mutex
	at      Step // the command that the server answers next
	fresh   bool // nothing of that answer has been written yet
	mute    bool // the rest of that answer is swallowed
	inData  bool
	blind   bool // encrypted from here on
	partial []byte
}

var errFault = errors.New("the link was cut by a fault")

// Read follows the client's commands.
func (c *faultyConn) Read(p []byte) (int, error) {
	n, err := c.Conn.Read(p)
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.blind || n == 0 {
		return n, err
	}
	if c.inData {
		if f, due := c.sink.fault(AtBody); due {
			c.mu.Unlock()
			defer c.mu.Lock()
			return 0, c.fail(f)
		}
		return n, err
	}
	c.partial = append(c.partial, p[:n]...)
	for {
		line, rest, whole := bytes.Cut(c.partial, []byte("\n"))
		if !whole {
			return n, err
		}
		c.partial = rest
		c.command(strings.ToUpper(string(line)))
	}
}

// command notes which command the next reply answers.
func (c *faultyConn) command(line string) {
	verbs := []struct {
		verb string
		at   Step
	}{{"EHLO", AtHello}, {"HELO", AtHello}, {"STARTTLS", AtStartTLS}, {"AUTH", AtAuth}, {"MAIL", AtMail}, {"RCPT", AtRcpt}, {"DATA", AtData}}
	at := Step("")
	if c.at == AtAuth {
		at = AtAuth // an answer to a challenge has no verb
	}
	for _, v := range verbs {
		if strings.HasPrefix(line, v.verb) {
			at = v.at
		}
	}
	c.at, c.fresh, c.mute = at, true, false
}

// Write passes the server's reply on, or does what a fault says instead.
func (c *faultyConn) Write(p []byte) (int, error) {
	c.mu.Lock()
	if c.blind {
		c.mu.Unlock()
		return c.Conn.Write(p)
	}
	if c.inData {
		c.inData, c.at, c.fresh = false, AtDot, true
	}
	if c.mute {
		c.mu.Unlock()
		return len(p), nil
	}
	fresh := c.fresh
	c.fresh = false
	if f, due := c.sink.fault(c.at); fresh && due {
		c.mute = true
		c.mu.Unlock()
		return len(p), c.fail(f)
	}
	if c.at == AtData && bytes.HasPrefix(p, []byte("354")) {
		c.inData = true
	}
	if c.at == AtStartTLS && bytes.HasPrefix(p, []byte("220")) {
		c.blind = true
	}
	c.mu.Unlock()
	return c.Conn.Write(p)
}

// fail does what a fault says. It returns nil where the conversation may go on.
func (c *faultyConn) fail(f Fault) error {
	if link, encrypted := c.Conn.(*tls.Conn); encrypted {
		if err := link.Handshake(); err != nil { // done by now except at the greeting
			return err
		}
	}
	switch f.Do {
	case Refuse:
		_, err := c.Conn.Write([]byte(f.Reply + "\r\n"))
		if strings.HasPrefix(f.Reply, "421") {
			c.Conn.Close()
		}
		return err
	case Hang:
		<-c.sink.closed
	case Drip:
		say := "250-"
		for {
			if _, err := c.Conn.Write([]byte(say)); err != nil {
				return err
			}
			say = "."
			select {
			case <-c.sink.closed:
				return errFault
			case <-time.After(10 * time.Millisecond):
			}
		}
	}
	c.Conn.Close()
	return errFault
}
