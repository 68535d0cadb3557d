package main

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/urfave/cli/v3"
)

// How long certificates hold. Phones refuse a server's certificate that holds for more than 825 days, also
// from an authority that a person trusts (Apple, "Requirements for trusted certificates in iOS 13").
const (
	authorityLife = 10 * 365 * 24 * time.Hour
	serverLife    = 397 * 24 * time.Hour
	renewWhenLeft = 30 * 24 * time.Hour
)

// certificateCommand makes the yard's own authority and its server's certificate, and shows a page by which
// a phone learns to trust them.
func certificateCommand() *cli.Command {
	return &cli.Command{
		Name: "certificate", Usage: "make a certificate of the yard's own, for a machine on the yard's network, and show a page to trust it",
		Flags: append(flags("data"),
			&cli.StringFlag{Name: "host", Usage: "names and addresses under which phones reach this machine, with commas: 192.168.1.20,yard.local"},
			&cli.StringFlag{Name: "page", Usage: "address on which to show the page until Ctrl-C, like 192.168.1.20:8401; empty: show none"},
			&cli.StringFlag{Name: "site", Usage: "address of the site for the page's second code; empty: https://HOST:8443"},
		),
		Action: func(ctx context.Context, cmd *cli.Command) error {
			if err := noMore(cmd, 0); err != nil {
				return err
			}
			data, err := value(cmd, "data")
			if err != nil {
				return err
			}
			hosts := hostList(cmd.String("host"))
			if len(hosts) == 0 {
				return cli.Exit("say with -host under which name or address phones reach this machine, like -host 192.168.1.20", 2)
			}
			c := yardCertificates{folder: filepath.Join(data, "certificates"), now: time.Now}
			if err := c.make(hosts); err != nil {
				return err
			}
			out := cmd.Root().Writer
			fmt.Fprintf(out, "The yard's certificate is in %s and holds for %s.\nServe with it:\n  leground serve -data %s -tls yard -listen 0.0.0.0:8443 -base-url https://%s:8443\n", c.folder, strings.Join(hosts, ", "), data, bracketed(hosts[0]))
			return showTrustPage(ctx, out, c, cmd.String("page"), siteOf(cmd.String("site"), hosts[0]))
		},
	}
}

func siteOf(site, host string) string {
	if site != "" {
		return site
	}
	return "https://" + bracketed(host) + ":8443"
}

// bracketed writes an IPv6 address as addresses of pages want it.
func bracketed(host string) string {
	if strings.Contains(host, ":") {
		return "[" + host + "]"
	}
	return host
}

func hostList(text string) []string {
	var hosts []string
	for host := range strings.SplitSeq(text, ",") {
		if host = strings.TrimSpace(host); host != "" {
			hosts = append(hosts, host)
		}
	}
	return hosts
}

// yardCertificates are the authority and the server's certificate in a folder.
type yardCertificates struct {
	folder string
	now    func() time.Time
}

func (c yardCertificates) path(name string) string { return filepath.Join(c.folder, name) }

// make makes the authority, unless there is one, and a server's certificate for the hosts.
func (c yardCertificates) make(hosts []string) error {
	if err := os.MkdirAll(c.folder, 0o700); err != nil {
		return fmt.Errorf("the folder %s for the certificates cannot be made, or is none: %w", c.folder, err)
	}
	authority, err := c.load("authority")
	if errors.Is(err, fs.ErrNotExist) {
		authority, err = c.makeAuthority(hosts)
	}
	if err != nil {
		return err
	}
	_, err = c.issue(authority, hosts)
	return err
}

// load reads a certificate with its key.
func (c yardCertificates) load(name string) (tls.Certificate, error) {
	pair, err := tls.LoadX509KeyPair(c.path(name+".crt"), c.path(name+".key"))
	if err == nil && pair.Leaf == nil {
		pair.Leaf, err = x509.ParseCertificate(pair.Certificate[0])
	}
	return pair, err
}

// privateNames and privateRanges are all that the authority may speak for, beside the hosts it was made for:
// whoever steals its key cannot pass for a bank.
var privateRanges = []string{"10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8", "fc00::/7", "fe80::/10"}

