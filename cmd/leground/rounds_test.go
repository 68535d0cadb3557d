package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"os"
	"strings"
	"testing"
	_ "time/tzdata"

	"github.com/google/go-cmp/cmp"
	"github.com/urfave/cli/v3"
)

// runRoundsCLI runs the command with its own writers and gives what it printed, the reason of its error
// and its exit code.
func runRoundsCLI(t *testing.T, args ...string) (stdout, reason string, code int) {
	t.Helper()
	command := roundsCommand()
	var out, problems bytes.Buffer
	command.Writer, command.ErrWriter = &out, &problems
	command.ExitErrHandler = func(context.Context, *cli.Command, error) {}
	err := command.Run(t.Context(), append([]string{"rounds"}, args...))
	var coded cli.ExitCoder
	switch {
	case err == nil:
	case errors.As(err, &coded):
		code, reason = coded.ExitCode(), err.Error()
	default:
		t.Fatalf("%q: an error without an exit code: %v", args, err)
	}
	return out.String(), reason, code
}

func roundsJSON(t *testing.T, args ...string) []map[string]string {
	t.Helper()
	out, reason, code := runRoundsCLI(t, append(args, "-json")...)
	if code != 0 {
		t.Fatalf("%q: exit %d, %s", args, code, reason)
	}
	var got []map[string]string
	if err := json.Unmarshal([]byte(out), &got); err != nil || got == nil {
		t.Fatalf("%q: %v in %s", args, err, out)
	}
	return got
}

// TestRoundsCommandVectors asks for each check night of clock.txt: RFC 5545's examples and what CPython's
// zoneinfo computes.
func TestRoundsCommandVectors(t *testing.T) {
	data, err := os.ReadFile("../../testdata/vectors/rounds/clock.txt")
	if err != nil {
		t.Fatal(err)
	}
	_, body, _ := strings.Cut(string(data), "\n\n")
	rows := strings.Split(strings.TrimSpace(body), "\n")
	if len(rows) < 50 {
		t.Fatalf("only %d rows", len(rows))
	}
	for _, row := range rows {
		field := strings.Split(row, " | ")
		got := roundsJSON(t, "-zone", field[0], "-from", field[1], "-to", field[1], "-at", field[2])
		want := []map[string]string{{"date": field[1], "slot": field[2], "due_at": field[3]}}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", row, diff)
		}
		table, _, _ := runRoundsCLI(t, "-zone", field[0], "-from", field[1], "-to", field[1], "-at", field[2])
		words := map[string]string{"never": "clock", "twice": "twice", "once": ""}[field[4]]
		if notes := table[strings.LastIndex(table, "\n20")+1:]; !strings.Contains(notes, words) {
			t.Errorf("%s: the table does not say so:\n%s", row, table)
		}
	}
}

func TestRoundsCommandTables(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"-zone Europe/London -from 2026-03-28 -to 2026-03-29 -at 18:30,7:00", `
Europe/London, every day, from 2026-03-28 to 2026-03-29: 4 rounds.

Day              Slot    Due            Due, UTC           Clock
Sat 2026-03-28   7:00    07:00 +00:00   2026-03-28 07:00
Sat 2026-03-28   18:30   18:30 +00:00   2026-03-28 18:30
Sun 2026-03-29   7:00    07:00 +01:00   2026-03-29 06:00   The clock was put forward by 1 h since the round before.
Sun 2026-03-29   18:30   18:30 +01:00   2026-03-29 17:30
`},
		{"-zone Europe/Berlin -from 2026-03-28 -to 2026-03-29 -at 02:30,03:30", `
Europe/Berlin, every day, from 2026-03-28 to 2026-03-29: 4 rounds.

Day              Slot    Due            Due, UTC           Clock
Sat 2026-03-28   02:30   02:30 +01:00   2026-03-28 01:30
Sat 2026-03-28   03:30   03:30 +01:00   2026-03-28 02:30
Sun 2026-03-29   02:30   03:30 +02:00   2026-03-29 01:30   The clock is put forward over 02:30: due at 03:30. The same moment as 2026-03-29 03:30: two rounds, one message.
Sun 2026-03-29   03:30   03:30 +02:00   2026-03-29 01:30   The same moment as 2026-03-29 02:30: two rounds, one message.
`},
		{"-zone Australia/Lord_Howe -from 2026-04-05 -to 2026-04-12 -at 01:45,07:00 -weekdays sun", `
Australia/Lord_Howe, on Sun, from 2026-04-05 to 2026-04-12: 4 rounds.

Day              Slot    Due            Due, UTC           Clock
Sun 2026-04-05   01:45   01:45 +11:00   2026-04-04 14:45   The clock is put back and shows 01:45 twice: due the first time only.
Sun 2026-04-05   07:00   07:00 +10:30   2026-04-04 20:30   The clock was put back by 0.5 h since the round before.
Sun 2026-04-12   01:45   01:45 +10:30   2026-04-11 15:15
Sun 2026-04-12   07:00   07:00 +10:30   2026-04-11 20:30
`},
		{"-zone Pacific/Apia -from 2011-12-30 -to 2011-12-31 -at 07:00", `
Pacific/Apia, every day, from 2011-12-30 to 2011-12-31: 2 rounds.

Day              Slot    Due            Due, UTC           Clock
Fri 2011-12-30   07:00   07:00 +14:00   2011-12-30 17:00   The clock goes from the day before straight to 2011-12-31: due at 07:00 that day. The same moment as 2011-12-31 07:00: two rounds, one message.
Sat 2011-12-31   07:00   07:00 +14:00   2011-12-30 17:00   The same moment as 2011-12-30 07:00: two rounds, one message.
`},
		{"-zone UTC -from 2026-05-14 -to 2026-05-14 -at 07:00 -weekdays mon", `
UTC, on Mon, from 2026-05-14 to 2026-05-14: 0 rounds.
`},
	} {
		out, reason, code := runRoundsCLI(t, strings.Fields(c.args)...)
		if diff := cmp.Diff(strings.TrimPrefix(c.want, "\n"), out); diff != "" || code != 0 {
			t.Errorf("%s: exit %d %s (-want +got):\n%s", c.args, code, reason, diff)
		}
	}
}

