package store_test

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"leground/migrations"
	"leground/tracker"
	"leground/tracker/care"
	"leground/tracker/store"
	"leground/tracker/store/storetest"
)

// TestBackup copies a database while sixteen writers work on it, restores the copy elsewhere and looks for
// everything that was acknowledged before the copy began, photo bytes included.
func TestBackup(t *testing.T) {
	folder, file, elsewhere := t.TempDir(), filepath.Join(t.TempDir(), "copy of today.db"), filepath.Join(t.TempDir(), "new")
	db := open(t, folder)
	p := storetest.NewHouse(t, db).Mine
	lived(t, db, p, 30)
	jpeg := bytes.Repeat([]byte{0xff, 0xd8, 1, 2, 3}, 70_000)
	photo := tracker.Photo{ID: "photo", Horse: p.Bramble.ID, Site: p.Wound.ID, At: noon, By: p.Ada.ID}
	if err := db.Write(t.Context(), p.Yard.ID, func(tx care.Tx) error { return tx.AddPhoto(photo, jpeg, jpeg[:9]) }); err != nil {
		t.Fatal(err)
	}
	before := everyCheck(t, db, p)
	ctx, stop := context.WithCancel(t.Context())
	var writers sync.WaitGroup
	for range 16 {
		writers.Go(func() {
			for ctx.Err() == nil {
				if err := db.Write(t.Context(), p.Yard.ID, func(tx care.Tx) error { return tx.AddCheck(storetest.Look(p, p.Wound, 0, tracker.Measured)) }); err != nil {
					t.Error(err)
					return
				}
			}
		})
	}
	err := store.Backup(t.Context(), folder, file) // as another process does
	stop()
	writers.Wait()
	if err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(file); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the copy: %v, %v", info, err)
	}
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(file), ".*")); left != nil {
		t.Errorf("left behind: %v", left)
	}

	if err := store.Restore(t.Context(), file, elsewhere); err != nil {
		t.Fatal(err)
	}
	restored := open(t, elsewhere)
	after := everyCheck(t, restored, p)
	for id := range before {
		if !after[id] {
			t.Errorf("check %s was saved before the copy and is not in it", id)
		}
	}
	err = restored.Read(t.Context(), p.Yard.ID, func(tx care.Tx) error {
		got, err := tx.PhotoBytes(photo.ID, false)
		if !bytes.Equal(got, jpeg) {
			t.Error("the photo's bytes differ in the copy")
		}
		return err
	})
	if err != nil {
		t.Error(err)
	}
	if err := restored.Write(t.Context(), p.Yard.ID, func(tx care.Tx) error { return tx.AddCheck(storetest.Look(p, p.Wound, 0, tracker.Measured)) }); err != nil {
		t.Errorf("a save into the restored copy: %v", err)
	}
}

