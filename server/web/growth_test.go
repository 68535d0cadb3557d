package web_test

import (
	"net/http"
	"net/http/httptest"
	"slices"
	"testing"
	"time"

	"leground/server/webtest"
	"leground/tracker/care"
	"leground/tracker/store"
	"leground/tracker/store/storetest/pgtest"
)

// asker asks a filled yard's pages without a network, and counts what they ask of the database.
type asker struct {
	pages  http.Handler
	counts *store.Counts
	filled *webtest.Filled
}

func newAsker(tb testing.TB, where string, horses, days int) asker {
	tb.Helper()
	site := webtest.Start(tb, webtest.Options{Where: where})
	a := asker{filled: site.Fill(horses, days)}
	if where != "" {
		pgtest.Analyze(tb, where)
	}
	a.pages, a.counts = site.Handler()
	return a
}

// get gives the answer, how long it took, and how many statements and rows it took.
func (a asker) get(tb testing.TB, path string) (body string, took time.Duration, statements, rows int64) {
	tb.Helper()
	statements, rows = a.counts.Statements.Load(), a.counts.Rows.Load()
	req := httptest.NewRequest(http.MethodGet, path, nil)
	req.AddCookie(&http.Cookie{Name: "leground", Value: a.filled.Owner.Session()})
	answer := httptest.NewRecorder()
	start := time.Now()
	a.pages.ServeHTTP(answer, req)
	took = time.Since(start)
	if answer.Code != http.StatusOK {
		tb.Fatalf("%s answers %d:\n%s", path, answer.Code, answer.Body)
	}
	return answer.Body.String(), took, a.counts.Statements.Load() - statements, a.counts.Rows.Load() - rows
}

// paths names the pages whose cost is held against the years, and the path of each in this yard.
func (a asker) paths() map[string]string {
	return map[string]string{
		"Board": "/", "Round": "/round", "Horse": "/horse/" + string(a.filled.Horses[0]), "Horses": "/horses", "People": "/people",
		"Care plan": "/horse/" + string(a.filled.Horses[0]) + "/plan", "New plan": "/horse/" + string(a.filled.Horses[0]) + "/plan/new", "Due list": "/due", "Week sheet": "/due/week",
		"Reminders": "/reminders", "Remind me": "/reminders/me", "Yard rules": "/rules", "Needs a look": "/conflicts", "More": "/more",
		"For the vet": "/vet", "Sheet": "/horse/" + string(a.filled.Horses[0]) + "/vet", "Trend": "/horse/" + string(a.filled.Horses[0]) + "/trend",
		"Trend, all": "/horse/" + string(a.filled.Horses[0]) + "/trend?span=all", "Second readings": "/spread", "Caution rules": "/rules/cautions", "How wounds are judged": "/rules/healing",
	}
}

// Each page asks the same number of questions and reads the same number of rows whether the yard has as many
// days of looks behind it as the page that goes back furthest shows, or five years; and asks no more questions for twelve horses
// than for two.
func TestPagesDoNotGrowWithTheYears(t *testing.T) {
	month, years, many := newAsker(t, "", 2, care.TrendMost+2), newAsker(t, "", 2, 5*365+1), newAsker(t, "", 12, 31)
	for name := range month.paths() {
		for _, a := range []asker{month, years, many} {
			a.get(t, a.paths()[name]) // the first time statements are prepared
		}
		_, _, statements, rows := month.get(t, month.paths()[name])
		_, _, statements5, rows5 := years.get(t, years.paths()[name])
		if statements != statements5 || rows != rows5 {
			t.Errorf("%s: %d statements and %d rows with %d days, %d and %d with five years", name, statements, rows, care.TrendMost+2, statements5, rows5)
		}
		if _, _, more, _ := many.get(t, many.paths()[name]); more != statements {
			t.Errorf("%s: %d statements for 2 horses, %d for 12", name, statements, more)
		}
		if statements == 0 || rows == 0 {
			t.Errorf("%s: nothing was counted", name)
		}
		t.Logf("%s: %d statements, %d rows", name, statements, rows)
	}
}

// BenchmarkPages measures the median server time of the pages that are used daily, for 20 horses with five
// years of looks a day, and its ratio to the same page with one month of them. The pages show up to care.HorseSpan days
// and what was due in six weeks, which a month does not fill: "full" is held against a yard that fills them. The
// yards are asked in turns, so that they meet the same moods of the machine.
func BenchmarkPages(b *testing.B) {
	for name, where := range map[string]func(testing.TB) string{"sqlite": func(testing.TB) string { return "" }, "postgres": pgtest.URL} {
		b.Run(name, func(b *testing.B) {
			years := newAsker(b, where(b), 20, 5*365+1)
			month, full := newAsker(b, where(b), 20, 31), newAsker(b, where(b), 20, care.HorseSpan+1)
			for _, run := range []struct {
				name, page string
				against    asker
			}{{"Board", "Board", month}, {"Round", "Round", month}, {"Horse", "Horse", month}, {"Board, full", "Board", full}, {"Round, full", "Round", full}, {"Horse, full", "Horse", full}} {
				b.Run(run.name, func(b *testing.B) {
					page, month := run.page, run.against
					var short, long []float64
					var size int
					for b.Loop() {
						_, took, _, _ := month.get(b, month.paths()[page])
						short = append(short, took.Seconds()*1000)
						body, took, _, _ := years.get(b, years.paths()[page])
						long, size = append(long, took.Seconds()*1000), len(body)
					}
					b.ReportMetric(0, "ns/op")
					b.ReportMetric(median(short), "month-ms")
					b.ReportMetric(median(long), "years-ms")
					b.ReportMetric(median(long)/median(short), "ratio")
					b.ReportMetric(float64(size)/1024, "KiB")
				})
			}
		})
	}
}

func median(of []float64) float64 {
	slices.Sort(of)
	return of[len(of)/2]
}
