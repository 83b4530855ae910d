package records

import (
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"handback/records/chain"
)

// The two below belong together: one accepted line against the least that makes a
// line durable, in the same folder.
func BenchmarkAppend(b *testing.B) {
	book := makeBook(b)
	job := makeJob(b, book, 1).Job
	for i := 0; b.Loop(); i++ {
		if _, err := book.Append(ctx, job, -1, measured(i)); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkRawWriteFsync(b *testing.B) {
	book := makeBook(b)
	es, err := book.Entries(ctx, makeJob(b, book, 1).Job)
	if err != nil {
		b.Fatal(err)
	}
	line := append(es[1].Body, '\n')
	f, err := os.OpenFile(filepath.Join(filepath.Dir(book.Path()), "lines"), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		b.Fatal(err)
	}
	defer f.Close()
	for b.Loop() {
		if _, err := f.Write(line); err != nil {
			b.Fatal(err)
		}
		if err := f.Sync(); err != nil {
			b.Fatal(err)
		}
	}
}

// largeBook holds one job of 10 000 entries.
func largeBook(b *testing.B) (*Book, []chain.Entry) {
	book := makeBook(b)
	job := makeJob(b, book, 0).Job
	drafts := make([]chain.Draft, 9999)
	for i := range drafts {
		drafts[i] = measured(i)
	}
	if _, err := book.Append(ctx, job, 1, drafts...); err != nil {
		b.Fatal(err)
	}
	es, err := book.Entries(ctx, job)
	if err != nil {
		b.Fatal(err)
	}
	return book, es
}

// The three below belong together: a whole verify, reading the entries strictly, and
// decoding and hashing them alone.
func BenchmarkVerify10000(b *testing.B) {
	book, _ := largeBook(b)
	for b.Loop() {
		if faults, err := book.Verify(ctx); err != nil || len(faults) != 0 {
			b.Fatal(faults, err)
		}
	}
}

func BenchmarkParseEntry10000(b *testing.B) {
	_, es := largeBook(b)
	for b.Loop() {
		for _, e := range es {
			if got, err := chain.ParseEntry(e.Body); err != nil || got.Hash != e.Hash {
				b.Fatal(err)
			}
		}
	}
}

func BenchmarkDecodeHash10000(b *testing.B) {
	_, es := largeBook(b)
	for b.Loop() {
		for _, e := range es {
			var w struct {
				chain.Head
				Data json.RawMessage `json:"data"`
			}
			if err := json.Unmarshal(e.Body, &w); err != nil || chain.HashBody(e.Body) != e.Hash {
				b.Fatal("decoding or hashing failed")
			}
		}
	}
}

func BenchmarkEntries10000(b *testing.B) {
	book, es := largeBook(b)
	for b.Loop() {
		if _, err := book.Entries(ctx, es[0].Job); err != nil {
			b.Fatal(err)
		}
	}
}
