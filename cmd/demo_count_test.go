package cmd

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"handback/testdata/demo"
	"handback/testdata/outside"
)

// A whole job costs little to read and little to type (our choice of bounds): the session
// of the demo's 55 steps, holds and checks stays at 380 lines, blank ones and what was typed
// among them, and what is typed to its walks below 100.
func TestDemo_shortToReadAndType(t *testing.T) {
	outside.Long(t)
	dir := played(t, theDemo)
	played, err := os.ReadFile(filepath.Join(dir, "session.txt"))
	if err != nil {
		t.Fatal(err)
	}
	if n := strings.Count(string(played), "\n"); n < 100 || n > 380 {
		t.Errorf("the session has %d lines, at most 380 are wanted", n)
	}
	if n := strings.Count(string(demo.Readings), "\n>"); n < 50 || n > 100 {
		t.Errorf("%d lines are typed, at most 100 are wanted", n)
	}
}
