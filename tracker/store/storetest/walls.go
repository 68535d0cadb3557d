package storetest

import (
	"context"
	"errors"
	"testing"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"leground/tracker/care"
	"leground/tracker/store"
)

// RowSecurity goes round package store: it asks PostgreSQL directly, by statements that name no yard, as
// the role that the program uses. Rows of another yard must not be there to see, change, remove or add.
func RowSecurity(t *testing.T, db *store.DB, conn *pgx.Conn) {
	h := NewHouse(t, db)
	for _, p := range []Place{h.Mine, h.Other} {
		h.fill(t, p)
		h.across(t, func(g care.Gate) error { return g.SetDelay(p.Ada.Email, 1, noon) })
		h.write(t, p, func(tx care.Tx) error { return tx.AddAudit(care.Audit{ID: NewID(), At: noon, By: p.Ada.ID}) })
	}
	h.across(t, func(g care.Gate) error { _, err := g.ServerSecret("keys", "x"); return err })
	for _, c := range h.claim(t, 0) {
		must(t, h.DB.Mark(t.Context(), c, store.Outcome{State: store.Sent, At: noon}, nil))
	}
	name := func(yard string) { run(t, conn, "SELECT set_config('leground.yard', $1, false)", yard) }
	name("*")
	for _, p := range []Place{h.Mine, h.Other} {
		run(t, conn, `INSERT INTO plan (yard_id, record_id, root_id, version, horse_id, body, entered_by, entered_at, starts_on, content_hash)
			VALUES ($1, $2, $2, 1, $3, '{}', '', 0, '', '')`, string(p.Yard.ID), NewID(), string(p.Bramble.ID))
	}
	run(t, conn, `INSERT INTO link (token_hash, link_id, kind, yard_id, person_id, role, horse_id, note, made_by, made_at, expires_at, opened_at, used_at, stopped_at)
		VALUES ($1, $1, 'set-up', '', '', '', '', '', '', 0, 0, 0, 0, 0)`, NewID())

	tables := column(t, conn, `SELECT tablename::text FROM pg_tables WHERE schemaname = current_schema() AND tablename NOT IN ('schema_step', 'heartbeat') ORDER BY 1`)
	if len(tables) < 20 {
		t.Fatalf("only %d tables: %v", len(tables), tables)
	}
	for _, table := range tables {
		mine := "yard_id = '" + string(h.Mine.Yard.ID) + "'"
		switch table {
		case "person":
			mine = "person_id IN ('" + string(h.Mine.Ada.ID) + "', '" + string(h.Mine.Bea.ID) + "')"
		case "sign_in_delay", "server_secret":
			mine = "FALSE"
		}
		name("*")
		all := count(t, conn, "SELECT count(*) FROM "+table)
		own := count(t, conn, "SELECT count(*) FROM "+table+" WHERE "+mine)
		if all <= own || own == 0 && mine != "FALSE" {
			t.Errorf("%s has %d rows, %d of mine: too few to tell", table, all, own)
		}
		name(string(h.Mine.Yard.ID))
		if got := count(t, conn, "SELECT count(*) FROM "+table); got != own {
			t.Errorf("%s: one yard sees %d rows, of which %d are its own", table, got, own)
		}
		for _, nobody := range []string{"", NewID()} {
			name(nobody)
			if got := count(t, conn, "SELECT count(*) FROM "+table); got != 0 {
				t.Errorf("%s: %d rows are there for the yard %q", table, got, nobody)
			}
		}
		name(string(h.Mine.Yard.ID))
		if got := changed(t, conn, "UPDATE "+table+" SET "+firstColumn(t, conn, table)+" = "+firstColumn(t, conn, table)); got != own {
			t.Errorf("%s: one yard changes %d rows, of which %d are its own", table, got, own)
		}
	}
	for what, text := range map[string]string{
		"a horse for another yard":  `INSERT INTO horse SELECT $1, 'h', name, sort, walking_order, order_reason, handling, isolated_until, tetanus_on, arrived_on, place, position, created_at FROM horse LIMIT 1`,
		"a horse to another yard":   `UPDATE horse SET yard_id = $1 WHERE name = 'Juniper'`,
		"an audit for another yard": `INSERT INTO audit (yard_id, audit_id, at, person_id, device, action, subject, detail) VALUES ($1, 'a', 0, '', '', '', '', '')`,
	} {
		_, err := conn.Exec(t.Context(), text, string(h.Other.Yard.ID))
		var refused *pgconn.PgError
		if !errors.As(err, &refused) || refused.Code != "42501" { // insufficient privilege
			t.Errorf("%s: %v", what, err)
		}
	}
}

func run(t *testing.T, conn *pgx.Conn, text string, args ...any) {
	t.Helper()
	if _, err := conn.Exec(t.Context(), text, args...); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
}

// changed tells how many rows a statement changes, and takes it back.
func changed(t *testing.T, conn *pgx.Conn, text string) (rows int64) {
	t.Helper()
	tx, err := conn.Begin(t.Context())
	must(t, err)
	defer func() { _ = tx.Rollback(context.Background()) }()
	tag, err := tx.Exec(t.Context(), text)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return tag.RowsAffected()
}

func count(t *testing.T, conn *pgx.Conn, text string) (n int64) {
	t.Helper()
	if err := conn.QueryRow(t.Context(), text).Scan(&n); err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	return n
}

func column(t *testing.T, conn *pgx.Conn, text string, args ...any) []string {
	t.Helper()
	rows, err := conn.Query(t.Context(), text, args...)
	must(t, err)
	found, err := pgx.CollectRows(rows, pgx.RowTo[string])
	must(t, err)
	return found
}

func firstColumn(t *testing.T, conn *pgx.Conn, table string) string {
	t.Helper()
	return column(t, conn, `SELECT column_name::text FROM information_schema.columns WHERE table_name = $1 ORDER BY ordinal_position LIMIT 1`, table)[0]
}
