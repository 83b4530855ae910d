package seal

import (
	"archive/zip"
	"bytes"
	"maps"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"

	"handback/records/chain"
	"handback/testdata/outside"
)

// A small archive that unpacks to millions of wrong lines costs what a small one
// costs: lines are read one by one, and none once enough faults are told. Bytes taken
// from the heap measure the work.
func TestExamineBag_boundedWork(t *testing.T) {
	outside.Long(t)
	good := pack(bagRig(t))
	first := good[bagEntries][:bytes.IndexByte(good[bagEntries], '\n')+1]
	for name, c := range map[string]struct {
		entries []byte
		most    uint64 // bytes from the heap
		want    string
	}{
		"a million empty lines":      {bytes.Repeat([]byte("\n"), 1<<20), 8 << 20, "data/entries.jsonl, line 98: "},
		"sixty million empty lines":  {bytes.Repeat([]byte("\n"), 60<<20), 8 << 20, "and 1 more"},
		"one line without an end":    {make([]byte, 60<<20), 8 << 20, "line 1 has more than 1048576 bytes"},
		"entries that stand in turn": {bytes.Repeat(first, 90_000), 2 << 30, "entry 1: it stands after entry 1"},
		"entries without an end":     {bytes.Repeat(first, 200_000), 2 << 30, "more than 100000 lines"},
	} {
		p := maps.Clone(good)
		p[bagEntries] = c.entries
		path := filepath.Join(t.TempDir(), "hostile.zip")
		if err := os.WriteFile(path, squeezed(t, p.again(t)), 0o644); err != nil {
			t.Fatal(err)
		}
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		x := examine(t, path)
		runtime.ReadMemStats(&after)
		if spent := after.TotalAlloc - before.TotalAlloc; spent > c.most && !outside.Race {
			t.Errorf("%s: %d bytes were allocated", name, spent)
		}
		if x.Job != nil || len(x.Faults) > chain.MaxFaults+1 || !slices.ContainsFunc(x.Faults, func(f string) bool { return strings.Contains(f, c.want) }) {
			t.Errorf("%s: %d faults, the last %q; want %q", name, len(x.Faults), x.Faults[len(x.Faults)-1], c.want)
		}
	}
}

// squeezed packs a bag as a person would who wants it small.
func squeezed(t testing.TB, p pile) []byte {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, name := range slices.Sorted(maps.Keys(p)) {
		w, err := z.Create("x/" + name)
		if err == nil {
			_, err = w.Write(p[name])
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
