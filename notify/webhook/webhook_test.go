package webhook

import (
	"context"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"strings"
	"testing"
	"time"

	"leground/notify"
	"leground/notify/notifytest"
)

var loopback = notify.Guard{AllowHTTP: true, Allow: []netip.Prefix{netip.MustParsePrefix("127.0.0.0/8")}}

var at = time.Unix(1614265330, 0)

func message(t *testing.T, e Endpoint) notify.Message {
	t.Helper()
	to, err := json.Marshal(e)
	if err != nil {
		t.Fatal(err)
	}
	return notify.Message{ID: "0190", Kind: notify.SecondPerson, About: "2026-05-14.morning", To: string(to), From: "Marlpit Yard",
		Date: at.Add(-time.Hour), UseBy: at.Add(time.Hour), TriedAt: at, Link: "https://marlpit.example/round",
		Words: notify.Words{Subject: "Morning round", Text: "Bramble: 5\u00a0mL\n"}}
}

// TestSignatures: the published example, and the published values of the function under it.
func TestSignatures(t *testing.T) {
	rows, err := notifytest.Vectors("../../testdata/vectors/notify/signatures.txt")
	if err != nil {
		t.Fatal(err)
	}
	for _, row := range rows {
		if row[0] == "webhook" {
			var seconds int64
			fmt.Sscan(row[3], &seconds)
			got, err := Sign(row[1], row[2], time.Unix(seconds, 0), []byte(row[4]))
			bare, err2 := Sign(strings.TrimPrefix(row[1], "whsec_"), row[2], time.Unix(seconds, 0), []byte(row[4]))
			if err != nil || err2 != nil || got != row[5] || bare != row[5] {
				t.Errorf("signature %q, without prefix %q, want %q (%v, %v)", got, bare, row[5], err, err2)
			}
			continue
		}
		key, _ := hex.DecodeString(row[1])
		content, _ := hex.DecodeString(row[4])
		want, _ := hex.DecodeString(row[5])
		got, err := mac(base64.StdEncoding.EncodeToString(key), content)
		if err != nil || got != "v1,"+base64.StdEncoding.EncodeToString(want) {
			t.Errorf("key %s: %q, %v", row[1], got, err)
		}
	}
	for _, damaged := range []string{"", "whsec_", "whsec_!!!", "not base64"} {
		if _, err := Sign(damaged, "a", at, nil); err == nil {
			t.Errorf("signed with %q", damaged)
		}
	}
	if a, b := NewSecret(), NewSecret(); a == b || len(a) != len("whsec_")+44 {
		t.Errorf("new secrets %q, %q", a, b)
	}
}

// TestPost: a receiver that checks as the specification tells receivers to takes the post; a second try
// has the same id and body and a new time.
func TestPost(t *testing.T) {
	secret, older := NewSecret(), NewSecret()
	var ids, bodies, times []string
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		id, stamp := r.Header.Get("webhook-id"), r.Header.Get("webhook-timestamp")
		var seconds int64
		fmt.Sscan(stamp, &seconds)
		for i, key := range []string{secret, older} {
			want, _ := Sign(key, id, time.Unix(seconds, 0), body)
			if got := strings.Split(r.Header.Get("webhook-signature"), " "); len(got) != 2 || got[i] != want {
				t.Errorf("signatures %v, want %s at %d", got, want, i)
			}
		}
		ids, bodies, times = append(ids, id), append(bodies, string(body)), append(times, stamp)
		fmt.Fprint(w, "thanks\r\n")
	}))
	defer server.Close()
	c := New(loopback)
	m := message(t, Endpoint{URL: server.URL + "/hook", Secrets: []string{secret, older}})
	receipt, err := c.Send(t.Context(), m)
	if err != nil || receipt.Answer != "200 OK thanks" {
		t.Fatalf("%q, %v", receipt.Answer, err)
	}
	m.TriedAt = at.Add(5 * time.Second)
	if _, err := c.Send(t.Context(), m); err != nil {
		t.Fatal(err)
	}
	if ids[0] != "0190" || ids[1] != "0190" || bodies[0] != bodies[1] || times[0] != "1614265330" || times[1] != "1614265335" {
		t.Errorf("ids %v, times %v, bodies equal %v", ids, times, bodies[0] == bodies[1])
	}
	want := `{"type":"reminder.second_person","timestamp":"2021-02-25T14:02:10Z","data":{"id":"0190","about":"2026-05-14.morning","yard":"Marlpit Yard",` +
		`"subject":"Morning round","text":"Bramble: 5` + "\u00a0" + `mL\n","link":"https://marlpit.example/round","use_by":"2021-02-25T16:02:10Z"}}`
	if bodies[0] != want {
		t.Errorf("body %s\nwant %s", bodies[0], want)
	}
	m.Text = strings.Repeat("Bramble\n", 5000)
	if _, err := c.Send(t.Context(), m); err != nil || len(bodies[2]) > 20_000 || strings.Contains(bodies[2], `"text"`) {
		t.Errorf("a long text: %v, %d bytes", err, len(bodies[2]))
	}
}

