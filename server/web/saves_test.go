package web_test

import (
	"bufio"
	"context"
	"database/sql"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"leground/server/webtest"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
	"leground/tracker/store/storetest/pgtest"
)

// saver is a yard that is saved into over HTTP, and the floor beneath it: the rows that one save leaves,
// committed straight through the driver into the same database.
type saver struct {
	site  *webtest.Site
	yards []savedYard
	floor *sql.DB
	plain *httptest.Server // commits the same row for each request and does nothing else
	bind  string           // names the yard to PostgreSQL's row security
}

// phone is one person's connection. It does no more than HTTP asks for, since it is not what is measured.
type phone struct {
	conn net.Conn
	in   *bufio.Reader
}

// savedYard is one yard of a saver: the form that is sent, and the row that it leaves.
type savedYard struct {
	session string
	form    url.Values
	horses  []tracker.HorseID
	sent    *atomic.Int64
	names   []string
	row     []any
	yard    string
}

// perYard is how many horses a yard has.
const perYard = 20

// next gives the form of the next leg line: horse by horse, leg by leg, and a round earlier when every leg has
// its line, as a yard's book is: no leg has two in one round.
func (y savedYard) next() url.Values {
	n := int(y.sent.Add(1))
	form := url.Values{}
	for name, values := range y.form {
		form[name] = values
	}
	round := n / (4 * perYard)
	day := tracker.DateOf(webtest.Noon()) - 1 - tracker.Date(round/2)
	slot := tracker.DefaultSlots()[round%2]
	form["record"], form["horse"], form["leg"] = []string{care.NewID()}, []string{string(y.horses[n%perYard])}, []string{tracker.Legs()[n/perYard%4].String()}
	form["round_day"], form["slot"] = []string{day.String()}, []string{slot.Name}
	form["at"] = []string{day.Time().Add(time.Duration(slot.At) * time.Minute).Format(time.RFC3339)}
	return form
}

func newSaver(b *testing.B, where string, yards int) *saver {
	b.Helper()
	s := &saver{site: webtest.Start(b, webtest.Options{Where: where})}
	var err error
	if where == "" {
		s.floor, err = sql.Open("sqlite", "file:"+filepath.Join(s.site.Where, store.FileName)+
			"?_pragma=busy_timeout(5000)&_pragma=foreign_keys(1)&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_txlock=immediate")
	} else {
		s.bind = "SELECT set_config('leground.yard', $1, true)"
		s.floor, err = sql.Open("pgx", where)
	}
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { s.floor.Close() })
	connections := 16
	if where == "" {
		connections = 1 // more only wait for one another
	}
	s.floor.SetMaxOpenConns(connections)
	s.floor.SetMaxIdleConns(connections)
	s.plain = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		who, err := strconv.Atoi(r.FormValue("who"))
		if err == nil {
			err = s.commit(r.Context(), who)
		}
		if err != nil {
			http.Error(w, err.Error(), http.StatusInternalServerError)
		}
	}))
	b.Cleanup(s.plain.Close)
	for i := range yards {
		owner := s.site.OpenYard(fmt.Sprintf("Yard %d", i), "Ada")
		var horses []tracker.HorseID
		for n := range perYard {
			horses = append(horses, owner.TakesIn(fmt.Sprintf("Horse %d", n)))
		}
		form := owner.Line(horses[0], "LF").With("clear", "1").With("care", "washed") // the most common: nothing to note
		before := s.site.Dump()
		owner.Send(form).Redirects("/round")
		for table, rows := range s.site.Dump() {
			if n := len(rows) - len(before[table]); n != 0 && (table != "leg_check" || n != 1) {
				b.Fatalf("a save leaves %d rows of %s: the floor must commit them too", n, table)
			}
		}
		y := s.row(b, form.Values)
		y.session, y.horses, y.sent = owner.Session(), horses, &atomic.Int64{}
		s.yards = append(s.yards, y)
	}
	return s
}

