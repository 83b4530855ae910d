package cmd

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"handback/testdata/outside"
)

// A script in another language takes a whole job from its plan to the owner's archive by what
// commands print with --json; every answer on its way is held against its schema.
func TestJSON_wholeJob_outside(t *testing.T) {
	outside.Long(t)
	python := outside.Tool(t, "/usr/bin/python3", "-c", "import json")
	script, err := filepath.Abs("../testdata/jsonjob.py")
	if err != nil {
		t.Fatal(err)
	}
	plan, err := os.ReadFile(filepath.Join(scripts, "shared", "small.yaml"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "plan.yaml"), plan, 0o644); err != nil {
		t.Fatal(err)
	}
	c := program(filepath.Join(dir, "book.db"), python, script, "plan.yaml")
	var said, wrong bytes.Buffer
	c.Stdout, c.Stderr = &said, &wrong
	if err := c.Run(); err != nil || said.String() != "pump-1: 23 entries, ready, signed, packed, archived, taken elsewhere\n" {
		t.Errorf("%v: %s\n%s", err, said.String(), wrong.String())
	}
}
