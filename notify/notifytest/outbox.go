package notifytest

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"sync"
	"time"

	"leground/notify"
)

// Row is one reminder of an Outbox with all that happened to it.
type Row struct {
	Account  notify.Account
	Message  notify.Message
	Content  notify.Content
	SendAt   time.Time
	HandOver time.Time

	Last     notify.Outcome // the last outcome; its State is 0 while the row was never marked
	Outcomes []notify.Outcome
	Tries    int // outcomes that count as a try
	Maybe    int // of these, perhaps sent

	want       string // why it is no longer wanted; empty: it is
	token      int64
	leaseUntil time.Time
}

// Open tells whether the row still waits to be sent.
func (r Row) Open() bool {
	switch r.Last.State {
	case 0, notify.Again, notify.PutBack:
		return true
	}
	return false
}

// Outbox keeps reminders in memory, with leases and fencing tokens as a database would. Fault, when set,
// is asked before each operation ("accounts", "claim", "renew", "mark") and may refuse it.
type Outbox struct {
	Fault func(operation string) error

	mu    sync.Mutex
	rows  map[string]*Row
	token int64
}

// Add plans a reminder; its Message.ID must be new.
func (o *Outbox) Add(r Row) {
	o.mu.Lock()
	defer o.mu.Unlock()
	if o.rows == nil {
		o.rows = map[string]*Row{}
	}
	if o.rows[r.Message.ID] != nil {
		panic("reminder " + r.Message.ID + " is planned twice")
	}
	o.rows[r.Message.ID] = &r
}

// Withdraw says that a reminder is no longer wanted.
func (o *Outbox) Withdraw(id, reason string) {
	o.mu.Lock()
	defer o.mu.Unlock()
	o.rows[id].want = reason
}

// Row gives a copy of one reminder.
func (o *Outbox) Row(id string) Row {
	o.mu.Lock()
	defer o.mu.Unlock()
	return *o.rows[id]
}

// Rows gives copies of all reminders, by id.
func (o *Outbox) Rows() []Row {
	o.mu.Lock()
	defer o.mu.Unlock()
	all := make([]Row, 0, len(o.rows))
	for _, id := range slices.Sorted(maps.Keys(o.rows)) {
		all = append(all, *o.rows[id])
	}
	return all
}

// Accounts is part of notify.Outbox.
func (o *Outbox) Accounts(ctx context.Context, now time.Time) ([]notify.Account, error) {
	if err := o.begin(ctx, "accounts"); err != nil {
		return nil, err
	}
	defer o.mu.Unlock()
	found := map[notify.Account]bool{}
	for _, r := range o.rows {
		if r.due(now) {
			found[r.Account] = true
		}
	}
	return slices.SortedFunc(maps.Keys(found), func(a, b notify.Account) int { return cmp.Compare(a.Name, b.Name) }), nil
}

// Claim is part of notify.Outbox.
func (o *Outbox) Claim(ctx context.Context, ask notify.Ask) ([]notify.Claimed, error) {
	if err := o.begin(ctx, "claim"); err != nil {
		return nil, err
	}
	defer o.mu.Unlock()
	var due []*Row
	for _, r := range o.rows {
		if r.Account == ask.Account && r.due(ask.Now) && (!ask.OnlyLate || r.late(ask.Now)) {
			due = append(due, r)
		}
	}
	slices.SortFunc(due, func(a, b *Row) int {
		return cmp.Or(a.SendAt.Compare(b.SendAt), cmp.Compare(a.Message.ID, b.Message.ID))
	})
	var claimed []notify.Claimed
	for _, r := range due[:min(ask.N, len(due))] {
		o.token++
		r.token, r.leaseUntil = o.token, ask.Now.Add(ask.Lease)
		claimed = append(claimed, notify.Claimed{Token: r.token, Try: r.Tries + 1, PerhapsSent: r.Maybe,
			HandOver: r.HandOver, Account: r.Account, Message: r.Message, Content: r.Content})
	}
	return claimed, nil
}

// Renew is part of notify.Outbox.
func (o *Outbox) Renew(ctx context.Context, c notify.Claimed, until time.Time) (withdrawn string, err error) {
	if err := o.begin(ctx, "renew"); err != nil {
		return "", err
	}
	defer o.mu.Unlock()
	r := o.rows[c.Message.ID]
	if r.token != c.Token {
		return "", notify.ErrLost
	}
	r.leaseUntil = until
	return r.want, nil
}

// Mark is part of notify.Outbox.
func (o *Outbox) Mark(ctx context.Context, c notify.Claimed, out notify.Outcome) error {
	if err := o.begin(ctx, "mark"); err != nil {
		return err
	}
	defer o.mu.Unlock()
	r := o.rows[c.Message.ID]
	if r.token != c.Token {
		return notify.ErrLost
	}
	if out.State == 0 || out.Reason == "" || out.At.IsZero() {
		return fmt.Errorf("an outcome of %s without a state, a reason or a time: %+v", c.Message.ID, out)
	}
	r.token, r.leaseUntil = 0, time.Time{}
	r.Last, r.Outcomes = out, append(slices.Clip(r.Outcomes), out)
	if out.State != notify.PutBack {
		r.Tries++
	}
	if out.Class == notify.Unknown {
		r.Maybe++
	}
	if r.Open() {
		r.SendAt = out.Next
	}
	return nil
}

// begin locks the outbox for one operation unless it must fail.
func (o *Outbox) begin(ctx context.Context, operation string) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if o.Fault != nil {
		if err := o.Fault(operation); err != nil {
			return err
		}
	}
	o.mu.Lock()
	return nil
}

func (r *Row) due(now time.Time) bool {
	return r.Open() && !now.Before(r.SendAt) && !now.Before(r.leaseUntil)
}

func (r *Row) late(now time.Time) bool {
	return !r.Message.UseBy.IsZero() && !now.Before(r.Message.UseBy) || !r.HandOver.IsZero() && !now.Before(r.HandOver)
}
