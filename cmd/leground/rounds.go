package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/urfave/cli/v3"

	"leground/tracker"
	"leground/tracker/rounds"
)

// roundsCommand is "leground rounds": what a schedule means, on which days and at which instants.
func roundsCommand() *cli.Command {
	text := func(name, usage string) cli.Flag { return &cli.StringFlag{Name: name, Usage: usage, OnlyOnce: true} }
	return &cli.Command{
		Name:      "rounds",
		Usage:     "show when rounds are due, over clock changes too",
		UsageText: "leground rounds -zone Europe/London -from 2026-03-27 -to 2026-03-31 -at 07:00,18:30 [-every 2 | -weekdays mon,thu] [-json]",
		Flags: []cli.Flag{
			text("zone", "the yard's time `ZONE`, such as Europe/London"),
			text("from", "first `DATE`, such as 2026-03-27"),
			text("to", "last `DATE`, included"),
			text("at", "local `TIMES` of day with commas between, such as 07:00,18:30"),
			&cli.IntFlag{Name: "every", OnlyOnce: true, Usage: "every `N` days, counted from the first date", Value: 1},
			text("weekdays", "on these `DAYS` of the week alone, such as mon,thu"),
			&cli.BoolFlag{Name: "json", Usage: "print a JSON array of {date,slot,due_at} instead of a table"},
		},
		OnUsageError: func(_ context.Context, _ *cli.Command, err error, _ bool) error {
			return cli.Exit("rounds: "+err.Error()+": see leground rounds -help", 2)
		},
		Action: func(_ context.Context, c *cli.Command) error {
			schedule, all, err := readSchedule(c)
			if err != nil {
				return cli.Exit("rounds: "+err.Error(), 2)
			}
			if c.Bool("json") {
				return printRoundsJSON(c.Root().Writer, all)
			}
			return printRounds(c.Root().Writer, schedule, all)
		},
	}
}

// readSchedule reads the flags and works the rounds out.
func readSchedule(c *cli.Command) (rounds.Schedule, []tracker.Round, error) {
	var s rounds.Schedule
	if c.Args().Present() {
		return s, nil, fmt.Errorf("%q is one word too many: times and days have commas between and no spaces", c.Args().First())
	}
	var err error
	if s.Zone, err = readZone(c.String("zone")); err != nil {
		return s, nil, err
	}
	if s.First, err = readDate("from", c.String("from")); err != nil {
		return s, nil, err
	}
	if s.Last, err = readDate("to", c.String("to")); err != nil {
		return s, nil, err
	}
	if s.Slots, err = readSlots(c.String("at")); err != nil {
		return s, nil, err
	}
	s.Days = rounds.Days{Every: c.Int("every")}
	if c.IsSet("weekdays") {
		if c.IsSet("every") {
			return s, nil, errors.New("-every and -weekdays are both given: choose one")
		}
		s.Days = rounds.Days{}
		if s.Days.On, err = rounds.ParseWeekdays(c.String("weekdays")); err != nil {
			return s, nil, fmt.Errorf("-weekdays: %w", err)
		}
	}
	all, err := s.Rounds(s.First, s.Last)
	return s, all, err
}

func readZone(name string) (*time.Location, error) {
	if name == "" {
		return nil, errors.New("-zone is missing: give the yard's time zone, such as Europe/London")
	}
	zone, err := time.LoadLocation(name)
	if err != nil || name == "Local" {
		return nil, fmt.Errorf("-zone: %q is not a time zone that is known here: give a name such as Europe/London", name)
	}
	return zone, nil
}

func readDate(flag, text string) (tracker.Date, error) {
	if text == "" {
		return 0, fmt.Errorf("-%s is missing: give a date such as 2026-03-27", flag)
	}
	day, err := tracker.ParseDate(text)
	if err != nil {
		return 0, fmt.Errorf("-%s: %w", flag, err)
	}
	return day, nil
}

// readSlots names each slot by its time as typed.
func readSlots(text string) ([]tracker.Slot, error) {
	if text == "" {
		return nil, errors.New("-at is missing: give local times of day such as 07:00,18:30")
	}
	var slots []tracker.Slot
	for word := range strings.SplitSeq(text, ",") {
		word = strings.TrimSpace(word)
		at, err := tracker.ParseMinuteOfDay(word)
		if err != nil {
			return nil, fmt.Errorf("-at: %w", err)
		}
		slots = append(slots, tracker.Slot{Name: word, At: at})
	}
	return slots, nil
}

