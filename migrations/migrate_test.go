package migrations

import (
	"context"
	"database/sql"
	"fmt"
	"io/fs"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/fstest"
	"time"

	_ "github.com/jackc/pgx/v5/stdlib"
	_ "modernc.org/sqlite"

	"leground/tracker/store/storetest/pgtest"
)

var noon = time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)

// both runs a test on a fresh database of each kind; every call of open gives another pool on it.
func both(t *testing.T, test func(t *testing.T, d Dialect, open func() *sql.DB)) {
	t.Run("sqlite", func(t *testing.T) {
		path := filepath.Join(t.TempDir(), "t.db")
		test(t, SQLite, func() *sql.DB {
			return openDB(t, "sqlite", "file:"+path+"?_pragma=busy_timeout(10000)&_pragma=foreign_keys(1)&_txlock=immediate")
		})
	})
	t.Run("postgres", func(t *testing.T) {
		url := pgtest.URL(t)
		test(t, PostgreSQL, func() *sql.DB { return openDB(t, "pgx", url) })
	})
}

func openDB(t *testing.T, driver, address string) *sql.DB {
	t.Helper()
	db, err := sql.Open(driver, address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

// steps makes a file system of name, text, name, text ...
func steps(pairs ...string) fs.FS {
	files := fstest.MapFS{}
	for i := 0; i < len(pairs); i += 2 {
		files[pairs[i]] = &fstest.MapFile{Data: []byte(pairs[i+1])}
	}
	return files
}

// run applies files and requires how many were applied and what the error says; "" is no error.
func run(t *testing.T, db *sql.DB, d Dialect, files fs.FS, want int, complaint ...string) {
	t.Helper()
	n, err := RunFiles(t.Context(), db, d, files, noon)
	if n != want {
		t.Errorf("%d steps applied, want %d", n, want)
	}
	if len(complaint) == 0 && err != nil {
		t.Errorf("error: %v", err)
	}
	for _, c := range complaint {
		if err == nil || !strings.Contains(err.Error(), c) {
			t.Errorf("error %q does not say %q", fmt.Sprint(err), c)
		}
	}
}

// number asks the database for one number; -1 when the question cannot be asked.
func number(db *sql.DB, query string) int {
	var n int
	if err := db.QueryRowContext(context.Background(), query).Scan(&n); err != nil {
		return -1
	}
	return n
}

func TestStepsAreAppliedOnceAndRecorded(t *testing.T) {
	both(t, func(t *testing.T, d Dialect, open func() *sql.DB) {
		db := open()
		one := []string{"0001_start.sql", "CREATE TABLE horse (name TEXT NOT NULL);\nINSERT INTO horse (name) VALUES ('Bramble');"}
		two := append(one, "0002_more.sql", "-- a comment; with a semicolon\nINSERT INTO horse (name) VALUES ('Old Tom'); INSERT INTO horse (name) VALUES ('Juniper');\n")
		run(t, db, d, steps(one...), 1)
		run(t, db, d, steps(one...), 0)
		run(t, db, d, steps(two...), 1)
		run(t, db, d, steps(two...), 0)
		if n := number(db, "SELECT count(*) FROM horse"); n != 3 {
			t.Errorf("%d horses, want 3", n)
		}
		var name, sum string
		var at int64
		if err := db.QueryRow("SELECT name, sha256, applied_at FROM schema_step WHERE number = 1").Scan(&name, &sum, &at); err != nil {
			t.Fatal(err)
		}
		// The sum is what coreutils' sha256sum prints for the text of one[1].
		const coreutils = "9d204a0d37670a89584e3efe91d8abdd9df12657a27d150767ad29e625035d54"
		if name != "start" || sum != coreutils || at != noon.UnixMilli() {
			t.Errorf("recorded %s, %s, %d", name, sum, at)
		}
	})
}

func TestPostgresPartsRunOnlyThere(t *testing.T) {
	both(t, func(t *testing.T, d Dialect, open func() *sql.DB) {
		db := open()
		run(t, db, d, steps(
			"0001_start.sql", "CREATE TABLE horse (name TEXT)",
			"0001_start.postgres.sql", "ALTER TABLE horse ENABLE ROW LEVEL SECURITY; INSERT INTO horse VALUES ('Bramble')",
			"0002_more.sql", "CREATE TABLE leg (name TEXT)"), 2)
		want := map[Dialect]int{SQLite: 0, PostgreSQL: 1}[d]
		if n := number(db, "SELECT count(*) FROM horse"); n != want {
			t.Errorf("%d rows, want %d", n, want)
		}
		run(t, db, d, steps(
			"0001_start.sql", "CREATE TABLE horse (name TEXT)",
			"0001_start.postgres.sql", "-- edited",
			"0002_more.sql", "CREATE TABLE leg (name TEXT)"), 0, map[Dialect][]string{PostgreSQL: {"in other words"}}[d]...)
	})
}

func TestAFailingStepLeavesNothingOfItself(t *testing.T) {
	both(t, func(t *testing.T, d Dialect, open func() *sql.DB) {
		db := open()
		good := "CREATE TABLE horse (name TEXT)"
		bad := "CREATE TABLE leg (name TEXT); INSERT INTO horse VALUES ('Bramble'); INSERT INTO nowhere VALUES (1)"
		run(t, db, d, steps("0001_start.sql", good, "0002_leg.sql", bad, "0003_end.sql", "SELECT 1"), 1, "0002_leg.sql", "nowhere")
		if horses, legs := number(db, "SELECT count(*) FROM horse"), number(db, "SELECT count(*) FROM leg"); horses != 0 || legs != -1 {
			t.Errorf("%d horses, %d legs: the failed step left something", horses, legs)
		}
		run(t, db, d, steps("0001_start.sql", good, "0002_leg.sql", "CREATE TABLE leg (name TEXT)"), 1)
	})
}

func TestForeignHistoriesAreRefused(t *testing.T) {
	both(t, func(t *testing.T, d Dialect, open func() *sql.DB) {
		db := open()
		one := []string{"0001_start.sql", "CREATE TABLE horse (name TEXT)"}
		two := append(one, "0002_leg.sql", "CREATE TABLE leg (name TEXT)")
		run(t, db, d, steps(two...), 2)
		run(t, db, d, steps(one...), 0, "newer version", "0002 (leg)", "2026-05-14", "ends at step 0001", "Run that newer version")
		run(t, db, d, steps("0001_start.sql", "CREATE TABLE horse (name  TEXT)", "0002_leg.sql", two[3], "0003_foot.sql", "CREATE TABLE foot (name TEXT)"),
			0, "0001 (start)", "in other words", "restore a backup")
		if n := number(db, "SELECT count(*) FROM foot"); n != -1 {
			t.Error("a step was applied to a database that should have been refused")
		}
		if _, err := db.Exec("DELETE FROM schema_step WHERE number = 1"); err != nil {
			t.Fatal(err)
		}
		run(t, db, d, steps(two...), 0, "damaged", "0001")
	})
}

func TestManyStartersOnAnEmptyDatabase(t *testing.T) {
	both(t, func(t *testing.T, d Dialect, open func() *sql.DB) {
		const starters, count = 8, 5
		var pairs []string
		pairs = append(pairs, "0001_s.sql", "CREATE TABLE mark (n BIGINT)")
		for i := 2; i <= count; i++ {
			pairs = append(pairs, fmt.Sprintf("%04d_s.sql", i), fmt.Sprintf("CREATE TABLE t%d (n BIGINT); INSERT INTO mark VALUES (%d)", i, i))
		}
		files, total := steps(pairs...), 0
		var group sync.WaitGroup
		var mu sync.Mutex
		for range starters {
			db := open()
			group.Go(func() {
				n, err := RunFiles(t.Context(), db, d, files, noon)
				mu.Lock()
				defer mu.Unlock()
				total += n
				if err != nil {
					t.Error(err)
				}
			})
		}
		group.Wait()
		if marks := number(open(), "SELECT count(*) FROM mark"); total != count || marks != count-1 {
			t.Errorf("%d steps reported and %d marks, want %d and %d", total, marks, count, count-1)
		}
	})
}

func TestAnUpToDateDatabaseIsOnlyRead(t *testing.T) {
	path := filepath.Join(t.TempDir(), "t.db")
	files := steps("0001_start.sql", "CREATE TABLE horse (name TEXT)")
	run(t, openDB(t, "sqlite", "file:"+path+"?_txlock=immediate"), SQLite, files, 1)
	readOnly := openDB(t, "sqlite", "file:"+path+"?mode=ro&_txlock=immediate")
	run(t, readOnly, SQLite, files, 0)
	run(t, readOnly, SQLite, steps("0001_start.sql", "CREATE TABLE horse (name TEXT)", "0002_leg.sql", "SELECT 1"), 0, "readonly")
}

func TestBadStepFilesAreRefused(t *testing.T) {
	db := openDB(t, "sqlite", "file:"+filepath.Join(t.TempDir(), "t.db"))
	for _, c := range []struct {
		complaint string
		files     fs.FS
	}{
		{"1_start.sql is not named like", steps("1_start.sql", "SELECT 1")},
		{"0001_Start.sql is not named like", steps("0001_Start.sql", "SELECT 1")},
		{"0002_leg.sql stands where step 0001 is due", steps("0002_leg.sql", "SELECT 1")},
		{"0003_c.sql stands where step 0002 is due", steps("0001_a.sql", "SELECT 1", "0003_c.sql", "SELECT 1")},
		{"0001_b.sql stands where step 0002 is due", steps("0001_a.sql", "SELECT 1", "0001_b.sql", "SELECT 1")},
		{"0001_b.postgres.sql has no common step", steps("0001_a.sql", "SELECT 1", "0001_b.postgres.sql", "SELECT 1")},
	} {
		run(t, db, SQLite, c.files, 0, c.complaint)
	}
	run(t, db, 0, steps(), 0, "no such dialect")
}

func TestTheBuiltInSteps(t *testing.T) {
	latest, err := Latest()
	if err != nil || latest < 1 {
		t.Fatalf("latest is %d (%v)", latest, err)
	}
	both(t, func(t *testing.T, d Dialect, open func() *sql.DB) {
		db := open()
		for i, want := range []int{latest, 0} {
			before, err := Applied(t.Context(), db, d)
			if err != nil || before != latest-want {
				t.Errorf("%d steps before run %d (%v)", before, i+1, err)
			}
			if n, err := Run(t.Context(), db, d, noon); n != want || err != nil {
				t.Errorf("run %d applied %d steps, want %d (%v)", i+1, n, want, err)
			}
		}
	})
}
