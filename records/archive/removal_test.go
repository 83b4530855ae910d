package archive

import (
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"handback/records/archive/tree"
)

// holding is an archive with one bag of three entries that hold words in three tables.
func holding(t *testing.T) (*Archive, Bag) {
	t.Helper()
	a := logged(t, 1)
	x := aTaking(t, a, "a whole bag with Visitor")
	of := Of{digest("first"), digest("third")}
	x.Hashes = []string{of.Job, digest("second"), of.Head}
	x.Rows = &Rows{
		States:      []State{{Of: of, ID: "t2-return-2", Entries: 3, Title: "Planned Visitor"}},
		People:      []Person{{Of: of, Person: "p", Name: "Planned Visitor"}},
		Checks:      []Check{{Of: of, Check: "c", Kind: "rotation", Title: "Planned Visitor", Verdict: "pass"}},
		Concessions: []Concession{{Of: of, Entry: 2, Engineer: "Planned Visitor", Reason: "Visitor said so"}, {Of: of, Entry: 3, Reason: "stays"}},
		Texts:       []Text{{Of: of, Number: 1, Source: FromTitle, Said: "Planned Visitor"}, {Of: of, Number: 2, Source: FromConcession, Entry: 2, Said: "Visitor said so"}},
	}
	if became, err := a.Take(t.Context(), logDay, x); err != nil || became[0] != New {
		t.Fatalf("%q: %v", became, err)
	}
	b, found, err := a.ByHash(t.Context(), x.SHA256)
	if err != nil || !found {
		t.Fatal(found, err)
	}
	return a, b
}

func reduction(t *testing.T, a *Archive, b Bag) Reduced {
	t.Helper()
	in, err := a.Receive(t.Context(), b.Name, func(w io.Writer) error {
		_, err := io.WriteString(w, fmt.Sprint("less of bag ", b.Number))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return Reduced{Incoming: in, Of: b, List: digest("list"), Person: "records office", Why: "a passer-by", Body: []byte("{}"), Digest: digest("{}"), Entries: []int{2}}
}

// What was removed stands in no file of the archive any more, not in the data base and
// what it writes beside either; the rest stays.
func TestReduce(t *testing.T) {
	a, b := holding(t)
	whole, _, err := a.File(t.Context(), b)
	if err != nil || !standsIn(t, a.Path(), "Visitor said") || !standsIn(t, a.Path(), "a whole bag") {
		t.Fatalf("the words are not there: %v", err)
	}
	r := reduction(t, a, b)
	r.Plan = true
	if err := a.Reduce(t.Context(), logDay, r); err != nil {
		t.Fatal(err)
	}
	if standsIn(t, a.Path(), "Visitor") {
		t.Error("the words are still there")
	}
	path, hash, err := a.File(t.Context(), b)
	if is, hashed := Rehash(path); err != nil || hashed != nil || hash != r.SHA256 || is != hash || path == whole {
		t.Errorf("%s holds %s, %s is wanted: %v, %v", path, is, hash, err, hashed)
	}
	rows, err := a.RowsOf(t.Context(), b.Job, b.Head)
	if err != nil || len(rows.Concessions) != 1 || rows.Concessions[0].Reason != "stays" || len(rows.Texts)+len(rows.People) != 0 || len(rows.Checks) != 1 || rows.Checks[0].Verdict != "pass" || rows.States[0].ID != "t2-return-2" {
		t.Errorf("%+v: %v", rows, err)
	}
	removed, err := a.Removals(t.Context(), b.Number)
	if err != nil || len(removed) != 1 || removed[0].Person != "records office" || removed[0].Why != "a passer-by" || removed[0].Removed != Moment(logDay) {
		t.Errorf("%+v: %v", removed, err)
	}
	var last tree.Leaf
	for l, err := range a.Leaves(t.Context(), b.Number) {
		if err == nil {
			last, err = tree.ParseLeaf(l.Body)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if last.Bag != r.SHA256 || last.Removed != r.Digest || last.Head != b.Head {
		t.Errorf("leaf %+v", last)
	}
	if faults, err := a.CheckLog(t.Context()); err != nil || len(faults) > 0 {
		t.Errorf("%q: %v", faults, err)
	}
	if left, err := a.Unreduced(t.Context()); err != nil || len(left) != 0 {
		t.Errorf("%+v: %v", left, err)
	}
}

func standsIn(t *testing.T, dir, words string) (found bool) {
	t.Helper()
	if err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		found = found || bytes.Contains(data, []byte(words))
		return err
	}); err != nil {
		t.Fatal(err)
	}
	return found
}

// Killed after the transaction and before the whole file is deleted, the next command
// deletes it. A transaction that fails changes nothing.
func TestPurge(t *testing.T) {
	a, b := holding(t)
	whole, _, err := a.File(t.Context(), b)
	if err != nil {
		t.Fatal(err)
	}
	content, err := os.ReadFile(whole)
	if err != nil {
		t.Fatal(err)
	}
	bad := reduction(t, a, b)
	bad.Digest = "no hash"
	if err := a.Reduce(t.Context(), logDay, bad); err == nil {
		t.Fatal("reduced without a digest")
	}
	if path, _, err := a.File(t.Context(), b); err != nil || path != whole || !standsIn(t, a.Path(), "Visitor said") {
		t.Fatalf("something was removed: %s, %v", path, err)
	}
	for range 2 {
		if err := a.Reduce(t.Context(), logDay, reduction(t, a, b)); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(whole, content, 0o400); err != nil {
			t.Fatal(err)
		}
		if err := a.Purge(t.Context()); err != nil {
			t.Fatal(err)
		}
		if _, err := os.Stat(whole); err == nil {
			t.Error("the whole bag is still there")
		}
		if path, hash, err := a.File(t.Context(), b); err != nil || !strings.Contains(path, hash) {
			t.Errorf("%s: %v", path, err)
		} else if is, err := Rehash(path); err != nil || is != hash {
			t.Errorf("%s holds %s: %v", path, is, err)
		}
	}
}

// A leaf that tells of another reduced bag than the one that is here is found.
func TestCheckLog_removal(t *testing.T) {
	a, b := holding(t)
	if err := a.Reduce(t.Context(), logDay, reduction(t, a, b)); err != nil {
		t.Fatal(err)
	}
	for _, sql := range []string{"DROP TRIGGER removals_update", "UPDATE removals SET sha256 = '" + digest("another") + "'"} {
		if _, err := a.db.Exec(sql); err != nil {
			t.Fatal(err)
		}
	}
	faults, err := a.CheckLog(t.Context())
	if err != nil || len(faults) != 1 || !strings.Contains(faults[0], "leaf 3 tells of another bag than bag 2") {
		t.Errorf("%q: %v", faults, err)
	}
}