func TestRoundsCommandDays(t *testing.T) {
	days := func(args ...string) string {
		var got []string
		for _, line := range roundsJSON(t, append([]string{"-zone", "Europe/London", "-at", "7:00", "-from", "2026-05-14"}, args...)...) {
			got = append(got, line["date"][8:]+" "+line["slot"])
		}
		return strings.Join(got, ", ")
	}
	for want, args := range map[string][]string{
		"14 7:00, 15 7:00, 16 7:00":          {"-to", "2026-05-16"}, // both ends included, the slot as typed
		"14 7:00, 16 7:00, 18 7:00":          {"-to", "2026-05-19", "-every", "2"},
		"14 7:00, 18 7:00, 21 7:00":          {"-to", "2026-05-24", "-weekdays", "mon,thu"}, // the 14th is a Thursday
		"16 7:00, 17 7:00, 23 7:00, 24 7:00": {"-to", "2026-05-28", "--weekdays=Saturday,Sunday"},
		"":                                   {"-to", "2026-05-14", "-weekdays", "mon"},
	} {
		if got := days(args...); got != want {
			t.Errorf("%q: got %s, want %s", args, got, want)
		}
	}
}

func TestRoundsCommandRefusals(t *testing.T) {
	const good = "-zone Europe/London -from 2026-03-27 -to 2026-03-31 -at 07:00"
	for args, words := range map[string]string{
		"":                    "-zone is missing",
		"-zone Europe/London": "-from is missing",
		strings.ReplaceAll(good, "-at 07:00", ""):                               "-at is missing",
		strings.ReplaceAll(good, "-to 2026-03-31", ""):                          "-to is missing",
		strings.ReplaceAll(good, "London", "Londn"):                             `"Europe/Londn" is not a time zone`,
		strings.ReplaceAll(good, "Europe/London", "Local"):                      `"Local" is not a time zone`,
		strings.ReplaceAll(good, "2026-03-27", "27.3.2026"):                     `-from: "27.3.2026" is not a date`,
		strings.ReplaceAll(good, "2026-03-31", "2026-02-30"):                    `-to: "2026-02-30" is not a date`,
		strings.ReplaceAll(good, "2026-03-31", "2026-03-26"):                    "is before the first",
		strings.ReplaceAll(good, "2026-03-31", "2226-03-31"):                    "is more than 100 years: ask for less at once",
		strings.ReplaceAll(good, "07:00", "7am"):                                `-at: "7am" is not a time of day`,
		strings.ReplaceAll(good, "07:00", "24:00"):                              `-at: "24:00" is not a time of day`,
		strings.ReplaceAll(good, "07:00", "07:00,"):                             `-at: "" is not a time of day`,
		strings.ReplaceAll(good, "07:00", "07:00,7:00"):                         "07:00 is given twice",
		strings.ReplaceAll(good, "07:00", "07:00, 18:30"):                       `"18:30" is one word too many`,
		strings.ReplaceAll(good, "07:00", strings.Repeat("07:00,", 24)+"08:00"): "25 rounds a day are too many",
		good + " -every 0":               "every 0 days is not possible",
		good + " -every -2":              "every -2 days is not possible",
		good + " -every two":             "two",
		good + " -weekdays funday":       `-weekdays: "funday" is not a day of the week`,
		good + " -weekdays mon,mon":      "Monday is given twice",
		good + " -weekdays mon -every 2": "choose one",
		good + " -at 18:30":              "duplicate",
		good + " -speed 2":               "speed",
		good + " -weekdays":              "needs an argument",
	} {
		out, reason, code := runRoundsCLI(t, strings.Fields(args)...)
		if code != 2 || !strings.Contains(reason, words) || !strings.HasPrefix(reason, "rounds: ") {
			t.Errorf("%q: exit %d, %q, want exit 2 with %q", args, code, reason, words)
		}
		if out != "" {
			t.Errorf("%q: printed %q before it refused", args, out)
		}
	}
}
