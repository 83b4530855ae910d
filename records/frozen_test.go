package records

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"handback/records/chain"
)

var update = flag.Bool("update", false, "write a frozen book that does not exist yet")

// Every schema that was released leaves a book in testdata/books that opens, reads
// and verifies for ever. A file there is never written again; what it must say is
// written here. The next version adds a line and its file.
func TestFrozen(t *testing.T) {
	for _, c := range []struct {
		version int
		heads   map[string]string // job → entries and head hash
	}{
		{1, map[string]string{
			"pump-1": "5 72f7e0f6ce7688c2e8c50985616a77b093b5cefb81a690fa96cd3b7f81b4c339",
			"pump-2": "1 d9518869c8d3b9a1b0eeda17807e81266a0c93b58f4b93afd629bf06fd9751ed",
			"tap-1":  "2 7a8daa84ae620e59e8b27b22eac6d4375f9308913492afe94d5facf976faf0f1",
		}},
		{2, map[string]string{
			"pump-1": "5 72f7e0f6ce7688c2e8c50985616a77b093b5cefb81a690fa96cd3b7f81b4c339",
			"pump-2": "1 d9518869c8d3b9a1b0eeda17807e81266a0c93b58f4b93afd629bf06fd9751ed",
			"tap-1":  "3 ab0e57a75c7633052c38c00aa4dfe9b1cd2b5bb664b4cb33dbc6d044eb1612d1",
		}},
	} {
		t.Run(fmt.Sprint("v", c.version), func(t *testing.T) {
			kept := filepath.Join("..", "testdata", "books", fmt.Sprintf("v%d.db", c.version))
			if *update && c.version == schemaVersion {
				freeze(t, kept)
			}
			image, err := os.ReadFile(kept)
			if err != nil {
				t.Fatal(err)
			}
			path := filepath.Join(t.TempDir(), "book.db") // opening may make side files
			if err := os.WriteFile(path, image, 0o600); err != nil {
				t.Fatal(err)
			}
			r, err := OpenRead(ctx, path)
			if err != nil {
				t.Fatal(err)
			}
			verified(t, r)
			got, err := readAll(r)
			if err != nil {
				t.Fatal(err)
			}
			r.Close()
			heads := map[string]string{}
			for _, j := range got.Jobs {
				heads[j.ID] = fmt.Sprint(j.Entries, " ", j.HeadHash)
			}
			same(t, c.heads, heads)
			same(t, "plan: invented pumping station\n", string(got.Plans[got.Jobs[0].PlanHash]))
			same(t, "Return to service", got.Jobs[0].Title)
			if at := got.Entries["pump-1"][1].At; !at.Equal(dawn) {
				t.Errorf("time %s, want %s", at, dawn)
			}
			w, err := Open(ctx, path)
			if err != nil {
				t.Fatal(err)
			}
			defer w.Close()
			if version, err := versionOf(ctx, w.db); err != nil || version != c.version {
				t.Errorf("opening it made its version %d, %v", version, err)
			}
			// What cannot be written leaves the version too.
			if _, err := w.Append(ctx, "pump-1", 1, measured(9)); err == nil {
				t.Error("an entry was put where another stands")
			}
			if version, err := versionOf(ctx, w.db); err != nil || version != c.version {
				t.Errorf("a write that was refused made its version %d, %v", version, err)
			}
			if _, err := w.Append(ctx, "pump-1", 5, measured(9), attached("later.txt", []byte("later\n"))); err != nil {
				t.Error(err)
			}
			if version, err := versionOf(ctx, w.db); err != nil || version != schemaVersion {
				t.Errorf("after writing its version is %d, %v", version, err)
			}
			verified(t, w)
		})
	}
}

func freeze(t *testing.T, path string) {
	t.Helper()
	b, err := Create(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	makeJob(t, b, 3)
	if _, err := b.Append(ctx, "pump-1", 4, chain.Draft{At: dawn.UTC(), By: "Bo Example", Kind: "note", Data: struct {
		Text string `json:"text"`
	}{"ä € 😀 \u0001 \" \\"}}); err != nil {
		t.Fatal(err)
	}
	for _, stem := range []string{"pump", "tap"} {
		if _, err := b.NewJob(ctx, stem, opened(stem), testPlan, "invented-nonce-0002"); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := b.Append(ctx, "tap-1", 1, measured(1), attached("panel meter.txt", testFile)); err != nil {
		t.Fatal(err)
	}
}
