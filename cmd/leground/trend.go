package main

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/urfave/cli/v3"

	"leground/tracker"
	"leground/tracker/healing"
)

const trendHelp = `Judge how wounds of the lower leg go from a spreadsheet: one row a measurement.

Columns, in any order: site and date (2026-05-14) in every row; then length_mm and width_mm, or area_cm2;
event; measurer. A size of zero says that no open skin was seen. Where a row has an area and lengths the
area counts. Areas and lengths are never mixed in one series. Rows may stand in any order, but of a site
with more than 180 sizes in the order of days. Events:
   onset      a fresh wound happened on this day
   reset      a new series begins: trimmed, clipped, crusts off, new injury, another way of measuring
   treatment  the treatment changed; marked, and no reset
   bandaged   a bandage went on
Rates are in mm a day of the equivalent radius, positive when the wound closes. FILE - is standard input.
This is not a diagnosis. Only your vet can say what it means.
Exit codes: 0 judged, 2 cannot be read.`

// trendCommand is "leground trend": the healing judgement for people with a spreadsheet.
func trendCommand() *cli.Command {
	return &cli.Command{
		Name:        "trend",
		Usage:       "judge wounds from a spreadsheet",
		UsageText:   "leground trend FILE.csv [-as-of DATE] [-replay] [-spread-mm MM] [-json]",
		Description: trendHelp,
		Flags: []cli.Flag{
			&cli.StringFlag{Name: "as-of", OnlyOnce: true, Usage: "judge as of this `DATE`; without it, as of each site's last measured day"},
			&cli.BoolFlag{Name: "replay", Usage: "judge after each measured day; each site's rows must be in the order of days"},
			&cli.StringFlag{Name: "spread-mm", OnlyOnce: true, Usage: "measuring spread of one length in `MM`, from blind second readings", Value: "2"},
			&cli.BoolFlag{Name: "json", Usage: "print one JSON array of objects instead of a table"},
		},
		OnUsageError: func(_ context.Context, _ *cli.Command, err error, _ bool) error {
			return cli.Exit("trend: "+err.Error()+": see leground trend -help", 2)
		},
		Action: runTrend,
	}
}

// runTrend reads the flags and the file and prints the judgements.
func runTrend(_ context.Context, cmd *cli.Command) error {
	bad := func(err error) error { return cli.Exit("trend: "+err.Error(), 2) }
	if err := noMore(cmd, 1); err != nil {
		return err
	}
	t := trend{settings: healing.DefaultSettings(), replay: cmd.Bool("replay"), sites: map[string]*trendSite{}}
	if text := cmd.String("as-of"); text != "" {
		var err error
		if t.asOf, err = tracker.ParseDate(text); err != nil {
			return bad(fmt.Errorf("-as-of %w", err))
		}
	}
	var err error
	if t.settings.SpreadMM, err = plainNumber(cmd.String("spread-mm")); err == nil {
		err = t.settings.Check()
	}
	if err != nil {
		return bad(fmt.Errorf("-spread-mm: %w", err))
	}
	in, name := cmd.Root().Reader, cmd.Args().First()
	switch name {
	case "":
		return bad(errors.New("say which FILE.csv to read, or - for standard input"))
	case "-":
		name = "standard input"
	default:
		file, err := os.Open(name)
		if err != nil {
			return bad(err)
		}
		defer file.Close()
		in = file
	}
	out := bufio.NewWriter(cmd.Root().Writer)
	t.print = printTrendRow(out)
	if cmd.Bool("json") {
		t.print = printTrendJSON(out)
	}
	if err := t.read(in); t.failed != nil {
		return t.failed
	} else if err != nil {
		if flushed := out.Flush(); flushed != nil {
			return flushed
		}
		return bad(fmt.Errorf("%s: %w", name, err))
	}
	if err := t.finish(); err != nil {
		return err
	}
	return out.Flush()
}

// trend gathers rows into sites. Of each site it holds what can still bear on a judgement, so its memory
// does not grow with the length of the file.
type trend struct {
	settings healing.Settings
	asOf     tracker.Date // zero: each site's last measured day
	replay   bool
	sites    map[string]*trendSite
	order    []*trendSite
	print    func(site string, j *healing.Judgement) error // nil: that was the last
	failed   error                                         // what print said: the fault is not in the rows
}

