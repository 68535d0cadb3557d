package email

import (
	"context"
	"errors"
	"fmt"

	"github.com/emersion/go-sasl"
)

// errNoWay says that the server offers no way to sign in that we know.
var errNoWay = errors.New("no known way to sign in is offered")

// tokenError says that no bearer token could be had.
type tokenError struct{ error }

// Unwrap gives the cause.
func (e tokenError) Unwrap() error { return e.error }

// signIn proves the account. A bearer token that was refused is fetched anew, once.
func (c *Channel) signIn(ctx context.Context, s *session) *problem {
	switch c.set.SignIn {
	case NoSignIn:
		return nil
	case Password:
		return s.step(ctx, stepAuth, c.waits.command, func() error {
			switch {
			case s.client.SupportsAuth(sasl.Plain):
				return s.client.Auth(sasl.NewPlainClient("", c.set.User, c.set.Password))
			case s.client.SupportsAuth(sasl.Login):
				return s.client.Auth(sasl.NewLoginClient(c.set.User, c.set.Password))
			}
			return errNoWay
		})
	}
	p := c.bear(ctx, s, false)
	if p != nil && p.stopped == nil && isRefusedToken(p.err) {
		p = c.bear(ctx, s, true)
	}
	return p
}

// bear signs in with a bearer token.
func (c *Channel) bear(ctx context.Context, s *session, fresh bool) *problem {
	return s.step(ctx, stepAuth, c.waits.command, func() error {
		bounded, cancel := context.WithTimeout(ctx, c.waits.command)
		defer cancel()
		token, err := c.set.Grant.Token(bounded, fresh)
		if err != nil {
			return tokenError{err}
		}
		if s.client.SupportsAuth(sasl.OAuthBearer) {
			return s.client.Auth(sasl.NewOAuthBearerClient(&sasl.OAuthBearerOptions{
				Username: c.set.User, Token: token, Host: c.set.Host, Port: c.set.Port}))
		}
		return s.client.Auth(&xoauth2{c.set.User, token})
	})
}

// isRefusedToken tells a refusal of the token from any other trouble.
func isRefusedToken(err error) bool {
	var refused *sasl.OAuthBearerError
	code, _, _ := replyOf(err)
	return errors.As(err, &refused) || code/100 == 5
}

// xoauth2 is the bearer sign-in of some large providers: one message, and an empty answer to the error
// that a refusing server sends first, so that it gives its real reply. (Format from memory; it has no RFC.)
type xoauth2 struct{ user, token string }

// Start is part of sasl.Client.
func (x *xoauth2) Start() (mechanism string, response []byte, err error) {
	return "XOAUTH2", fmt.Appendf(nil, "user=%s\x01auth=Bearer %s\x01\x01", x.user, x.token), nil
}

// Next is part of sasl.Client.
func (x *xoauth2) Next([]byte) ([]byte, error) { return []byte{}, nil }
