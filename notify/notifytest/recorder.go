package notifytest

import (
	"context"
	"slices"
	"sync"

	"leground/notify"
)

// Recorder is a channel that writes down what it is given. Answer, when set, decides what becomes of a
// message, as a server would; it may block until ctx ends.
type Recorder struct {
	Called string // the channel's name; empty: "email"
	Answer func(ctx context.Context, m notify.Message) error
	Forget bool // nothing is written down: Answer sees to it

	mu    sync.Mutex
	tried []notify.Message
	taken []notify.Message
}

// Name is part of notify.Channel.
func (r *Recorder) Name() string {
	if r.Called == "" {
		return "email"
	}
	return r.Called
}

// Send is part of notify.Channel.
func (r *Recorder) Send(ctx context.Context, m notify.Message) (notify.Receipt, error) {
	r.keep(&r.tried, m)
	if r.Answer != nil {
		if err := r.Answer(ctx, m); err != nil {
			return notify.Receipt{}, err
		}
	}
	r.keep(&r.taken, m)
	return notify.Receipt{Answer: "250 taken"}, nil
}

func (r *Recorder) keep(in *[]notify.Message, m notify.Message) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if !r.Forget {
		*in = append(*in, m)
	}
}

// Tried gives every message handed to Send, in order.
func (r *Recorder) Tried() []notify.Message {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.Clone(r.tried)
}

// Taken gives every message that was accepted, in order.
func (r *Recorder) Taken() []notify.Message {
	r.mu.Lock()
	defer r.mu.Unlock()
	return slices.Clone(r.taken)
}