type trendSite struct {
	name     string
	site     healing.Site
	last     tracker.Date // latest row
	measured tracker.Date // latest day with a size
	pending  bool         // replay: the last day has a size that is not judged yet
}

// trimAt is how many readings of a site are held before those that no longer matter are dropped.
const trimAt = 2 * healing.HorizonDays

// trendColumns are the columns a file may have.
var trendColumns = []string{"site", "date", "length_mm", "width_mm", "area_cm2", "event", "measurer"}

// maxComplaints is how many bad rows are listed before reading stops.
const maxComplaints = 20

// read takes all rows. Its error lists the bad ones by their row number in the spreadsheet, from 1 for the
// header.
func (t *trend) read(in io.Reader) error {
	buffered := bufio.NewReader(in)
	if mark, err := buffered.Peek(3); err == nil && bytes.Equal(mark, []byte("\xef\xbb\xbf")) {
		if _, err := buffered.Discard(3); err != nil {
			return err
		}
	}
	rows := csv.NewReader(buffered)
	rows.FieldsPerRecord, rows.ReuseRecord = -1, true
	header, err := rows.Read()
	if errors.Is(err, io.EOF) {
		return errors.New("row 1: no header: name the columns " + strings.Join(trendColumns, ","))
	} else if err != nil {
		return csvError(1, err)
	}
	columns, err := trendHeader(header)
	if err != nil {
		return fmt.Errorf("row 1: %w", err)
	}
	var complaints []error
	for n := 2; len(complaints) < maxComplaints; n++ {
		record, err := rows.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			complaints = append(complaints, csvError(n, err))
			break // a broken quote makes every row after it nonsense
		}
		if err := t.row(columns, len(header), record, len(complaints) > 0); t.failed != nil {
			return t.failed
		} else if err != nil {
			complaints = append(complaints, fmt.Errorf("row %d: %w", n, err))
		}
	}
	return errors.Join(complaints...)
}

// csvError tells a row that is no CSV from a file that cannot be read.
func csvError(row int, err error) error {
	var parse *csv.ParseError
	if errors.As(err, &parse) {
		err = parse.Err
	}
	return fmt.Errorf("row %d: %w", row, err)
}

// trendHeader gives the place of each known column.
func trendHeader(header []string) (map[string]int, error) {
	columns := map[string]int{}
	for i, name := range header {
		name = strings.ToLower(strings.TrimSpace(name))
		if !slices.Contains(trendColumns, name) {
			return nil, fmt.Errorf("unknown column %q: the columns are %s, with commas between", name, strings.Join(trendColumns, ","))
		}
		if _, twice := columns[name]; twice {
			return nil, fmt.Errorf("column %q stands twice", name)
		}
		columns[name] = i
	}
	for _, name := range trendColumns[:2] {
		if _, ok := columns[name]; !ok {
			return nil, fmt.Errorf("no column %q", name)
		}
	}
	_, length := columns["length_mm"]
	_, width := columns["width_mm"]
	if length != width {
		return nil, errors.New("length_mm and width_mm go together: one of them is missing")
	}
	return columns, nil
}

// row takes one row; checkOnly reads it without judging anything more.
func (t *trend) row(columns map[string]int, width int, record []string, checkOnly bool) error {
	if len(record) != width {
		return fmt.Errorf("%d fields, where the header has %d", len(record), width)
	}
	cell := func(name string) string {
		if i, ok := columns[name]; ok {
			return strings.TrimSpace(record[i])
		}
		return ""
	}
	if cell("site") == "" {
		return errors.New("no site")
	}
	day, err := tracker.ParseDate(cell("date"))
	if err != nil {
		return fmt.Errorf("date %w", err)
	}
	reading, sized, err := trendReading(cell)
	if err != nil {
		return err
	}
	event := strings.ToLower(cell("event"))
	if !slices.Contains([]string{"", "onset", "reset", "treatment", "bandaged"}, event) {
		return fmt.Errorf("unknown event %q: the events are onset, reset, treatment, bandaged", event)
	}
	if checkOnly || t.asOf != 0 && day > t.asOf {
		return nil
	}
	s := t.sites[cell("site")]
	if s == nil {
		s = &trendSite{name: strings.Clone(cell("site")), site: healing.Site{Distal: true}}
		t.sites[s.name] = s
		t.order = append(t.order, s)
	}
	if err := t.reach(s, day); err != nil {
		return err
	}
	reading.Day = day
	s.add(reading, sized, event)
	return nil
}

