package rounds

import (
	"time"

	"leground/tracker"
)

// Reading says how often the wall clock of a zone shows a local date and time.
type Reading int

// The readings of a local time.
const (
	Once  Reading = iota + 1 // an ordinary time
	Never                    // the clock is put forward over it
	Twice                    // the clock is put back over it
)

// farthest is more than any zone has ever been away from UTC. No zone has ever changed its clock twice
// within two of it; a test looks at all of them.
const farthest = 16 * time.Hour

// Due gives the instant, in UTC, at which the wall clock of the zone shows a date and time of day.
// [Resolve] says what happens when it never does, or does twice.
func Due(date tracker.Date, minute tracker.MinuteOfDay, zone *time.Location) time.Time {
	due, _ := Resolve(date, minute, zone)
	return due
}

// Resolve is [Due] with the kind of reading. A time that is skipped is read with the offset before the
// gap, so that 02:30 becomes 03:30 on the new clock; a time that comes twice means the first (RFC 5545,
// section 3.3.5). time.Date promises neither, and Time.ZoneBounds can give an end that is past on the
// last day of a leap year (golang/go#81583), so only offsets are asked for.
func Resolve(date tracker.Date, minute tracker.MinuteOfDay, zone *time.Location) (time.Time, Reading) {
	wall := date.Time().Add(time.Duration(minute) * time.Minute)
	before, after := offset(wall.Add(-farthest), zone), offset(wall.Add(farthest), zone)
	due := wall.Add(-before)
	if before == after {
		return due, Once
	}
	late := wall.Add(-after)
	shown, shownLate := offset(due, zone) == before, offset(late, zone) == after
	switch {
	case shown && shownLate:
		return due, Twice
	case shownLate:
		return late, Once
	case shown:
		return due, Once
	}
	return due, Never
}

// offset gives how far the zone is ahead of UTC at t.
func offset(t time.Time, zone *time.Location) time.Duration {
	_, seconds := t.In(zone).Zone()
	return time.Duration(seconds) * time.Second
}
