package rig

import (
	"os/exec"
	"path/filepath"
	"testing"

	"handback/testdata/outside"
)

// Office converts the workbooks of dir with LibreOffice, in a profile of its own.
func Office(t *testing.T, dir, to string, books ...string) {
	t.Helper()
	c := exec.Command(outside.Tool(t, "soffice"), append([]string{"-env:UserInstallation=file://" + filepath.Join(dir, "profile"),
		"--headless", "--norestore", "--convert-to", to, "--outdir", dir}, books...)...)
	if out, err := c.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
}
