package notify

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"time"
)

// Urgency says how hard a channel should try to wake the person. The zero Urgency is none at all.
type Urgency int

// The urgencies: summaries are Normal; rounds that are due and cautions are High.
const (
	Normal Urgency = iota + 1
	High
)

// Words are what a person reads. Text and HTML can each be read alone; Title and Short fit a phone's lock
// screen and name no horse unless the person allowed it.
type Words struct {
	Subject string // one line, at most 78 characters
	Text    string // plain text, lines ended by \n
	HTML    string
	Title   string
	Short   string
}

// Message is one reminder to one person, ready for a channel. All but TriedAt is the same on every try,
// so that every try has the same bytes.
type Message struct {
	ID          string    // the reminder's id: one message, however often it is tried
	Kind        Kind      // what sort of reminder it is
	About       string    // id of what it is about, so that a phone can tell whether it holds that record
	To          string    // a mail address; a push subscription or a webhook endpoint as JSON
	From        string    // display name of the sender: the yard's name
	MessageID   string    // without angle brackets, fixed when planned; see MessageID
	References  string    // id of the thread's invented root, without angle brackets; see MessageID
	Date        time.Time // when it was planned
	UseBy       time.Time // after this it must not be sent
	Urgency     Urgency
	Topic       string // a later message with the same topic replaces this one on a phone; see Topic
	Link        string // page to open
	Unsubscribe string // address that stops mail to this person by one POST; empty: none
	TriedAt     time.Time
	Words
}

// Receipt is the answer of a server that took a message.
type Receipt struct {
	Answer string // in the server's own words, one line
}

// Channel is one way to reach a person.
type Channel interface {
	// Name is the channel's stored name, such as "email".
	Name() string
	// Send hands over one message and returns once the server has taken it. A refusal is a *Failure.
	// When ctx ends before the server was asked to take the message, nothing has been sent.
	Send(ctx context.Context, m Message) (Receipt, error)
}

// MessageID gives the Message-ID of a reminder, or of the invented root of a thread (RFC 5322 3.6.4):
// kind is "r" for a reminder and "t" for a thread; id holds letters, digits, '.' and '-'.
func MessageID(kind, id, host string) string { return kind + "." + id + "@" + host }

// Topic gives the push topic of a yard and slot: 32 characters of the URL-safe alphabet, the most that
// RFC 8030 5.4 allows. It cannot be read back.
func Topic(yard, slot string) string {
	sum := sha256.Sum256([]byte(yard + "\x00" + slot))
	return base64.RawURLEncoding.EncodeToString(sum[:])[:32]
}
