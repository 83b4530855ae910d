package records

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"handback/records/chain"
)

// Each statement that would change or replace what is written, with this package's
// settings and with those of any other program.
func TestGuard_statements(t *testing.T) {
	b := makeBook(t)
	job := makeJob(t, b, 2).Job
	kept, err := b.NewJob(ctx, "tap", opened("Taps"), testPlan, testNonce)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.Append(ctx, kept.Job, 1, attached("a.txt", testFile)); err != nil {
		t.Fatal(err)
	}
	want, err := readAll(b)
	if err != nil {
		t.Fatal(err)
	}
	es := want.Entries[job]
	body3, hash3 := string(es[2].Body), es[2].Hash
	forged, err := chain.EncodeEntry(chain.Head{V: 1, Job: job, Seq: 3, Prev: es[1].Hash, At: dawn, By: "Mallory", Kind: "answers"}, []byte(`{}`))
	if err != nil {
		t.Fatal(err)
	}
	far, err := chain.EncodeEntry(chain.Head{V: 1, Job: job, Seq: 9, Prev: es[2].Hash, At: dawn, By: "Mallory", Kind: "answers"}, []byte(`{}`))
	if err != nil {
		t.Fatal(err)
	}
	loose, err := chain.EncodeEntry(chain.Head{V: 1, Job: job, Seq: 4, Prev: es[0].Hash, At: dawn, By: "Mallory", Kind: "answers"}, []byte(`{}`))
	if err != nil {
		t.Fatal(err)
	}
	follows, err := chain.EncodeEntry(chain.Head{V: 1, Job: job, Seq: 4, Prev: es[2].Hash, At: dawn, By: "Mallory", Kind: "answers"}, []byte(`{}`))
	if err != nil {
		t.Fatal(err)
	}
	plan := chain.HashPlan(testPlan)
	cases := []struct {
		query string
		args  []any
	}{
		{"UPDATE entries SET body = ? WHERE line = 3", []any{string(forged.Body)}},
		{"UPDATE OR REPLACE entries SET hash = ? WHERE line = 3", []any{hash3}},
		{"UPDATE entries SET job = 'x'", nil},
		{"DELETE FROM entries WHERE line = 3", nil},
		{"DELETE FROM entries", nil},
		{"INSERT INTO entries (body, hash) VALUES (?, ?)", []any{string(forged.Body), forged.Hash}},
		{"INSERT OR REPLACE INTO entries (body, hash) VALUES (?, ?)", []any{string(forged.Body), forged.Hash}},
		{"INSERT OR REPLACE INTO entries (line, body, hash) VALUES (3, ?, ?)", []any{string(forged.Body), forged.Hash}},
		{"REPLACE INTO entries (body, hash) VALUES (?, ?)", []any{string(forged.Body), hash3}},
		{"REPLACE INTO entries (line, body, hash) VALUES (3, ?, ?)", []any{body3, hash3}},
		{"INSERT INTO entries (body, hash) VALUES (?, ?) ON CONFLICT (job, seq) DO UPDATE SET body = excluded.body", []any{string(forged.Body), forged.Hash}},
		{"INSERT INTO entries (body, hash) VALUES (?, ?) ON CONFLICT (hash) DO UPDATE SET body = excluded.body", []any{string(forged.Body), hash3}},
		{"INSERT OR REPLACE INTO entries (body, hash) VALUES (?, ?)", []any{string(far.Body), far.Hash}},
		{"INSERT INTO entries (body, hash) VALUES (?, ?)", []any{string(loose.Body), loose.Hash}},
		{"INSERT INTO entries (body, hash) VALUES ('no json', ?)", []any{far.Hash}},
		{"INSERT INTO entries (body, hash) VALUES (?, 'short')", []any{string(far.Body)}},
		// In its place in the chain, but over another line or under another's hash.
		{"REPLACE INTO entries (line, body, hash) VALUES (1, ?, ?)", []any{string(follows.Body), follows.Hash}},
		{"REPLACE INTO entries (body, hash) VALUES (?, ?)", []any{string(follows.Body), es[0].Hash}},
		{"UPDATE plans SET body = x'00'", nil},
		{"DELETE FROM plans", nil},
		{"INSERT OR REPLACE INTO plans (hash, body) VALUES (?, x'00')", []any{plan}},
		{"INSERT INTO plans (hash, body) VALUES (?, x'00') ON CONFLICT (hash) DO UPDATE SET body = excluded.body", []any{plan}},
		{"UPDATE attachments SET body = x'00'", nil},
		{"UPDATE OR REPLACE attachments SET hash = ?", []any{plan}},
		{"DELETE FROM attachments", nil},
		{"INSERT OR REPLACE INTO attachments (hash, body) VALUES (?, x'00')", []any{chain.HashFile(testFile)}},
		{"INSERT OR REPLACE INTO attachments (line, hash, body) VALUES (1, ?, x'00')", []any{plan}},
		{"INSERT INTO attachments (hash, body) VALUES (?, x'00') ON CONFLICT (hash) DO UPDATE SET body = excluded.body", []any{chain.HashFile(testFile)}},
		{"INSERT INTO attachments (hash, body) VALUES ('short', x'00')", nil},
	}
	other := raw(t, b.Path())
	for _, db := range []string{"ours", "another program's"} {
		for _, c := range cases {
			var err error
			if db == "ours" {
				_, err = b.db.Exec(c.query, c.args...)
			} else {
				_, err = other.Exec(c.query, c.args...)
			}
			if err == nil {
				t.Errorf("%s: accepted: %s", db, c.query)
			}
		}
	}
	got, err := readAll(b)
	if err != nil {
		t.Fatal(err)
	}
	same(t, want, got)
	verified(t, b)
}

