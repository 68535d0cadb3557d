package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"leground/tracker/care"
	"leground/tracker/store/storetest/pgtest"
)

// program is a running leground serve.
type program struct {
	cmd  *exec.Cmd
	site string
	link string // of the first start
	took time.Duration
}

// start runs a program and waits for its first page.
func start(t *testing.T, binary string, port string, args ...string) *program {
	t.Helper()
	p := &program{site: "http://127.0.0.1:" + port}
	p.cmd = exec.Command(binary, append([]string{"serve", "-listen", "127.0.0.1:" + port}, args...)...)
	p.cmd.Dir, p.cmd.Stderr = t.TempDir(), io.Discard
	out, err := p.cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	began := time.Now()
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { p.kill() })
	links := make(chan string, 1)
	go func() {
		for lines := bufio.NewScanner(out); lines.Scan(); {
			if at := strings.Index(lines.Text(), "/link/"); at > 0 {
				links <- lines.Text()[at:]
			} else if strings.HasPrefix(lines.Text(), "No mail server") {
				links <- ""
			}
		}
	}()
	client := &http.Client{Timeout: time.Second}
	defer client.CloseIdleConnections()
	for {
		res, err := client.Get(p.site + "/sign-in")
		if err == nil {
			res.Body.Close()
			p.took = time.Since(began)
			break
		}
		if time.Since(began) > within {
			t.Fatalf("no page after %v: %v", within, err)
		}
		time.Sleep(2 * time.Millisecond)
	}
	select {
	case p.link = <-links:
	case <-time.After(within):
		t.Fatal("the program printed no link and no remark")
	}
	return p
}

// kill ends the program as a power cut would: it is not told.
func (p *program) kill() {
	if p.cmd != nil {
		p.cmd.Process.Kill()
		p.cmd.Wait()
		p.cmd = nil
	}
}

// person is somebody's browser.
type person struct{ http.Client }

func newPerson(t *testing.T) *person {
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	p := &person{http.Client{Jar: jar, Timeout: 20 * time.Second, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}}
	t.Cleanup(p.CloseIdleConnections)
	return p
}

// post sends a form and gives the answer's status; 0 when there was none.
func (p *person) post(address string, fields ...string) int {
	values := url.Values{}
	for _, field := range fields {
		name, value, _ := strings.Cut(field, "=")
		values.Add(name, value)
	}
	res, err := p.PostForm(address, values)
	if err != nil {
		return 0
	}
	io.Copy(io.Discard, res.Body)
	res.Body.Close()
	return res.StatusCode
}

func (p *person) get(t *testing.T, address string) (int, string) {
	t.Helper()
	res, err := p.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	return res.StatusCode, string(body)
}

// itself gives the path of the program, which is the test's own binary.
func itself(t *testing.T) string {
	t.Helper()
	name, err := exec.LookPath("leground")
	if err != nil {
		t.Fatal(err)
	}
	return name
}

func port(t *testing.T) string {
	t.Helper()
	number, err := freePort()
	if err != nil {
		t.Fatal(err)
	}
	return number
}

// The program is killed while four people save as fast as they can, again and again. After each restart every
// look that was acknowledged is there, with what was said. With LEGROUND_LONG=1 it is killed forty times.
func TestKilledWhileSaving(t *testing.T) {
	rounds := 3
	if os.Getenv("LEGROUND_LONG") == "1" {
		rounds = 40
	}
	binary := itself(t)
	t.Run("SQLite", func(t *testing.T) {
		killed(t, rounds, binary, func(int) {}, "-data", filepath.Join(t.TempDir(), "yard"))
	})
	t.Run("PostgreSQL", func(t *testing.T) {
		cluster := pgtest.Start(t)
		killed(t, rounds, binary, func(n int) {
			if n%2 == 0 { // every other time the database is killed with it
				cluster.Kill(t)
				cluster.Restart(t)
			}
		}, "-database-url", cluster.URL(t))
	})
}

