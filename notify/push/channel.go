package push

import (
	"context"
	"crypto/ecdh"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/SherClockHolmes/webpush-go"

	"leground/notify"
	"leground/tracker"
)

// Settings proves to push services who sends. The key pair is made once and kept: a subscription is bound
// to it.
type Settings struct {
	Public  string // base64url, as browsers want it for subscribing
	Private string // base64url
	Contact string // a bare mail address or an https address that reaches the operator
}

// NewKeys makes a key pair for Settings.
func NewKeys() (public, private string, err error) {
	private, public, err = webpush.GenerateVAPIDKeys()
	return public, private, err
}

// Check tells in words what is missing or cannot be.
func (s Settings) Check() error {
	var p tracker.Problems
	if _, err := s.pair(); err != nil {
		p.Add("keys", "The push keys must be a pair made by this program: "+err.Error()+".")
	}
	// Push services refuse a contact that is written twice as mailto: or that is no address at all.
	address := strings.Contains(s.Contact, "@") && !strings.ContainsAny(s.Contact, ": /\r\n<>")
	if !address && !strings.HasPrefix(s.Contact, "https://") {
		p.Add("contact", "The contact must be a mail address like owner@example.org, or a web address that begins with https://.")
	}
	return p.Err()
}

// pair reads the private key and checks that the public one belongs to it.
func (s Settings) pair() (*ecdh.PrivateKey, error) {
	raw, err := base64.RawURLEncoding.DecodeString(strings.TrimRight(s.Private, "="))
	if err != nil {
		return nil, errors.New("the private key is not base64")
	}
	key, err := ecdh.P256().NewPrivateKey(raw)
	if err != nil {
		return nil, errors.New("the private key is not a number on the curve P-256")
	}
	if base64.RawURLEncoding.EncodeToString(key.PublicKey().Bytes()) != strings.TrimRight(s.Public, "=") {
		return nil, errors.New("the public key belongs to another private key")
	}
	return key, nil
}

// Channel sends to subscriptions.
type Channel struct {
	set    Settings
	guard  notify.Guard
	client *http.Client
}

// New makes the channel from settings, or tells what is wrong with them. The guard says which addresses
// may be talked to.
func New(s Settings, guard notify.Guard) (*Channel, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	return &Channel{set: s, guard: guard, client: guard.Client()}, nil
}

// Name is part of notify.Channel.
func (c *Channel) Name() string { return "push" }

// CheckSubscription reads what a browser gave for a subscription and tells whether it can be used. host is
// the push service, which names the account.
func CheckSubscription(guard notify.Guard, text string) (host string, err error) {
	s, err := subscription(text)
	if err != nil {
		return "", err
	}
	u, err := guard.CheckURL(s.Endpoint)
	if err != nil {
		return "", err
	}
	return u.Host, nil
}

// subscription reads the JSON of a browser's PushSubscription.
func subscription(text string) (webpush.Subscription, error) {
	var s webpush.Subscription
	if err := json.Unmarshal([]byte(text), &s); err != nil {
		return s, fmt.Errorf("the subscription cannot be read: %w", err)
	}
	key, err := decode(s.Keys.P256dh)
	if err == nil {
		_, err = ecdh.P256().NewPublicKey(key)
	}
	if err != nil {
		return s, errors.New("the subscription's key is not a point on the curve P-256")
	}
	if secret, err := decode(s.Keys.Auth); err != nil || len(secret) != 16 {
		return s, errors.New("the subscription's secret does not have 16 bytes")
	}
	return s, nil
}

// decode reads base64url or base64, with or without padding.
func decode(text string) ([]byte, error) {
	text = strings.NewReplacer("+", "-", "/", "_").Replace(strings.TrimRight(text, "="))
	return base64.RawURLEncoding.DecodeString(text)
}

// note is what the phone is given to show.
type note struct {
	ID    string `json:"id"`
	Kind  string `json:"kind"`
	About string `json:"about"`
	Title string `json:"title"`
	Body  string `json:"body"`
	Link  string `json:"link"`
	Topic string `json:"topic"`
}

