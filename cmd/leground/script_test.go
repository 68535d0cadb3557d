package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"leground/tracker/store/storetest/pgtest"
)

// TestMain lets the test's own binary be the program, for the stories.
func TestMain(m *testing.M) {
	if filepath.Base(os.Args[0]) == "leground" {
		main()
		return
	}
	os.Exit(m.Run())
}

// story is one file under testdata/script, told to the whole program as a person at a terminal and in a
// browser would. The words are a small part of those of testscript (github.com/rogpeppe/go-internal): exec with
// a name between & for the background, kill, wait, stdout, stderr, grep, exists, cp, env, and ! for what must
// fail; and besides them
//
//	freeport NAME             puts the number of a free port into a variable
//	postgres NAME             puts the address of an empty PostgreSQL database into a variable
//	await FILE PATTERN NAME   waits until a file has the pattern and puts its first group into a variable
//	fetch METHOD PATH STATUS [FIELD=VALUE ...]   asks the site at $SITE and writes the answer's body to page
//	cut FILE BYTES            shortens a file
type story struct {
	*testing.T
	dir            string
	env            map[string]string
	stdout, stderr string // of the last exec
	running        map[string]*exec.Cmd
	jar            http.CookieJar
}

func TestStories(t *testing.T) {
	files, err := filepath.Glob(filepath.Join("..", "..", "testdata", "script", "*.txt"))
	if err != nil || len(files) < 5 {
		t.Fatalf("only %d stories, %v", len(files), err)
	}
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txt"), func(t *testing.T) {
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			bin := t.TempDir()
			if err := os.Symlink(self, filepath.Join(bin, "leground")); err != nil {
				t.Fatal(err)
			}
			s := &story{T: t, dir: t.TempDir(), env: map[string]string{"PATH": bin + ":" + os.Getenv("PATH"), "HOME": bin}, running: map[string]*exec.Cmd{}}
			if s.jar, err = cookiejar.New(nil); err != nil {
				t.Fatal(err)
			}
			t.Cleanup(s.end)
			s.tell(string(text))
		})
	}
}

// tell runs a story: commands, and after them files that begin with "-- name --".
func (s *story) tell(text string) {
	s.Helper()
	parts := regexp.MustCompile(`(?m)^-- (\S+) --\n`).Split(text, -1)
	for i, m := range regexp.MustCompile(`(?m)^-- (\S+) --\n`).FindAllStringSubmatch(text, -1) {
		s.check(os.WriteFile(filepath.Join(s.dir, m[1]), []byte(parts[i+1]), 0o644))
	}
	for n, line := range strings.Split(parts[0], "\n") {
		words := s.words(line)
		if len(words) == 0 {
			continue
		}
		fails := words[0] == "!"
		if fails {
			words = words[1:]
		}
		if err := s.do(fails, words[0], words[1:]); err != nil {
			s.Fatalf("line %d: %s\n%v\nstdout: %s\nstderr: %s", n+1, line, err, s.stdout, s.stderr)
		}
	}
}

// words splits a line as a shell would, with single quotes and $VARIABLES outside them.
func (s *story) words(line string) []string {
	var out []string
	var word strings.Builder
	open, quoted := false, false
	flush := func() {
		if open {
			out = append(out, word.String())
		}
		word.Reset()
		open = false
	}
	for i, part := range strings.Split(line, "'") {
		if quoted = i%2 == 1; quoted {
			word.WriteString(part)
			open = true
			continue
		}
		part, comment, _ := strings.Cut(part, "#")
		for _, r := range os.Expand(part, func(name string) string { return s.env[name] }) {
			if r == ' ' || r == '\t' {
				flush()
				continue
			}
			word.WriteRune(r)
			open = true
		}
		if comment != "" {
			break
		}
	}
	flush()
	return out
}

