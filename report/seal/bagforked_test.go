package seal

import (
	"bytes"
	"strings"
	"testing"

	"handback/records/chain"
	"handback/report"
	"handback/testdata/rig"
)

// A bag holds both sides of a job that was joined: a side that is gone, changed, cut short or
// another job is found, manifests made anew or not, and so is a join that parts elsewhere.
func TestExamineBag_forked(t *testing.T) {
	joined := func(after func(int) int) *rig.Rig {
		r := rig.New(t, "pump.yaml")
		r.Take("isolated", rig.Isolated)
		at := len(r.Job().Entries)
		r.Put(report.EntryNote, "", report.Noted{Text: "on this side"})
		there := r.Elsewhere(at, rig.Note("there"), rig.Note("and again"))
		r.Adopts(there[1], 0)
		r.Joins("eva", after(at), there, 0, len(r.Job().Entries))
		return r
	}
	r := joined(func(n int) int { return n })
	good := pack(r)
	bodies, hashes := branchFiles(r.Job().Lines[0])
	if len(bytes.Split(good[bodies], []byte("\n"))) != 3 || good[hashes] == nil {
		t.Fatalf("the bag does not hold the other side: %q", good[bodies])
	}
	other := rig.New(t, "pump.yaml")
	other.Put(report.EntryNote, "", report.Noted{Text: "of another job"})
	entry := other.Job().Entries[1]
	strange, err := chain.EncodeEntry(chain.Head{V: 1, Job: entry.Job, Seq: 1, Prev: entry.Prev, At: entry.At, By: "ada", Kind: "open"}, other.Job().Entries[0].Data)
	if err != nil {
		t.Fatal(err)
	}
	first, _, _ := bytes.Cut(good[bodies], []byte("\n"))
	for what, c := range map[string]struct {
		change func(pile)
		want   string
	}{
		"nothing": {func(pile) {}, ""},
		"gone":    {func(p pile) { delete(p, bodies); delete(p, hashes) }, "the continuation that entry 6 joins is not in the bag"},
		"cut":     {func(p pile) { p[bodies] = append(first, '\n') }, "the continuation that entry 6 joins is not in the bag"},
		"changed": {func(p pile) { p[bodies] = bytes.Replace(good[bodies], []byte("there"), []byte("where"), 1) }, "it does not follow from entry 4"},
		"hashes":  {func(p pile) { p[hashes] = good[bagHashes] }, hashes + " does not list the hashes of " + bodies},
		"another": {func(p pile) { p[bodies] = append(strange.Body, '\n') }, bodies},
		"a side more": {func(p pile) {
			p[bagBranches+"000000000000.jsonl"], p[bagBranches+"000000000000.txt"] = good[bodies], good[hashes]
		}, "nothing in the record tells of it"},
	} {
		p := pile{}
		for n, content := range good {
			p[n] = bytes.Clone(content)
		}
		c.change(p)
		x := examine(t, p.again(t).folder(t))
		all := strings.Join(x.Faults, "; ")
		if c.want == "" && all != "" || !strings.Contains(all, c.want) {
			t.Errorf("%s: %q, want %q", what, all, c.want)
		}
	}
	x := examine(t, pack(joined(func(n int) int { return n - 1 })).folder(t))
	if all := strings.Join(x.Faults, "; "); !strings.Contains(all, "it joins what parts behind entry 2, and that parts behind entry 3") {
		t.Errorf("a join that parts elsewhere: %q", all)
	}
}
