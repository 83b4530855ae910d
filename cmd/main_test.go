package cmd

import (
	"bytes"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"

	"handback/cmd/session"
	"handback/testdata/outside"
)

var update = flag.Bool("update", false, "rewrite what cmp compares with in the scripts")

// What the test command alone reads from its environment; the program itself
// reads no clock, book or person from there.
const (
	clockVariable = "CLOCK" // RFC 3339: where the clock stands still
	bookVariable  = "BOOK"  // the record book
)

const scripts = "../testdata/scripts"

func TestMain(m *testing.M) {
	for _, name := range []string{"HANDBACK_BOOK", "HANDBACK_BY", "HANDBACK_JOB", "HANDBACK_PAGER"} {
		if os.Getenv(bookVariable) == "" { // but a script says them
			os.Unsetenv(name)
		}
	}
	testscript.Main(outside.Suite{M: m}, map[string]func(){
		"handback":     func() { os.Exit(heldToSchema(os.Args[1:], testEnv())) },
		"shipped":      func() { os.Exit(heldToSchema(os.Args[1:], session.System())) }, // as main.go runs it
		"unprivileged": unprivileged,
	})
}

// testEnv is the real environment but for the clock, the chance and the book.
func testEnv() session.Env {
	env := session.System()
	at, err := time.Parse(time.RFC3339, os.Getenv(clockVariable))
	if err != nil {
		fmt.Fprintln(os.Stderr, clockVariable, err)
		os.Exit(125)
	}
	env.Now = func() time.Time { return at }
	env.Random = strings.NewReader(strings.Repeat("chance", 20))
	env.Book, env.Named = os.Getenv(bookVariable), false
	return env
}

func TestScripts(t *testing.T) {
	testscript.Run(t, scriptParams())
}

func scriptParams() testscript.Params {
	return testscript.Params{
		Dir:                 scripts,
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
		Setup:               setUp,
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"exits": exits, "says": says, "damaged": damaged, "sql": runSQL, "swap": swap, "truncate": truncate, "fill": fill, "typein": typeIn, "remake": remake, "openssl": openssl,
		},
	}
}

// brokenBooks is the key under which a script keeps the files it damaged.
type brokenBooks struct{}

// setUp copies the shared files and the demo into the work directory, and sees to it that
// every book there is examined when the script is over.
func setUp(e *testscript.Env) error {
	e.Setenv(clockVariable, "2026-05-12T09:00:00+01:00")
	e.Setenv(bookVariable, filepath.Join(e.WorkDir, "book.db"))
	e.Setenv("XDG_DATA_HOME", filepath.Join(e.WorkDir, "data"))
	plans, err := filepath.Glob(filepath.Join(scripts, "shared", "*"))
	if err != nil || len(plans) == 0 {
		return fmt.Errorf("no shared files: %v", err)
	}
	for _, from := range append(plans, "../testdata/demo/plan.yaml", "../testdata/demo/readings.txt") {
		to := filepath.Join(e.WorkDir, filepath.Base(from))
		if strings.Contains(from, "demo") {
			to = filepath.Join(e.WorkDir, "demo-"+filepath.Base(from))
		}
		if _, err := os.Stat(to); err == nil {
			return fmt.Errorf("%s: the script has a file of that name already", filepath.Base(to))
		}
		data, err := os.ReadFile(from)
		if err == nil {
			err = os.WriteFile(to, data, 0o644)
		}
		if err != nil {
			return err
		}
	}
	if err := keyedPlan(e.WorkDir); err != nil {
		return err
	}
	broken := map[string]bool{}
	e.Values[brokenBooks{}] = broken
	e.Defer(func() {
		if err := examineBooks(e.WorkDir, broken); err != nil {
			e.T().Fatal(err)
		}
	})
	return nil
}

// examineBooks runs doctor on every book and archive under dir: one the script damaged must
// be refused or found faulty, every other one must hold together.
func examineBooks(dir string, broken map[string]bool) error {
	seen := 0
	err := filepath.WalkDir(dir, func(path string, _ fs.DirEntry, err error) error {
		args := []string{"--book", path, "doctor"}
		if filepath.Base(path) == "archive.sqlite" {
			args = []string{"archive", "doctor", "--archive", filepath.Dir(path)}
		}
		if err != nil || args[0] != "archive" && filepath.Ext(path) != ".db" {
			return err
		}
		var out bytes.Buffer
		env := session.Env{In: strings.NewReader(""), Out: &out, Err: &out, Now: func() time.Time { return time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC) }}
		status := Main(args, env)
		if broken[path] {
			seen++
			if status != exitIntegrity && status != exitFailed {
				return fmt.Errorf("%s is marked as damaged, doctor ends with status %d:\n%s", path, status, out.String())
			}
			return nil
		}
		if status != exitDone {
			return fmt.Errorf("after the script doctor ends with status %d on %s:\n%s", status, path, out.String())
		}
		return nil
	})
	if err == nil && seen != len(broken) {
		err = fmt.Errorf("%d books are marked as damaged, %d of them were found", len(broken), seen)
	}
	return err
}

