package care

import (
	"slices"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/rounds"
)

// The channels.
const (
	ChannelEmail   = "email"
	ChannelPush    = "push"
	ChannelWebhook = "webhook"
)

// Channels lists them in the order in which somebody who has not chosen is reached.
func Channels() []string { return []string{ChannelPush, ChannelEmail, ChannelWebhook} }

// ChannelOf gives the channel of a way: the first word of its id.
func ChannelOf(way string) string { return firstWord(way) }

func firstWord(text string) string {
	word, _, _ := strings.Cut(text, " ")
	return word
}

// Choice is what a person chose about messages from one yard.
type Choice struct {
	Channels    []string // in order; none: on the Board only
	Quiet       rounds.Quiet
	Away        []Span
	Names       bool          // horse names may show on a lock screen
	Alarm       time.Duration // how long before a round their calendar rings; 0: never
	MailStopped time.Time     // zero: mail is wanted
	Changed     time.Time     // zero: they have not chosen yet
}

// Contact is a member who is in the yard, with what they chose.
type Contact struct {
	tracker.Member
	Choice
	BadDays  int          // days on which a mail server said that there is no such address
	BadSince tracker.Date // the first of them
}

// Span is a run of local days.
type Span = rounds.Span

// badDays is on how many different days an address must be refused before it is left alone.
const badDays = 3

// MailMarked tells whether the person's address is left alone because it was refused too often.
func (c Contact) MailMarked() bool { return c.BadDays >= badDays }

// Way is one phone or one webhook endpoint of a person.
type Way struct {
	ID      string // its channel, a space and an id of its own
	Person  tracker.PersonID
	Account string // whose pace and trouble it shares
	Body    string // JSON of what the channel needs to reach it
	Name    string // which phone or address, for people
	Session string // the session of the phone, with which it ends
	Made    time.Time
	Proved  time.Time // zero: it has not shown yet that it wants messages
}

// PressKind is what somebody pressed in a message.
type PressKind string

// The presses.
const (
	OnIt  PressKind = "on it"
	Later PressKind = "later"
)

// Press is one of them.
type Press struct {
	ID      string
	Person  tracker.PersonID
	Subject string // rounds.Key.String of the round
	Kind    PressKind
	For     time.Duration // of Later
	At      time.Time
}

// ReminderRules are a yard's own rules about messages.
type ReminderRules struct {
	Ladder rounds.Ladder
	Budget int
	Turns  map[string][]tracker.PersonID // by slot: who is asked first, second
	Closed []Closing
}

// Closing is a time in which a yard has no rounds.
type Closing struct {
	Span
	Why string
}

// ClosedOn tells whether the yard has no rounds on a day.
func (r ReminderRules) ClosedOn(day tracker.Date) bool {
	return slices.ContainsFunc(r.Closed, func(c Closing) bool { return c.Has(day) })
}

// RoundChange is what a yard's rounds were until an instant.
type RoundChange struct {
	At    time.Time
	Zone  string
	Slots []tracker.Slot
}

// Reach is who is reminded how.
type Reach interface {
	// Contacts lists the owners and carers who are in the yard, in the order in which they joined.
	Contacts() ([]Contact, error)
	SaveChoice(tracker.PersonID, Choice) error
	// Ways lists the ways of everybody, newest first, without phones that are signed out.
	Ways() ([]Way, error)
	AddWay(Way) error
	// SaveWay keeps another body, name and proof of a way.
	SaveWay(Way) error
	// DropWay forgets a way; one that is not there is a NotFound.
	DropWay(id string) error
	AddBadDay(person tracker.PersonID, address string, day tracker.Date) error
	ClearBadDays(tracker.PersonID) error
	// ReminderRules gives the yard's rules; found is false when it has made none.
	ReminderRules() (rules ReminderRules, found bool, err error)
	SaveReminderRules(ReminderRules) error
	// Presses lists those from an instant on, oldest first.
	Presses(since time.Time) ([]Press, error)
	// AddPress keeps a press; the same id twice is one.
	AddPress(Press) error
	// RoundChanges lists them, oldest first.
	RoundChanges() ([]RoundChange, error)
	AddRoundChange(RoundChange) error
}

// ways gives the ways that reach a contact through a channel, with the account of each.
func (s *Service) ways(c Contact, all []Way, channel string) []Way {
	if !slices.Contains(c.Channels, channel) || !slices.Contains(s.channels, channel) {
		return nil
	}
	if channel == ChannelEmail {
		if c.Email == "" || !c.MailStopped.IsZero() || c.MailMarked() {
			return nil
		}
		return []Way{{ID: ChannelEmail, Person: c.ID, Account: ChannelEmail, Name: c.Email}}
	}
	var out []Way
	for _, way := range all {
		if way.Person == c.ID && ChannelOf(way.ID) == channel && !way.Proved.IsZero() {
			out = append(out, way)
		}
	}
	return out
}

// firstWays gives the ways of the contact's first channel that works, leaving out some; more tells whether
// another channel could take over.
func (s *Service) firstWays(c Contact, all []Way, without ...string) (ways []Way, more bool) {
	for _, channel := range c.Channels {
		if slices.Contains(without, channel) {
			continue
		}
		found := s.ways(c, all, channel)
		switch {
		case len(found) == 0:
		case len(ways) == 0:
			ways = found
		default:
			return ways, true
		}
	}
	return ways, false
}