func (s *story) do(fails bool, command string, args []string) error {
	switch command {
	case "exec":
		return s.exec(fails, args)
	case "stdout":
		return has(fails, s.stdout, args[0])
	case "stderr":
		return has(fails, s.stderr, args[0])
	case "grep":
		text, err := os.ReadFile(s.path(args[1]))
		if err != nil {
			return err
		}
		return has(fails, string(text), args[0])
	case "exists":
		if _, err := os.Stat(s.path(args[0])); (err == nil) == fails {
			return fmt.Errorf("%s: there is one: %v", args[0], err == nil)
		}
		return nil
	case "cp":
		data, err := os.ReadFile(s.path(args[0]))
		if err != nil {
			return err
		}
		return os.WriteFile(s.path(args[1]), data, 0o600)
	case "env":
		name, value, _ := strings.Cut(args[0], "=")
		s.env[name] = value
		return nil
	case "kill":
		signal := map[string]os.Signal{"-INT": os.Interrupt, "-KILL": os.Kill, "-TERM": syscall.SIGTERM}[args[0]]
		return s.running[args[1]].Process.Signal(signal)
	case "wait":
		defer delete(s.running, args[0])
		return s.running[args[0]].Wait()
	case "freeport":
		listener, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			return err
		}
		_, s.env[args[0]], err = net.SplitHostPort(listener.Addr().String())
		return errors.Join(err, listener.Close())
	case "postgres":
		s.env[args[0]] = pgtest.URL(s.T)
		return nil
	case "await":
		return s.await(args)
	case "fetch":
		return s.fetch(args)
	case "cut":
		var n int64
		_, err := fmt.Sscan(args[1], &n)
		return errors.Join(err, os.Truncate(s.path(args[0]), n))
	}
	return errors.New("a story has no such word")
}

func (s *story) path(name string) string { return filepath.Join(s.dir, name) }

func (s *story) check(err error) {
	s.Helper()
	if err != nil {
		s.Fatal(err)
	}
}

func has(fails bool, text, pattern string) error {
	re, err := regexp.Compile("(?m)" + pattern)
	if err == nil && re.MatchString(text) == fails {
		err = fmt.Errorf("pattern found: %v, in:\n%s", fails, text)
	}
	return err
}

func (s *story) exec(fails bool, args []string) error {
	name := strings.Trim(args[len(args)-1], "&")
	background := name != args[len(args)-1]
	if background {
		args = args[:len(args)-1]
	}
	path := args[0]
	for _, dir := range filepath.SplitList(s.env["PATH"]) {
		if _, err := os.Stat(filepath.Join(dir, path)); err == nil {
			path = filepath.Join(dir, path)
			break
		}
	}
	cmd := exec.Command(path, args[1:]...)
	cmd.Dir = s.dir
	for name, value := range s.env {
		cmd.Env = append(cmd.Env, name+"="+value)
	}
	if background {
		s.running[name] = cmd
		return cmd.Start()
	}
	var out, problems bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &problems
	err := cmd.Run()
	s.stdout, s.stderr = out.String(), problems.String()
	if (err != nil) != fails {
		return fmt.Errorf("it ended with %v", err)
	}
	return nil
}

// end stops what a story left running.
func (s *story) end() {
	for _, cmd := range s.running {
		cmd.Process.Kill()
		cmd.Wait()
	}
}

// within bounds how long a story waits for the program, on a busy machine too.
const within = time.Minute

func (s *story) await(args []string) error {
	pattern := regexp.MustCompile(args[1])
	for end := time.Now().Add(within); ; time.Sleep(20 * time.Millisecond) {
		text, err := os.ReadFile(s.path(args[0]))
		if m := pattern.FindSubmatch(text); err == nil && m != nil {
			if len(args) > 2 {
				s.env[args[2]] = string(m[1])
			}
			return nil
		}
		if time.Now().After(end) {
			return fmt.Errorf("waited in vain: %v\n%s", err, text)
		}
	}
}

func (s *story) fetch(args []string) error {
	values := url.Values{}
	for _, field := range args[3:] {
		name, value, _ := strings.Cut(field, "=")
		values.Add(name, value)
	}
	stay := func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	client := &http.Client{Jar: s.jar, Timeout: within, CheckRedirect: stay}
	defer client.CloseIdleConnections()
	for end := time.Now().Add(within); ; time.Sleep(20 * time.Millisecond) {
		req, err := http.NewRequest(args[0], s.env["SITE"]+args[1], strings.NewReader(values.Encode()))
		if err != nil {
			return err
		}
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		res, err := client.Do(req)
		if err != nil && time.Now().Before(end) {
			continue // it is still starting
		} else if err != nil {
			return err
		}
		body, err := io.ReadAll(res.Body)
		if err := errors.Join(err, res.Body.Close(), os.WriteFile(s.path("page"), body, 0o644)); err != nil {
			return err
		}
		if fmt.Sprint(res.StatusCode) != args[2] {
			return fmt.Errorf("the answer is %d to %q:\n%s", res.StatusCode, res.Header.Get("Location"), body)
		}
		return nil
	}
}
