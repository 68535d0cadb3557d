package email

import (
	"context"
	"fmt"
	"sync"
	"time"

	"leground/notify"
)

// Channel is the mail account that reminders are sent from. It keeps one link open for a few seconds
// after a mail, so that the mails of one round need one sign-in.
type Channel struct {
	set   Settings
	waits waits

	mu   sync.Mutex
	open *session // a link that has just worked, or nil
	idle *time.Timer
}

// New makes a channel from settings, or tells what is wrong with them.
func New(s Settings) (*Channel, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	return &Channel{set: s, waits: standardWaits()}, nil
}

// Name is part of notify.Channel.
func (c *Channel) Name() string { return "email" }

// Send is part of notify.Channel. Mails of one channel go one after another.
func (c *Channel) Send(ctx context.Context, m notify.Message) (notify.Receipt, error) {
	to, raw, failure := c.prepare(m)
	if failure != nil {
		return notify.Receipt{}, failure
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	s, kept := c.take()
	answer, p := c.sendOver(ctx, s, to, raw)
	if p != nil && kept && p.isStale() {
		answer, p = c.sendOver(ctx, nil, to, raw)
	}
	if p != nil {
		return notify.Receipt{}, c.failure(p, to)
	}
	return notify.Receipt{Answer: c.discreet(answer)}, nil
}

// Try sends one message over a link of its own and tells in plain words what the server said: the
// answer to "send me one now". The wait is that of ctx, so give it a short one.
func (c *Channel) Try(ctx context.Context, m notify.Message) (words string, err error) {
	to, raw, failure := c.prepare(m)
	if failure != nil {
		return "", failure
	}
	s, p := c.dial(ctx)
	if p != nil {
		return "", c.failure(p, to)
	}
	answer, p := c.deliver(ctx, s, to, raw)
	if p != nil {
		s.close()
		return "", c.failure(p, to)
	}
	c.quit(s)
	return fmt.Sprintf("%s took the message for %s. It answered: %q. Look in the inbox, and among the junk.",
		c.set.Host, to, c.discreet(answer)), nil
}

// Close says goodbye to the server if a link is still open. The channel can be used again.
func (c *Channel) Close() {
	c.mu.Lock()
	defer c.mu.Unlock()
	if s, kept := c.take(); kept {
		c.quit(s)
	}
}

// prepare checks the address and writes the mail.
func (c *Channel) prepare(m notify.Message) (to string, raw []byte, failure *notify.Failure) {
	to, err := cleanAddress(m.To)
	if err != nil {
		return "", nil, &notify.Failure{Class: notify.BadAddress, What: "No mail can be sent: " + err.Error() + ".",
			Advice: "Correct the address.", Err: err}
	}
	raw, err = write(m, c.set.From, to)
	if err != nil {
		return "", nil, &notify.Failure{Class: notify.OurFault,
			What: "This mail could not be written. The fault is in the program, not in what you did.", Err: err}
	}
	return to, raw, nil
}

// sendOver delivers over the given link, or a new one when it is nil, and keeps the link that worked.
func (c *Channel) sendOver(ctx context.Context, s *session, to string, raw []byte) (answer string, p *problem) {
	if s == nil {
		if s, p = c.dial(ctx); p != nil {
			return "", p
		}
	}
	answer, p = c.deliver(ctx, s, to, raw)
	if p != nil {
		s.close()
		return "", p
	}
	c.keep(s)
	return answer, nil
}

// take gives the link that was kept, if any. The caller holds the lock.
func (c *Channel) take() (s *session, kept bool) {
	if c.open == nil {
		return nil, false
	}
	s, c.open = c.open, nil
	c.idle.Stop()
	return s, true
}

// keep holds a link for the next mail and hangs up when none comes. The caller holds the lock.
func (c *Channel) keep(s *session) {
	c.open = s
	c.idle = time.AfterFunc(c.waits.idle, func() {
		c.mu.Lock()
		defer c.mu.Unlock()
		if c.open == s {
			c.open = nil
			c.quit(s)
		}
	})
}
