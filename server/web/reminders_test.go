package web_test

import (
	"crypto/ecdh"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	ical "github.com/emersion/go-ical"

	"leground/notify"
	"leground/notify/email"
	"leground/notify/notifytest"
	"leground/notify/webhook"
	"leground/server/webtest"
)

// mailed starts a site that sends mail, at 06:55 in London on Thursday 14 May 2026, an hour after its yard was made.
func mailed(t *testing.T, o webtest.Options) (*webtest.Site, *webtest.Yard, *notifytest.Sink) {
	t.Helper()
	box, err := notifytest.StartSink(notifytest.SinkSettings{Encryption: notifytest.NoTLS})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(box.Close)
	o.Mail = &email.Settings{Host: "127.0.0.1", Port: box.Port, Security: email.NoTLS, SignIn: email.NoSignIn, From: "yard@marlpit.example"}
	if o.Base == "" {
		o.Base = "http://yard.example"
	}
	o.Now = time.Date(2026, 5, 14, 4, 55, 0, 0, time.UTC)
	site := webtest.Start(t, o)
	yard := site.Marl()
	site.Run()
	site.Clock.Add(time.Hour)
	return site, yard, box
}

// links finds the paths of a mail's links that act.
func links(t *testing.T, m notifytest.Mail) map[string]string {
	t.Helper()
	text := strings.ReplaceAll(strings.ReplaceAll(m.Raw, "=\r\n", ""), "=3D", "=")
	out := map[string]string{}
	for _, found := range regexp.MustCompile(`http://yard\.example(/message/[\w-]+/([a-z-]+))`).FindAllStringSubmatch(text, -1) {
		out[found[2]] = found[1]
	}
	if len(out) != 3 {
		t.Fatalf("links %v in\n%s", out, m.Raw)
	}
	return out
}

// The links in a message: a scanner that opens them changes nothing; each acts on its one post; a stranger's post
// from another site is refused; the mail program's one click stops mail and its owner hears of it (RFC 8058).
func TestLinksInAMessage(t *testing.T) {
	site, yard, box := mailed(t, webtest.Options{})
	site.Clock.Add(5 * time.Minute)
	site.Run()
	if len(box.Mails()) != 1 {
		t.Fatalf("%d mails at 07:00", len(box.Mails()))
	}
	paths := links(t, box.Mails()[0])
	before := site.Dump()
	for _, path := range paths {
		site.Nobody().Get(path).Is(200).Says("Marlpit Yard")
		site.Nobody().Get(path + "?x=1").Is(200)
	}
	if after := site.Dump(); !equalRows(before, after) {
		t.Error("opening the links changed the database")
	}
	site.Nobody().Get("/message/" + strings.Repeat("A", 43) + "/on-it").Is(404).Says("This link is not known here any more.")
	cross := site.Nobody()
	cross.Header.Set("Sec-Fetch-Site", "cross-site")
	cross.Post(paths["on-it"], url.Values{}).Is(403)

	later := site.Nobody().Get(paths["later"]).Says("in 30 minutes", "in 2 hours", "not before the next round").Form(paths["later"])
	site.Nobody().Send(later.With("press", "120")).Is(200).Says("Noted, Ada.", "You are told later, if it is still needed.")
	site.Nobody().Send(later.With("press", "5000")).Is(422).Says("Choose 30 minutes, 2 hours or until the next round.")
	site.Nobody().Send(site.Nobody().Get(paths["on-it"]).Form(paths["on-it"])).Is(200).Says("Noted, Ada.")
	if got := len(site.Dump()["press"]); got != 2 {
		t.Errorf("%d presses are kept, want 2", got)
	}
	yard.Carer.Get("/").Says("on it.")

	click, err := http.NewRequest(http.MethodPost, site.URL+paths["stop"], strings.NewReader("List-Unsubscribe=One-Click"))
	if err != nil {
		t.Fatal(err)
	}
	click.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	site.Nobody().Do(click).Is(200).Says("No more mail from Marlpit Yard to Ada.")
	yard.Owner.Get("/reminders/me").Says("You have stopped mail from this yard.", "No message would reach you.")
	yard.Owner.Get("/").Says("Not reached by any message: Ada.")
	site.Clock.Add(12 * time.Hour)
	site.Nobody().Get(paths["on-it"]).Is(200).Says("This round is over")
	site.Nobody().Post(paths["on-it"], url.Values{}).Is(422).Says("That round is over")
	yard.Owner.Send(yard.Owner.Get("/reminders/me").Form("/reminders/me").With("channel1", "email").With("channel2", "").With("channel3", "")).Redirects("/reminders/me?saved=1")
	yard.Owner.Get("/reminders/me").Silent("You have stopped mail").Says("A message would reach you by")
}

