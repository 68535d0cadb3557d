package care

import (
	"cmp"
	"context"
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// LookAgain decides about a reminder that is about to be sent, as if it had not been planned yet: whether it
// is still to be sent, must wait, or is not wanted any more because what it asks for was received meanwhile,
// the caution was closed, its person is away, and so on.
func (s *Service) LookAgain(ctx context.Context, yard tracker.YardID, id tracker.ReminderID) (rounds.Decision, error) {
	now := s.now()
	decision := rounds.Decision{Act: rounds.Send}
	err := s.store.Read(ctx, yard, func(tx Tx) error {
		row, err := tx.Reminder(id)
		if err != nil {
			return err
		}
		if row.Reason == rounds.AskedAgain || row.Kind == KindTest {
			return nil // a person wants it, whatever the rules say
		}
		d, err := s.open(tx, now, now)
		if err != nil {
			return err
		}
		d.looking = true
		decision, err = d.again(row)
		return err
	})
	return decision, err
}

// again decides about a planned message once more.
func (d *desk) again(row Reminder) (rounds.Decision, error) {
	send := rounds.Decision{Act: rounds.Send, Rung: row.Rung}
	i := slices.IndexFunc(d.contacts, func(c Contact) bool { return c.ID == row.Person })
	if i < 0 {
		return rounds.Decision{Act: rounds.Drop, Why: rounds.PersonLeft}, nil
	}
	c, kind := d.contacts[i], row.Kind
	if row.Channel == ChannelEmail && !c.MailStopped.IsZero() {
		return rounds.Decision{Act: rounds.Drop, Why: rounds.PersonStopped}, nil
	}
	told := d.told(c.ID, kind, row.Subject, row.Rung)
	switch kind {
	case rounds.AboutRound:
		return d.roundAgain(row, c, told)
	case rounds.AboutRingNow, rounds.AboutToday:
		caution, err := d.tx.Caution(tracker.CautionID(firstWord(row.Subject)))
		if err != nil || caution.Closed() && firstWord(row.Subject) == row.Subject {
			return rounds.Decision{Act: rounds.Drop, Why: rounds.CautionClosed}, err
		}
		if kind == rounds.AboutToday {
			return d.decideToday(caution, c, told), nil
		}
	case rounds.AboutNotice:
		if err := d.workOutNotices(); err != nil {
			return send, err
		}
		for _, n := range d.notices {
			if n.Subject == row.Subject {
				return d.decideNotice(n, c, told), nil
			}
		}
		return rounds.Decision{Act: rounds.Drop, Why: rounds.PlanChanged}, nil
	}
	return send, nil
}

// roundAgain decides about a message about rounds that are due together.
func (d *desk) roundAgain(row Reminder, c Contact, told []rounds.Message) (rounds.Decision, error) {
	for _, part := range rounds.Together(slices.DeleteFunc(slices.Clone(d.rounds), func(r tracker.Round) bool { return !d.live(r) })) {
		if rounds.KeyOf(part[0]).String() != row.Subject {
			continue
		}
		group, err := d.tallyAll(part)
		if err != nil {
			return rounds.Decision{}, err
		}
		return d.decideRound(group, c, told), nil
	}
	return rounds.Decision{Act: rounds.Drop, Why: rounds.PastUseBy}, nil
}

// Ending is what came of a try to send a reminder, as far as anything follows from it.
type Ending struct {
	NextChannel bool // it is given up on this way: the person's next channel takes over
	Gone        bool // the way has ended: it is forgotten
	BadAddress  bool // a mail server said that there is no such address
	SetUpFault  bool // the server of this channel refuses our settings
}

// AfterTry does what follows from a try, in the transaction that notes it.
func (s *Service) AfterTry(tx Tx, id tracker.ReminderID, e Ending) error {
	now := s.now()
	row, err := tx.Reminder(id)
	if err != nil {
		return err
	}
	channel := ChannelOf(row.Channel)
	if channel != ChannelEmail && (e.Gone || e.BadAddress) {
		if err := tx.DropWay(row.Channel); err != nil && tracker.KindOf(err) != tracker.NotFound {
			return err
		}
	}
	if channel == ChannelEmail && e.BadAddress {
		if err := s.noteBadDay(tx, row.Person); err != nil {
			return err
		}
	}
	if e.NextChannel {
		if err := s.handOver(tx, row); err != nil {
			return err
		}
	}
	return tx.WakeBy(now) // so that others hear of it
}

func (s *Service) noteBadDay(tx Tx, person tracker.PersonID) error {
	m, e1 := momentOf(tx, s.now())
	people, e2 := tx.Contacts()
	if err := cmp.Or(e1, e2); err != nil {
		return err
	}
	for _, c := range people {
		if c.ID == person {
			return tx.AddBadDay(c.ID, c.Email, m.Today)
		}
	}
	return nil
}

// handOver plans a message that could not be sent on one way on the person's next channel, unless another
// way of the same channel has sent it or still may.
func (s *Service) handOver(tx Tx, row Reminder) error {
	now := s.now()
	d, err := s.open(tx, now, now)
	if err != nil {
		return err
	}
	i := slices.IndexFunc(d.contacts, func(c Contact) bool { return c.ID == row.Person })
	rows := d.group(message{kind: row.Kind, subject: row.Subject}, row.Person, row.Rung)
	if i < 0 || standing(rows) != rounds.GivenUp || !row.UseBy.After(now) {
		return nil
	}
	var tried []string
	for _, r := range rows {
		tried = append(tried, ChannelOf(r.Channel))
	}
	ways, more := s.firstWays(d.contacts[i], d.ways, tried...)
	for _, way := range ways {
		next := row
		next.ID, next.Channel, next.Account = tracker.ReminderID(NewID()), way.ID, way.Account
		next.State, next.Reason, next.Answer, next.Tries = rounds.Planned, "", "", 0
		next.PlannedAt, next.SendAt, next.HandOver = now, now, time.Time{}
		next.Token, _ = newToken()
		if more {
			next.HandOver = now.Add(handOverAfter)
		}
		if err := tx.AddReminder(next); err != nil {
			return err
		}
	}
	return nil
}
