package store

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/jackc/pgx/v5/stdlib"

	"leground/migrations"
	"leground/tracker"
)

// postgresEngine is a PostgreSQL server. Each transaction tells row security its yard.
type postgresEngine struct{ pool *pgxpool.Pool }

func (e postgresEngine) dialect() migrations.Dialect    { return migrations.PostgreSQL }
func (e postgresEngine) ping(ctx context.Context) error { return e.pool.Ping(ctx) }
func (e postgresEngine) close() error                   { e.pool.Close(); return nil }

func openPostgres(ctx context.Context, where string, now time.Time) (*DB, error) {
	config, err := pgxpool.ParseConfig(where)
	if err != nil {
		return nil, fmt.Errorf("the PostgreSQL address cannot be read: %w", err) // pgx leaves the password out
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
	db := newDB(postgresEngine{pool}, "")
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
// would not be there, and nothing would show it.
func checkRole(ctx context.Context, pool *pgxpool.Pool) error {
	var role string
	var above bool
	err := pool.QueryRow(ctx, "SELECT rolname, rolsuper OR rolbypassrls FROM pg_roles WHERE rolname = current_user").Scan(&role, &above)
	if err != nil {
		return fmt.Errorf("%w: %w", tracker.Refuse(tracker.Unavailable, "PostgreSQL cannot be reached, or does not let us in"), err)
	}
	if above {
		return fmt.Errorf("the PostgreSQL role %q stands above row security, which keeps yards apart. "+
			"Make an ordinary one, once, and connect as it: CREATE ROLE leground LOGIN PASSWORD '...'; CREATE DATABASE leground OWNER leground", role)
	}
	return nil
}

const (
	bind = "SELECT set_config('leground.yard', $1, true)"
	// bindAlone also waits for the yard's writes in other processes.
	bindAlone = "SELECT set_config('leground.yard', $1, true), pg_advisory_xact_lock(hashtextextended($1, 0))"
)

// postgresSession is a transaction that saves journeys to the server: whatever nobody waits for goes out together
// with the next question. The first journey begins the transaction, and the last commits it. For a glance there is no
// transaction to begin or commit: what goes out in one journey is one by itself.
type postgresSession struct {
	conn  *pgxpool.Conn
	yard  string
	how   access
	batch pgx.Batch
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
	s := &postgresSession{conn: conn, yard: yard, how: how}
	switch how {
	case reads:
		s.batch.Queue("BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY")
		s.batch.Queue(bind, yard)
	case writes:
		s.batch.Queue("BEGIN")
		s.batch.Queue(bindAlone, yard)
	case works:
		s.batch.Queue("BEGIN")
		s.batch.Queue(bind, yard)
	}
	return s, nil
}

func (s *postgresSession) change(_ context.Context, text string, args []any, done func(int64) error) error {
	q := s.batch.Queue(text, args...)
	if done != nil {
		q.Exec(func(tag pgconn.CommandTag) error { return done(tag.RowsAffected()) })
	}
	return nil
}

func (s *postgresSession) ask(_ context.Context, text string, args []any, scan func(row) error) error {
	if s.how == glances && s.batch.Len() == 0 {
		s.batch.Queue(bind, s.yard)
	}
	s.batch.Queue(text, args...).Query(func(rows pgx.Rows) error {
		for rows.Next() {
			if err := scan(rows); err != nil {
				return err
			}
		}
		return rows.Err()
	})
	return nil
}

// answers makes one journey with all that was put off.
func (s *postgresSession) answers(ctx context.Context) error {
	batch := s.batch
	s.batch, s.sent = pgx.Batch{}, true
	return s.conn.SendBatch(ctx, &batch).Close()
}

func (s *postgresSession) commit(ctx context.Context) error {
	if s.how == glances || !s.sent && s.batch.Len() == 2 { // nothing to commit, or nothing was asked for
		s.conn.Release()
		return nil
	}
	s.batch.Queue("COMMIT")
	if err := s.answers(ctx); err != nil {
		s.rollback()
		return err
	}
	s.conn.Release()
	return nil
}

// rollback needs no answer: the pool drops a connection that is not clean, and with it ends its transaction.
func (s *postgresSession) rollback() {
	if s.sent && s.how != glances {
		ctx, cancel := context.WithTimeout(context.Background(), time.Second)
		defer cancel()
		_, _ = s.conn.Exec(ctx, "ROLLBACK")
	}
	s.conn.Release()
}