func killed(t *testing.T, rounds int, binary string, also func(int), args ...string) {
	t.Helper()
	at, ada := port(t), newPerson(t)
	p := start(t, binary, at, args...)
	horse := care.NewID()
	if got := ada.post(p.site+p.link, "yard=Marlpit Yard", "zone=Europe/London", "order=LF RF RH LH", "name=Ada", "email=ada@marlpit.example", "password=four invented words here"); got != 303 {
		t.Fatalf("opening the yard answers %d", got)
	}
	if got := ada.post(p.site+"/horses", "id="+horse, "name=Bramble"); got != 303 {
		t.Fatalf("taking in a horse answers %d", got)
	}
	kept := 0
	for n := range rounds {
		acknowledged := saveUntilKilled(p, ada, horse, n)
		also(n)
		p = start(t, binary, at, args...)
		if p.link != "" {
			t.Fatalf("round %d: the yard is gone", n)
		}
		for id, note := range acknowledged {
			if status, body := ada.get(t, p.site+"/check/"+id); status != 200 || !strings.Contains(body, note) {
				t.Fatalf("round %d: the look %s was acknowledged and is lost: %d\n%s", n, id, status, body)
			}
		}
		kept += len(acknowledged)
	}
	if kept < rounds {
		t.Errorf("only %d looks were acknowledged in %d rounds: nothing was tried", kept, rounds)
	}
	t.Logf("%d acknowledged looks in %d rounds, none lost", kept, rounds)
}

// saveUntilKilled saves until the program is killed, and gives what it acknowledged: record id and note.
func saveUntilKilled(p *program, ada *person, horse string, round int) map[string]string {
	acknowledged := map[string]string{}
	var mu sync.Mutex
	var all sync.WaitGroup
	over := make(chan struct{})
	for who := range 4 {
		all.Go(func() {
			for i := 0; ; i++ {
				select {
				case <-over:
					return
				default:
				}
				id, note := care.NewID(), fmt.Sprintf("round %d, person %d, look %d.", round, who, i)
				if ada.post(p.site+"/round/leg", "record="+id, "horse="+horse, "leg=LF", "filling=1", "note="+note) == 303 {
					mu.Lock()
					acknowledged[id] = note
					mu.Unlock()
				}
			}
		})
	}
	time.Sleep(300*time.Millisecond + rand.N(400*time.Millisecond))
	p.kill()
	close(over)
	all.Wait()
	return acknowledged
}

// The program as it is shipped: without C, under 40 MB, its first page within two seconds of its start, and
// under 80 MB of memory when nobody asks for anything. The best of three starts counts, since other work on
// the machine only ever makes it slower.
func TestProgramBars(t *testing.T) {
	if os.Getenv("LEGROUND_NO_SKIP") != "1" {
		t.Skip("builds the program, which takes a while: set LEGROUND_NO_SKIP=1")
	}
	binary := filepath.Join(t.TempDir(), "leground")
	build := exec.Command("go", "build", "-buildvcs=false", "-trimpath", "-ldflags=-s -w", "-o", binary, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	info, err := os.Stat(binary)
	if err != nil {
		t.Fatal(err)
	}
	if info.Size() >= 40e6 {
		t.Errorf("the program has %d bytes, want under 40,000,000", info.Size())
	}
	var first time.Duration
	data := filepath.Join(t.TempDir(), "yard")
	var p *program
	for i := range 3 {
		p = start(t, binary, port(t), "-data", data)
		if first == 0 || p.took < first {
			first = p.took
		}
		if i < 2 {
			p.kill()
		}
	}
	if first > 2*time.Second {
		t.Errorf("the first page came after %v, want within 2 s", first)
	}
	time.Sleep(time.Second)
	memory, err := residentKiB(p.cmd.Process.Pid)
	if errors.Is(err, os.ErrNotExist) {
		t.Skip("no /proc on this machine to read the memory from")
	} else if err != nil {
		t.Fatal(err)
	}
	if memory >= 80<<10 {
		t.Errorf("idle it holds %d KiB, want under 80 MiB", memory)
	}
	t.Logf("%.1f MB, first page after %v, %.1f MiB resident when idle", float64(info.Size())/1e6, first.Round(time.Millisecond), float64(memory)/1024)
}

// residentKiB gives the memory of a process that is in use, as Linux counts it.
func residentKiB(pid int) (int, error) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0, err
	}
	m := regexp.MustCompile(`VmRSS:\s+(\d+) kB`).FindSubmatch(text)
	if m == nil {
		return 0, errors.New("no VmRSS in /proc")
	}
	var n int
	_, err = fmt.Sscan(string(m[1]), &n)
	return n, err
}
