package templates

import (
	"fmt"
	"io/fs"
	"strings"
)

// Topics lists the help topics in the order of their names.
func Topics() []string {
	entries, err := fs.ReadDir(files, "help")
	if err != nil {
		panic("templates: " + err.Error())
	}
	var out []string
	for _, e := range entries {
		out = append(out, strings.TrimSuffix(e.Name(), ".md"))
	}
	return out
}

// Topic gives a help topic as it is written.
func Topic(name string) (string, error) {
	data, err := files.ReadFile("help/" + name + ".md")
	if err != nil {
		return "", fmt.Errorf("no help topic %q: there are %s", name, strings.Join(Topics(), ", "))
	}
	return string(data), nil
}
