// Package email sends reminders through a mail server that takes submissions (RFC 5321, RFC 6409).
//
// Nothing is said in the clear: the link is encrypted from the start or by STARTTLS, a server whose offer
// of STARTTLS is missing is refused, and a password never leaves without encryption. Only a server that
// asks for no sign-in may be spoken to without it.
//
// Every step has a wait of its own (RFC 5321 4.5.3.2) for all that it needs, so that a server that drips
// a byte now and then holds nobody longer than one that says nothing. Where the answer to the final dot
// is lost, the message counts as perhaps sent; the next try carries the same bytes and Message-ID.
//
// What an answer means is a table: see classOf.
package email