// TestAnswers: what each answer means (Standard Webhooks 1.0.0, "Delivery success and failure").
func TestAnswers(t *testing.T) {
	for _, c := range []struct {
		status int
		class  notify.Class // 0: success
		slow   bool
	}{
		{200, 0, false}, {202, 0, false}, {204, 0, false}, {299, 0, false}, {301, notify.Passing, false}, {302, notify.Passing, false}, {308, notify.Passing, false},
		{400, notify.Passing, false}, {404, notify.Passing, false}, {410, notify.Gone, false}, {429, notify.Passing, true}, {500, notify.Passing, false},
		{502, notify.Passing, true}, {503, notify.Passing, true}, {504, notify.Passing, true},
	} {
		tries := 0
		server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			tries++
			w.Header().Set("Retry-After", "90")
			w.Header().Set("Location", "/elsewhere")
			w.WriteHeader(c.status)
		}))
		_, err := New(loopback).Send(t.Context(), message(t, Endpoint{URL: server.URL, Secrets: []string{NewSecret()}}))
		server.Close()
		if c.class == 0 {
			if err != nil {
				t.Errorf("%d: %v", c.status, err)
			}
			continue
		}
		f := notify.FailureOf(err)
		if f.Class != c.class || f.SlowDown != c.slow || f.RetryAfter != 90*time.Second || f.Code != c.status || tries != 1 {
			t.Errorf("%d: %v slow %v after %v, %d requests: %v", c.status, f.Class, f.SlowDown, f.RetryAfter, tries, f)
		}
	}
}

// TestRefusedAddresses: nothing is posted to a machine inside, by number, by name or by redirect, nor by
// plain http.
func TestRefusedAddresses(t *testing.T) {
	reached := 0
	server := httptest.NewTLSServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { reached++ }))
	defer server.Close()
	port := server.URL[strings.LastIndexByte(server.URL, ':'):]
	c := New(notify.Guard{})
	for _, address := range []string{server.URL, "https://localhost" + port, "https://[::ffff:127.0.0.1]" + port, "https://[::1]" + port,
		"http://example.org/", "https://u:p@example.org/", "https://169.254.169.254/latest", "nonsense", ""} {
		_, err := c.Send(t.Context(), message(t, Endpoint{URL: address, Secrets: []string{NewSecret()}}))
		if f := notify.FailureOf(err); f.Class != notify.BadAddress {
			t.Errorf("%q: %v: %v", address, f.Class, f)
		}
	}
	if reached != 0 {
		t.Errorf("the server inside was reached %d times", reached)
	}
	for _, to := range []string{"", "{", `{"url":"https://example.org"}`, `{"url":"https://example.org","secrets":["?"]}`} {
		m := message(t, Endpoint{})
		m.To = to
		if _, err := c.Send(t.Context(), m); notify.FailureOf(err).Class != notify.BadAddress {
			t.Errorf("endpoint %q: %v", to, err)
		}
	}
}

