package calendar

import (
	"fmt"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	ical "github.com/emersion/go-ical"

	"leground/notify"
	"leground/tracker"
)

var now = time.Date(2026, 5, 14, 6, 0, 0, 0, time.UTC)

func round(id string, start time.Time) Event {
	return Event{UID: id, Start: start, Summary: "Morning round", Details: "Bramble: RF, RH\nOld Tom", Link: "https://marlpit.example/round",
		Sequence: 3, Modified: now.Add(-time.Hour)}
}

// read parses a feed with a parser that is not ours nor the writer's.
func read(t *testing.T, text string) (*ical.Calendar, []ical.Event) {
	t.Helper()
	cal, err := ical.NewDecoder(strings.NewReader(text)).Decode()
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return cal, cal.Events()
}

func write(t *testing.T, f Feed) string {
	t.Helper()
	text, err := f.Text(now)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// TestFeed reads a feed back: times in UTC, identity, sequence, state.
func TestFeed(t *testing.T) {
	berlin, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	start := time.Date(2026, 5, 15, 7, 0, 0, 0, berlin)
	gone := round("gone", start.Add(time.Hour))
	gone.Cancelled = now.Add(-13 * 24 * time.Hour)
	trim := Event{UID: "trim", Day: tracker.NewDate(2026, 5, 31), Summary: "Trim due: Bramble", Modified: now}
	text := write(t, Feed{Name: "Marlpit Yard", Events: []Event{gone, trim, round("r1", start)}})
	cal, events := read(t, text)
	if name, _ := cal.Props.Text("X-WR-CALNAME"); name != "Marlpit Yard rounds (may be hours old)" {
		t.Errorf("name %q", name)
	}
	if len(events) != 3 {
		t.Fatalf("%d events", len(events))
	}
	first := events[0]
	for field, want := range map[string]string{"UID": "r1", "SUMMARY": "Morning round", "DESCRIPTION": "Bramble: RF, RH\nOld Tom", "STATUS": "CONFIRMED"} {
		if got, err := first.Props.Text(field); err != nil || got != want {
			t.Errorf("%s: %q (%v), want %q", field, got, err, want)
		}
	}
	for field, want := range map[string]string{"DTSTART": "20260515T050000Z", "DTEND": "20260515T053000Z", "LAST-MODIFIED": "20260514T050000Z",
		"DTSTAMP": "20260514T050000Z", "SEQUENCE": "3", "URL": "https://marlpit.example/round"} {
		if got := first.Props.Get(field); got == nil || got.Value != want {
			t.Errorf("%s: %v, want %s", field, got, want)
		}
	}
	if status, _ := events[1].Props.Text("STATUS"); status != "CANCELLED" {
		t.Errorf("a cancelled round is %q", status)
	}
	if got := events[2].Props.Get("DTSTART"); got.Value != "20260531" || got.Params.Get("VALUE") != "DATE" {
		t.Errorf("a day: %+v", got)
	}
	if end := events[2].Props.Get("DTEND"); end.Value != "20260601" {
		t.Errorf("the end of a day: %+v", end)
	}
	if strings.Contains(text, "VALARM") || strings.Contains(text, "TZID") {
		t.Errorf("an alarm or a zone nobody asked for:\n%s", text)
	}
	if again := write(t, Feed{Name: "Marlpit Yard", Events: []Event{round("r1", start), trim, gone}}); again != text {
		t.Error("the same events in another order gave another text")
	}
}

// TestWindow: 14 days back, 28 ahead, and cancelled rounds for 14 days.
func TestWindow(t *testing.T) {
	day := 24 * time.Hour
	var events []Event
	for i := -40; i <= 40; i++ {
		events = append(events, round(fmt.Sprint("r", i), now.Add(time.Duration(i)*day)))
	}
	for _, ago := range []int{0, 13, 14, 15} {
		e := round(fmt.Sprint("cancelled", ago), now.Add(day))
		e.Cancelled = now.Add(-time.Duration(ago) * day)
		events = append(events, e)
	}
	_, got := read(t, write(t, Feed{Events: events}))
	ids := map[string]bool{}
	for _, e := range got {
		id, _ := e.Props.Text("UID")
		ids[id] = true
	}
	for id, want := range map[string]bool{"r-14": true, "r-15": false, "r28": true, "r29": false, "cancelled0": true, "cancelled13": true, "cancelled14": false} {
		if ids[id] != want {
			t.Errorf("%s shown: %v", id, ids[id])
		}
	}
	if len(got) != 43+2 {
		t.Errorf("%d events", len(got))
	}
}

// TestAlarm: only for those who ask, and never for what was cancelled.
func TestAlarm(t *testing.T) {
	gone := round("gone", now)
	gone.Cancelled = now
	text := write(t, Feed{Events: []Event{round("r1", now.Add(time.Hour)), gone}, Alarm: 15 * time.Minute})
	_, events := read(t, text)
	alarms := 0
	for _, e := range events {
		for _, child := range e.Children {
			alarms++
			if trigger, err := child.Props.Get("TRIGGER").Duration(); err != nil || trigger != -15*time.Minute {
				t.Errorf("trigger %v, %v", trigger, err)
			}
		}
	}
	if alarms != 1 {
		t.Errorf("%d alarms", alarms)
	}
}

// TestIncomplete: an event without an id or a time is an error, not a broken feed.
func TestIncomplete(t *testing.T) {
	for _, e := range []Event{{}, {UID: "a", Modified: now}, {UID: "a", Start: now}, {Start: now, Modified: now}} {
		e.Cancelled = now // so that the window does not hide it
		if _, err := (Feed{Events: []Event{e}}).Text(now); err == nil {
			t.Errorf("%+v was written", e)
		}
	}
}

// TestETag: 304 only for the same text (RFC 9110 13.1.2).
func TestETag(t *testing.T) {
	tag := ETag("a")
	if tag == ETag("b") || tag != ETag("a") || !strings.HasPrefix(tag, `"`) {
		t.Errorf("tags %s, %s", tag, ETag("b"))
	}
	for header, want := range map[string]bool{"": false, tag: true, "W/" + tag: true, `"x", ` + tag: true, "*": true, `"x"`: false, strings.Trim(tag, `"`): false} {
		if Unchanged(header, tag) != want {
			t.Errorf("If-None-Match %q: %v", header, !want)
		}
	}
}

// FuzzFeed: whatever people type, the feed parses, keeps its events apart and its lines short (75 octets,
// RFC 5545 3.1), and says what was meant.
func FuzzFeed(f *testing.F) {
	for _, s := range []string{"Bramble", "", "\r\nEND:VEVENT\r\nBEGIN:VALARM\r\n", "a;b,c:d\\n\\", "\x00\x07\x7f", "\xff\xfe", "\u202eelbmarB", "שחור", "🐴👩🏽‍🌾🇬🇧",
		strings.Repeat("é", 2000), strings.Repeat("🐴", 2000), strings.Repeat("x", 2000), strings.Repeat("a ", 1000), "<a href=\"x\">", "\n\n\na\n\n\n", "\u2028\u0085", "=?utf-8?q?x?=",
		strings.Repeat("<", 200), strings.Repeat("\\", 150)} {
		f.Add(s, s)
	}
	f.Fuzz(func(t *testing.T, name, details string) {
		e := round("r1", now)
		e.Summary, e.Details, e.Link = name, details, details
		odd := round("r2"+name, now.Add(time.Hour))
		text := write(t, Feed{Name: name, Events: []Event{e, odd}, Alarm: time.Minute})
		if strings.Count(text, "\n") != strings.Count(text, "\r\n") || strings.Count(text, "\r") != strings.Count(text, "\r\n") || !utf8.ValidString(text) {
			t.Errorf("a bare line end, or text that is not UTF-8: %q", text)
		}
		for line := range strings.SplitSeq(text, "\r\n") {
			if len(line) > 75 || !utf8.ValidString(line) {
				t.Errorf("a line of %d octets: %q", len(line), line)
			}
		}
		_, events := read(t, text)
		if len(events) != 2 {
			t.Fatalf("%d events\n%s", len(events), text)
		}
		summary, err := events[0].Props.Text("SUMMARY")
		if want := notify.OneLine(name, 120); err != nil || summary != want {
			t.Errorf("summary %q (%v), want %q", summary, err, want)
		}
		if want := cleanLines(details); want != "" {
			if got, err := events[0].Props.Text("DESCRIPTION"); err != nil || got != want {
				t.Errorf("details %q (%v), want %q", got, err, want)
			}
		}
	})
}
