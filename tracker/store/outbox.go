package store

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/care"
)

// ErrLost says that a claim is no longer its worker's: the lease ran out and another worker took the reminder.
var ErrLost = errors.New("the lease on this reminder has passed to another worker")

// PersonLeft is why a reminder to somebody who has left the yard is not sent.
const PersonLeft = "person left the yard"

// Ask says which reminders a worker claims.
type Ask struct {
	Account  string
	Now      time.Time
	Limit    int
	Lease    time.Duration // from Now
	OnlyLate bool          // only those whose use-by or hand-over time has passed
}

// Claimed is a reminder of any yard that one worker holds until its lease runs out.
type Claimed struct {
	care.Reminder // Tries counts this one
	Yard          tracker.YardID
	YardName      string
	To            string // the person's mail address now, or the body of their way; empty when it is gone
	Claim         int64  // of this claim: a later claim has another
	PerhapsSent   int    // how many earlier tries may have been taken by a server
}

// Outcome is what came of a claim.
type Outcome struct {
	State   string    // Sent, GivenUp, Withdrawn, Folded, or Planned for another try
	At      time.Time // when it came
	Next    time.Time // with Planned: not before
	Reason  string    // in words for people
	Answer  string    // what the server said, in words for people
	PutBack bool      // with Planned: it was not tried after all
	Perhaps bool      // nobody knows whether a server took it
}

// Due is an account with reminders that can be claimed.
type Due struct{ Account, Channel string }

// DueAccounts lists the accounts that have reminders due and free to claim.
func (db *DB) DueAccounts(ctx context.Context, now time.Time) (due []Due, err error) {
	err = db.run(ctx, everyYard, reads, func(t *tx) error {
		due, err = list(t, func(r row) (d Due, err error) { return d, r.Scan(&d.Account) }, `SELECT DISTINCT account FROM reminder
			WHERE state IN ('planned', 'sending') AND send_at <= $1 AND lease_until <= $1 ORDER BY account`, ms(now))
		return err
	})
	for i := range due {
		due[i].Channel = care.ChannelOf(due[i].Account)
	}
	return due, err
}

// Claim takes reminders of all yards that are due, earliest send time first, and holds each under a lease
// with a new token. One whose lease has run out is due again; since nobody knows how its last try ended,
// it counts as perhaps sent. Two workers never get the same claim.
func (db *DB) Claim(ctx context.Context, ask Ask) (claimed []Claimed, err error) {
	late := ""
	if ask.OnlyLate {
		late = " AND (use_by <= $1 OR hand_over_at > 0 AND hand_over_at <= $1)"
	}
	err = db.run(ctx, everyYard, works, func(t *tx) error {
		claimed, err = list(t, scanClaimed, `WITH due (of_yard, of_reminder) AS MATERIALIZED (
			SELECT yard_id, reminder_id FROM reminder
			WHERE state IN ('planned', 'sending') AND send_at <= $1 AND lease_until <= $1 AND account = $2`+late+`
			ORDER BY send_at, reminder_id LIMIT $3`+db.skipLocked()+`)
			UPDATE reminder SET state = 'sending', lease_until = $4, lease_token = lease_token + 1, tries = tries + 1,
				perhaps_sent = perhaps_sent + CASE WHEN state = 'sending' THEN 1 ELSE 0 END
			FROM due WHERE yard_id = of_yard AND reminder_id = of_reminder
			RETURNING `+reminderColumns+`, yard_id, lease_token, perhaps_sent,
				(SELECT y.name FROM yard y WHERE y.yard_id = reminder.yard_id),
				CASE WHEN substr(channel, 1, 5) = 'email' THEN (SELECT p.email FROM person p WHERE p.person_id = reminder.person_id)
				ELSE coalesce((SELECT w.body FROM way w WHERE w.yard_id = reminder.yard_id AND w.way_id = reminder.channel
					AND (w.session_id = '' OR EXISTS (SELECT 1 FROM session s WHERE s.session_id = w.session_id AND s.ended_at = 0))), '') END`,
			ms(ask.Now), ask.Account, ask.Limit, ms(ask.Now.Add(ask.Lease)))
		return err
	})
	slices.SortFunc(claimed, func(a, b Claimed) int {
		return cmp.Or(a.SendAt.Compare(b.SendAt), cmp.Compare(a.ID, b.ID))
	})
	return claimed, err
}

