package pgtest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

func connect(t *testing.T, address string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close(context.Background()) })
	return conn
}

func exec1(t *testing.T, conn *pgx.Conn, statements string) {
	t.Helper()
	if _, err := conn.Exec(t.Context(), statements); err != nil {
		t.Fatal(err)
	}
}

func count(t *testing.T, conn *pgx.Conn, query string) (n int) {
	t.Helper()
	if err := conn.QueryRow(t.Context(), query).Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

func TestEachTestGetsAnEmptyDatabase(t *testing.T) {
	first, second := URL(t), URL(t)
	if first == second {
		t.Fatalf("both are %s", first)
	}
	exec1(t, connect(t, first), "create table horse (name text)")
	if n := count(t, connect(t, second), "select count(*) from information_schema.tables where table_schema = 'public'"); n != 0 {
		t.Fatalf("the second database has %d tables", n)
	}
}

// PostgreSQL's documentation, "Row Security Policies": owners and superusers are not bound by a policy;
// FORCE binds the owner, nothing binds a superuser. So this fails if tests ran as a superuser.
func TestRowSecurityBindsTheTestsOwnRole(t *testing.T) {
	conn := connect(t, URL(t))
	exec1(t, conn, `create table horse (yard text, name text);
		alter table horse enable row level security;
		alter table horse force row level security;
		create policy yard on horse using (yard = current_setting('leground.yard', true));
		set leground.yard = 'a';
		insert into horse values ('a', 'Bramble')`)
	if _, err := conn.Exec(t.Context(), "insert into horse values ('b', 'Juniper')"); err == nil {
		t.Error("a row of another yard was taken")
	}
	exec1(t, conn, "set leground.yard = 'b'")
	if n := count(t, conn, "select count(*) from horse"); n != 0 {
		t.Errorf("%d rows of another yard are seen", n)
	}
}

func TestServerIsDurableAndSortsByLanguage(t *testing.T) {
	if os.Getenv("LEGROUND_TEST_DATABASE_URL") != "" {
		t.Skip("the server of LEGROUND_TEST_DATABASE_URL keeps its own settings")
	}
	conn := connect(t, URL(t))
	for _, setting := range []string{"fsync", "synchronous_commit", "full_page_writes"} {
		var value string
		if err := conn.QueryRow(t.Context(), "show "+setting).Scan(&value); err != nil || value != "on" {
			t.Errorf("%s is %q (%v)", setting, value, err)
		}
	}
	if n := count(t, conn, "select count(*) where 'ada' < 'Bea'"); n != 1 {
		t.Error("the collation sorts capitals first, as byte order does")
	}
}

func TestCommittedRowsOutliveAKill(t *testing.T) {
	c := Start(t)
	address := c.URL(t)
	exec1(t, connect(t, address), "create table mark (n int)")
	for round := 1; round <= 2; round++ {
		conn := connect(t, address)
		exec1(t, conn, fmt.Sprintf("insert into mark values (%d)", round))
		exec1(t, conn, "begin; insert into mark values (100)")
		c.Kill(t)
		if _, err := conn.Exec(t.Context(), "select 1"); err == nil {
			t.Error("the killed server still answers")
		}
		c.Restart(t)
		if n := count(t, connect(t, address), "select sum(n) from mark"); n != round*(round+1)/2 {
			t.Errorf("after kill %d the marks sum to %d", round, n)
		}
	}
}

// running lists the command lines of the processes that name dir.
func running(t *testing.T, dir string) (lines []string) {
	t.Helper()
	found, err := filepath.Glob("/proc/[0-9]*/cmdline")
	if err != nil || found == nil {
		t.Skipf("no /proc on this machine to see processes in (%v)", err)
	}
	for _, path := range found {
		line, err := os.ReadFile(path)
		if err == nil && strings.Contains(string(line), dir) { // an error: it ended meanwhile
			lines = append(lines, strings.ReplaceAll(string(line), "\x00", " "))
		}
	}
	return lines
}

func TestNothingIsLeftAfterTheTest(t *testing.T) {
	var dir string
	t.Run("server", func(t *testing.T) {
		dir = Start(t).dir
		if len(running(t, dir)) == 0 {
			t.Error("/proc does not show the running server: the check below could not fail")
		}
	})
	if left := running(t, dir); dir != "" && left != nil {
		t.Errorf("still running: %q", left)
	}
	if _, err := os.Stat(dir); !os.IsNotExist(err) {
		t.Errorf("%s is still there (%v)", dir, err)
	}
}

// The test binary starts itself a second time, and that second one is killed while its server runs.
func TestNothingIsLeftAfterTheTestBinaryIsKilled(t *testing.T) {
	if os.Getenv("PGTEST_CHILD") == "1" {
		c, err := shared()
		check(t, err)
		fmt.Println("dir:" + c.dir)
		time.Sleep(time.Minute)
		return
	}
	if _, err := find("initdb"); err != nil {
		check(t, err)
	}
	child := exec.Command(os.Args[0], "-test.run=^TestNothingIsLeftAfterTheTestBinaryIsKilled$")
	child.Env = append(os.Environ(), "PGTEST_CHILD=1")
	out, err := child.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := child.Start(); err != nil {
		t.Fatal(err)
	}
	var dir string
	if _, err := fmt.Fscanf(out, "dir:%s\n", &dir); err != nil {
		t.Fatal(err)
	}
	if len(running(t, dir)) == 0 {
		t.Error("/proc does not show the running server")
	}
	if err := child.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = child.Wait() // killed, as meant
	for range 200 {
		if _, err := os.Stat(dir); os.IsNotExist(err) && running(t, dir) == nil {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	t.Errorf("10 s after the test binary was killed: %q", running(t, dir))
}

// noted is a test that only notes how it would have ended.
type noted struct {
	testing.TB
	end string
}

func (n *noted) Helper()               {}
func (n *noted) Skipf(string, ...any)  { n.end = "skipped" }
func (n *noted) Fatalf(string, ...any) { n.end = "failed" }

func TestAMissingServerIsASkipOrAFailureAsAsked(t *testing.T) {
	_, missing := find("no-such-program")
	for _, c := range []struct {
		noSkip, want string
		err          error
	}{
		{"", "skipped", missing},
		{"1", "failed", missing},
		{"", "failed", errors.New("anything else")},
		{"", "", nil},
	} {
		t.Setenv("LEGROUND_NO_SKIP", c.noSkip)
		n := &noted{}
		if check(n, c.err); n.end != c.want {
			t.Errorf("LEGROUND_NO_SKIP=%q, %v: test %s, want %s", c.noSkip, c.err, n.end, c.want)
		}
	}
}
