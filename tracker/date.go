package tracker

import (
	"fmt"
	"time"
)

// Date is a calendar day, counted from 1 for 0001-01-01. The zero Date is no day at all. Days can be
// compared and subtracted as numbers; a day has no length in hours, since clocks change.
type Date int32

// dateOfEpoch is the Date of 1970-01-01.
const dateOfEpoch = 719163

// DateOf gives the calendar day that t shows in its own location.
func DateOf(t time.Time) Date {
	year, month, day := t.Date()
	seconds := time.Date(year, month, day, 0, 0, 0, 0, time.UTC).Unix()
	return Date(seconds/86400 + dateOfEpoch)
}

// NewDate gives the day of a year, month and day of the month; days past the end of a month run on
// into the next one, as in time.Date.
func NewDate(year int, month time.Month, day int) Date {
	return DateOf(time.Date(year, month, day, 0, 0, 0, 0, time.UTC))
}

// ParseDate reads a day written as 2026-05-14.
func ParseDate(text string) (Date, error) {
	t, err := time.Parse(time.DateOnly, text)
	if err != nil || t.Year() < 1 {
		return 0, fmt.Errorf("%q is not a date like 2026-05-14", text)
	}
	return DateOf(t), nil
}

// Time gives midnight UTC of the day. It is meant for formatting and calendar steps, not as an instant.
func (d Date) Time() time.Time {
	return time.Unix((int64(d)-dateOfEpoch)*86400, 0).UTC()
}

// String writes the day as 2026-05-14; the zero Date is the empty string.
func (d Date) String() string {
	if d == 0 {
		return ""
	}
	return d.Time().Format(time.DateOnly)
}

// Weekday gives the day of the week.
func (d Date) Weekday() time.Weekday { return d.Time().Weekday() }

// MinuteOfDay is a local time of day in minutes after midnight, 0 to 1439.
type MinuteOfDay int16

// ParseMinuteOfDay reads a time written as 07:00 or 7:00 on a 24-hour clock.
func ParseMinuteOfDay(text string) (MinuteOfDay, error) {
	t, err := time.Parse("15:04", text)
	if err != nil {
		return 0, fmt.Errorf("%q is not a time of day like 07:00", text)
	}
	return MinuteOfDay(t.Hour()*60 + t.Minute()), nil
}

// String writes the time as 07:00.
func (m MinuteOfDay) String() string { return fmt.Sprintf("%02d:%02d", m/60, m%60) }
