package email

import (
	"bytes"
	"context"
	"crypto/tls"
	"errors"
	"net"
	"strconv"
	"time"

	"github.com/emersion/go-smtp"

	"leground/notify"
)

// problem is what stopped a session: at which step, why, and how long we had waited for it at most.
type problem struct {
	at      step
	err     error
	wait    time.Duration
	stopped error // why the caller's context ended, if it did
}

// session is one link to the server that is ready for mail.
type session struct {
	conn   cutConn
	client *smtp.Client
}

// step runs one exchange and cuts the link when it takes longer than wait or ctx ends.
func (s *session) step(ctx context.Context, at step, wait time.Duration, do func() error) *problem {
	bounded, cancel := context.WithTimeout(ctx, wait)
	defer cancel()
	defer context.AfterFunc(bounded, s.conn.cut)()
	if err := do(); err != nil {
		return &problem{at: at, err: err, wait: wait, stopped: ctx.Err()}
	}
	return nil
}

// dial makes a link that is encrypted as set and signed in.
func (c *Channel) dial(ctx context.Context) (*session, *problem) {
	dialer := net.Dialer{Timeout: c.waits.connect}
	address := net.JoinHostPort(c.set.Host, strconv.Itoa(c.set.Port))
	raw, err := dialer.DialContext(ctx, "tcp", address)
	if err != nil {
		return nil, &problem{at: stepConnect, err: err, wait: c.waits.connect, stopped: ctx.Err()}
	}
	s := &session{conn: cutConn{raw}}
	p := c.greet(ctx, s)
	if p == nil {
		p = c.signIn(ctx, s)
	}
	if p != nil {
		s.close()
		return nil, p
	}
	return s, nil
}

// greet encrypts the link, reads the greeting and says EHLO.
func (c *Channel) greet(ctx context.Context, s *session) *problem {
	config := &tls.Config{ServerName: c.set.Host, RootCAs: c.set.Roots, MinVersion: tls.VersionTLS12}
	switch c.set.Security {
	case ImplicitTLS:
		link := tls.Client(s.conn, config)
		if p := s.step(ctx, stepTLS, c.waits.tls, link.Handshake); p != nil {
			return p
		}
		s.client = smtp.NewClient(link)
	case StartTLS:
		p := s.step(ctx, stepStartTLS, c.waits.greet, func() (err error) {
			s.client, err = smtp.NewClientStartTLS(s.conn, config)
			return err
		})
		if p != nil {
			return p
		}
	default:
		s.client = smtp.NewClient(s.conn)
	}
	return s.step(ctx, stepGreeting, c.waits.greet, func() error { return s.client.Hello(c.set.hello()) })
}

// deliver sends one message over a session that has none under way, and gives the server's last answer.
func (c *Channel) deliver(ctx context.Context, s *session, to string, raw []byte) (answer string, p *problem) {
	options := &smtp.MailOptions{Size: int64(len(raw)), UTF8: !isASCII(to)}
	if p := s.step(ctx, stepMail, c.waits.command, func() error { return s.client.Mail(c.set.From, options) }); p != nil {
		return "", p
	}
	if p := s.step(ctx, stepRcpt, c.waits.command, func() error { return s.client.Rcpt(to, nil) }); p != nil {
		return "", p
	}
	var body *smtp.DataCommand
	p = s.step(ctx, stepData, c.waits.data, func() (err error) { body, err = s.client.Data(); return err })
	if p != nil {
		return "", p
	}
	p = s.step(ctx, stepBody, c.waits.body, func() error { _, err := bytes.NewReader(raw).WriteTo(body); return err })
	if p != nil {
		return "", p
	}
	// From here on the server may have the whole message: part of it may still stand in our buffer, and
	// the dot goes out with it.
	p = s.step(ctx, stepDot, c.waits.dot, func() error {
		reply, err := body.CloseWithResponse()
		if code, _, said := replyOf(err); code/100 == 2 {
			answer, err = said, nil // 251 and the like: taken
		} else if err == nil {
			answer = "250 " + reply.StatusText
		}
		return err
	})
	return answer, p
}

// quit says goodbye. The mail was taken long before, so whatever is answered changes nothing.
func (c *Channel) quit(s *session) {
	_ = s.step(context.Background(), stepConnect, c.waits.quit, s.client.Quit)
	s.close()
}

// close drops the link at once.
func (s *session) close() {
	s.conn.cut()
	s.conn.Conn.Close()
}

// isStale tells that a kept link had been closed by the server meanwhile, so that a new one may be tried
// at once: nothing of the message had been said.
func (p *problem) isStale() bool {
	code, _, _ := replyOf(p.err)
	return p.at == stepMail && (code == 0 || code == 421) && p.stopped == nil
}

// failure puts a problem into the class and the words that people see.
func (c *Channel) failure(p *problem, to string) *notify.Failure {
	code, enhanced, answer := replyOf(p.err)
	f := &notify.Failure{Class: classOf(p.at, code, enhanced), Code: code, Answer: c.discreet(answer),
		SlowDown: asksToSlow(p.at, code, enhanced), Err: errors.Join(p.err, p.stopped)}
	if class, isOurs := classOfLocal(p); isOurs {
		f.Class = class
	}
	if f.Class == 0 { // a reply that accepts where the library wanted another one
		f.Class = notify.ServerTrouble
	}
	f.What, f.Advice = c.explain(p, f, to)
	return f
}
