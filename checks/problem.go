package checks

import (
	"fmt"
	"sort"
	"strconv"
	"strings"
)

// Place is where in a file something stands; lines and columns count from 1.
type Place struct{ Line, Col int }

// Problem is one thing wrong in a plan: where, the value met, what is accepted.
type Problem struct {
	File  string `json:"file"`
	Line  int    `json:"line"`
	Col   int    `json:"col"`
	Path  string `json:"path"`
	Cause string `json:"cause"`
}

func (p Problem) String() string {
	where := fmt.Sprintf("%s:%d:%d", p.File, p.Line, p.Col)
	if p.Path == "" {
		return where + ": " + p.Cause
	}
	path := p.Path
	if PlainText(path) != nil { // a key with control characters must not reach a terminal
		path = strconv.Quote(path)
	}
	return where + ": " + path + ": " + p.Cause
}

// Problems is every problem of one file, in the order of their lines.
type Problems []Problem

func (p Problems) Error() string {
	lines := make([]string, len(p))
	for i, q := range p {
		lines[i] = q.String()
	}
	return strings.Join(lines, "\n")
}

// notes gathers problems and remembers where each path stood.
type notes struct {
	file   string
	places map[string]Place
	found  Problems
}

// at adds a problem at a path; a path without a place of its own is reported
// where the nearest thing around it stands.
func (n *notes) at(path, format string, args ...any) {
	p := n.placeOf(path)
	n.found = append(n.found, Problem{File: n.file, Line: p.Line, Col: p.Col, Path: path, Cause: fmt.Sprintf(format, args...)})
}

func (n *notes) placeOf(path string) Place {
	for {
		if p, ok := n.places[path]; ok {
			return p
		}
		i := strings.LastIndexAny(path, ".[")
		if i < 0 {
			if p, ok := n.places[""]; ok {
				return p
			}
			return Place{1, 1}
		}
		path = path[:i]
	}
}

func (n *notes) err() error {
	if len(n.found) == 0 {
		return nil
	}
	sort.SliceStable(n.found, func(i, j int) bool {
		a, b := n.found[i], n.found[j]
		if a.Line != b.Line {
			return a.Line < b.Line
		}
		return a.Col < b.Col
	})
	return n.found
}
