package notify

import "time"

// overdue gives the outcome of a row whose time is over before it was sent.
func overdue(c Claimed, now time.Time) (Outcome, bool) {
	if useBy := c.Message.UseBy; !useBy.IsZero() && !now.Before(useBy) {
		return Outcome{State: Folded, At: now, Reason: "Its use-by passed before it could be sent. It goes into the next summary."}, true
	}
	if !c.HandOver.IsZero() && !now.Before(c.HandOver) {
		return Outcome{State: GivenUp, At: now, NextChannel: true, Reason: "Not accepted in time. The next way to reach this person takes over."}, true
	}
	return Outcome{}, false
}

// decide turns the failure of a try into the outcome of its row.
func (d *Deliver) decide(c Claimed, f *Failure, now time.Time) Outcome {
	o := Outcome{At: now, Class: f.Class, Reason: f.Error(), Answer: f.Answer}
	giveUp := func() Outcome {
		o.State, o.NextChannel = GivenUp, true
		return o
	}
	switch f.Class {
	case SetUpFault, AccountFault:
		// Nobody's row is at fault: it waits for its account and the try does not count.
		o.State, o.Next = PutBack, now
		return o
	case BadAddress, Gone, RefusedContent:
		return giveUp()
	case OurFault:
		if c.Try >= mostTries {
			return giveUp()
		}
	case Unknown:
		if c.PerhapsSent+1 >= mostMaybe {
			o.Reason += " This was the third time, so it is not tried again."
			return giveUp()
		}
	}
	next := d.NextTry(c, now)
	if next.IsZero() {
		o.Reason += " It was tried as often as planned."
		return giveUp()
	}
	return d.again(c, f, o, next, now)
}

// again plans the next try: not before the server's wish, spread by jitter, never past the use-by, and
// brought forward to the hand-over time where the next channel is to take over.
func (d *Deliver) again(c Claimed, f *Failure, o Outcome, next, now time.Time) Outcome {
	if f.Class == Unknown && next.Before(now.Add(d.lease())) {
		next = now.Add(d.lease())
	}
	if asked := now.Add(min(f.RetryAfter, restMost)); next.Before(asked) {
		next = asked
	}
	next = next.Add(d.Jitter(min(jitterTop, next.Sub(now))))
	if !c.HandOver.IsZero() && c.HandOver.Before(next) {
		next = c.HandOver
	}
	if useBy := c.Message.UseBy; !useBy.IsZero() && !next.Before(useBy) {
		o.State = Folded
		o.Reason += " Its use-by comes before the next try. It goes into the next summary."
		return o
	}
	o.State, o.Next = Again, next
	return o
}
