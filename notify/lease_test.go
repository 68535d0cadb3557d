package notify_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"leground/notify"
	"leground/notify/notifytest"
)

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
