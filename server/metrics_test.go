package server_test

import (
	"io"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"leground/server"
	"leground/server/webtest"
)

// The text format of Prometheus, version 0.0.4 (its documentation, from memory): comments HELP and TYPE once for each
// name, then samples: name, labels in braces, a number.
var (
	sample  = regexp.MustCompile(`^([a-z_]+)(\{(?:[a-z]+="(?:[^"\\\n]|\\.)*",?)+\})? ([-+.0-9eInf]+)$`)
	comment = regexp.MustCompile(`^# (HELP|TYPE) ([a-z_]+) .+$`)
)

// Metrics stand on a listener of their own, in a form that can be read, and never name a yard or a person.
func TestMetrics(t *testing.T) {
	box, settings := sink(t)
	start := time.Date(2026, 5, 14, 4, 55, 0, 0, time.UTC)
	site := webtest.Start(t, webtest.Options{Mail: settings, Meters: true, LogTime: time.Now, Now: start, Base: "http://yard.example"})
	yard := site.Marl()
	site.Run()
	if err := server.NoteBackup(t.Context(), site.Where, start); err != nil {
		t.Fatal(err)
	}
	site.Clock.Add(65 * time.Minute)
	site.Run()
	if len(box.Mails()) != 1 {
		t.Fatalf("%d mails", len(box.Mails()))
	}
	site.Nobody().Get("/metrics").Is(404)
	res, err := http.Get(site.Meters)
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	raw, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatal(err)
	}
	body := string(raw)
	values, typed := map[string]float64{}, map[string]bool{}
	for line := range strings.Lines(body) {
		line = strings.TrimRight(line, "\r\n")
		if m := comment.FindStringSubmatch(line); m != nil {
			if m[1] == "TYPE" && typed[m[2]] {
				t.Errorf("%s is typed twice", m[2])
			}
			typed[m[2]] = typed[m[2]] || m[1] == "TYPE"
			continue
		}
		m := sample.FindStringSubmatch(line)
		if m == nil {
			t.Errorf("not a sample: %q", line)
			continue
		}
		if values[m[1]+m[2]], err = strconv.ParseFloat(m[3], 64); err != nil {
			t.Errorf("%q: %v", line, err)
		}
	}
	for name, want := range map[string]float64{
		`leground_reminder_tries_total{reason="accepted",state="sent"}`: 1,
		`leground_database_up`: 1, `leground_tick_lag_seconds`: 0, `leground_backup_age_seconds`: 65 * 60,
		`leground_requests_total{method="GET",route="/people",status="200"}`: 1,
	} {
		if got, there := values[name]; !there || got != want {
			t.Errorf("%s is %v (%v), want %v", name, got, there, want)
		}
	}
	for _, secret := range []string{"Marlpit", string(yard.Bramble), "ada@", "/link/" + "01", "Ada"} {
		if strings.Contains(body, secret) {
			t.Errorf("the metrics say %q", secret)
		}
	}
	if values[`leground_store_seconds_count{kind="write"}`] < 3 || values[`leground_request_seconds_count{route="/round"}`] < 1 {
		t.Errorf("too little is timed: %v", values)
	}
	last := 0.0
	for _, le := range []string{"0.001", "0.01", "0.1", "1", "10", "+Inf"} {
		n, there := values[`leground_store_seconds_bucket{kind="write",le="`+le+`"}`]
		if !there || n < last {
			t.Errorf("the bucket up to %s holds %v, the one before %v", le, n, last)
		}
		last = n
	}
	if last != values[`leground_store_seconds_count{kind="write"}`] {
		t.Error("the last bucket does not hold everything")
	}
}
