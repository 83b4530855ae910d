package plan

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Place is where something stands; lines and columns count from 1.
type Place struct {
	File      string
	Line, Col int
}

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

// Notes gathers problems and remembers where each path stood.
type Notes struct {
	file     string                // of the plan
	included map[*yaml.Node]string // the file of what stands in another than the plan's own
	meant    map[*yaml.Node]string // what a value comes to, however it is written; nil where nobody asks
	places   map[string]Place
	found    Problems // what makes a plan unreadable
	objected Problems // what can be read and must not be worked by
	warned   Problems // what its reader should see
	trial    bool     // of a trial, with which nothing is opened
}

// At adds a problem at a path; a path without a place of its own is reported
// where the nearest thing around it stands.
func (n *Notes) At(path, format string, args ...any) {
	n.found = append(n.found, n.problem(path, format, args...))
}

// Object adds what a plan must not be worked by.
func (n *Notes) Object(path, format string, args ...any) {
	n.objected = append(n.objected, n.problem(path, format, args...))
}

// warn adds what the plan's reader should see.
func (n *Notes) warn(path, format string, args ...any) {
	n.warned = append(n.warned, n.problem(path, format, args...))
}

func (n *Notes) problem(path, format string, args ...any) Problem {
	p := n.placeOf(path)
	return Problem{File: p.File, Line: p.Line, Col: p.Col, Path: path, Cause: fmt.Sprintf(format, args...)}
}

func (n *Notes) placeOf(path string) Place {
	for {
		if p, ok := n.places[path]; ok {
			return p
		}
		i := strings.LastIndexAny(path, ".[")
		if i < 0 {
			if p, ok := n.places[""]; ok {
				return p
			}
			return Place{n.file, 1, 1}
		}
		path = path[:i]
	}
}

// stands is the place of a node.
func (n *Notes) stands(node *yaml.Node) Place {
	file, ok := n.included[node]
	if !ok {
		file = n.file
	}
	return Place{file, node.Line, node.Column}
}

// lineOf names the line where a path stands, with its file where the plan has more than one.
func (n *Notes) lineOf(path string) string {
	p := n.placeOf(path)
	if len(n.included) == 0 {
		return fmt.Sprintf("line %d", p.Line)
	}
	return fmt.Sprintf("%s, line %d", p.File, p.Line)
}

// err is what makes a plan unreadable, with what else must not be worked by, so that
// all is mended in one go; nil when it can be read.
func (n *Notes) err() error {
	if len(n.found) == 0 {
		return nil
	}
	return inOrder(append(n.found, n.objected...))
}

// inOrder sorts problems by where they stand, file by file.
func inOrder(list Problems) Problems {
	slices.SortStableFunc(list, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line), cmp.Compare(a.Col, b.Col), cmp.Compare(a.Path, b.Path))
	})
	return list
}

// Near is the accepted word that a word may be a slip of, "" for none. Two letters may be
// wrong in a word of five or more, one in a shorter one: half a word is no slip.
func Near(word string, accepted []string) string {
	best, bestAt := "", 3
	for _, a := range accepted {
		d := distance(word, a)
		if long := max(len(word), len(a)); d < bestAt && d < long && (d < 2 || long > 4) {
			best, bestAt = a, d
		}
	}
	return best
}

// Nearest suggests the closest accepted word, or lists them all.
func Nearest(word string, accepted []string) string {
	accepted = slices.DeleteFunc(slices.Clone(accepted), func(a string) bool { return a == "" })
	if best := Near(word, accepted); best != "" {
		return fmt.Sprintf(": did you mean %s?", best)
	}
	if len(accepted) == 0 {
		return ": there is none to name"
	}
	return ": accepted here are " + strings.Join(accepted, ", ")
}

// distance is the number of one-letter edits between two words.
func distance(a, b string) int {
	prev := make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := range len(a) {
		row := make([]int, len(b)+1)
		row[0] = i + 1
		for j := range len(b) {
			cost := 1
			if a[i] == b[j] {
				cost = 0
			}
			row[j+1] = min(prev[j+1]+1, row[j]+1, prev[j]+cost)
		}
		prev = row
	}
	return prev[len(b)]
}
