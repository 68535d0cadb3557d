package notify_test

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"leground/notify"
	"leground/notify/notifytest"
)

// TestServerDownSixHours is G3 in small: one try per 30 seconds at most, everything still due is sent
// within minutes of the server's return, what is past its use-by is folded with a reason.
func TestServerDownSixHours(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &notifytest.Outbox{}
		rows(box, 300)
		for i := range 100 { // a third has its use-by during the outage
			r := row(fmt.Sprintf("early%d", i))
			r.Message.UseBy = time.Now().Add(3 * time.Hour)
			box.Add(r)
		}
		back := time.Now().Add(6 * time.Hour)
		var last time.Time
		ch := &notifytest.Recorder{Answer: func(context.Context, notify.Message) error {
			if time.Now().Before(back) {
				if gap := time.Since(last); gap < 30*time.Second {
					t.Errorf("two tries %v apart", gap)
				}
				last = time.Now()
				return fail(notify.ServerTrouble)
			}
			return nil
		}}
		d := engine(box, ch)
		every(t.Context(), t, d, 5*time.Second, 6*time.Hour)
		if health := d.Health(); len(health) != 1 || health[0].Class != notify.ServerTrouble || health[0].Reason == "" {
			t.Errorf("health during the outage: %+v", health)
		}
		tries, untouched := len(ch.Tried()), 0
		for _, r := range box.Rows() {
			for _, o := range r.Outcomes {
				if o.State == notify.PutBack {
					untouched++
				}
			}
		}
		if untouched > 10 { // those claimed with the first that failed; a probe claims no others
			t.Errorf("%d rows were claimed and put back during the outage", untouched)
		}
		every(t.Context(), t, d, 5*time.Second, 30*time.Minute)
		count := map[notify.State]int{}
		for _, r := range box.Rows() {
			count[r.Last.State]++
		}
		if count[notify.Sent] != 300 || count[notify.Folded] != 100 {
			t.Errorf("after the outage: %v", count)
		}
		t.Logf("%d tries in 6 hours", tries)
	})
}

// TestPace: 60 mails at 25 a minute after a burst of 10 take two minutes, and no minute sees more than 35.
func TestPace(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &notifytest.Outbox{}
		rows(box, 60)
		start, last := time.Now(), time.Time{}
		minutes := map[int]int{}
		ch := &notifytest.Recorder{Answer: func(context.Context, notify.Message) error {
			last = time.Now()
			minutes[int(time.Since(start)/time.Minute)]++
			return nil
		}}
		every(t.Context(), t, engine(box, ch), 2*time.Second, 5*time.Minute)
		if len(ch.Taken()) != 60 {
			t.Fatalf("%d of 60 sent", len(ch.Taken()))
		}
		planned := notify.DefaultPace().TimeFor(60)
		if took := last.Sub(start); took < planned-3*time.Second || took > planned+6*time.Second {
			t.Errorf("60 mails took %v, the settings line says %v", took, planned)
		}
		for minute, n := range minutes {
			if n > 35 {
				t.Errorf("minute %d saw %d mails", minute, n)
			}
		}
	})
}

// TestPaceIsLearned: a server that allows 12 a minute and says so is asked for less, and for more again
// when it allows more.
func TestPaceIsLearned(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &notifytest.Outbox{}
		rows(box, 900)
		start := time.Now()
		var accepted []time.Time
		refused := 0
		ch := &notifytest.Recorder{Answer: func(context.Context, notify.Message) error {
			recent := 0
			for _, at := range accepted {
				if time.Since(at) < time.Minute {
					recent++
				}
			}
			if recent >= 12 && time.Since(start) < time.Hour {
				refused++
				return &notify.Failure{Class: notify.Passing, What: "Too many.", Code: 450, SlowDown: true}
			}
			accepted = append(accepted, time.Now())
			return nil
		}}
		d := engine(box, ch)
		every(t.Context(), t, d, 2*time.Second, time.Hour)
		sent, pace := len(accepted), d.Health()[0].PerMinute
		if sent < 400 || refused > 100 || pace > 15 {
			t.Errorf("in an hour at 12 a minute: %d sent, %d refused, pace %.1f", sent, refused, pace)
		}
		every(t.Context(), t, d, 2*time.Second, 2*time.Hour)
		if len(ch.Taken()) != 900 {
			t.Errorf("%d of 900 sent in the end, pace %.1f", len(ch.Taken()), d.Health()[0].PerMinute)
		}
		t.Logf("%d sent and %d refused in the first hour, pace %.1f a minute", sent, refused, pace)
	})
}

// TestJitter: rows that failed together come back apart, and none is put past its use-by.
func TestJitter(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &notifytest.Outbox{}
		rows(box, 8)
		ch := &notifytest.Recorder{Answer: func(context.Context, notify.Message) error { return fail(notify.Passing) }}
		d := engine(box, ch)
		random := rand.New(rand.NewPCG(1, 1))
		d.Jitter = func(most time.Duration) time.Duration {
			if most <= 0 || most > 2*time.Minute {
				t.Errorf("asked for up to %v of jitter", most)
			}
			return time.Duration(random.Int64N(int64(most)))
		}
		if err := d.RunOnce(t.Context(), time.Now()); err != nil {
			t.Fatal(err)
		}
		seen := map[time.Time]bool{}
		for _, r := range box.Rows() {
			seen[r.Last.Next] = true
		}
		if len(seen) != 8 {
			t.Errorf("8 rows come back at %d different times", len(seen))
		}
	})
}

// TestManyAccounts: a thousand endpoints due at once, a third of whose servers hang, are all served: the
// good ones within seconds.
func TestManyAccounts(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &notifytest.Outbox{}
		const n = 1000
		for i := range n {
			r := row(fmt.Sprintf("%04d", i))
			r.Account = notify.Account{Name: fmt.Sprintf("endpoint %04d", i), Channel: "webhook"}
			box.Add(r)
		}
		hangs := func(id string) bool {
			return strings.HasSuffix(id, "0") || strings.HasSuffix(id, "3") || strings.HasSuffix(id, "7")
		}
		var mu sync.Mutex
		var last time.Time
		ch := &notifytest.Recorder{Called: "webhook", Answer: func(ctx context.Context, m notify.Message) error {
			if hangs(m.ID) {
				time.Sleep(15 * time.Second)
				return fail(notify.ServerTrouble)
			}
			time.Sleep(50 * time.Millisecond)
			mu.Lock()
			defer mu.Unlock()
			last = time.Now()
			return nil
		}}
		d := engine(box, ch)
		start := time.Now()
		every(t.Context(), t, d, 5*time.Second, 20*time.Minute)
		d.Wait()
		if len(ch.Taken()) != n*7/10 {
			t.Errorf("%d of %d good endpoints served", len(ch.Taken()), n*7/10)
		}
		t.Logf("the last good endpoint was served after %v", last.Sub(start))
		if last.Sub(start) > 90*time.Second {
			t.Errorf("the last good endpoint waited %v", last.Sub(start))
		}
		box.Add(func() notifytest.Row { // and now that the bad ones are known, a new round reaches the good ones at once
			r := row("new")
			r.Account = notify.Account{Name: "endpoint 0001", Channel: "webhook"}
			return r
		}())
		start = time.Now()
		every(t.Context(), t, d, 5*time.Second, time.Minute)
		if r := box.Row("new"); r.Last.State != notify.Sent || r.Last.At.Sub(start) > 6*time.Second {
			t.Errorf("the next message: %+v, after %v", r.Last, r.Last.At.Sub(start))
		}
		d.Wait()
	})
}
