package offlinetest

import (
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"net/http/httputil"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

const domain = "yard.example"

// public is an authority of the world in small: Pebble, the test server of the people who run Let's Encrypt,
// which asks the yard's machine by name as they would.
type public struct {
	directory string
	trusts    string // file of the authority that vouches for Pebble's own address
	root      string // file of the root by which it vouches for domains
	stop      func()
}

// builtPebble builds the authority and the server of names that it asks, and gives their folder.
func builtPebble(t *testing.T) string {
	t.Helper()
	folder := t.TempDir()
	build := exec.Command("go", "build", "-modfile", "../../deploy/tools.mod", "-o", folder, "github.com/letsencrypt/pebble/v2/cmd/pebble", "github.com/letsencrypt/pebble/v2/cmd/pebble-challtestsrv")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("building the authority: %v\n%s", err, out)
	}
	return folder
}

// newPublic runs an authority that asks a domain's machine at two ports.
func newPublic(t *testing.T, built, leground string, ports map[string]any) public {
	t.Helper()
	folder := t.TempDir()
	if out, err := exec.Command(leground, "certificate", "-data", folder, "-host", "127.0.0.1").CombinedOutput(); err != nil {
		t.Fatalf("leground certificate: %v\n%s", err, out)
	}
	own := filepath.Join(folder, "certificates")
	p := public{trusts: filepath.Join(own, "authority.crt"), root: filepath.Join(folder, "root.crt")}
	asks, tells, names, desk := freeAddress(t), freeAddress(t), freeAddress(t), freeAddress(t)
	p.directory = "https://" + asks + "/dir"
	settings := map[string]any{"listenAddress": asks, "managementListenAddress": tells, "certificate": filepath.Join(own, "server.crt"), "privateKey": filepath.Join(own, "server.key")}
	for name, port := range ports {
		settings[name] = port
	}
	text, err := json.Marshal(map[string]any{"pebble": settings})
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(folder, "pebble.json")
	if err := os.WriteFile(file, text, 0o644); err != nil {
		t.Fatal(err)
	}
	dns := exec.Command(filepath.Join(built, "pebble-challtestsrv"), "-dnsserver", names, "-management", desk, "-defaultIPv6", "", "-http01", "", "-https01", "", "-doh", "", "-tlsalpn01", "")
	pebble := exec.Command(filepath.Join(built, "pebble"), "-config", file, "-dnsserver", names, "-strict")
	pebble.Env = append(os.Environ(), "PEBBLE_VA_NOSLEEP=1")
	for _, cmd := range []*exec.Cmd{dns, pebble} {
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
	}
	p.stop = func() {
		for _, cmd := range []*exec.Cmd{dns, pebble} {
			cmd.Process.Kill()
			cmd.Wait()
		}
	}
	t.Cleanup(p.stop)
	if err := os.WriteFile(p.root, fetch(t, trustingClient(t, p.trusts, ""), "https://"+tells+"/roots/0"), 0o644); err != nil {
		t.Fatal(err)
	}
	return p
}

// fetch asks until somebody answers.
func fetch(t *testing.T, client *http.Client, address string) []byte {
	t.Helper()
	for try := 0; ; try++ {
		answer, err := client.Get(address)
		if err == nil {
			defer answer.Body.Close()
			body, err := io.ReadAll(answer.Body)
			if err != nil || answer.StatusCode != http.StatusOK {
				t.Fatalf("%s: %s, %v", address, answer.Status, err)
			}
			return body
		}
		if try == 200 {
			t.Fatal(err)
		}
		time.Sleep(50 * time.Millisecond)
	}
}

// trustingClient trusts one authority only, and knows where a name is: at an address, when one is given.
func trustingClient(t *testing.T, authority, name string) *http.Client {
	t.Helper()
	text, err := os.ReadFile(authority)
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	if !roots.AppendCertsFromPEM(text) {
		t.Fatalf("%s is no certificate", authority)
	}
	return &http.Client{Timeout: 30 * time.Second, Transport: &http.Transport{DisableKeepAlives: true, TLSClientConfig: &tls.Config{RootCAs: roots, ServerName: name}}}
}

func port(address string) int {
	var n int
	fmt.Sscanf(address[strings.LastIndex(address, ":")+1:], "%d", &n)
	return n
}

// Way three: a domain. The certificate comes by itself when the first phone asks, plain http leads on to https,
// and the next start needs no authority. The authority asks through TLS on the site's own port; where that does
// not reach it, in plain http.
func TestWayThreeDomain(t *testing.T) {
	binary := newBuild(t, "server/web/static/leground.css", func(s string) string { return s })
	built := builtPebble(t)
	data, address, plain := t.TempDir(), freeAddress(t), freeAddress(t)
	authority := newPublic(t, built, binary, map[string]any{"tlsPort": port(address), "httpPort": 1})
	site := fmt.Sprintf("https://%s:%d", domain, port(address))
	r := &running{t: t, binary: binary, env: []string{"SSL_CERT_FILE=" + authority.trusts},
		args: []string{"serve", "-data", data, "-listen", address, "-plain-listen", plain, "-tls-domain", domain, "-tls-authority", authority.directory, "-base-url", site}}
	t.Cleanup(r.stop)
	p := NewPhone(t, &Link{URL: site}, trusting(t, authority.root), chromedp.Flag("host-resolver-rules", "MAP "+domain+" 127.0.0.1"))
	r.start()
	link := r.link()

	follow := trustingClient(t, authority.root, domain)
	follow.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	answer, err := follow.Get("http://" + plain + "/round?from=plain")
	if err != nil {
		t.Fatal(err)
	}
	answer.Body.Close()
	if to := answer.Header.Get("Location"); answer.StatusCode != http.StatusFound || to != site+"/round?from=plain" {
		t.Errorf("plain http answers %s to %q, want 302 to %s/round?from=plain", answer.Status, to, site)
	}
	fetch(t, follow, "https://"+address+"/healthz") // the certificate comes
	if _, err := trustingClient(t, authority.root, "other.example").Get("https://" + address + "/healthz"); err == nil {
		t.Error("a certificate was got for a name that is not ours")
	}
	authority.stop() // what follows needs none
	r.printed <- link
	walk(t, p, r)

	t.Run("by plain http", func(t *testing.T) {
		data, address, plain := t.TempDir(), freeAddress(t), freeAddress(t)
		// An authority asks at port 80, so that no port stands in what it asks; here something in between sees to that.
		router := httptest.NewServer(&httputil.ReverseProxy{Rewrite: func(r *httputil.ProxyRequest) { r.Out.URL.Scheme, r.Out.URL.Host, r.Out.Host = "http", plain, domain }})
		t.Cleanup(router.Close)
		authority := newPublic(t, built, binary, map[string]any{"tlsPort": 1, "httpPort": port(router.URL)})
		r := &running{t: t, binary: binary, env: []string{"SSL_CERT_FILE=" + authority.trusts},
			args: []string{"serve", "-data", data, "-listen", address, "-plain-listen", plain, "-tls-domain", domain, "-tls-authority", authority.directory}}
		t.Cleanup(r.stop)
		r.start()
		r.link() // it runs
		fetch(t, trustingClient(t, authority.root, domain), "https://"+address+"/healthz")
	})
}
