package email

import (
	"context"
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"mime/quotedprintable"
	"net"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"leground/notify"
	"leground/notify/notifytest"
	"leground/tracker"
)

const password = "correct horse battery"

// quick are waits short enough for tests, long enough for a busy machine.
func quick() waits {
	return waits{connect: 2 * time.Second, tls: 2 * time.Second, greet: 2 * time.Second, command: 2 * time.Second,
		data: 2 * time.Second, body: 2 * time.Second, dot: 2 * time.Second, quit: time.Second, idle: time.Minute}
}

func startSink(t *testing.T, set notifytest.SinkSettings) *notifytest.Sink {
	t.Helper()
	set.User, set.Password = "reminders@marlpit.example", password
	sink, err := notifytest.StartSink(set)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(sink.Close)
	return sink
}

// account gives settings that fit a sink.
func account(sink *notifytest.Sink, security Security, signIn SignIn) Settings {
	return Settings{Host: "127.0.0.1", Port: sink.Port, Security: security, SignIn: signIn, User: "reminders@marlpit.example",
		Password: password, From: "reminders@marlpit.example", Hello: "yard.marlpit.example", Roots: sink.Roots}
}

func open(t *testing.T, s Settings) *Channel {
	t.Helper()
	c, err := New(s)
	if err != nil {
		t.Fatal(err)
	}
	c.waits = quick()
	t.Cleanup(c.Close)
	return c
}

// implicit is the usual pair of a server and an account for it.
func implicit(t *testing.T) (*notifytest.Sink, *Channel) {
	t.Helper()
	sink := startSink(t, notifytest.SinkSettings{Encryption: notifytest.ImplicitTLS, Mechanisms: []string{"PLAIN"}})
	return sink, open(t, account(sink, ImplicitTLS, Password))
}

func reminder(id string) notify.Message {
	return notify.Message{
		ID: id, Kind: notify.RoundDue, To: "ada@marlpit.example", From: "Marlpit Yard", MessageID: notify.MessageID("r", id, "marlpit.example"),
		References: notify.MessageID("t", "yard.2026-05-14", "marlpit.example"), Date: time.Date(2026, 5, 14, 6, 0, 0, 0, time.UTC),
		Unsubscribe: "https://marlpit.example/stop/abc",
		Words: notify.Words{Subject: "Morning round, Tue 14 May, 07:00, Marlpit Yard", Text: "Morning round.\n.\n.Bramble: 5\u00a0mL\n",
			HTML: "<p>Morning round. Bramble: 5\u00a0mL</p>\n"},
	}
}

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

// TestEncryptionAndSignIn sends over every encryption with every sign-in, and looks at which was used.
func TestEncryptionAndSignIn(t *testing.T) {
	for _, c := range []struct {
		offered []string
		signIn  SignIn
		used    string
	}{
		{[]string{"PLAIN", "LOGIN"}, Password, "PLAIN"},
		{[]string{"LOGIN"}, Password, "LOGIN"},
		{[]string{"XOAUTH2", "PLAIN"}, Bearer, "XOAUTH2"},
		{[]string{"OAUTHBEARER", "XOAUTH2"}, Bearer, "OAUTHBEARER"},
		{nil, NoSignIn, ""},
	} {
		for _, security := range []Security{ImplicitTLS, StartTLS} {
			sink := startSink(t, notifytest.SinkSettings{Encryption: notifytest.Encryption(security), Mechanisms: c.offered, Token: "good"})
			set := account(sink, security, c.signIn)
			set.Grant = startGrant(t, "good").grant()
			ch := open(t, set)
			for i := range 3 {
				receipt, err := ch.Send(t.Context(), reminder(fmt.Sprint(i)))
				if err != nil {
					t.Fatalf("%v %v: %v", c.offered, security, err)
				}
				if !strings.HasPrefix(receipt.Answer, "250 ") {
					t.Errorf("answer %q", receipt.Answer)
				}
			}
			var want []string
			if c.used != "" {
				want = []string{c.used}
			}
			if got := sink.SignedIn(); !slices.Equal(got, want) || len(sink.Mails()) != 3 || sink.Links() != 1 {
				t.Errorf("%v %v: signed in %v, %d mails over %d links", c.offered, security, got, len(sink.Mails()), sink.Links())
			}
		}
	}
}

