package notify_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/google/go-cmp/cmp"

	"leground/notify"
	"leground/notify/notifytest"
)

var mail = notify.Account{Name: "email", Channel: "email"}

// backoff is the schedule of the design: 1, 2, 5, 10, 20, 30 minutes, then every 30.
func backoff(c notify.Claimed, now time.Time) time.Time {
	minutes := []int{1, 2, 5, 10, 20, 30}
	return now.Add(time.Duration(minutes[min(c.Try, len(minutes))-1]) * time.Minute)
}

func noJitter(time.Duration) time.Duration { return 0 }

func engine(o notify.Outbox, channels ...notify.Channel) *notify.Deliver {
	return &notify.Deliver{Outbox: o, Channels: channels, NextTry: backoff, Jitter: noJitter, Clock: time.Now}
}

// row plans a reminder due now; its use-by is in 11 hours, as between the two rounds of a day.
func row(id string) notifytest.Row {
	now := time.Now()
	return notifytest.Row{
		Account: mail, SendAt: now,
		Message: notify.Message{ID: id, To: id + "@marlpit.example", MessageID: notify.MessageID("r", id, "marlpit.example"),
			Date: now, UseBy: now.Add(11 * time.Hour), Urgency: notify.High},
		Content: notify.Content{Kind: notify.RoundDue, Yard: "Marlpit Yard", Round: "morning round", Due: "Tue 14 May, 07:00"},
	}
}

func rows(o *notifytest.Outbox, n int) {
	for i := range n {
		o.Add(row(fmt.Sprintf("%05d", i)))
	}
}

// every runs the engine each step for a length of bubble time, as the worker does.
func every(ctx context.Context, t *testing.T, d *notify.Deliver, step, length time.Duration) {
	t.Helper()
	for end := time.Now().Add(length); time.Now().Before(end) && ctx.Err() == nil; time.Sleep(step) {
		if err := d.RunOnce(ctx, time.Now()); err != nil {
			t.Fatal(err)
		}
	}
}

func fail(class notify.Class) error {
	return &notify.Failure{Class: class, What: "It failed: " + class.String() + "."}
}

// mortal is an outbox as one worker process sees it: once the process is killed nothing reaches it.
type mortal struct {
	notify.Outbox
	dead   atomic.Bool
	unsaid sync.Map // fencing tokens of claims that it could not mark any more, to the reminder's id
}

var errKilled = errors.New("this worker was killed")

func (m *mortal) Accounts(ctx context.Context, now time.Time) ([]notify.Account, error) {
	if m.dead.Load() {
		return nil, errKilled
	}
	return m.Outbox.Accounts(ctx, now)
}

func (m *mortal) Claim(ctx context.Context, ask notify.Ask) ([]notify.Claimed, error) {
	if m.dead.Load() {
		return nil, errKilled
	}
	return m.Outbox.Claim(ctx, ask)
}

func (m *mortal) Renew(ctx context.Context, c notify.Claimed, until time.Time) (string, error) {
	if m.dead.Load() {
		return "", errKilled
	}
	return m.Outbox.Renew(ctx, c, until)
}

func (m *mortal) Mark(ctx context.Context, c notify.Claimed, o notify.Outcome) error {
	if m.dead.Load() {
		m.unsaid.Store(c.Token, c.Message.ID)
		return errKilled
	}
	return m.Outbox.Mark(ctx, c, o)
}

// TestNothingIsLost runs yards of reminders against servers that fail in every way while the worker is
// killed at random, and holds the engine to its promise: every reminder ends sent, withdrawn, folded or
// given up, with a reason; it is accepted more than once only where a kill or a lost answer explains it;
// every try has the same bytes; nothing goes out after its use-by or after it was withdrawn.
func TestNothingIsLost(t *testing.T) {
	seeds := 60
	if os.Getenv("LEGROUND_LONG") == "1" {
		seeds = 2000
	}
	kills, doubled := 0, 0
	for seed := range uint64(seeds) {
		synctest.Test(t, func(t *testing.T) {
			k, d := nothingIsLost(t, seed)
			kills, doubled = kills+k, doubled+d
		})
		if t.Failed() {
			t.Fatalf("seed %d", seed)
		}
	}
	t.Logf("%d seeds from 0, %d kills, %d extra messages", seeds, kills, doubled)
	if kills == 0 {
		t.Error("no worker was killed: the test shows nothing")
	}
}

