package server

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"os"
	"os/exec"
	"os/signal"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"leground/notify"
	"leground/notify/email"
	"leground/notify/notifytest"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/rounds"
	"leground/tracker/store"
	"leground/tracker/store/storetest/pgtest"
)

// What makes this test program a worker process of its own: the database and the mail server's port.
const (
	workerDB   = "LEGROUND_TEST_WORKER_DB"
	workerPort = "LEGROUND_TEST_WORKER_PORT"
)

// lease of the worker processes: long enough for a slow machine, short enough to wait for.
const workerLease = 2 * time.Second

func TestMain(m *testing.M) {
	if where := os.Getenv(workerDB); where != "" {
		if err := beWorker(where, os.Getenv(workerPort)); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		return
	}
	os.Exit(m.Run())
}

// beWorker sends what is due until it is told to stop or killed.
func beWorker(where, port string) error {
	ctx, stop := signal.NotifyContext(context.Background(), syscall.SIGTERM)
	defer stop()
	db, err := store.Open(ctx, where, time.Now())
	if err != nil {
		return err
	}
	defer db.Close()
	number, err := strconv.Atoi(port)
	if err != nil {
		return err
	}
	mail, err := email.New(email.Settings{Host: "127.0.0.1", Port: number, Security: email.NoTLS, SignIn: email.NoSignIn, From: "yard@marlpit.example"})
	if err != nil {
		return err
	}
	service := care.New(db, time.Now).Serving(care.ChannelEmail)
	s := &Server{settings: Settings{Now: time.Now, Log: slog.New(slog.NewJSONHandler(os.Stderr, nil))}}
	d := s.newDeliver(&outbox{db: db, care: service, base: "https://yard.example", host: "yard.example", count: func(string, string) {}}, []notify.Channel{mail})
	d.Pace, d.Lease = map[string]notify.Pace{care.ChannelEmail: {PerMinute: 600_000, Burst: 100_000}}, workerLease
	fmt.Println("ready")
	for ctx.Err() == nil {
		if err := d.RunOnce(ctx, time.Now()); err != nil && ctx.Err() == nil {
			fmt.Fprintln(os.Stderr, err)
		}
		time.Sleep(20 * time.Millisecond)
	}
	d.Wait()
	return nil
}

// process is a running worker.
type process struct {
	*exec.Cmd
	mu  sync.Mutex
	log bytes.Buffer
}

func (p *process) Write(b []byte) (int, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.log.Write(b)
}

func (p *process) said() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.log.String()
}

// startWorker starts one and waits until it works.
func startWorker(t *testing.T, where string, port int) *process {
	t.Helper()
	self, err := os.Executable()
	must(t, err)
	p := &process{Cmd: exec.Command(self)}
	p.Env = append(os.Environ(), workerDB+"="+where, fmt.Sprintf("%s=%d", workerPort, port))
	p.Stderr = p
	out, err := p.StdoutPipe()
	must(t, err)
	must(t, p.Start())
	t.Cleanup(func() {
		if p.ProcessState == nil {
			p.Process.Kill()
			p.Wait()
		}
	})
	if line, err := bufio.NewReader(out).ReadString('\n'); err != nil || line != "ready\n" {
		t.Fatalf("the worker says %q, %v\n%s", line, err, p.said())
	}
	return p
}

func (p *process) stop(t *testing.T, with os.Signal) {
	t.Helper()
	must(t, p.Process.Signal(with))
	p.Wait() // its exit is that of the signal
}

// bothDatabases runs a test on a fresh database of each kind, named by its address.
func bothDatabases(t *testing.T, test func(t *testing.T, where string, db *store.DB)) {
	for name, where := range map[string]func(testing.TB) string{"sqlite": func(t testing.TB) string { return t.TempDir() }, "postgres": pgtest.URL} {
		t.Run(name, func(t *testing.T) {
			address := where(t)
			db, err := store.Open(t.Context(), address, noon)
			must(t, err)
			t.Cleanup(func() { db.Close() })
			test(t, address, db)
		})
	}
}

// planTests plans messages that are sent whatever the rules say.
func planTests(t *testing.T, db *store.DB, p *place, n int) {
	t.Helper()
	now := time.Now()
	must(t, db.Write(t.Context(), p.yard.ID, func(tx care.Tx) error {
		for i := range n {
			row := care.Reminder{ID: tracker.ReminderID(care.NewID()), Kind: care.KindTest, Subject: fmt.Sprint("test ", i), Person: p.ada.Person.ID,
				Channel: care.ChannelEmail, Account: care.ChannelEmail, State: rounds.Planned, Facts: []byte(`{"Kind":"test","Yard":"Marlpit Yard"}`),
				Token: care.NewSecret(), PlannedAt: now, SendAt: now, UseBy: now.Add(time.Hour)}
			if err := tx.AddReminder(row); err != nil {
				return err
			}
		}
		return nil
	}))
}

