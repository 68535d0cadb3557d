package email

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

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
