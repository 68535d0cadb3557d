package email

import (
	"errors"
	"fmt"

	"github.com/emersion/go-smtp"

	"leground/notify"
)

// step is what was being done when a server answered, or did not.
type step int

// The steps of sending one mail. The greeting includes our EHLO; the body is the message without its
// final dot.
const (
	stepConnect step = iota + 1
	stepTLS
	stepGreeting
	stepStartTLS
	stepAuth
	stepMail
	stepRcpt
	stepData
	stepBody
	stepDot
)

var stepNames = [...]string{"", "connect", "tls", "greeting", "starttls", "auth", "mail", "rcpt", "data", "body", "dot"}

// String gives the step's name in the table of answers.
func (s step) String() string { return stepNames[s] }

// enhancedCode is the enhanced status code of RFC 3463; zero when the server gave none.
type enhancedCode = smtp.EnhancedCode

// classOf is the table of answers: what a reply code means at a step, 0 standing for no reply at all, a
// lost link or a time-out. It is 0 for a reply that accepts.
//
// A word of caution stands behind each row. A refused sign-in is never blamed on a recipient; one
// refused recipient never stops the mail of others; a message that may have been taken is never called
// lost; and what a server calls temporary is always tried again.
func classOf(at step, code int, enhanced enhancedCode) notify.Class {
	switch {
	case code == 0 && at == stepDot:
		return notify.Unknown
	case code == 0:
		return notify.ServerTrouble
	case code/100 == 2, code == 354 && at == stepData, code == 334 && at == stepAuth:
		return 0
	case enhanced == enhancedCode{5, 4, 5} && at >= stepMail:
		return notify.AccountFault // a sending quota, wherever the provider says so
	case code == 421 && at != stepDot:
		return notify.ServerTrouble // the server is closing (RFC 5321 3.8)
	}
	switch at {
	case stepAuth:
		return classOfAuth(code)
	case stepMail:
		return classOfMail(code, enhanced)
	case stepRcpt:
		return classOfRcpt(code, enhanced)
	case stepData:
		return classOfData(code)
	case stepDot:
		return classOfDot(code, enhanced)
	}
	if code/100 == 5 {
		return notify.SetUpFault // not for us: a blocked machine, a refused name, no encryption
	}
	return notify.ServerTrouble
}

func classOfAuth(code int) notify.Class {
	if code/100 == 5 || code == 432 { // 432: the password must be changed first (RFC 4954 6)
		return notify.SetUpFault
	}
	return notify.ServerTrouble
}

func classOfMail(code int, enhanced enhancedCode) notify.Class {
	switch {
	case code == 530, code == 538: // sign-in or encryption is required
		return notify.SetUpFault
	case code == 552 && enhanced[1] == 3: // larger than the server takes (RFC 1870 6.1)
		return notify.RefusedContent
	case code/100 == 5:
		return notify.AccountFault
	}
	return notify.ServerTrouble
}

func classOfRcpt(code int, enhanced enhancedCode) notify.Class {
	if code/100 == 4 {
		return notify.Passing
	}
	switch code {
	case 530, 538:
		return notify.SetUpFault
	case 552:
		return notify.Passing // mailbox full; some servers mean too many recipients (RFC 5321 4.5.3.1.10)
	case 550, 551, 553, 501, 554, 556, 521:
		return classOfMailbox(code, enhanced)
	case 500, 502, 503, 504, 555:
		return notify.ServerTrouble // the two programs misunderstand each other; no fault of this person
	}
	return notify.RefusedContent
}

// classOfMailbox reads a refused recipient: by its enhanced code where there is one (RFC 3463 3.2, 3.3).
func classOfMailbox(code int, enhanced enhancedCode) notify.Class {
	switch {
	case isSender(enhanced):
		return notify.AccountFault
	case enhanced[1] == 1:
		return notify.BadAddress
	case enhanced[1] == 2 && enhanced[2] == 2: // mailbox full
		return notify.Passing
	case enhanced[1] == 2 && enhanced[2] <= 1: // mailbox disabled
		return notify.BadAddress
	case enhanced[1] == 0 && code != 554:
		return notify.BadAddress
	}
	return notify.RefusedContent // a policy: the address is good, the mail is not wanted
}

// isSender tells a complaint about the sender's address: 5.1.7, 5.1.8 (RFC 3463 3.2).
func isSender(enhanced enhancedCode) bool {
	return enhanced[1] == 1 && (enhanced[2] == 7 || enhanced[2] == 8)
}

func classOfData(code int) notify.Class {
	switch {
	case code/100 == 4:
		return notify.Passing
	case code == 554:
		return notify.RefusedContent
	}
	return notify.ServerTrouble
}

func classOfDot(code int, enhanced enhancedCode) notify.Class {
	switch {
	case code/100 == 4:
		return notify.Passing
	case code/100 != 5:
		return notify.Unknown // not an answer that RFC 5321 knows here
	case isSender(enhanced):
		return notify.AccountFault
	case enhanced[1] == 1:
		return notify.BadAddress // there is one recipient, refused late
	}
	return notify.RefusedContent
}

// replyOf gives the server's reply inside err; the code is 0 when there is none.
func replyOf(err error) (code int, enhanced enhancedCode, answer string) {
	var reply *smtp.SMTPError
	if !errors.As(err, &reply) {
		return 0, enhancedCode{}, ""
	}
	answer = fmt.Sprintf("%d ", reply.Code)
	if e := reply.EnhancedCode; e != (enhancedCode{}) {
		answer += fmt.Sprintf("%d.%d.%d ", e[0], e[1], e[2])
	}
	return reply.Code, reply.EnhancedCode, answer + reply.Message
}

// asksToSlow tells whether a temporary reply may be about how much was sent. One about a single mailbox
// (RFC 3463: x.2.y) is not.
func asksToSlow(at step, code int, enhanced enhancedCode) bool {
	return code/100 == 4 && at >= stepMail && enhanced[1] != 2
}