// trendReading reads the size of a row and tells whether it has one.
func trendReading(cell func(string) string) (r healing.Reading, sized bool, err error) {
	r = healing.Reading{Measurer: strings.Clone(cell("measurer")), SkinSeen: true}
	for _, size := range []struct {
		name string
		into *float64
	}{{"length_mm", &r.LengthMM}, {"width_mm", &r.WidthMM}, {"area_cm2", &r.AreaCM2}} {
		text := cell(size.name)
		if text == "" {
			continue
		}
		if *size.into, err = plainNumber(text); err != nil {
			return r, false, fmt.Errorf("%s %w", size.name, err)
		}
	}
	length, width := cell("length_mm") != "", cell("width_mm") != ""
	switch {
	case length && width && (r.LengthMM == 0) != (r.WidthMM == 0):
		return r, false, fmt.Errorf("length_mm %s and width_mm %s: open skin has both, and 0 in both says that there is none",
			cell("length_mm"), cell("width_mm"))
	case cell("area_cm2") != "" && r.AreaCM2 == 0 && r.LengthMM > 0:
		return r, false, fmt.Errorf("area_cm2 0 beside length_mm %s: 0 says that no open skin was seen", cell("length_mm"))
	case cell("area_cm2") != "":
		r.Method = tracker.Traced
	case length && width:
		r.Method = tracker.Ruler
	case length:
		return r, false, errors.New("length_mm without width_mm")
	case width:
		return r, false, errors.New("width_mm without length_mm")
	default:
		return r, false, nil
	}
	r.Day = 1 // any: the row's own day is checked apart
	if !r.Valid() {
		return r, false, errors.New("a size over a million is no size")
	}
	return r, true, nil
}

// plainNumber reads a number of digits with at most one point, as spreadsheets write them.
func plainNumber(text string) (float64, error) {
	value, err := strconv.ParseFloat(text, 64)
	if err != nil || strings.Trim(text, "0123456789.") != "" {
		return 0, fmt.Errorf("%q is not a number like 42 or 6.4", text)
	}
	return value, nil
}

// reach moves a site on to a day: in a replay the day before is judged, if it was measured.
func (t *trend) reach(s *trendSite, day tracker.Date) error {
	if t.replay && day < s.last {
		return fmt.Errorf("%s after %s: a replay needs the rows of a site in the order of days", day, s.last)
	}
	if t.replay && s.pending && day > s.last {
		s.pending = false
		j := healing.Judge(s.site, t.settings, s.last)
		if t.failed = t.print(s.name, &j); t.failed != nil {
			return t.failed
		}
	}
	s.last = max(s.last, day)
	if len(s.site.Readings) > trimAt {
		s.site.Trim(s.measured)
	}
	return nil
}

// add keeps a row.
func (s *trendSite) add(r healing.Reading, sized bool, event string) {
	if sized {
		s.site.Readings = append(s.site.Readings, r)
		s.measured = max(s.measured, r.Day)
		s.pending = true
	}
	switch event {
	case "onset":
		s.site.Onset = max(s.site.Onset, r.Day)
	case "reset":
		s.site.Resets = append(s.site.Resets, r.Day)
	case "treatment":
		s.site.Treatments = append(s.site.Treatments, r.Day)
	case "bandaged":
		s.site.Bandaged = append(s.site.Bandaged, r.Day)
	}
}

// finish judges what is left: in a replay the last measured day of each site, else each site once.
func (t *trend) finish() error {
	for _, s := range t.order {
		day := cmp.Or(t.asOf, s.measured, s.last) // a site of events alone has only its last row
		if t.replay {
			if !s.pending {
				continue
			}
			day = s.last
		}
		j := healing.Judge(s.site, t.settings, day)
		if err := t.print(s.name, &j); err != nil {
			return err
		}
	}
	return t.print("", nil)
}

