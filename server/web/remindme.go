package web

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/rounds"
)

// RemindMePage is how one person is reminded.
type RemindMePage struct {
	Base
	sent
	View     care.RemindedView
	Places   []PlaceField // for the channels, in order
	PushKey  string
	Phones   []care.Way
	Hooks    []care.Way
	Feed     sendable // an address that has just been made, shown once
	Secret   string   // of an endpoint that has just been made, shown once
	Answer   string   // what came of a test message
	Taken    bool
	Mail     bool // this server sends mail
	Trouble  []string
	FromNow  tracker.Date
	Stopped  bool
	Quiet    [2]string
	AlarmNow string
}

// PlaceField is one place in the order of channels.
type PlaceField struct {
	Number  int
	Label   string
	Choices []Step
}

func (h *Handler) remindMe(w http.ResponseWriter, r *http.Request, state sent) error {
	page, err := h.remindMePage(r, state)
	if err != nil {
		return err
	}
	if r.URL.Query().Get("saved") != "" {
		page.Notice = "Kept."
	}
	return h.draw(w, page.status(), "remindme", page)
}

func (h *Handler) remindMePage(r *http.Request, state sent) (RemindMePage, error) {
	view, err := h.care.Reminded(r.Context(), actorOf(r))
	if err != nil {
		return RemindMePage{}, err
	}
	page := RemindMePage{Base: h.base(r, "How I am reminded").inYard(view.Moment, "reminders").wrong(state.why), sent: state, View: view,
		FromNow: view.Today, Mail: slices.Contains(view.Served, care.ChannelEmail), Stopped: !view.Me.MailStopped.IsZero()}
	if h.settings.Courier != nil {
		page.PushKey, page.Trouble = h.settings.Courier.PushKey(), h.settings.Courier.Trouble()
	}
	for _, way := range view.Ways {
		if care.ChannelOf(way.ID) == care.ChannelPush {
			page.Phones = append(page.Phones, way)
		} else {
			page.Hooks = append(page.Hooks, way)
		}
	}
	if q := view.Me.Quiet; q.From != q.To {
		page.Quiet = [2]string{q.From.String(), q.To.String()}
	}
	if view.Me.Alarm > 0 {
		page.AlarmNow = strconv.Itoa(int(view.Me.Alarm / time.Minute))
	}
	page.Places = channelPlaces(view.Me.Channels, state)
	return page, nil
}

// channelPlaces gives the selects that put the channels in order.
func channelPlaces(now []string, state sent) []PlaceField {
	words := map[string]string{"": "nothing", care.ChannelPush: "my phone", care.ChannelEmail: "mail", care.ChannelWebhook: "my own web address"}
	var out []PlaceField
	for i, label := range []string{"First", "If that fails", "If that fails too"} {
		chosen := ""
		if i < len(now) {
			chosen = now[i]
		}
		chosen = state.Value(fmt.Sprintf("channel%d", i+1), chosen)
		field := PlaceField{Number: i + 1, Label: label}
		for _, value := range append([]string{""}, care.Channels()...) {
			field.Choices = append(field.Choices, Step{value, words[value], value == chosen})
		}
		out = append(out, field)
	}
	return out
}

// kept is done for a form of the settings: back to the page, or the page again with what was wrong.
func (h *Handler) kept(w http.ResponseWriter, r *http.Request, f *form, do func() error) error {
	return h.done(w, r, f, do, "/reminders/me?saved=1", h.remindMe)
}

func (h *Handler) chooseReminders(w http.ResponseWriter, r *http.Request, f *form) error {
	in := care.Choice{Names: f.ticked("names"), Alarm: time.Duration(f.whole("alarm", "Minutes before a round")) * time.Minute}
	for i := range 3 {
		if channel := f.text(fmt.Sprintf("channel%d", i+1)); channel != "" {
			in.Channels = append(in.Channels, channel)
		}
	}
	in.Quiet = rounds.Quiet{From: f.clock("quiet_from"), To: f.clock("quiet_to")}
	return h.kept(w, r, f, func() error { return h.care.ChooseReminders(r.Context(), actorOf(r), in) })
}

// clock reads a time of day; an empty field is midnight.
func (f *form) clock(name string) tracker.MinuteOfDay {
	text := f.text(name)
	if text == "" {
		return 0
	}
	minute, err := tracker.ParseMinuteOfDay(text)
	if err != nil {
		f.problems.Add(name, "Give a time of day, like 22:00.")
	}
	return minute
}

func (h *Handler) goAway(w http.ResponseWriter, r *http.Request, f *form) error {
	span := readSpan(f)
	return h.kept(w, r, f, func() error { return h.care.GoAway(r.Context(), actorOf(r), span) })
}

