package push

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"io"
	"math/big"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"strings"
	"testing"
	"time"

	"leground/notify"
	"leground/notify/notifytest"
	"leground/tracker"
)

var loopback = notify.Guard{AllowHTTP: true, Allow: []netip.Prefix{netip.MustParsePrefix("127.0.0.0/8")}}

var at = time.Date(2026, 5, 14, 6, 0, 0, 0, time.UTC)

func settings(t *testing.T) Settings {
	t.Helper()
	public, private, err := NewKeys()
	if err != nil {
		t.Fatal(err)
	}
	return Settings{Public: public, Private: private, Contact: "owner@marlpit.example"}
}

func open(t *testing.T, s Settings) *Channel {
	t.Helper()
	c, err := New(s, loopback)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func phone(t *testing.T) *notifytest.Phone {
	t.Helper()
	p, err := notifytest.NewPhone("", "")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func message(to string) notify.Message {
	return notify.Message{ID: "0190", Kind: notify.RoundDue, About: "2026-05-14.morning", To: to, Date: at, TriedAt: at, UseBy: at.Add(11 * time.Hour),
		Urgency: notify.High, Topic: notify.Topic("yard 1", "morning"), Link: "/round",
		Words: notify.Words{Title: "Morning round, Tue 14 May, 07:00", Short: "3 horses, 3 legs to look at."}}
}

// TestPhone checks the test's own receiving end against the example of the RFC.
func TestPhone(t *testing.T) {
	rows, err := notifytest.Vectors("../../testdata/vectors/notify/push.txt")
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		p, err := notifytest.NewPhone(row[0], row[1])
		if err != nil {
			t.Fatal(err)
		}
		body, err := base64.RawURLEncoding.DecodeString(row[2])
		if err != nil {
			t.Fatal(err)
		}
		if plain, err := p.Open(body); err != nil || string(plain) != row[3] {
			t.Errorf("%q, %v", plain, err)
		}
		body[len(body)-1]++
		if _, err := p.Open(body); err == nil {
			t.Error("a changed body was opened")
		}
	}
}

// TestPush: a phone reads what was sent; the service is told how long, how urgent and what it replaces
// (RFC 8030 5), and can check who sends (RFC 8292).
func TestPush(t *testing.T) {
	set := settings(t)
	mine := phone(t)
	var got http.Header
	var body []byte
	service := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		got = r.Header
		body, _ = io.ReadAll(r.Body)
		w.WriteHeader(http.StatusCreated)
	}))
	defer service.Close()
	m := message(mine.Subscription(service.URL + "/push/abc"))
	if _, err := open(t, set).Send(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	for field, want := range map[string]string{"Ttl": "14400", "Urgency": "high", "Topic": m.Topic, "Content-Encoding": "aes128gcm"} {
		if got.Get(field) != want {
			t.Errorf("%s: %q, want %q", field, got.Get(field), want)
		}
	}
	plain, err := mine.Open(body)
	if err != nil {
		t.Fatal(err)
	}
	want := `{"id":"0190","kind":"round","about":"2026-05-14.morning","title":"Morning round, Tue 14 May, 07:00","body":"3 horses, 3 legs to look at.","link":"/round","topic":"` + m.Topic + `"}`
	if string(plain) != want || len(body) > 4096 {
		t.Errorf("%d bytes, %s", len(body), plain)
	}
	if _, err := phone(t).Open(body); err == nil {
		t.Error("another phone could read it")
	}
	checkSender(t, got.Get("Authorization"), set, service.URL)

	m.Urgency, m.UseBy = notify.Normal, at.Add(90*time.Second)
	if _, err := open(t, set).Send(t.Context(), m); err != nil || got.Get("Urgency") != "normal" || got.Get("Ttl") != "90" {
		t.Errorf("%v, urgency %s, life %s", err, got.Get("Urgency"), got.Get("Ttl"))
	}
}

// checkSender verifies the signed token with the standard library, by RFC 8292 2 and 3 and RFC 7515.
func checkSender(t *testing.T, authorization string, set Settings, audience string) {
	t.Helper()
	rest, found := strings.CutPrefix(authorization, "vapid t=")
	token, key, split := strings.Cut(rest, ", k=")
	parts := strings.Split(token, ".")
	if !found || !split || len(parts) != 3 || key != set.Public {
		t.Fatalf("authorization %q", authorization)
	}
	point, _ := base64.RawURLEncoding.DecodeString(key)
	signature, _ := base64.RawURLEncoding.DecodeString(parts[2])
	public, err := ecdsa.ParseUncompressedPublicKey(elliptic.P256(), point)
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256([]byte(parts[0] + "." + parts[1]))
	if len(signature) != 64 || !ecdsa.Verify(public, sum[:], new(big.Int).SetBytes(signature[:32]), new(big.Int).SetBytes(signature[32:])) {
		t.Error("the signature does not verify")
	}
	claims, _ := base64.RawURLEncoding.DecodeString(parts[1])
	var c struct {
		Aud, Sub string
		Exp      int64
	}
	if err := json.Unmarshal(claims, &c); err != nil {
		t.Fatal(err)
	}
	life := time.Until(time.Unix(c.Exp, 0))
	if c.Aud != audience || c.Sub != "mailto:owner@marlpit.example" || life < 11*time.Hour || life > 13*time.Hour {
		t.Errorf("claims %+v, good for %v", c, life)
	}
}

