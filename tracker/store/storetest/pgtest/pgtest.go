// Package pgtest gives tests a real PostgreSQL: a private cluster made from the installed server
// binaries in a temporary folder, reached by a socket in that folder only.
//
// Tests connect as the role leground, which owns its database but is no superuser and cannot bypass
// row security, so a policy with FORCE is really in effect. The server runs with its durable defaults
// (fsync and synchronous_commit on), so that kill tests and benchmarks mean what they say, and sorts
// text by a linguistic collation as most installed servers do, so that a statement which leans on
// byte order shows itself here.
//
// A server ends with the test binary that started it, however that ends: a small shell stands between
// them and stops the server and removes its folder as soon as its standard input closes.
//
// When LEGROUND_TEST_DATABASE_URL is set, URL makes its databases in that server instead; its role
// must be allowed to create databases and must not be a superuser. Without server binaries a test is
// skipped by name, or fails when LEGROUND_NO_SKIP=1.
package pgtest

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// startWithin bounds how long a server may take to answer, on a busy machine too.
const startWithin = time.Minute

// errMissing is what find reports: the machine has no PostgreSQL server.
var errMissing = errors.New("no PostgreSQL server binaries in /usr/lib/postgresql/*/bin or PATH (Debian: apt-get install postgresql)")

// shared is the one cluster behind URL, started by the first test of a binary that asks.
var shared = sync.OnceValues(start)

// URL gives the address of a fresh, empty database for this test alone and drops it afterwards.
func URL(tb testing.TB) string {
	tb.Helper()
	admin := os.Getenv("LEGROUND_TEST_DATABASE_URL")
	owner := ""
	if admin == "" {
		c, err := shared()
		check(tb, err)
		admin, owner = c.address("postgres", "postgres"), "leground"
	}
	name := "leground_test_" + strings.ToLower(rand.Text())
	check(tb, create(admin, name, owner))
	tb.Cleanup(func() {
		if err := do(admin, "drop database "+name+" with (force)"); err != nil {
			tb.Errorf("dropping the test's database: %v", err)
		}
	})
	return address(admin, name, owner)
}

// Tool gives the path of one of the server's own programs, such as pgbench or pg_dump.
func Tool(tb testing.TB, name string) string {
	tb.Helper()
	path, err := find(name)
	check(tb, err)
	return path
}

// Cluster is a server of one test's own, which the test may kill.
type Cluster struct {
	dir  string // holds the data, the socket and the log
	attr *syscall.SysProcAttr
	keep *exec.Cmd // the shell that ends the server when its standard input closes; nil when killed
	pipe io.WriteCloser
}

// Start gives this test a server of its own and ends it with the test. It never uses
// LEGROUND_TEST_DATABASE_URL: that server is not ours to kill.
func Start(tb testing.TB) *Cluster {
	tb.Helper()
	c, err := start()
	check(tb, err)
	tb.Cleanup(func() {
		if c.keep != nil {
			c.pipe.Close()
			_ = c.keep.Wait() // its status is the killed server's
		}
		if err := os.RemoveAll(c.dir); err != nil {
			tb.Errorf("removing the test's server: %v", err)
		}
	})
	return c
}

// URL makes a fresh database in the cluster; it goes with the cluster.
func (c *Cluster) URL(tb testing.TB) string {
	tb.Helper()
	name := "leground_test_" + strings.ToLower(rand.Text())
	check(tb, create(c.address("postgres", "postgres"), name, "leground"))
	return c.address("leground", name)
}

// Kill ends the server at once and without a checkpoint (PostgreSQL's immediate shutdown): every
// connection breaks, and the next start must recover from the log.
func (c *Cluster) Kill(tb testing.TB) {
	tb.Helper()
	if c.keep == nil {
		tb.Fatal("pgtest: Kill of a server that is not running")
	}
	if _, err := io.WriteString(c.pipe, "keep\n"); err != nil {
		tb.Fatalf("pgtest: %v", err)
	}
	c.pipe.Close()
	_ = c.keep.Wait() // its status is the killed server's
	c.keep = nil
}

// Restart starts a killed server again on the same data and waits until it answers.
func (c *Cluster) Restart(tb testing.TB) {
	tb.Helper()
	if c.keep != nil {
		tb.Fatal("pgtest: Restart of a server that is running")
	}
	check(tb, c.run())
}

// start makes a cluster in a new folder and runs it.
func start() (*Cluster, error) {
	initdb, err := find("initdb")
	if err != nil {
		return nil, err
	}
	// Under /tmp whatever TMPDIR says: a socket's path must be short, and another user must reach it.
	dir, err := os.MkdirTemp("/tmp", "leground-pg-")
	if err != nil {
		return nil, err
	}
	c := &Cluster{dir: dir}
	if err := c.build(initdb); err != nil {
		os.RemoveAll(dir)
		return nil, err
	}
	return c, nil
}

func (c *Cluster) build(initdb string) error {
	if err := c.leaveRoot(); err != nil {
		return err
	}
	cmd := exec.Command(initdb, "-D", c.dir+"/data", "-U", "postgres", "-A", "trust", "--no-sync", "-E", "UTF8",
		"--locale=C.UTF-8", "--locale-provider=icu", "--icu-locale=en-GB")
	cmd.Dir, cmd.SysProcAttr = c.dir, c.attr
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("initdb: %v\n%s", err, out)
	}
	if err := c.run(); err != nil {
		return err
	}
	return do(c.address("postgres", "postgres"), "create role leground login")
}

