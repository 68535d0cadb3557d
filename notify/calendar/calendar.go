// Package calendar writes a yard's rounds as an iCalendar feed (RFC 5545) for the calendar on a phone.
//
// A feed is for seeing and never for waking: calendars fetch it when they like, some once a day. Its name
// says so, and it rings only for people who ask for that. Every round is an event of its own, in UTC, so
// that the clock changes are worked out here and nowhere else; what was cancelled stays for 14 days, marked
// so, since many calendars never remove what merely disappears.
package calendar

import (
	"cmp"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"slices"
	"strings"
	"time"

	ics "github.com/arran4/golang-ical"

	"leground/notify"
	"leground/tracker"
)

// How far a feed reaches.
const (
	back  = 14 * 24 * time.Hour
	ahead = 28 * 24 * time.Hour
)

// Event is a round, a trim, a visit or the end of something. It has a Start, or a Day when it has no hour.
type Event struct {
	UID       string // the round's id; never changes
	Start     time.Time
	End       time.Time // zero: half an hour after Start
	Day       tracker.Date
	Summary   string
	Details   string // lines ended by \n
	Link      string // page to open
	Sequence  int    // rises with every change
	Modified  time.Time
	Cancelled time.Time // zero: it stands
}

// Feed is what one person sees.
type Feed struct {
	Name   string // of the yard
	Events []Event
	Alarm  time.Duration // how long before a round the calendar rings; 0: never
}

// Text writes the feed as of now: 14 days back, 28 days ahead, CRLF line ends. The same events give the
// same text.
func (f Feed) Text(now time.Time) (string, error) {
	cal := ics.NewCalendarFor("leground")
	cal.SetProductId("-//leground//rounds//EN")
	cal.SetCalscale("GREGORIAN")
	cal.SetName(notify.OneLine(f.Name, 60) + " rounds (may be hours old)")
	cal.SetDescription("What is due, as of when your calendar last asked. The Board in Leground is newer.")
	cal.SetRefreshInterval("PT1H", ics.WithValue("DURATION"))
	shown := slices.DeleteFunc(slices.Clone(f.Events), func(e Event) bool { return !e.shownAt(now) })
	slices.SortFunc(shown, func(a, b Event) int { return cmp.Or(a.start().Compare(b.start()), cmp.Compare(a.UID, b.UID)) })
	for i, e := range shown {
		if e.UID == "" || e.start().IsZero() || e.Modified.IsZero() {
			return "", fmt.Errorf("event %d of the feed lacks an id, a time or its time of change", i)
		}
		f.write(cal.AddEvent(notify.OneLine(e.UID, 200)), e)
	}
	var b strings.Builder
	err := cal.SerializeTo(&b, ics.WithNewLineWindows)
	return b.String(), err
}

// write fills one event.
func (f Feed) write(v *ics.VEvent, e Event) {
	v.SetDtStampTime(e.Modified) // a feed without a method: the time of the last change (RFC 5545 3.8.7.2)
	v.SetModifiedAt(e.Modified)
	v.SetSequence(e.Sequence)
	if e.Start.IsZero() {
		v.SetAllDayStartAt(e.Day.Time())
		v.SetAllDayEndAt((e.Day + 1).Time())
	} else {
		v.SetStartAt(e.Start)
		v.SetEndAt(e.end())
	}
	v.SetSummary(notify.OneLine(e.Summary, 120))
	if details := cleanLines(e.Details); details != "" {
		v.SetDescription(details)
	}
	if link := notify.WebLink(e.Link); link != "" {
		v.SetURL(link)
	}
	v.SetTimeTransparency(ics.TransparencyTransparent) // a round makes nobody busy for others
	if !e.Cancelled.IsZero() {
		v.SetStatus(ics.ObjectStatusCancelled)
		return
	}
	v.SetStatus(ics.ObjectStatusConfirmed)
	if f.Alarm > 0 && !e.Start.IsZero() {
		alarm := v.AddAlarm()
		alarm.SetAction(ics.ActionDisplay)
		alarm.SetTrigger(fmt.Sprintf("-PT%dM", int(f.Alarm/time.Minute)))
		alarm.SetDescription(notify.OneLine(e.Summary, 120))
	}
}

// start is the instant that orders the event; midnight UTC for one without an hour.
func (e Event) start() time.Time {
	if e.Start.IsZero() && e.Day != 0 {
		return e.Day.Time()
	}
	return e.Start
}

func (e Event) end() time.Time {
	if e.End.After(e.Start) {
		return e.End
	}
	return e.Start.Add(30 * time.Minute)
}

// shownAt tells whether the feed holds the event: near enough, or cancelled not long ago.
func (e Event) shownAt(now time.Time) bool {
	if !e.Cancelled.IsZero() {
		return now.Sub(e.Cancelled) < back
	}
	return !e.start().Before(now.Add(-back)) && !e.start().After(now.Add(ahead))
}

// cleanLines makes each line harmless and drops empty ones at the ends. At most 40 stay.
func cleanLines(text string) string {
	lines := strings.Split(text, "\n")
	for i := range lines {
		lines[i] = notify.OneLine(lines[i], 300)
	}
	return strings.Trim(strings.Join(lines[:min(40, len(lines))], "\n"), "\n")
}

// ETag names the text of a feed, for the ETag header (RFC 9110 8.8.3).
func ETag(text string) string {
	sum := sha256.Sum256([]byte(text))
	return `"` + base64.RawURLEncoding.EncodeToString(sum[:12]) + `"`
}

// Unchanged tells whether an If-None-Match header names this tag, so that 304 is the answer. Weak tags
// match too (RFC 9110 13.1.2).
func Unchanged(ifNoneMatch, tag string) bool {
	for _, part := range strings.Split(ifNoneMatch, ",") {
		part = strings.TrimSpace(part)
		if part == "*" || strings.TrimPrefix(part, "W/") == tag {
			return true
		}
	}
	return false
}