// row reads back what a save left.
func (s *saver) row(b *testing.B, form url.Values) savedYard {
	b.Helper()
	out := savedYard{form: form}
	tx, err := s.floor.Begin()
	if err != nil {
		b.Fatal(err)
	}
	defer tx.Rollback()
	if s.bind != "" {
		if _, err := tx.Exec(s.bind, "*"); err != nil {
			b.Fatal(err)
		}
	}
	rows, err := tx.Query("SELECT * FROM leg_check WHERE record_id = $1", form.Get("record"))
	if err != nil {
		b.Fatal(err)
	}
	defer rows.Close()
	if out.names, err = rows.Columns(); err != nil || !rows.Next() {
		b.Fatal("the look that was saved is not there", err)
	}
	out.row = make([]any, len(out.names))
	into := make([]any, len(out.names))
	for i := range into {
		into[i] = &out.row[i]
	}
	if err := rows.Scan(into...); err != nil {
		b.Fatal(err)
	}
	out.yard = out.row[slices.Index(out.names, "yard_id")].(string)
	return out
}

// insert is the statement that leaves a saved row, and commit runs it as one durable transaction.
func (y savedYard) insert() string {
	places := make([]string, len(y.names))
	for i := range places {
		places[i] = "$" + strconv.Itoa(i+1)
	}
	return "INSERT INTO leg_check (" + strings.Join(y.names, ", ") + ") VALUES (" + strings.Join(places, ", ") + ")"
}

func (s *saver) commit(ctx context.Context, who int) error {
	y := s.yards[who%len(s.yards)]
	row := slices.Clone(y.row)
	id := care.NewID()
	row[slices.Index(y.names, "record_id")], row[slices.Index(y.names, "root_id")] = id, id
	tx, err := s.floor.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // after a commit it does nothing
	if s.bind != "" {
		if _, err := tx.ExecContext(ctx, s.bind, y.yard); err != nil {
			return err
		}
	}
	if _, err := tx.ExecContext(ctx, y.insert(), row...); err != nil {
		return err
	}
	return tx.Commit()
}

// save sends the form with a new record id to the round's address on a site and waits for the answer.
func (s *saver) save(p *phone, who int) error {
	y := s.yards[who%len(s.yards)]
	body := y.next().Encode()
	if _, err := fmt.Fprintf(p.conn, "POST /round/leg?who=%d HTTP/1.1\r\nHost: %s\r\nContent-Type: application/x-www-form-urlencoded\r\n"+
		"Accept: application/json\r\nCookie: leground=%s\r\nContent-Length: %d\r\n\r\n%s", who, p.conn.RemoteAddr(), y.session, len(body), body); err != nil {
		return err
	}
	res, err := http.ReadResponse(p.in, nil)
	if err != nil {
		return err
	}
	defer res.Body.Close()
	if _, err := io.Copy(io.Discard, res.Body); err != nil {
		return err
	}
	if res.StatusCode != http.StatusOK {
		return fmt.Errorf("a save answers %d", res.StatusCode)
	}
	return nil
}

// over gives what each of several clients does: it saves over a connection of its own to a site.
func (s *saver) over(b *testing.B, clients int, site string) func(ctx context.Context, who int) error {
	b.Helper()
	phones := make([]*phone, clients)
	for i := range phones {
		conn, err := net.Dial("tcp", strings.TrimPrefix(site, "http://"))
		if err != nil {
			b.Fatal(err)
		}
		b.Cleanup(func() { conn.Close() })
		phones[i] = &phone{conn, bufio.NewReader(conn)}
	}
	return func(_ context.Context, who int) error { return s.save(phones[who], who) }
}