func equalRows(a, b map[string][]string) bool {
	for table, rows := range a {
		if strings.Join(rows, "\n") != strings.Join(b[table], "\n") {
			return false
		}
	}
	return len(a) == len(b)
}

// The life of a message: planned, tried with what the server answered, put off, given up; sent again by hand; and
// the list narrowed by person, horse and state.
func TestLifeOfAMessage(t *testing.T) {
	site, yard, box := mailed(t, webtest.Options{})
	box.Fail(notifytest.Fault{At: notifytest.AtRcpt, Do: notifytest.Refuse, Reply: "451 4.7.1 try later", Times: 1})
	site.Clock.Add(5 * time.Minute)
	site.Run()
	page := yard.Carer.Get("/reminders").Is(200).Says("planned to Ada by mail: Morning round: first message.", "The server does not take it for now. It is tried again.")
	one := page.Root().All(func(n *webtest.Node) bool { return strings.HasPrefix(n.Attr["href"], "/reminder/") })[0].Attr["href"]
	yard.Carer.Get(one).Is(200).Says("451 4.7.1 try later", "Thu 14 May, 07:00").Silent("Send it again")
	site.Clock.Add(3 * time.Minute)
	site.Run()
	yard.Owner.Get(one).Says("sent, Thu 14 May, 07:03", "The receiving server accepted it.", "The server answered:", "451 4.7.1 try later")
	yard.Carer.Get(one).Silent("Send it again")
	yard.Carer.Post(one+"/again", url.Values{"x": {"1"}}).Is(403)
	yard.Owner.Send(yard.Owner.Get(one).Form(one + "/again")).Redirects(one)
	site.Run()
	if n := len(box.Mails()); n != 2 {
		t.Errorf("%d mails after it was sent again, want 2", n)
	}
	yard.Owner.Get(one).Says("sent, Thu 14 May, 07:03")
	for query, want := range map[string]bool{"state=sent": true, "state=folded": false, "horse=" + string(yard.Bramble): true, "horse=" + newID(): false, "person=" + newID(): false} {
		if got := strings.Contains(yard.Owner.Get("/reminders?"+query).Text(), "Morning round: first message."); got != want {
			t.Errorf("with %s the message is shown: %v, want %v", query, got, want)
		}
	}
	yard.Owner.Get("/reminders").Says("The last seven days", "Reminders last looked at", "The morning round of Thu 14 May", "I am on it")
	yard.Carer.Get("/reminders").Silent("The last seven days")
	skip := yard.Carer.Get("/reminders").Form("/reminders/skip")
	yard.Carer.Send(skip).Is(422).Says("Say why the round is skipped")
	yard.Carer.Send(skip.With("why", "the vet said to leave them")).Redirects("/reminders?done=skipped")
	yard.Carer.Send(skip.With("why", "again")).Is(409)
}

// "Send me one now" shows what the server really says, good or bad.
func TestSendMeOneNow(t *testing.T) {
	_, yard, box := mailed(t, webtest.Options{})
	form := func() webtest.Form {
		return yard.Carer.Get("/reminders/me").Form("/reminders/test").With("way", "email")
	}
	yard.Carer.Send(form()).Is(200).Says("The test message was taken.", "took the message for", "It answered:")
	if n := len(box.Mails()); n != 1 || !strings.Contains(box.Mails()[0].Raw, "This is a test message from Leground for Marlpit Yard.") {
		t.Errorf("%d mails", n)
	}
	box.Fail(notifytest.Fault{At: notifytest.AtRcpt, Do: notifytest.Refuse, Reply: "550 5.1.1 nobody of that name"})
	yard.Carer.Send(form()).Is(200).Says("The test message was not taken.", "550 5.1.1 nobody of that name")
	yard.Owner.Get("/reminders").Says("sent to Bea by mail: A test message.", "given up to Bea by mail: A test message.")
}

