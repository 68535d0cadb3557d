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

// TestMarkedBeforeTheNext checks that a message is recorded right after its acceptance.
func TestMarkedBeforeTheNext(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &notifytest.Outbox{}
		rows(box, 5)
		accepted := 0
		ch := &notifytest.Recorder{Answer: func(context.Context, notify.Message) error {
			marked := 0
			for _, r := range box.Rows() {
				if r.Last.State == notify.Sent {
					marked++
				}
			}
			if marked != accepted {
				t.Errorf("%d accepted and %d marked when the next began", accepted, marked)
			}
			accepted++
			return nil
		}}
		every(t.Context(), t, engine(box, ch), time.Second, time.Second)
		if accepted != 5 {
			t.Errorf("%d of 5 sent", accepted)
		}
	})
}

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

// TestHangingAccountDelaysNobody is G4: while one account's server never answers, another's rows go out
// within a second, and stopping takes at most 10 seconds.
func TestHangingAccountDelaysNobody(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &notifytest.Outbox{}
		rows(box, 3)
		hang := row("hang")
		hang.Account = notify.Account{Name: "push.example", Channel: "push"}
		box.Add(hang)
		push := &notifytest.Recorder{Called: "push", Answer: func(ctx context.Context, _ notify.Message) error {
			<-ctx.Done()
			return &notify.Failure{Class: notify.ServerTrouble, What: "No answer.", Err: ctx.Err()}
		}}
		email := &notifytest.Recorder{}
		ctx, stop := context.WithCancel(t.Context())
		d := engine(box, email, push)
		if err := d.RunOnce(ctx, time.Now()); err != nil {
			t.Fatal(err)
		}
		box.Add(row("later"))
		start := time.Now()
		if err := d.RunOnce(ctx, time.Now()); err != nil {
			t.Fatal(err)
		}
		if took := time.Since(start); took > time.Second || box.Row("later").Last.State != notify.Sent {
			t.Errorf("a later mail waited %v and is %v", took, box.Row("later").Last.State)
		}
		time.Sleep(9 * time.Minute) // the lease is renewed all the while
		stop()
		start = time.Now()
		d.Wait()
		if took := time.Since(start); took > 10*time.Second {
			t.Errorf("stopping took %v", took)
		}
		if len(push.Tried()) != 1 {
			t.Errorf("the hanging row was tried %d times", len(push.Tried()))
		}
		if r := box.Row("hang"); r.Last.State != notify.PutBack || r.Tries != 0 {
			t.Errorf("the hanging row after the stop: %+v", r.Last)
		}
	})
}

// TestLeaseIsKept: a mail whose last answer takes nine minutes is not taken over by a second worker.
func TestLeaseIsKept(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &notifytest.Outbox{}
		rows(box, 1)
		slow := &notifytest.Recorder{Answer: func(context.Context, notify.Message) error { time.Sleep(9 * time.Minute); return nil }}
		first := engine(box, slow)
		if err := first.RunOnce(t.Context(), time.Now()); err != nil {
			t.Fatal(err)
		}
		quick := &notifytest.Recorder{}
		every(t.Context(), t, engine(box, quick), 5*time.Second, 15*time.Minute)
		first.Wait()
		if len(quick.Tried()) != 0 || box.Row("00000").Last.State != notify.Sent {
			t.Errorf("the second worker tried %d times; the row is %v", len(quick.Tried()), box.Row("00000").Last.State)
		}
	})
}

// TestLostLeaseEndsTheSend: a worker that was paused past its lease and finds the row taken stops sending.
func TestLostLeaseEndsTheSend(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &notifytest.Outbox{}
		rows(box, 1)
		asleep := &mortal{Outbox: box}
		var ended time.Time
		slow := &notifytest.Recorder{Answer: func(ctx context.Context, _ notify.Message) error {
			asleep.dead.Store(true)
			time.AfterFunc(5*time.Minute, func() { asleep.dead.Store(false) })
			<-ctx.Done()
			ended = time.Now()
			return &notify.Failure{Class: notify.ServerTrouble, What: "Stopped.", Err: ctx.Err()}
		}}
		start := time.Now()
		first := engine(asleep, slow)
		if err := first.RunOnce(t.Context(), time.Now()); err != nil {
			t.Fatal(err)
		}
		quick := &notifytest.Recorder{Answer: func(context.Context, notify.Message) error { time.Sleep(4 * time.Minute); return nil }}
		every(t.Context(), t, engine(box, quick), 5*time.Second, 10*time.Minute)
		first.Wait()
		if took := ended.Sub(start); ended.IsZero() || took > 6*time.Minute {
			t.Errorf("the paused worker went on for %v", took)
		}
		if r := box.Row("00000"); r.Last.State != notify.Sent || len(r.Outcomes) != 1 {
			t.Errorf("%+v", r.Outcomes)
		}
	})
}

