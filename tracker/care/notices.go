package care

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// notice is something else that people are told once. Each kind is a function in workOutNotices that works them
// out from what is stored.
type notice struct {
	rounds.Notice
	kind    tracker.NewsKind // empty: a notice
	title   string           // the subject line
	brief   string           // the same without a horse's name, for a lock screen; empty: title names none
	lines   []string         // whole sentences
	week    tracker.NewsWeek
	link    string
	horses  []tracker.HorseID
	owners  bool   // each of them is told; otherwise one person is, the first of the round that is on
	without string // a channel that cannot carry it; empty: none
	alone   bool   // it never goes into a message about a round
}

// noticeLife is the longest time after its start in which a notice is still sent. What people were told is
// known for longer than that, so that nothing is said twice.
const noticeLife = 48 * time.Hour

// workOutNotices gathers what people are to be told now, or were within noticeLife.
func (d *desk) workOutNotices() error {
	for _, work := range []func() ([]notice, error){d.givenTwice, d.isolationEnds, d.planNotices, d.mixNotices, d.supplyNotices, d.badAddresses, d.mailStops, d.mailTrouble, d.week} {
		found, err := work()
		if err != nil {
			return err
		}
		for _, n := range found {
			if n.UseBy.IsZero() {
				n.UseBy = n.At.Add(noticeLife)
			}
			d.notices = append(d.notices, n)
		}
	}
	return nil
}

// noticeAll tells people what no message about a round has carried.
func (d *desk) noticeAll() error {
	for _, n := range d.notices {
		m := d.noticeMessage(n)
		for _, c := range d.contacts {
			if _, err := d.settle(m, c, func(told []rounds.Message) rounds.Decision { return d.decideNotice(n, c, told) }); err != nil {
				return err
			}
		}
	}
	return d.ringToday()
}

// decideNotice decides about a notice to somebody. Before the first round of a day nobody is told anything
// that can wait for it.
func (d *desk) decideNotice(n notice, c Contact, told []rounds.Message) rounds.Decision {
	p := d.asPerson(c)
	switch {
	case n.owners && c.Role == tracker.Owner:
		p.Turn = rounds.First
	case n.owners:
		p.Turn = 0
	case d.toldAnother(n, c):
		return rounds.Decision{Act: rounds.Drop, Why: rounds.AllAsked}
	}
	if n.without != "" {
		ways, _ := d.service.firstWays(c, d.ways, n.without)
		p.Reachable = len(ways) > 0
	}
	decision := rounds.DecideNotice(n.Notice, d.rules, p, rounds.History{Sent: told}, d.Now)
	return d.notAtNight(decision)
}

// toldAnother tells whether somebody else has been told of a notice that is told to one person.
func (d *desk) toldAnother(n notice, c Contact) bool {
	return slices.ContainsFunc(d.history, func(r Reminder) bool {
		about := r.Kind == rounds.AboutNotice && r.Subject == n.Subject || slices.Contains(r.Carries, Carried{rounds.AboutNotice, n.Subject})
		return about && r.Person != c.ID && (r.State == rounds.Sent || r.State == rounds.Sending || r.State == rounds.Planned)
	})
}

// notAtNight lets a message that can wait for the first round of the day wait for it.
func (d *desk) notAtNight(decided rounds.Decision) rounds.Decision {
	if decided.Act != rounds.Send || len(d.Yard.Slots) == 0 {
		return decided
	}
	if morning := rounds.Due(d.Today, d.Yard.Slots[0].At, d.Zone); d.Now.Before(morning) {
		return rounds.Decision{Act: rounds.Wait, Rung: decided.Rung, Until: morning, Why: rounds.NotYet}
	}
	return decided
}

func (d *desk) noticeMessage(n notice) message {
	m := message{kind: rounds.AboutNotice, subject: n.Subject, useBy: n.UseBy, horses: n.horses, without: n.without}
	m.says = func(Contact, rounds.Rung) (tracker.News, []Carried) {
		says := d.newsHead(tracker.NewsNotice)
		if n.kind != "" {
			says.Kind = n.kind
		}
		says.Title, says.Brief, says.Lines, says.Link, says.Week = n.title, n.brief, n.lines, n.link, n.week
		return says, nil
	}
	return m
}

// firstRound gives when a day's first round is due.
func (d *desk) firstRound(day tracker.Date) time.Time {
	if len(d.Yard.Slots) == 0 {
		return rounds.Due(day, 8*60, d.Zone)
	}
	return rounds.Due(day, d.Yard.Slots[0].At, d.Zone)
}

// isolationEnds tells on the last day of a horse's isolation.
func (d *desk) isolationEnds() (out []notice, err error) {
	for _, h := range d.horses {
		if h.IsolatedUntil < d.Today-2 || h.IsolatedUntil > d.Today+1 || h.IsolatedUntil == 0 {
			continue
		}
		day := tracker.DayName(h.IsolatedUntil)
		out = append(out, notice{
			Notice: rounds.Notice{Subject: "isolation " + string(h.ID) + " " + h.IsolatedUntil.String(), At: d.firstRound(h.IsolatedUntil)},
			title:  "Isolation of " + h.Name + " ends on " + day, brief: "An isolation ends on " + day,
			lines: []string{fmt.Sprintf("The isolation of %s ends on %s. Ask your vet before %s joins the others.", h.Name, day, h.Name)},
			link:  "/horse/" + string(h.ID), horses: []tracker.HorseID{h.ID},
		})
	}
	return out, nil
}

