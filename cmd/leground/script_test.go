package main

import (
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"leground/tracker/store/storetest/pgtest"
)

// TestMain lets the test's own binary be the program, for the stories and the tests that kill it.
func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"leground": main})
}

// within bounds how long a story waits for the program, on a busy machine too.
const within = time.Minute

// TestStories tells each file under testdata/script to the whole program as a person at a terminal and in a
// browser would, in the words of testscript and these:
//
//	freeport NAME             puts the number of a free port into a variable
//	postgres NAME             puts the address of an empty PostgreSQL database into a variable
//	await FILE PATTERN NAME   waits until a file has the pattern and puts its first group into a variable
//	fetch METHOD PATH STATUS [FIELD=VALUE ...]   asks the site at $SITE and writes the answer's body to page
//	cut FILE BYTES            shortens a file
func TestStories(t *testing.T) {
	type words = map[string]func(ts *testscript.TestScript, neg bool, args []string)
	testscript.Run(t, testscript.Params{
		Dir:                 filepath.Join("..", "..", "testdata", "script"),
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup: func(env *testscript.Env) error {
			jar, err := cookiejar.New(nil)
			env.Values["jar"] = jar
			return err
		},
		Cmds: words{
			"freeport": func(ts *testscript.TestScript, _ bool, args []string) {
				number, err := freePort()
				ts.Check(err)
				ts.Setenv(args[0], number)
			},
			"postgres": func(ts *testscript.TestScript, _ bool, args []string) { ts.Setenv(args[0], pgtest.URL(t)) },
			"await":    await,
			"fetch":    fetch,
			"cut": func(ts *testscript.TestScript, _ bool, args []string) {
				var size int64
				_, err := fmt.Sscan(args[1], &size)
				ts.Check(errors.Join(err, os.Truncate(ts.MkAbs(args[0]), size)))
			},
		},
	})
}

func freePort() (string, error) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", err
	}
	_, number, err := net.SplitHostPort(listener.Addr().String())
	return number, errors.Join(err, listener.Close())
}

func await(ts *testscript.TestScript, _ bool, args []string) {
	pattern := regexp.MustCompile(args[1])
	for end := time.Now().Add(within); ; time.Sleep(20 * time.Millisecond) {
		text, err := os.ReadFile(ts.MkAbs(args[0]))
		if m := pattern.FindSubmatch(text); err == nil && m != nil {
			if len(args) > 2 {
				ts.Setenv(args[2], string(m[1]))
			}
			return
		}
		if time.Now().After(end) {
			ts.Fatalf("waited in vain: %v\n%s", err, text)
		}
	}
}

func fetch(ts *testscript.TestScript, _ bool, args []string) {
	values := url.Values{}
	for _, field := range args[3:] {
		name, value, _ := strings.Cut(field, "=")
		values.Add(name, value)
	}
	stay := func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	client := &http.Client{Jar: ts.Value("jar").(http.CookieJar), Timeout: within, CheckRedirect: stay}
	defer client.CloseIdleConnections()
	for end := time.Now().Add(within); ; time.Sleep(20 * time.Millisecond) {
		req, err := http.NewRequest(args[0], ts.Getenv("SITE")+args[1], strings.NewReader(values.Encode()))
		ts.Check(err)
		req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		res, err := client.Do(req)
		if err != nil && time.Now().Before(end) {
			continue // it is still starting
		}
		ts.Check(err)
		body, err := io.ReadAll(res.Body)
		ts.Check(errors.Join(err, res.Body.Close(), os.WriteFile(ts.MkAbs("page"), body, 0o644)))
		if fmt.Sprint(res.StatusCode) != args[2] {
			ts.Fatalf("the answer is %d to %q:\n%s", res.StatusCode, res.Header.Get("Location"), body)
		}
		return
	}
}
