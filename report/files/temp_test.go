package files

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"handback/records/bag"
)

// gonePID is the id of a process that has ended.
func gonePID(t *testing.T) int {
	t.Helper()
	c := exec.Command(os.Args[0], "-test.run=^$")
	if err := c.Run(); err != nil {
		t.Fatal(err)
	}
	return c.Process.Pid
}

// The next output in a folder takes away what a killed program was writing there, and
// nothing else: no part that a program may still be writing, no file of anybody.
func TestSweep(t *testing.T) {
	dir, gone := t.TempDir(), gonePID(t)
	old := time.Now().Add(-2 * tempAge)
	put := func(name string, at time.Time) {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte("part of a bag"), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(path, at, at); err != nil {
			t.Fatal(err)
		}
	}
	dead, folder := fmt.Sprintf(".p.zip.handback-%d-0", gone), fmt.Sprintf(".bag.handback-%d-1", gone)
	fresh, young := fmt.Sprintf(".q.zip.handback-%d-0", gone), fmt.Sprintf(".new.handback-%d-1", gone)
	mine := fmt.Sprintf(".p.zip.handback-%d-0", os.Getpid())
	strangers := []string{".p.zip.part-1-0", ".p.handback", "p.zip.handback-1-0", fmt.Sprintf(".p.handback-%d-x", gone)}
	for _, name := range append([]string{dead, mine}, strangers...) {
		put(name, old)
	}
	put(fresh, time.Now())
	for name, at := range map[string]time.Time{folder: old, young: time.Now()} {
		if err := os.Mkdir(filepath.Join(dir, name), 0o700); err != nil {
			t.Fatal(err)
		}
		put(filepath.Join(name, "entries.jsonl"), at)
		if err := os.Chtimes(filepath.Join(dir, name), old, old); err != nil {
			t.Fatal(err)
		}
	}
	if err := Write(filepath.Join(dir, "h.txt"), []byte("x"), Over{}); err != nil {
		t.Fatal(err)
	}
	want := append([]string{"h.txt", fresh, mine, young}, strangers...)
	if runtime.GOOS == "windows" { // the id may have been given away again
		t.Skip("processes cannot be asked for there without a doubt")
	}
	slices.Sort(want)
	if got := listedIn(t, dir); !slices.Equal(got, want) {
		t.Errorf("left are %q, want %q", got, want)
	}
}

func listedIn(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	slices.Sort(names)
	return names
}

// Of many bags that are packed to one name at the same moment one gets it, whole; the
// others say so.
func TestWriteBag_atOnce(t *testing.T) {
	for _, name := range []string{"bag.zip", "bag"} {
		dir := t.TempDir()
		path := filepath.Join(dir, name)
		var all, ready sync.WaitGroup
		errs := make([]error, 6)
		ready.Add(len(errs))
		for i := range errs {
			all.Go(func() {
				errs[i] = WriteBag(path, "bag", Over{}, func(to bag.BagSink) error {
					ready.Done()
					ready.Wait() // all have found the name free
					return to.Put("who.txt", bytes.Repeat([]byte{byte('a' + i)}, 1000))
				})
			})
		}
		all.Wait()
		winners := 0
		for i, err := range errs {
			switch {
			case err == nil:
				winners++
				if content := bagOf(t, path); strings.Count(content, string(rune('a'+i))) != 1000 {
					t.Errorf("%s: %d was told that it is there, and it is another's", name, i)
				}
			case !errors.Is(err, fs.ErrExist) && !strings.Contains(err.Error(), "not empty"):
				t.Errorf("%s: %v", name, err)
			}
		}
		if left := listedIn(t, dir); winners != 1 || len(left) != 1 {
			t.Errorf("%s: %d of them were told that theirs is there; left are %q", name, winners, left)
		}
	}
}

// bagOf is the content of the one file of a bag.
func bagOf(t *testing.T, path string) string {
	t.Helper()
	var from fs.FS = os.DirFS(path)
	name := "who.txt"
	if filepath.Ext(path) == ".zip" {
		z, err := zip.OpenReader(path)
		if err != nil {
			t.Fatal(err)
		}
		defer z.Close()
		from, name = z, "bag/who.txt"
	}
	data, err := fs.ReadFile(from, name)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}
