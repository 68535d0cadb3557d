package email

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"time"
)

// Grant is how a program gets bearer tokens for a mail account without its password: with a lasting refresh token,
// which the account's owner has given it at the provider (RFC 6749, section 6).
type Grant struct {
	Address string       // of the provider's token endpoint, https
	Client  string       // our id there
	Secret  string       // our secret there; empty: none
	Refresh string       // the refresh token; the newest that an answer held is used
	HTTP    *http.Client // nil: the usual one

	mu    sync.Mutex
	token string // the last, which is used until a mail server refuses it
}

// The longest wait for a token, and the longest answer that is read.
const (
	tokenWait = 15 * time.Second
	tokenMost = 64 << 10
)

// Token gives the last token, or with fresh a new one.
func (g *Grant) Token(ctx context.Context, fresh bool) (string, error) {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.token != "" && !fresh {
		return g.token, nil
	}
	answer, err := g.ask(ctx)
	if err != nil {
		return "", err
	}
	g.token = answer.AccessToken
	if answer.RefreshToken != "" {
		g.Refresh = answer.RefreshToken
	}
	return g.token, nil
}

// errGrantRefused marks an answer that will be the same tomorrow. It adds no words.
var errGrantRefused = errors.New("")

// grantAnswer is what a token endpoint says (RFC 6749, 5.1 and 5.2).
type grantAnswer struct {
	AccessToken  string `json:"access_token"`
	RefreshToken string `json:"refresh_token"`
	Error        string `json:"error"`
}

func (g *Grant) ask(ctx context.Context) (answer grantAnswer, err error) {
	ctx, cancel := context.WithTimeout(ctx, tokenWait)
	defer cancel()
	form := url.Values{"grant_type": {"refresh_token"}, "refresh_token": {g.Refresh}, "client_id": {g.Client}}
	if g.Secret != "" {
		form.Set("client_secret", g.Secret)
	}
	req, err := http.NewRequestWithContext(ctx, http.MethodPost, g.Address, strings.NewReader(form.Encode()))
	if err != nil {
		return answer, errors.New("the address for tokens cannot be used")
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }} // the secrets go nowhere else
	if g.HTTP != nil {
		client.Transport = g.HTTP.Transport
	}
	res, err := client.Do(req)
	if err != nil {
		return answer, fmt.Errorf("%s does not answer", req.URL.Host)
	}
	defer res.Body.Close()
	err = json.NewDecoder(io.LimitReader(res.Body, tokenMost)).Decode(&answer)
	switch {
	case answer.Error != "":
		return answer, fmt.Errorf("%s answered %d %.60s%w", req.URL.Host, res.StatusCode, answer.Error, errGrantRefused)
	case err != nil || answer.AccessToken == "":
		return answer, fmt.Errorf("%s answered %d and gave no token", req.URL.Host, res.StatusCode)
	}
	return answer, nil
}

// check tells what is missing.
func (g *Grant) check() string {
	if at, err := url.Parse(g.Address); err != nil || at.Scheme != "https" || at.Host == "" {
		return "The address for tokens must begin with https://, as the mail provider gives it."
	}
	if g.Client == "" || g.Refresh == "" {
		return "Signing in with tokens needs the client's id and a refresh token, both from the mail provider."
	}
	return ""
}
