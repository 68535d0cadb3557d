package rounds

import (
	"os"
	"strings"
	"testing"
	"time"
	_ "time/tzdata" // so that zones load on a machine without them

	"leground/tracker"
)

// long says whether the slow form of a test is asked for.
func long() bool { return os.Getenv("LEGROUND_LONG") == "1" }

// missing skips a test for want of an outside tool, or fails it where nothing may be skipped.
func missing(t *testing.T, what string) {
	t.Helper()
	if os.Getenv("LEGROUND_NO_SKIP") == "1" {
		t.Fatal("missing: " + what)
	}
	t.Skip("missing: " + what)
}

// vectorRows reads a file of checks: header lines "name: value", an empty line, then rows of fields
// parted by bars. A header it does not know fails the test, so that no file is half read.
func vectorRows(t *testing.T, name string, fields int) [][]string {
	t.Helper()
	path := "../../testdata/vectors/rounds/" + name
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	header, body, found := strings.Cut(string(data), "\n\n")
	if !found || !strings.HasPrefix(header, "source: ") {
		t.Fatalf("%s must begin with its source and have an empty line after the header", path)
	}
	for line := range strings.SplitSeq(header, "\n") {
		if word, _, _ := strings.Cut(line, ": "); word != "source" && word != "columns" && word != "note" {
			t.Fatalf("%s: unknown header %q", path, line)
		}
	}
	var rows [][]string
	for line := range strings.SplitSeq(strings.TrimSpace(body), "\n") {
		row := strings.Split(line, "|")
		if len(row) != fields {
			t.Fatalf("%s: %q has %d fields, want %d", path, line, len(row), fields)
		}
		for i := range row {
			row[i] = strings.TrimSpace(row[i])
		}
		rows = append(rows, row)
	}
	return rows
}

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func date(t testing.TB, text string) tracker.Date {
	t.Helper()
	d, err := tracker.ParseDate(text)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

func minute(t testing.TB, text string) tracker.MinuteOfDay {
	t.Helper()
	m, err := tracker.ParseMinuteOfDay(text)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func instant(t testing.TB, text string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339, text)
	if err != nil {
		t.Fatal(err)
	}
	return at
}