// BenchmarkSaves measures durable saves of a leg line through HTTP against the floor, in turns, so that all
// meet the same moods of the machine: ratio is saves a second over the floor's. http-ratio is the same of a server that
// only commits the row: no way of saving over HTTP that commits each row by itself can do better. For PostgreSQL its own
// tool, pgbench, commits the same row too. The faster the disk takes a flush, the more of a save is not the commit.
func BenchmarkSaves(b *testing.B) {
	for _, kind := range []string{"sqlite", "postgres"} {
		for _, clients := range []int{1, 16} {
			for _, yards := range slices.Compact([]int{1, clients}) {
				b.Run(fmt.Sprintf("%s/clients=%d/yards=%d", kind, clients, yards), func(b *testing.B) {
					where := ""
					if kind == "postgres" {
						where = pgtest.URL(b)
					}
					s := newSaver(b, where, yards)
					var saved, bare, plain time.Duration
					save, plainly := s.over(b, clients, s.site.URL), s.over(b, clients, s.plain.URL)
					for range 4 { // statements are prepared, connections opened
						s.together(b, clients, 4*clients, save)
						s.together(b, clients, 4*clients, plainly)
						s.together(b, clients, 4*clients, s.commit)
					}
					if where != "" {
						pgtest.Analyze(b, where)
					}
					batch := 4 * clients
					b.ResetTimer()
					for done := 0; done < b.N; done += batch {
						n := min(batch, b.N-done)
						saved += s.together(b, clients, n, save)
						plain += s.together(b, clients, n, plainly)
						bare += s.together(b, clients, n, s.commit)
					}
					b.ReportMetric(0, "ns/op")
					b.ReportMetric(float64(b.N)/saved.Seconds(), "saves/s")
					b.ReportMetric(float64(b.N)/bare.Seconds(), "floor/s")
					b.ReportMetric(bare.Seconds()/saved.Seconds(), "ratio")
					b.ReportMetric(bare.Seconds()/plain.Seconds(), "http-ratio")
					if where != "" && yards == 1 {
						tps := s.pgbench(b, where, clients)
						b.ReportMetric(tps, "pgbench/s")
						b.ReportMetric(float64(b.N)/saved.Seconds()/tps, "ratio-to-pgbench")
					}
				})
			}
		}
	}
}

// together shares n calls among clients and tells how long all took.
func (s *saver) together(b *testing.B, clients, n int, do func(ctx context.Context, who int) error) time.Duration {
	b.Helper()
	var next atomic.Int64
	var all sync.WaitGroup
	start := time.Now()
	for who := range clients {
		all.Go(func() {
			for next.Add(1) <= int64(n) {
				if err := do(b.Context(), who); err != nil {
					b.Error(err)
				}
			}
		})
	}
	all.Wait()
	return time.Since(start)
}

// pgbench commits the same row with PostgreSQL's own tool and gives transactions a second.
func (s *saver) pgbench(b *testing.B, where string, clients int) float64 {
	b.Helper()
	y := s.yards[0]
	literals := make([]string, len(y.row))
	for i, v := range y.row {
		switch v := v.(type) {
		case string:
			literals[i] = "'" + strings.ReplaceAll(v, "'", "''") + "'"
		case nil:
			literals[i] = "NULL"
		default:
			literals[i] = fmt.Sprint(v)
		}
		if y.names[i] == "record_id" || y.names[i] == "root_id" {
			literals[i] = ":id"
		}
	}
	script := "BEGIN;\nSELECT set_config('leground.yard', '" + y.yard + "', true), gen_random_uuid() AS id \\gset\n" +
		"INSERT INTO leg_check (" + strings.Join(y.names, ", ") + ") VALUES (" + strings.Join(literals, ", ") + ");\nCOMMIT;\n"
	file := filepath.Join(b.TempDir(), "save.sql")
	if err := os.WriteFile(file, []byte(script), 0o600); err != nil {
		b.Fatal(err)
	}
	n := strconv.Itoa(clients)
	out, err := exec.Command(pgtest.Tool(b, "pgbench"), "-n", "-M", "prepared", "-T", "3", "-c", n, "-j", "2", "-f", file, where).CombinedOutput()
	_, after, found := strings.Cut(string(out), "tps = ")
	word, _, _ := strings.Cut(after, " ")
	tps, wrong := strconv.ParseFloat(word, 64)
	if err != nil || !found || wrong != nil {
		b.Fatalf("pgbench: %v\n%s", err, out)
	}
	return tps
}