// badAddresses tells owners when a mail server says that a person's address does not exist.
func (d *desk) badAddresses() (out []notice, err error) {
	for _, c := range d.contacts {
		if c.BadDays == 0 || c.BadSince < d.Today-2 && !c.MailMarked() {
			continue
		}
		line := fmt.Sprintf("Mail to %s (%s) did not arrive on %s: the mail server says that there is no such address.", c.Name, c.Email, tracker.DayName(c.BadSince))
		subject := "address " + string(c.ID) + " " + c.BadSince.String()
		at := d.firstRound(c.BadSince)
		if c.MailMarked() {
			line = fmt.Sprintf("Mail to %s (%s) was refused on %d days. Nothing more is sent there.", c.Name, c.Email, c.BadDays)
			subject += " marked"
			at = d.Now
		}
		out = append(out, notice{
			Notice: rounds.Notice{Subject: subject, At: at, UseBy: d.Now.Add(noticeLife)}, title: "Mail to " + c.Name + " does not arrive",
			lines: []string{line, "Ask " + c.Name + " for another way: a phone, or the right address."}, link: "/people", owners: true,
		})
	}
	return out, nil
}

// mailStops tells owners that somebody wants no more mail.
func (d *desk) mailStops() (out []notice, err error) {
	for _, c := range d.contacts {
		if c.MailStopped.IsZero() || d.Now.Sub(c.MailStopped) > noticeLife {
			continue
		}
		out = append(out, notice{
			Notice: rounds.Notice{Subject: "stopped " + string(c.ID) + " " + c.MailStopped.UTC().Format(time.RFC3339), At: c.MailStopped},
			title:  c.Name + " stopped mail",
			lines:  []string{c.Name + " stopped mail from this yard. They can start it again under Reminders."}, link: "/people", owners: true,
		})
	}
	return out, nil
}

// mailTrouble tells owners another way that a channel refuses the settings of this server. It is said once a
// day while messages wait for it.
func (d *desk) mailTrouble() (out []notice, err error) {
	for _, row := range d.history {
		channel := ChannelOf(row.Channel)
		subject := "set-up " + channel + " " + d.Today.String()
		if row.State != rounds.Planned || row.Reason != rounds.SetUpFault ||
			slices.ContainsFunc(out, func(n notice) bool { return n.Subject == subject }) {
			continue
		}
		out = append(out, notice{
			Notice: rounds.Notice{Subject: subject, At: d.Now}, title: "Messages by " + channel + " are not sent",
			lines: []string{"Messages by " + channel + " are kept and not sent: " + row.Answer}, link: "/reminders", owners: true, without: channel, alone: true,
		})
	}
	return out, nil
}

// sumUp tells each person in one message of the rounds that could not be said in time.
func (d *desk) sumUp() error {
	for _, c := range d.contacts {
		folded := d.foldedFor(c)
		if len(folded) == 0 {
			continue
		}
		m := d.summaryMessage(folded)
		if _, err := d.settle(m, c, func(told []rounds.Message) rounds.Decision { return d.decideSummary(folded, c, told) }); err != nil {
			return err
		}
	}
	return nil
}

func (d *desk) decideSummary(folded []Reminder, c Contact, told []rounds.Message) rounds.Decision {
	var keys []rounds.Key
	for _, row := range folded {
		keys = append(keys, keyOf(row.Subject))
	}
	return d.notAtNight(rounds.DecideSummary(keys, d.rules, d.asPerson(c), rounds.History{Sent: told}, d.Now))
}

// summaryMessage gives the message about folded ones. Its subject is the day.
func (d *desk) summaryMessage(folded []Reminder) message {
	m := message{kind: rounds.AboutSummary, subject: d.Today.String(), useBy: d.Now.Add(cautionUse)}
	m.says = func(c Contact, _ rounds.Rung) (tracker.News, []Carried) {
		says := d.newsHead(tracker.NewsSummary)
		says.Link = "/reminders"
		var carries []Carried
		for _, row := range folded {
			says.Lines = append(says.Lines, d.roundLine(row.Subject))
			carries = append(carries, Carried{rounds.AboutRound, row.Subject})
		}
		return says, carries
	}
	return m
}

// foldedFor lists what was folded for a person and has not been summed up, oldest first.
func (d *desk) foldedFor(c Contact) []Reminder {
	told := d.told(c.ID, "", "", 0)
	var out []Reminder
	for _, row := range slices.Backward(d.history) {
		if row.Person != c.ID || row.Kind != rounds.AboutRound || row.Rung != rounds.FirstCall || row.State != rounds.Folded {
			continue
		}
		said := slices.ContainsFunc(told, func(m rounds.Message) bool { return m.Kind == rounds.AboutRound && m.Subject == row.Subject })
		again := slices.ContainsFunc(out, func(r Reminder) bool { return r.Subject == row.Subject })
		if !said && !again {
			out = append(out, row)
		}
	}
	return out
}

// keyOf reads the name of a round back from a subject.
func keyOf(subject string) rounds.Key {
	text, slot, _ := strings.Cut(subject, " ")
	day, err := tracker.ParseDate(text)
	if err != nil {
		return rounds.Key{}
	}
	return rounds.Key{Day: day, Slot: slot}
}
