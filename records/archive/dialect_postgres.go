package archive

import (
	"database/sql"
	"fmt"
	"slices"
	"strings"
)

// Roles that an archive on a server has. Whoever adds may add to what is kept and renew the
// index, whoever reads may read, and neither may do anything else.
const (
	roleAdd  = "handback_add"
	roleRead = "handback_read"
)

// inPostgres sorts and compares texts byte by byte, as SQLite does. A moment and a day are
// texts too, and yes and no are numbers, so that every program reads the same from both.
var (
	inPostgres       = ofPostgres(keptTables, nil)
	inPostgresBucket = ofPostgres(keptWithBucket, []guarding{{"files_elsewhere", "files", "INSERT", "STATEMENT", "only_added", bitBefore | bitInsert}})
)

func ofPostgres(kept []*Table, more []guarding) dialect {
	d := postgresForm
	d.kept, d.triggers = kept, append(postgresTriggers(kept), more...)
	d.guard, d.rights = postgresGuards(d.triggers), postgresRights(kept)
	return d
}

var postgresForm = dialect{
	types: map[Sort]string{Words: `text COLLATE "C"`, Whole: "bigint", Number: "double precision", YesNo: "smallint", Bytes: "bytea", Instant: `text COLLATE "C"`, Date: `text COLLATE "C"`},
	own:   []*Table{marked, files},
	ruled: map[string][]object{
		"files": {{"files_sha256", "sha256 = encode(sha256(body), 'hex')"}, {"files_bytes", "bytes = length(body)"}, {"files_place", "place IN ('" + takenIn + "', '" + refusedIn + "')"}},
		"bags":  {{"bags_hashes", "length(hashes) = 32 * entries"}, {"bags_head", "head = encode(substr(hashes, length(hashes) - 31), 'hex')"}},
	},
	split:    map[string]split{"readings": {"taken", spans("readings")}},
	many:     numbered,
	lock:     "SELECT version FROM archive FOR UPDATE",
	snapshot: &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true},

	pages:        postgresSettings,
	schemaFaults: postgresSchema,
}

// spans are the parts of a table by five years (our choice: a state is looked up in each of
// them), and one for all other times.
func spans(table string) []object {
	out := []object{{table + "_other", "DEFAULT"}}
	for year := 2000; year < 2060; year += 5 {
		out = append(out, object{fmt.Sprintf("%s_%d", table, year), fmt.Sprintf("FOR VALUES FROM ('%d') TO ('%d')", year, year+5)})
	}
	return out
}

func numbered(columns, rows int) string {
	out := make([]string, rows)
	for i := range out {
		out[i] = marks(1+i*columns, columns)
	}
	return strings.Join(out, ", ")
}

// Functions of the guards. Each names its tables as they stand where the archive was made.
var postgresFunctions = []object{
	{"only_added", `
BEGIN
  RAISE EXCEPTION '% are only added: no %', TG_TABLE_NAME, TG_OP USING ERRCODE = 'restrict_violation';
END`},
	{"number_follows", `
DECLARE n bigint;
BEGIN
  EXECUTE format('SELECT coalesce(max(number), 0) + 1 FROM %I', TG_TABLE_NAME) INTO n;
  IF NEW.number IS DISTINCT FROM n THEN
    RAISE EXCEPTION '% are only added: number does not follow', TG_TABLE_NAME USING ERRCODE = 'restrict_violation';
  END IF;
  RETURN NEW;
END`},
	{"only_reduced", `
BEGIN
  IF OLD.place = 'bags' AND EXISTS (
    SELECT 1 FROM bags b JOIN removals r ON r.bag = b.number WHERE b.sha256 = OLD.sha256
    UNION ALL SELECT 1 FROM removals r WHERE r.sha256 = OLD.sha256
  ) AND NOT EXISTS (
    SELECT 1 FROM removals r WHERE r.sha256 = OLD.sha256 AND r.number = (SELECT max(x.number) FROM removals x WHERE x.bag = r.bag)
  ) THEN
    RETURN OLD;
  END IF;
  RAISE EXCEPTION 'files are only added: no DELETE of one that is not reduced' USING ERRCODE = 'restrict_violation';
END`},
}