// printTrendRow prints a table with one line a judgement.
func printTrendRow(out io.Writer) func(string, *healing.Judgement) error {
	line := func(site string, cells ...any) error {
		site += strings.Repeat(" ", max(1, 13-utf8.RuneCountInString(site)))
		_, err := fmt.Fprintf(out, "%s%-11s %-11s %-16s %8s %8s %8s %5s %13s %12s  %s\n", append([]any{site}, cells...)...)
		return err
	}
	started := false
	return func(site string, j *healing.Judgement) error {
		if !started {
			started = true
			if err := line("site", "as of", "measured", "label", "mm a day", "low", "high", "days", "area cm2", "since first", "why"); err != nil {
				return err
			}
		}
		if j == nil {
			return nil
		}
		change := "-"
		if p := j.PercentAreaReduction; p >= 0 {
			change = tracker.FormatFloat(p, 0, tracker.Point) + "% less"
		} else if p < 0 {
			change = tracker.FormatFloat(-p, 0, tracker.Point) + "% more"
		}
		why := strings.ReplaceAll(strings.TrimSpace(j.Why(tracker.Point)+" "+j.SmallestSentence(tracker.Point)+" "+j.Prompt()), "\u00a0", " ")
		measured, area := "-", "-"
		if j.LastDay != 0 {
			measured, area = j.LastDay.String(), tracker.FormatArea(j.AreaCM2, tracker.Point)
		}
		return line(site, j.AsOf, measured, j.Label, figure(j.Rate, 2), figure(j.Low, 2), figure(j.High, 2), strconv.Itoa(j.DaysUsed), area, change, why)
	}
}

func figure(x float64, places int) string {
	if math.IsNaN(x) {
		return "-"
	}
	return tracker.FormatFloat(x, places, tracker.Point)
}

// trendObject is one judgement as -json prints it: numbers unrounded, null for a figure that does not exist.
type trendObject struct {
	Site                 string   `json:"site"`
	AsOf                 string   `json:"as_of"`
	Label                string   `json:"label"`
	Reason               string   `json:"reason"`
	ClosingMMPerDay      *float64 `json:"closing_mm_per_day"`
	Low                  *float64 `json:"low"`
	High                 *float64 `json:"high"`
	LabelLow             *float64 `json:"label_low"`
	LabelHigh            *float64 `json:"label_high"`
	Remeasure            bool     `json:"remeasure"`
	DaysUsed             int      `json:"days_used"`
	SpanDays             int      `json:"span_days"`
	AreaCM2              *float64 `json:"area_cm2"`
	FirstAreaCM2         *float64 `json:"first_area_cm2"`
	PercentAreaReduction *float64 `json:"percent_area_reduction"`
	GilmanMMPerDay       *float64 `json:"gilman_mm_per_day"`
	LogRatePerWeek       *float64 `json:"log_rate_per_week"`
	HalfLifeDays         *float64 `json:"half_life_days"`
	TheilSenLogSlope     *float64 `json:"theil_sen_log_slope"`
}

// printTrendJSON prints one array, an object a line, as the judgements come.
func printTrendJSON(out io.Writer) func(string, *healing.Judgement) error {
	number := func(x float64) *float64 {
		if math.IsNaN(x) {
			return nil
		}
		return &x
	}
	before := "[\n"
	return func(site string, j *healing.Judgement) error {
		if j == nil {
			if before == "[\n" {
				_, err := io.WriteString(out, "[]\n")
				return err
			}
			_, err := io.WriteString(out, "\n]\n")
			return err
		}
		data, err := json.Marshal(trendObject{site, j.AsOf.String(), j.Label.String(), strings.ReplaceAll(j.Why(tracker.Point), "\u00a0", " "),
			number(j.Rate), number(j.Low), number(j.High), number(j.LabelLow), number(j.LabelHigh), j.Remeasure,
			j.DaysUsed, j.SpanDays, number(j.AreaCM2), number(j.FirstAreaCM2), number(j.PercentAreaReduction),
			number(j.GilmanMM), number(j.LogRatePerWeek), number(j.HalfLifeDays), number(j.LogSlope)})
		if err != nil {
			return err
		}
		_, err = fmt.Fprintf(out, "%s%s", before, data)
		before = ",\n"
		return err
	}
}
