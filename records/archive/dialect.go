package archive

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"
)

// dialect is where engines differ. All else is SQL that SQLite and PostgreSQL both run,
// with placeholders $1, $2, … .
type dialect struct {
	types    map[Sort]string
	after    string                         // at the end of CREATE TABLE
	own      []*Table                       // tables beside those of every archive
	kept     []*Table                       // tables that are only added to
	ruled    map[string][]object            // rules of tables by their names, that the engine itself holds rows against
	split    map[string]split               // tables that lie in parts
	guard    []object                       // what refuses to change what is kept
	triggers []guarding                     // of these, those that the catalogue tells of
	rights   []object                       // who may do what
	many     func(columns, rows int) string // placeholders of many rows
	lock     string                         // lets no other writer come between
	snapshot *sql.TxOptions                 // shows all as it stood at one moment
	forget   string                         // what is deleted from here on cannot be read back
	purge    string                         // nor what was written of it before

	pages        func(context.Context, *sql.DB) (faults, warnings []string, err error)
	schemaFaults func(context.Context, *sql.DB, dialect) ([]string, error)
}

// split says how a table lies in parts: by the values of a column, which its key ends with.
type split struct {
	by    string
	parts []object // name, and what values go there
}

// object is something in the schema.
type object struct{ name, sql string }

// Of each engine there is one for archives with their bags beside the rows, and one for
// those with their bags in a bucket.
var (
	inSQLite       = ofSQLite(keptTables)
	inSQLiteBucket = ofSQLite(keptWithBucket)
)

func ofSQLite(kept []*Table) dialect {
	return dialect{
		forget:       "PRAGMA secure_delete = 1",
		purge:        "PRAGMA wal_checkpoint(TRUNCATE)",
		pages:        sqlitePages,
		schemaFaults: sqliteSchema,
		types:        map[Sort]string{Words: "TEXT", Whole: "INTEGER", Number: "REAL", YesNo: "INTEGER", Bytes: "BLOB", Instant: "TEXT", Date: "TEXT"},
		after:        " STRICT, WITHOUT ROWID",
		kept:         kept,
		guard:        sqliteGuards(kept),
		many: func(columns, rows int) string { // SQLite looks up a placeholder with a name among all those before it
			row := "(?" + strings.Repeat(", ?", columns-1) + ")"
			return row + strings.Repeat(", "+row, rows-1)
		},
	}
}

// sqliteGuards refuse every change of what is only added to. Without the guard of INSERT,
// INSERT OR REPLACE would delete a line and fire no other trigger.
func sqliteGuards(kept []*Table) []object {
	var out []object
	for _, t := range kept {
		for _, act := range []string{"UPDATE", "DELETE"} {
			name := t.Name + "_" + strings.ToLower(act)
			out = append(out, object{name, fmt.Sprintf("CREATE TRIGGER %s BEFORE %s ON %s BEGIN\n  SELECT RAISE(ABORT, '%s are only added: no %s');\nEND", name, act, t.Name, t.Name, act)})
		}
		same := make([]string, len(t.Key))
		for i, k := range t.Key {
			same[i] = k + " = NEW." + k
		}
		name := t.Name + "_insert"
		out = append(out, object{name, fmt.Sprintf("CREATE TRIGGER %s BEFORE INSERT ON %s BEGIN\n  SELECT RAISE(ABORT, '%s are only added: this one is there')\n   WHERE EXISTS (SELECT 1 FROM %s WHERE %s);\nEND",
			name, t.Name, t.Name, t.Name, strings.Join(same, " AND "))})
	}
	return append(out, object{"bags_follow", `CREATE TRIGGER bags_follow BEFORE INSERT ON bags BEGIN
  SELECT RAISE(ABORT, 'bags are only added: number does not follow')
   WHERE NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM bags);
  SELECT RAISE(ABORT, 'bags are only added: this one is there')
   WHERE EXISTS (SELECT 1 FROM bags WHERE sha256 = NEW.sha256 OR job = NEW.job AND head = NEW.head);
END`}, object{"leaves_follow", `CREATE TRIGGER leaves_follow BEFORE INSERT ON leaves BEGIN
  SELECT RAISE(ABORT, 'leaves are only added: number does not follow')
   WHERE NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM leaves);
END`})
}

