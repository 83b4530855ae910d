package report

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"

	"handback/testdata/outside"
)

// childTask names what a re-executed test binary does instead of testing.
const childTask = "HANDBACK_REPORT_CHILD"

var ctx = context.Background()

// children are the tasks of a re-executed test binary, see TestMain.
var children = map[string]func([]string) error{}

func TestMain(m *testing.M) { runTests(m) }

// runTests runs the tests of a package, or the task of a re-executed test binary.
func runTests(m *testing.M) {
	if task := os.Getenv(childTask); task != "" {
		if err := children[task](os.Args[1:]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(outside.Suite{M: m}.Run())
}

// child prepares a run of this test binary as another process.
func child(t testing.TB, task string, args ...string) *exec.Cmd {
	t.Helper()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	c := exec.Command(self, args...)
	c.Env = append(os.Environ(), childTask+"="+task)
	return c
}

// update writes goldens anew; read the difference before committing it.
var update = flag.Bool("update", false, "write the files of testdata anew")

// golden compares with a file of testdata.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s (-want +got):\n%s", path, diff)
	}
}
