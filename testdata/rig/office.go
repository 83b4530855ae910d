package rig

import (
	"os/exec"
	"path/filepath"
	"testing"

	"handback/testdata/outside"
)

// Exceljs installs that library into a folder and gives the program to run it with.
func Exceljs(t *testing.T, dir string) (node string) {
	t.Helper()
	node, npm := outside.Tool(t, "node"), outside.Tool(t, "npm")
	install := exec.Command(npm, "install", "--no-audit", "--no-fund", "--silent", "exceljs@4.4.0")
	install.Dir = dir
	if out, err := install.CombinedOutput(); err != nil {
		t.Skipf("exceljs cannot be fetched: this comparison was not made: %v %s", err, out)
	}
	return node
}

// Office converts the workbooks of dir with LibreOffice, in a profile of its own.
func Office(t *testing.T, dir, to string, books ...string) {
	t.Helper()
	c := exec.Command(outside.Tool(t, "soffice"), append([]string{"-env:UserInstallation=file://" + filepath.Join(dir, "profile"),
		"--headless", "--norestore", "--convert-to", to, "--outdir", dir}, books...)...)
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
}
