// Package notify says things to people who are not looking at the screen: a round is due, a vet must be
// rung, a mix is past its time. It composes the words, takes due reminders from an outbox and hands them
// to channels. It knows no database: the outbox is an interface declared here and kept elsewhere.
//
// The promise is that a reminder is sent at least once, or stands in the outbox with the reason why not.
// Nobody can promise exactly once: a mail server may take a message and lose the link before it says so.
// Such a try counts as perhaps sent, and the next one carries the same bytes and the same Message-ID.
//
//	Content   facts, frozen as JSON when the reminder is planned
//	Compose   facts to words: subject, plain text, HTML, and two short lines for a phone
//	Channel   one way out; email, push and webhook are folders of their own
//	Outbox    where due reminders wait: claimed under a lease with a fencing token
//	Deliver   the engine between the two: a breaker and a pace for each account, back-off, hand-over
//
// A channel answers with a Receipt or with a *Failure. The class of the failure, never its text, decides
// what happens to the row and to the account; the text is what the server said, for people to read.
//
// The calendar folder is no Channel: a feed is for seeing and never wakes anybody.
package notify
