package outside

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// NpmFolder is a folder of the test from which scripts of Node.js find packages of the npm
// registry, each as name@version, which npm install --global has put there: a module that
// imports them may stand in it.
func NpmFolder(t testing.TB, packages ...string) (node, dir string) {
	t.Helper()
	node, dir = Tool(t, "node"), t.TempDir()
	for _, p := range packages {
		is := npmPackage(t, p)
		at := filepath.Join(dir, "node_modules", p[:strings.LastIndexByte(p, '@')])
		if err := os.MkdirAll(filepath.Dir(at), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.Symlink(is, at); err != nil {
			t.Fatal(err)
		}
	}
	return node, dir
}
