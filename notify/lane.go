package notify

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// lane serves one account until it has nothing due, must rest or has used up its pace. An account that is
// down or worn out still lets go of rows whose time is over.
func (d *Deliver) lane(ctx context.Context, a Account) error {
	ch := d.channel(a.Channel)
	for ctx.Err() == nil {
		now, room := d.Clock(), 0
		d.withAccount(a, func(s *account) {
			if ch == nil {
				s.learn(now, noChannel(a))
			}
			room = s.room(now)
		})
		ask := Ask{Account: a, Now: now, N: min(room, batch), Lease: d.lease()}
		if room == 0 {
			ask.N, ask.OnlyLate = batch, true
		}
		rows, err := d.Outbox.Claim(ctx, ask)
		if err != nil {
			return fmt.Errorf("claiming reminders: %w", err)
		}
		if len(rows) == 0 {
			return nil
		}
		if goOn, err := d.serve(ctx, ch, rows); err != nil || !goOn {
			return err
		}
	}
	return nil
}

// noChannel is the failure of a row whose channel this program does not have.
func noChannel(a Account) *Failure {
	return &Failure{Class: SetUpFault, What: fmt.Sprintf("Nothing can be sent by %s: it is not set up here.", a.Channel),
		Advice: "Set it up, or choose another way for these people."}
}

// serve handles claimed rows one after another. Each is marked before the next is begun. When it must
// stop, the rows that are left are put back.
func (d *Deliver) serve(ctx context.Context, ch Channel, rows []Claimed) (goOn bool, err error) {
	for i, c := range rows {
		if ctx.Err() == nil {
			goOn, err = d.handle(ctx, ch, c)
			if err == nil && goOn {
				continue
			}
			i++
		} else {
			goOn = false
		}
		for _, left := range rows[i:] {
			back := Outcome{State: PutBack, At: d.Clock(), Next: d.Clock(), Reason: "Not tried yet: the one before it failed, or the program was stopping."}
			err = errors.Join(err, d.mark(ctx, left, back))
		}
		return goOn, err
	}
	return true, nil
}

// handle brings one claimed row to its outcome and records it. goOn is false when the account must rest.
func (d *Deliver) handle(ctx context.Context, ch Channel, c Claimed) (goOn bool, err error) {
	now := d.Clock()
	if o, over := overdue(c, now); over {
		return true, d.mark(ctx, c, o)
	}
	withdrawn, err := d.Outbox.Renew(ctx, c, now.Add(d.lease()))
	switch {
	case errors.Is(err, ErrLost):
		d.log().Warn("reminders: lease lost before sending", "reminder", c.Message.ID)
		return true, nil
	case err != nil:
		return false, fmt.Errorf("looking again at a reminder: %w", err)
	case withdrawn != "":
		return true, d.mark(ctx, c, Outcome{State: Withdrawn, At: now, Reason: withdrawn})
	}
	m, err := d.compose(c)
	if errors.Is(err, ErrUnknownKind) {
		d.log().Warn("reminders: unknown kind left alone", "reminder", c.Message.ID, "kind", string(c.Content.Kind))
		return true, d.mark(ctx, c, Outcome{State: PutBack, At: now, Next: now.Add(laterLook),
			Reason: "This program is too old to know this kind of reminder. It was left alone for a newer one."})
	}
	if err != nil {
		f := FailureOf(err)
		d.log().Error("reminders: composing failed", "reminder", c.Message.ID, "try", c.Try, "error", f.Err)
		return true, d.mark(ctx, c, d.decide(c, f, now))
	}
	return d.deliver(ctx, ch, c, m)
}