func (c yardCertificates) makeAuthority(hosts []string) (tls.Certificate, error) {
	now := c.now()
	names, addresses := splitHosts(hosts)
	t := &x509.Certificate{
		Subject: pkix.Name{CommonName: "Yard authority of " + hosts[0], Organization: []string{"Leground"}}, NotBefore: now.Add(-time.Hour), NotAfter: now.Add(authorityLife),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true, KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: append([]string{"local", "lan", "internal", "home.arpa"}, names...),
	}
	for _, text := range privateRanges {
		_, block, err := net.ParseCIDR(text)
		if err != nil {
			return tls.Certificate{}, err
		}
		t.PermittedIPRanges = append(t.PermittedIPRanges, block)
	}
	for _, address := range addresses {
		bits := 8 * len(address)
		t.PermittedIPRanges = append(t.PermittedIPRanges, &net.IPNet{IP: address, Mask: net.CIDRMask(bits, bits)})
	}
	return c.sign("authority", t, nil)
}

func splitHosts(hosts []string) (names []string, addresses []net.IP) {
	for _, host := range hosts {
		if ip := net.ParseIP(host); ip == nil {
			names = append(names, host)
		} else if four := ip.To4(); four != nil {
			addresses = append(addresses, four)
		} else {
			addresses = append(addresses, ip)
		}
	}
	return names, addresses
}

// issue makes a server's certificate and checks that the authority may speak for its hosts.
func (c yardCertificates) issue(authority tls.Certificate, hosts []string) (tls.Certificate, error) {
	now := c.now()
	names, addresses := splitHosts(hosts)
	t := &x509.Certificate{
		Subject: pkix.Name{CommonName: hosts[0]}, DNSNames: names, IPAddresses: addresses, NotBefore: now.Add(-time.Hour), NotAfter: now.Add(serverLife),
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, BasicConstraintsValid: true,
	}
	if t.NotAfter.After(authority.Leaf.NotAfter) {
		t.NotAfter = authority.Leaf.NotAfter
	}
	pair, err := c.sign("server", t, &authority)
	if err != nil {
		return pair, err
	}
	roots := x509.NewCertPool()
	roots.AddCert(authority.Leaf)
	if _, err := pair.Leaf.Verify(x509.VerifyOptions{Roots: roots, CurrentTime: now}); err != nil {
		return pair, fmt.Errorf("the yard's authority in %s cannot speak for %s: %w. Move that folder away and run this again; phones then have to trust the new one", c.folder, strings.Join(hosts, ", "), err)
	}
	return pair, nil
}

// sign makes a key, signs its certificate by the authority (or by itself) and writes both.
func (c yardCertificates) sign(name string, t *x509.Certificate, by *tls.Certificate) (tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return tls.Certificate{}, err
	}
	if t.SerialNumber, err = rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 120)); err != nil {
		return tls.Certificate{}, err
	}
	parent, signer := t, any(key)
	if by != nil {
		parent, signer = by.Leaf, by.PrivateKey
	}
	der, err := x509.CreateCertificate(rand.Reader, t, parent, &key.PublicKey, signer)
	if err != nil {
		return tls.Certificate{}, err
	}
	keyDER, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return tls.Certificate{}, err
	}
	for file, block := range map[string]*pem.Block{name + ".key": {Type: "PRIVATE KEY", Bytes: keyDER}, name + ".crt": {Type: "CERTIFICATE", Bytes: der}} {
		if err := writeWhole(c.path(file), pem.EncodeToMemory(block)); err != nil {
			return tls.Certificate{}, err
		}
	}
	return c.load(name)
}

// writeWhole replaces a file by a whole new one that only its owner reads.
func writeWhole(path string, data []byte) error {
	if err := os.WriteFile(path+".new", data, 0o600); err != nil {
		return err
	}
	return os.Rename(path+".new", path)
}

// fingerprint is what a person compares before trusting an authority: the SHA-256 of the certificate.
func fingerprint(der []byte) string {
	sum := sha256.Sum256(der)
	var out bytes.Buffer
	for i, b := range sum {
		if i > 0 {
			out.WriteByte(' ')
		}
		fmt.Fprintf(&out, "%02X", b)
	}
	return out.String()
}
