package main

import (
	"crypto/tls"
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"
	"sync"
	"time"

	"github.com/urfave/cli/v3"
	"golang.org/x/crypto/acme"
	"golang.org/x/crypto/acme/autocert"

	"leground/server"
)

// setTLS reads how the site is served: plain http (as it must be with a proxy in front that has the
// certificate), with the yard's own certificate, or with one for a domain that comes and renews itself.
func setTLS(in *server.Settings, v map[string]string) (err error) {
	switch mode, domain := v["tls"], v["tls-domain"]; {
	case domain != "" && mode != "off":
		return cli.Exit("tls and tls-domain are two ways: set only one", 2)
	case domain != "":
		m := domainCertificates(domain, v["tls-authority"], v["data"])
		in.TLS, in.Plain = m.TLSConfig(), m.HTTPHandler
		in.TLS.MinVersion = tls.VersionTLS12
		if in.Base == "" {
			in.Base = "https://" + domain
		}
	case mode == "yard":
		in.TLS, err = yardTLS(v["data"])
	case mode != "off":
		return cli.Exit("tls must be off or yard", 2)
	}
	if in.PlainListen = v["plain-listen"]; in.PlainListen != "" && in.TLS == nil {
		return cli.Exit("plain-listen sends people on to https: it needs tls or tls-domain", 2)
	}
	return err
}

// domainCertificates gets a domain's certificate from an authority by ACME (RFC 8555) when the first phone
// asks for it, keeps it in the data folder and renews it 30 days before its end.
func domainCertificates(domain, authority, data string) *autocert.Manager {
	return &autocert.Manager{
		Prompt: autocert.AcceptTOS, HostPolicy: autocert.HostWhitelist(domain),
		Cache: autocert.DirCache(filepath.Join(data, "certificates", "domain")), Client: &acme.Client{DirectoryURL: authority},
	}
}

// yardTLS serves with the certificate that leground certificate made.
func yardTLS(data string) (*tls.Config, error) {
	c := &yardServer{yardCertificates: yardCertificates{folder: filepath.Join(data, "certificates"), now: time.Now}}
	if _, err := c.certificate(nil); err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("there is no certificate in %s yet: make one with leground certificate -data %s -host ADDRESS", c.folder, data)
		}
		return nil, err
	}
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: c.certificate}, nil
}

// yardServer hands out the server's certificate and renews it when it has 30 days left, by the same
// authority, so that no phone notices.
type yardServer struct {
	yardCertificates
	mu   sync.Mutex
	pair *tls.Certificate
}

func (s *yardServer) certificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.pair != nil && s.pair.Leaf.NotAfter.Sub(s.now()) > renewWhenLeft {
		return s.pair, nil
	}
	pair, err := s.load("server")
	if err != nil {
		return nil, err
	}
	if pair.Leaf.NotAfter.Sub(s.now()) <= renewWhenLeft {
		authority, err := s.load("authority")
		if err != nil {
			return nil, err
		}
		hosts := pair.Leaf.DNSNames
		for _, address := range pair.Leaf.IPAddresses {
			hosts = append(hosts, address.String())
		}
		if pair, err = s.issue(authority, hosts); err != nil {
			return nil, err
		}
	}
	s.pair = &pair
	return s.pair, nil
}
