package webtest

import (
	"database/sql"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"leground/tracker/store"
)

// Dump gives every row of every table but the worker's own heartbeat, as text, so that a test can say that
// nothing at all has changed. It reads past the program, straight from the database.
func (s *Site) Dump() map[string][]string {
	s.TB.Helper()
	db, tables := s.open()
	defer db.Close()
	tx, err := db.Begin()
	check(s.TB, err)
	defer tx.Rollback()
	if s.postgres() {
		_, err := tx.Exec(`select set_config('leground.yard', '*', true)`)
		check(s.TB, err)
	}
	out := map[string][]string{}
	for _, table := range list(s.TB, tx, tables) {
		if table != "heartbeat" {
			out[table] = rowsOf(s.TB, tx, table)
		}
	}
	if len(out) < 15 {
		s.TB.Fatalf("webtest: only %d tables found", len(out))
	}
	return out
}

func (s *Site) postgres() bool { return strings.HasPrefix(s.Where, "postgres") }

// open gives a connection and the query that lists the tables.
func (s *Site) open() (*sql.DB, string) {
	driver, where := "sqlite", filepath.Join(s.Where, store.FileName)
	tables := `select name from sqlite_master where type = 'table' and name not like 'sqlite%'`
	if s.postgres() {
		driver, where, tables = "pgx", s.Where, `select table_name from information_schema.tables where table_schema = 'public'`
	}
	db, err := sql.Open(driver, where)
	check(s.TB, err)
	return db, tables
}

func list(tb testing.TB, tx *sql.Tx, query string) []string {
	tb.Helper()
	rows, err := tx.Query(query)
	check(tb, err)
	defer rows.Close()
	var out []string
	for rows.Next() {
		var one string
		check(tb, rows.Scan(&one))
		out = append(out, one)
	}
	check(tb, rows.Err())
	return out
}

func rowsOf(tb testing.TB, tx *sql.Tx, table string) []string {
	tb.Helper()
	rows, err := tx.Query(`select * from "` + table + `"`)
	check(tb, err)
	defer rows.Close()
	names, err := rows.Columns()
	check(tb, err)
	var out []string
	for rows.Next() {
		values, into := make([]any, len(names)), make([]any, len(names))
		for i := range values {
			into[i] = &values[i]
		}
		check(tb, rows.Scan(into...))
		var line strings.Builder
		for i, v := range values {
			if b, ok := v.([]byte); ok {
				v = fmt.Sprintf("%x", b)
			}
			fmt.Fprintf(&line, "%s=%v ", names[i], v)
		}
		out = append(out, line.String())
	}
	check(tb, rows.Err())
	slices.Sort(out)
	return out
}

// Rows gives one column of one table, sorted, such as the ids of its rows.
func (s *Site) Rows(table, column string) []string {
	s.TB.Helper()
	var out []string
	for _, row := range s.Dump()[table] {
		for field := range strings.FieldsSeq(row) {
			if value, ok := strings.CutPrefix(field, column+"="); ok {
				out = append(out, value)
				break
			}
		}
	}
	return out
}

// rowsAtOnce is how many rows one statement of a copy holds.
const rowsAtOnce = 200

// copyInto puts every row of a SQLite database into an empty PostgreSQL one, in the order in which the tables
// were made, so that what is referred to is there first.
func (s *Site) copyInto(to *Site) {
	s.TB.Helper()
	source, tables := s.open()
	defer source.Close()
	target, _ := to.open()
	defer target.Close()
	read, err := source.Begin()
	check(s.TB, err)
	defer read.Rollback()
	write, err := target.Begin()
	check(s.TB, err)
	defer write.Rollback()
	_, err = write.Exec(`select set_config('leground.yard', '*', true)`)
	check(s.TB, err)
	for _, table := range list(s.TB, read, tables+" order by rowid") {
		if strings.HasPrefix(table, "schema") || table == "heartbeat" {
			continue // the target has its own
		}
		copyTable(s.TB, read, write, table)
	}
	check(s.TB, write.Commit())
	_, err = target.Exec("analyze")
	check(s.TB, err)
}

func copyTable(tb testing.TB, read, write *sql.Tx, table string) {
	tb.Helper()
	rows, err := read.Query(`select * from "` + table + `"`)
	check(tb, err)
	defer rows.Close()
	names, err := rows.Columns()
	check(tb, err)
	types, err := rows.ColumnTypes()
	check(tb, err)
	var args []any
	flush := func() {
		if len(args) == 0 {
			return
		}
		var text strings.Builder
		fmt.Fprintf(&text, `insert into "%s" (%s) values `, table, strings.Join(names, ", "))
		for i := range args {
			text.WriteString(map[bool]string{true: ", (", false: ", "}[i%len(names) == 0])
			fmt.Fprintf(&text, "$%d", i+1)
			if i%len(names) == len(names)-1 {
				text.WriteString(")")
			}
		}
		_, err := write.Exec(strings.Replace(text.String(), "values , ", "values ", 1), args...)
		check(tb, err)
		args = args[:0]
	}
	for rows.Next() {
		values, into := make([]any, len(names)), make([]any, len(names))
		for i := range values {
			into[i] = &values[i]
		}
		check(tb, rows.Scan(into...))
		for i, v := range values {
			if n, ok := v.(int64); ok && types[i].DatabaseTypeName() == "BOOLEAN" { // SQLite has numbers only
				values[i] = n != 0
			}
		}
		if args = append(args, values...); len(args) >= rowsAtOnce*len(names) {
			flush()
		}
	}
	check(tb, rows.Err())
	flush()
}
