package webhook

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strconv"
	"strings"
	"time"

	"leground/notify"
)

// Endpoint is where one person wants their reminders posted. A Message carries it as JSON in To.
type Endpoint struct {
	URL     string   `json:"url"`
	Secrets []string `json:"secrets"` // newest first; an old one stays while the receiver changes over
}

// Channel posts to endpoints.
type Channel struct {
	guard  notify.Guard
	client *http.Client
}

// New makes the channel. The guard says which addresses may be posted to.
func New(guard notify.Guard) *Channel { return &Channel{guard: guard, client: guard.Client()} }

// Name is part of notify.Channel.
func (c *Channel) Name() string { return "webhook" }

// payload is the body of every post.
type payload struct {
	Type      string    `json:"type"`
	Timestamp time.Time `json:"timestamp"` // of the event; a later try does not change it
	Data      any       `json:"data"`
}

// reminder is the data of a reminder.
type reminder struct {
	ID      string    `json:"id"`
	About   string    `json:"about"`
	Yard    string    `json:"yard"`
	Subject string    `json:"subject"`
	Text    string    `json:"text,omitempty"` // left out when the post would be long
	Link    string    `json:"link,omitempty"`
	UseBy   time.Time `json:"use_by"`
}

// longest is the size of a post in bytes that Standard Webhooks advises to stay under.
const longest = 20_000

// Send is part of notify.Channel.
func (c *Channel) Send(ctx context.Context, m notify.Message) (notify.Receipt, error) {
	var e Endpoint
	if err := json.Unmarshal([]byte(m.To), &e); err != nil {
		return notify.Receipt{}, damaged(err)
	}
	r := reminder{ID: m.ID, About: m.About, Yard: m.From, Subject: m.Subject, Text: m.Text, Link: m.Link, UseBy: m.UseBy.UTC()}
	kind := "reminder." + strings.ReplaceAll(string(m.Kind), "-", "_")
	body, err := json.Marshal(payload{kind, m.Date.UTC(), r})
	if err == nil && len(body) > longest {
		r.Text = ""
		body, err = json.Marshal(payload{kind, m.Date.UTC(), r})
	}
	if err != nil {
		return notify.Receipt{}, &notify.Failure{Class: notify.OurFault, What: "This message could not be written. The fault is in the program.", Err: err}
	}
	status, answer, f := c.post(ctx, e, m.ID, m.TriedAt, body)
	if f != nil {
		return notify.Receipt{}, f
	}
	return notify.Receipt{Answer: notify.OneLine(status+" "+answer, 200)}, nil
}

// Challenge asks a new endpoint to prove that it wants our posts and holds the secret: it must answer 2xx
// with "v1," and the base64 HMAC-SHA256 of data.challenge under the secret. now is the time of the try.
func (c *Channel) Challenge(ctx context.Context, e Endpoint, now time.Time) error {
	challenge := rand.Text()
	body, err := json.Marshal(payload{"endpoint.challenge", now.UTC(), map[string]string{"challenge": challenge}})
	if err != nil {
		return err
	}
	_, answer, f := c.post(ctx, e, "challenge_"+challenge, now, body)
	if f != nil {
		return f
	}
	want, err := mac(e.Secrets[0], []byte(challenge))
	if err != nil {
		return damaged(err)
	}
	if !hmac.Equal([]byte(strings.TrimSpace(answer)), []byte(want)) {
		return &notify.Failure{Class: notify.BadAddress, What: e.URL + " did not answer the challenge.", Answer: notify.OneLine(answer, 200),
			Advice: `It must answer with "v1," and the base64 HMAC-SHA256 of data.challenge under the secret.`}
	}
	return nil
}

// post makes one try.
func (c *Channel) post(ctx context.Context, e Endpoint, id string, at time.Time, body []byte) (status, answer string, f *notify.Failure) {
	u, err := c.guard.CheckURL(e.URL)
	if err != nil {
		return "", "", forbidden(e.URL, err)
	}
	if len(e.Secrets) == 0 {
		return "", "", damaged(errors.New("it has no secret"))
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, u.String(), bytes.NewReader(body))
	if err != nil {
		return "", "", forbidden(e.URL, err)
	}
	var signatures []string
	for _, secret := range e.Secrets {
		signature, err := Sign(secret, id, at, body)
		if err != nil {
			return "", "", damaged(err)
		}
		signatures = append(signatures, signature)
	}
	request.Header.Set("Content-Type", "application/json")
	request.Header.Set("User-Agent", "leground")
	request.Header.Set("webhook-id", id)
	request.Header.Set("webhook-timestamp", strconv.FormatInt(at.Unix(), 10))
	request.Header.Set("webhook-signature", strings.Join(signatures, " "))
	response, err := c.client.Do(request)
	if errors.Is(err, notify.ErrForbidden) {
		return "", "", forbidden(e.URL, err)
	}
	if err != nil {
		return "", "", &notify.Failure{Class: notify.ServerTrouble, What: fmt.Sprintf("%s could not be reached: %s.", u.Host, notify.OneLine(err.Error(), 200)), Err: err}
	}
	answer = notify.ReadAnswer(response)
	return response.Status, answer, judge(u.Host, response, answer)
}

// judge puts an answer into its class; nil is success.
func judge(host string, r *http.Response, answer string) *notify.Failure {
	f := &notify.Failure{Class: notify.Passing, Code: r.StatusCode, Answer: notify.OneLine(r.Status+" "+answer, 200), RetryAfter: notify.WaitAsked(r.Header)}
	switch code := r.StatusCode; {
	case code/100 == 2:
		return nil
	case code/100 == 3:
		f.What, f.Advice = host+" points to another address.", "Set up the address that it points to; redirects are not followed."
	case code == http.StatusGone:
		f.Class, f.What = notify.Gone, host+" wants no more messages. This endpoint was switched off."
	case code == http.StatusTooManyRequests, code == http.StatusBadGateway, code == http.StatusServiceUnavailable, code == http.StatusGatewayTimeout:
		f.SlowDown, f.What = true, host+" is too busy."
	default:
		f.What = host + " did not take the message."
	}
	return f
}

func forbidden(address string, err error) *notify.Failure {
	return &notify.Failure{Class: notify.BadAddress, What: notify.OneLine(address, 100) + " cannot be used: " + notify.OneLine(err.Error(), 200) + ".",
		Advice: "Give an address that can be reached from the internet by https.", Err: err}
}

func damaged(err error) *notify.Failure {
	return &notify.Failure{Class: notify.BadAddress, What: "This endpoint is damaged: " + err.Error() + ".", Advice: "Set it up again.", Err: err}
}

// NextTry is the schedule of Standard Webhooks: when a message whose try of the given number (from 1)
// failed at now is tried again; the zero time after the last.
func NextTry(try int, now time.Time) time.Time {
	waits := []time.Duration{5 * time.Second, 5 * time.Minute, 30 * time.Minute, 2 * time.Hour, 5 * time.Hour, 10 * time.Hour,
		14 * time.Hour, 20 * time.Hour, 24 * time.Hour}
	if try < 1 || try > len(waits) {
		return time.Time{}
	}
	return now.Add(waits[try-1])
}
