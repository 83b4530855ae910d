package outside

import (
	"os/exec"
	"testing"
)

// Npm installs packages of the npm registry, each as name@version, into a folder of the
// test, and gives the folder and node to run a program there. Where they cannot be
// fetched the comparison is missing.
func Npm(t testing.TB, packages ...string) (node, dir string) {
	t.Helper()
	node, npm := Tool(t, "node"), Tool(t, "npm")
	dir = t.TempDir()
	install := exec.Command(npm, append([]string{"install", "--no-audit", "--no-fund", "--silent"}, packages...)...)
	install.Dir = dir
	if out, err := install.CombinedOutput(); err != nil {
		Missing(t, packages[0], string(out))
	}
	return node, dir
}
