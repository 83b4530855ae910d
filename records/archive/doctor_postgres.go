package archive

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"
)

// postgresSettings warns of settings of the server under which what it said was kept may be
// lost, or damage is not seen. Looking at its pages is the work of whoever runs it
// (pg_amcheck); the bags and the log are hashed anew by every examination.
func postgresSettings(ctx context.Context, db *sql.DB) (faults, warnings []string, err error) {
	for _, s := range []struct{ name, why string }{
		{"fsync", "a power cut may lose what was told as taken"},
		{"full_page_writes", "a power cut may leave torn pages"},
		{"data_checksums", "pages that the disk spoilt are not seen"},
	} {
		var value string
		if err := db.QueryRowContext(ctx, "SELECT current_setting('"+s.name+"')").Scan(&value); err != nil {
			return nil, nil, err
		}
		if value == "off" {
			warnings = append(warnings, fmt.Sprintf("the server runs with %s off: %s", s.name, s.why))
		}
	}
	return nil, warnings, nil
}

// postgresCatalogue tells what there is, a line each: a name, and what it is like.
const postgresCatalogue = `
SELECT 'column ' || c.relname || '.' || a.attname, format_type(a.atttypid, a.atttypmod) || CASE WHEN a.attnotnull THEN ' NO ' ELSE ' YES ' END || coalesce(l.collname, '')
 FROM pg_attribute a JOIN pg_class c ON c.oid = a.attrelid JOIN pg_namespace n ON n.oid = c.relnamespace LEFT JOIN pg_collation l ON l.oid = a.attcollation
 WHERE a.attnum > 0 AND NOT a.attisdropped AND c.relkind IN ('r', 'p') AND n.nspname = current_schema()
UNION ALL SELECT 'index ' || c.relname, replace(pg_get_indexdef(c.oid), ' ' || quote_ident(n.nspname) || '.', ' ')
 FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace WHERE c.relkind IN ('i', 'I') AND NOT c.relispartition AND n.nspname = current_schema()
UNION ALL SELECT 'trigger ' || c.relname || '.' || t.tgname, t.tgenabled::text || ' ' || t.tgtype || ' ' || p.proname
 FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid JOIN pg_namespace n ON n.oid = c.relnamespace JOIN pg_proc p ON p.oid = t.tgfoid
 WHERE NOT t.tgisinternal AND n.nspname = current_schema()
UNION ALL SELECT 'function ' || p.proname, p.prosrc FROM pg_proc p JOIN pg_namespace n ON n.oid = p.pronamespace WHERE n.nspname = current_schema()
UNION ALL SELECT 'rule ' || c.relname || '.' || k.conname, k.convalidated::text
 FROM pg_constraint k JOIN pg_class c ON c.oid = k.conrelid JOIN pg_namespace n ON n.oid = c.relnamespace
 WHERE k.contype = 'c' AND NOT c.relispartition AND n.nspname = current_schema()
UNION ALL SELECT 'part ' || c.relname, pg_get_expr(c.relpartbound, c.oid)
 FROM pg_class c JOIN pg_namespace n ON n.oid = c.relnamespace WHERE c.relkind = 'r' AND c.relispartition AND n.nspname = current_schema()`

// postgresSchema compares what there is with what an archive is made with. What was put in
// beside it is let be, but for triggers and rules, which may change what is stored.
func postgresSchema(ctx context.Context, db *sql.DB, d dialect) ([]string, error) {
	rows, err := db.QueryContext(ctx, postgresCatalogue)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	is := map[string]string{}
	for rows.Next() {
		var name, like string
		if err := rows.Scan(&name, &like); err != nil {
			return nil, err
		}
		is[name] = like
	}
	want := d.catalogue()
	var out []string
	for name, like := range want {
		if got, there := is[name]; !there {
			out = append(out, fmt.Sprintf("data base: %s is not there", name))
		} else if got != like {
			out = append(out, fmt.Sprintf("data base: %s is not as it was made: %s", name, strings.Join(strings.Fields(got), " ")))
		}
	}
	for name := range is {
		if _, meant := want[name]; !meant && (strings.HasPrefix(name, "trigger ") || strings.HasPrefix(name, "rule ")) {
			out = append(out, fmt.Sprintf("data base: %s was put in", name))
		}
	}
	slices.Sort(out)
	return out, rows.Err()
}

// catalogue is what postgresCatalogue tells of a new archive.
func (d dialect) catalogue() map[string]string {
	out := map[string]string{}
	columns := func(table string, t *Table) {
		for _, c := range t.Columns {
			is, collation, _ := strings.Cut(d.types[c.Sort], " COLLATE ")
			out["column "+table+"."+c.Name] = is + " " + map[bool]string{true: "YES", false: "NO"}[c.May] + " " + strings.Trim(collation, `"`)
		}
	}
	index := func(name, table, columns, unique, where string) {
		only := ""
		if d.split[table].by != "" {
			only = "ONLY "
		}
		out["index "+name] = fmt.Sprintf("CREATE %sINDEX %s ON %s%s USING btree (%s)%s", unique, name, only, table, columns, where)
	}
	for _, t := range d.tables() {
		columns(t.Name, t)
		index(t.Name+"_pkey", t.Name, d.key(t), "UNIQUE ", "")
		for _, r := range d.ruled[t.Name] {
			out["rule "+t.Name+"."+r.name] = "true"
		}
		for _, p := range d.split[t.Name].parts {
			columns(p.name, t)
			out["part "+p.name] = p.sql
		}
	}
	for _, x := range indexes {
		index(x.name, x.table, x.columns, map[bool]string{true: "UNIQUE "}[x.unique], x.only())
	}
	for _, f := range postgresFunctions {
		out["function "+f.name] = f.sql
	}
	for _, g := range d.triggers {
		out["trigger "+g.table+"."+g.name] = fmt.Sprintf("O %d %s", g.bits, g.function)
	}
	return out
}
