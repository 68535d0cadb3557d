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
)

// tlsSettings reads how the site is served: nil for plain http, or with a proxy in front that has the
// certificate.
func tlsSettings(mode, data string) (*tls.Config, error) {
	switch mode {
	case "off":
		return nil, nil
	case "yard":
	default:
		return nil, cli.Exit("tls must be off or yard", 2)
	}
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
