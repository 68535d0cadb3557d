package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"leground/notify"
	"leground/tracker"
	"leground/tracker/rounds"
	"leground/tracker/store"
)

// outbox hands the store's waiting reminders to notify.
type outbox struct {
	db   *store.DB
	base string // address of the site, in front of links: "https://yard.example"
	host string // of Message-IDs
}

var _ notify.Outbox = (*outbox)(nil)

// Accounts lists the channels with rows due; each channel here has one account.
func (o *outbox) Accounts(ctx context.Context, now time.Time) ([]notify.Account, error) {
	channels, err := o.db.DueChannels(ctx, now)
	accounts := make([]notify.Account, len(channels))
	for i, c := range channels {
		accounts[i] = notify.Account{Name: c, Channel: c}
	}
	return accounts, err
}

// Claim takes due rows of one channel.
func (o *outbox) Claim(ctx context.Context, ask notify.Ask) ([]notify.Claimed, error) {
	rows, err := o.db.Claim(ctx, store.Ask{Channel: ask.Account.Channel, Now: ask.Now, Limit: ask.N, Lease: ask.Lease, OnlyLate: ask.OnlyLate})
	if err != nil {
		return nil, err
	}
	claimed := make([]notify.Claimed, len(rows))
	for i, row := range rows {
		if claimed[i], err = o.claimed(row); err != nil {
			return nil, err
		}
	}
	return claimed, nil
}

// claimed makes a row into a message whose every try has the same bytes.
func (o *outbox) claimed(row store.Claimed) (notify.Claimed, error) {
	c := notify.Claimed{Token: row.Token, Try: row.Tries, PerhapsSent: row.PerhapsSent, Account: notify.Account{Name: row.Channel, Channel: row.Channel}}
	if err := json.Unmarshal(row.Facts, &c.Content); err != nil {
		return c, fmt.Errorf("reminder %s: what it says cannot be read: %w", row.ID, err)
	}
	c.Content.Link = o.base + c.Content.Link
	thread := strings.ReplaceAll(strings.ReplaceAll(row.Subject, " ", "."), ":", "")
	c.Message = notify.Message{
		ID: string(row.ID), Kind: c.Content.Kind, About: row.Subject, To: row.Email, From: row.YardName,
		MessageID: notify.MessageID("r", string(row.ID), o.host), References: notify.MessageID("t", string(row.Yard)+"."+thread, o.host),
		Date: row.PlannedAt, UseBy: row.UseBy, Urgency: notify.High, Topic: notify.Topic(string(row.Yard), row.Subject), Link: c.Content.Link,
	}
	return c, nil
}

// ref names the stored row of a claim.
func ref(c notify.Claimed) store.Claimed {
	var row store.Claimed
	row.ID, row.Token, row.Tries, row.Channel = tracker.ReminderID(c.Message.ID), c.Token, c.Try, c.Account.Channel
	row.Yard = yardOf(c.Message.References)
	return row
}

// yardOf reads the yard out of the thread's id, where claimed put it.
func yardOf(thread string) tracker.YardID {
	_, rest, _ := strings.Cut(thread, ".")
	id, _, _ := strings.Cut(rest, ".")
	return tracker.YardID(id)
}

// Renew extends a lease and looks again.
func (o *outbox) Renew(ctx context.Context, c notify.Claimed, until time.Time) (string, error) {
	withdrawn, err := o.db.Renew(ctx, ref(c), until)
	return withdrawn, lost(err)
}

// Mark records what came of a claim.
func (o *outbox) Mark(ctx context.Context, c notify.Claimed, out notify.Outcome) error {
	state := map[notify.State]rounds.Life{
		notify.Sent: rounds.Sent, notify.Again: rounds.Planned, notify.PutBack: rounds.Planned,
		notify.GivenUp: rounds.GivenUp, notify.Withdrawn: rounds.Withdrawn, notify.Folded: rounds.Folded,
	}[out.State]
	return lost(o.db.Mark(ctx, ref(c), store.Outcome{
		State: state.String(), At: out.At, Next: out.Next, Reason: out.Reason, Answer: out.Answer,
		PutBack: out.State == notify.PutBack, Perhaps: out.Class == notify.Unknown,
	}))
}

func lost(err error) error {
	if errors.Is(err, store.ErrLost) {
		return notify.ErrLost
	}
	return err
}
