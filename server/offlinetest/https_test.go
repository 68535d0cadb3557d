package offlinetest

import (
	"bufio"
	"crypto/tls"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httputil"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// running is a leground of which a test reads what it prints and which it stops and starts again.
type running struct {
	t       testing.TB
	args    []string
	binary  string
	env     []string // beside this process's own
	cmd     *exec.Cmd
	printed chan string
}

func (r *running) start() {
	r.t.Helper()
	r.cmd = exec.Command(r.binary, r.args...)
	r.cmd.Env = append(os.Environ(), r.env...)
	out, err := r.cmd.StdoutPipe()
	if err != nil {
		r.t.Fatal(err)
	}
	if err := r.cmd.Start(); err != nil {
		r.t.Fatal(err)
	}
	r.printed = make(chan string, 100)
	go func() {
		lines := bufio.NewScanner(out)
		for lines.Scan() {
			r.printed <- lines.Text()
		}
		close(r.printed)
	}()
}

// link waits for the set-up link that the first start prints.
func (r *running) link() string {
	r.t.Helper()
	for {
		select {
		case line, ok := <-r.printed:
			if !ok {
				r.t.Fatal("the program ended without a set-up link")
			}
			if at := strings.Index(line, "/link/"); at >= 0 {
				return line[at:]
			}
		case <-time.After(20 * time.Second):
			r.t.Fatal("no set-up link was printed")
		}
	}
}

func (r *running) stop() {
	if r.cmd != nil && r.cmd.Process != nil {
		r.cmd.Process.Signal(syscall.SIGTERM)
		r.cmd.Wait()
		r.cmd = nil
	}
}

// trusting gives the flags of a browser that trusts the authority in a file, beside those of the world, as a
// phone does after the steps of the trust page.
func trusting(t testing.TB, authority string) chromedp.ExecAllocatorOption {
	t.Helper()
	certutil, err := exec.LookPath("certutil")
	if err != nil {
		const words = "no certutil in PATH (Debian: apt-get install libnss3-tools)"
		if os.Getenv("LEGROUND_NO_SKIP") == "1" {
			t.Fatal(words)
		}
		t.Skip(words)
	}
	home := t.TempDir()
	folder := filepath.Join(home, ".pki", "nssdb")
	if err := os.MkdirAll(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	for _, args := range [][]string{{"-N", "--empty-password"}, {"-A", "-t", "C,,", "-n", "yard", "-i", authority}} {
		if out, err := exec.Command(certutil, append([]string{"-d", "sql:" + folder}, args...)...).CombinedOutput(); err != nil {
			t.Fatalf("certutil %v: %v\n%s", args, err, out)
		}
	}
	return chromedp.Env("HOME=" + home)
}

// walk sets the yard up in the browser, keeps the copy, loses the server, records a look and sends it when
// the server is back: the whole way of a phone, over HTTPS.
func walk(t *testing.T, p *Phone, r *running) {
	t.Helper()
	p.Open(r.link())
	for name, value := range map[string]string{"yard": "Marlpit Yard", "zone": "Europe/London", "ring_number": "01234 000000", "name": "Ada", "email": "ada@marlpit.example", "password": "four invented words here"} {
		Eval[bool](p, `(document.querySelector('[name=`+name+`]').value = `+quote(value)+`, true)`)
	}
	p.Tap("main button.main-bar")
	p.Wait(`location.pathname === '/'`)
	p.Open("/horses")
	Eval[bool](p, `(document.querySelector('[name=name]').value = 'Bramble', true)`)
	p.Tap("main form .main-bar")
	p.Wait(`location.pathname.startsWith('/horse/')`)
	p.Open("/round")
	p.Wait(`isSecureContext && navigator.serviceWorker.controller && leground.get('note', 'filled')`)
	r.stop()
	p.Open("/round")
	goTo(p, "Bramble LF")
	p.Tap(card("Bramble LF") + ` .main-bar[name=clear]`)
	p.Says("1 reading saved on this phone")
	r.start()
	p.Wait(`leground.sendNow().then(() => leground.all('record')).then((all) => all.length === 1 && all[0].state === 'sent')`)
	p.Open("/round")
	p.Says("1 of 4 sent to the yard")
}

// Way one: a machine on the yard's own network with the yard's own certificate.
func TestWayOneYardCertificate(t *testing.T) {
	binary := newBuild(t, "server/web/static/leground.css", func(s string) string { return s })
	data, address := t.TempDir(), freeAddress(t)
	if out, err := exec.Command(binary, "certificate", "-data", data, "-host", "127.0.0.1").CombinedOutput(); err != nil {
		t.Fatalf("leground certificate: %v\n%s", err, out)
	}
	r := &running{t: t, binary: binary, args: []string{"serve", "-data", data, "-listen", address, "-tls", "yard"}}
	t.Cleanup(r.stop)
	p := NewPhone(t, &Link{URL: "https://" + address}, trusting(t, filepath.Join(data, "certificates", "authority.crt")))
	r.start()
	walk(t, p, r)

	// A browser that does not trust the authority opens nothing.
	stranger := NewPhone(t, &Link{URL: "https://" + address})
	if err := stranger.try("/"); err == nil || !strings.Contains(err.Error(), "ERR_CERT_AUTHORITY_INVALID") {
		t.Errorf("a browser that does not trust the yard: %v, want ERR_CERT_AUTHORITY_INVALID", err)
	}
}

// Way two: a proxy in front has the certificate, and the server speaks plain http to it.
func TestWayTwoProxy(t *testing.T) {
	binary := newBuild(t, "server/web/static/leground.css", func(s string) string { return s })
	data, inner, outer := t.TempDir(), freeAddress(t), freeAddress(t)
	if out, err := exec.Command(binary, "certificate", "-data", data, "-host", "127.0.0.1").CombinedOutput(); err != nil {
		t.Fatalf("leground certificate: %v\n%s", err, out)
	}
	folder := filepath.Join(data, "certificates")
	proxy(t, outer, inner, filepath.Join(folder, "server.crt"), filepath.Join(folder, "server.key"))
	r := &running{t: t, binary: binary, args: []string{"serve", "-data", data, "-listen", inner, "-proxy-hops", "1", "-base-url", "https://" + outer}}
	t.Cleanup(r.stop)
	p := NewPhone(t, &Link{URL: "https://" + outer}, trusting(t, filepath.Join(folder, "authority.crt")))
	r.start()
	walk(t, p, r)
}

// proxy runs nginx with the settings of the notes where this machine has it, else a proxy of the standard
// library that does the same.
func proxy(t testing.TB, outer, inner, certificate, key string) {
	t.Helper()
	nginx, err := exec.LookPath("nginx")
	if err != nil {
		nginx = "/usr/sbin/nginx"
	}
	if _, err := os.Stat(nginx); err == nil {
		folder := t.TempDir()
		text := fmt.Sprintf(`daemon off; error_log %[1]s/error.log; pid %[1]s/pid; events {}
http { access_log off; client_body_temp_path %[1]s/b; proxy_temp_path %[1]s/p; fastcgi_temp_path %[1]s/f; uwsgi_temp_path %[1]s/u; scgi_temp_path %[1]s/s;
server { listen %[2]s ssl; ssl_certificate %[4]s; ssl_certificate_key %[5]s; client_max_body_size 25m;
location / { proxy_pass http://%[3]s; proxy_set_header Host $http_host; proxy_set_header X-Forwarded-For $remote_addr; } } }
`, folder, outer, inner, certificate, key)
		conf := filepath.Join(folder, "nginx.conf")
		if err := os.WriteFile(conf, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(nginx, "-c", conf, "-p", folder)
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { cmd.Process.Signal(syscall.SIGTERM); cmd.Wait() })
		t.Log("through nginx")
		return
	}
	pair, err := tls.LoadX509KeyPair(certificate, key)
	if err != nil {
		t.Fatal(err)
	}
	listener, err := tls.Listen("tcp", outer, &tls.Config{Certificates: []tls.Certificate{pair}})
	if err != nil {
		t.Fatal(err)
	}
	to := &url.URL{Scheme: "http", Host: inner}
	handler := &httputil.ReverseProxy{
		Rewrite:  func(r *httputil.ProxyRequest) { r.SetURL(to); r.Out.Host = r.In.Host; r.SetXForwarded() },
		ErrorLog: quietLog(),
	}
	srv := &http.Server{Handler: handler, ErrorLog: quietLog()}
	go srv.Serve(listener)
	t.Cleanup(func() { srv.Close() })
	t.Log("through a proxy of the standard library: there is no nginx here")
}

// On plain http to a machine of the network everything but the copy works, and the Board says why.
func TestPlainHTTPSaysWhy(t *testing.T) {
	address := ""
	addresses, err := net.InterfaceAddrs()
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range addresses {
		if ip, ok := a.(*net.IPNet); ok && !ip.IP.IsLoopback() && ip.IP.To4() != nil {
			address = ip.IP.String()
		}
	}
	if address == "" {
		t.Skip("this machine has no address but its own")
	}
	b := newBarn(t)
	listener, err := net.Listen("tcp", address+":0")
	if err != nil {
		t.Skip("cannot listen on", address, err)
	}
	to, err := url.Parse(b.site.URL)
	if err != nil {
		t.Fatal(err)
	}
	srv := &http.Server{Handler: &httputil.ReverseProxy{Rewrite: func(r *httputil.ProxyRequest) { r.SetURL(to); r.Out.Host = r.In.Host }}, ErrorLog: quietLog()}
	go srv.Serve(listener)
	t.Cleanup(func() { srv.Close() })
	p := b.phoneOn(&Link{URL: "http://" + listener.Addr().String()}, b.yard.Owner)
	p.Open("/")
	if Eval[bool](p, `isSecureContext`) {
		t.Fatal("the browser takes plain http on", address, "for secure")
	}
	p.Says("This address is plain http, so nothing is kept on this phone and the round needs signal.")
	p.Shot("plain-http-360")
	p.Open("/round")
	enter(p, b.tags[0], "42", "25")
	p.Tap(card(b.tags[0]) + ` .save-bar .main-bar`)
	p.Says("Bramble RF 1 is saved in the yard")
	if got := len(b.checks()); got != 1 {
		t.Errorf("the yard has %d looks, want 1", got)
	}
}

// quietLog is a log that nobody reads.
func quietLog() *log.Logger { return log.New(io.Discard, "", 0) }
