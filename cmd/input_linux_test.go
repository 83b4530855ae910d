package cmd

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"strings"
	"syscall"
	"testing"
)

// Every door through which a file from outside comes in: /dev/zero and a file of
// 4 GiB are refused with words, and none of it is in memory before. The bytes taken
// from the heap measure that.
func TestInput_bounded(t *testing.T) {
	plan, err := os.ReadFile(filepath.Join(scripts, "shared", "small.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	t.Chdir(dir)
	huge, pipe := filepath.Join(dir, "huge"), filepath.Join(dir, "pipe")
	for _, err := range []error{os.WriteFile("small.yaml", plan, 0o644), os.WriteFile(huge, nil, 0o600), os.Truncate(huge, 4<<30), syscall.Mkfifo(pipe, 0o600),
		os.Symlink(huge, "huge.xlsx"), os.Symlink("/dev/zero", "zero.xlsx"), os.Symlink(pipe, "pipe.xlsx"), os.Symlink(pipe, "pipe.zip"), os.Symlink("/dev/zero", "zero.zip")} {
		if err != nil {
			t.Fatal(err)
		}
	}
	program := func(args ...string) (int, string) {
		env, said := testDoor(dir)
		status := run(context.Background(), args, env)
		return status, said.String()
	}
	if status, said := program("open", "small.yaml"); status != 0 {
		t.Fatal(said)
	}
	if status, said := program("archive", "new", "--archive", "kept"); status != 0 {
		t.Fatal(said)
	}
	for _, c := range []struct {
		line  string
		plain bool // a pipe is refused too
	}{
		{"plan check FILE", false}, {"open FILE", false}, {"try lv-volts FILE", false}, {"enter pump-1 isolated --file FILE", false}, {"read pump-1 FILE", false},
		{"verify pump-1 --plan FILE", false}, {"verify pump-1 --allowed-signers FILE", false}, {"statement pump-1 --allowed-signers FILE", false},
		{"demo --plan FILE", false}, {"demo --readings FILE", false}, {"attach pump-1 FILE --caption words", true}, {"sign pump-1 --as technician --key FILE", true},
		{"verify FILE.xlsx", true}, {"verify FILE.zip", true}, {"archive add --archive kept FILE.zip", true},
	} {
		for _, file := range []string{"/dev/zero", huge, pipe} {
			if file == pipe && !c.plain {
				continue
			}
			args := strings.Fields(strings.ReplaceAll(c.line, "FILE.", map[string]string{"/dev/zero": "zero.", huge: "huge.", pipe: "pipe."}[file]))
			if args[len(args)-1] == "huge.zip" {
				continue // an archive is not read whole; its own tests bound it
			}
			for i, a := range args {
				if a == "FILE" {
					args[i] = file
				}
			}
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			status, said := program(args...)
			runtime.ReadMemStats(&after)
			if spent := after.TotalAlloc - before.TotalAlloc; spent > 64<<20 {
				t.Errorf("%s of %s: %d bytes were allocated", c.line, file, spent)
			}
			if status != exitFailed || !regexp.MustCompile(`plain file|at most \d+ are read|more than \d+ bytes`).MatchString(said) {
				t.Errorf("%s of %s: status %d, %s", c.line, file, status, said)
			}
		}
	}
	// What comes through a pipe, or on stdin, has the same bound.
	for _, name := range []string{"-", pipe} {
		env, said := testDoor(dir)
		if name == pipe {
			go func() {
				f, err := os.OpenFile(pipe, os.O_WRONLY, 0)
				if err == nil {
					for _, err := f.Write(make([]byte, 1<<20)); err == nil; _, err = f.Write(make([]byte, 1<<20)) {
					}
					f.Close()
				}
			}()
		}
		if status := run(context.Background(), []string{"try", "lv-volts", name}, env); status != exitFailed || !strings.Contains(said.String(), "it has more than 4194304 bytes") {
			t.Errorf("%s: status %d, %s", name, status, said)
		}
	}
}

// No command reads a file from outside but through input.go.
func TestInput_oneReader(t *testing.T) {
	files, err := filepath.Glob("*.go")
	if err != nil || len(files) < 20 {
		t.Fatal(files, err)
	}
	whole := regexp.MustCompile(`os\.(ReadFile|Open)\(|io\.ReadAll\(`)
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if found := whole.Find(text); found != nil && file != "input.go" && !strings.HasSuffix(file, "_test.go") {
			t.Errorf("%s: %s…) reads past the bounds of input.go", file, found)
		}
	}
}