// TestAnswers sends one mail for each row of the table against a server that gives that answer.
func TestAnswers(t *testing.T) {
	rows, err := notifytest.Vectors("../../testdata/vectors/notify/answers.txt")
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) < 60 {
		t.Errorf("%d rows, want at least 60", len(rows))
	}
	for _, row := range rows {
		at, reply, want := row[0], row[1], row[2]
		t.Run(at+" "+reply, func(t *testing.T) {
			sink, c := implicit(t)
			fault := notifytest.Fault{At: notifytest.Step(at), Do: notifytest.Refuse, Reply: reply}
			switch {
			case reply == "silence":
				fault.Do = notifytest.Hang
				short := 150 * time.Millisecond
				c.waits.greet, c.waits.data, c.waits.dot = short, short, short
				c.waits.command = max(short, 150*time.Millisecond)
			case reply == "cut":
				fault.Do = notifytest.Die
			case want == "sent" && at == "dot":
				fault.Do = notifytest.Refuse
			}
			sink.Fail(fault)
			receipt, err := c.Send(t.Context(), reminder("1"))
			if want == "sent" {
				if err != nil || receipt.Answer == "" {
					t.Errorf("got %v %q", err, receipt.Answer)
				}
				return
			}
			f := notify.FailureOf(err)
			if f.Class.String() != want {
				t.Errorf("class %v, want %s: %v", f.Class, want, f)
			}
			isReply := reply != "silence" && reply != "cut"
			if isReply && (!strings.Contains(f.Answer, reply) || !strings.Contains(f.Error(), reply)) {
				t.Errorf("the server's answer %q is not shown: %q", reply, f.Error())
			}
			if !strings.Contains(f.Error(), "127.0.0.1") {
				t.Errorf("the server is not named: %q", f.Error())
			}
			taken := len(sink.Mails())
			if wantTaken := want == "unknown"; (taken == 1) != wantTaken {
				t.Errorf("%d mails taken with class %s", taken, want)
			}
		})
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

// TestNothingInTheClear: where encryption fails, nothing is sent and no password is shown, and people
// are told what to change.
func TestNothingInTheClear(t *testing.T) {
	for _, c := range []struct {
		name     string
		server   notifytest.SinkSettings
		fault    notifytest.Fault
		security Security
		class    notify.Class
		said     string
	}{
		{"offer of STARTTLS stripped", notifytest.SinkSettings{Encryption: notifytest.NoTLS}, notifytest.Fault{}, StartTLS, notify.SetUpFault, "does not offer encryption by STARTTLS"},
		{"STARTTLS refused", notifytest.SinkSettings{Encryption: notifytest.StartTLS}, notifytest.Fault{At: notifytest.AtStartTLS, Do: notifytest.Refuse, Reply: "502 5.5.1 no"}, StartTLS, notify.SetUpFault, "502 5.5.1 no"},
		{"STARTTLS not now", notifytest.SinkSettings{Encryption: notifytest.StartTLS}, notifytest.Fault{At: notifytest.AtStartTLS, Do: notifytest.Refuse, Reply: "454 4.7.0 not now"}, StartTLS, notify.ServerTrouble, "454 4.7.0 not now"},
		{"cut at STARTTLS", notifytest.SinkSettings{Encryption: notifytest.StartTLS}, notifytest.Fault{At: notifytest.AtStartTLS, Do: notifytest.Die}, StartTLS, notify.ServerTrouble, "broke while starting encryption"},
		{"no encryption on that port", notifytest.SinkSettings{Encryption: notifytest.NoTLS}, notifytest.Fault{}, ImplicitTLS, notify.SetUpFault, "Choose STARTTLS"},
		{"certificate of another name", notifytest.SinkSettings{Encryption: notifytest.ImplicitTLS, OtherName: true}, notifytest.Fault{}, ImplicitTLS, notify.SetUpFault, "certificate"},
		{"certificate of another name after STARTTLS", notifytest.SinkSettings{Encryption: notifytest.StartTLS, OtherName: true}, notifytest.Fault{}, StartTLS, notify.SetUpFault, "certificate"},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.server.Mechanisms = []string{"PLAIN", "LOGIN"}
			sink := startSink(t, c.server)
			if c.fault.At != "" {
				sink.Fail(c.fault)
			}
			_, err := open(t, account(sink, c.security, Password)).Send(t.Context(), reminder("1"))
			f := notify.FailureOf(err)
			if f.Class != c.class || !strings.Contains(f.Error(), c.said) {
				t.Errorf("%v: %v", f.Class, f)
			}
			if len(sink.SignedIn()) != 0 || len(sink.Mails()) != 0 {
				t.Errorf("signed in %v, %d mails, without encryption", sink.SignedIn(), len(sink.Mails()))
			}
		})
	}
}

