package email

import (
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"leground/notify"
	"leground/notify/notifytest"
)

// TestSentOnceOrReported sends reminders through the engine over real links to a server that fails at
// random steps in every way. Each ends sent, with its mail in the server, or with its reason; a second
// copy is there only where the server swallowed its last answer.
func TestSentOnceOrReported(t *testing.T) {
	seeds := []uint64{7}
	if os.Getenv("LEGROUND_LONG") == "1" {
		for seed := range uint64(40) {
			seeds = append(seeds, 100+seed)
		}
	}
	for _, seed := range seeds {
		t.Run(fmt.Sprint("seed ", seed), func(t *testing.T) { sentOnceOrReported(t, seed) })
	}
}

func sentOnceOrReported(t *testing.T, seed uint64) {
	random := rand.New(rand.NewPCG(seed, 1))
	sink, c := implicit(t)
	short := 150 * time.Millisecond
	c.waits.greet, c.waits.command, c.waits.data, c.waits.body, c.waits.dot = short, short, short, short, short
	box := &notifytest.Outbox{}
	start := time.Now()
	const n = 40
	for i := range n {
		m := reminder(fmt.Sprintf("%03d", i))
		m.Words, m.Date, m.UseBy = notify.Words{}, start, start.Add(6*time.Hour)
		if i%10 == 9 {
			m.To = "not an address"
		}
		box.Add(notifytest.Row{Account: notify.Account{Name: "email", Channel: "email"}, SendAt: start, Message: m,
			Content: notify.Content{Kind: notify.RoundDue, Yard: "Marlpit Yard", Round: "morning round", Due: "Tue 14 May, 07:00"}})
	}
	var ahead atomic.Int64 // how far the engine's clock runs before ours
	d := &notify.Deliver{Outbox: box, Channels: []notify.Channel{c}, Clock: func() time.Time { return time.Now().Add(time.Duration(ahead.Load())) },
		NextTry:  func(c notify.Claimed, now time.Time) time.Time { return now.Add(time.Duration(c.Try) * time.Minute) },
		Jitter:   func(most time.Duration) time.Duration { return time.Duration(random.Int64N(int64(most))) },
		Patience: time.Minute, Pace: map[string]notify.Pace{"email": {PerMinute: 60, Burst: 2}}} // two a run, so that faults strike often
	steps := []notifytest.Step{notifytest.AtGreeting, notifytest.AtAuth, notifytest.AtMail, notifytest.AtRcpt, notifytest.AtData, notifytest.AtBody, notifytest.AtDot}
	replies := []string{"421 4.3.2 closing", "450 4.2.1 later", "451 4.3.0 error", "552 5.2.2 full", "454 4.7.0 not now"}
	swallowed := 0
	for round := 0; ; round++ {
		f := notifytest.Fault{At: steps[random.IntN(len(steps))], Do: notifytest.Action(1 + random.IntN(4)), Times: 1, Reply: replies[random.IntN(len(replies))]}
		if random.IntN(3) > 0 {
			sink.Fail(f)
		}
		if err := d.RunOnce(t.Context(), d.Clock()); err != nil {
			t.Fatal(err)
		}
		sink.Mend()
		open := 0
		for _, r := range box.Rows() {
			if r.Open() {
				open++
			}
		}
		if open == 0 {
			break
		}
		if round > 500 {
			t.Fatalf("%d rows are still open", open)
		}
		ahead.Add(int64(31 * time.Second))
	}
	copies := map[string]int{}
	for _, m := range sink.Mails() {
		h, err := m.Header()
		if err != nil {
			t.Fatal(err)
		}
		copies[h.Get("Message-Id")]++
	}
	for _, r := range box.Rows() {
		got := copies["<"+r.Message.MessageID+">"]
		swallowed += r.Maybe
		switch {
		case r.Message.To == "not an address":
			if r.Last.State != notify.GivenUp || r.Last.Class != notify.BadAddress || got != 0 {
				t.Errorf("%s: %d copies, %+v", r.Message.ID, got, r.Last)
			}
		case r.Last.State == notify.Sent:
			if got < 1 || got > 1+r.Maybe {
				t.Errorf("%s was sent with %d copies and %d swallowed answers", r.Message.ID, got, r.Maybe)
			}
		case r.Last.Reason == "":
			t.Errorf("%s: no reason: %+v", r.Message.ID, r.Last)
		default:
			if got > r.Maybe {
				t.Errorf("%s stands as %v with %d copies", r.Message.ID, r.Last.State, got)
			}
		}
	}
	if swallowed == 0 && seed == 7 {
		t.Error("no answer was swallowed: the test shows little")
	}
	t.Logf("%d links, %d mails for %d people, %d answers swallowed", sink.Links(), len(sink.Mails()), n-n/10, swallowed)
}

// BenchmarkMails measures writing a mail and handing it to a server in the same process, over
// one encrypted link.
func BenchmarkMails(b *testing.B) {
	sink, err := notifytest.StartSink(notifytest.SinkSettings{Encryption: notifytest.ImplicitTLS})
	if err != nil {
		b.Fatal(err)
	}
	defer sink.Close()
	c, err := New(Settings{Host: "127.0.0.1", Port: sink.Port, Security: ImplicitTLS, SignIn: NoSignIn, From: "a@marlpit.example", Roots: sink.Roots})
	if err != nil {
		b.Fatal(err)
	}
	defer c.Close()
	m := reminder("1")
	m.Text = strings.Repeat(m.Text, 20)
	for b.Loop() {
		if _, err := c.Send(b.Context(), m); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "mails/s")
}
