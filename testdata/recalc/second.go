package recalc

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
)

//go:embed second.js
var second []byte

// Place is a cell by numbers from 1, with what is put there: a number, text behind an
// apostrophe, a formula behind =, or nil for nothing.
type Place struct {
	Sheet string `json:"sheet"`
	Row   int    `json:"row"`
	Col   int    `json:"col"`
	Value any    `json:"value"`
}

// Edit is some cells changed together, and the cells to look at then.
type Edit struct {
	Cells []Place `json:"cells"`
	Watch []Place `json:"watch"`
}

// Second has HyperFormula, an engine that shares nothing with LibreOffice, make each edit
// alone and gives what the watched cells show. Packages of npm lie under dir; it is a
// tool of tests alone and no part of the program.
func Second(node, dir string, cells []Place, edits []Edit) ([][]string, error) {
	sheets := map[string][][]any{}
	for _, c := range cells {
		s := sheets[c.Sheet]
		for len(s) < c.Row {
			s = append(s, []any{})
		}
		for len(s[c.Row-1]) < c.Col {
			s[c.Row-1] = append(s[c.Row-1], nil)
		}
		s[c.Row-1][c.Col-1] = c.Value
		sheets[c.Sheet] = s
	}
	in, err := json.Marshal(map[string]any{"sheets": sheets, "edits": edits})
	if err != nil {
		return nil, err
	}
	script := filepath.Join(dir, "second.js")
	if err := os.WriteFile(script, second, 0o600); err != nil {
		return nil, err
	}
	var said bytes.Buffer
	run := exec.Command(node, script)
	run.Dir, run.Stdin, run.Stderr = dir, bytes.NewReader(in), &said
	data, err := run.Output()
	if err != nil {
		return nil, fmt.Errorf("%w: %s", err, said.String())
	}
	var out [][]string
	return out, json.Unmarshal(data, &out)
}
