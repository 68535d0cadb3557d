package email

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"net/textproto"
	"strings"
	"time"

	"github.com/emersion/go-sasl"

	"leground/notify"
)

// doing says what each step tries to do.
var doing = [...]string{"", "connecting", "starting encryption", "greeting", "starting encryption", "signing in",
	"naming the sender", "naming the receiver", "announcing the message", "handing over the message", "ending the message"}

// classOfLocal gives the class of a problem that is no reply and no lost link: a certificate, a missing
// offer, a token. isOurs is false for all others.
func classOfLocal(p *problem) (class notify.Class, isOurs bool) {
	var certificate *tls.CertificateVerificationError
	var record tls.RecordHeaderError
	var alert tls.AlertError
	var bearer *sasl.OAuthBearerError
	var token tokenError
	code, _, _ := replyOf(p.err)
	switch {
	case code != 0 || p.at == stepDot:
		return 0, false
	case errors.As(p.err, &certificate), errors.As(p.err, &record), errors.As(p.err, &alert), errors.As(p.err, &bearer),
		errors.Is(p.err, errGrantRefused), errors.Is(p.err, errNoWay), errors.Is(p.err, sasl.ErrUnexpectedServerChallenge):
		return notify.SetUpFault, true
	case errors.As(p.err, &token):
		return notify.ServerTrouble, true
	case p.at == stepStartTLS && !isLink(p.err):
		return notify.SetUpFault, true // the library's own words: the offer of STARTTLS is missing
	case p.at == stepMail && !isLink(p.err):
		return notify.BadAddress, true // the address needs characters that this server cannot take
	}
	return 0, false
}

// isLink tells that the link failed: closed, reset, timed out, or no mail server at its end.
func isLink(err error) bool {
	var network net.Error
	var protocol textproto.ProtocolError
	return errors.As(err, &network) || errors.As(err, &protocol) || errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) ||
		strings.Contains(err.Error(), "too long a line") // the library has no name for this one
}

// explain puts a problem into a sentence on what happened and one on what to do.
func (c *Channel) explain(p *problem, f *notify.Failure, to string) (what, advice string) {
	host := fmt.Sprintf("%s (port %d)", c.set.Host, c.set.Port)
	switch {
	case errors.Is(p.stopped, context.Canceled) && f.Class != notify.Unknown:
		return fmt.Sprintf("Sending was stopped while %s at %s. Nothing was sent.", doing[p.at], host), ""
	case f.Class == notify.Unknown:
		return host + " was given the whole message but its last answer did not come. The message may have arrived.", ""
	case f.Code == 0:
		return c.explainSilence(p, f, host, to)
	}
	switch f.Class {
	case notify.SetUpFault:
		if p.at == stepAuth {
			return host + " did not accept the user name and password or token.", "Check both in the mail settings. Some providers want a password made for this one program."
		}
		return fmt.Sprintf("%s refused us while %s.", host, doing[p.at]), "Check the mail settings, or ask the provider with its answer."
	case notify.AccountFault:
		return fmt.Sprintf("%s takes no mail from %s for now.", host, c.set.From), "Ask the provider with its answer: it may be a daily limit or a sender address that is not yours."
	case notify.BadAddress:
		return fmt.Sprintf("%s says that %s takes no mail.", host, to), "Check the address with its owner."
	case notify.RefusedContent:
		return fmt.Sprintf("%s would not take this message for %s.", host, to), "Ask the provider with its answer."
	case notify.Passing:
		return fmt.Sprintf("%s could not take this message for %s just now.", host, to), ""
	}
	return fmt.Sprintf("%s could not go on while %s.", host, doing[p.at]), ""
}

// explainSilence explains a problem without a reply.
func (c *Channel) explainSilence(p *problem, f *notify.Failure, host, to string) (what, advice string) {
	var certificate *tls.CertificateVerificationError
	var record tls.RecordHeaderError
	var network net.Error
	switch {
	case errors.As(p.err, &certificate):
		return fmt.Sprintf("The certificate of %s is not valid for us: %s. Nothing was sent and no password was shown.", host, c.discreet(certificate.Err.Error())),
			"Check the server's name in the mail settings."
	case errors.As(p.err, &record):
		return host + " does not speak encryption from the start. Nothing was sent and no password was shown.",
			"Choose STARTTLS in the mail settings, or the port for encryption from the start, usually 465."
	case errors.Is(p.err, errNoWay), errors.Is(p.err, sasl.ErrUnexpectedServerChallenge):
		return host + " offers no way to sign in that we know.", "Check the port, or choose no sign-in if the server needs none."
	case p.at == stepStartTLS && f.Class == notify.SetUpFault:
		return host + " does not offer encryption by STARTTLS, or something on the way hides the offer. Nothing was sent and no password was shown.",
			"Choose encryption from the start, usually port 465."
	case f.Class == notify.BadAddress:
		return fmt.Sprintf("%s cannot send to %s: the address has letters that this server does not know.", host, to), "Give an address in plain letters."
	case errors.As(p.err, new(tokenError)):
		return fmt.Sprintf("No token to sign in at %s could be had: %s.", host, c.discreet(p.err.Error())), "Check the access of this program to the mail account."
	case f.Class == notify.SetUpFault && p.at == stepAuth:
		return host + " did not accept the token.", "Give this program access to the mail account again."
	case f.Class == notify.SetUpFault:
		return fmt.Sprintf("%s and we could not agree on encryption: %s.", host, c.discreet(p.err.Error())), "Check the port and the encryption in the mail settings."
	case p.stopped != nil:
		return fmt.Sprintf("%s did not finish %s in the time given.", host, doing[p.at]), c.portAdvice(p.at)
	case errors.As(p.err, &network) && network.Timeout():
		return fmt.Sprintf("%s did not finish %s within %s.", host, doing[p.at], inWords(p.wait)), c.portAdvice(p.at)
	case p.at == stepConnect:
		return fmt.Sprintf("%s could not be reached: %s.", host, c.discreet(p.err.Error())), "Check the server's name and port, and this machine's own connection."
	}
	return fmt.Sprintf("The link to %s broke while %s: %s.", host, doing[p.at], c.discreet(p.err.Error())), c.portAdvice(p.at)
}

// portAdvice is for a link that dies before the greeting: often the wrong port for the kind of encryption.
func (c *Channel) portAdvice(at step) string {
	if at > stepStartTLS || at == stepConnect {
		return ""
	}
	return "If this goes on, check that the port fits the encryption: usually 465 from the start, 587 for STARTTLS."
}

// discreet makes a server's answer fit to show: one line, without our secrets should it repeat them.
func (c *Channel) discreet(answer string) string {
	if c.set.Password != "" {
		answer = strings.ReplaceAll(answer, c.set.Password, "[password]")
	}
	return notify.OneLine(answer, 300)
}

// inWords writes a wait for people.
func inWords(d time.Duration) string {
	if d >= time.Minute && d%time.Minute == 0 {
		if d == time.Minute {
			return "1 minute"
		}
		return fmt.Sprintf("%d minutes", d/time.Minute)
	}
	return fmt.Sprintf("%d seconds", int(d.Round(time.Second)/time.Second))
}
