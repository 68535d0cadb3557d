package care

import (
	"slices"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// cautionUse is how long a message about a caution is worth sending.
const cautionUse = 18 * time.Hour

// callAll tells people about every caution to ring now.
func (d *desk) callAll() error {
	for _, c := range d.cautions {
		if c.Level == tracker.RingNow {
			if err := d.call(c); err != nil {
				return err
			}
		}
	}
	return nil
}

// call tells the first and the second person of the round that is on about a caution to ring now.
func (d *desk) call(c tracker.Caution) error {
	m := d.cautionMessage(rounds.AboutRingNow, c, "")
	turns := d.turns(d.round)
	for _, contact := range d.contacts {
		if _, err := d.settle(m, contact, func(told []rounds.Message) rounds.Decision {
			return rounds.DecideRingNow(c, turns[contact.ID], rounds.History{Sent: told}, d.Now)
		}); err != nil {
			return err
		}
	}
	return nil
}

// ringToday tells the first person of the round that is on about every caution to ring today, where no
// message about a round has.
func (d *desk) ringToday() error {
	for _, c := range d.cautions {
		if c.Level != tracker.RingToday {
			continue
		}
		m := d.cautionMessage(rounds.AboutToday, c, "")
		for _, contact := range d.contacts {
			if _, err := d.settle(m, contact, func(told []rounds.Message) rounds.Decision { return d.decideToday(c, contact, told) }); err != nil {
				return err
			}
		}
	}
	return nil
}

func (d *desk) decideToday(c tracker.Caution, contact Contact, told []rounds.Message) rounds.Decision {
	return rounds.DecideRingToday(c, d.rules, d.Yard.Slots, d.asPerson(contact), rounds.History{Sent: told}, d.Now)
}

// asPerson gives a contact with their turn about the round that is on.
func (d *desk) asPerson(c Contact) rounds.Person {
	p := d.turns(d.round)[c.ID]
	p.CallsLeft = d.callsLeft(p)
	return p
}

// cautionMessage gives the message about a caution, with a line on top.
func (d *desk) cautionMessage(kind rounds.Kind, c tracker.Caution, line string) message {
	m := message{kind: kind, subject: string(c.ID), useBy: d.Now.Add(cautionUse), horses: []tracker.HorseID{c.Horse}}
	m.says = func(Contact, rounds.Rung) (tracker.News, []Carried) {
		says := d.newsHead(tracker.NewsCautionOpen)
		says.Link = "/caution/" + string(c.ID)
		says.Cautions = []tracker.NewsCaution{newsOfCaution(d.Yard, d.nameOf(c.Horse), d.sites, c)}
		if before := d.askedBefore(kind, m.subject); before != "" {
			says.Lines = append(says.Lines, "Told before: "+before+". Nobody has noted yet that they rang.")
		}
		if line != "" {
			says.Lines = append(says.Lines, line)
		}
		return says, nil
	}
	return m
}

// callNow is what follows at once when a caution to ring now is raised: the people of the round and every
// owner are told in the same transaction.
func (s *Service) callNow(tx Tx, c tracker.Caution, reason string, now time.Time) error {
	d, err := s.open(tx, now, now)
	if err != nil {
		return err
	}
	if err := d.call(c); err != nil {
		return err
	}
	m := d.cautionMessage(rounds.AboutRingNow, c, reason)
	for _, contact := range d.contacts {
		if contact.Role == tracker.Owner {
			if err := d.plan(m, contact, rounds.Repeat); err != nil {
				return err
			}
		}
	}
	return tx.WakeBy(d.next)
}

// tellOwners plans the message about what somebody who is no owner did about ring now.
func (s *Service) tellOwners(tx Tx, a Actor, c tracker.Caution, act tracker.CautionAct, reason string, now time.Time) error {
	d, err := s.open(tx, now, now)
	if err != nil {
		return err
	}
	m := d.cautionMessage(rounds.AboutRingNow, c, "")
	m.subject += " " + string(act.ID)
	m.says = func(Contact, rounds.Rung) (tracker.News, []Carried) {
		about, did := newsOfCaution(d.Yard, d.nameOf(c.Horse), d.sites, c), a.Person.Name+" "+actWords(act, d.Zone)
		says := d.newsHead(tracker.NewsNotice)
		says.Title, says.Brief, says.Link = did+": "+d.nameOf(c.Horse), did, "/caution/"+string(c.ID)
		says.Lines = []string{about.Where + ". " + about.Seen}
		if act.Note != "" {
			says.Lines = append(says.Lines, a.Person.Name+" wrote: "+act.Note)
		}
		says.Lines = append(says.Lines, reason)
		return says, nil
	}
	for _, contact := range d.contacts {
		if contact.Role == tracker.Owner {
			if err := d.plan(m, contact, rounds.Repeat); err != nil {
				return err
			}
		}
	}
	return nil
}

// settleCaution is what follows from an act: messages that wait about a closed caution are withdrawn, and
// one that opens again is looked at then.
func settleCaution(tx Tx, c tracker.Caution, act tracker.CautionAct) error {
	if !c.Closed() {
		return tx.WakeBy(latest(act.At, act.Until))
	}
	for _, kind := range []rounds.Kind{rounds.AboutRingNow, rounds.AboutToday} {
		if err := tx.Withdraw(string(kind), string(c.ID), string(rounds.CautionClosed)); err != nil {
			return err
		}
	}
	return nil
}

// openFor lists the open cautions that a message about a round shows, most urgent first.
func (d *desk) openFor() []tracker.NewsCaution {
	var out []tracker.NewsCaution
	for _, c := range d.cautions {
		here := slices.ContainsFunc(d.horses, func(h tracker.Horse) bool { return h.ID == c.Horse })
		if here && c.OpenAt(d.Now) {
			out = append(out, newsOfCaution(d.Yard, d.nameOf(c.Horse), d.sites, c))
		}
	}
	return out
}
