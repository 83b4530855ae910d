package records

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"testing"
)

// SQLite 3.7.0 to 3.51.2 could damage a book in WAL mode (sqlite.org/wal.html, the
// "WAL-reset bug", fixed in 3.51.3). Vulnerability scanners do not know of it.
func TestStack_sqlite_version(t *testing.T) {
	var version string
	if err := makeBook(t).db.QueryRow("SELECT sqlite_version()").Scan(&version); err != nil {
		t.Fatal(err)
	}
	var a, b, c int
	if _, err := fmt.Sscanf(version, "%d.%d.%d", &a, &b, &c); err != nil {
		t.Fatal(err)
	}
	if a*1_000_000+b*1000+c < 3_051_003 {
		t.Errorf("SQLite %s, at least 3.51.3 is needed", version)
	}
}

// The driver is translated from C against one version of modernc.org/libc and must
// run with that one.
func TestStack_libc_pin(t *testing.T) {
	if _, err := exec.LookPath("go"); err != nil {
		t.Skip("no go command to ask for the versions in use")
	}
	module := func(path string) (m struct{ Version, GoMod string }) {
		out, err := exec.Command("go", "list", "-m", "-json", path).Output()
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(out, &m); err != nil {
			t.Fatal(err)
		}
		return m
	}
	mod, err := os.ReadFile(module("modernc.org/sqlite").GoMod)
	if err != nil {
		t.Fatal(err)
	}
	want := ""
	for line := range strings.Lines(string(mod)) {
		if f := strings.Fields(line); len(f) >= 2 && f[0] == "modernc.org/libc" {
			want = f[1]
		}
	}
	if got := module("modernc.org/libc").Version; want == "" || got != want {
		t.Errorf("modernc.org/libc is %s, modernc.org/sqlite was made with %q", got, want)
	}
}
