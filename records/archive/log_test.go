package archive

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"golang.org/x/mod/sumdb/tlog"

	"handback/records/archive/tree"
)

var logDay = time.Date(2026, 5, 12, 9, 0, 0, 0, time.UTC)

func digest(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}

// logged is an archive that took n bags of one entry each. What is in them is no matter
// to the log.
func logged(t *testing.T, n int) *Archive {
	t.Helper()
	ctx := t.Context()
	a, err := Create(ctx, filepath.Join(t.TempDir(), "arc"), nil, logDay)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { a.Close() })
	for i := range n {
		if became, err := a.Take(ctx, logDay, aTaking(t, a, fmt.Sprint("bag ", i))); err != nil || became[0] != New {
			t.Fatalf("bag %d: %q: %v", i, became, err)
		}
	}
	return a
}

func aTaking(t *testing.T, a *Archive, content string) Taking {
	t.Helper()
	in, err := a.Receive(t.Context(), "bag.zip", func(w io.Writer) error {
		_, err := io.WriteString(w, content)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	of := Of{digest("job of " + content), digest("job of " + content)}
	return Taking{Incoming: in, Hashes: []string{of.Head}, List: digest("list of " + content), Rows: &Rows{States: []State{{Of: of, ID: "t2-return-1", Entries: 1}}}}
}

// Every bag taken is a leaf, in its order; what is kept gives the root that the leaves give
// by the definition of RFC 6962, section 2.1, hashed here one by one.
func TestLog_root(t *testing.T) {
	for _, n := range []int{1, 2, 3, 7, 12} {
		a := logged(t, n)
		var bodies [][]byte
		for l, err := range a.Leaves(t.Context(), 0) {
			if err != nil {
				t.Fatal(err)
			}
			is, err := tree.ParseLeaf(l.Body)
			want := digest(fmt.Sprint("bag ", len(bodies)))
			if bodies = append(bodies, l.Body); err != nil || l.Number != len(bodies) || is.Bag != want || is.Entries != 1 || !is.Taken.Equal(logDay) {
				t.Errorf("leaf %d: %s: %v", l.Number, l.Body, err)
			}
		}
		size, kept, err := a.Log(t.Context())
		if err != nil || size != int64(n) {
			t.Fatalf("%d leaves: %v", size, err)
		}
		if root, err := tlog.TreeHash(size, kept); err != nil || [32]byte(root) != rootOf(bodies) {
			t.Errorf("%d leaves: root %v: %v", n, root, err)
		}
		if faults, err := a.CheckLog(t.Context()); err != nil || len(faults) > 0 {
			t.Errorf("%d leaves: %q: %v", n, faults, err)
		}
	}
}

// rootOf is MTH of RFC 6962, section 2.1, word for word.
func rootOf(leaves [][]byte) [32]byte {
	if len(leaves) == 1 {
		return sha256.Sum256(append([]byte{0}, leaves[0]...))
	}
	k := 1
	for 2*k < len(leaves) {
		k *= 2
	}
	left, right := rootOf(leaves[:k]), rootOf(leaves[k:])
	return sha256.Sum256(append(append([]byte{1}, left[:]...), right[:]...))
}

// A bag and its leaf are taken together or not at all.
func TestLog_oneTransaction(t *testing.T) {
	a := logged(t, 3)
	bad := aTaking(t, a, "bag 4")
	bad.List = "no hash"
	if _, err := a.Take(t.Context(), logDay, aTaking(t, a, "bag 3"), bad); err == nil {
		t.Fatal("a bag without a list was taken")
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := a.Take(ended, logDay, aTaking(t, a, "bag 5")); err == nil {
		t.Fatal("taken although it was interrupted")
	}
	if became, err := a.Take(t.Context(), logDay, aTaking(t, a, "bag 1")); err != nil || became[0] != Known {
		t.Fatalf("%q: %v", became, err)
	}
	size, _, err := a.Log(t.Context())
	if faults, checked := a.CheckLog(t.Context()); err != nil || size != 3 || checked != nil || len(faults) > 0 {
		t.Errorf("%d leaves: %v, %q: %v", size, err, faults, checked)
	}
}

// What was changed behind the archive's back is found, and refused as far as triggers go.
func TestCheckLog_faults(t *testing.T) {
	for name, c := range map[string]struct{ sql, want string }{
		"leaf changed":        {`UPDATE leaves SET body = CAST(replace(CAST(body AS TEXT), '"entries":1', '"entries":2') AS BLOB) WHERE number = 2`, "leaf 2 tells of another bag"},
		"leaf of another bag": {"UPDATE leaves SET bag = 3 WHERE number = 2", "leaf 2 tells of another bag than bag 3"},
		"leaf gone":           {"DELETE FROM leaves WHERE number = 2", "leaf 3 stands where 2 is wanted"},
		"newest gone":         {"DELETE FROM leaves WHERE number = 5", "it tells of 4 bags, there are 5"},
		"bag gone":            {"DELETE FROM bags WHERE number = 5", "leaf 5 tells of another bag"},
		"hash changed":        {"UPDATE log_hashes SET hash = zeroblob(32) WHERE place = 2", "the hash at place 2 does not follow"},
		"hash short":          {"UPDATE log_hashes SET hash = x'00' WHERE place = 7", "the hash at place 7 does not follow"},
		"hash gone":           {"DELETE FROM log_hashes WHERE place = 3", "the hash at place 4 does not follow"},
		"newest hash":         {"DELETE FROM log_hashes WHERE place = 7", "7 hashes are kept, 8 follow"},
		"one hash more":       {"INSERT INTO log_hashes VALUES (8, zeroblob(32))", "the hash at place 8 does not follow"},
		"no leaf":             {"UPDATE leaves SET body = x'7b7d' WHERE number = 1", "leaf 1: leaf: "},
	} {
		a := logged(t, 5)
		if !strings.HasPrefix(c.sql, "INSERT") {
			if _, err := a.db.Exec(c.sql); err == nil || !strings.Contains(err.Error(), "are only added") {
				t.Errorf("%s: not refused: %v", name, err)
			}
		}
		table := strings.Fields(strings.TrimPrefix(c.sql, "DELETE "))[1]
		for _, act := range []string{"update", "delete"} {
			if _, err := a.db.Exec("DROP TRIGGER " + table + "_" + act); err != nil && !strings.HasPrefix(c.sql, "INSERT") {
				t.Fatal(err)
			}
		}
		if _, err := a.db.Exec(c.sql); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		faults, err := a.CheckLog(t.Context())
		if err != nil || !strings.Contains(strings.Join(faults, "\n"), c.want) {
			t.Errorf("%s: %q: %v; want %q", name, faults, err, c.want)
		}
	}
}

func TestSetLogKey(t *testing.T) {
	a := logged(t, 0)
	if _, err := a.LogKey(t.Context()); err == nil {
		t.Error("there is a key")
	}
	if err := a.SetLogKey(t.Context(), "two words", "ssh-ed25519 AAAA", logDay); err == nil {
		t.Error("an origin of two words is accepted")
	}
	for _, origin := range []string{"one", "other"} {
		if err := a.SetLogKey(t.Context(), origin, "ssh-ed25519 AAAA", logDay); err != nil {
			t.Fatal(err)
		}
	}
	if k, err := a.LogKey(t.Context()); err != nil || k != (LogKey{2, "other", "ssh-ed25519 AAAA", "2026-05-12T09:00:00.000Z"}) {
		t.Errorf("%+v: %v", k, err)
	}
}