func (h *Handler) comeBack(w http.ResponseWriter, r *http.Request, f *form) error {
	span := readSpan(f)
	return h.kept(w, r, f, func() error { return h.care.ComeBack(r.Context(), actorOf(r), span) })
}

// readSpan reads a first and a last day.
func readSpan(f *form) care.Span {
	return care.Span{From: f.date("from", "The first day"), To: f.date("to", "The last day")}
}

// testMessage sends one now and shows what the server said.
func (h *Handler) testMessage(w http.ResponseWriter, r *http.Request, f *form) error {
	if h.settings.Courier == nil {
		return errNoChannels
	}
	t, err := h.care.PrepareTest(r.Context(), actorOf(r), f.text("way"))
	if err != nil {
		return err
	}
	result := h.settings.Courier.Test(r.Context(), t)
	if err := h.care.NoteTest(r.Context(), actorOf(r), t, result); err != nil {
		return err
	}
	page, err := h.remindMePage(r, sent{})
	if err != nil {
		return err
	}
	page.Answer, page.Taken = result.Words, result.Taken
	return h.draw(w, http.StatusOK, "remindme", page)
}

var errNoChannels = tracker.Refuse(tracker.Invalid, "This server sends nothing.")

// subscribe keeps a phone's push subscription, as its browser gave it.
func (h *Handler) subscribe(w http.ResponseWriter, r *http.Request, f *form) error {
	if h.settings.Courier == nil || h.settings.Courier.PushKey() == "" {
		return tracker.Refuse(tracker.Invalid, "This server cannot wake phones: it has no address at which push services reach its operator.")
	}
	text := f.text("subscription")
	service, err := h.settings.Courier.CheckPush(text)
	if err != nil {
		return tracker.Refuse(tracker.Invalid, "This phone's browser gave something that cannot be used: "+err.Error()+".")
	}
	way, err := h.care.AddWay(r.Context(), actorOf(r), care.ChannelPush, service, text, phoneName(r.UserAgent()))
	if err != nil {
		return err
	}
	if wantsJSON(r) {
		writeJSON(w, http.StatusOK, map[string]string{"way": way.ID})
		return nil
	}
	http.Redirect(w, r, "/reminders/me?saved=1", http.StatusSeeOther)
	return nil
}

// phoneName shortens what a browser says it is.
func phoneName(agent string) string {
	if _, inside, found := strings.Cut(agent, "("); found {
		agent, _, _ = strings.Cut(inside, ")")
	}
	if len(agent) > 60 {
		agent = strings.ToValidUTF8(agent[:60], "")
	}
	if agent == "" {
		return "a phone"
	}
	return agent
}

// pushKey gives the public key with which a phone subscribes; an empty body: there is no push.
func (h *Handler) pushKey(w http.ResponseWriter, r *http.Request) error {
	key := ""
	if h.settings.Courier != nil {
		key = h.settings.Courier.PushKey()
	}
	writeJSON(w, http.StatusOK, map[string]string{"key": key})
	return nil
}

func (h *Handler) dropWay(w http.ResponseWriter, r *http.Request, f *form) error {
	return h.kept(w, r, f, func() error { return h.care.DropWay(r.Context(), actorOf(r), f.text("way")) })
}

// addWebhook keeps an address and shows its secret, once. It gets nothing before it has answered a challenge.
func (h *Handler) addWebhook(w http.ResponseWriter, r *http.Request, f *form) error {
	if h.settings.Courier == nil {
		return errNoChannels
	}
	body, host, secret, err := h.settings.Courier.NewEndpoint(f.text("address"))
	if err != nil {
		f.problems.Add("address", err.Error())
		err = f.problems.Err()
	} else {
		_, err = h.care.AddWay(r.Context(), actorOf(r), care.ChannelWebhook, host, body, f.text("address"))
	}
	if err != nil {
		return h.kept(w, r, f, func() error { return err })
	}
	page, err := h.remindMePage(r, sent{})
	if err != nil {
		return err
	}
	page.Secret = secret
	return h.draw(w, http.StatusOK, "remindme", page)
}

// proveWebhook sends the challenge; an endpoint that answers it gets messages from then on.
func (h *Handler) proveWebhook(w http.ResponseWriter, r *http.Request, f *form) error {
	if h.settings.Courier == nil {
		return errNoChannels
	}
	t, err := h.care.PrepareTest(r.Context(), actorOf(r), f.text("way"))
	if err != nil {
		return err
	}
	if err := h.settings.Courier.Challenge(r.Context(), t.Way.Body); err != nil {
		f.problems.Add("way", err.Error())
	}
	return h.kept(w, r, f, func() error { return h.care.ProveWay(r.Context(), actorOf(r), t.Way.ID) })
}
