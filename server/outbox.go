package server

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"strings"
	"time"

	"leground/notify"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/rounds"
	"leground/tracker/store"
)

// outbox hands the store's waiting reminders to notify, and what came of them back.
type outbox struct {
	db    *store.DB
	care  *care.Service
	base  string // address of the site, in front of links: "https://yard.example"
	host  string // of Message-IDs
	count func(state, reason string)
}

var _ notify.Outbox = (*outbox)(nil)

// Accounts lists the accounts with rows due.
func (o *outbox) Accounts(ctx context.Context, now time.Time) ([]notify.Account, error) {
	due, err := o.db.DueAccounts(ctx, now)
	accounts := make([]notify.Account, len(due))
	for i, d := range due {
		accounts[i] = notify.Account{Name: d.Account, Channel: d.Channel}
	}
	return accounts, err
}

// Claim takes due rows of one account. A row that cannot be read fails alone, when it is composed.
func (o *outbox) Claim(ctx context.Context, ask notify.Ask) ([]notify.Claimed, error) {
	rows, err := o.db.Claim(ctx, store.Ask{Account: ask.Account.Name, Now: ask.Now, Limit: ask.N, Lease: ask.Lease, OnlyLate: ask.OnlyLate})
	claimed := make([]notify.Claimed, len(rows))
	for i, row := range rows {
		claimed[i] = o.claimed(row, ask.Account)
	}
	return claimed, err
}

// claimed makes a row into a message whose every try has the same bytes.
func (o *outbox) claimed(row store.Claimed, account notify.Account) notify.Claimed {
	c := notify.Claimed{Token: row.Claim, Try: row.Tries, PerhapsSent: row.PerhapsSent, HandOver: row.HandOver, Account: account}
	if err := json.Unmarshal(row.Facts, &c.Content); err != nil {
		c.Content = notify.Content{Kind: notify.CautionOpen} // without a caution, so that composing it fails
	}
	if c.Content.Link != "" {
		c.Content.Link = o.base + c.Content.Link
	}
	unsubscribe := ""
	if row.Token != "" {
		page := o.base + "/message/" + row.Token
		if row.Kind == rounds.AboutRound {
			c.Content.OnIt, c.Content.Later = page+"/on-it", page+"/later"
		}
		if account.Channel == care.ChannelEmail {
			unsubscribe = page + "/stop"
			c.Content.Stop = unsubscribe
		}
	}
	urgency := notify.High
	if row.Kind == rounds.AboutSummary || row.Kind == rounds.AboutNotice {
		urgency = notify.Normal
	}
	thread := strings.NewReplacer(" ", ".", ":", "").Replace(row.Subject)
	c.Message = notify.Message{
		ID: string(row.ID), Kind: c.Content.Kind, About: row.Subject, To: row.To, From: row.YardName,
		MessageID: notify.MessageID("r", string(row.ID), o.host), References: notify.MessageID("t", string(row.Yard)+"."+thread, o.host),
		Date: row.PlannedAt, UseBy: row.UseBy, Urgency: urgency, Topic: notify.Topic(string(row.Yard), row.Subject), Link: c.Content.Link,
		Unsubscribe: unsubscribe,
	}
	return c
}

// ref names the stored row of a claim.
func ref(c notify.Claimed) store.Claimed {
	var row store.Claimed
	row.ID, row.Claim, row.Tries, row.Channel, row.To = tracker.ReminderID(c.Message.ID), c.Token, c.Try, c.Account.Channel, c.Message.To
	row.Yard = yardOf(c.Message.References)
	return row
}

// yardOf reads the yard out of the thread's id, where claimed put it.
func yardOf(thread string) tracker.YardID {
	_, rest, _ := strings.Cut(thread, ".")
	id, _, _ := strings.Cut(rest, ".")
	return tracker.YardID(id)
}

// fresh is how long what was decided when a reminder was planned is taken to hold.
const fresh = 20 * time.Second