func nothingIsLost(t *testing.T, seed uint64) (kills, extras int) {
	random := rand.New(rand.NewPCG(seed, 5))
	box := &notifytest.Outbox{}
	planted := map[string]time.Time{} // withdrawn at
	n := 1 + random.IntN(20)
	for i := range n {
		r := row(fmt.Sprint(i))
		r.SendAt = r.SendAt.Add(time.Duration(random.IntN(3600)) * time.Second)
		r.Message.UseBy = r.SendAt.Add(time.Duration(1+random.IntN(10)) * time.Hour)
		if random.IntN(3) == 0 {
			r.Account = notify.Account{Name: "push.example", Channel: "push"}
			r.HandOver = r.SendAt.Add(5 * time.Minute)
		}
		box.Add(r)
	}
	process := &mortal{Outbox: box}
	lost := map[string]int{}
	accepted := map[string]int{}
	killedIn := map[string]int{}
	bad := random.Float64() // how bad this world is
	var mu sync.Mutex       // the two lanes ask side by side
	answer := func(ctx context.Context, m notify.Message) error {
		mu.Lock()
		defer mu.Unlock()
		if at, gone := planted[m.ID]; gone && at.Before(m.TriedAt) {
			t.Errorf("%s was sent at %v though withdrawn at %v", m.ID, m.TriedAt, at)
		}
		if !m.TriedAt.Before(m.UseBy) {
			t.Errorf("%s was sent after its use-by", m.ID)
		}
		took := time.Duration(random.IntN(2000)) * time.Millisecond
		mu.Unlock()
		time.Sleep(took)
		mu.Lock()
		if random.IntN(8) == 0 {
			process.dead.Store(true)
			kills++
		}
		if random.Float64() > bad {
			accepted[m.ID]++
			return nil
		}
		class := notify.Class(1 + random.IntN(9))
		if class == notify.Unknown {
			lost[m.ID]++
			accepted[m.ID] += random.IntN(2)
		}
		return fail(class)
	}
	email, push := &notifytest.Recorder{Answer: answer}, &notifytest.Recorder{Called: "push", Answer: answer}
	d := engine(process, email, push)
	for end := time.Now().Add(13 * time.Hour); time.Now().Before(end); time.Sleep(20 * time.Second) {
		if mu.Lock(); random.IntN(50) == 0 {
			id := fmt.Sprint(random.IntN(n))
			if _, before := planted[id]; !before && box.Row(id).Open() {
				planted[id] = time.Now()
				box.Withdraw(id, "The round was received.")
			}
		}
		mu.Unlock()
		err := d.RunOnce(t.Context(), time.Now())
		if err != nil && !process.dead.Load() {
			t.Fatal(err)
		}
		d.Wait()
		if process.dead.Load() {
			process.unsaid.Range(func(_, id any) bool { killedIn[id.(string)]++; return true })
			process = &mortal{Outbox: box}
			d = engine(process, email, push)
		}
	}
	for _, r := range box.Rows() {
		id := r.Message.ID
		if r.Open() || r.Last.Reason == "" {
			t.Errorf("%s was left %v %q", id, r.Last.State, r.Last.Reason)
		}
		if r.Last.State == notify.Sent && accepted[id] == 0 {
			t.Errorf("%s is marked sent and was never accepted", id)
		}
		if accepted[id] > 1+lost[id]+killedIn[id] {
			t.Errorf("%s was accepted %d times with %d lost answers and %d kills", id, accepted[id], lost[id], killedIn[id])
		}
		extras += max(0, accepted[id]-1)
		if accepted[id] > 0 && r.Last.State != notify.Sent && lost[id]+killedIn[id] == 0 {
			t.Errorf("%s was accepted and stands as %v", id, r.Last.State)
		}
	}
	sameBytes(t, email.Tried())
	sameBytes(t, push.Tried())
	return kills, extras
}

// sameBytes checks that all tries of a message are the same but for the time of the try.
func sameBytes(t *testing.T, tries []notify.Message) {
	t.Helper()
	first := map[string]notify.Message{}
	for _, m := range tries {
		m.TriedAt = time.Time{}
		if before, seen := first[m.ID]; seen {
			if diff := cmp.Diff(before, m); diff != "" {
				t.Errorf("a later try of %s differs:\n%s", m.ID, diff)
			}
		}
		first[m.ID] = m
	}
}