// phoneService is a push service that keeps what it gets.
type phoneService struct {
	*httptest.Server
	mu     sync.Mutex
	bodies [][]byte
	status int
}

func startPhones(t *testing.T) (*phoneService, notify.Guard) {
	t.Helper()
	p := &phoneService{status: http.StatusCreated}
	p.Server = httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		p.mu.Lock()
		defer p.mu.Unlock()
		p.bodies = append(p.bodies, body)
		w.WriteHeader(p.status)
	}))
	t.Cleanup(p.Close)
	roots := p.Client().Transport.(*http.Transport).TLSClientConfig.RootCAs
	return p, notify.Guard{Allow: []netip.Prefix{netip.MustParsePrefix("127.0.0.0/8")}, Roots: roots}
}

// A phone subscribes as its browser does, is woken with what it can decrypt, and is forgotten when its push service
// says that it is gone; then mail takes over.
func TestPhone(t *testing.T) {
	service, guard := startPhones(t)
	site, yard, box := mailed(t, webtest.Options{Guard: guard})
	var key struct{ Key string }
	if err := json.Unmarshal(yard.Owner.Get("/push/key").Is(200).Body, &key); err != nil {
		t.Fatal(err)
	}
	raw, err := base64.RawURLEncoding.DecodeString(key.Key)
	if err == nil {
		_, err = ecdh.P256().NewPublicKey(raw)
	}
	if err != nil {
		t.Fatalf("the public key %q: %v", key.Key, err)
	}
	phone, err := notifytest.NewPhone("", "")
	if err != nil {
		t.Fatal(err)
	}
	subscription := phone.Subscription(service.URL + "/send/" + rand.Text())
	yard.Owner.Post("/push/subscribe", url.Values{"subscription": {"{}"}}).Is(422).Says("This phone's browser gave something that cannot be used")
	yard.Owner.Post("/push/subscribe", url.Values{"subscription": {phone.Subscription("https://10.1.2.3/send")}}).Is(422)
	yard.Owner.Post("/push/subscribe", url.Values{"subscription": {subscription}}).Redirects("/reminders/me?saved=1")
	yard.Owner.Post("/push/subscribe", url.Values{"subscription": {subscription}}).Redirects("/reminders/me?saved=1")
	page := yard.Owner.Get("/reminders/me").Says("this one")
	if n := strings.Count(page.Text(), "Switch off"); n != 1 {
		t.Errorf("%d phones are shown, want 1", n)
	}
	site.Clock.Add(5 * time.Minute)
	site.Run()
	if len(service.bodies) != 1 || len(box.Mails()) != 0 {
		t.Fatalf("%d pushes and %d mails", len(service.bodies), len(box.Mails()))
	}
	plain, err := phone.Open(service.bodies[0])
	if err != nil || !strings.Contains(string(plain), "Morning round, Thu 14 May, 07:00") || strings.Contains(string(plain), "Bramble") {
		t.Errorf("the phone shows %s, %v", plain, err)
	}
	service.mu.Lock()
	service.status = http.StatusGone
	service.mu.Unlock()
	for range 10 { // the nudge
		site.Clock.Add(5 * time.Minute)
		site.Run()
	}
	if len(box.Mails()) != 1 || !strings.Contains(box.Mails()[0].Raw, "not received yet") {
		t.Errorf("%d mails after the phone has gone", len(box.Mails()))
	}
	yard.Owner.Get("/reminders/me").Says("No phone of yours gets messages.")
	yard.Owner.Get("/reminders").Says("given up to Ada by phone: Morning round: nudge.", "sent to Ada by mail: Morning round: nudge.")
}

