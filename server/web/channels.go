package web

import (
	"context"
	"time"

	"leground/tracker/care"
)

// Courier is what the pages need to know of the channels.
type Courier interface {
	// PushKey gives the public key with which a phone subscribes; empty: this server has no push.
	PushKey() string
	// CheckPush reads a browser's subscription and names the push service, or tells what is wrong with it.
	CheckPush(subscription string) (service string, err error)
	// NewEndpoint makes a webhook endpoint of an address that somebody typed, with a fresh secret, or tells what is
	// wrong with the address.
	NewEndpoint(address string) (body, host, secret string, err error)
	// Challenge asks an endpoint to prove that it wants messages.
	Challenge(ctx context.Context, body string) error
	// Test sends a test message and waits for the server's answer.
	Test(ctx context.Context, t care.TestMessage) care.TestResult
	// Calendar writes a person's calendar feed, with its tag.
	Calendar(view care.FeedView) (text, tag string, err error)
	// Unchanged tells whether an If-None-Match header names a tag.
	Unchanged(ifNoneMatch, tag string) bool
	// Trouble says in words which channels rest because of trouble.
	Trouble() []string
	// RoundTakes gives how long mail to so many people takes at the pace that the mail server allows.
	RoundTakes(people int) time.Duration
}
