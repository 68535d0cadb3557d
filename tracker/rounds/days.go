package rounds

import (
	"fmt"
	"strings"
	"time"

	"leground/tracker"
)

// Weekdays is a set of days of the week.
type Weekdays uint8

// NewWeekdays makes a set of days.
func NewWeekdays(days ...time.Weekday) Weekdays {
	var set Weekdays
	for _, day := range days {
		set |= 1 << day
	}
	return set
}

// ParseWeekdays reads days written as mon,thu or Monday, Thursday.
func ParseWeekdays(text string) (Weekdays, error) {
	var set Weekdays
	for word := range strings.SplitSeq(text, ",") {
		day, ok := parseWeekday(strings.ToLower(strings.TrimSpace(word)))
		if !ok {
			return 0, fmt.Errorf("%q is not a day of the week: write mon, tue, wed, thu, fri, sat or sun, with commas between", strings.TrimSpace(word))
		}
		if set.Has(day) {
			return 0, fmt.Errorf("%s is given twice: write each day once", day)
		}
		set |= NewWeekdays(day)
	}
	return set, nil
}

func parseWeekday(word string) (time.Weekday, bool) {
	for day := time.Sunday; day <= time.Saturday; day++ {
		name := strings.ToLower(day.String())
		if word == name || word == name[:3] {
			return day, true
		}
	}
	return 0, false
}

// Has says whether the day is in the set.
func (w Weekdays) Has(day time.Weekday) bool { return w&(1<<day) != 0 }

// String writes the days from Monday on, as mon,thu.
func (w Weekdays) String() string { return strings.ToLower(w.words(",")) }

func (w Weekdays) words(between string) string {
	var words []string
	for i := range 7 {
		if day := time.Weekday((i + 1) % 7); w.Has(day) {
			words = append(words, day.String()[:3])
		}
	}
	return strings.Join(words, between)
}

// maxEvery is the longest step between days; a plan that asks for less than one round a year is a slip.
const maxEvery = 366

// Days says on which days something happens: every so many days counted from a first day, or on days of
// the week. Exactly one of the two is set; the zero Days is refused by Check.
type Days struct {
	Every int      // 1 is every day, 2 every other day, up to 366
	On    Weekdays // with Every 0
}

// Check refuses days that mean nothing, or two things.
func (d Days) Check() error {
	switch {
	case d.On>>7 != 0:
		return fmt.Errorf("the days of the week are %#x: a week has seven days", uint8(d.On))
	case d.Every != 0 && d.On != 0:
		return fmt.Errorf("both every %d days and %s are asked for: choose one", d.Every, d.On)
	case d.On != 0:
		return nil
	case d.Every < 1 || d.Every > maxEvery:
		return fmt.Errorf("every %d days is not possible: say 1 for every day, up to %d for once a year, or choose days of the week", d.Every, maxEvery)
	}
	return nil
}

// Fall says whether day is one of the days, counting from first. No day before first is.
func (d Days) Fall(first, day tracker.Date) bool {
	if day < first {
		return false
	}
	if d.On != 0 {
		return d.On.Has(day.Weekday())
	}
	return d.Every > 0 && int(day-first)%d.Every == 0
}

// String writes the days in words.
func (d Days) String() string {
	switch {
	case d.On != 0:
		return "on " + d.On.words(", ")
	case d.Every == 1:
		return "every day"
	case d.Every == 2:
		return "every other day"
	}
	return fmt.Sprintf("every %d days", d.Every)
}