// A web address gets nothing before it has answered its challenge with the secret that is shown once.
func TestWebAddress(t *testing.T) {
	var secret string
	var mu sync.Mutex
	var got []string
	hook := httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		mu.Lock()
		defer mu.Unlock()
		body, _ := io.ReadAll(r.Body)
		var in struct {
			Type string
			Data struct{ Challenge, Subject string }
		}
		if err := json.Unmarshal(body, &in); err != nil {
			t.Error(err)
		}
		if in.Type == "endpoint.challenge" {
			io.WriteString(w, answerTo(t, secret, in.Data.Challenge))
			return
		}
		seconds := r.Header.Get("webhook-timestamp")
		if want := signature(t, secret, r.Header.Get("webhook-id"), seconds, body); want != r.Header.Get("webhook-signature") {
			t.Errorf("the signature is %q, want %q", r.Header.Get("webhook-signature"), want)
		}
		got = append(got, in.Data.Subject)
	}))
	t.Cleanup(hook.Close)
	guard := notify.Guard{Allow: []netip.Prefix{netip.MustParsePrefix("127.0.0.0/8")}, Roots: hook.Client().Transport.(*http.Transport).TLSClientConfig.RootCAs}
	site, yard, box := mailed(t, webtest.Options{Guard: guard})
	form := yard.Owner.Get("/reminders/me").Form("/reminders/webhook")
	yard.Owner.Send(form.With("address", "http://example.org/")).Is(422)
	page := yard.Owner.Send(form.With("address", hook.URL)).Is(200).Says("The address is kept, and gets nothing yet.")
	mu.Lock()
	secret = page.Root().Named("code")[0].Text()
	right := secret
	secret = webhook.NewSecret() // the machine has another one
	mu.Unlock()
	yard.Owner.Get("/reminders/me").Says("has not answered its challenge yet").Silent(right)
	prove := func() *webtest.Page {
		page := yard.Owner.Get("/reminders/me")
		button := page.Root().All(func(n *webtest.Node) bool {
			return n.Name == "button" && strings.HasPrefix(n.Text(), "Send the challenge")
		})[0]
		return yard.Owner.Send(page.Form("/reminders/webhook/prove").With("way", button.Attr["value"]))
	}
	prove().Is(422).Says("did not answer the challenge")
	mu.Lock()
	secret = right
	mu.Unlock()
	prove().Redirects("/reminders/me?saved=1")
	yard.Owner.Send(yard.Owner.Get("/reminders/me").Form("/reminders/me").With("channel1", "webhook").With("channel2", "email").With("channel3", "")).Redirects("/reminders/me")
	site.Clock.Add(5 * time.Minute)
	site.Run()
	if len(got) != 1 || !strings.Contains(got[0], "Morning round") || len(box.Mails()) != 0 {
		t.Errorf("the address got %v, and %d mails", got, len(box.Mails()))
	}
}

// The calendar: parsed by a library that is not the one that writes it (go-ical); one address, which can be stopped;
// what has not changed is not sent again; a round that is taken out of the day stays, cancelled, and its number rises.
func TestCalendar(t *testing.T) {
	site, yard, _ := mailed(t, webtest.Options{})
	made := yard.Carer.Send(yard.Carer.Get("/reminders/me").Form("/reminders/calendar")).Is(200).Says("It is shown only now.")
	path := made.Link()
	events := func() map[string]ical.Event {
		t.Helper()
		page := site.Nobody().Get(path).Is(200)
		if kind := page.Header.Get("Content-Type"); kind != "text/calendar; charset=utf-8" {
			t.Errorf("it is %q", kind)
		}
		cal, err := ical.NewDecoder(strings.NewReader(string(page.Body))).Decode()
		if err != nil {
			t.Fatal(err)
		}
		out := map[string]ical.Event{}
		for _, e := range cal.Events() {
			start, err := e.DateTimeStart(time.UTC)
			if err != nil {
				t.Fatal(err)
			}
			out[start.UTC().Format("2006-01-02 15:04")] = e
		}
		return out
	}
	first := events()
	if e, there := first["2026-05-14 17:30"]; !there || !strings.Contains(e.Props.Get("SUMMARY").Value, "Evening round") || len(first) < 56 {
		t.Fatalf("%d events, the evening: %v", len(first), e.Props)
	}
	tag := site.Nobody().Get(path).Header.Get("ETag")
	same := site.Nobody()
	same.Header.Set("If-None-Match", tag)
	same.Get(path).Is(304)
	uid := first["2026-05-14 17:30"].Props.Get("UID").Value

	site.Clock.Add(time.Minute)
	yard.Owner.Send(rules(yard).With("slot2_at", "19:00")).Redirects("/rules")
	same.Get(path).Is(200)
	second := events()
	if e, there := second["2026-05-14 18:00"]; !there || e.Props.Get("UID").Value != uid || e.Props.Get("SEQUENCE").Value != "1" {
		t.Errorf("a round that moved: %v", e.Props)
	}
	site.Clock.Add(time.Minute)
	yard.Owner.Send(rules(yard).With("slot2_name", "").With("slot2_at", "")).Redirects("/rules")
	if e, there := events()["2026-05-14 18:00"]; !there || e.Props.Get("STATUS").Value != "CANCELLED" || e.Props.Get("SEQUENCE").Value != "2" {
		t.Errorf("a round that was taken out: %v", e.Props)
	}
	yard.Owner.Send(yard.Owner.Get("/reminders/rules").Form("/reminders/close").With("from", "2026-05-20").With("to", "2026-05-21").With("why", "a show")).Redirects("/reminders/rules")
	if e := events()["2026-05-20 06:00"]; e.Component == nil || e.Props.Get("STATUS").Value != "CANCELLED" {
		t.Error("a round on a closed day stands")
	}
	yard.Carer.Send(yard.Carer.Get("/reminders/me").Form("/reminders/calendar/stop")).Redirects("/reminders/me")
	site.Nobody().Get(path).Is(404)
	if strings.Contains(strings.Join(site.Dump()["link"], "\n"), strings.TrimSuffix(strings.TrimPrefix(path, "/calendar/"), ".ics")) {
		t.Error("the secret of the address is in the database")
	}
	yard.Owner.Get("/people").Silent("calendar")
}

