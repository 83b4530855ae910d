package report

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"testing"
)

// childTask names what a re-executed test binary does instead of testing.
const childTask = "HANDBACK_REPORT_CHILD"

var ctx = context.Background()

// children are the tasks of a re-executed test binary, see TestMain.
var children = map[string]func([]string) error{}

func TestMain(m *testing.M) {
	if task := os.Getenv(childTask); task != "" {
		if err := children[task](os.Args[1:]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
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