// exits N command…: the command must end with exactly that status.
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits STATUS command…")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	got := 0
	if err := ts.Exec(args[1], args[2:]...); err != nil {
		var exit *exec.ExitError
		if !errors.As(err, &exit) {
			ts.Fatalf("%s: %v", args[1], err)
		}
		got = exit.ExitCode()
	}
	if got != want {
		ts.Fatalf("exit status %d, want %d", got, want)
	}
}

// says FILE TEXT…: the file, or stdout or stderr, holds the texts in that order.
// With ! it holds none of them. White space counts as one blank, so that wrapped
// lines can be looked for.
func says(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) < 2 {
		ts.Fatalf("usage: [!] says FILE TEXT…")
	}
	blanks := func(s string) string { return strings.Join(strings.Fields(s), " ") }
	rest := blanks(ts.ReadFile(args[0]))
	for _, text := range args[1:] {
		if blanks(text) == "" {
			ts.Fatalf("an empty text is said by every file")
		}
		_, after, ok := strings.Cut(rest, blanks(text))
		switch {
		case neg && ok:
			ts.Fatalf("%s says %q", args[0], text)
		case !neg && !ok:
			ts.Fatalf("%s does not say %q here:\n%s", args[0], text, rest)
		case ok:
			rest = after
		}
	}
}

// damaged FILE…: the script spoils these books on purpose.
func damaged(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) == 0 {
		ts.Fatalf("usage: damaged FILE…")
	}
	for _, f := range args {
		ts.Value(brokenBooks{}).(map[string]bool)[ts.MkAbs(f)] = true
	}
}

// sql FILE STATEMENT: run it as any other program could.
func runSQL(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: sql FILE STATEMENT")
	}
	db, err := sql.Open("sqlite", ts.MkAbs(args[0]))
	ts.Check(err)
	_, err = db.Exec(args[1])
	ts.Check(errors.Join(err, db.Close()))
}

// swap FILE OLD NEW: change the first OLD in the file, byte for byte; \n in NEW begins a line.
func swap(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 3 {
		ts.Fatalf("usage: swap FILE OLD NEW")
	}
	path := ts.MkAbs(args[0])
	data, err := os.ReadFile(path)
	ts.Check(err)
	if !bytes.Contains(data, []byte(args[1])) {
		ts.Fatalf("%s does not hold %q", args[0], args[1])
	}
	ts.Check(os.WriteFile(path, bytes.Replace(data, []byte(args[1]), []byte(strings.ReplaceAll(args[2], `\n`, "\n")), 1), 0o644))
}

// openssl ARGUMENT…: another program makes what the script needs.
func openssl(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) == 0 {
		ts.Fatalf("usage: openssl ARGUMENT…")
	}
	ts.Check(ts.Exec("openssl", args...))
}

// truncate FILE SIZE: cut the file off there.
func truncate(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: truncate FILE SIZE")
	}
	size, err := strconv.ParseInt(args[1], 10, 64)
	ts.Check(err)
	path := ts.MkAbs(args[0])
	info, err := os.Stat(path)
	ts.Check(err)
	if info.Size() <= size {
		ts.Fatalf("%s has %d bytes: nothing would be cut off", args[0], info.Size())
	}
	ts.Check(os.Truncate(path, size))
}

// Every command that a script runs has both of its streams looked at before the
// next one is run.
func TestScripts_bothStreams(t *testing.T) {
	files, err := filepath.Glob(filepath.Join(scripts, "*.txt"))
	if err != nil || len(files) == 0 {
		t.Fatalf("no scripts: %v", err)
	}
	looks := map[string]*regexp.Regexp{}
	for _, stream := range []string{"stdout", "stderr"} {
		looks[stream] = regexp.MustCompile(`^(! )?((says|cmp|cmpenv|cp) ` + stream + ` |` + stream + ` |grep .* ` + stream + `$)`)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		script, _, _ := strings.Cut(string(data), "\n-- ")
		open := map[string]string{} // stream → the command that nobody looked at
		for i, line := range strings.Split(script, "\n") {
			line = strings.TrimPrefix(line, "[linux] ")
			if strings.HasPrefix(line, "exits ") || strings.HasPrefix(line, "exec ") {
				for stream, command := range open {
					t.Errorf("%s: %s of %q is not looked at", filepath.Base(file), stream, command)
				}
				open = map[string]string{"stdout": fmt.Sprintf("%d: %s", i+1, line), "stderr": fmt.Sprintf("%d: %s", i+1, line)}
			}
			for stream, look := range looks {
				if look.MatchString(line) {
					delete(open, stream)
				}
			}
		}
		for stream, command := range open {
			t.Errorf("%s: %s of %q is not looked at", filepath.Base(file), stream, command)
		}
	}
}
