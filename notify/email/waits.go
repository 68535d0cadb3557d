package email

import (
	"net"
	"time"
)

// waits bounds each step as a whole.
type waits struct {
	connect time.Duration
	tls     time.Duration
	greet   time.Duration // greeting and EHLO
	command time.Duration // MAIL, RCPT, AUTH, STARTTLS
	data    time.Duration // the answer to DATA
	body    time.Duration // the message up to its final dot
	dot     time.Duration // the answer to the final dot
	quit    time.Duration
	idle    time.Duration // how long a link that worked is kept for the next mail
}

// standardWaits are those of RFC 5321 4.5.3.2 where it names one; connect, TLS, quit and idle are ours.
func standardWaits() waits {
	return waits{connect: 30 * time.Second, tls: time.Minute, greet: 5 * time.Minute, command: 5 * time.Minute,
		data: 2 * time.Minute, body: 3 * time.Minute, dot: 10 * time.Minute, quit: 2 * time.Second, idle: 5 * time.Second}
}

// cutConn is a link whose deadlines are ours alone. The mail library sets its own around each command and
// would undo a cut; closing TLS sets one too.
type cutConn struct{ net.Conn }

// cut ends every read and write on the link, now and later.
func (c cutConn) cut() { c.Conn.SetDeadline(time.Unix(1, 0)) }

// SetDeadline does nothing.
func (cutConn) SetDeadline(time.Time) error { return nil }

// SetReadDeadline does nothing.
func (cutConn) SetReadDeadline(time.Time) error { return nil }

// SetWriteDeadline does nothing.
func (cutConn) SetWriteDeadline(time.Time) error { return nil }
