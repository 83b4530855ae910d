package postgres_test

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"handback/records/archive"
	_ "handback/records/archive/postgres"
	"handback/testdata/archives"
	"handback/testdata/outside"
)

var (
	ctx = context.Background()
	now = time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC)
)

func TestMain(m *testing.M) { os.Exit(outside.Suite{M: m}.Run()) }

// made counts schemas: each archive of a test has one of its own.
var made int

// at is the URL of a schema that holds nothing yet.
func at(p *outside.Postgres) (url, schema string) {
	made++
	schema = fmt.Sprintf("owner_%d", made)
	p.SQL("public", "CREATE SCHEMA "+schema)
	return p.URL("owner", "search_path="+schema), schema
}

func create(tb archives.TB, url string) *archive.Archive {
	tb.Helper()
	a, err := archive.Create(ctx, url, nil, now)
	if err != nil {
		tb.Fatal(err)
	}
	return a
}

// PostgreSQL is held to what every engine is.
func TestConform(t *testing.T) {
	outside.Long(t)
	p := outside.NewPostgres(t)
	archives.Conform(t, func(tb archives.TB) *archive.Archive {
		url, _ := at(p)
		a := create(tb, url)
		t.Cleanup(func() { a.Close() })
		return a
	})
}

// What is kept is only added to, whoever tries, and the server holds each hash against its
// bytes.
func TestGuards(t *testing.T) {
	p := outside.NewPostgres(t)
	url, schema := at(p)
	a := create(t, url)
	defer a.Close()
	f := archives.Fake{Seed: 1, Path: "abc"}
	x, err := f.Taking(a)
	if err == nil {
		_, err = a.Take(ctx, now, x)
	}
	if err == nil {
		err = a.SetPolicy(ctx, []archive.Part{{Part: archive.PartPolicy, Body: []byte("{}")}}, now)
	}
	if err != nil {
		t.Fatal(err)
	}
	tables := []string{"archive", "files", "bags", "quarantine", "policies", "log_keys", "leaves", "log_hashes", "removals", "keeps"}
	before := dump(p, schema, tables)
	if !strings.Contains(before, f.Head()) {
		t.Fatalf("the bag is not there: %s", before)
	}
	for _, table := range tables {
		for _, s := range []string{"UPDATE %[1]s SET " + map[bool]string{true: "version = 9", false: "bytes = 1"}[table == "archive"], "DELETE FROM %[1]s", "TRUNCATE %[1]s", "TRUNCATE %[1]s CASCADE"} {
			if strings.Contains(s, "bytes") && !strings.Contains("files bags quarantine removals", table) {
				s = "UPDATE %[1]s SET number = 9"
			}
			if table == "log_hashes" {
				s = strings.Replace(s, "number", "place", 1)
			}
			refusedBy(t, p, schema, fmt.Sprintf(s, table), "are only added")
		}
	}
	const bag = "INSERT INTO bags (number, job, head, entries, sha256, bytes, taken, name, policy, partly, hashes) SELECT %s FROM bags"
	for s, why := range map[string]string{
		"INSERT INTO files (place, sha256, bytes, body) VALUES ('bags', repeat('0', 64), 1, 'x')":             "files_sha256",
		"INSERT INTO files (place, sha256, bytes, body) VALUES ('bags', encode(sha256('x'), 'hex'), 2, 'x')":  "files_bytes",
		"INSERT INTO files (place, sha256, bytes, body) VALUES ('loft', encode(sha256('x'), 'hex'), 1, 'x')":  "files_place",
		"INSERT INTO bags SELECT * FROM bags ON CONFLICT (number) DO UPDATE SET name = 'other'":               "are only added",
		fmt.Sprintf(bag, "2, job, head, entries, 'x', bytes, taken, name, policy, partly, hashes"):            "bags_by_state",
		fmt.Sprintf(bag, "2, job, repeat('0', 64), entries, 'x', bytes, taken, name, policy, partly, hashes"): "bags_head",
		fmt.Sprintf(bag, "2, job, head, entries + 1, 'x', bytes, taken, name, policy, partly, hashes"):        "bags_hashes",
		fmt.Sprintf(bag, "3, job, head, entries, 'x', bytes, taken, name, policy, partly, hashes"):            "number does not follow",
		"INSERT INTO leaves SELECT 7, bag, body FROM leaves":                                                  "number does not follow",
	} {
		refusedBy(t, p, schema, s, why)
	}
	if after := dump(p, schema, tables); after != before {
		t.Errorf("it holds another thing now:\n%s\nbefore:\n%s", after, before)
	}
}