// TestTrouble: no server, a certificate nobody vouches for, and one that hangs until we stop.
func TestTrouble(t *testing.T) {
	closed := httptest.NewServer(http.NotFoundHandler())
	closed.Close()
	untrusted := httptest.NewTLSServer(http.NotFoundHandler())
	defer untrusted.Close()
	for _, address := range []string{closed.URL, untrusted.URL} {
		_, err := New(loopback).Send(t.Context(), message(t, Endpoint{URL: address, Secrets: []string{NewSecret()}}))
		if f := notify.FailureOf(err); f.Class != notify.ServerTrouble || !strings.Contains(f.Error(), "could not be reached") {
			t.Errorf("%s: %v: %v", address, f.Class, f)
		}
	}
	release := make(chan struct{})
	hang := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { <-release }))
	defer hang.Close()
	defer close(release)
	ctx, cancel := context.WithTimeout(t.Context(), 100*time.Millisecond)
	defer cancel()
	start := time.Now()
	_, err := New(loopback).Send(ctx, message(t, Endpoint{URL: hang.URL, Secrets: []string{NewSecret()}}))
	if f := notify.FailureOf(err); f.Class != notify.ServerTrouble || time.Since(start) > 5*time.Second {
		t.Errorf("after %v: %v: %v", time.Since(start), f.Class, f)
	}
}

// TestChallenge: an endpoint that holds the secret proves it; one that echoes, answers 200 to everything
// or holds another secret does not.
func TestChallenge(t *testing.T) {
	secret := NewSecret()
	read := func(r *http.Request) string {
		var p struct {
			Type string
			Data struct{ Challenge string }
		}
		json.NewDecoder(r.Body).Decode(&p)
		if p.Type != "endpoint.challenge" {
			t.Errorf("type %q", p.Type)
		}
		return p.Data.Challenge
	}
	sign := func(secret, text string) string { s, _ := mac(secret, []byte(text)); return s }
	for name, c := range map[string]struct {
		answer func(w http.ResponseWriter, r *http.Request)
		good   bool
	}{
		"signs":        {func(w http.ResponseWriter, r *http.Request) { fmt.Fprintln(w, sign(secret, read(r))) }, true},
		"other secret": {func(w http.ResponseWriter, r *http.Request) { fmt.Fprintln(w, sign(NewSecret(), read(r))) }, false},
		"echoes":       {func(w http.ResponseWriter, r *http.Request) { io.Copy(w, r.Body) }, false},
		"says 200":     {func(w http.ResponseWriter, r *http.Request) {}, false},
		"signs and 500s": {func(w http.ResponseWriter, r *http.Request) {
			w.WriteHeader(500)
			fmt.Fprintln(w, sign(secret, read(r)))
		}, false},
	} {
		server := httptest.NewServer(http.HandlerFunc(c.answer))
		err := New(loopback).Challenge(t.Context(), Endpoint{URL: server.URL, Secrets: []string{secret}}, at)
		server.Close()
		if (err == nil) != c.good {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// TestSchedule is the example schedule of Standard Webhooks 1.0.0, by its column "time since start".
func TestSchedule(t *testing.T) {
	start := time.Date(2026, 5, 14, 7, 0, 0, 0, time.UTC)
	now := start
	for i, want := range []string{"0s", "5s", "5m5s", "35m5s", "2h35m5s", "7h35m5s", "17h35m5s", "31h35m5s", "51h35m5s", "75h35m5s"} {
		if i > 0 {
			now = NextTry(i, now)
		}
		if got := now.Sub(start).String(); got != want && now.Sub(start) != mustDuration(t, want) {
			t.Errorf("try %d after %s, want %s", i+1, got, want)
		}
	}
	if next := NextTry(10, now); !next.IsZero() {
		t.Errorf("an eleventh try at %v", next)
	}
}

func mustDuration(t *testing.T, text string) time.Duration {
	t.Helper()
	d, err := time.ParseDuration(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}
