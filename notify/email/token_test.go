package email

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"sync"
	"testing"

	"leground/notify"
	"leground/notify/notifytest"
)

// granter is a token endpoint (RFC 6749): it gives its tokens in turn, the last for ever.
type granter struct {
	*httptest.Server
	mu     sync.Mutex
	tokens []string
	asked  []url.Values
	refuse string // the error that it answers with (5.2); empty: none
	moved  string // where it sends people instead; empty: nowhere
}

func startGrant(t *testing.T, tokens ...string) *granter {
	g := &granter{tokens: tokens}
	g.Server = httptest.NewTLSServer(http.HandlerFunc(g.answer))
	t.Cleanup(g.Close)
	return g
}

func (g *granter) answer(w http.ResponseWriter, r *http.Request) {
	g.mu.Lock()
	defer g.mu.Unlock()
	r.ParseForm()
	g.asked = append(g.asked, r.PostForm)
	w.Header().Set("Content-Type", "application/json;charset=UTF-8")
	switch {
	case g.moved != "":
		http.Redirect(w, r, g.moved, http.StatusTemporaryRedirect)
		return
	case g.refuse != "":
		w.WriteHeader(http.StatusBadRequest)
		fmt.Fprintf(w, `{"error":%q}`, g.refuse)
		return
	}
	// The answer of the RFC's own example, 5.1.
	fmt.Fprintf(w, `{"access_token":%q,"token_type":"example","expires_in":3600,"refresh_token":"next%d","example_parameter":"example_value"}`, g.tokens[0], len(g.asked))
	if len(g.tokens) > 1 {
		g.tokens = g.tokens[1:]
	}
}

func (g *granter) grant() *Grant {
	return &Grant{Address: g.URL + "/token", Client: "s6BhdRkqt3", Secret: "7Fjfp0ZBr1KtDRbnfVdmIw", Refresh: "tGzv3JOkF0XG5Qx2TlKWIA", HTTP: g.Client()}
}

// TestTokenIsRefreshed: a bearer token that has run out is fetched anew, once, as RFC 6749 6 says; one that stays bad
// is a fault of the set-up and holds no secret.
func TestTokenIsRefreshed(t *testing.T) {
	for _, way := range []string{"XOAUTH2", "OAUTHBEARER"} {
		sink := startSink(t, notifytest.SinkSettings{Encryption: notifytest.ImplicitTLS, Mechanisms: []string{way}, Token: "new"})
		from := startGrant(t, "old", "new")
		set := account(sink, ImplicitTLS, Bearer)
		set.Grant = from.grant()
		c := open(t, set)
		for _, id := range []string{"1", "2"} {
			if _, err := c.Send(t.Context(), reminder(id)); err != nil {
				t.Errorf("%s: %v", way, err)
			}
			c.Close()
			c = open(t, set)
		}
		want := url.Values{"grant_type": {"refresh_token"}, "refresh_token": {"tGzv3JOkF0XG5Qx2TlKWIA"}, "client_id": {"s6BhdRkqt3"}, "client_secret": {"7Fjfp0ZBr1KtDRbnfVdmIw"}}
		if len(from.asked) != 2 || from.asked[0].Encode() != want.Encode() || from.asked[1].Get("refresh_token") != "next1" {
			t.Errorf("%s: asked for tokens with %v", way, from.asked)
		}
		sink.SetToken("revoked")
		_, err := c.Send(t.Context(), reminder("3"))
		if f := notify.FailureOf(err); f.Class != notify.SetUpFault || strings.Contains(f.Error(), "new") {
			t.Errorf("%s: %v: %v", way, f.Class, f)
		}
		if n := len(sink.Mails()); n != 2 {
			t.Errorf("%s: %d mails taken", way, n)
		}
	}
}

// A token endpoint that refuses, sends elsewhere or is away is named with what it said; the secrets go nowhere.
func TestTokensThatCannotBeHad(t *testing.T) {
	sink := startSink(t, notifytest.SinkSettings{Encryption: notifytest.ImplicitTLS, Mechanisms: []string{"XOAUTH2"}, Token: "new"})
	elsewhere := startGrant(t, "new")
	for what, c := range map[string]struct {
		change func(*granter)
		class  notify.Class
		says   string
	}{
		"refused": {func(g *granter) { g.refuse = "invalid_grant" }, notify.SetUpFault, "answered 400 invalid_grant"}, // RFC 6749 5.2
		"moved":   {func(g *granter) { g.moved = elsewhere.URL }, notify.ServerTrouble, "answered 307"},
		"empty":   {func(g *granter) { g.tokens = []string{""} }, notify.ServerTrouble, "answered 200"},
		"away":    {func(g *granter) { g.Close() }, notify.ServerTrouble, "does not answer"},
	} {
		from := startGrant(t, "new")
		set := account(sink, ImplicitTLS, Bearer)
		set.Grant = from.grant()
		c.change(from)
		_, err := open(t, set).Send(t.Context(), reminder("1"))
		f := notify.FailureOf(err)
		if f.Class != c.class || !strings.Contains(f.Error(), c.says) {
			t.Errorf("%s: %v: %v", what, f.Class, f)
		}
		for _, secret := range []string{set.Grant.Secret, set.Grant.Refresh} {
			if strings.Contains(f.Error(), secret) {
				t.Errorf("%s: the failure holds a secret: %v", what, f)
			}
		}
	}
	if len(elsewhere.asked) != 0 {
		t.Error("the secrets followed a redirect")
	}
	wrong := account(sink, ImplicitTLS, Bearer)
	for _, g := range []*Grant{{Address: "http://mail.example/token", Client: "c", Refresh: "r"}, {Address: "https://mail.example/token", Client: "c"}, {Address: "https://", Client: "c", Refresh: "r"}} {
		wrong.Grant = g
		if err := wrong.Check(); err == nil || !slices.Contains([]bool{strings.Contains(err.Error(), "https://"), strings.Contains(err.Error(), "refresh token")}, true) {
			t.Errorf("%+v is taken: %v", g, err)
		}
	}
}
