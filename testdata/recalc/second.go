package recalc

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"fmt"
	"os/exec"
)

//go:embed second.js
var second string

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
// alone and gives what the watched cells show. run runs a script that may require it; it is
// a tool of tests alone and no part of the program.
func Second(run func(script string, args ...string) *exec.Cmd, cells []Place, edits []Edit) ([][]string, error) {
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
	var said bytes.Buffer
	c := run(second)
	c.Stdin, c.Stderr = bytes.NewReader(in), &said
	data, err := c.Output()
	if err != nil {
		return nil, fmt.Errorf("%w: %s", err, said.String())
	}
	var out [][]string
	return out, json.Unmarshal(data, &out)
}
