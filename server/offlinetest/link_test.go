package offlinetest

import (
	"bufio"
	"io"
	"net"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"testing"
	"time"
)

// Way is what the link does with what passes it.
type Way int

// The ways. Swallow hands requests on and keeps the answers for itself, after the server has committed.
const (
	Pass    Way = iota + 1
	Refuse      // nobody listens
	Hang        // a connection opens and nothing ever answers
	Reset       // the connection is torn down after so many bytes of a request
	Drip        // a few bytes at a time, both ways
	Swallow     // the answer to a form is lost; other answers come
	Portal      // a sign-in page of a Wi-Fi answers everything with 200
	Narrow      // a proxy refuses bodies over so many bytes with 413, in its own words
)

// Link is a TCP proxy between a phone and the server.
type Link struct {
	URL string // under which the phone sees the site

	tb      testing.TB
	address string

	mu       sync.Mutex
	to       string
	way      Way
	bytes    int         // of Reset: how many pass; of Drip: how many a tenth of a second
	lose     func() bool // of Swallow: whether this answer is lost; nil: each
	listener net.Listener
	open     map[net.Conn]bool
	posts    int // forms that went to the server
	requests int // that came from the phone, whatever became of them
	down     int // bytes that went to the phone
}

// NewLink makes a link to a site that passes everything, and closes it with the test.
func NewLink(tb testing.TB, site string) *Link {
	tb.Helper()
	l := &Link{tb: tb, way: Pass, address: "127.0.0.1:0", open: map[net.Conn]bool{}}
	l.Lead(site)
	l.listen()
	l.URL = "http://" + l.address
	tb.Cleanup(func() { l.Cut(Refuse) })
	return l
}

// Lead lets the link end at another server from now on.
func (l *Link) Lead(site string) {
	to, err := url.Parse(site)
	if err != nil {
		l.tb.Fatal(err)
	}
	l.mu.Lock()
	l.to = to.Host
	l.mu.Unlock()
	l.drop()
}

// Cut changes the way of the link. What was under way is torn down.
func (l *Link) Cut(way Way) { l.CutAt(way, 0, nil) }

// CutAt is Cut with the bytes of Reset or Drip, or with the choice of what Swallow loses.
func (l *Link) CutAt(way Way, bytes int, lose func() bool) {
	l.mu.Lock()
	before := l.listener
	l.way, l.bytes, l.lose = way, bytes, lose
	if way == Refuse {
		l.listener = nil
	}
	l.mu.Unlock()
	l.drop()
	switch {
	case way == Refuse && before != nil:
		before.Close()
	case way != Refuse && before == nil:
		l.listen()
	}
}

// Posts tells how many forms the link has handed to the server, and how many requests the phone made.
func (l *Link) Posts() (posts, requests int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.posts, l.requests
}

// Down tells how many bytes went to the phone since it was last asked.
func (l *Link) Down() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	down := l.down
	l.down = 0
	return down
}

// toPhone counts what is written to the phone.
type toPhone struct {
	io.Writer
	link *Link
}

func (w toPhone) Write(b []byte) (int, error) {
	n, err := w.Writer.Write(b)
	w.link.mu.Lock()
	w.link.down += n
	w.link.mu.Unlock()
	return n, err
}

func (l *Link) listen() {
	listener, err := net.Listen("tcp", l.address)
	for try := 0; err != nil && try < 50; try++ { // the port was ours a moment ago
		time.Sleep(20 * time.Millisecond)
		listener, err = net.Listen("tcp", l.address)
	}
	if err != nil {
		l.tb.Fatal(err)
	}
	l.address = listener.Addr().String()
	l.mu.Lock()
	l.listener = listener
	l.mu.Unlock()
	go func() {
		for {
			phone, err := listener.Accept()
			if err != nil {
				return
			}
			go l.carry(phone)
		}
	}()
}

