package cmd

import (
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"handback/testdata/outside"
)

// treeOf is what a file or a folder holds, by path; nil when there is neither.
func treeOf(t testing.TB, path string) map[string]string {
	t.Helper()
	if _, err := os.Lstat(path); os.IsNotExist(err) {
		return nil
	}
	out := map[string]string{}
	err := filepath.WalkDir(path, func(p string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		content, err := os.ReadFile(p)
		name, _ := filepath.Rel(path, p)
		out[filepath.ToSlash(name)] = string(content)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// signedJob is a keyed job with a file attached and a signature.
func signedJob(t *testing.T) (book, job string) {
	t.Helper()
	book, job = keyedJob(t)
	note := filepath.Join(filepath.Dir(book), "note.txt")
	if err := os.WriteFile(note, []byte("Bolts marked after tightening.\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	demands(t, exitDone, book, "attach", job, note, "--caption", "Marks")
	demands(t, exitDone, book, "sign", job, "--as", "technician", "--key", filepath.Join(filepath.Dir(book), "keys", "ada"), "--yes")
	return book, job
}

// leftBehind demands that a folder holds the files it held, perhaps some of these
// outputs, and what a killed program was still writing, which goes by another name.
// It takes those away and tells how many there were.
func leftBehind(t *testing.T, dir string, held []string, outputs ...string) (parts int) {
	t.Helper()
	for _, name := range namesIn(t, dir) {
		switch {
		case slices.Contains(held, name), slices.Contains(outputs, name), strings.HasPrefix(name, "book.db-"):
		case slices.ContainsFunc(outputs, func(o string) bool { return strings.HasPrefix(name, "."+o+".handback-") }):
			if err := os.RemoveAll(filepath.Join(dir, name)); err != nil {
				t.Fatal(err)
			}
			parts++
		default:
			t.Fatalf("%s was left behind", name)
		}
	}
	return parts
}

func namesIn(t *testing.T, dir string) []string {
	t.Helper()
	list, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, e := range list {
		out = append(out, e.Name())
	}
	return out
}

// A kill -9 while a bag is packed leaves the whole bag or none, and nothing that the
// next one trips over; the record is as it was.
func TestPack_killed(t *testing.T) {
	outside.Long(t)
	t.Parallel()
	book, job := signedJob(t)
	dir := filepath.Dir(book)
	before := bodiesOf(t, book, job)
	want := map[string]map[string]string{}
	held := namesIn(t, dir)
	for _, name := range []string{"bag.zip", "bag"} {
		path := filepath.Join(dir, name)
		demands(t, exitDone, book, "pack", job, "-o", path)
		demands(t, exitDone, book, "verify", path)
		if want[name] = treeOf(t, path); len(want[name]) == 0 {
			t.Fatalf("%s holds nothing", name)
		}
		if err := os.RemoveAll(path); err != nil {
			t.Fatal(err)
		}
	}
	names := slices.Sorted(maps.Keys(want))
	round, parts := 0, 0
	command := func() *exec.Cmd {
		return program(book, "handback", "pack", job, "-o", names[round%2])
	}
	killRun(t, command, func(text string) bool {
		name := names[round%2]
		got := treeOf(t, filepath.Join(dir, name))
		if got == nil && strings.Contains(text, name+"\n") {
			t.Fatalf("%s was said to be there, and is not:\n%s", name, text)
		}
		if got != nil && !maps.Equal(got, want[name]) {
			t.Fatalf("%s is there and not whole: %v", name, slices.Sorted(maps.Keys(got)))
		}
		if !slices.Equal(before, bodiesOf(t, book, job)) {
			t.Fatal("packing changed the record")
		}
		sound(t, book)
		if got != nil {
			round++ // what was left unfinished under this name so far lay there meanwhile
			parts += leftBehind(t, dir, held, names...)
			if err := os.RemoveAll(filepath.Join(dir, name)); err != nil {
				t.Fatal(err)
			}
		}
		return got != nil
	})
	for _, name := range names {
		demands(t, exitDone, book, "pack", job, "-o", filepath.Join(dir, name))
		demands(t, exitDone, book, "verify", filepath.Join(dir, name))
	}
	parts += leftBehind(t, dir, held, names...)
	t.Logf("%d unfinished files and folders were left behind under names of their own", parts)
}

// A kill -9 while a handover is made leaves each of its files as it was before or as
// it is to be.
func TestHandover_killed(t *testing.T) {
	outside.Long(t)
	t.Parallel()
	book, job := keyedJob(t)
	dir := filepath.Dir(book)
	names := []string{"h.xlsx", "h.html", "h.txt"}
	held := append(namesIn(t, dir), names...)
	var made [2]map[string]string
	for i := range made {
		demands(t, exitDone, book, "handover", job, "-o", filepath.Join(dir, names[0]), "--page", filepath.Join(dir, names[1]), "--text", filepath.Join(dir, names[2]))
		made[i] = map[string]string{}
		for _, name := range names {
			made[i][name] = treeOf(t, filepath.Join(dir, name))["."]
			if made[i][name] == "" || i == 1 && made[1][name] == made[0][name] {
				t.Fatalf("%s is empty, or the same of two states of the job", name)
			}
		}
		if i == 0 {
			demands(t, exitDone, book, "enter", job, "look", "who=ada", "s1=yes", "s2=yes", "--past-hold", "looked before")
		}
	}
	command := func() *exec.Cmd {
		for _, name := range names {
			if err := os.WriteFile(filepath.Join(dir, name), []byte(made[0][name]), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		return program(book, "handback", "handover", job, "-o", names[0], "--page", names[1], "--text", names[2])
	}
	parts := 0
	killRun(t, command, func(text string) bool {
		fresh := 0
		for _, name := range names {
			switch treeOf(t, filepath.Join(dir, name))["."] {
			case made[1][name]:
				fresh++
			case made[0][name]:
			default:
				t.Fatalf("%s is neither what it was nor what it is to be", name)
			}
		}
		if fresh == 0 && strings.Contains(text, "h.xlsx: ") {
			t.Fatalf("it was said to be there, and is not:\n%s", text)
		}
		parts += leftBehind(t, dir, held, names...)
		sound(t, book)
		return fresh == len(names)
	})
	t.Logf("%d unfinished files were left behind under names of their own", parts)
}