func scanClaimed(r row) (c Claimed, err error) {
	return c, r.Scan(append(reminderFields(&c.Reminder), &c.Yard, &c.Claim, &c.PerhapsSent, &c.YardName, &c.To)...)
}

// Renew makes the lease last until the given time and looks again: withdrawn is the reason when the
// reminder is no longer wanted, because its cause went away or its person left the yard. ErrLost when the
// claim is no longer the worker's.
func (db *DB) Renew(ctx context.Context, c Claimed, until time.Time) (withdrawn string, err error) {
	err = db.inYard(ctx, c.Yard, works, func(t *tx) error {
		withdrawn = ""
		held, err := list(t, scanID, `UPDATE reminder SET lease_until = $4
			WHERE yard_id = $1 AND reminder_id = $2 AND lease_token = $3 AND state = 'sending'
			AND EXISTS (SELECT 1 FROM member m WHERE m.yard_id = reminder.yard_id AND m.person_id = reminder.person_id AND m.left_at = 0)
			RETURNING reminder_id`,
			string(c.Yard), string(c.ID), c.Claim, ms(until))
		if err != nil || len(held) > 0 {
			return err
		}
		state, reason, err := t.claim(c)
		switch {
		case err != nil:
			return err
		case state == Withdrawn:
			withdrawn = reason
		case state == Sending:
			withdrawn = PersonLeft
		default:
			return ErrLost
		}
		return nil
	})
	return withdrawn, err
}

func scanID(r row) (id tracker.ReminderID, err error) { return id, r.Scan(&id) }

// claim gives the state of a reminder that is still under this claim's token; empty when it is not.
func (t *tx) claim(c Claimed) (state, reason string, err error) {
	_, err = list(t, func(r row) (none struct{}, err error) { return none, r.Scan(&state, &reason) },
		`SELECT state, reason FROM reminder WHERE yard_id = $1 AND reminder_id = $2 AND lease_token = $3`,
		string(c.Yard), string(c.ID), c.Claim)
	return state, reason, err
}

// Mark records what came of a claim and ends it, with a line about the try. ErrLost when the claim is no
// longer the worker's; then nothing is recorded. A reminder that was withdrawn meanwhile stays so, unless
// a server took it. then, which may be nil, does what follows from the outcome, in the same transaction; it
// waits for the yard's other writes.
func (db *DB) Mark(ctx context.Context, c Claimed, o Outcome, then func(care.Tx) error) error {
	sentAt, putBack, perhaps := time.Time{}, 0, 0
	if o.State == Sent {
		sentAt = o.At
	}
	if o.PutBack {
		putBack = 1
	}
	if o.Perhaps {
		perhaps = 1
	}
	how := works
	if then != nil {
		how = writes
	}
	return db.inYard(ctx, c.Yard, how, func(t *tx) error {
		then := then
		held, err := list(t, scanID, `UPDATE reminder SET state = $4, reason = $5, answer = $6, sent_at = $7, lease_until = 0,
			send_at = CASE WHEN $4 = 'planned' THEN $8 ELSE send_at END, token = CASE WHEN $4 = 'planned' THEN token ELSE '' END,
			tries = tries - $9, perhaps_sent = perhaps_sent + $10
			WHERE yard_id = $1 AND reminder_id = $2 AND lease_token = $3 AND (state = 'sending' OR state = 'withdrawn' AND $4 = 'sent')
			RETURNING reminder_id`,
			string(c.Yard), string(c.ID), c.Claim, stateWord(o.State), o.Reason, o.Answer, ms(sentAt), ms(o.Next), putBack, perhaps)
		if err != nil {
			return err
		}
		if len(held) == 0 {
			state, _, err := t.claim(c)
			if err != nil {
				return err
			} else if state != Withdrawn {
				return ErrLost
			}
		}
		if len(held) == 0 {
			then = nil
		}
		if o.State == Sent && c.Channel == care.ChannelEmail {
			if err := t.exec(`DELETE FROM bad_address WHERE yard_id = $1 AND address = $2`, string(c.Yard), c.To); err != nil {
				return err
			}
		}
		if !o.PutBack {
			if err := t.insert("reminder_try", `yard_id, reminder_id, number, at, result, answer`,
				string(c.Yard), string(c.ID), c.Tries, ms(o.At), o.State, cmp.Or(o.Answer, o.Reason)); err != nil {
				return err
			}
		}
		if then == nil {
			return nil
		}
		return then(t)
	})
}
