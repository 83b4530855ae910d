package records

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"handback/records/chain"
)

// whole is every entry that a book holds, by hash, and the lines of each job by their heads.
func whole(t testing.TB, b *Book) (entries, heads []string) {
	t.Helper()
	jobs, err := b.Jobs(ctx)
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]bool{}
	for _, j := range jobs {
		lines, err := b.Lines(ctx, j.ID)
		if err != nil {
			t.Fatal(err)
		}
		same(t, len(lines)-1, len(j.Branches))
		for i, l := range lines {
			if faults := chain.CheckChain(l.Entries); len(faults) > 0 {
				t.Fatalf("%s: %v", l.ID, faults)
			}
			read, err := b.Entries(ctx, l.ID)
			if err != nil {
				t.Fatal(err)
			}
			same(t, l.Entries, read)
			if i > 0 {
				same(t, l.Head().Hash, j.Branches[i-1].HeadHash)
			}
			for _, e := range l.Entries {
				all[e.Hash] = true
			}
			heads = append(heads, l.Head().Hash)
		}
	}
	slices.Sort(heads)
	return slices.Sorted(maps.Keys(all)), heads
}

// parted is a job that a second hand went on with behind its first three entries, in a book
// of its own.
func parted(t testing.TB) (p, q Parcel) {
	t.Helper()
	p = elsewhere(t, "tap", 5)
	b := makeBook(t)
	begin := p
	begin.Entries = p.Entries[:3]
	if err := b.Take(ctx, begin); err != nil {
		t.Fatal(err)
	}
	for i := range 2 {
		if _, err := b.Append(ctx, "tap-1", -1, measured(20+i)); err != nil {
			t.Fatal(err)
		}
	}
	entries, err := b.Entries(ctx, "tap-1")
	if err != nil {
		t.Fatal(err)
	}
	q = p
	q.Entries = entries
	return p, q
}

// Two continuations of one job are both kept, of one that stands beside as of one that has
// its own id here; each goes on by itself.
func TestTake_twoContinuations(t *testing.T) {
	for _, taken := range []bool{false, true} {
		p, q := parted(t)
		b := makeBook(t)
		id := "tap-1"
		if taken {
			if _, err := b.NewJob(ctx, "tap", opened("Another"), testPlan, testNonce); err != nil {
				t.Fatal(err)
			}
			id += "." + p.Entries[0].Hash[:12]
		}
		for _, x := range []Parcel{p, q, p, q} {
			if err := b.Take(ctx, x); err != nil {
				t.Fatal(err)
			}
		}
		branch := "tap-1." + q.Entries[3].Hash[:12]
		for of, want := range map[string][]chain.Entry{id: p.Entries, branch: q.Entries} {
			got, err := b.Entries(ctx, of)
			if err != nil {
				t.Fatal(err)
			}
			same(t, want, got)
			if _, err := b.Append(ctx, of, len(want), measured(40)); err != nil {
				t.Fatal(err)
			}
		}
		jobs, err := b.Jobs(ctx)
		if err != nil {
			t.Fatal(err)
		}
		j := jobs[len(jobs)-1]
		same(t, id, j.ID)
		same(t, 1, len(j.Branches))
		same(t, branch, j.Branches[0].ID)
		same(t, 3, j.Branches[0].After)
		same(t, len(q.Entries)+1, j.Branches[0].Entries)
		lines, err := b.Lines(ctx, branch)
		if err != nil {
			t.Fatal(err)
		}
		same(t, []string{branch, id}, []string{lines[0].ID, lines[1].ID})
		verified(t, b)
		c, err := b.Backup(ctx, filepath.Join(t.TempDir(), "copy.db"))
		if err != nil {
			t.Fatal(err)
		}
		same(t, len(jobs), c.Jobs)
	}
}

