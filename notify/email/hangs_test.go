package email

import (
	"context"
	"errors"
	"fmt"
	"net"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leground/notify"
	"leground/notify/notifytest"
)

// TestSilenceAtTheDot is the hardest case: the server has the message and never says so. It is reported
// as perhaps sent, after a bounded wait, and the next try is the same mail byte for byte.
func TestSilenceAtTheDot(t *testing.T) {
	for _, do := range []notifytest.Action{notifytest.Hang, notifytest.Drip, notifytest.Die} {
		sink, c := implicit(t)
		c.waits.dot = 300 * time.Millisecond
		sink.Fail(notifytest.Fault{At: notifytest.AtDot, Do: do, Times: 1})
		start := time.Now()
		_, err := c.Send(t.Context(), reminder("1"))
		f := notify.FailureOf(err)
		if f.Class != notify.Unknown || !strings.Contains(f.Error(), "may have arrived") {
			t.Errorf("action %d: %v: %v", do, f.Class, f)
		}
		if took := time.Since(start); took > 3*time.Second {
			t.Errorf("action %d: the wait of 300 ms took %v", do, took)
		}
		if _, err := c.Send(t.Context(), reminder("1")); err != nil {
			t.Fatal(err)
		}
		mails := sink.Mails()
		if len(mails) != 2 || mails[0] != mails[1] {
			t.Errorf("action %d: two tries of one message differ: %s", do, cmp.Diff(mails[0], mails[len(mails)-1]))
		}
	}
}

// TestHangs holds every step to a bounded wait, whether the server is silent or drips.
func TestHangs(t *testing.T) {
	steps := []notifytest.Step{notifytest.AtGreeting, notifytest.AtHello, notifytest.AtAuth, notifytest.AtMail, notifytest.AtRcpt,
		notifytest.AtData, notifytest.AtBody, notifytest.AtDot}
	for _, at := range steps {
		for _, do := range []notifytest.Action{notifytest.Hang, notifytest.Drip} {
			t.Run(fmt.Sprint(at, do), func(t *testing.T) {
				t.Parallel()
				sink, c := implicit(t)
				short := 300 * time.Millisecond
				c.waits.greet, c.waits.command, c.waits.data, c.waits.body, c.waits.dot = short, short, short, short, short
				sink.Fail(notifytest.Fault{At: at, Do: do})
				start := time.Now()
				_, err := c.Send(t.Context(), reminder("1"))
				took := time.Since(start)
				f := notify.FailureOf(err)
				want := notify.ServerTrouble
				if at == notifytest.AtBody || at == notifytest.AtDot {
					want = notify.Unknown // our part was over: the dot had been written
				}
				if f.Class != want || took > 5*time.Second {
					t.Errorf("after %v: %v: %v", took, f.Class, f)
				}
			})
		}
	}
}

// TestNeverGreets: servers that accept the link and never speak, with each encryption, and one that is
// not there at all.
func TestNeverGreets(t *testing.T) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer listener.Close()
	for _, security := range []Security{ImplicitTLS, StartTLS} {
		set := Settings{Host: "127.0.0.1", Port: listener.Addr().(*net.TCPAddr).Port, Security: security, SignIn: NoSignIn, From: "a@marlpit.example"}
		c := open(t, set)
		c.waits.tls, c.waits.greet = 200*time.Millisecond, 200*time.Millisecond
		start := time.Now()
		_, err := c.Send(t.Context(), reminder("1"))
		if f := notify.FailureOf(err); f.Class != notify.ServerTrouble || time.Since(start) > 3*time.Second || !strings.Contains(f.Error(), "usually 465") {
			t.Errorf("encryption %d after %v: %v: %v", security, time.Since(start), f.Class, f)
		}
		listenerPort := set.Port
		set.Port = freePort(t)
		_, err = open(t, set).Send(t.Context(), reminder("1"))
		if f := notify.FailureOf(err); f.Class != notify.ServerTrouble || !strings.Contains(f.Error(), "could not be reached") {
			t.Errorf("port %d closed, %d open: %v: %v", set.Port, listenerPort, f.Class, f)
		}
	}
}

// freePort gives a port of 127.0.0.1 on which nothing listens.
func freePort(t *testing.T) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().(*net.TCPAddr).Port
}

// TestDiesInTheMiddle: a link that dies while the message is being read is never called sent or lost.
func TestDiesInTheMiddle(t *testing.T) {
	sink, c := implicit(t)
	big := reminder("1")
	big.Text = strings.Repeat("Bramble, right hind.\n", 2000)
	sink.Fail(notifytest.Fault{At: notifytest.AtBody, Do: notifytest.Die, Times: 1})
	_, err := c.Send(t.Context(), big)
	if f := notify.FailureOf(err); f.Class != notify.Unknown && f.Class != notify.ServerTrouble {
		t.Errorf("%v: %v", f.Class, f)
	}
	if _, err := c.Send(t.Context(), big); err != nil {
		t.Fatal(err)
	}
	if n := len(sink.Mails()); n != 1 {
		t.Errorf("%d mails taken", n)
	}
}

// TestStaleLink: a link that was kept and closed by the server meanwhile costs one more connection, not
// a failure; one that fails twice is reported.
func TestStaleLink(t *testing.T) {
	for _, fault := range []notifytest.Fault{
		{At: notifytest.AtMail, Do: notifytest.Refuse, Reply: "421 4.4.2 idle too long", Times: 1},
		{At: notifytest.AtMail, Do: notifytest.Die, Times: 1},
	} {
		sink, c := implicit(t)
		if _, err := c.Send(t.Context(), reminder("1")); err != nil {
			t.Fatal(err)
		}
		sink.Fail(fault)
		if _, err := c.Send(t.Context(), reminder("2")); err != nil {
			t.Error(err)
		}
		if sink.Links() != 2 || len(sink.Mails()) != 2 {
			t.Errorf("%d links, %d mails", sink.Links(), len(sink.Mails()))
		}
		fault.Times = 0
		sink.Fail(fault)
		if _, err := c.Send(t.Context(), reminder("3")); notify.FailureOf(err).Class != notify.ServerTrouble {
			t.Error(err)
		}
	}
}

// TestIdleLinkIsClosed: the kept link is given up after a while, politely.
func TestIdleLinkIsClosed(t *testing.T) {
	sink, c := implicit(t)
	c.waits.idle = 20 * time.Millisecond
	if _, err := c.Send(t.Context(), reminder("1")); err != nil {
		t.Fatal(err)
	}
	for end := time.Now().Add(5 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		c.mu.Lock()
		closed := c.open == nil
		c.mu.Unlock()
		if closed {
			break
		}
		if time.Now().After(end) {
			t.Fatal("the idle link was kept")
		}
	}
	if _, err := c.Send(t.Context(), reminder("2")); err != nil || sink.Links() != 2 {
		t.Errorf("%v over %d links", err, sink.Links())
	}
}

// TestStopped: when the caller stops before the dot, nothing was sent and the failure says it was
// stopped, so that the engine puts the row back.
func TestStopped(t *testing.T) {
	sink, c := implicit(t)
	sink.Fail(notifytest.Fault{At: notifytest.AtRcpt, Do: notifytest.Hang})
	ctx, stop := context.WithCancel(t.Context())
	time.AfterFunc(100*time.Millisecond, stop)
	_, err := c.Send(ctx, reminder("1"))
	if !errors.Is(err, context.Canceled) || notify.FailureOf(err).Class == notify.Unknown || len(sink.Mails()) != 0 {
		t.Errorf("%v", err)
	}
}