// TestStaleMarkIsRefused is G8: a worker that slept past its lease must not overwrite its successor.
func TestStaleMarkIsRefused(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &notifytest.Outbox{}
		rows(box, 1)
		asleep := &mortal{Outbox: box} // dead: its renewals do not get through, as in a paused process
		slow := &notifytest.Recorder{Answer: func(context.Context, notify.Message) error {
			asleep.dead.Store(true)
			time.Sleep(10 * time.Minute)
			asleep.dead.Store(false)
			return fail(notify.BadAddress)
		}}
		first := engine(asleep, slow)
		if err := first.RunOnce(t.Context(), time.Now()); err != nil {
			t.Fatal(err)
		}
		quick := &notifytest.Recorder{}
		every(t.Context(), t, engine(box, quick), 5*time.Second, 5*time.Minute)
		first.Wait()
		r := box.Row("00000")
		if r.Last.State != notify.Sent || len(r.Outcomes) != 1 {
			t.Errorf("the row ended %v after %d outcomes; the sleeper's mark must be refused", r.Last.State, len(r.Outcomes))
		}
		if len(quick.Taken()) != 1 {
			t.Errorf("the second worker sent it %d times", len(quick.Taken()))
		}
	})
}

// TestPanicFailsAlone: a row whose words cannot be composed is given up after five tries; the others go out.
func TestPanicFailsAlone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &notifytest.Outbox{}
		rows(box, 3)
		poison := row("poison")
		poison.Content.Yard = "poison"
		box.Add(poison)
		ch := &notifytest.Recorder{}
		d := engine(box, ch)
		d.Compose = func(c notify.Content) (notify.Words, error) {
			if c.Yard == "poison" {
				panic("index out of range")
			}
			return notify.Compose(c)
		}
		every(t.Context(), t, d, 5*time.Second, 2*time.Hour)
		r := box.Row("poison")
		if r.Last.State != notify.GivenUp || r.Tries != 5 || r.Last.Class != notify.OurFault || !r.Last.NextChannel {
			t.Errorf("after %d tries: %+v", r.Tries, r.Last)
		}
		if strings.Contains(r.Last.Reason, "index out of range") {
			t.Errorf("people are shown a panic: %q", r.Last.Reason)
		}
		if len(ch.Taken()) != 3 {
			t.Errorf("%d of 3 others sent", len(ch.Taken()))
		}
	})
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

// TestLostAnswerIsBounded: a server that takes messages and never says so gets three copies, no more, all
// with one Message-ID.
func TestLostAnswerIsBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		box := &notifytest.Outbox{}
		rows(box, 1)
		ch := &notifytest.Recorder{Answer: func(context.Context, notify.Message) error { return fail(notify.Unknown) }}
		every(t.Context(), t, engine(box, ch), 5*time.Second, 3*time.Hour)
		if r := box.Row("00000"); len(ch.Tried()) != 3 || r.Last.State != notify.GivenUp || !r.Last.NextChannel {
			t.Errorf("%d tries, %+v", len(ch.Tried()), r.Last)
		}
		sameBytes(t, ch.Tried())
		for i, m := range ch.Tried()[1:] {
			if gap := m.TriedAt.Sub(ch.Tried()[i].TriedAt); gap < 2*time.Minute {
				t.Errorf("tried again after %v, within the lease", gap)
			}
		}
	})
}

// TestMarkSurvivesAFault: when the outbox fails for a moment right after acceptance, the mark is tried
// again and the message is not sent twice.
func TestMarkSurvivesAFault(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		faults := 0
		box := &notifytest.Outbox{}
		rows(box, 2)
		box.Fault = func(operation string) error {
			if operation == "mark" && faults < 3 {
				faults++
				return errors.New("database is locked")
			}
			return nil
		}
		ch := &notifytest.Recorder{}
		d := engine(box, ch)
		every(t.Context(), t, d, 5*time.Second, 5*time.Minute)
		if len(ch.Taken()) != 2 || box.Row("00000").Last.State != notify.Sent {
			t.Errorf("%d messages sent for 2 rows", len(ch.Taken()))
		}
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
