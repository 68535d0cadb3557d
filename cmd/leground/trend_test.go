package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/urfave/cli/v3"

	"leground/tracker"
	"leground/tracker/healing"
)

// runTrendCLI runs the command as a program would and gives what it printed, its error's text and its exit
// code.
func runTrendCLI(t testing.TB, stdin string, args ...string) (stdout, reason string, code int) {
	t.Helper()
	command := trendCommand()
	var out, problems bytes.Buffer
	command.Reader, command.Writer, command.ErrWriter = strings.NewReader(stdin), &out, &problems
	command.ExitErrHandler = func(context.Context, *cli.Command, error) {}
	err := command.Run(t.Context(), append([]string{"trend"}, args...))
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

func trendObjects(t testing.TB, stdin string, args ...string) []map[string]any {
	t.Helper()
	out, reason, code := runTrendCLI(t, stdin, append(args, "-json", "-")...)
	if code != 0 {
		t.Fatalf("exit %d: %s", code, reason)
	}
	var objects []map[string]any
	if err := json.Unmarshal([]byte(out), &objects); err != nil {
		t.Fatalf("%v in %s", err, out)
	}
	return objects
}

// workedSeries is an invented series; what is expected of it was worked out with scipy 1.10.1.
const workedSeries = `site,date,area_cm2
RH 2,2026-05-01,12.4
RH 2,2026-05-04,12.0
RH 2,2026-05-08,10.1
RH 2,2026-05-11,9.6
RH 2,2026-05-15,7.7
RH 2,2026-05-18,7.2
RH 2,2026-05-22,5.6
`

func TestTrendWorkedSeries(t *testing.T) {
	objects := trendObjects(t, workedSeries)
	if len(objects) != 1 {
		t.Fatalf("%d objects", len(objects))
	}
	o := objects[0]
	for key, want := range map[string]float64{
		"closing_mm_per_day": 0.3147, "low": 0.2767, "high": 0.3535, "days_used": 7, "span_days": 21, "area_cm2": 5.6,
		"first_area_cm2": 12.4, "percent_area_reduction": 100 * 6.8 / 12.4, "theil_sen_log_slope": -0.0378538,
		"half_life_days": math.Ln2 / 0.0378538, "log_rate_per_week": math.Log(12.4/5.6) / 3,
		"gilman_mm_per_day": 680 / (10 * math.Sqrt(math.Pi) * (math.Sqrt(12.4) + math.Sqrt(5.6))) / 21,
	} {
		if got, ok := o[key].(float64); !ok || math.Abs(got-want) > 2e-4*math.Abs(want) {
			t.Errorf("%s: %v, want %v", key, o[key], want)
		}
	}
	if o["site"] != "RH 2" || o["as_of"] != "2026-05-22" || o["label"] != "closing" || o["remeasure"] != false || o["reason"] == "" {
		t.Errorf("%v", o)
	}
	if o["label_low"].(float64) > o["low"].(float64) || o["label_high"].(float64) < o["high"].(float64) || o["label_low"].(float64) <= 0 {
		t.Errorf("wider interval %v to %v", o["label_low"], o["label_high"])
	}
}

func TestTrendKeys(t *testing.T) {
	want := []string{"site", "as_of", "label", "reason", "closing_mm_per_day", "low", "high", "days_used", "span_days", "area_cm2", "first_area_cm2",
		"percent_area_reduction", "gilman_mm_per_day", "log_rate_per_week", "half_life_days", "theil_sen_log_slope", "label_low", "label_high", "remeasure"}
	o := trendObjects(t, "site,date\nA,2026-05-01\n")[0]
	for _, key := range want {
		value, ok := o[key]
		if !ok {
			t.Errorf("no %s", key)
		}
		if slices.Contains([]string{"closing_mm_per_day", "low", "area_cm2", "half_life_days", "label_low"}, key) && value != nil {
			t.Errorf("%s is %v, want null", key, value)
		}
	}
	if len(o) != len(want) || o["label"] != "too early to say" {
		t.Errorf("%v", o)
	}
	if got := trendObjects(t, "site,date\n"); got == nil || len(got) != 0 {
		t.Errorf("of no rows: %v, want an empty array", got)
	}
}

// TestTrendIsJudge: the command prints what healing.Judge says, to the last digit.
func TestTrendIsJudge(t *testing.T) {
	text, sites := invented(3, 70)
	objects := trendObjects(t, text, "-replay")
	n := 0
	for _, o := range objects {
		site := sites[o["site"].(string)]
		day, err := tracker.ParseDate(o["as_of"].(string))
		if err != nil {
			t.Fatal(err)
		}
		j := healing.Judge(site, healing.DefaultSettings(), day)
		for key, want := range map[string]float64{"closing_mm_per_day": j.Rate, "low": j.Low, "high": j.High, "label_low": j.LabelLow, "label_high": j.LabelHigh, "area_cm2": j.AreaCM2, "theil_sen_log_slope": j.LogSlope} {
			if got, ok := o[key].(float64); ok && got != want || !ok && !math.IsNaN(want) {
				t.Errorf("%s of %s on %s: %v, judged %v", key, o["site"], o["as_of"], o[key], want)
			}
		}
		if o["label"] != j.Label.String() || o["remeasure"] != j.Remeasure {
			t.Errorf("%s on %s: %v, judged %v", o["site"], o["as_of"], o["label"], j.Label)
		}
		n++
	}
	days := 0
	for _, s := range sites {
		days += len(s.Readings)
	}
	if n != days {
		t.Errorf("%d objects of %d measured days", n, days)
	}
}

// invented makes sites of so many days with their rows by date: made-up numbers, one reading on most days.
func invented(count, days int) (string, map[string]healing.Site) {
	rng := rand.New(rand.NewPCG(7, 7))
	sites := map[string]healing.Site{}
	start := tracker.NewDate(2026, time.January, 5)
	rows := []string{"date,site,length_mm,width_mm,event,measurer"}
	for day := range days {
		for i := range count {
			name := fmt.Sprintf("site %d", i)
			s := sites[name]
			s.Distal = true
			date := start + tracker.Date(day)
			event := ""
			if rng.IntN(40) == 0 {
				event = []string{"reset", "treatment", "bandaged", "onset"}[rng.IntN(4)]
			}
			size := ","
			if rng.IntN(10) > 0 {
				d := math.Round((40-0.08*float64(i)*float64(day%120))*(1+0.07*rng.NormFloat64())*10) / 10
				size = fmt.Sprintf("%v,%v", d, d/2)
				s.Readings = append(s.Readings, healing.Reading{Day: date, Method: tracker.Ruler, LengthMM: d, WidthMM: d / 2, Measurer: "Ada", SkinSeen: true})
			}
			switch event {
			case "reset":
				s.Resets = append(s.Resets, date)
			case "bandaged":
				s.Bandaged = append(s.Bandaged, date)
			case "onset":
				event = "treatment" // a second onset would rewrite what was replayed before it
			}
			rows = append(rows, fmt.Sprintf("%s,%s,%s,%s,Ada", date, name, size, event))
			sites[name] = s
		}
	}
	return strings.Join(rows, "\n") + "\n", sites
}

func TestTrendFlagsOnEitherSide(t *testing.T) {
	path := filepath.Join(t.TempDir(), "sizes.csv")
	if err := os.WriteFile(path, []byte("\xef\xbb\xbf"+workedSeries), 0o600); err != nil {
		t.Fatal(err)
	}
	want, reason, code := runTrendCLI(t, "", "-json", "-as-of", "2026-05-18", "-spread-mm", "1", path)
	if code != 0 {
		t.Fatal(reason)
	}
	for _, args := range [][]string{
		{path, "-json", "-as-of", "2026-05-18", "-spread-mm", "1"},
		{"-json", path, "-spread-mm=1", "--as-of=2026-05-18"},
		{"-as-of", "2026-05-18", path, "-json", "-spread-mm", "1"},
	} {
		if got, reason, _ := runTrendCLI(t, "", args...); got != want {
			t.Errorf("%v: %s", args, reason+cmp.Diff(want, got))
		}
	}
	if !strings.Contains(want, `"as_of":"2026-05-18"`) || !strings.Contains(want, `"area_cm2":7.2`) {
		t.Error(want)
	}
}

func TestTrendTable(t *testing.T) {
	out, _, code := runTrendCLI(t, workedSeries, "-")
	lines := strings.Split(strings.TrimSpace(out), "\n")
	if code != 0 || len(lines) != 2 || !strings.HasPrefix(lines[0], "site ") || strings.Contains(out, "\u00a0") {
		t.Fatal(out)
	}
	want := []string{"RH", "2", "2026-05-22", "2026-05-22", "closing", "0.31", "0.28", "0.35", "7", "5.6", "55%", "less"}
	if got := strings.Fields(lines[1])[:len(want)]; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if !strings.Contains(lines[1], "The smallest rate these measurements could show is ") {
		t.Error(lines[1])
	}
}

// TestTrendSaysUpToWhichDay: three weeks after the last size the label is that of the last measured day, and the
// row and the sentence say so; a few days after it nothing is added.
func TestTrendSaysUpToWhichDay(t *testing.T) {
	out, _, _ := runTrendCLI(t, workedSeries, "-as-of", "2026-06-12", "-")
	row := strings.Split(out, "\n")[1]
	if got := strings.Fields(row)[2:5]; !slices.Equal(got, []string{"2026-06-12", "2026-05-22", "closing"}) {
		t.Errorf("%q", got)
	}
	if !strings.Contains(row, "  As of Fri 22 May, its last measured day. Its edge moves in by ") {
		t.Error(row)
	}
	if o := trendObjects(t, workedSeries, "-as-of", "2026-05-25")[0]; strings.Contains(o["reason"].(string), "As of") {
		t.Errorf("three days after: %s", o["reason"])
	}
}

// TestTrendSmallAndClosed: an area that rounds to 0 is not one of closed skin, and a zero of today is no six
// weeks without a size.
func TestTrendSmallAndClosed(t *testing.T) {
	out, _, _ := runTrendCLI(t, "site,date,length_mm,width_mm\nA,2026-05-14,2.1,1\nB,2026-05-14,0,0\n", "-")
	lines := strings.Split(out, "\n")
	if !strings.Contains(lines[1], " less than 0.1 ") {
		t.Error(lines[1])
	}
	if !strings.Contains(lines[2], " 0 ") || !strings.HasSuffix(lines[2], "  No open skin on its last measured day. Closed over needs two such days, with the skin seen and no scab or bandage on it.") {
		t.Error(lines[2])
	}
}

func TestTrendEvents(t *testing.T) {
	rows := []string{"site,date,length_mm,width_mm,event"}
	row := func(day int, size float64, event string) {
		text := ","
		if size >= 0 {
			text = fmt.Sprintf("%v,%v", size, size)
		}
		rows = append(rows, fmt.Sprintf("A,%s,%s,%s", tracker.NewDate(2026, time.May, day), text, event))
	}
	row(1, -1, "onset")
	for day := 1; day <= 12; day++ {
		row(day, 20*math.Sqrt(1+0.05*float64(day)), "")
	}
	text := strings.Join(rows, "\n")
	if o := trendObjects(t, text)[0]; o["label"] != "early widening" {
		t.Errorf("fresh: %v", o["label"])
	}
	if o := trendObjects(t, strings.Replace(text, "onset", "treatment", 1))[0]; o["label"] == "early widening" || o["label"] == "too early to say" {
		t.Errorf("of unknown age: %v", o["label"])
	}
	row(13, 30, "reset")
	if o := trendObjects(t, strings.Join(rows, "\n"))[0]; o["days_used"] != 1.0 || math.Abs(o["first_area_cm2"].(float64)-math.Pi*2.25) > 1e-9 {
		t.Errorf("after a reset: %v days, first area %v", o["days_used"], o["first_area_cm2"])
	}
	row(14, 0, "")
	row(15, 0, "")
	if o := trendObjects(t, strings.Join(rows, "\n"))[0]; o["label"] != "closed over" || o["area_cm2"] != 0.0 || o["percent_area_reduction"] != 100.0 {
		t.Errorf("closed: %v", o)
	}
}

func TestTrendBadInput(t *testing.T) {
	for name, c := range map[string]struct {
		stdin string
		args  []string
		want  string
	}{
		"unknown column":      {"site,date,colour\n", nil, `row 1: unknown column "colour": the columns are site,date`},
		"semicolons":          {"site;date;area_cm2\n", nil, "with commas between"},
		"no header":           {"", nil, "row 1: no header"},
		"no date column":      {"site,area_cm2\nA,1\n", nil, `row 1: no column "date"`},
		"twice":               {"site,date,date\n", nil, `row 1: column "date" stands twice`},
		"one length":          {"site,date,length_mm\n", nil, "one of them is missing"},
		"bad date":            {"site,date,area_cm2\nA,2026-05-01,4\nA,31/05/2026,4\n", nil, `row 3: date "31/05/2026" is not a date like 2026-05-14`},
		"no such day":         {"site,date\nA,2026-02-30\n", nil, "row 2: date"},
		"bad number":          {"site,date,area_cm2\nA,2026-05-01,4\n\nA,2026-05-02,4.x\n", nil, `row 3: area_cm2 "4.x" is not a number`},
		"decimal comma":       {"site,date,area_cm2\nA,2026-05-01,\"4,5\"\n", nil, `row 2: area_cm2 "4,5" is not a number`},
		"infinite":            {"site,date,area_cm2\nA,2026-05-01,inf\n", nil, "is not a number"},
		"negative":            {"site,date,length_mm,width_mm\nA,2026-05-01,-4,3\n", nil, `row 2: length_mm "-4"`},
		"absurd":              {"site,date,area_cm2\nA,2026-05-01,1234567890\n", nil, "row 2: a size over a million"},
		"length alone":        {"site,date,length_mm,width_mm\nA,2026-05-01,4,\n", nil, "row 2: length_mm without width_mm"},
		"width alone":         {"site,date,length_mm,width_mm\nA,2026-05-01,,4\n", nil, "row 2: width_mm without length_mm"},
		"no length":           {"site,date,length_mm,width_mm\nA,2026-05-01,4,3\nA,2026-05-02,0,5\n", nil, "row 3: length_mm 0 and width_mm 5"},
		"no width":            {"site,date,length_mm,width_mm\nA,2026-05-01,5,0.0\n", nil, "row 2: length_mm 5 and width_mm 0.0"},
		"no area":             {"site,date,length_mm,width_mm,area_cm2\nA,2026-05-01,5,4,0\n", nil, "row 2: area_cm2 0 beside length_mm 5"},
		"unknown event":       {"site,date,event\nA,2026-05-01,rain\n", nil, `row 2: unknown event "rain": the events are onset, reset`},
		"no site":             {"site,date\n,2026-05-01\n", nil, "row 2: no site"},
		"fields":              {"site,date\nA,2026-05-01,7\n", nil, "row 2: 3 fields, where the header has 2"},
		"quote":               {"site,date\nA,\"2026-05-01\n", nil, `row 2: extraneous or missing " in quoted-field`},
		"all bad rows":        {"site,date\nA,x\nA,2026-05-01\nA,y\n", nil, "row 4: date"},
		"replay out of order": {"site,date,area_cm2\nA,2026-05-02,4\nA,2026-05-01,4\n", []string{"-replay"}, "row 3: 2026-05-01 after 2026-05-02: a replay needs"},
		"bad as-of":           {"", []string{"-as-of", "soon"}, `-as-of "soon" is not a date`},
		"bad spread":          {"", []string{"-spread-mm", "wide"}, `-spread-mm: "wide" is not a number`},
		"spread of nothing":   {"", []string{"-spread-mm", "0"}, "-spread-mm: measuring spread is 0: choose between 0.2 and 10 mm"},
		"unknown flag":        {"", []string{"-colour"}, "flag provided but not defined: -colour"},
		"two files":           {"", []string{"b.csv"}, "one argument too many"},
	} {
		out, reason, code := runTrendCLI(t, c.stdin, append(c.args, "-")...)
		if code != 2 || !strings.Contains(reason, c.want) || strings.Contains(out, "{") {
			t.Errorf("%s: exit %d, %q, printed %q; want %q", name, code, reason, out, c.want)
		}
	}
	if _, reason, code := runTrendCLI(t, "", filepath.Join(t.TempDir(), "none.csv")); code != 2 || !strings.Contains(reason, "none.csv") {
		t.Errorf("no such file: exit %d, %s", code, reason)
	}
	if _, reason, code := runTrendCLI(t, ""); code != 2 || !strings.Contains(reason, "FILE.csv") {
		t.Errorf("no file named: exit %d, %s", code, reason)
	}
}

// TestTrendOrderOfRows: without a replay the order of rows does not matter.
func TestTrendOrderOfRows(t *testing.T) {
	text, _ := invented(2, 90)
	rows := strings.Split(strings.TrimSpace(text), "\n")
	want := trendObjects(t, text)
	body := rows[1:]
	slices.Reverse(body)
	got := trendObjects(t, strings.Join(rows, "\n"))
	slices.Reverse(got) // the second site comes first now
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

// TestTrendStreams: 100,000 rows, and the memory of a site does not grow with its rows.
func TestTrendStreams(t *testing.T) {
	if testing.Short() {
		t.Skip("reads 100,000 rows")
	}
	const rows = 100_000
	text, _ := invented(4, rows/4)
	start := time.Now()
	var before, after runtime.MemStats
	held := &trend{settings: healing.DefaultSettings(), sites: map[string]*trendSite{}}
	runtime.GC()
	runtime.ReadMemStats(&before)
	if err := held.read(strings.NewReader(text)); err != nil {
		t.Fatal(err)
	}
	runtime.GC()
	runtime.ReadMemStats(&after)
	for _, s := range held.order {
		if n := len(s.site.Readings); n > trimAt+1 {
			t.Errorf("%s holds %d readings", s.name, n)
		}
		if n := len(s.site.Resets) + len(s.site.Bandaged) + len(s.site.Treatments); n > 400 {
			t.Errorf("%s holds %d events", s.name, n)
		}
	}
	if grown := int64(after.HeapAlloc) - int64(before.HeapAlloc); grown > 2<<20 {
		t.Errorf("four sites of 25,000 rows hold %d bytes", grown)
	}
	t.Logf("%d rows read in %v", rows, time.Since(start))
	start = time.Now()
	short := text[:strings.Index(text, "2035-")] // ten of the seventy years
	out, reason, code := runTrendCLI(t, short, "-json", "-replay", "-")
	if code != 0 {
		t.Fatal(reason)
	}
	t.Logf("%d judgements in %v", strings.Count(out, `"site"`), time.Since(start))
	runtime.KeepAlive(held)
}
