package outside

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Browse runs headless Chromium on a file or an address, in a profile of its own, and gives
// what it prints and what it says of itself.
func Browse(t testing.TB, file string, flags ...string) (out, said string) {
	t.Helper()
	if !strings.Contains(file, "://") {
		file = "file://" + file
	}
	within, done := context.WithTimeout(t.Context(), 2*time.Minute)
	defer done()
	all := append([]string{"--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
		"--disable-component-update", "--disable-sync", "--hide-scrollbars", "--enable-logging=stderr", "--v=0", "--user-data-dir=" + t.TempDir()}, flags...)
	c := exec.CommandContext(within, Tool(t, "chromium"), append(all, file)...)
	var stdout, stderr bytes.Buffer
	c.Stdout, c.Stderr = &stdout, &stderr
	if err := c.Run(); err != nil {
		t.Fatalf("chromium: %v: %.2000s", err, stderr.String())
	}
	return stdout.String(), stderr.String()
}

// NpmFile is the content of a file of a package of the npm registry, as in Npm.
func NpmFile(t testing.TB, pkg, file string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(npmPackage(t, pkg), file))
	if err != nil {
		t.Fatal(err)
	}
	return data
}