// leaveRoot makes the server run as nobody when we are root, for which PostgreSQL refuses to start.
// The server gets a session of its own in either case, so that a Ctrl-C meant for us is not for it.
func (c *Cluster) leaveRoot() error {
	c.attr = &syscall.SysProcAttr{Setsid: true}
	if os.Getuid() != 0 {
		return nil
	}
	nobody, err := user.Lookup("nobody")
	if err != nil {
		return err
	}
	uid, err := strconv.ParseUint(nobody.Uid, 10, 32)
	if err != nil {
		return err
	}
	gid, err := strconv.ParseUint(nobody.Gid, 10, 32)
	if err != nil {
		return err
	}
	c.attr.Credential = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
	return os.Chown(c.dir, int(uid), int(gid))
}

// keeper runs the server until standard input closes, and removes its folder unless told to keep it.
const keeper = `"$1" -D "$2/data" -k "$2" -p 5432 -c listen_addresses= </dev/null & server=$!
read -r word
kill -QUIT $server; wait $server
[ "$word" = keep ] || rm -rf "$2"`

func (c *Cluster) run() error {
	server, err := find("postgres")
	if err != nil {
		return err
	}
	log, err := os.OpenFile(c.dir+"/log", os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	defer log.Close()
	cmd := exec.Command("/bin/sh", "-c", keeper, "sh", server, c.dir)
	cmd.Dir, cmd.SysProcAttr, cmd.Stdout, cmd.Stderr = c.dir, c.attr, log, log
	pipe, err := cmd.StdinPipe()
	if err != nil {
		return err
	}
	if err := cmd.Start(); err != nil {
		return err
	}
	if err := c.await(); err != nil {
		said, _ := os.ReadFile(c.dir + "/log") // best effort: err already says what failed
		pipe.Close()
		_ = cmd.Wait()
		return fmt.Errorf("the server does not answer: %v\n%s", err, said)
	}
	c.keep, c.pipe = cmd, pipe
	return nil
}

// await tries until the server takes a connection.
func (c *Cluster) await() error {
	for left := startWithin; ; left -= 50 * time.Millisecond {
		err := do(c.address("postgres", "postgres"), "select 1")
		if err == nil || left <= 0 {
			return err
		}
		time.Sleep(50 * time.Millisecond)
	}
}

func (c *Cluster) address(role, database string) string {
	return "postgres://" + role + "@/" + database + "?host=" + url.QueryEscape(c.dir) + "&port=5432"
}

// address is admin's address with another database, and another role when one is given.
func address(admin, database, role string) string {
	u, err := url.Parse(admin)
	if err != nil { // create has already connected with it
		panic(err)
	}
	u.Path = "/" + database
	if role != "" {
		u.User = url.User(role)
	}
	return u.String()
}

// create makes a database owned by owner, or by admin's own role when owner is empty.
// Analyze lets the server know its tables, as it does by itself within a minute of a change: until then it keeps the plans
// that it made for empty ones.
func Analyze(tb testing.TB, where string) {
	tb.Helper()
	check(tb, do(where, "VACUUM ANALYZE"))
}

func create(admin, name, owner string) error {
	if owner != "" {
		return do(admin, "create database "+name+" owner "+owner)
	}
	ctx, cancel := context.WithTimeout(context.Background(), startWithin)
	defer cancel()
	conn, err := pgx.Connect(ctx, admin)
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	var above bool
	if err := conn.QueryRow(ctx, "select rolsuper or rolbypassrls from pg_roles where rolname = current_user").Scan(&above); err != nil {
		return err
	}
	if above {
		return errors.New("LEGROUND_TEST_DATABASE_URL connects as a role above row security, which would then go untested: " +
			"give a role made with `create role ... login createdb`")
	}
	_, err = conn.Exec(ctx, "create database "+name)
	return err
}

func do(address, statement string) error {
	ctx, cancel := context.WithTimeout(context.Background(), startWithin)
	defer cancel()
	conn, err := pgx.Connect(ctx, address)
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	_, err = conn.Exec(ctx, statement)
	return err
}

// find looks for one of the server's programs, the newest installed version first.
func find(program string) (string, error) {
	var best string
	var newest float64
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/" + program)
	if err != nil {
		return "", err
	}
	for _, path := range found {
		version, err := strconv.ParseFloat(strings.Split(path, "/")[4], 64)
		if err == nil && version > newest {
			best, newest = path, version
		}
	}
	if best != "" {
		return best, nil
	}
	if path, err := exec.LookPath(program); err == nil {
		return path, nil
	}
	return "", fmt.Errorf("%s: %w", program, errMissing)
}

// check ends the test: skipped by name when the machine has no server and that is allowed, else failed.
func check(tb testing.TB, err error) {
	tb.Helper()
	switch {
	case err == nil:
	case errors.Is(err, errMissing) && os.Getenv("LEGROUND_NO_SKIP") != "1":
		tb.Skipf("pgtest: %v", err)
	default:
		tb.Fatalf("pgtest: %v", err)
	}
}
