package store

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/jackc/pgx/v5/stdlib"

	"leground/migrations"
)

// postgresEngine is a PostgreSQL server. Each transaction tells row security its yard.
type postgresEngine struct{ pool *pgxpool.Pool }

func (e postgresEngine) dialect() migrations.Dialect    { return migrations.PostgreSQL }
func (e postgresEngine) ping(ctx context.Context) error { return e.pool.Ping(ctx) }
func (e postgresEngine) close() error                   { e.pool.Close(); return nil }

func openPostgres(ctx context.Context, where string, now time.Time) (*DB, error) {
	config, err := pgxpool.ParseConfig(where)
	if err != nil {
		return nil, err // pgx leaves the password out
	}
	if !strings.Contains(where, "pool_max_conns=") {
		config.MaxConns = 16
	}
	config.MaxConnIdleTime = 5 * time.Minute
	for name, value := range map[string]string{
		"application_name":                    "leground",
		"synchronous_commit":                  "on",
		"lock_timeout":                        "3s",
		"idle_in_transaction_session_timeout": "60s",
	} {
		config.ConnConfig.RuntimeParams[name] = value
	}
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return nil, err
	}
	db := &DB{engine: postgresEngine{pool}}
	if err := checkRole(ctx, pool); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	plain := stdlib.OpenDBFromPool(pool)
	_, err = migrations.Run(ctx, plain, migrations.PostgreSQL, now)
	if err := errors.Join(err, plain.Close()); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return db, nil
}

// checkRole refuses a role that PostgreSQL's row security does not bind: the second wall between yards
// would not be there, and nothing would show it. It also tries the statement that durable writes rest on.
func checkRole(ctx context.Context, pool *pgxpool.Pool) error {
	var role string
	var above bool
	err := pool.QueryRow(ctx, "SELECT rolname, rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user").Scan(&role, &above)
	if err != nil {
		return refusal(err)
	}
	if above {
		return fmt.Errorf("the PostgreSQL role %q stands above row security, which keeps yards apart. "+
			"Make an ordinary one, once, and connect as it: CREATE ROLE leground LOGIN PASSWORD '...'; CREATE DATABASE leground OWNER leground", role)
	}
	if _, err := pool.Exec(ctx, flush); err != nil {
		return fmt.Errorf("the PostgreSQL role %q must be allowed to call pg_logical_emit_message: %w", role, err)
	}
	return nil
}

const (
	bind = "SELECT set_config('leground.yard', $1, true)"
	// bindAlone also waits for the yard's other writes, and lets COMMIT return before the disk has it.
	bindAlone = "SELECT set_config('leground.yard', $1, true), set_config('synchronous_commit', 'off', true), " +
		"pg_advisory_xact_lock(hashtextextended($1, 0))"
	// flush writes to the log and waits until the log is on the disk, with all that was written to it before.
	flush = "SELECT pg_logical_emit_message(true, 'leground', '')"
)

// postgresSession is a transaction that saves journeys to the server: a statement whose answer nobody
// waits for goes out together with the next one. The first journey begins the transaction, and the last
// commits it.
type postgresSession struct {
	ctx   context.Context
	conn  *pgxpool.Conn
	how   access
	batch pgx.Batch
	done  []func(rows int64) error // of each statement in the batch; nil: nothing to be told
	sent  bool
}

// begin prepares a transaction. A write waits for the yard's other writes; since each of its statements
// must see all that they left, which a snapshot from before the wait does not, it runs as READ COMMITTED. A
// read sees one state throughout.
func (e postgresEngine) begin(ctx context.Context, yard string, how access) (session, error) {
	conn, err := e.pool.Acquire(ctx)
	if err != nil {
		return nil, err
	}
	s := &postgresSession{ctx: ctx, conn: conn, how: how}
	begin, bound := "BEGIN", bind
	switch how {
	case reads:
		begin = "BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY"
	case writes:
		bound = bindAlone
	}
	s.putOff(begin, nil, nil)
	s.putOff(bound, []any{yard}, nil)
	return s, nil
}

func (s *postgresSession) putOff(text string, args []any, done func(int64) error) {
	s.batch.Queue(text, args...)
	s.done = append(s.done, done)
}

func (s *postgresSession) change(text string, args []any, done func(int64) error) error {
	s.putOff(text, args, done)
	return nil
}

func (s *postgresSession) query(text string, args []any, scan func(row) error) error {
	s.batch.Queue(text, args...)
	return s.send(func(results pgx.BatchResults) error {
		rows, err := results.Query()
		if err != nil {
			return err
		}
		defer rows.Close()
		for rows.Next() {
			if err := scan(rows); err != nil {
				return err
			}
		}
		return rows.Err()
	})
}

// send makes one journey with all that was put off, and the query, if any, whose answer last reads.
func (s *postgresSession) send(last func(pgx.BatchResults) error) (err error) {
	batch, done := s.batch, s.done
	s.batch, s.done, s.sent = pgx.Batch{}, nil, true
	results := s.conn.SendBatch(s.ctx, &batch)
	defer func() {
		if e := results.Close(); err == nil {
			err = e
		}
	}()
	for _, tell := range done {
		tag, err := results.Exec()
		if err == nil && tell != nil {
			err = tell(tag.RowsAffected())
		}
		if err != nil {
			return err
		}
	}
	if last == nil {
		return nil
	}
	return last(results)
}

// commit ends the transaction and returns when it is on the disk. A write gives up the yard's lock as soon
// as it has committed and only then waits for the disk, so that the yard's next write need not wait for
// that: its COMMIT is asynchronous and the flush after it is not. It waits even when it changed nothing: what
// it found, such as the same form posted a moment before, may not be on the disk yet.
func (s *postgresSession) commit() error {
	if !s.sent && len(s.done) == 2 { // nothing was asked for
		s.conn.Release()
		return nil
	}
	if slices.ContainsFunc(s.done, func(tell func(int64) error) bool { return tell != nil }) { // may yet say no
		if err := s.send(nil); err != nil {
			s.rollback()
			return err
		}
	}
	s.putOff("COMMIT", nil, nil)
	if s.how == writes {
		s.putOff(flush, nil, nil)
	}
	if err := s.send(nil); err != nil {
		s.rollback()
		return err
	}
	s.conn.Release()
	return nil
}

// rollback needs no answer: the pool drops a connection that is not clean, and with it ends its transaction.
func (s *postgresSession) rollback() {
	if s.sent {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(s.ctx), time.Second)
		defer cancel()
		_, _ = s.conn.Exec(ctx, "ROLLBACK")
	}
	s.conn.Release()
}
