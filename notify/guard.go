package notify

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// ErrForbidden says that an address must not be talked to.
var ErrForbidden = errors.New("this address must not be talked to")

// Guard keeps requests to addresses that strangers typed in away from machines that are not theirs: from
// this one, from its network and from the network of its provider. Its fields are the operator's alone.
type Guard struct {
	AllowHTTP bool           // plain http is allowed
	Allow     []netip.Prefix // private addresses that may be talked to all the same
	Roots     *x509.CertPool // authorities to trust; nil: those of the system
}

// Limits of a guarded request.
const (
	guardConnect = 5 * time.Second
	guardTotal   = 15 * time.Second
	guardAnswer  = 64 << 10 // bytes
)

// Client gives a client that judges the address of each connection after its name was resolved, follows
// no redirect, uses no proxy, and gives up after 15 seconds.
func (g Guard) Client() *http.Client {
	dialer := &net.Dialer{Timeout: guardConnect, Control: func(_, address string, _ syscall.RawConn) error {
		at, err := netip.ParseAddrPort(address)
		if err != nil {
			return fmt.Errorf("%w: %s", ErrForbidden, address)
		}
		return g.CheckAddress(at.Addr())
	}}
	return &http.Client{
		Timeout: guardTotal,
		Transport: &http.Transport{
			DialContext: func(ctx context.Context, network, address string) (net.Conn, error) {
				return dialer.DialContext(ctx, network, address)
			},
			TLSClientConfig:        &tls.Config{RootCAs: g.Roots, MinVersion: tls.VersionTLS12},
			TLSHandshakeTimeout:    guardConnect,
			ForceAttemptHTTP2:      true,
			DisableKeepAlives:      true, // each try resolves and is judged anew
			MaxResponseHeaderBytes: guardAnswer,
		},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
}

// CheckURL tells in words what is wrong with an address that somebody typed in. Its name is not resolved.
func (g Guard) CheckURL(text string) (*url.URL, error) {
	u, err := url.Parse(text)
	switch {
	case err != nil || len(text) > 2000 || u.Hostname() == "":
		return nil, fmt.Errorf("%w: it must be a web address, like https://example.org/hook", ErrForbidden)
	case u.Scheme != "https" && !(u.Scheme == "http" && g.AllowHTTP):
		return nil, fmt.Errorf("%w: it must begin with https://", ErrForbidden)
	case u.User != nil:
		return nil, fmt.Errorf("%w: it must not hold a user name or password", ErrForbidden)
	}
	if at, err := netip.ParseAddr(strings.Trim(u.Hostname(), "[]")); err == nil {
		if err := g.CheckAddress(at); err != nil {
			return nil, err
		}
	}
	return u, nil
}

// CheckAddress judges one address. IPv4 that is wrapped in IPv6 (mapped, RFC 4291 2.5.5.2, or NAT64,
// RFC 6052 2.1) is judged as what is inside.
func (g Guard) CheckAddress(address netip.Addr) error {
	a := unwrap(address.WithZone(""))
	for _, allowed := range g.Allow {
		if allowed.Contains(a) {
			return nil
		}
	}
	if isPublic(a) {
		return nil
	}
	return fmt.Errorf("%w: %s is not a public address", ErrForbidden, address)
}

func unwrap(a netip.Addr) netip.Addr {
	a = a.Unmap()
	if bytes := a.As16(); a.Is6() && netip.PrefixFrom(netip.MustParseAddr("64:ff9b::"), 96).Contains(a) {
		return netip.AddrFrom4([4]byte(bytes[12:]))
	}
	return a
}

// isPublic tells whether an address is meant to be reached from everywhere, by the IANA registries of
// special-purpose addresses (RFC 6890 and its updates). IPv6 is public only inside 2000::/3.
func isPublic(a netip.Addr) bool {
	special := specialIPv4()
	if a.Is6() {
		if !netip.MustParsePrefix("2000::/3").Contains(a) {
			return false
		}
		special = []string{"2001::/23", "2001:db8::/32", "2002::/16", "3fff::/20"}
	}
	for _, text := range special {
		if netip.MustParsePrefix(text).Contains(a) {
			return false
		}
	}
	return a.IsValid()
}

// specialIPv4 lists what is not public in IPv4.
func specialIPv4() []string {
	return []string{"0.0.0.0/8", "10.0.0.0/8", "100.64.0.0/10", "127.0.0.0/8", "169.254.0.0/16", "172.16.0.0/12",
		"192.0.0.0/24", "192.0.2.0/24", "192.88.99.0/24", "192.168.0.0/16", "198.18.0.0/15", "198.51.100.0/24",
		"203.0.113.0/24", "224.0.0.0/4", "240.0.0.0/4"}
}

// ReadAnswer reads what a server said, up to 64 KiB, and closes it.
func ReadAnswer(r *http.Response) string {
	defer r.Body.Close()
	text, _ := io.ReadAll(io.LimitReader(r.Body, guardAnswer)) // a broken answer is shown as far as it came
	return string(text)
}

// WaitAsked reads Retry-After (RFC 9110 10.2.3): seconds, or a date counted from the answer's own Date.
// It is 0 when there is none.
func WaitAsked(h http.Header) time.Duration {
	text := h.Get("Retry-After")
	if seconds, err := strconv.Atoi(text); err == nil && seconds > 0 {
		return min(time.Duration(min(seconds, 1<<20))*time.Second, restMost)
	}
	until, err1 := http.ParseTime(text)
	from, err2 := http.ParseTime(h.Get("Date"))
	if err1 != nil || err2 != nil {
		return 0
	}
	return min(max(0, until.Sub(from)), restMost)
}
