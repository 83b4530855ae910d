package legend

import (
	"bytes"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"handback/testdata/outside"
)

// The modules are those that go links into the program on any system, in the versions it
// takes, under the licences whose texts come with them; an owner's build has more. What
// tells licences apart stands in those texts (SPDX License List).
func TestMadeWith(t *testing.T) {
	outside.Long(t)
	all := maps.Clone(licences)
	maps.Copy(all, ownersLicences)
	if len(all) != len(licences)+len(ownersLicences) {
		t.Error("a module has two licences here")
	}
	for tags, licences := range map[string]map[string]string{"": licences, "postgres": all} {
		held(t, tags, licences)
	}
}

func held(t *testing.T, tags string, licences map[string]string) {
	text, err := madeWith("handback 1.2.3", "module handback v1.2.3, built with go1.26.8", modulesOf(licences))
	if err != nil {
		t.Fatal(err)
	}
	linked := map[string]string{}
	for _, system := range []string{"linux", "windows", "darwin"} {
		c := exec.Command("go", "list", "-deps", "-tags", tags, "-f", "{{with .Module}}{{if not .Main}}{{.Path}}\t{{.Version}}\t{{.Dir}}{{end}}{{end}}", "handback/cmd/handback")
		c.Env = append(os.Environ(), "GOOS="+system, "CGO_ENABLED=0")
		out, err := c.Output()
		if err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(string(out)) {
			if module := strings.Split(strings.TrimSpace(line), "\t"); len(module) == 3 {
				linked[module[0]] = module[2]
				if row := columns(0, [][]string{{module[0], module[1], licences[module[0]]}}); licences[module[0]] == "" || !strings.Contains(squeezed(text), squeezed([]byte(row))) {
					t.Errorf("%s: not in\n%s", row, text)
				}
			}
		}
	}
	if len(linked) != len(licences) {
		t.Errorf("with tags %q %d modules are linked, %d have a licence here", tags, len(linked), len(licences))
	}
	marks := map[string]string{
		"Apache-2.0": "Apache License Version 2.0", "MIT": "Permission is hereby granted, free of charge, to any person obtaining a copy",
		"BSD-3-Clause": "used to endorse or promote products derived from this software", "BSD-2-Clause": "BSD 2-Clause License",
	}
	for module, licence := range licences {
		texts, err := filepath.Glob(filepath.Join(linked[module], "[Ll][Ii][Cc][Ee][Nn][SsCc][Ee]*"))
		if err != nil || len(texts) == 0 {
			t.Errorf("%s comes without a licence in %s: %v", module, linked[module], err)
			continue
		}
		is, err := os.ReadFile(texts[0])
		if err != nil {
			t.Fatal(err)
		}
		for name, mark := range marks {
			of := strings.Contains(squeezed(is), mark) || name == "Apache-2.0" && strings.Contains(squeezed(is), "Apache License, Version 2.0")
			if of != strings.Contains(licence, name) {
				t.Errorf("%s is said to be under %s; its text is that of %s: %v", module, licence, name, of)
			}
		}
	}
}

func squeezed(text []byte) string { return strings.Join(strings.Fields(string(text)), " ") }

// The licence of the program stands there in full; what it was built from only where it is
// known.
func TestMadeWith_own(t *testing.T) {
	own, err := os.ReadFile("../../LICENSE")
	if err != nil {
		t.Fatal(err)
	}
	for built, lines := range map[string]string{"": "\nhandback 1.2.3\n\n", "built with go1.26.8": "\nhandback 1.2.3\nbuilt with go1.26.8\n\n"} {
		text, err := MadeWith("handback 1.2.3", built)
		if err != nil || !bytes.HasSuffix(text, own) || !strings.Contains(string(text), lines) {
			t.Errorf("%v\n%s", err, text)
		}
	}
}
