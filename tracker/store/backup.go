package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"leground/migrations"
	"leground/tracker"
)

// Backup writes a consistent copy of a SQLite database to a new file while it is in use. The copy holds
// everything, photos too. It is verified and on the disk before it gets its name, and never replaces a file.
func (db *DB) Backup(ctx context.Context, file string) error {
	if db.dialect() != migrations.SQLite {
		return tracker.Refuse(tracker.Invalid, "These records are in PostgreSQL. Copy them with its own tool: pg_dump --format=custom --file=FILE ADDRESS")
	}
	return Backup(ctx, db.file, file)
}

// Backup is the same for a database file, or the folder of one, that another process may have open.
func Backup(ctx context.Context, where, file string) error {
	from, err := FileIn(where)
	if err != nil {
		return err
	}
	if _, err := os.Stat(from); err != nil {
		return fmt.Errorf("there are no records to copy: %w", err)
	}
	return inPlace(ctx, file, func(temporary string) error {
		if err := lockByDescription(); err != nil {
			return err
		}
		db, err := sql.Open("sqlite", address(from))
		if err != nil {
			return err
		}
		if _, err = db.ExecContext(ctx, `VACUUM INTO $1`, temporary); err != nil {
			err = fmt.Errorf("the records in %s cannot be copied%s: %w", from, ifNoneOfOurs(err), err)
		}
		return errors.Join(err, db.Close())
	})
}

// Restore puts a backup where Open will look for it. It verifies the copy first, and refuses to replace a
// database that is there.
func Restore(ctx context.Context, file, where string) error {
	to, err := FileIn(where)
	if err != nil {
		return err
	}
	if file, err = filepath.Abs(file); err != nil {
		return err
	}
	if _, err := os.Stat(file); err != nil {
		return fmt.Errorf("the copy cannot be read: %w", err)
	}
	for _, side := range []string{"", "-wal", "-shm"} {
		if err := refuseExisting(to + side); err != nil {
			return err
		}
	}
	if s, err := os.Stat(file + "-wal"); err == nil && s.Size() > 0 {
		return fmt.Errorf("%s has a file %s beside it, so it is a database in use and no backup. Make one with: leground backup", file, filepath.Base(file)+"-wal")
	}
	if err := verify(ctx, file); err != nil { // before a folder is made for it
		return err
	}
	if err := makeFolder(filepath.Dir(to)); err != nil {
		return err
	}
	return inPlace(ctx, to, func(temporary string) error { return copyFile(file, temporary) })
}

// inPlace lets write fill an empty file beside the one that is wanted, verifies it, and gives it its name
// once it is on the disk.
func inPlace(ctx context.Context, file string, write func(temporary string) error) (err error) {
	if file, err = filepath.Abs(file); err != nil { // SQLite takes a relative path in an address for a host
		return err
	}
	if err := refuseExisting(file); err != nil {
		return err
	}
	folder := filepath.Dir(file)
	made, err := os.CreateTemp(folder, "."+filepath.Base(file)+"-*.part")
	if err != nil {
		return fmt.Errorf("%s cannot be made there: %w", file, err)
	}
	temporary := made.Name()
	defer func() {
		if e := os.Remove(temporary); e != nil && !errors.Is(e, fs.ErrNotExist) {
			err = errors.Join(err, e)
		}
	}()
	if err := made.Close(); err != nil {
		return err
	}
	if err := write(temporary); err != nil {
		return err
	}
	if err := verify(ctx, temporary); err != nil {
		return err
	}
	if err := syncPath(temporary); err != nil {
		return err
	}
	if err := giveName(temporary, file); err != nil {
		return err
	}
	return syncPath(folder)
}

func refuseExisting(file string) error {
	if _, err := os.Lstat(file); err == nil {
		return fmt.Errorf("there is a file %s already. Nothing was replaced: name another one, or move it away first", file)
	} else if !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s cannot be made there: %w", file, err)
	}
	return nil
}

// giveName renames without replacing: a second name first, where the file system has such, cannot hit a
// file that appeared meanwhile.
func giveName(temporary, file string) error {
	err := os.Link(temporary, file)
	if errors.Is(err, fs.ErrExist) {
		return refuseExisting(file)
	} else if err != nil {
		return os.Rename(temporary, file)
	}
	return nil
}

// syncPath waits until a file, or a folder's list of files, is on the disk.
func syncPath(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

func copyFile(from, to string) (err error) {
	source, err := os.Open(from)
	if err != nil {
		return err
	}
	defer source.Close() // it was only read
	target, err := os.OpenFile(to, os.O_WRONLY|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(target, source)
	return errors.Join(err, target.Close())
}

// verify refuses a file that is not a whole database of ours in a schema that this program knows.
func verify(ctx context.Context, file string) error {
	if err := lockByDescription(); err != nil {
		return err
	}
	db, err := sql.Open("sqlite", address(file, "mode=ro", "immutable=1"))
	if err != nil {
		return err
	}
	defer db.Close() // it was only read
	steps, err := migrations.Applied(ctx, db, migrations.SQLite)
	if err != nil {
		return fmt.Errorf("this is not a whole copy of the records: %w", err)
	}
	if steps == 0 {
		return errors.New("this file holds no records of Leground")
	}
	for _, pragma := range []string{"integrity_check", "foreign_key_check"} {
		if err := findFaults(ctx, db, pragma); err != nil {
			return fmt.Errorf("this is not a whole copy of the records: %w", err)
		}
	}
	return nil
}

// findFaults runs a pragma that gives a row for each fault it finds, and gives them as an error.
func findFaults(ctx context.Context, db *sql.DB, pragma string) error {
	rows, err := db.QueryContext(ctx, "SELECT * FROM pragma_"+pragma)
	if err != nil {
		return err
	}
	defer rows.Close()
	columns, err := rows.Columns()
	if err != nil {
		return err
	}
	var faults []string
	for rows.Next() {
		texts := make([]sql.NullString, len(columns))
		into := make([]any, len(columns))
		for i := range texts {
			into[i] = &texts[i]
		}
		if err := rows.Scan(into...); err != nil {
			return err
		}
		if texts[0].String != "ok" {
			faults = append(faults, pragma+": "+texts[0].String)
		}
	}
	if len(faults) > 0 {
		return errors.New(strings.Join(faults[:min(len(faults), 5)], "; "))
	}
	return rows.Err()
}
