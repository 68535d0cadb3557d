package store_test

import (
	"context"
	"database/sql"
	"fmt"
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

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
	"leground/tracker/store/storetest"
	"leground/tracker/store/storetest/pgtest"
)

// BenchmarkSave measures durable saves of a check as the use case makes them (is the record there? which
// site? add the check, keep the judgement, write the audit line) against a floor: the same three rows
// committed straight through the driver, in the same run, into a database with the same schema, by as many
// at once. ratio is saves a second over the floor's. With one yard all write into that one, whose writes
// follow one another. For PostgreSQL its own tool, pgbench, commits the same rows too.
func BenchmarkSave(b *testing.B) {
	for _, kind := range []struct {
		name string
		open func(testing.TB) (db *store.DB, floor *sql.DB, bind, address string)
	}{{"sqlite", sqliteFloor}, {"postgres", postgresFloor}} {
		for _, writers := range []int{1, 16} {
			for _, yards := range slices.Compact([]int{1, writers}) {
				b.Run(fmt.Sprintf("%s/writers=%d/yards=%d", kind.name, writers, yards), func(b *testing.B) {
					db, floor, bind, address := kind.open(b)
					places := make([]storetest.Place, yards)
					for i := range places {
						places[i] = storetest.NewHouse(b, db).Mine
					}
					for i := range 320 {
						if err := saveCheck(b.Context(), db, places[i%yards]); err != nil {
							b.Fatal(err)
						}
					}
					if bind != "" { // PostgreSQL looks at its tables by itself, but only once a minute
						if _, err := floor.Exec("ANALYZE"); err != nil {
							b.Fatal(err)
						}
					}
					var save, bare time.Duration
					const batch = 32
					b.ResetTimer()
					for done := 0; done < b.N; done += batch { // in turns, so that both meet the same moods of the machine
						n := min(batch, b.N-done)
						save += atOnce(b, writers, n, func(i int) error { return saveCheck(b.Context(), db, places[i%yards]) })
						bare += atOnce(b, writers, n, func(i int) error { return floorCheck(b.Context(), floor, bind, places[i%yards]) })
					}
					b.ReportMetric(float64(b.N)/save.Seconds(), "saves/s")
					b.ReportMetric(float64(b.N)/bare.Seconds(), "floor/s")
					b.ReportMetric(bare.Seconds()/save.Seconds(), "ratio")
					if address != "" && yards == 1 {
						tps := pgbench(b, address, places[0], writers)
						b.ReportMetric(tps, "pgbench/s")
						b.ReportMetric(float64(b.N)/save.Seconds()/tps, "ratio-to-pgbench")
					}
				})
			}
		}
	}
}

// atOnce shares n calls among writers and tells how long all took.
func atOnce(b *testing.B, writers, n int, do func(writer int) error) time.Duration {
	var next atomic.Int64
	var all sync.WaitGroup
	start := time.Now()
	for w := range writers {
		all.Go(func() {
			for next.Add(1) <= int64(n) {
				if err := do(w); err != nil {
					b.Error(err)
				}
			}
		})
	}
	all.Wait()
	return time.Since(start)
}

func saveCheck(ctx context.Context, db *store.DB, p storetest.Place) error {
	check := storetest.Look(p, p.Wound, 0, tracker.Measured)
	return db.Write(ctx, p.Yard.ID, func(tx care.Tx) error {
		if _, err := tx.CheckByRecord(check.ID); tracker.KindOf(err) != tracker.NotFound {
			return err
		}
		if _, err := tx.Site(check.Site); err != nil {
			return err
		}
		if err := tx.AddCheck(check); err != nil {
			return err
		}
		if err := tx.SaveJudgement(tracker.Judgement{Site: check.Site, Day: check.Day, Label: "closing", Reason: "It closes.", MadeAt: noon}); err != nil {
			return err
		}
		return tx.AddAudit(care.Audit{ID: storetest.NewID(), At: noon, By: check.By, Action: "check added", Subject: string(check.ID)})
	})
}