// deliver sends a composed message and records what came of it.
func (d *Deliver) deliver(ctx context.Context, ch Channel, c Claimed, m Message) (goOn bool, err error) {
	m.TriedAt = d.Clock()
	d.withAccount(c.Account, func(s *account) { s.spend(m.TriedAt) })
	receipt, err := d.send(ctx, ch, c, m)
	now := d.Clock()
	if err == nil {
		d.withAccount(c.Account, func(s *account) { goOn = s.learn(now, nil) })
		return goOn, d.mark(ctx, c, Outcome{State: Sent, At: now, Reason: "Sent.", Answer: receipt.Answer})
	}
	f := FailureOf(err)
	if ctx.Err() != nil && errors.Is(f, context.Canceled) && f.Class != Unknown {
		return false, d.mark(ctx, c, Outcome{State: PutBack, At: now, Next: now, Reason: "Not sent: the program was stopping."})
	}
	d.withAccount(c.Account, func(s *account) { goOn = s.learn(now, f) })
	return goOn, d.mark(ctx, c, d.decide(c, f, now))
}

// compose puts a row's content into words. A panic becomes a failure of this row alone.
func (d *Deliver) compose(c Claimed) (m Message, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = ourFault("This message could not be written. The fault is in the program, not in what you did.", p)
		}
	}()
	compose := d.Compose
	if compose == nil {
		compose = Compose
	}
	m = c.Message
	m.Kind = c.Content.Kind
	m.Words, err = compose(c.Content)
	if err != nil && !errors.Is(err, ErrUnknownKind) {
		err = ourFault("This message could not be written. The fault is in the program, not in what you did.", err)
	}
	return m, err
}

// send hands the message to the channel while the lease is kept alive. When the engine stops, a send that
// is under way has a few seconds to end; when the lease is lost, it is cut off at once.
func (d *Deliver) send(ctx context.Context, ch Channel, c Claimed, m Message) (r Receipt, err error) {
	sending, cancel := context.WithCancel(context.WithoutCancel(ctx))
	defer cancel()
	defer context.AfterFunc(ctx, func() {
		select {
		case <-time.After(stopGrace):
			cancel()
		case <-sending.Done():
		}
	})()
	kept := make(chan struct{})
	go func() {
		defer close(kept)
		d.keepLease(sending, cancel, c)
	}()
	defer func() {
		cancel()
		<-kept
		if p := recover(); p != nil {
			err = ourFault("This message could not be sent. The fault is in the program, not in what you did.", p)
		}
	}()
	return ch.Send(sending, m)
}

// keepLease renews the lease three times in its length until the send is over.
func (d *Deliver) keepLease(ctx context.Context, cancel context.CancelFunc, c Claimed) {
	tick := time.NewTicker(d.lease() / 3)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		_, err := d.Outbox.Renew(ctx, c, d.Clock().Add(d.lease()))
		if errors.Is(err, ErrLost) {
			cancel()
			return
		}
		if err != nil && ctx.Err() == nil {
			d.log().Warn("reminders: lease not renewed", "reminder", c.Message.ID, "error", err)
		}
	}
}

// mark records an outcome even when the engine is stopping, and tries a few times: a message that was
// sent and not marked is sent again. A stale token is logged; the other worker has the row.
func (d *Deliver) mark(ctx context.Context, c Claimed, o Outcome) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), markGrace)
	defer cancel()
	wait := 100 * time.Millisecond
	for {
		err := d.Outbox.Mark(ctx, c, o)
		if err == nil {
			return nil
		}
		if errors.Is(err, ErrLost) {
			d.log().Warn("reminders: outcome refused, the lease had passed on", "reminder", c.Message.ID, "outcome", o.State.String())
			return nil
		}
		select {
		case <-time.After(wait):
			wait *= 3
		case <-ctx.Done():
			return fmt.Errorf("recording that reminder %s was %s: %w", c.Message.ID, o.State, err)
		}
	}
}

// ourFault makes a failure of this program out of an error or of what a panic carried.
func ourFault(what string, cause any) *Failure {
	err, isError := cause.(error)
	if !isError {
		err = fmt.Errorf("panic: %v", cause)
	}
	return &Failure{Class: OurFault, What: what, Err: err}
}