func everyCheck(t *testing.T, db *store.DB, p storetest.Place) map[tracker.RecordID]bool {
	t.Helper()
	ids := map[tracker.RecordID]bool{}
	err := db.Read(t.Context(), p.Yard.ID, func(tx care.Tx) error {
		checks, err := tx.Checks(care.CheckQuery{})
		for _, c := range checks {
			ids[c.ID] = true
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return ids
}

// TestBackupRefuses tries what must not happen to somebody's records, and looks that nothing was touched.
func TestBackupRefuses(t *testing.T) {
	folder, other := t.TempDir(), t.TempDir()
	db := open(t, folder)
	p := storetest.NewHouse(t, db).Mine
	good, bad, short, junk, newer := filepath.Join(other, "good.db"), filepath.Join(other, "bad.db"), filepath.Join(other, "short.db"), filepath.Join(other, "junk.db"), filepath.Join(other, "newer.db")
	if err := db.Backup(t.Context(), good); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(good)
	if err != nil {
		t.Fatal(err)
	}
	spoiled := bytes.Clone(whole)
	for i := 5 * 4096; i < 9*4096; i++ {
		spoiled[i] ^= 0x5a
	}
	for name, data := range map[string][]byte{bad: spoiled, short: whole[:len(whole)/2], junk: []byte("Dear vet,"), newer: whole} {
		if err := os.WriteFile(name, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := raw(t, newer).Exec("INSERT INTO schema_step (number, name, sha256, applied_at) VALUES (999, 'later', 'x', 0)"); err != nil {
		t.Fatal(err)
	}
	empty := filepath.Join(other, "empty.db")
	if _, err := raw(t, empty).Exec("CREATE TABLE horse (name TEXT)"); err != nil {
		t.Fatal(err)
	}
	live, err := store.FileIn(folder)
	if err != nil {
		t.Fatal(err)
	}
	fresh := filepath.Join(other, "fresh")
	for what, c := range map[string]struct {
		do   func() error
		says string
	}{
		"a backup over a file":                  {func() error { return db.Backup(t.Context(), bad) }, "Nothing was replaced"},
		"a backup over the records":             {func() error { return db.Backup(t.Context(), live) }, "Nothing was replaced"},
		"a backup into a folder that is not":    {func() error { return db.Backup(t.Context(), filepath.Join(other, "no", "x.db")) }, "no such file"},
		"a backup of nothing":                   {func() error { return store.Backup(t.Context(), fresh, filepath.Join(other, "x.db")) }, "no records to copy"},
		"a restore over records":                {func() error { return store.Restore(t.Context(), good, folder) }, "Nothing was replaced"},
		"a restore of a spoiled copy":           {func() error { return store.Restore(t.Context(), bad, fresh) }, "not a whole copy"},
		"a restore of half a copy":              {func() error { return store.Restore(t.Context(), short, fresh) }, "not a whole copy"},
		"a restore of a letter":                 {func() error { return store.Restore(t.Context(), junk, fresh) }, "not a whole copy"},
		"a restore of somebody else's database": {func() error { return store.Restore(t.Context(), empty, fresh) }, "no records of Leground"},
		"a restore of a later version's copy":   {func() error { return store.Restore(t.Context(), newer, fresh) }, "newer version"},
		"a restore of records in use":           {func() error { return store.Restore(t.Context(), live, fresh) }, "-wal"},
		"a restore of a file that is not":       {func() error { return store.Restore(t.Context(), filepath.Join(other, "none.db"), fresh) }, "no such file"},
		"a backup of PostgreSQL":                {func() error { return newPostgres(t).Backup(t.Context(), filepath.Join(other, "pg.db")) }, "pg_dump"},
		"a backup whose caller has gone": {func() error {
			ctx, cancel := context.WithCancel(t.Context())
			cancel()
			return db.Backup(ctx, filepath.Join(other, "y.db"))
		}, "canceled"},
		"a restore beside a side file of records": {func() error { return besideWAL(t, good, filepath.Join(other, "side")) }, "Nothing was replaced"},
	} {
		if err := c.do(); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want %q", what, err, c.says)
		}
	}
	if now, err := os.ReadFile(bad); err != nil || !bytes.Equal(now, spoiled) {
		t.Errorf("a file was changed: %v", err)
	}
	if n := horses(t, db, p.Yard.ID); n != 3 {
		t.Errorf("%d horses after all that, want 3", n)
	}
	if _, err := os.Stat(fresh); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a restore that was refused left a folder: %v", err)
	}
	if left, _ := filepath.Glob(filepath.Join(other, ".*")); left != nil {
		t.Errorf("left behind: %v", left)
	}
}

func besideWAL(t *testing.T, copied, folder string) error {
	if err := os.MkdirAll(folder, 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(folder, store.FileName+"-wal"), []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	return store.Restore(t.Context(), copied, folder)
}

// TestCopyBefore makes the copy that stands beside the records before their schema changes.
func TestCopyBefore(t *testing.T) {
	folder := t.TempDir()
	db := open(t, folder)
	p := storetest.NewHouse(t, db).Mine
	if err := db.CopyBefore(t.Context(), 1, noon); err != nil {
		t.Fatal(err)
	}
	kept := open(t, filepath.Join(folder, "leground-step-0001-20260514T120000Z.db"))
	if n := horses(t, kept, p.Yard.ID); n != 3 {
		t.Errorf("%d horses in the copy, want 3", n)
	}
	if err := db.CopyBefore(t.Context(), 1, noon); err == nil {
		t.Error("a copy was written over another")
	}
}

// TestUpgrade opens a file as the first step of the schema left it: the records are there afterwards, in
// the newest schema, and beside them stands a copy as they were.
func TestUpgrade(t *testing.T) {
	latest, err := migrations.Latest()
	if err != nil {
		t.Fatal(err)
	}
	folder := t.TempDir()
	first := fstest.MapFS{}
	for _, name := range []string{"0001_start.sql"} {
		text, err := fs.ReadFile(migrations.Files(), name)
		if err != nil {
			t.Fatal(err)
		}
		first[name] = &fstest.MapFile{Data: text}
	}
	old := raw(t, filepath.Join(folder, store.FileName))
	if _, err := migrations.RunFiles(t.Context(), old, migrations.SQLite, first, noon); err != nil {
		t.Fatal(err)
	}
	yard := tracker.YardID(storetest.NewID())
	for _, text := range []string{
		`INSERT INTO yard VALUES ($1, 'Marlpit Yard', 'Europe/London', 'LF RF RH LH', 1, 1, '', '', '[]', 2000, 1, FALSE, 0, 0)`,
		`INSERT INTO horse VALUES ($1, 'h', 'Bramble', '', '', '', '', '', '', '', 'here', 1, 0)`,
	} {
		if _, err := old.Exec(text, yard); err != nil {
			t.Fatal(err)
		}
	}
	if err := old.Close(); err != nil {
		t.Fatal(err)
	}
	for range 2 { // the second opening finds nothing to do
		if n := horses(t, open(t, folder), yard); n != 1 {
			t.Errorf("%d horses after the upgrade, want 1", n)
		}
	}
	copies, err := filepath.Glob(filepath.Join(folder, "leground-step-0001-*.db"))
	if err != nil || len(copies) != 1 {
		t.Fatalf("copies: %v, %v", copies, err)
	}
	kept := raw(t, copies[0])
	if n, err := migrations.Applied(t.Context(), kept, migrations.SQLite); n != 1 || err != nil {
		t.Errorf("the copy has %d steps of %d, want 1: %v", n, latest, err)
	}
	var name string
	if err := kept.QueryRow(`SELECT name FROM horse WHERE yard_id = $1`, yard).Scan(&name); name != "Bramble" {
		t.Errorf("the copy's horse is %q: %v", name, err)
	}
}
