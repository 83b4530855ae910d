// Package outside finds the programs that tests compare with and that know nothing
// of this one. Where one is missing its test is skipped, and one line at the end of
// the package's run says so; with HANDBACK_OUTSIDE=require the test fails instead. The
// tests of every package run through it.
package outside

import (
	"encoding/json"
	"fmt"
	"io"
	"iter"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"slices"
	"strings"
	"sync"
	"testing"
)

// Tool is the path of a program. probe are arguments with which it must end well, to
// tell one that is there and of no use.
func Tool(t testing.TB, name string, probe ...string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err == nil && len(probe) > 0 {
		err = exec.Command(path, probe...).Run()
	}
	if err != nil {
		Missing(t, strings.TrimSpace(filepath.Base(name)+" "+strings.Join(probe, " ")), err)
	}
	return path
}

// Npm runs scripts of Node.js that may require a package of the npm registry, such as
// exceljs@4.4.0, which npm install --global has put there.
func Npm(t testing.TB, pkg string) func(script string, args ...string) *exec.Cmd {
	t.Helper()
	node, root := Tool(t, "node"), strings.TrimSuffix(npmPackage(t, pkg), pkg[:strings.LastIndexByte(pkg, '@')])
	return func(script string, args ...string) *exec.Cmd {
		c := exec.Command(node, append([]string{"-e", script}, args...)...)
		c.Env = append(os.Environ(), "NODE_PATH="+root)
		return c
	}
}

// npmPackage is where a package of the npm registry is installed.
func npmPackage(t testing.TB, pkg string) string {
	t.Helper()
	npm := Tool(t, "npm")
	said, err := exec.Command(npm, "root", "--global").Output()
	at := strings.LastIndexByte(pkg, '@')
	dir := filepath.Join(strings.TrimSpace(string(said)), pkg[:at])
	var is struct{ Version string }
	if err == nil {
		said, err = os.ReadFile(filepath.Join(dir, "package.json"))
	}
	if err == nil {
		err = json.Unmarshal(said, &is)
	}
	if err != nil || is.Version != pkg[at+1:] {
		Missing(t, pkg, fmt.Sprintf("version %q is installed, %v", is.Version, err))
	}
	return dir
}

// Missing ends a test for want of something from outside.
func Missing(t testing.TB, what string, why any) {
	t.Helper()
	if os.Getenv("HANDBACK_OUTSIDE") == "require" {
		t.Fatalf("%s is missing, and HANDBACK_OUTSIDE=require: %v", what, why)
	}
	mu.Lock()
	missing[what]++
	mu.Unlock()
	t.Skipf("%s is missing, this comparison was not made: %v", what, why)
}

// Long ends a test of a short run, the one after each save. It stands where one test
// takes long and a shorter one asks much the same, or nothing that a save breaks is asked.
func Long(t testing.TB) {
	t.Helper()
	if testing.Short() {
		t.Skip("takes long: left to the whole run")
	}
}

// Some are the cases of a table; in a short run every fourth by name.
func Some[C any](cases map[string]C) iter.Seq2[string, C] {
	return func(yield func(string, C) bool) {
		for i, name := range slices.Sorted(maps.Keys(cases)) {
			if (i%4 == 0 || !testing.Short()) && !yield(name, cases[name]) {
				return
			}
		}
	}
}

var (
	mu      sync.Mutex
	missing = map[string]int{} // tests skipped, by what they lacked
)

// Suite is the tests of a package, for its TestMain.
type Suite struct{ M interface{ Run() int } }

// Run runs the tests and says in one line what was skipped. Memory is collected seldom:
// that takes a fifth off the time.
func (s Suite) Run() int {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(400)
	}
	status := s.M.Run()
	tell(os.Stderr, skipped())
	return status
}

func skipped() string {
	n := 0
	for _, count := range missing {
		n += count
	}
	if n == 0 {
		return ""
	}
	return fmt.Sprintf("%s: %d outside checks skipped here: %s missing; HANDBACK_OUTSIDE=require to insist\n",
		filepath.Base(os.Args[0]), n, strings.Join(slices.Sorted(maps.Keys(missing)), ", "))
}

// tell prints the line. go test throws away what a package says that passes among
// several: then the person at a terminal is told there.
func tell(w io.Writer, line string) {
	if line == "" {
		return
	}
	io.WriteString(w, line)
	if terminal, err := os.OpenFile("/dev/tty", os.O_WRONLY, 0); err == nil {
		io.WriteString(terminal, line)
		terminal.Close()
	}
}