const dropGuards = `DROP TRIGGER entries_insert; DROP TRIGGER entries_update; DROP TRIGGER entries_delete;
DROP TRIGGER plans_insert; DROP TRIGGER plans_update; DROP TRIGGER plans_delete;
DROP TRIGGER attachments_insert; DROP TRIGGER attachments_update; DROP TRIGGER attachments_delete;
DROP TRIGGER beside_insert; DROP TRIGGER beside_update; DROP TRIGGER beside_delete;`

// restoreGuards puts the triggers back, so that only the chain can tell.
func restoreGuards() string {
	var all []string
	for _, o := range slices.Concat(migrations[:]...) {
		if o.kind == "trigger" {
			all = append(all, o.sql)
		}
	}
	return strings.Join(all, ";\n")
}

// Somebody with full rights changes the book and puts the triggers back.
func TestVerify_tampering(t *testing.T) {
	cases := []struct {
		name, statements string
		want             []chain.Fault // What is a part of what is said
	}{
		{"nothing", "SELECT 1", nil},
		{"swapped bodies", `CREATE TEMP TABLE s AS SELECT body FROM entries WHERE line = 3;
			CREATE TEMP TABLE r AS SELECT body FROM entries WHERE line = 4; DROP INDEX entries_by_job;
			UPDATE entries SET body = (SELECT body FROM r) WHERE line = 3; UPDATE entries SET body = (SELECT body FROM s) WHERE line = 4;
			CREATE UNIQUE INDEX entries_by_job ON entries (job, seq)`,
			[]chain.Fault{{Job: "pump-1", Seq: 3, What: "stands after entry 4"}, {Job: "pump-1", Seq: 3, What: "does not match its hash"}, {Job: "pump-1", Seq: 3, What: "is missing"},
				{Job: "pump-1", Seq: 4, What: "does not match its hash"}, {Job: "pump-1", Seq: 5, What: "does not follow from entry 4"}}},
		{"swapped lines", `UPDATE entries SET line = 99 WHERE line = 3; UPDATE entries SET line = 3 WHERE line = 4; UPDATE entries SET line = 4 WHERE line = 99`,
			[]chain.Fault{{Job: "pump-1", Seq: 3, What: "it stands after entry 4"}, {Job: "pump-1", Seq: 3, What: "is missing"}}},
		{"value", `UPDATE entries SET body = replace(body, '249.1', '249.2') WHERE line = 3`, []chain.Fault{{Job: "pump-1", Seq: 3, What: "does not match its hash"}}},
		{"middle removed", `DELETE FROM entries WHERE line = 3`, []chain.Fault{{Job: "pump-1", Seq: 3, What: "it is missing"}}},
		{"first removed", `DELETE FROM entries WHERE line = 1`, []chain.Fault{{Job: "pump-1", Seq: 1, What: "it is missing"}, {Job: "", Seq: 0, What: "belongs to no job"}}},
		{"plan changed", `UPDATE plans SET body = x'00'`, []chain.Fault{{Job: "pump-1", Seq: 0, What: "does not match its hash"}}},
		{"plan removed", `DELETE FROM plans`, []chain.Fault{{Job: "pump-1", Seq: 1, What: "is not in the book"}, {Job: "", Seq: 0, What: "refers to what is not in plans"}}},
		{"plan added", `INSERT INTO plans VALUES (printf('%064d', 1), x'00')`, []chain.Fault{{Job: "", Seq: 0, What: "does not match its hash"}}},
		{"moved to another job", `DROP INDEX entries_by_job; UPDATE entries SET body = replace(body, '"pump-1"', '"pump-7"') WHERE line = 5;
			CREATE UNIQUE INDEX entries_by_job ON entries (job, seq)`,
			[]chain.Fault{{Job: "pump-7", Seq: 5, What: "does not match its hash"}, {Job: "pump-7", Seq: 1, What: "up to 4 are missing"}}},
		{"newer version", `UPDATE entries SET body = replace(body, '"v":1', '"v":2') WHERE line = 4`, []chain.Fault{{Job: "pump-1", Seq: 4, What: "version 2"}}},
		{"last one unreadable", `UPDATE entries SET body = replace(body, '"v":1', '"v":2') WHERE line = 5`, []chain.Fault{{Job: "pump-1", Seq: 5, What: "version 2"}}},
		{"spaces", `UPDATE entries SET body = replace(body, '"v":1', '"v": 1') WHERE line = 4`, []chain.Fault{{Job: "pump-1", Seq: 4, What: "RFC 8785"}}},
		{"genesis", `UPDATE entries SET body = replace(body, 'invented-nonce-0001', 'invented-nonce-0002') WHERE line = 1`,
			[]chain.Fault{{Job: "pump-1", Seq: 1, What: "does not match its hash"}, {Job: "pump-1", Seq: 1, What: "prev is not made from"}}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			b := makeBook(t)
			makeJob(t, b, 4)
			b.Close()
			db := raw(t, b.Path())
			mustExec(t, db, "PRAGMA foreign_keys = OFF;"+dropGuards)
			mustExec(t, db, c.statements)
			mustExec(t, db, restoreGuards())
			db.Close()
			expectFaults(t, b.Path(), c.want)
		})
	}
}

