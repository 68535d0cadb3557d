// Package worker is the clockwork: it wakes often, asks care what should exist by now and the outbox to
// send what is due. It decides nothing.
package worker

import (
	"context"
	"log/slog"
	"sync"
	"time"

	"github.com/robfig/cron/v3"
)

// How often the worker looks for what should exist, and for what is to be sent. A machine that slept is back
// at work within that, since it counts running time and never asks a calendar. The two are jobs of their own,
// so that a morning on which many yards have something due delays no message.
const (
	everyTick    = 20 * time.Second
	everyDeliver = 5 * time.Second
)

// Jobs are what the worker calls. Each heals itself: a call that comes late or twice changes nothing.
type Jobs struct {
	Tick    func(ctx context.Context) error // make what should exist by now
	Deliver func(ctx context.Context) error // send what is due
	Wait    func()                          // wait for messages that are being sent
}

// Worker runs the jobs until it is stopped.
type Worker struct {
	jobs Jobs
	log  *slog.Logger
	cron *cron.Cron

	first  sync.WaitGroup // the first run of each job, which cron does not know of
	mu     sync.Mutex
	cancel context.CancelFunc
}

// New makes a worker that does not run yet.
func New(jobs Jobs, log *slog.Logger) *Worker {
	quiet := cron.DiscardLogger
	// Skip stands outside Recover: the other way round, one panic would silence the job for ever.
	chain := cron.WithChain(cron.SkipIfStillRunning(quiet), cron.Recover(cronLog{log}))
	return &Worker{jobs: jobs, log: log, cron: cron.New(cron.WithLocation(time.UTC), chain)}
}

// Start begins to wake. The first time is at once.
func (w *Worker) Start() {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.cancel != nil {
		return
	}
	ctx, cancel := context.WithCancel(context.Background())
	w.cancel = cancel
	w.cron.Schedule(cron.Every(everyTick), cron.FuncJob(func() { w.tick(ctx) }))
	w.cron.Schedule(cron.Every(everyDeliver), cron.FuncJob(func() { w.deliver(ctx) }))
	w.cron.Start()
	for _, entry := range w.cron.Entries() {
		w.first.Go(entry.WrappedJob.Run)
	}
}

// Stop ends the waking and returns when nothing runs any more. Stopping twice, or before Start, is fine.
func (w *Worker) Stop() {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.cancel == nil {
		return
	}
	w.cancel()
	<-w.cron.Stop().Done()
	w.first.Wait()
	w.jobs.Wait()
	w.cancel = nil
}

// RunOnce does one turn of the work. A fault is logged and tried again at the next turn.
func (w *Worker) RunOnce(ctx context.Context) {
	w.tick(ctx)
	w.deliver(ctx)
}

func (w *Worker) tick(ctx context.Context) {
	if err := w.jobs.Tick(ctx); err != nil && ctx.Err() == nil {
		w.log.Error("worker: what is due could not be worked out", "error", err)
	}
}

func (w *Worker) deliver(ctx context.Context) {
	if err := w.jobs.Deliver(ctx); err != nil && ctx.Err() == nil {
		w.log.Error("worker: reminders could not be sent", "error", err)
	}
}

// cronLog hands cron's report of a panic to the log.
type cronLog struct{ log *slog.Logger }

func (c cronLog) Info(string, ...any) {}

func (c cronLog) Error(err error, msg string, more ...any) {
	c.log.Error("worker: "+msg, append([]any{"error", err}, more...)...)
}
