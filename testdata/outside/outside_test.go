package outside

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// told is a test that only remembers how it ended.
type told struct {
	testing.TB
	how string
}

func (t *told) Helper() {}
func (t *told) Fatalf(format string, args ...any) {
	t.how = "failed: " + fmt.Sprintf(format, args...)
	panic(t)
}
func (t *told) Skipf(format string, args ...any) {
	t.how = "skipped: " + fmt.Sprintf(format, args...)
	panic(t)
}

func ends(do func(t *told)) (how string) {
	t := &told{}
	defer func() { recover(); how = t.how }()
	do(t)
	return ""
}

// A program that is not there skips the test and is told; required, it fails it.
func TestTool(t *testing.T) {
	missing = map[string]int{}
	t.Setenv("HANDBACK_OUTSIDE", "")
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if how := ends(func(t *told) { Tool(t, self, "-test.run", "^$") }); how != "" || skipped() != "" {
		t.Errorf("%q, %q", how, skipped())
	}
	for range 2 {
		if how := ends(func(t *told) { Tool(t, "no-such-program") }); !strings.HasPrefix(how, "skipped: no-such-program is missing") {
			t.Error(how)
		}
	}
	if how := ends(func(t *told) { Tool(t, self, "-no-such-flag") }); !strings.HasPrefix(how, "skipped: ") {
		t.Error(how)
	}
	if how := ends(func(t *told) { Npm(t, "no-such-package@1.0.0") }); !strings.HasPrefix(how, "skipped: ") { // its name, or node's where that is missing
		t.Error(how)
	}
	if line := skipped(); !strings.Contains(line, ": 4 outside checks skipped here: ") || !strings.Contains(line, "no-such-program, ") || !strings.HasSuffix(line, "to insist\n") {
		t.Error(line)
	}
	t.Setenv("HANDBACK_OUTSIDE", "require")
	if how := ends(func(t *told) { Tool(t, "no-such-program") }); !strings.HasPrefix(how, "failed: no-such-program is missing") {
		t.Error(how)
	}
	missing = map[string]int{}
}