// What stands beside follows an entry of its job, and there is one entry behind another
// under one root.
func TestBeside_guards(t *testing.T) {
	p, q := parted(t)
	b := makeBook(t)
	for _, x := range []Parcel{p, q} {
		if err := b.Take(ctx, x); err != nil {
			t.Fatal(err)
		}
	}
	db := raw(t, b.Path())
	root := q.Entries[3].Hash
	e, err := chain.Seal(q.Entries[3], measured(77))
	if err != nil {
		t.Fatal(err)
	}
	stray, err := chain.EncodeEntry(chain.Head{V: 1, Job: "tap-1", Seq: 9, Prev: testHash, At: dawn, By: "x", Kind: "note"}, []byte("{}"))
	if err != nil {
		t.Fatal(err)
	}
	for name, row := range map[string][3]string{
		"a second one behind one entry": {root, string(e.Body), e.Hash},
		"behind nothing":                {stray.Hash, string(stray.Body), stray.Hash},
		"under another root":            {p.Entries[0].Hash, string(e.Body), e.Hash},
	} {
		if _, err := db.Exec("INSERT INTO beside (root, body, hash) VALUES (?, ?, ?)", row[0], row[1], row[2]); err == nil {
			t.Errorf("%s: it was put in", name)
		}
	}
	verified(t, b)
}

const testHash = "0123456789abcdef0123456789abcdef0123456789abcdef0123456789abcdef"

// Three books go on with one job each for itself, and take from one another what they have,
// whole or the beginning of it, in whatever order: once each has taken all, every book holds
// the same entries and the same continuations.
func TestTake_threeBooks(t *testing.T) {
	rounds := 15
	if testing.Short() {
		rounds = 3
	}
	for round := range rounds {
		r := rand.New(rand.NewPCG(12, uint64(round)))
		p := elsewhere(t, "tap", 1)
		var books [3]*Book
		for i := range books {
			books[i] = makeBook(t)
			if i == 2 { // here another job has the id
				if _, err := books[i].NewJob(ctx, "tap", opened("Another"), testPlan, testNonce); err != nil {
					t.Fatal(err)
				}
			}
			if err := books[i].Take(ctx, p); err != nil {
				t.Fatal(err)
			}
		}
		lines := func(i int) []chain.Line {
			id := "tap-1"
			if i == 2 {
				id += "." + p.Entries[0].Hash[:12]
			}
			l, err := books[i].Lines(ctx, id)
			if err != nil {
				t.Fatal(err)
			}
			return l
		}
		take := func(from, to, which, upto int) {
			l := lines(from)[which].Entries
			x := Parcel{Entries: l[r.IntN(3):max(upto, 3)], Plan: p.Plan, Files: p.Files}
			if err := books[to].Take(ctx, x); err != nil {
				t.Fatalf("round %d: %v", round, err)
			}
		}
		for move := range 30 {
			at := r.IntN(3)
			l := lines(at)
			which := r.IntN(len(l))
			if r.IntN(2) == 0 {
				d := measured(move)
				d.By = fmt.Sprintf("book %d", at)
				d.At = dawn.Add(time.Duration(move) * time.Minute)
				if _, err := books[at].Append(ctx, l[which].ID, -1, d); err != nil {
					t.Fatal(err)
				}
				continue
			}
			take(at, r.IntN(3), which, 1+r.IntN(len(l[which].Entries)))
		}
		for range 2 { // the second time nothing is new
			for _, x := range r.Perm(9) {
				for which, l := range lines(x / 3) {
					take(x/3, x%3, which, len(l.Entries))
				}
			}
		}
		var want [2][]string
		for i, b := range books {
			entries, heads := whole(t, b)
			if i == 2 { // but for the job that it alone has
				own, err := b.Entries(ctx, "tap-1")
				if err != nil {
					t.Fatal(err)
				}
				gone := func(h string) bool { return h == own[0].Hash }
				entries, heads = slices.DeleteFunc(entries, gone), slices.DeleteFunc(heads, gone)
			}
			if i == 0 {
				want = [2][]string{entries, heads}
			}
			same(t, want, [2][]string{entries, heads})
			verified(t, b)
		}
		if len(want[1]) < 2 && round == 0 {
			t.Error("nothing ever parted")
		}
	}
}