// The yard's rules: kept, refused when they would nag, and read by carers.
func TestReminderRules(t *testing.T) {
	site, yard, box := mailed(t, webtest.Options{})
	form := yard.Owner.Get("/reminders/rules").Says("seconds").Form("/reminders/rules")
	yard.Owner.Send(form.With("nudge", "5")).Is(422).Says("The nudge must come at least 15 minutes after the first message")
	yard.Owner.Send(form.With("budget", "many")).Is(422).Says("Messages a day must be a whole number")
	bea := ""
	for _, o := range yard.Owner.Get("/reminders/rules").Root().Named("option") {
		if o.Text() == "Bea" {
			bea = o.Attr["value"]
		}
	}
	yard.Owner.Send(form.With("nudge", "").With("second", "").With("turn1_morning", bea)).Redirects("/reminders/rules?saved=1")
	yard.Carer.Get("/reminders/rules").Says("Asked in this order: Bea, Ada.", "not at all").Silent("Keep these rules")
	yard.Carer.Send(form).Is(403)
	for range 36 {
		site.Clock.Add(5 * time.Minute)
		site.Run()
	}
	if n := len(box.Mails()); n != 1 || !strings.Contains(box.Mails()[0].To, "bea@") {
		t.Errorf("%d mails: %+v", n, box.Mails())
	}
	away := yard.Carer.Get("/reminders/me").Form("/reminders/away")
	yard.Carer.Send(away.With("from", "2026-05-16").With("to", "2026-05-15")).Is(422)
	yard.Carer.Send(away.With("from", "2026-05-15").With("to", "2026-05-16")).Redirects("/reminders/me?saved=1")
	yard.Carer.Get("/reminders/me").Says("Fri 15 May to Sat 16 May")
	yard.Carer.Send(yard.Carer.Get("/reminders/me").Form("/reminders/back")).Redirects("/reminders/me?saved=1")
	yard.Carer.Get("/reminders/me").Silent("Fri 15 May to Sat 16 May")
}

// answerTo and signature are written from the text of Standard Webhooks 1.0.0 with the standard library.
func answerTo(t *testing.T, secret, challenge string) string {
	return "v1," + base64.StdEncoding.EncodeToString(macOf(t, secret, []byte(challenge)))
}

func signature(t *testing.T, secret, id, seconds string, body []byte) string {
	return "v1," + base64.StdEncoding.EncodeToString(macOf(t, secret, []byte(id+"."+seconds+"."+string(body))))
}

func macOf(t *testing.T, secret string, text []byte) []byte {
	t.Helper()
	key, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(secret, "whsec_"))
	if err != nil {
		t.Fatal(err)
	}
	sum := hmac.New(sha256.New, key)
	sum.Write(text)
	return sum.Sum(nil)
}