func dump(p *outside.Postgres, schema string, tables []string) string {
	p.Helper()
	var s strings.Builder
	for _, t := range tables {
		fmt.Fprintf(&s, "SELECT '%[1]s', x FROM %[1]s x ORDER BY 2;\n", t)
	}
	return p.SQL(schema, s.String())
}

// refusedBy has the owner of the data base, who may do everything, run a statement.
func refusedBy(t *testing.T, p *outside.Postgres, schema, statement, why string) {
	t.Helper()
	said, err := p.Try("owner", schema, statement)
	if err == nil || !strings.Contains(said, why) {
		t.Errorf("%s: %v: %s", statement, err, said)
	}
}

// Whoever adds may add and nothing else, whoever reads may read and nothing else; both
// through the program.
func TestRoles(t *testing.T) {
	p := outside.NewPostgres(t)
	url, schema := at(p)
	create(t, url).Close()
	p.SQL(schema, "CREATE ROLE ada LOGIN IN ROLE handback_add; CREATE ROLE ben LOGIN IN ROLE handback_read; CREATE ROLE cid LOGIN")
	open := func(user string) (*archive.Archive, error) {
		return archive.Open(ctx, p.URL(user, "search_path="+schema))
	}
	a, err := open("ada")
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	for _, f := range []archives.Fake{{Seed: 1, Path: "ab"}, {Seed: 1, Path: "abc"}} {
		x, err := f.Taking(a)
		if err == nil {
			_, err = a.Take(ctx, now, x)
		}
		if err != nil {
			t.Fatalf("ada: %v", err)
		}
	}
	if err := a.SetPolicy(ctx, []archive.Part{{Part: archive.PartPolicy, Body: []byte("{}")}}, now); err != nil {
		t.Errorf("ada: %v", err)
	}
	b, err := open("ben")
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if faults, warnings, err := b.Check(ctx); err != nil || len(faults)+len(warnings) > 0 {
		t.Errorf("ben: %q, %q: %v", faults, warnings, err)
	}
	if j, err := b.Job(ctx, (archives.Fake{Seed: 1, Path: "a"}).Job()); err != nil || len(j.States) != 2 {
		t.Errorf("ben sees %d states: %v", len(j.States), err)
	}
	if err := b.SetPolicy(ctx, nil, now); !errors.Is(err, archive.ErrReadOnly) {
		t.Errorf("ben: %v", err)
	}
	if _, err := open("cid"); !errors.Is(err, archive.ErrNoArchive) || !strings.Contains(err.Error(), "handback_read") {
		t.Errorf("cid: %v", err)
	}
	for _, s := range []string{"CREATE TABLE x (y text)", "DROP TABLE bags", "ALTER TABLE bags DISABLE TRIGGER ALL", "UPDATE archive SET version = 2", "TRUNCATE states", "DELETE FROM bags",
		"DELETE FROM files", "UPDATE bags SET name = ''", "CREATE ROLE x", "CREATE OR REPLACE FUNCTION only_added() RETURNS trigger LANGUAGE plpgsql AS 'BEGIN RETURN NULL; END'"} {
		for _, user := range []string{"ada", "ben"} {
			if said, err := p.Try(user, schema, s); err == nil || !strings.Contains(said, "permission denied") && !strings.Contains(said, "must be owner") && !strings.Contains(said, "are only added") {
				t.Errorf("%s: %s: %v: %s", user, s, err, said)
			}
		}
	}
	if said, err := p.Try("ben", schema, "INSERT INTO states SELECT * FROM states"); err == nil || !strings.Contains(said, "permission denied") {
		t.Errorf("ben: %v: %s", err, said)
	}
}

