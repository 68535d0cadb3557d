package main

import (
	"crypto/tls"
	"crypto/x509"
	"io"
	"log"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

func madeCertificates(t *testing.T, now time.Time, hosts ...string) yardCertificates {
	t.Helper()
	c := yardCertificates{folder: filepath.Join(t.TempDir(), "certificates"), now: func() time.Time { return now }}
	if err := c.make(hosts); err != nil {
		t.Fatal(err)
	}
	return c
}

// A client that trusts the authority, and nothing else, reaches the site by name and by address; the chain is
// judged by crypto/x509, which is not ours.
func TestYardCertificateServes(t *testing.T) {
	c := madeCertificates(t, time.Now(), "127.0.0.1", "yard.local")
	conf, err := yardTLS(filepath.Dir(c.folder))
	if err != nil {
		t.Fatal(err)
	}
	listener, err := tls.Listen("tcp", "127.0.0.1:0", conf)
	if err != nil {
		t.Fatal(err)
	}
	site := &http.Server{Handler: http.NotFoundHandler(), ErrorLog: log.New(io.Discard, "", 0)}
	go site.Serve(listener)
	defer site.Close()
	authority, err := c.load("authority")
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(authority.Leaf)
	for _, name := range []string{"127.0.0.1", "yard.local"} {
		conn, err := tls.Dial("tcp", listener.Addr().String(), &tls.Config{RootCAs: roots, ServerName: name})
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		conn.Close()
	}
	if _, err := tls.Dial("tcp", listener.Addr().String(), &tls.Config{RootCAs: roots, ServerName: "other.local"}); err == nil {
		t.Error("the certificate was taken for a host that it was not made for")
	}
	for _, file := range []string{"authority.key", "server.key"} {
		if info, err := os.Stat(c.path(file)); err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v, %v: want it readable by its owner only", file, info.Mode(), err)
		}
	}
}

// Whoever steals the authority's key cannot pass for a site of the world: clients refuse it.
func TestYardAuthorityIsBounded(t *testing.T) {
	now := time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)
	c := madeCertificates(t, now, "192.168.1.20", "yard.example")
	authority, err := c.load("authority")
	if err != nil {
		t.Fatal(err)
	}
	for host, fine := range map[string]bool{"bank.example": false, "93.184.216.34": false, "192.168.7.7": true, "barn.local": true, "www.yard.example": true} {
		if _, err := c.issue(authority, []string{host}); (err == nil) != fine {
			t.Errorf("a certificate for %s: %v", host, err)
		}
	}
}

// A certificate with less than 30 days left is renewed by itself, by the same authority.
func TestYardCertificateRenewsItself(t *testing.T) {
	made := time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)
	c := madeCertificates(t, made, "192.168.1.20", "yard.local")
	authority, err := os.ReadFile(c.path("authority.crt"))
	if err != nil {
		t.Fatal(err)
	}
	for days, renewed := range map[int]bool{1: false, 360: false, 368: true, 500: true} {
		now := made.AddDate(0, 0, days)
		s := &yardServer{yardCertificates: yardCertificates{folder: c.folder, now: func() time.Time { return now }}}
		pair, err := s.certificate(nil)
		if err != nil {
			t.Fatal(err)
		}
		if got := pair.Leaf.NotBefore.After(made); got != renewed {
			t.Errorf("after %d days: renewed %v, want %v", days, got, renewed)
		}
		if renewed && (len(pair.Leaf.DNSNames) != 1 || len(pair.Leaf.IPAddresses) != 1) {
			t.Errorf("the renewed certificate is for %v %v", pair.Leaf.DNSNames, pair.Leaf.IPAddresses)
		}
		if renewed {
			if err := c.make([]string{"192.168.1.20", "yard.local"}); err != nil { // back to the start, with the authority kept
				t.Fatal(err)
			}
		}
	}
	if again, err := os.ReadFile(c.path("authority.crt")); err != nil || string(again) != string(authority) {
		t.Errorf("the authority changed (%v): every phone would have to trust it again", err)
	}
}

// The page gives the very certificate whose fingerprint it shows.
func TestTrustPage(t *testing.T) {
	c := madeCertificates(t, time.Now(), "192.168.1.20")
	authority, err := c.load("authority")
	if err != nil {
		t.Fatal(err)
	}
	about := trust{Site: "https://192.168.1.20:8443", Fingerprint: fingerprint(authority.Leaf.Raw)}
	handler, err := trustHandler(about, authority.Leaf.Raw)
	if err != nil {
		t.Fatal(err)
	}
	get := func(path string) *httptest.ResponseRecorder {
		answer := httptest.NewRecorder()
		handler.ServeHTTP(answer, httptest.NewRequest("GET", path, nil))
		return answer
	}
	taken, err := x509.ParseCertificate(get("/yard-authority.crt").Body.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	if page := get("/").Body.String(); !strings.Contains(page, fingerprint(taken.Raw)) || !strings.Contains(page, "https://192.168.1.20:8443") {
		t.Error("the page does not show the fingerprint of the certificate that it gives, or not the site")
	}
	if kind := get("/site.png").Header().Get("Content-Type"); kind != "image/png" {
		t.Errorf("the code is %s", kind)
	}
}
