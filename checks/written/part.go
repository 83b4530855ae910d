package written

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// Part is one file of a plan's text.
type Part struct {
	Name string // as the plan includes it, relative to its folder; of its own file what the caller calls it
	Text []byte
}

// head begins the line before an included file. A line that begins with --- is a marker
// between documents wherever it stands in YAML, so no text of a value is mistaken for one.
const head = "--- # handback include: "

// MostParts is how many files a plan may include (our choice: a register of a large site).
const MostParts = 200

// Split takes a whole apart: the plan's own file, called file, and behind it what it
// includes, each byte for byte as it was read.
func Split(file string, whole []byte) []Part {
	out := []Part{{Name: file}}
	for len(whole) > 0 {
		line, rest := whole, []byte(nil)
		if i := bytes.IndexByte(whole, '\n'); i >= 0 {
			line, rest = whole[:i+1], whole[i+1:]
		}
		if name, ok := strings.CutPrefix(string(line), head); ok {
			out = append(out, Part{Name: strings.TrimRight(name, "\r\n")})
		} else {
			last := &out[len(out)-1]
			last.Text = append(last.Text, line...)
		}
		whole = rest
	}
	return out
}

// Whole puts parts together again.
func Whole(parts []Part) []byte {
	var out []byte
	for i, p := range parts {
		if i > 0 {
			if len(out) > 0 && out[len(out)-1] != '\n' {
				out = append(out, '\n')
			}
			out = append(out, head+p.Name+"\n"...)
		}
		out = append(out, p.Text...)
	}
	return out
}

// Folder is where the files lie that a plan includes. Names are relative to the plan's
// folder, with slashes.
type Folder interface {
	List(folder string) ([]string, error) // names of the plain files in it
	Read(file string) ([]byte, error)
}

// Gather reads what a plan includes, each file once, and gives the whole. A plan that
// includes nothing, or that is a whole already, is given as it is; so is one that cannot
// be read, for who loads it says why.
func Gather(plan []byte, from Folder) ([]byte, error) {
	wanted := includes(plan)
	parts := Split("", plan)
	if len(wanted) == 0 || len(parts) > 1 {
		return plan, nil
	}
	var names []string
	for _, name := range wanted {
		switch folder, isFolder := strings.CutSuffix(name, "/"); {
		case !Beside(name):
			return plan, nil // as Load says
		case isFolder:
			list, err := from.List(folder)
			if err != nil {
				return nil, fmt.Errorf("include %s: %w", name, err)
			}
			names = append(names, below(folder, list)...)
		default:
			names = append(names, name)
		}
	}
	if len(names) > MostParts {
		return nil, fmt.Errorf("include: %d files: at most %d are read", len(names), MostParts)
	}
	for _, name := range names {
		if slices.ContainsFunc(parts, func(p Part) bool { return p.Name == name }) {
			continue // by its folder and by its name
		}
		text, err := from.Read(name)
		if err == nil {
			err = sound(text)
		}
		if err != nil {
			return nil, fmt.Errorf("include %s: %w", name, err)
		}
		parts = append(parts, Part{name, text})
	}
	return Whole(parts), nil
}

// below are the YAML files of a folder, in the order of their names.
func below(folder string, list []string) []string {
	var out []string
	for _, name := range list {
		if strings.HasSuffix(name, ".yaml") || strings.HasSuffix(name, ".yml") {
			out = append(out, folder+"/"+name)
		}
	}
	slices.Sort(out)
	return out
}

// sound refuses a text that would not come back as it was out of a whole.
func sound(text []byte) error {
	switch {
	case !utf8.Valid(text):
		return fmt.Errorf("it is not UTF-8 text")
	case len(Split("", text)) > 1:
		return fmt.Errorf("it holds files that another plan includes: name them in this plan")
	}
	return nil
}

// includes are the names that a plan gives under include; none where it cannot be read.
func includes(plan []byte) []string {
	var doc yaml.Node
	if yaml.Unmarshal(plan, &doc) != nil || len(doc.Content) == 0 {
		return nil
	}
	var out []string
	if list := Named(Members(doc.Content[0]), "include"); list != nil {
		for _, item := range list.Content {
			out = append(out, item.Value)
		}
	}
	return out
}

// Beside tells whether a name leads to a file or, with a slash at its end, a folder in the
// plan's folder or below it.
func Beside(name string) bool {
	away := func(part string) bool { return part == "" || part == "." || part == ".." }
	return !strings.ContainsAny(name, "\\:\n\r\t") && !slices.ContainsFunc(strings.Split(strings.TrimSuffix(name, "/"), "/"), away)
}

// Covers tells whether what a plan includes under a name holds a file.
func Covers(name, file string) bool {
	folder, isFolder := strings.CutSuffix(name, "/")
	at := strings.LastIndexByte(file, '/')
	return name == file || isFolder && at >= 0 && file[:at] == folder
}