func left(t *testing.T, db *store.DB, p *place) int {
	t.Helper()
	n := 0
	for _, r := range p.reminders(t, db) {
		if r.State != "sent" {
			n++
		}
	}
	return n
}

// TestKilledWorkers (G2) kills worker processes with SIGKILL at random instants of their work, between the claim,
// the dot, the 250 and the mark, against a real mail server. Nothing is lost; each kill doubles at most the one
// message that was on its link; a doubled message has the same bytes, and so the same Message-ID.
func TestKilledWorkers(t *testing.T) {
	kills, each := 6, 40
	if long() {
		kills, each = 200, 100
	}
	bothDatabases(t, func(t *testing.T, where string, db *store.DB) {
		seed := uint64(2026)
		random := rand.New(rand.NewPCG(seed, 2))
		t.Logf("seed %d, %d kills, %d messages", seed, kills, kills*each)
		box, err := notifytest.StartSink(notifytest.SinkSettings{Encryption: notifytest.NoTLS})
		must(t, err)
		t.Cleanup(box.Close)
		p := newPlace(t, db, "Europe/London", tracker.DefaultSlots(), noon)
		planTests(t, db, p, kills*each)
		done := 0
		for range kills {
			w := startWorker(t, where, box.Port)
			for until := time.Now().Add(20 * time.Second); len(box.Mails()) <= done && time.Now().Before(until); {
				time.Sleep(time.Millisecond)
			}
			time.Sleep(time.Duration(random.IntN(60_000)) * time.Microsecond)
			w.stop(t, syscall.SIGKILL)
			done = len(box.Mails())
		}
		w := startWorker(t, where, box.Port)
		for until := time.Now().Add(5 * time.Minute); left(t, db, p) > 0 && time.Now().Before(until); {
			time.Sleep(100 * time.Millisecond)
		}
		w.stop(t, syscall.SIGTERM)
		checkMails(t, box, p.reminders(t, db), kills)
	})
}

func checkMails(t *testing.T, box *notifytest.Sink, rows []care.Reminder, kills int) {
	t.Helper()
	byID, extras := map[string]string{}, 0
	for _, m := range box.Mails() {
		head, err := m.Header()
		must(t, err)
		id := strings.Trim(head.Get("Message-Id"), "<>")
		if before, again := byID[id]; again {
			extras++
			if before != m.Raw {
				t.Errorf("the second copy of %s has other bytes", id)
			}
		}
		byID[id] = m.Raw
	}
	lost, open := 0, 0
	for _, r := range rows {
		if byID["r."+string(r.ID)+"@yard.example"] == "" {
			lost++
		}
		if r.State != "sent" {
			open++
		}
	}
	if open > 0 {
		t.Errorf("%d messages are not marked sent", open)
	}
	t.Logf("%d messages, %d kills: %d lost, %d doubled", len(rows), kills, lost, extras)
	if lost > 0 || extras > kills {
		t.Errorf("%d lost and %d doubled by %d kills", lost, extras, kills)
	}
}

// TestPausedWorker (G8) stops a worker process in the middle of a message until its lease has passed and another
// has taken the message over. When it wakes, what it says is refused by its token and the row stays as the other
// one left it.
func TestPausedWorker(t *testing.T) {
	bothDatabases(t, func(t *testing.T, where string, db *store.DB) {
		box, err := notifytest.StartSink(notifytest.SinkSettings{Encryption: notifytest.NoTLS})
		must(t, err)
		t.Cleanup(box.Close)
		p := newPlace(t, db, "Europe/London", tracker.DefaultSlots(), noon)
		box.Fail(notifytest.Fault{At: notifytest.AtDot, Do: notifytest.Hang, Times: 1})
		planTests(t, db, p, 1)
		first := startWorker(t, where, box.Port)
		await(t, "the first worker's message", func() bool { return len(box.Mails()) == 1 })
		must(t, first.Process.Signal(syscall.SIGSTOP))
		second := startWorker(t, where, box.Port)
		await(t, "the second worker's message", func() bool { return left(t, db, p) == 0 })
		second.stop(t, syscall.SIGTERM)
		before := p.reminders(t, db)[0]
		must(t, first.Process.Signal(syscall.SIGCONT))
		await(t, "the first worker to see that its lease has passed", func() bool {
			return strings.Contains(first.said(), "the lease had passed on")
		})
		first.stop(t, syscall.SIGTERM)
		if after := p.reminders(t, db)[0]; after.State != "sent" || after.Tries != before.Tries || after.Answer != before.Answer || !after.SentAt.Equal(before.SentAt) {
			t.Errorf("the first worker changed the row from\n%+v\nto\n%+v", before, after)
		}
		checkMails(t, box, p.reminders(t, db), 1)
	})
}

func await(t *testing.T, what string, done func() bool) {
	t.Helper()
	for until := time.Now().Add(30 * time.Second); !done(); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(until) {
			t.Fatalf("waited 30 s for %s", what)
		}
	}
}