// TestUntrustedAuthority: a certificate that no trusted authority vouches for is refused.
func TestUntrustedAuthority(t *testing.T) {
	sink := startSink(t, notifytest.SinkSettings{Encryption: notifytest.ImplicitTLS, Mechanisms: []string{"PLAIN"}})
	set := account(sink, ImplicitTLS, Password)
	set.Roots = nil
	_, err := open(t, set).Send(t.Context(), reminder("1"))
	if f := notify.FailureOf(err); f.Class != notify.SetUpFault || len(sink.SignedIn()) != 0 {
		t.Errorf("%v: %v", f.Class, f)
	}
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

// TestTry: "send me one now" shows the real answer of the server, good or bad, and never our password.
func TestTry(t *testing.T) {
	sink, c := implicit(t)
	words, err := c.Try(t.Context(), reminder("1"))
	if err != nil || !strings.Contains(words, "250 ") || !strings.Contains(words, "ada@marlpit.example") {
		t.Errorf("%q, %v", words, err)
	}
	sink.Fail(notifytest.Fault{At: notifytest.AtAuth, Do: notifytest.Refuse, Reply: "535 5.7.8 bad password " + password})
	_, err = c.Try(t.Context(), reminder("2"))
	if f := notify.FailureOf(err); f.Class != notify.SetUpFault || strings.Contains(f.Error(), password) || !strings.Contains(f.Error(), "535 5.7.8 bad password") {
		t.Errorf("%v", f)
	}
	sink.Mend()
	sink.Fail(notifytest.Fault{At: notifytest.AtRcpt, Do: notifytest.Hang})
	ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
	defer cancel()
	_, err = c.Try(ctx, reminder("3"))
	if f := notify.FailureOf(err); !strings.Contains(f.Error(), "in the time given") {
		t.Errorf("%v", f)
	}
}

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

// TestSettings: each fault is named at its field.
func TestSettings(t *testing.T) {
	good := Settings{Host: "smtp.example.org", Port: 465, Security: ImplicitTLS, SignIn: Password, User: "u", Password: "p", From: "a@example.org"}
	if err := good.Check(); err != nil {
		t.Error(err)
	}
	for field, spoil := range map[string]func(*Settings){
		"host": func(s *Settings) { s.Host = "smtp.example.org:465" }, "port": func(s *Settings) { s.Port = 0 },
		"security": func(s *Settings) { s.Security = NoTLS }, "signin": func(s *Settings) { s.SignIn = 0 }, "user": func(s *Settings) { s.User = "" },
		"password": func(s *Settings) { s.Password = "" }, "token": func(s *Settings) { s.SignIn = Bearer }, "from": func(s *Settings) { s.From = "nobody" },
		"hello": func(s *Settings) { s.Hello = "two words" },
	} {
		bad := good
		spoil(&bad)
		var e *tracker.Error
		if err := bad.Check(); !errors.As(err, &e) || len(e.Fields) != 1 || e.Fields[0].Field != field || e.Kind != tracker.Invalid {
			t.Errorf("%s: %v", field, err)
		}
		if _, err := New(bad); err == nil {
			t.Errorf("%s: a channel was made from bad settings", field)
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