// TestAnswers: what each answer means (RFC 8030 5, 7.3, 8.4; RFC 8292 4.2).
func TestAnswers(t *testing.T) {
	set, mine := settings(t), phone(t)
	for _, c := range []struct {
		status int
		class  notify.Class // 0: taken
	}{
		{201, 0}, {200, 0}, {202, 0}, {404, notify.Gone}, {410, notify.Gone}, {429, notify.Passing}, {500, notify.ServerTrouble}, {502, notify.ServerTrouble},
		{503, notify.ServerTrouble}, {400, notify.RefusedContent}, {401, notify.RefusedContent}, {403, notify.RefusedContent}, {413, notify.RefusedContent},
		{307, notify.RefusedContent},
	} {
		service := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Retry-After", "120")
			w.Header().Set("Location", "/elsewhere")
			w.WriteHeader(c.status)
			io.WriteString(w, "said\r\nthe service")
		}))
		_, err := open(t, set).Send(t.Context(), message(mine.Subscription(service.URL)))
		service.Close()
		if c.class == 0 {
			if err != nil {
				t.Errorf("%d: %v", c.status, err)
			}
			continue
		}
		f := notify.FailureOf(err)
		if f.Class != c.class || f.RetryAfter != 2*time.Minute || f.Code != c.status || !strings.Contains(f.Error(), "said the service") {
			t.Errorf("%d: %v after %v: %v", c.status, f.Class, f.RetryAfter, f)
		}
	}
}

// TestSmall: a push stays under 2,000 bytes however long its words.
func TestSmall(t *testing.T) {
	for _, text := range []string{strings.Repeat("x", 5000), strings.Repeat("🐴", 5000), strings.Repeat("\"\\<>&", 1000), strings.Repeat("\u2028", 1000)} {
		m := message("")
		m.Short = text
		body, err := pack(m)
		if err != nil || len(body) >= 2000 || !json.Valid(body) {
			t.Errorf("%d bytes, %v", len(body), err)
		}
	}
	m := message("")
	m.Link = "/" + strings.Repeat("x", 3000)
	if _, err := pack(m); err == nil {
		t.Error("a push with an endless link was packed")
	}
}

// TestUnusable: subscriptions that strangers could make up, and pushes that come too late.
func TestUnusable(t *testing.T) {
	set, mine := settings(t), phone(t)
	strict, err := New(set, notify.Guard{})
	if err != nil {
		t.Fatal(err)
	}
	good := mine.Subscription("https://push.example.org/abc")
	if host, err := CheckSubscription(notify.Guard{}, good); err != nil || host != "push.example.org" {
		t.Errorf("%q, %v", host, err)
	}
	for _, to := range []string{"", "{}", "null", mine.Subscription("http://push.example.org/"), mine.Subscription("https://127.0.0.1/"),
		mine.Subscription("https://localhost:1/"), mine.Subscription("file:///etc/passwd"), strings.Replace(good, `"auth":"`, `"auth":"AAAA`, 1),
		strings.Replace(good, `"p256dh":"B`, `"p256dh":"C`, 1), `{"endpoint":"https://push.example.org","keys":{"p256dh":"","auth":""}}`} {
		_, err := strict.Send(t.Context(), message(to))
		if f := notify.FailureOf(err); f.Class != notify.BadAddress {
			t.Errorf("%q: %v: %v", to, f.Class, f)
		}
		if strings.Contains(to, "localhost") {
			continue // only resolving tells
		}
		if _, err := CheckSubscription(notify.Guard{}, to); err == nil {
			t.Errorf("%q was accepted", to)
		}
	}
	m := message(good)
	m.UseBy = m.TriedAt
	if _, err := strict.Send(t.Context(), m); notify.FailureOf(err).Class != notify.RefusedContent {
		t.Errorf("too late: %v", err)
	}
	closed := httptest.NewServer(http.NotFoundHandler())
	closed.Close()
	if _, err := open(t, set).Send(t.Context(), message(mine.Subscription(closed.URL))); notify.FailureOf(err).Class != notify.ServerTrouble {
		t.Errorf("no service: %v", err)
	}
}

// TestSettings: each fault is named at its field.
func TestSettings(t *testing.T) {
	good, other := settings(t), settings(t)
	for name, c := range map[string]struct {
		field string
		set   Settings
	}{
		"none":          {"keys", Settings{Contact: good.Contact}},
		"mixed":         {"keys", Settings{Public: other.Public, Private: good.Private, Contact: good.Contact}},
		"mailto twice":  {"contact", Settings{Public: good.Public, Private: good.Private, Contact: "mailto:owner@marlpit.example"}},
		"no contact":    {"contact", Settings{Public: good.Public, Private: good.Private}},
		"plain http":    {"contact", Settings{Public: good.Public, Private: good.Private, Contact: "http://marlpit.example"}},
		"private short": {"keys", Settings{Public: good.Public, Private: "AAAA", Contact: good.Contact}},
	} {
		var e *tracker.Error
		if err := c.set.Check(); !errors.As(err, &e) || len(e.Fields) != 1 || e.Fields[0].Field != c.field {
			t.Errorf("%s: %v", name, err)
		}
	}
	good.Contact = "https://marlpit.example/about"
	if err := good.Check(); err != nil {
		t.Error(err)
	}
}