// Limits of a push.
const (
	longestLife = 4 * time.Hour
	largest     = 2000 // bytes before encryption
)

// Send is part of notify.Channel. A push that a service took twice shows once, by its topic.
func (c *Channel) Send(ctx context.Context, m notify.Message) (notify.Receipt, error) {
	s, err := subscription(m.To)
	if err == nil {
		_, err = c.guard.CheckURL(s.Endpoint)
	}
	if err != nil {
		return notify.Receipt{}, unusable(err)
	}
	life := min(m.UseBy.Sub(m.TriedAt), longestLife)
	if life <= 0 {
		return notify.Receipt{}, &notify.Failure{Class: notify.RefusedContent, What: "It was too late to push this."}
	}
	body, err := pack(m)
	if err != nil {
		return notify.Receipt{}, &notify.Failure{Class: notify.OurFault, What: "This push could not be written. The fault is in the program.", Err: err}
	}
	urgency := webpush.UrgencyNormal
	if m.Urgency == notify.High {
		urgency = webpush.UrgencyHigh
	}
	response, err := webpush.SendNotificationWithContext(ctx, body, &s, &webpush.Options{
		HTTPClient: c.client, Subscriber: c.set.Contact, Topic: m.Topic, TTL: int(life / time.Second), Urgency: urgency,
		VAPIDPublicKey: c.set.Public, VAPIDPrivateKey: c.set.Private})
	switch {
	case errors.Is(err, notify.ErrForbidden):
		return notify.Receipt{}, unusable(err)
	case err != nil:
		return notify.Receipt{}, &notify.Failure{Class: notify.ServerTrouble, What: "The push service could not be reached: " + notify.OneLine(err.Error(), 200) + ".", Err: err}
	}
	answer := notify.OneLine(response.Status+" "+notify.ReadAnswer(response), 200)
	if f := judge(response, answer); f != nil {
		return notify.Receipt{}, f
	}
	return notify.Receipt{Answer: answer}, nil
}

// pack writes what the phone shows in less than 2,000 bytes: a long body is cut.
func pack(m notify.Message) ([]byte, error) {
	n := note{ID: m.ID, Kind: string(m.Kind), About: m.About, Title: m.Title, Body: m.Short, Link: m.Link, Topic: m.Topic}
	for {
		body, err := json.Marshal(n)
		if err != nil || len(body) < largest {
			return body, err
		}
		if utf8.RuneCountInString(n.Body) < 10 {
			return nil, fmt.Errorf("a push of %d bytes", len(body))
		}
		n.Body = notify.OneLine(n.Body, utf8.RuneCountInString(n.Body)/2)
	}
}

// judge puts a service's answer into its class; nil is success.
func judge(r *http.Response, answer string) *notify.Failure {
	f := &notify.Failure{Code: r.StatusCode, Answer: answer, RetryAfter: notify.WaitAsked(r.Header)}
	switch code := r.StatusCode; {
	case code/100 == 2:
		return nil
	case code == http.StatusNotFound, code == http.StatusGone:
		f.Class, f.What, f.Advice = notify.Gone, "This phone takes no more messages: its subscription has ended.", "Switch reminders on again on the phone."
	case code == http.StatusTooManyRequests:
		f.Class, f.What, f.SlowDown = notify.Passing, "The push service wants fewer messages.", true
	case code/100 == 5:
		f.Class, f.What = notify.ServerTrouble, "The push service has trouble."
	default:
		// Also 401 and 403: a subscription made with another key pair is refused so, and it must not
		// stop the pushes of everybody else.
		f.Class, f.What, f.Advice = notify.RefusedContent, "The push service refused this message.", "Switch reminders off and on again on the phone."
	}
	return f
}

func unusable(err error) *notify.Failure {
	return &notify.Failure{Class: notify.BadAddress, What: "This phone cannot be reached: " + notify.OneLine(err.Error(), 200) + ".",
		Advice: "Switch reminders off and on again on the phone.", Err: err}
}