// drop tears down every open connection.
func (l *Link) drop() {
	l.mu.Lock()
	defer l.mu.Unlock()
	for c := range l.open {
		c.Close()
	}
	clear(l.open)
}

func (l *Link) track(c net.Conn) {
	l.mu.Lock()
	l.open[c] = true
	l.mu.Unlock()
}

func (l *Link) carry(phone net.Conn) {
	defer phone.Close()
	l.track(phone)
	l.mu.Lock()
	way, to := l.way, l.to
	l.mu.Unlock()
	switch way {
	case Hang:
		io.Copy(io.Discard, phone) // until the phone gives up
		return
	case Portal:
		l.portal(phone)
		return
	case Refuse:
		return
	}
	server, err := net.Dial("tcp", to)
	if err != nil {
		return
	}
	defer server.Close()
	l.track(server)
	if way == Reset || way == Drip {
		l.raw(way, phone, server)
		return
	}
	l.requestByRequest(phone, server)
}

// raw passes bytes: a number of them and then a torn connection, or a few at a time.
func (l *Link) raw(way Way, phone, server net.Conn) {
	l.mu.Lock()
	bytes := l.bytes
	l.mu.Unlock()
	if way == Reset {
		go io.Copy(phone, server)
		io.CopyN(server, phone, int64(bytes))
		if tcp, ok := phone.(*net.TCPConn); ok {
			tcp.SetLinger(0)
		}
		return
	}
	go drip(phone, server, bytes)
	drip(server, phone, bytes)
}

func drip(to io.Writer, from io.Reader, bytes int) {
	for {
		if _, err := io.CopyN(to, from, int64(bytes)); err != nil {
			return
		}
		time.Sleep(100 * time.Millisecond)
	}
}

// requestByRequest passes whole requests and answers, and loses the answers that are to be lost.
func (l *Link) requestByRequest(phone, server net.Conn) {
	fromPhone, fromServer := bufio.NewReader(phone), bufio.NewReader(server)
	for {
		request, err := http.ReadRequest(fromPhone)
		if err != nil {
			return
		}
		post := request.Method == http.MethodPost
		l.mu.Lock()
		l.requests++
		if post {
			l.posts++
		}
		lost := l.way == Swallow && post && (l.lose == nil || l.lose())
		narrow := l.way == Narrow && request.ContentLength > int64(l.bytes)
		l.mu.Unlock()
		if narrow {
			io.Copy(io.Discard, request.Body)
			if reply(phone, request, http.StatusRequestEntityTooLarge, "<h1>413 Too Large</h1>") != nil {
				return
			}
			continue
		}
		if request.Write(server) != nil {
			return
		}
		answer, err := http.ReadResponse(fromServer, request)
		if err != nil {
			return
		}
		if lost {
			io.Copy(io.Discard, answer.Body)
			return
		}
		if answer.Write(toPhone{phone, l}) != nil || answer.Close || request.Close {
			return
		}
	}
}

const portalPage = "<!doctype html><title>Welcome</title><p>Tick the box to use this Wi-Fi."

// portal answers every request with a page of its own.
func (l *Link) portal(phone net.Conn) {
	from := bufio.NewReader(phone)
	for {
		request, err := http.ReadRequest(from)
		if err != nil {
			return
		}
		io.Copy(io.Discard, request.Body)
		if reply(phone, request, http.StatusOK, portalPage) != nil {
			return
		}
	}
}

// reply answers in place of the server.
func reply(phone io.Writer, request *http.Request, status int, page string) error {
	answer := &http.Response{
		StatusCode: status, ProtoMajor: 1, ProtoMinor: 1, Header: http.Header{"Content-Type": {"text/html"}},
		Body: io.NopCloser(strings.NewReader(page)), ContentLength: int64(len(page)), Request: request,
	}
	return answer.Write(phone)
}

// freeAddress gives an address of this machine on which nobody listens.
func freeAddress(tb testing.TB) string {
	tb.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		tb.Fatal(err)
	}
	defer listener.Close()
	return listener.Addr().String()
}
