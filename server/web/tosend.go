package web

import (
	"net"
	"net/http"
	"net/url"
)

// sendable is the whole address of a link that somebody sends on.
type sendable string

// OnlyHere tells whether it opens on this machine alone.
func (s sendable) OnlyHere() bool {
	u, err := url.Parse(string(s))
	return err == nil && (u.Hostname() == "localhost" || net.ParseIP(u.Hostname()).IsLoopback())
}

// toSend puts the site's address in front of a path. Where the settings do not give one it is the address that this
// person's own browser has just used; nobody but them is shown it. Messages never take theirs from a request.
func (h *Handler) toSend(r *http.Request, path string) sendable {
	if h.settings.Site != "" {
		return sendable(h.settings.Site + path)
	}
	at := url.URL{Scheme: "http", Host: r.Host}
	if origin, err := url.Parse(r.Header.Get("Origin")); err == nil && origin.Host == r.Host {
		at.Scheme = origin.Scheme // a proxy in front may have the certificate
	}
	if h.settings.Secure || r.TLS != nil {
		at.Scheme = "https"
	}
	return sendable(at.String() + path)
}