// What was done to the data base by another hand is named.
func TestCheck_faults(t *testing.T) {
	outside.Long(t)
	p := outside.NewPostgres(t)
	url, schema := at(p)
	a := create(t, url)
	defer a.Close()
	for s, want := range map[string][2]string{ // with what undoes it
		"DROP TRIGGER bags_only_added ON bags":                                       {"trigger bags.bags_only_added is not there", "CREATE TRIGGER bags_only_added BEFORE UPDATE OR DELETE OR TRUNCATE ON bags EXECUTE FUNCTION only_added()"},
		"ALTER TABLE files DISABLE TRIGGER files_only_reduced":                       {"trigger files.files_only_reduced is not as it was made: D", "ALTER TABLE files ENABLE TRIGGER files_only_reduced"},
		"ALTER TABLE files DROP CONSTRAINT files_bytes":                              {"rule files.files_bytes is not there", "ALTER TABLE files ADD CONSTRAINT files_bytes CHECK (bytes = length(body))"},
		"DROP INDEX plants_by_serial":                                                {"index plants_by_serial is not there", "CREATE INDEX plants_by_serial ON plants (serial)"},
		"ALTER TABLE bags ALTER COLUMN name DROP NOT NULL":                           {"column bags.name is not as it was made", "ALTER TABLE bags ALTER COLUMN name SET NOT NULL"},
		"ALTER TABLE readings DETACH PARTITION readings_2020":                        {"part readings_2020 is not there", "ALTER TABLE readings ATTACH PARTITION readings_2020 FOR VALUES FROM ('2020') TO ('2025')"},
		"CREATE TRIGGER more BEFORE INSERT ON bags EXECUTE FUNCTION only_added()":    {"trigger bags.more was put in", "DROP TRIGGER more ON bags"},
		"INSERT INTO plants VALUES ('j', 'other', 'T2', '', '', '', '', '', '', '')": {"table plants: 1 rows of states that no bag holds", "DELETE FROM plants"},
	} {
		faultOf(t, a, "")
		p.SQL(schema, s)
		faultOf(t, a, want[0])
		p.SQL(schema, want[1])
	}
	p.SQL(schema, "INSERT INTO files (place, sha256, bytes, body) VALUES ('bags', encode(sha256('x'), 'hex'), 1, 'x')")
	if _, warnings, err := a.Check(ctx); err != nil || len(warnings) != 1 || !strings.Contains(warnings[0], "nothing tells of this file") {
		t.Errorf("stray: %q, %v", warnings, err)
	}
	p.SQL(schema, "INSERT INTO leaves VALUES (1, 1, 'x')")
	faultOf(t, a, "log: leaf 1")
}

// faultOf wants one fault that says something, none for "".
func faultOf(t *testing.T, a *archive.Archive, want string) {
	t.Helper()
	faults, _, err := a.Check(ctx)
	if err != nil || len(faults) > 1 && want != "log: leaf 1" || (len(faults) == 0) != (want == "") || want != "" && !strings.Contains(faults[0], want) {
		t.Errorf("want %q: %q, %v", want, faults, err)
	}
}

// The tables may be made by somebody else, from the SQL that is printed.
func TestCreate_printed(t *testing.T) {
	p := outside.NewPostgres(t)
	url, schema := at(p)
	if _, err := archive.Open(ctx, url); !errors.Is(err, archive.ErrNoArchive) {
		t.Errorf("nothing there: %v", err)
	}
	p.SQL(schema, archive.Schema("", now))
	a := create(t, url)
	defer a.Close()
	faultOf(t, a, "")
	if err := a.SetLogKey(ctx, "log/1", "ssh-ed25519 AAAA", now); err != nil {
		t.Fatal(err)
	}
	if _, err := archive.Create(ctx, url, nil, now); !errors.Is(err, archive.ErrExists) {
		t.Errorf("a second time: %v", err)
	}
	p.SQL(schema, "ALTER TABLE archive DISABLE TRIGGER ALL; UPDATE archive SET version = 99")
	if _, err := archive.OpenRead(ctx, url); !errors.Is(err, archive.ErrNewer) {
		t.Errorf("of a newer program: %v", err)
	}
	if _, err := archive.Open(ctx, "postgres://owner@/postgres?host="+t.TempDir()); !errors.Is(err, archive.ErrAway) {
		t.Errorf("nobody answers: %v", err)
	}
}
