package server

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"leground/notify"
	"leground/notify/calendar"
	"leground/notify/email"
	"leground/notify/push"
	"leground/notify/webhook"
	"leground/server/web"
	"leground/tracker"
	"leground/tracker/care"
)

// courier is what the pages know of the channels. A channel that has no settings is not there.
type courier struct {
	settings Settings
	channels []notify.Channel
	mail     *email.Channel   // nil: no mail
	push     *push.Channel    // nil: no push
	webhook  *webhook.Channel // always there
	pushKey  string
	deliver  *notify.Deliver
}

var _ web.Courier = (*courier)(nil)

// newCourier wires the channels: one part for each.
func (s *Server) newCourier(ctx context.Context) (*courier, error) {
	in := s.settings
	c := &courier{settings: in, webhook: webhook.New(in.Guard)}
	c.channels = []notify.Channel{c.webhook}
	if in.Mail != nil {
		mail, err := email.New(*in.Mail)
		if err != nil {
			return nil, err
		}
		c.mail, c.channels = mail, append(c.channels, mail)
		s.onStop("mail connections", func(context.Context) error { mail.Close(); return nil })
	}
	if contact := in.pushContact(); contact != "" {
		keys, err := pushKeys(ctx, s.Care, contact)
		if err != nil {
			return nil, err
		}
		if c.push, err = push.New(keys, in.Guard); err != nil {
			return nil, err
		}
		c.pushKey, c.channels = keys.Public, append(c.channels, c.push)
	}
	return c, nil
}

// pushContact is where push services can reach the operator; without one there is no push.
func (in Settings) pushContact() string {
	if in.Mail != nil && in.Mail.From != "" {
		return in.Mail.From
	}
	if strings.HasPrefix(in.Base, "https://") {
		return in.Base
	}
	return ""
}

// pushKeys gives the pair that push services know this server by, made once and kept in the database.
func pushKeys(ctx context.Context, service *care.Service, contact string) (push.Settings, error) {
	public, private, err := push.NewKeys()
	if err != nil {
		return push.Settings{}, err
	}
	kept, err := service.ServerSecret(ctx, "push keys", public+" "+private)
	if err != nil {
		return push.Settings{}, err
	}
	public, private, _ = strings.Cut(kept, " ")
	return push.Settings{Public: public, Private: private, Contact: contact}, nil
}

func (c *courier) names() []string {
	var names []string
	for _, ch := range c.channels {
		names = append(names, ch.Name())
	}
	return names
}

// PushKey is part of web.Courier.
func (c *courier) PushKey() string { return c.pushKey }

// CheckPush is part of web.Courier.
func (c *courier) CheckPush(subscription string) (service string, err error) {
	return push.CheckSubscription(c.settings.Guard, subscription)
}

// NewEndpoint is part of web.Courier.
func (c *courier) NewEndpoint(address string) (body, host, secret string, err error) {
	u, err := c.settings.Guard.CheckURL(address)
	if err != nil {
		return "", "", "", err
	}
	e := webhook.Endpoint{URL: address, Secrets: []string{webhook.NewSecret()}}
	text, err := json.Marshal(e)
	return string(text), u.Host, e.Secrets[0], err
}

// Challenge is part of web.Courier.
func (c *courier) Challenge(ctx context.Context, body string) error {
	var e webhook.Endpoint
	if err := json.Unmarshal([]byte(body), &e); err != nil {
		return err
	}
	return c.webhook.Challenge(ctx, e, c.settings.Now())
}

// testWait is how long somebody waits on the page for the answer to a test message.
const testWait = 20 * time.Second

// Test is part of web.Courier.
func (c *courier) Test(ctx context.Context, t care.TestMessage) care.TestResult {
	ctx, cancel := context.WithTimeout(ctx, testWait)
	defer cancel()
	answer, err := c.send(ctx, t)
	if err != nil {
		f := notify.FailureOf(err)
		return care.TestResult{Gone: f.Class == notify.Gone, Words: f.Error()}
	}
	return care.TestResult{Taken: true, Words: answer}
}

func (c *courier) send(ctx context.Context, t care.TestMessage) (answer string, err error) {
	content := notify.Content{Kind: notify.TestMessage, Yard: t.YardName, MadeUp: t.MadeUp, Link: c.settings.Base + "/reminders/me"}
	words, err := notify.Compose(content)
	if err != nil {
		return "", err
	}
	now, host, id := c.settings.Now(), c.settings.mailHost(), string(t.ID)
	m := notify.Message{
		ID: id, Kind: content.Kind, To: cmp.Or(t.Way.Body, t.Way.Name), From: t.YardName, MessageID: notify.MessageID("r", id, host),
		References: notify.MessageID("t", id, host), Date: now, UseBy: now.Add(time.Hour), Urgency: notify.High,
		Topic: notify.Topic(id, "test"), Link: content.Link, TriedAt: now, Words: words,
	}
	channel := care.ChannelOf(t.Way.ID)
	if channel == care.ChannelEmail && c.mail != nil {
		return c.mail.Try(ctx, m)
	}
	for _, ch := range c.channels {
		if ch.Name() == channel {
			receipt, err := ch.Send(ctx, m)
			return "It was taken. The server answered: " + receipt.Answer, err
		}
	}
	return "", &notify.Failure{Class: notify.SetUpFault, What: "Nothing can be sent by " + channel + ": it is not set up on this server.",
		Advice: "The person who runs the server can set it up."}
}

// Calendar is part of web.Courier.
func (c *courier) Calendar(view care.FeedView) (text, tag string, err error) {
	feed := calendar.Feed{Name: view.Yard.Name, Alarm: view.Alarm}
	for _, r := range view.Rounds {
		feed.Events = append(feed.Events, calendar.Event{
			UID: fmt.Sprintf("%s-%s-%s@%s", view.Yard.ID, r.Day, r.Slot, c.settings.mailHost()), Start: r.DueAt,
			Summary: tracker.Capital(r.Slot) + " round, " + view.Yard.Name, Details: "Open the Board to see what has been received.",
			Link: c.settings.Base + "/round", Sequence: view.Changes, Modified: view.Changed, Cancelled: r.Cancelled,
		})
	}
	for _, d := range view.Days {
		feed.Events = append(feed.Events, calendar.Event{
			UID: d.UID + "@" + c.settings.mailHost(), Day: d.Day, Summary: d.What, Link: c.settings.Base + d.Link, Sequence: view.Changes, Modified: view.Changed,
		})
	}
	text, err = feed.Text(view.Now)
	return text, calendar.ETag(text), err
}

// Unchanged is part of web.Courier.
func (c *courier) Unchanged(ifNoneMatch, tag string) bool {
	return calendar.Unchanged(ifNoneMatch, tag)
}

// Trouble is part of web.Courier.
func (c *courier) Trouble() []string {
	var out []string
	for _, h := range c.deliver.Health() {
		if h.Class != 0 {
			out = append(out, h.Account.Channel+": "+h.Reason)
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// RoundTakes is part of web.Courier.
func (c *courier) RoundTakes(people int) time.Duration { return notify.DefaultPace().TimeFor(people) }
