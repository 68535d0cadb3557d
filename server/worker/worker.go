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

// every is how often the worker wakes. A machine that slept is back at work within it, since it counts
// running time and never asks a calendar.
const every = 20 * time.Second

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
	job := func() { w.RunOnce(ctx) }
	w.cron.Schedule(cron.Every(every), cron.FuncJob(job))
	w.cron.Start()
	go w.cron.Entries()[0].WrappedJob.Run()
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
	w.jobs.Wait()
	w.cancel = nil
}

// RunOnce does one turn of the work. A fault is logged and tried again at the next turn.
func (w *Worker) RunOnce(ctx context.Context) {
	if err := w.jobs.Tick(ctx); err != nil && ctx.Err() == nil {
		w.log.Error("worker: what is due could not be worked out", "error", err)
	}
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