const (
	floorInsert = `INSERT INTO leg_check (yard_id, record_id, root_id, version, subject, outcome, horse_id, leg, site_id, seen_at, day,
		device_at, server_at, written_at, clock_off, round_day, slot, person_id, looker_id, size_answer, length_mm, width_mm, depth_mm,
		bed, bed_mm, method, scab, bandage, hair, clipped, sedated, skin_seen, signs, dangers, flags, care, vitals, skip_reason, note, content_hash)
		VALUES ($1, $2, $2, 1, 'site', 'looked', $3, 'RH', $4, $5, '2026-05-14', 0, $5, 0, 0, '', '', $6, $6, 'measured', 40, 30, 0,
		'', 0, 'ruler', FALSE, FALSE, FALSE, FALSE, FALSE, FALSE, '{}', '[]', '[]', '[]', '{}', '', '', 'hash')`
	floorJudgement = `INSERT INTO judgement (yard_id, site_id, day, label, body, made_at) VALUES ($1, $2, '2026-05-14', 'closing', '{"reason":"It closes."}', $3)
		ON CONFLICT (yard_id, site_id, day) DO UPDATE SET label = excluded.label, body = excluded.body, made_at = excluded.made_at`
	floorAudit = `INSERT INTO audit (yard_id, audit_id, at, person_id, device, action, subject, detail) VALUES ($1, $2, $3, $4, '', 'check added', $2, '')`
)

// floorCheck commits the rows of saveCheck with nothing around them.
func floorCheck(ctx context.Context, db *sql.DB, bind string, p storetest.Place) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // after a commit it does nothing
	yard, id, at := string(p.Yard.ID), storetest.NewID(), noon.UnixMilli()
	if bind != "" {
		if _, err := tx.ExecContext(ctx, bind, yard); err != nil {
			return err
		}
	}
	if _, err := tx.ExecContext(ctx, floorInsert, yard, id, string(p.Bramble.ID), string(p.Wound.ID), at, string(p.Ada.ID)); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, floorJudgement, yard, string(p.Wound.ID), at); err != nil {
		return err
	}
	if _, err := tx.ExecContext(ctx, floorAudit, yard, id, at, string(p.Ada.ID)); err != nil {
		return err
	}
	return tx.Commit()
}

// sqliteFloor opens a database and the same file straight through the driver, with the same promises of
// durability and one connection, which is what SQLite writes fastest with.
func sqliteFloor(b testing.TB) (*store.DB, *sql.DB, string, string) {
	folder := b.TempDir()
	db := open(b, folder)
	floor, err := sql.Open("sqlite", "file:"+filepath.Join(folder, store.FileName)+
		"?_pragma=busy_timeout(5000)&_pragma=foreign_keys(1)&_pragma=journal_mode(WAL)&_pragma=synchronous(FULL)&_txlock=immediate")
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { floor.Close() })
	floor.SetMaxOpenConns(1)
	return db, floor, "", ""
}

// postgresFloor does the same; row security must be told the yard before it lets a row in.
func postgresFloor(b testing.TB) (*store.DB, *sql.DB, string, string) {
	url := pgtest.URL(b)
	db := open(b, url)
	floor, err := sql.Open("pgx", url)
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() { floor.Close() })
	floor.SetMaxOpenConns(16)
	floor.SetMaxIdleConns(16)
	return db, floor, "SELECT set_config('leground.yard', $1, true)", url
}

// pgbench commits the rows of saveCheck for two seconds and gives how many such commits a second it made.
func pgbench(b *testing.B, url string, p storetest.Place, writers int) float64 {
	b.Helper()
	fill := func(text string, args ...string) string {
		for i, arg := range args {
			text = strings.ReplaceAll(text, fmt.Sprintf("$%d", i+1), arg)
		}
		return text
	}
	quote := func(id string) string { return "'" + id + "'" }
	yard, site, ada, at := quote(string(p.Yard.ID)), quote(string(p.Wound.ID)), quote(string(p.Ada.ID)), strconv.FormatInt(noon.UnixMilli(), 10)
	script := strings.Join([]string{
		"BEGIN;", fill("SELECT set_config('leground.yard', $1, true), gen_random_uuid() AS id \\gset", yard),
		fill(floorInsert, yard, ":id", quote(string(p.Bramble.ID)), site, at, ada) + ";", fill(floorJudgement, yard, site, at) + ";",
		fill(floorAudit, yard, ":id", at, ada) + ";", "COMMIT;", "",
	}, "\n")
	file := filepath.Join(b.TempDir(), "save.sql")
	if err := os.WriteFile(file, []byte(script), 0o600); err != nil {
		b.Fatal(err)
	}
	clients := strconv.Itoa(writers)
	out, err := exec.Command(pgtest.Tool(b, "pgbench"), "-n", "-M", "prepared", "-T", "2", "-c", clients, "-j", clients, "-f", file, url).CombinedOutput()
	_, after, found := strings.Cut(string(out), "tps = ")
	word, _, _ := strings.Cut(after, " ")
	tps, e := strconv.ParseFloat(word, 64)
	if err != nil || !found || e != nil {
		b.Fatalf("pgbench: %v\n%s", err, out)
	}
	return tps
}
