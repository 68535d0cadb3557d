package store

import (
	"context"
	"database/sql"
	"database/sql/driver"
	"errors"
	"fmt"
	"io"
	"net"

	"github.com/jackc/pgx/v5/pgconn"
	"modernc.org/sqlite"

	"leground/migrations"
	"leground/tracker"
)

// everyYard is the yard's name in a transaction that belongs to none.
const everyYard = "*"

// skipLocked ends a query for rows that another worker may hold at this moment.
func (db *DB) skipLocked() string {
	if db.dialect() == migrations.PostgreSQL {
		return " FOR UPDATE SKIP LOCKED"
	}
	return ""
}

// trouble is what a database's error means to us.
type trouble int

const (
	otherTrouble trouble = iota
	busy                 // another transaction is in the way: the same again may go well
	lost                 // the connection broke
	taken                // a key is there already
	unknown              // a reference leads nowhere
	full                 // no room
	readOnly             // the database takes no writes
	cancelled            // the caller gave up, or the time was up
)

// The primary result codes of SQLite that we tell apart, and two extended ones
// (https://www.sqlite.org/rescode.html).
const (
	sqliteBusy, sqliteLocked           = 5, 6
	sqliteReadOnly, sqliteIOErr        = 8, 10
	sqliteCorrupt, sqliteNotADB        = 11, 26
	sqliteFull, sqliteCantOpen         = 13, 14
	sqliteConstraint                   = 19
	sqliteForeignKey, sqliteUnique     = 787, 2067
	sqlitePrimaryKey, sqlitePrimaryROW = 1555, 2579
)

// troubleOf classes an error of either driver.
func troubleOf(err error) trouble {
	if errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded) {
		return cancelled
	}
	if e := (*sqlite.Error)(nil); errors.As(err, &e) {
		return sqliteTrouble(e.Code())
	}
	if e := (*pgconn.PgError)(nil); errors.As(err, &e) {
		return postgresTrouble(e.Code)
	}
	if e := net.Error(nil); errors.As(err, &e) || errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) ||
		errors.Is(err, driver.ErrBadConn) || errors.Is(err, sql.ErrConnDone) || errors.Is(err, pgconn.ErrConnClosed) || pgconn.SafeToRetry(err) {
		return lost
	}
	if e := (*pgconn.ConnectError)(nil); errors.As(err, &e) {
		return lost
	}
	return otherTrouble
}

func sqliteTrouble(code int) trouble {
	switch code {
	case sqliteForeignKey:
		return unknown
	case sqliteUnique, sqlitePrimaryKey, sqlitePrimaryROW:
		return taken
	}
	switch code & 0xff {
	case sqliteBusy, sqliteLocked:
		return busy
	case sqliteReadOnly:
		return readOnly
	case sqliteFull:
		return full
	case sqliteIOErr, sqliteCantOpen:
		return lost
	}
	return otherTrouble
}

// ifNoneOfOurs goes on with what cannot be opened, when it is no database or is damaged.
func ifNoneOfOurs(err error) string {
	if e := (*sqlite.Error)(nil); errors.As(err, &e) && (e.Code() == sqliteNotADB || e.Code()&0xff == sqliteCorrupt) {
		return ", since this is no file that Leground made, or it is damaged"
	}
	return ""
}

// postgresTrouble classes a code of PostgreSQL's appendix A.
func postgresTrouble(code string) trouble {
	switch code {
	case "40001", "40P01", "55P03": // serialization failure, deadlock, lock not available
		return busy
	case "23505":
		return taken
	case "23503":
		return unknown
	case "25006":
		return readOnly
	case "53100":
		return full
	case "57014":
		return cancelled
	}
	switch code[:2] {
	case "08", "53", "57": // connection, resources, operator intervention
		return lost
	}
	return otherTrouble
}

// refusal turns a database's error into one that may be shown, with the cause kept inside for the log.
// What is already a refusal, or no trouble of the database's, stays as it is.
func refusal(err error) error {
	if err == nil || tracker.KindOf(err) != 0 {
		return err
	}
	kind, words := tracker.Unavailable, ""
	switch troubleOf(err) {
	case busy:
		words = "The records are in use by something else just now. Nothing was changed: try again in a moment."
	case lost:
		words = "The records cannot be reached just now. Try again in a moment; if it stays so, tell whoever runs this server."
	case full:
		words = "The disk that holds the records is full. Nothing was changed: tell whoever runs this server."
	case readOnly:
		words = "The records can be read but not changed just now. Nothing was changed: tell whoever runs this server."
	case taken:
		kind, words = tracker.Conflict, "This is there already. Load the page again to see it."
	case unknown:
		kind, words = tracker.NotFound, "Something that this belongs to is not in this yard. Load the page again."
	default:
		return err
	}
	return fmt.Errorf("%w (%w)", tracker.Refuse(kind, words), err)
}
