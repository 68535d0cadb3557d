package migrations

import (
	"context"
	"database/sql"
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write schema/*.sql anew")

// built runs a test on a database of each kind that has all built-in steps.
func built(t *testing.T, test func(t *testing.T, d Dialect, db *sql.DB)) {
	both(t, func(t *testing.T, d Dialect, open func() *sql.DB) {
		db := open()
		if _, err := Run(t.Context(), db, d, noon); err != nil {
			t.Fatal(err)
		}
		test(t, d, db)
	})
}

// rows gives the first column of a query's answer.
func rows(t *testing.T, db *sql.DB, query string, args ...any) (texts []string) {
	t.Helper()
	found, err := db.QueryContext(context.Background(), query, args...)
	if err != nil {
		t.Fatalf("%v\n%s", err, query)
	}
	defer found.Close()
	for found.Next() {
		var text string
		if err := found.Scan(&text); err != nil {
			t.Fatal(err)
		}
		texts = append(texts, text)
	}
	if err := found.Err(); err != nil {
		t.Fatal(err)
	}
	return texts
}

// TestTheResultingSchema holds what the steps add up to against schema/sqlite.sql and schema/postgres.sql,
// so that a change of the schema is read as a whole in review. Write them anew with
//
//	go test ./migrations -run Schema -update
func TestTheResultingSchema(t *testing.T) {
	built(t, func(t *testing.T, d Dialect, db *sql.DB) {
		path, got := "schema/sqlite.sql", ""
		if d == SQLite {
			got = strings.Join(rows(t, db, "SELECT sql || ';' FROM sqlite_master WHERE sql IS NOT NULL ORDER BY tbl_name, type DESC, name"), "\n\n") + "\n"
		} else {
			path, got = "schema/postgres.sql", postgresSchema(t, db)
		}
		if *update {
			if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(string(want), got); diff != "" {
			t.Errorf("%s is not what the steps make (-file +made); if it is meant, run the test with -update:\n%s", path, diff)
		}
	})
}

// postgresSchema writes a schema from the catalogue, in an order and form that no server version changes.
func postgresSchema(t *testing.T, db *sql.DB) string {
	var b strings.Builder
	for _, table := range rows(t, db, `SELECT relname FROM pg_class WHERE relnamespace = current_schema()::regnamespace AND relkind = 'r' ORDER BY relname COLLATE "C"`) {
		lines := rows(t, db, `SELECT attname || ' ' || format_type(atttypid, atttypmod) || CASE WHEN attnotnull THEN ' NOT NULL' ELSE '' END
				|| coalesce(' DEFAULT ' || pg_get_expr(adbin, adrelid), '')
			FROM pg_attribute LEFT JOIN pg_attrdef ON adrelid = attrelid AND adnum = attnum
			WHERE attrelid = $1::text::regclass AND attnum > 0 AND NOT attisdropped ORDER BY attnum`, table)
		lines = append(lines, rows(t, db, `SELECT pg_get_constraintdef(oid) FROM pg_constraint
			WHERE conrelid = $1::text::regclass AND contype IN ('p', 'u', 'f', 'c', 'x') ORDER BY contype = 'p' DESC, 1`, table)...)
		fmt.Fprintf(&b, "CREATE TABLE %s (\n\t%s\n);\n", table, strings.Join(lines, ",\n\t"))
		for _, line := range rows(t, db, `SELECT pg_get_indexdef(indexrelid) FROM pg_index
			WHERE indrelid = $1::text::regclass AND NOT EXISTS (SELECT 1 FROM pg_constraint WHERE conindid = indexrelid) ORDER BY 1`, table) {
			fmt.Fprintf(&b, "%s;\n", line)
		}
		for _, line := range rows(t, db, `SELECT pg_get_triggerdef(oid) FROM pg_trigger WHERE tgrelid = $1::text::regclass AND NOT tgisinternal ORDER BY 1`, table) {
			fmt.Fprintf(&b, "%s;\n", line)
		}
		for _, line := range rows(t, db, `SELECT 'ROW LEVEL SECURITY ON ' || relname || CASE WHEN relforcerowsecurity THEN ' FORCED' ELSE ' NOT FORCED' END
				FROM pg_class WHERE oid = $1::text::regclass AND relrowsecurity
			UNION ALL SELECT 'POLICY ' || policyname || ' FOR ' || cmd || coalesce(' USING ' || qual, '') || coalesce(' WITH CHECK ' || with_check, '')
				FROM pg_policies WHERE schemaname = current_schema() AND tablename = $1::text ORDER BY 1`, table) {
			fmt.Fprintf(&b, "-- %s\n", line)
		}
		b.WriteString("\n")
	}
	for _, line := range rows(t, db, "SELECT pg_get_functiondef(oid) FROM pg_proc WHERE pronamespace = current_schema()::regnamespace ORDER BY 1") {
		fmt.Fprintf(&b, "%s;\n\n", line)
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// TestBothDatabasesHaveTheSameColumns compares the two by their own catalogues: table, column, type, not null,
// and place in the primary key.
func TestBothDatabasesHaveTheSameColumns(t *testing.T) {
	columns := map[Dialect][]string{}
	built(t, func(t *testing.T, d Dialect, db *sql.DB) {
		query := `SELECT m.name || '.' || c.name || ' ' || lower(c.type) || CASE WHEN c."notnull" OR c.pk > 0 THEN ' not null' ELSE '' END || ' key ' || c.pk
			FROM sqlite_master m, pragma_table_info(m.name) c WHERE m.type = 'table' AND m.name NOT LIKE 'sqlite%'`
		if d == PostgreSQL {
			query = `SELECT relname || '.' || attname || ' ' || format_type(atttypid, atttypmod) || CASE WHEN attnotnull THEN ' not null' ELSE '' END
					|| ' key ' || coalesce(array_position(conkey, attnum), 0)
				FROM pg_attribute JOIN pg_class r ON r.oid = attrelid LEFT JOIN pg_constraint ON conrelid = r.oid AND contype = 'p'
				WHERE relnamespace = current_schema()::regnamespace AND relkind = 'r' AND attnum > 0 AND NOT attisdropped`
		}
		columns[d] = slices.Sorted(slices.Values(rows(t, db, query)))
	})
	if len(columns) < 2 {
		t.Skip("only one database was reached; the reason stands above")
	}
	if len(columns[SQLite]) < 100 {
		t.Errorf("only %d columns found: the comparison would prove little", len(columns[SQLite]))
	}
	if diff := cmp.Diff(columns[SQLite], columns[PostgreSQL]); diff != "" {
		t.Errorf("-sqlite +postgres:\n%s", diff)
	}
	for _, line := range columns[SQLite] {
		switch kind := strings.Fields(line)[1]; kind {
		case "text", "bigint", "boolean", "bytea":
		default:
			t.Errorf("%s: %s is no type that means the same in both; use TEXT, BIGINT, BOOLEAN or BYTEA", line, kind)
		}
	}
}

// beforeTheYard lists the tables with a yard_id that are read before anybody knows which yard is meant.
var beforeTheYard = map[string]string{
	"yard":    "listed by the worker and by sign-in",
	"session": "found by the hash of its token",
	"link":    "found by the hash of its token",
}

// TestEveryYardsRowsStandBehindTheWall: a table that names a yard is led by it in its key and is under
// forced row security on PostgreSQL.
func TestEveryYardsRowsStandBehindTheWall(t *testing.T) {
	built(t, func(t *testing.T, d Dialect, db *sql.DB) {
		if d == SQLite {
			for _, table := range rows(t, db, `SELECT m.name FROM sqlite_master m WHERE m.type = 'table'
				AND EXISTS (SELECT 1 FROM pragma_table_info(m.name) WHERE name = 'yard_id')
				AND NOT EXISTS (SELECT 1 FROM pragma_table_info(m.name) WHERE name = 'yard_id' AND pk = 1)`) {
				if beforeTheYard[table] == "" {
					t.Errorf("the primary key of %s does not start with yard_id", table)
				}
			}
			return
		}
		open := rows(t, db, `SELECT relname FROM pg_class r JOIN pg_attribute ON attrelid = r.oid AND attname = 'yard_id'
			WHERE relnamespace = current_schema()::regnamespace AND relkind = 'r'
			AND NOT (relrowsecurity AND relforcerowsecurity AND EXISTS (SELECT 1 FROM pg_policy WHERE polrelid = r.oid)) ORDER BY 1`)
		for _, table := range open {
			if beforeTheYard[table] == "" {
				t.Errorf("%s names a yard but has no forced row security with a policy", table)
			}
		}
		if walled := number(db, "SELECT count(*) FROM pg_class WHERE relforcerowsecurity"); walled < 10 {
			t.Errorf("only %d tables stand behind the wall", walled)
		}
	})
}
