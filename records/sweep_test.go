package records

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"handback/testdata/outside"
)

// smallBook makes a closed book of small pages with two jobs and returns its bytes
// and its content.
func smallBook(t *testing.T) ([]byte, content) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "book.db")
	if err := create(ctx, path, 512); err != nil {
		t.Fatal(err)
	}
	b, err := Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	makeJob(t, b, 2)
	if err := b.Take(ctx, elsewhere(t, "pump", 1)); err != nil {
		t.Fatal(err)
	}
	second, err := b.NewJob(ctx, "tap", opened("Taps"), []byte("plan: taps\n"), testNonce)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.Append(ctx, second.Job, 1, measured(7)); err != nil {
		t.Fatal(err)
	}
	if _, err := b.Append(ctx, second.Job, 2, attached("photo.txt", testFile)); err != nil {
		t.Fatal(err)
	}
	want, err := readAll(b)
	if err != nil {
		t.Fatal(err)
	}
	verified(t, b)
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	image, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return image, want
}

// judge opens a damaged image. noticed: it was refused or Verify named a fault.
// Otherwise everything that can be read must be as it was.
func judge(path string, image []byte, want content) (noticed bool, err error) {
	if err := os.WriteFile(path, image, 0o600); err != nil {
		return false, err
	}
	b, err := OpenRead(ctx, path)
	if err != nil {
		return true, nil
	}
	defer b.Close()
	faults, err := b.Verify(ctx)
	if err != nil {
		return false, fmt.Errorf("Verify gives an error where faults are wanted: %w", err)
	}
	if len(faults) > 0 {
		for _, f := range faults {
			if f.What == "" {
				return false, fmt.Errorf("a fault without words: %+v", f)
			}
		}
		return true, nil
	}
	got, err := readAll(b)
	if err != nil {
		return false, fmt.Errorf("Verify finds nothing, reading fails: %w", err)
	}
	if d := cmp.Diff(want, got); d != "" {
		return false, fmt.Errorf("Verify finds nothing, but -want +got\n%s", d)
	}
	return false, nil
}

// sweep judges each of n images and returns how many went unnoticed, by number.
func sweep(t *testing.T, n, step int, image func(i int) []byte, want content) (quiet []int) {
	t.Helper()
	var lock sync.Mutex
	var wait sync.WaitGroup
	const workers = 2
	for w := range workers {
		path := filepath.Join(t.TempDir(), "damaged.db")
		wait.Go(func() {
			for i := w * step; i < n; i += workers * step {
				noticed, err := judge(path, image(i), want)
				lock.Lock()
				if err != nil {
					t.Errorf("at %d: %v", i, err)
				} else if !noticed {
					quiet = append(quiet, i)
				}
				lock.Unlock()
			}
		})
	}
	wait.Wait()
	return quiet
}

// Every byte of a closed book is changed in turn in one bit, and every fifth in all.
func TestSweep_flip(t *testing.T) {
	outside.Long(t)
	image, want := smallBook(t)
	var pieces [][]byte // of what was written; unused space holds old copies of some
	for _, es := range want.Entries {
		for _, e := range es {
			pieces = append(pieces, e.Body[len(e.Body)-80:], []byte(e.Hash))
		}
	}
	for name, mask := range map[string]func(i int) byte{"bit": func(i int) byte { return 1 << (i % 8) }, "byte": func(int) byte { return 0xff }} {
		t.Run(name, func(t *testing.T) {
			step := 1
			if name == "byte" {
				step = 5
			}
			quiet := sweep(t, len(image), step, func(i int) []byte {
				changed := bytes.Clone(image)
				changed[i] ^= mask(i)
				return changed
			}, want)
			for _, piece := range pieces {
				if !guarded(image, piece, quiet) {
					t.Errorf("%q can be changed and nothing is noticed", piece)
				}
			}
			t.Logf("%d of %d bytes changed without a fault, all content still as written: %v", len(quiet), len(image)/step, ranges(quiet))
		})
	}
}

// guarded says that the image holds the piece somewhere where no change goes unnoticed.
func guarded(image, piece []byte, quiet []int) bool {
	for from := 0; ; from++ {
		at := bytes.Index(image[from:], piece)
		if at < 0 {
			return false
		}
		from += at
		inside := func(i int) bool { return from <= i && i < from+len(piece) }
		if !slices.ContainsFunc(quiet, inside) {
			return true
		}
	}
}

func ranges(sorted []int) []string {
	slices.Sort(sorted)
	var out []string
	for i := 0; i < len(sorted); {
		from := i
		for i++; i < len(sorted) && sorted[i] == sorted[i-1]+1; i++ {
		}
		out = append(out, fmt.Sprintf("%d-%d", sorted[from], sorted[i-1]))
	}
	return out
}

// A copy that stopped early, at every length around the pages and many between.
func TestSweep_truncate(t *testing.T) {
	outside.Long(t)
	image, want := smallBook(t)
	quiet := sweep(t, len(image), 37, func(i int) []byte { return image[:i] }, want)
	quiet = append(quiet, sweep(t, len(image)/512, 1, func(i int) []byte { return image[:i*512] }, want)...)
	quiet = append(quiet, sweep(t, len(image)/512, 1, func(i int) []byte { return image[:i*512+511] }, want)...)
	if len(quiet) > 0 {
		t.Errorf("cut at %v and nothing was noticed", quiet)
	}
	if quiet := sweep(t, 1, 1, func(int) []byte { return image }, want); len(quiet) != 1 {
		t.Error("the whole book itself was refused")
	}
}

// Whole pages exchanged, as a failing disk or a careless repair might.
func TestSweep_pages(t *testing.T) {
	outside.Long(t)
	image, want := smallBook(t)
	pages := len(image) / 512
	quiet := sweep(t, pages*pages, 1, func(n int) []byte {
		changed := bytes.Clone(image)
		a, b := n/pages*512, n%pages*512
		copy(changed[a:a+512], image[b:b+512])
		return changed
	}, want)
	same := 0 // a page put in its own place, or an empty one in that of another
	for n := range pages * pages {
		if a, b := n/pages*512, n%pages*512; bytes.Equal(image[a:a+512], image[b:b+512]) {
			same++
		}
	}
	if len(quiet) != same {
		t.Errorf("%d of %d exchanges went unnoticed, want the %d that change nothing: %v", len(quiet), pages*pages, same, quiet)
	}
}