// guarding is a trigger that a table has in PostgreSQL: bits are those of pg_trigger.tgtype.
type guarding struct {
	name, table, when, each, function string
	bits                              int
}

const (
	bitRow, bitBefore, bitInsert, bitDelete, bitUpdate, bitTruncate = 1, 2, 4, 8, 16, 32
)

func postgresTriggers(kept []*Table) []guarding {
	var out []guarding
	for _, t := range append([]*Table{marked}, kept...) {
		out = append(out, guarding{t.Name + "_only_added", t.Name, "UPDATE OR DELETE OR TRUNCATE", "STATEMENT", "only_added", bitBefore | bitUpdate | bitDelete | bitTruncate})
	}
	return append(out,
		guarding{"files_only_added", "files", "UPDATE OR TRUNCATE", "STATEMENT", "only_added", bitBefore | bitUpdate | bitTruncate},
		guarding{"files_only_reduced", "files", "DELETE", "ROW", "only_reduced", bitRow | bitBefore | bitDelete},
		guarding{"bags_follow", "bags", "INSERT", "ROW", "number_follows", bitRow | bitBefore | bitInsert},
		guarding{"leaves_follow", "leaves", "INSERT", "ROW", "number_follows", bitRow | bitBefore | bitInsert})
}

// postgresGuards refuse every change of what is only added to, whole statements at once, so
// that ON CONFLICT finds no way around.
func postgresGuards(triggers []guarding) []object {
	var out []object
	for _, f := range postgresFunctions {
		out = append(out, object{f.name, fmt.Sprintf("CREATE FUNCTION %s() RETURNS trigger LANGUAGE plpgsql SET search_path FROM CURRENT AS $$%s$$", f.name, f.sql)})
	}
	for _, g := range triggers {
		out = append(out, object{g.name, fmt.Sprintf("CREATE TRIGGER %s BEFORE %s ON %s FOR EACH %s EXECUTE FUNCTION %s()", g.name, g.when, g.table, g.each, g.function)})
	}
	return append(out, object{"version", fmt.Sprintf("INSERT INTO archive (version) VALUES (%d)", schemaVersion)})
}

// postgresRights makes the roles where they are not there, and says what each may do.
// Nobody logs in as one: it is granted to those who do. FOR UPDATE wants the right to
// update the table archive, whose guard lets nobody use it.
func postgresRights(kept []*Table) []object {
	var out []object
	for _, role := range []string{roleAdd, roleRead} {
		out = append(out, object{role, fmt.Sprintf(`DO $$ BEGIN
  IF NOT EXISTS (SELECT 1 FROM pg_roles WHERE rolname = '%[1]s') THEN
    CREATE ROLE %[1]s NOLOGIN;
  END IF;
  EXECUTE format('GRANT USAGE ON SCHEMA %%I TO %[1]s', current_schema());
END $$`, role)})
	}
	grant := func(what string, tables []*Table, to string) {
		var list []string
		for _, t := range tables {
			list = append(list, t.Name)
		}
		out = append(out, object{"rights of " + to, fmt.Sprintf("GRANT %s ON %s TO %s", what, strings.Join(list, ", "), to)})
	}
	grant("SELECT", slices.Concat([]*Table{marked, files}, kept, Tables), roleRead)
	grant("SELECT, UPDATE", []*Table{marked}, roleAdd)
	grant("SELECT, INSERT, DELETE", []*Table{files}, roleAdd)
	grant("SELECT, INSERT", kept, roleAdd)
	grant("SELECT, INSERT, UPDATE, DELETE", Tables, roleAdd)
	return out
}
