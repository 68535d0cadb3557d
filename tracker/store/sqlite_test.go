package store_test

import (
	"testing"
	"time"

	"leground/tracker/store"
	"leground/tracker/store/storetest"
	"leground/tracker/store/storetest/pgtest"
)

var noon = time.Date(2026, 5, 14, 12, 0, 0, 0, time.UTC)

// open opens a database that is closed with the test.
func open(t testing.TB, where string) *store.DB {
	t.Helper()
	db, err := store.Open(t.Context(), where, noon)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return db
}

func newSQLite(t testing.TB) *store.DB   { return open(t, t.TempDir()) }
func newPostgres(t testing.TB) *store.DB { return open(t, pgtest.URL(t)) }

func TestSQLite(t *testing.T) { storetest.Run(t, newSQLite) }