// roundLine is one round in JSON.
type roundLine struct {
	Date  string `json:"date"`
	Slot  string `json:"slot"`
	DueAt string `json:"due_at"` // RFC 3339, UTC
}

func printRoundsJSON(w io.Writer, all []tracker.Round) error {
	lines := make([]roundLine, len(all))
	for i, r := range all {
		lines[i] = roundLine{r.Day.String(), r.Slot, r.DueAt.Format(time.RFC3339)}
	}
	encoder := json.NewEncoder(w)
	encoder.SetIndent("", "  ")
	return encoder.Encode(lines)
}

func printRounds(w io.Writer, s rounds.Schedule, all []tracker.Round) error {
	count := fmt.Sprintf("%d rounds", len(all))
	if len(all) == 1 {
		count = "1 round"
	}
	var page strings.Builder
	fmt.Fprintf(&page, "%s, %s, from %s to %s: %s.\n", s.Zone, s.Days, s.First, s.Last, count)
	table := tabwriter.NewWriter(&page, 0, 0, 3, ' ', 0)
	if len(all) > 0 {
		fmt.Fprint(table, "\nDay\tSlot\tDue\tDue, UTC\tClock\n")
	}
	for i, r := range all {
		due := r.DueAt.In(s.Zone)
		fmt.Fprintf(table, "%s %s\t%s\t%s\t%s\t%s\n", r.Day.Weekday().String()[:3], r.Day, r.Slot,
			due.Format("15:04 -07:00"), r.DueAt.Format("2006-01-02 15:04"), clockNote(s, all, i))
	}
	if err := table.Flush(); err != nil {
		return err
	}
	for line := range strings.Lines(page.String()) {
		if _, err := fmt.Fprintln(w, strings.TrimRight(line, " \n")); err != nil {
			return err
		}
	}
	return nil
}

// clockNote says in words what a clock change means for the i-th round: its time is skipped, comes twice,
// falls together with another's, or only the clock differs from the round before.
func clockNote(s rounds.Schedule, all []tracker.Round, i int) string {
	r := all[i]
	due := r.DueAt.In(s.Zone)
	var notes []string
	switch _, reading := rounds.Resolve(r.Day, slotTime(s, r.Slot), s.Zone); {
	case reading == rounds.Never && tracker.DateOf(due) != r.Day:
		notes = append(notes, fmt.Sprintf("The clock goes from the day before straight to %s: due at %s that day.", tracker.DateOf(due), due.Format("15:04")))
	case reading == rounds.Never:
		notes = append(notes, fmt.Sprintf("The clock is put forward over %s: due at %s.", r.Slot, due.Format("15:04")))
	case reading == rounds.Twice:
		notes = append(notes, fmt.Sprintf("The clock is put back and shows %s twice: due the first time only.", r.Slot))
	}
	near := 2 * len(s.Slots) // a clock change brings no rounds together that are further apart
	for j := max(0, i-near); j < min(len(all), i+near+1); j++ {
		if other := all[j]; j != i && other.DueAt.Equal(r.DueAt) {
			notes = append(notes, fmt.Sprintf("The same moment as %s %s: two rounds, one message.", other.Day, other.Slot))
		}
	}
	if len(notes) == 0 && i > 0 {
		notes = append(notes, clockMoved(all[i-1].DueAt.In(s.Zone), due))
	}
	return strings.Join(notes, " ")
}

// clockMoved says whether the clock was changed between two rounds.
func clockMoved(before, due time.Time) string {
	_, old := before.Zone()
	_, fresh := due.Zone()
	by := time.Duration(max(fresh-old, old-fresh)) * time.Second
	amount := fmt.Sprintf("%g h", by.Hours())
	switch {
	case fresh > old:
		return "The clock was put forward by " + amount + " since the round before."
	case fresh < old:
		return "The clock was put back by " + amount + " since the round before."
	}
	return ""
}

func slotTime(s rounds.Schedule, name string) tracker.MinuteOfDay {
	for _, slot := range s.Slots {
		if slot.Name == name {
			return slot.At
		}
	}
	return 0
}
