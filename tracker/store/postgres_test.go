package store_test

import (
	"context"
	"os"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5"

	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
	"leground/tracker/store/storetest"
	"leground/tracker/store/storetest/pgtest"
)

func TestPostgreSQL(t *testing.T) { storetest.Run(t, newPostgres) }

func connect(t testing.TB, url string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close(context.Background()) })
	return conn
}

func TestRowSecurity(t *testing.T) {
	url := pgtest.URL(t)
	storetest.RowSecurity(t, open(t, url), connect(t, url))
}

// TestServerGone stops the server under an open database and starts it again: the page can say so, and
// afterwards the first use works although every pooled connection is dead.
func TestServerGone(t *testing.T) {
	cluster := pgtest.Start(t)
	url := cluster.URL(t)
	db := open(t, url)
	p := storetest.NewHouse(t, db).Mine
	save := func() error {
		return db.Write(t.Context(), p.Yard.ID, func(tx care.Tx) error { return tx.AddCheck(storetest.Look(p, p.Wound, 0, tracker.Measured)) })
	}
	cluster.Kill(t)
	for what, err := range map[string]error{
		"a save": save(), "a ping": db.Ping(t.Context()),
		"a look": db.Read(t.Context(), p.Yard.ID, func(tx care.Tx) error { _, err := tx.Horses(); return err }),
	} {
		if tracker.KindOf(err) != tracker.Unavailable {
			t.Errorf("%s without a server: %v", what, err)
		}
	}
	cluster.Restart(t)
	if err := save(); err != nil {
		t.Errorf("a save after the server came back: %v", err)
	}
	if n := horses(t, db, p.Yard.ID); n != 3 {
		t.Errorf("%d horses after the server came back, want 3", n)
	}

	// The role that made the cluster stands above row security.
	super := strings.Replace(url, "postgres://leground@", "postgres://postgres@", 1)
	if _, err := store.Open(t.Context(), super, noon); err == nil || !strings.Contains(err.Error(), "row security") {
		t.Errorf("a role above row security was taken: %v", err)
	}
	if os.Getenv("LEGROUND_LONG") == "1" {
		storetest.Crash(t, 100, url, func(t testing.TB) *store.DB { return open(t, url) }, func() {
			cluster.Kill(t)
			cluster.Restart(t)
		})
	}
}

// kills is how often a child process is killed.
func kills() int {
	if os.Getenv("LEGROUND_LONG") == "1" {
		return 100
	}
	return 3
}

func TestCrash(t *testing.T) {
	t.Run("sqlite", func(t *testing.T) {
		folder := t.TempDir()
		storetest.Crash(t, kills(), folder, func(t testing.TB) *store.DB { return open(t, folder) }, nil)
	})
	t.Run("postgres", func(t *testing.T) {
		url := pgtest.URL(t)
		storetest.Crash(t, kills(), url, func(t testing.TB) *store.DB { return open(t, url) }, nil)
	})
}

func TestMain(m *testing.M) {
	if !storetest.Child() {
		os.Exit(m.Run())
	}
}