// TestEachClass checks what one failure of each class does to the row, to the next channel and to the
// rows behind it.
func TestEachClass(t *testing.T) {
	for _, want := range []struct {
		class notify.Class
		state notify.State
		hand  bool // the next channel takes over
		rests bool // the account rests: the second row is not tried
	}{
		{notify.ServerTrouble, notify.Again, false, true},
		{notify.SetUpFault, notify.PutBack, false, true},
		{notify.AccountFault, notify.PutBack, false, true},
		{notify.BadAddress, notify.GivenUp, true, false},
		{notify.Gone, notify.GivenUp, true, false},
		{notify.Passing, notify.Again, false, false},
		{notify.RefusedContent, notify.GivenUp, true, false},
		{notify.Unknown, notify.Again, false, true},
		{notify.OurFault, notify.Again, false, false},
	} {
		t.Run(want.class.String(), func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				box := &notifytest.Outbox{}
				rows(box, 2)
				ch := &notifytest.Recorder{Answer: func(_ context.Context, m notify.Message) error {
					if m.ID == "00000" {
						return fail(want.class)
					}
					return nil
				}}
				if err := engine(box, ch).RunOnce(t.Context(), time.Now()); err != nil {
					t.Fatal(err)
				}
				first, second := box.Row("00000").Last, box.Row("00001").Last
				if first.State != want.state || first.NextChannel != want.hand || first.Class != want.class {
					t.Errorf("first row: %+v", first)
				}
				wantSecond := notify.Sent
				if want.rests {
					wantSecond = notify.PutBack
				}
				if second.State != wantSecond {
					t.Errorf("second row: %+v, want %v", second, wantSecond)
				}
			})
		})
	}
}

// TestUnknownKindIsLeftAlone: an older program must not spoil what a newer one planned.
func TestUnknownKindIsLeftAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &notifytest.Outbox{}
		r := row("new")
		r.Content.Kind = "moon phase"
		box.Add(r)
		ch := &notifytest.Recorder{}
		every(t.Context(), t, engine(box, ch), 5*time.Second, 3*time.Hour)
		got := box.Row("new")
		if got.Tries != 0 || got.Last.State != notify.PutBack || len(ch.Tried()) != 0 || len(got.Outcomes) > 4 {
			t.Errorf("an unknown kind: %d tries, %d outcomes, %+v", got.Tries, len(got.Outcomes), got.Last)
		}
	})
}

// TestHandOver: a push that is not accepted within five minutes goes to the next channel, also while the
// push service's account rests; and one whose subscription is gone goes there at once.
func TestHandOver(t *testing.T) {
	for _, class := range []notify.Class{notify.ServerTrouble, notify.SetUpFault, notify.Passing, notify.Gone} {
		synctest.Test(t, func(t *testing.T) {
			box := &notifytest.Outbox{}
			for i := range 4 {
				r := row(fmt.Sprint(i))
				r.Account = notify.Account{Name: "push.example", Channel: "push"}
				r.HandOver = r.SendAt.Add(5 * time.Minute)
				box.Add(r)
			}
			push := &notifytest.Recorder{Called: "push", Answer: func(context.Context, notify.Message) error { return fail(class) }}
			start := time.Now()
			every(t.Context(), t, engine(box, push), 5*time.Second, 6*time.Minute)
			for _, r := range box.Rows() {
				waited, most := r.Last.At.Sub(start), 5*time.Minute+10*time.Second
				if class == notify.Gone {
					most = 30 * time.Second
				}
				if r.Last.State != notify.GivenUp || !r.Last.NextChannel || waited > most {
					t.Errorf("%v: row %s after %v: %+v", class, r.Message.ID, waited, r.Last)
				}
			}
		})
	}
}

// TestSetUpFaultKeepsRows: a refused password costs no reminder. The account is tried twice an hour, and
// Retry, as after new settings, at once.
func TestSetUpFaultKeepsRows(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &notifytest.Outbox{}
		rows(box, 8)
		wrong := true
		ch := &notifytest.Recorder{Answer: func(context.Context, notify.Message) error {
			if wrong {
				return fail(notify.SetUpFault)
			}
			return nil
		}}
		d := engine(box, ch)
		every(t.Context(), t, d, 5*time.Second, 5*time.Hour)
		if n := len(ch.Tried()); n > 11 {
			t.Errorf("%d tries with a refused password in 5 hours", n)
		}
		wrong = false
		d.Retry(mail)
		every(t.Context(), t, d, 5*time.Second, 10*time.Second)
		for _, r := range box.Rows() {
			if r.Last.State != notify.Sent || r.Tries != 1 {
				t.Errorf("row %s: %v after %d tries", r.Message.ID, r.Last.State, r.Tries)
			}
		}
	})
}

// TestMissingChannel: rows for a channel that this program does not have wait and are folded, with a reason.
func TestMissingChannel(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &notifytest.Outbox{}
		rows(box, 3)
		d := engine(box)
		every(t.Context(), t, d, time.Minute, time.Hour)
		if h := d.Health(); len(h) != 1 || h[0].Class != notify.SetUpFault || !strings.Contains(h[0].Reason, "not set up") {
			t.Errorf("health %+v", h)
		}
		every(t.Context(), t, d, time.Minute, 11*time.Hour)
		for _, r := range box.Rows() {
			if r.Last.State != notify.Folded {
				t.Errorf("row %s: %+v", r.Message.ID, r.Last)
			}
		}
	})
}
