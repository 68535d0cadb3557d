package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"modernc.org/sqlite"

	"leground/migrations"
)

// sqliteReaders is how many connections read at once. One more writes.
const sqliteReaders = 4

// sqliteEngine is a SQLite file: any number of readers, each of which sees one state throughout, and one
// writer, whose transactions are immediate, so that one waits for another at its start and none fails half
// way.
type sqliteEngine struct {
	write, read *pool
}

// pool is a set of connections with the statements that were prepared on them.
type pool struct {
	*sql.DB
	prepared sync.Map // SQL text to *sql.Stmt
}

func (e *sqliteEngine) dialect() migrations.Dialect    { return migrations.SQLite }
func (e *sqliteEngine) ping(ctx context.Context) error { return e.read.PingContext(ctx) }
func (e *sqliteEngine) close() error {
	return errors.Join(e.write.Close(), e.read.Close())
}

func openSQLite(ctx context.Context, file string, now time.Time) (*DB, error) {
	if err := lockByDescription(); err != nil {
		return nil, err
	}
	if err := makeFile(file); err != nil {
		return nil, err
	}
	write, err := openFile(file, 1, "_pragma=journal_mode(WAL)", "_pragma=journal_size_limit(67108864)", "_txlock=immediate")
	if err != nil {
		return nil, err
	}
	read, err := openFile(file, sqliteReaders, "_query_only=1")
	if err != nil {
		return nil, errors.Join(err, write.Close())
	}
	db := newDB(&sqliteEngine{write, read}, file)
	if err := db.upgradeFile(ctx, write.DB, now); err != nil {
		return nil, errors.Join(fmt.Errorf("the records in %s cannot be opened%s: %w", file, ifNoneOfOurs(err), err), db.Close())
	}
	return db, nil
}

// lockByDescription makes SQLite use locks that another open and close of the file in this process does
// not drop. Where the system has none, the older kind stays.
func lockByDescription() error {
	if _, err := sqlite.OFDLocking(true); err != nil && !errors.Is(err, sqlite.ErrOFDLockingUnavailable) {
		return err
	}
	return nil
}

// makeFile makes a missing file, and a missing folder for it, that nobody else on the machine may read.
// SQLite gives its side files the same mode.
func makeFile(file string) error {
	if err := makeFolder(filepath.Dir(file)); err != nil {
		return err
	}
	f, err := os.OpenFile(file, os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return nil
	} else if err != nil {
		return fmt.Errorf("the file of the records cannot be made: %w", err)
	}
	return f.Close()
}

func makeFolder(folder string) error {
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return fmt.Errorf("the folder %s for the records cannot be made, or is none: %w", folder, err)
	}
	return nil
}

// address is the DSN of a SQLite file. Pragmas stand in it because each pooled connection needs them.
func address(file string, more ...string) string {
	query := "_pragma=busy_timeout(3000)&_pragma=foreign_keys(1)&_pragma=synchronous(FULL)&_dqs=0"
	return (&url.URL{Scheme: "file", Path: file, RawQuery: strings.Join(append([]string{query}, more...), "&")}).String()
}

func openFile(file string, connections int, more ...string) (*pool, error) {
	db, err := sql.Open("sqlite", address(file, more...))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(connections)
	db.SetMaxIdleConns(connections)
	return &pool{DB: db}, nil
}

// upgradeFile applies the schema steps that are missing, after copying a file that has records in it.
func (db *DB) upgradeFile(ctx context.Context, write *sql.DB, now time.Time) error {
	have, err := migrations.Applied(ctx, write, migrations.SQLite)
	if err != nil {
		return err
	}
	latest, err := migrations.Latest()
	if err != nil {
		return err
	}
	if have > 0 && have < latest {
		if err := db.copyBefore(ctx, have, now); err != nil {
			return err
		}
	}
	_, err = migrations.Run(ctx, write, migrations.SQLite, now)
	return err
}

// copyBefore keeps a copy of a file with so many schema steps beside it, under a name that says so.
func (db *DB) copyBefore(ctx context.Context, have int, now time.Time) error {
	name := fmt.Sprintf("%s-step-%04d-%s.db", strings.TrimSuffix(db.file, ".db"), have, now.UTC().Format("20060102T150405Z"))
	if err := db.Backup(ctx, name); err != nil {
		return fmt.Errorf("copying the records before their schema changes: %w", err)
	}
	return nil
}

func (e *sqliteEngine) begin(ctx context.Context, _ string, how access) (session, error) {
	switch how {
	case glances:
		return &sqliteSession{pool: e.read}, nil
	case reads:
		tx, err := e.read.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
		return &sqliteSession{tx: tx, pool: e.read}, err
	}
	tx, err := e.write.BeginTx(context.WithoutCancel(ctx), nil) // with its context a transaction ends, and others may share it
	return &sqliteSession{tx: tx, pool: e.write}, err
}

// sqliteSession is a transaction on the writer or on a reader, or glances without one.
type sqliteSession struct {
	tx    *sql.Tx // nil: each statement is one by itself
	pool  *pool
	fresh []string // texts that the pool has not prepared yet
}

// prepared gives the prepared form of text in this transaction, nil when there is none. A text that is new
// to the pool is noted and prepared after the transaction, whose connection may be the only one.
func (s *sqliteSession) prepared(ctx context.Context, text string) *sql.Stmt {
	kept, ok := s.pool.prepared.Load(text)
	if !ok {
		s.fresh = append(s.fresh, text)
		return nil
	}
	if s.tx == nil {
		return kept.(*sql.Stmt)
	}
	return s.tx.StmtContext(ctx, kept.(*sql.Stmt))
}

func (s *sqliteSession) ask(ctx context.Context, text string, args []any, scan func(row) error) (err error) {
	var rows *sql.Rows
	if stmt := s.prepared(ctx, text); stmt != nil {
		rows, err = stmt.QueryContext(ctx, args...)
	} else if s.tx != nil {
		rows, err = s.tx.QueryContext(ctx, text, args...)
	} else {
		rows, err = s.pool.QueryContext(ctx, text, args...)
	}
	if err != nil {
		return err
	}
	defer rows.Close() // Err tells what went wrong
	for rows.Next() {
		if err := scan(rows); err != nil {
			return err
		}
	}
	return rows.Err()
}

func (s *sqliteSession) change(ctx context.Context, text string, args []any, done func(int64) error) (err error) {
	var result sql.Result
	if stmt := s.prepared(ctx, text); stmt != nil {
		result, err = stmt.ExecContext(ctx, args...)
	} else {
		result, err = s.tx.ExecContext(ctx, text, args...)
	}
	if err != nil || done == nil {
		return err
	}
	n, err := result.RowsAffected()
	if err != nil {
		return err
	}
	return done(n)
}

// answers has nothing to wait for: each statement ran when it was given.
func (s *sqliteSession) answers(context.Context) error { return nil }

func (s *sqliteSession) commit(ctx context.Context) error {
	if s.tx != nil {
		if err := s.tx.Commit(); err != nil {
			return err
		}
	}
	for _, text := range s.fresh {
		// The work is done: a statement that cannot be prepared now is prepared another time.
		if stmt, err := s.pool.PrepareContext(ctx, text); err == nil {
			if _, had := s.pool.prepared.LoadOrStore(text, stmt); had {
				_ = stmt.Close()
			}
		}
	}
	return nil
}

// rollback needs no answer: what was not committed is gone in any case.
func (s *sqliteSession) rollback() {
	if s.tx != nil {
		_ = s.tx.Rollback()
	}
}
