// Package store keeps a yard's records in SQLite or PostgreSQL. It holds every SQL statement of the
// program, one text for both databases; what differs stands in dialect.go.
//
// [Open] gives a [DB], which is care's Store. Records are reached only inside a transaction that is
// bound to one yard ([DB.Read], [DB.Write]); yard_id stands in every WHERE, in every key and in every
// reference, and PostgreSQL's row security is a second wall. [DB.Across] is the one door that belongs
// to no yard. The reminders of all yards wait in an outbox ([DB.Claim], [DB.Renew], [DB.Mark]).
//
// Writes of one yard follow one another, on both databases: SQLite has one writer, and PostgreSQL takes
// a lock on the yard. So a use case that reads, decides and writes needs no locks of its own.
//
// An acknowledged write is on the disk: SQLite runs with synchronous=FULL, PostgreSQL with
// synchronous_commit=on.
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

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
	"modernc.org/sqlite"

	"leground/migrations"
	"leground/tracker/care"
)

// FileName is the database file in the folder of a yard's data.
const FileName = "leground.db"

// How many connections one process keeps. SQLite has one writer besides.
const (
	sqliteReaders       = 4
	postgresConnections = 16
)

// DB is an open database. Its methods may be used by several goroutines at once.
type DB struct {
	dialect migrations.Dialect
	file    string // of SQLite
	write   *pool
	read    *pool // of PostgreSQL: the same as write
}

var _ care.Store = (*DB)(nil)

// pool is a set of connections with the statements that were prepared on them.
type pool struct {
	*sql.DB
	prepared *sync.Map // SQL text to *sql.Stmt; nil: the driver remembers statements itself
}

// Open opens a database and brings its schema up to date. Where is a PostgreSQL address such as
// postgres://leground@host/leground, a folder for a file named FileName, or a path of a file that ends
// in .db; a folder and file that are missing are made. An existing file is copied before its schema is
// changed. now is only noted beside the schema steps and in the name of that copy.
func Open(ctx context.Context, where string, now time.Time) (*DB, error) {
	if strings.HasPrefix(where, "postgres://") || strings.HasPrefix(where, "postgresql://") {
		return openPostgres(ctx, where, now)
	}
	file, err := FileIn(where)
	if err != nil {
		return nil, err
	}
	return openSQLite(ctx, file, now)
}

// FileIn gives the absolute path of the SQLite file that Open takes where to mean.
func FileIn(where string) (string, error) {
	if where == "" {
		return "", errors.New("name the folder in which the records are kept")
	}
	if !strings.HasSuffix(where, ".db") {
		where = filepath.Join(where, FileName)
	}
	return filepath.Abs(where)
}

// Close closes every connection. It waits for statements that run.
func (db *DB) Close() error {
	err := db.write.Close()
	if db.read != db.write {
		err = errors.Join(err, db.read.Close())
	}
	return err
}

// Ping tells whether the database answers.
func (db *DB) Ping(ctx context.Context) error {
	if err := db.read.PingContext(ctx); err != nil {
		return db.refusal(err)
	}
	return nil
}

// address is the DSN of a SQLite file. Pragmas stand in it because each pooled connection needs them.
func address(file string, more ...string) string {
	query := "_pragma=busy_timeout(3000)&_pragma=foreign_keys(1)&_pragma=synchronous(FULL)&_dqs=0"
	return (&url.URL{Scheme: "file", Path: file, RawQuery: strings.Join(append([]string{query}, more...), "&")}).String()
}

func openSQLite(ctx context.Context, file string, now time.Time) (_ *DB, err error) {
	if err := lockByDescription(); err != nil {
		return nil, err
	}
	if err := makeFile(file); err != nil {
		return nil, err
	}
	db := &DB{dialect: migrations.SQLite, file: file}
	if db.write, err = openFile(file, 1, "_pragma=journal_mode(WAL)", "_txlock=immediate"); err != nil {
		return nil, err
	}
	if db.read, err = openFile(file, sqliteReaders, "_query_only=1"); err != nil {
		return nil, errors.Join(err, db.write.Close())
	}
	if err = db.upgradeFile(ctx, now); err != nil {
		return nil, errors.Join(fmt.Errorf("%s: %w", file, err), db.Close())
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
	if err := os.MkdirAll(filepath.Dir(file), 0o700); err != nil {
		return err
	}
	f, err := os.OpenFile(file, os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return nil
	} else if err != nil {
		return err
	}
	return f.Close()
}

func openFile(file string, connections int, more ...string) (*pool, error) {
	db, err := sql.Open("sqlite", address(file, more...))
	if err != nil {
		return nil, err
	}
	db.SetMaxOpenConns(connections)
	db.SetMaxIdleConns(connections)
	return &pool{db, &sync.Map{}}, nil
}

// upgradeFile applies the schema steps that are missing, after copying a file that has records in it.
func (db *DB) upgradeFile(ctx context.Context, now time.Time) error {
	have, err := migrations.Applied(ctx, db.write.DB, db.dialect)
	if err != nil {
		return err
	}
	latest, err := migrations.Latest()
	if err != nil {
		return err
	}
	if have > 0 && have < latest {
		copyName := fmt.Sprintf("%s-step-%04d-%s.db", strings.TrimSuffix(db.file, ".db"), have, now.UTC().Format("20060102T150405Z"))
		if err := db.Backup(ctx, copyName); err != nil {
			return fmt.Errorf("copying the records before their schema changes: %w", err)
		}
	}
	_, err = migrations.Run(ctx, db.write.DB, db.dialect, now)
	return err
}

func openPostgres(ctx context.Context, where string, now time.Time) (*DB, error) {
	config, err := pgx.ParseConfig(where)
	if err != nil {
		return nil, err // pgx leaves the password out
	}
	for name, value := range map[string]string{
		"application_name":                    "leground",
		"synchronous_commit":                  "on",
		"lock_timeout":                        "3s",
		"idle_in_transaction_session_timeout": "60s",
	} {
		config.RuntimeParams[name] = value
	}
	conns := stdlib.OpenDB(*config)
	conns.SetMaxOpenConns(postgresConnections)
	conns.SetMaxIdleConns(postgresConnections)
	conns.SetConnMaxIdleTime(5 * time.Minute)
	p := &pool{DB: conns}
	db := &DB{dialect: migrations.PostgreSQL, write: p, read: p}
	if err := db.checkRole(ctx); err != nil {
		return nil, errors.Join(err, conns.Close())
	}
	if _, err := migrations.Run(ctx, conns, db.dialect, now); err != nil {
		return nil, errors.Join(err, conns.Close())
	}
	return db, nil
}

// checkRole refuses a role that PostgreSQL's row security does not bind: the second wall between yards
// would not be there, and nothing would show it.
func (db *DB) checkRole(ctx context.Context) error {
	var role string
	var above bool
	err := db.write.QueryRowContext(ctx, "SELECT rolname, rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user").Scan(&role, &above)
	if err != nil {
		return db.refusal(err)
	}
	if above {
		return fmt.Errorf("the PostgreSQL role %q stands above row security, which keeps yards apart. "+
			"Make an ordinary one, once, and connect as it: CREATE ROLE leground LOGIN PASSWORD '...'; CREATE DATABASE leground OWNER leground", role)
	}
	return nil
}