// create makes the statement that makes a table.
func (d dialect) create(t *Table) string {
	var b strings.Builder
	fmt.Fprintf(&b, "CREATE TABLE %s (\n", t.Name)
	for _, c := range t.Columns {
		fmt.Fprintf(&b, "  %s %s", c.Name, d.types[c.Sort])
		if !c.May {
			b.WriteString(" NOT NULL")
		}
		b.WriteString(",\n")
	}
	for _, r := range d.ruled[t.Name] {
		fmt.Fprintf(&b, "  CONSTRAINT %s CHECK (%s),\n", r.name, r.sql)
	}
	fmt.Fprintf(&b, "  PRIMARY KEY (%s)\n)", d.key(t))
	if by := d.split[t.Name].by; by != "" {
		fmt.Fprintf(&b, " PARTITION BY RANGE (%s)", by)
	}
	return b.String() + d.after
}

// key is the key of a table: it holds what the parts of the table go by.
func (d dialect) key(t *Table) string {
	key := strings.Join(t.Key, ", ")
	if by := d.split[t.Name].by; by != "" {
		key += ", " + by
	}
	return key
}

// tables are all tables of an archive.
func (d dialect) tables() []*Table { return slices.Concat(d.own, d.kept, Tables) }

// schema is every statement that an empty archive is made with.
func (d dialect) schema() []object {
	var out []object
	for _, t := range d.tables() {
		out = append(out, object{t.Name, d.create(t)})
		for _, p := range d.split[t.Name].parts {
			out = append(out, object{p.name, fmt.Sprintf("CREATE TABLE %s PARTITION OF %s %s", p.name, t.Name, p.sql)})
		}
	}
	for _, x := range indexes {
		unique := ""
		if x.unique {
			unique = "UNIQUE "
		}
		out = append(out, object{x.name, fmt.Sprintf("CREATE %sINDEX %s ON %s (%s)%s", unique, x.name, x.table, x.columns, x.only())})
	}
	return slices.Concat(out, d.guard, d.rights)
}

// index is an index of a table.
type index struct {
	name, table, columns string
	unique               bool
	where                string // the rows it holds; "" for all
}

// only is the end of the statement that makes it.
func (x index) only() string {
	if x.where == "" {
		return ""
	}
	return " WHERE (" + x.where + ")"
}

// indexes are what finding goes by. Rows of one state lie together by their keys. That of
// states by time holds the newest alone: SQLite would take a column that nearly all states
// are alike in for one that tells them apart, and go through all of them.
var indexes = []index{
	{"bags_by_state", "bags", "job, head", true, ""},
	{"bags_by_sha256", "bags", "sha256", true, ""},
	{"removals_by_bag", "removals", "bag", false, ""},
	{"leaves_by_bag", "leaves", "bag", false, ""},
	{"quarantine_by_sha256", "quarantine", "sha256", false, ""},
	{"states_by_last", "states", "last, job, head", false, "newest = 1"},
	{"states_by_id", "states", "id", false, ""},
	{"states_by_head", "states", "head", false, ""},
	{"states_by_plan", "states", "plan, last", false, ""},
	{"plants_by_plant", "plants", "plant", false, ""},
	{"plants_by_serial", "plants", "serial", false, ""},
	{"plants_by_asset", "plants", "asset", false, ""},
	{"checks_by_kind", "checks", "kind, verdict", false, ""},
	{"instruments_by_serial", "instruments", "serial", false, ""},
	{"instruments_by_plain", "instruments", "plain", false, ""},
	{"defects_by_closed", "defects", "closed", false, ""},
}