// Renew extends a lease and looks again whether the reminder is still to be sent now, unless it was planned
// only just now. The answer is a reason of package rounds; one for which it only waits makes Mark put it off.
func (o *outbox) Renew(ctx context.Context, c notify.Claimed, until time.Time) (string, error) {
	withdrawn, err := o.db.Renew(ctx, ref(c), until)
	if err != nil || withdrawn != "" {
		return withdrawn, lost(err)
	}
	if o.care.Now().Sub(c.Message.Date) < fresh {
		return "", nil
	}
	decision, err := o.care.LookAgain(ctx, ref(c).Yard, ref(c).ID)
	if err != nil || decision.Act == rounds.Send {
		return "", err
	}
	return string(decision.Why), nil
}

// Mark records what came of a claim, with all that follows from it.
func (o *outbox) Mark(ctx context.Context, c notify.Claimed, out notify.Outcome) error {
	row := ref(c)
	life, why := becomes(out)
	mark := store.Outcome{At: out.At, Next: out.Next, Answer: said(out), PutBack: out.State == notify.PutBack, Perhaps: out.Class == notify.Unknown}
	if out.State == notify.Withdrawn && life == rounds.Planned { // it only has to wait
		decision, err := o.care.LookAgain(ctx, row.Yard, row.ID)
		if err != nil {
			return err
		}
		mark.PutBack, mark.Answer, mark.Next = true, why.Sentence(), out.At
		if decision.Act == rounds.Wait {
			mark.Next = decision.Until
		}
	}
	if err := rounds.Sending.Move(life, why); err != nil {
		return fmt.Errorf("%w (outcome %s, %s)", err, out.State, out.Class)
	}
	mark.State, mark.Reason = life.String(), string(why)
	if err := o.db.Mark(ctx, row, mark, o.follow(row, out)); err != nil {
		return lost(err)
	}
	o.count(mark.State, mark.Reason)
	return nil
}

// follow gives what has to be done in the transaction of an outcome; nil: nothing.
func (o *outbox) follow(row store.Claimed, out notify.Outcome) func(care.Tx) error {
	e := care.Ending{
		NextChannel: out.NextChannel, Gone: out.Class == notify.Gone, BadAddress: out.Class == notify.BadAddress,
		SetUpFault: out.Class == notify.SetUpFault || out.Class == notify.AccountFault,
	}
	if e == (care.Ending{}) {
		return nil
	}
	return func(tx care.Tx) error { return o.care.AfterTry(tx, row.ID, e) }
}

// said is what a person reads about a try: what happened, with the server's own words.
func said(out notify.Outcome) string {
	if out.State == notify.Sent {
		return "The server answered: " + out.Answer
	}
	if out.Class == 0 && rounds.Reason(out.Reason).Sentence() != "" {
		return rounds.Reason(out.Reason).Sentence()
	}
	return cmp.Or(out.Reason, out.Answer)
}

// becomes gives the state of a reminder after a try and the reason, in the words of package rounds.
func becomes(out notify.Outcome) (rounds.Life, rounds.Reason) {
	switch out.State {
	case notify.Sent:
		return rounds.Sent, rounds.Accepted
	case notify.Folded:
		return rounds.Folded, rounds.PastUseBy
	case notify.Withdrawn:
		return rounds.Reason(out.Reason).Life(), rounds.Reason(out.Reason)
	}
	planned := map[notify.Class]rounds.Reason{
		notify.ServerTrouble: rounds.ServerTrouble, notify.SetUpFault: rounds.SetUpFault, notify.AccountFault: rounds.SetUpFault,
		notify.Unknown: rounds.PerhapsSent, notify.Passing: rounds.NotNow, notify.OurFault: rounds.NotNow, 0: rounds.NotYet,
	}
	ended := map[notify.Class]rounds.Reason{
		notify.BadAddress: rounds.AddressRefused, notify.Gone: rounds.ChannelGone, notify.RefusedContent: rounds.ContentRefused, 0: rounds.HandedOver,
	}
	if out.State != notify.GivenUp {
		return rounds.Planned, planned[out.Class]
	}
	return rounds.GivenUp, cmp.Or(ended[out.Class], rounds.TooManyTries)
}

func lost(err error) error {
	if errors.Is(err, store.ErrLost) {
		return notify.ErrLost
	}
	return err
}
