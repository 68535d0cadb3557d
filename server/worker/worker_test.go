package worker

import (
	"context"
	"log/slog"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

func quiet() *slog.Logger { return slog.New(slog.DiscardHandler) }

// The worker wakes at once and then every turn; counted over ten minutes of a made-up clock.
func TestCadence(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var ticks, sends atomic.Int32
		w := New(Jobs{
			Tick:    func(context.Context) error { ticks.Add(1); return nil },
			Deliver: func(context.Context) error { sends.Add(1); return nil },
			Wait:    func() {},
		}, quiet())
		w.Start()
		time.Sleep(10*time.Minute + time.Second)
		synctest.Wait()
		w.Stop()
		for _, c := range []struct {
			name  string
			got   int32
			every time.Duration
		}{{"looked", ticks.Load(), everyTick}, {"sent", sends.Load(), everyDeliver}} {
			if want := int32(10*time.Minute/c.every) + 1; c.got < want-1 || c.got > want+1 {
				t.Errorf("%s %d times in ten minutes, want about %d", c.name, c.got, want)
			}
		}
	})
}

// One panic must not silence the work for ever, as it would with Recover outside Skip.
func TestAPanicIsSurvived(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var turns atomic.Int32
		w := New(Jobs{
			Tick: func(context.Context) error {
				if turns.Add(1) == 2 {
					panic("planted")
				}
				return nil
			},
			Deliver: func(context.Context) error { return nil },
			Wait:    func() {},
		}, quiet())
		w.Start()
		time.Sleep(5 * time.Minute)
		synctest.Wait()
		w.Stop()
		if got := turns.Load(); got < 5 {
			t.Errorf("%d turns after a panic in the second", got)
		}
	})
}

// A turn that takes long is not joined by another; Stop ends it and returns when nothing runs any more.
func TestStopWaits(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var running, most, ended atomic.Int32
		w := New(Jobs{
			Tick: func(ctx context.Context) error {
				most.Store(max(most.Load(), running.Add(1)))
				<-ctx.Done()
				time.Sleep(time.Second)
				running.Add(-1)
				ended.Add(1)
				return ctx.Err()
			},
			Deliver: func(context.Context) error { return nil },
			Wait:    func() {},
		}, quiet())
		w.Stop() // before Start: nothing happens
		w.Start()
		w.Start()
		time.Sleep(5 * time.Minute)
		w.Stop()
		w.Stop()
		if most.Load() != 1 || ended.Load() != 1 || running.Load() != 0 {
			t.Errorf("%d at once, %d ended, %d still running", most.Load(), ended.Load(), running.Load())
		}
	})
}