func expectFaults(t *testing.T, path string, want []chain.Fault) {
	t.Helper()
	b, err := OpenRead(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	got := verify(t, b)
	if len(got) != len(want) {
		t.Errorf("got %d faults, want %d", len(got), len(want))
	}
	for _, w := range want {
		if !slices.ContainsFunc(got, func(f chain.Fault) bool { return f.Job == w.Job && f.Seq == w.Seq && strings.Contains(f.What, w.What) }) {
			t.Errorf("no fault like %q", w)
		}
	}
	if t.Failed() {
		t.Logf("found: %q", got)
	}
}

// One entry forged so well that its own hash is right: the next link tells.
func TestVerify_forged_link(t *testing.T) {
	b := makeBook(t)
	job := makeJob(t, b, 3).Job
	es, err := b.Entries(ctx, job)
	if err != nil {
		t.Fatal(err)
	}
	forged, err := chain.EncodeEntry(es[1].Head, []byte(`{"volts":230}`))
	if err != nil {
		t.Fatal(err)
	}
	b.Close()
	db := raw(t, b.Path())
	mustExec(t, db, dropGuards)
	mustExec(t, db, "UPDATE entries SET body = ?, hash = ? WHERE line = 2", string(forged.Body), forged.Hash)
	mustExec(t, db, restoreGuards())
	db.Close()
	expectFaults(t, b.Path(), []chain.Fault{{Job: job, Seq: 3, What: "does not follow from entry 2"}})
	r, err := OpenRead(ctx, b.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer r.Close()
	if _, err := r.Entries(ctx, job); !errors.Is(err, ErrDamaged) || !strings.Contains(err.Error(), "entry 3") {
		t.Errorf("Entries: got %v, want ErrDamaged at entry 3", err)
	}
	es[1] = forged
	if faults := chain.CheckChain(es); len(faults) != 1 || faults[0].Seq != 3 {
		t.Errorf("CheckChain: got %v, want one fault at entry 3", faults)
	}
	if faults := chain.CheckChain(es[:1]); len(faults) != 0 {
		t.Errorf("CheckChain: got %v for a good beginning", faults)
	}
}

func TestVerify_schema(t *testing.T) {
	for name, c := range map[string]struct{ statements, want string }{
		"removed":  {"DROP TRIGGER entries_update", "trigger entries_update was removed"},
		"altered":  {"DROP TRIGGER entries_delete; CREATE TRIGGER entries_delete BEFORE DELETE ON entries BEGIN SELECT 1; END", "trigger entries_delete was altered"},
		"added":    {"CREATE TRIGGER quiet AFTER INSERT ON entries BEGIN SELECT 1; END", `trigger "quiet" was added`},
		"table":    {"CREATE TABLE extra (x)", `table "extra" was added`},
		"index":    {"DROP INDEX entries_by_hash", "index entries_by_hash was removed"},
		"no table": {"DROP TABLE plans", "table plans was removed"},
	} {
		t.Run(name, func(t *testing.T) {
			b := makeBook(t)
			makeJob(t, b, 1)
			b.Close()
			db := raw(t, b.Path())
			mustExec(t, db, "PRAGMA foreign_keys = OFF;"+c.statements)
			db.Close()
			r, err := OpenRead(ctx, b.Path())
			if err != nil {
				t.Fatal(err)
			}
			defer r.Close()
			faults := verify(t, r)
			if !slices.ContainsFunc(faults, func(f chain.Fault) bool { return strings.Contains(f.What, c.want) }) {
				t.Errorf("got %v, want %q", faults, c.want)
			}
		})
	}
}
