package cmd

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"handback/cmd/session"
	"handback/report"
	"handback/report/files"
	"handback/templates"
	"handback/testdata/outside"
)

// fence is a fenced block of a document. A comment right above it may say what it is:
//
//	<!-- file: NAME -->   the block is written to that file, as a reader would
//	<!-- from: NAME -->   the block shows lines of that file
//	<!-- in a plan -->    the block may stand in a plan, beside what that must hold
//
// A block of the kind sh is run by a shell, and every line of it must do. One of the kind
// console holds commands after "$ ", each with what it prints.
// In shown output a line ... stands for lines left out, and … ends a line cut short.
type fence struct {
	from, to   int // its lines, without the fences
	kind       string
	file, show string
	planned    bool
}

// fences lists the blocks of a document.
func fences(t *testing.T, lines []string) []fence {
	t.Helper()
	var out []fence
	var open *fence
	for i, line := range lines {
		mark, ok := strings.CutPrefix(line, "```")
		switch {
		case ok && open == nil:
			open = &fence{from: i + 1, kind: mark}
			if i > 0 {
				open.file = between(lines[i-1], "<!-- file: ", " -->")
				open.show = between(lines[i-1], "<!-- from: ", " -->")
				open.planned = lines[i-1] == "<!-- in a plan -->"
			}
		case ok:
			open.to = i
			out = append(out, *open)
			open = nil
		}
	}
	if open != nil {
		t.Fatalf("line %d: the block is not closed", open.from)
	}
	return out
}

func between(s, before, after string) string {
	rest, ok := strings.CutPrefix(s, before)
	if !ok {
		return ""
	}
	return strings.TrimSuffix(rest, after)
}

// reader does what the README tells: it writes files, types commands and reads
// what they print.
type reader struct {
	env    session.Env
	out    bytes.Buffer
	status int
}

func newReader(dir string) *reader {
	r := &reader{}
	r.env = session.Env{In: strings.NewReader(""), Out: &r.out, Err: &r.out, Program: "handback " + session.Version, Book: filepath.Join(dir, "data", "book.db"),
		Now:    func() time.Time { return time.Date(2026, 5, 12, 14, 15, 0, 0, time.FixedZone("", 3600)) },
		Random: strings.NewReader(strings.Repeat("chance", 200))}
	return r
}

// types runs one command line and gives the lines it prints. What is known of a
// shell: words in double quotes, > FILE and echo $?.
func (r *reader) types(line string) ([]string, error) {
	if line == "echo $?" {
		return []string{fmt.Sprint(r.status)}, nil
	}
	words := splitWords(line)
	into := ""
	if n := len(words); n > 2 && words[n-2] == ">" {
		words, into = words[:n-2], words[n-1]
	}
	if words[0] != "handback" {
		return nil, fmt.Errorf("%q is no command that can be run here", line)
	}
	words = words[1:]
	r.out.Reset()
	env := r.env
	var file bytes.Buffer
	if into != "" {
		env.Out = &file
	}
	r.status = Main(words, env)
	if into != "" {
		if err := os.WriteFile(into, file.Bytes(), 0o644); err != nil {
			return nil, err
		}
	}
	return printed(r.out.String()), nil
}

// printed cuts output into lines without blanks at their ends.
func printed(s string) []string {
	s = strings.TrimRight(s, "\n")
	if s == "" {
		return nil
	}
	lines := strings.Split(s, "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " ")
	}
	return lines
}

const leftOut = "..."

// sameLine tells whether a shown line shows a printed one.
func sameLine(shown, printed string) bool {
	if start, cut := strings.CutSuffix(shown, "…"); cut {
		return strings.HasPrefix(printed, start)
	}
	return shown == printed
}

// startsWith tells whether lines begins with what part shows.
func startsWith(lines, part []string) bool {
	if len(part) > len(lines) {
		return false
	}
	for i := range part {
		if !sameLine(part[i], lines[i]) {
			return false
		}
	}
	return true
}

// fits holds shown lines against printed ones. It gives the shown lines as they
// should be, and what is wrong with them, "" when nothing is. Parts between two
// lines left out are looked for in order; where a part is not found whole, it is
// put right from its first line on.
func fits(shown, got []string) (right []string, wrong string) {
	open := false // lines may be left out here
	for len(shown) > 0 {
		if shown[0] == leftOut {
			right, shown, open = append(right, leftOut), shown[1:], true
			continue
		}
		n := slices.Index(shown, leftOut)
		if n < 0 {
			n = len(shown)
		}
		part := shown[:n]
		shown = shown[n:]
		at := 0
		if open {
			at = find(got, part)
			if at < 0 {
				at = find(got, part[:1])
			}
			if at < 0 {
				return append(right, part...), fmt.Sprintf("nothing like %q is printed", part[0])
			}
		}
		got = got[at:]
		last := len(shown) == 0
		for i, line := range part {
			switch {
			case i < len(got) && sameLine(line, got[i]):
				right = append(right, line)
			case i < len(got):
				right = append(right, got[i])
				wrong += fmt.Sprintf("\n-%s\n+%s", line, got[i])
			default:
				wrong += fmt.Sprintf("\n-%s", line)
			}
		}
		got = got[min(len(part), len(got)):]
		if last {
			for _, line := range got {
				right = append(right, line)
				wrong += "\n+" + line
			}
			return right, wrong
		}
		open = false
	}
	if !open && len(got) > 0 {
		return append(right, got...), "\n+" + strings.Join(got, "\n+")
	}
	return right, wrong
}

func find(lines, part []string) int {
	for i := range lines {
		if startsWith(lines[i:], part) {
			return i
		}
	}
	return -1
}

// session plays one console block and gives it as it should be.
func (r *reader) session(t *testing.T, first int, lines []string) []string {
	var right []string
	for i := 0; i < len(lines); {
		command, ok := strings.CutPrefix(lines[i], "$ ")
		if !ok {
			t.Fatalf("line %d: a session begins with a command", first+i+1)
		}
		typed := lines[i : i+1]
		for strings.HasSuffix(command, ` \`) && i+len(typed) < len(lines) { // goes on in the next line
			typed = lines[i : i+len(typed)+1]
			command = strings.TrimSuffix(command, `\`) + strings.TrimSpace(typed[len(typed)-1])
		}
		end := i + len(typed)
		for end < len(lines) && !strings.HasPrefix(lines[end], "$ ") {
			end++
		}
		got, err := r.types(command)
		if err != nil {
			t.Fatalf("line %d: %v", first+i+1, err)
		}
		asked := end < len(lines) && lines[end] == "$ echo $?"
		if r.status != exitDone && !asked && command != "echo $?" {
			t.Errorf("line %d: %s ends with status %d, and the session does not say so:\n%s", first+i+1, command, r.status, strings.Join(got, "\n"))
		}
		put, wrong := fits(lines[i+len(typed):end], got)
		if wrong != "" && !*update {
			t.Errorf("line %d: %s does not print what is shown (-shown +printed); go test ./cmd -run Readme -update puts it right:%s", first+i+1, command, wrong)
		}
		right = append(append(right, typed...), put...)
		i = end
	}
	return right
}

// The README is followed as a reader would, from top to bottom in one home: its files are
// written, its commands typed, and what it shows of them must be what they print.
// -update puts shown lines right.
func TestReadme(t *testing.T) {
	outside.Long(t)
	path, err := filepath.Abs("../README.md")
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	goHere(t, dir)
	t.Chdir(dir)
	text := newReader(dir).follow(t, path)
	t.Run("names", func(t *testing.T) { namesExist(t, path, filepath.Dir(path), dir) })
	if words := strings.Join(strings.Fields(text), " "); !strings.Contains(words, report.Deferral) {
		t.Errorf("the README does not say %q", report.Deferral)
	}
	for _, topic := range templates.Topics() {
		if !strings.Contains(text, "(templates/help/"+topic+".md)") {
			t.Errorf("the README does not name the topic %s", topic)
		}
	}
	if n := strings.Count(text, "\n"); n > mostReadme {
		t.Errorf("the README has %d lines: what goes beyond %d goes into a topic, templates/help", n, mostReadme)
	}
}

// mostReadme is how many lines are read before a first try (our choice).
const mostReadme = 150

// goHere puts a go command first on the search path that does from any folder what the
// README has typed in the tree: run is given to the program under test, and of test and
// install only the packages are looked up, for this is a test of theirs.
func goHere(t *testing.T, dir string) {
	t.Helper()
	tree, err := filepath.Abs(root)
	if err != nil {
		t.Fatal(err)
	}
	real, err := exec.LookPath("go")
	if err != nil {
		t.Skip("no go command")
	}
	script := fmt.Sprintf(`#!/bin/sh
list() { GOFLAGS= %[1]q list -C %[2]q -f '{{.Name}}' "$@"; }
case "$1" in
run) test "$2" = -v && test "$(list "$3")" = main && shift 3 && exec handback "$@" ;;
install) test "$(list "$2")" = main ;;
test) shift; while [ "${1#./}" = "$1" ]; do shift; done; list "$@" >/dev/null ;;
*) exec %[1]q "$@" ;;
esac
`, real, tree)
	bin := filepath.Join(dir, "bin")
	if err := errors.Join(os.Mkdir(bin, 0o755), os.WriteFile(filepath.Join(bin, "go"), []byte(script), 0o755)); err != nil {
		t.Fatal(err)
	}
	t.Setenv("PATH", bin+string(os.PathListSeparator)+os.Getenv("PATH"))
}

// follow does what a document says, in the folder at hand, and gives its text. Every block
// in it is followed.
func (r *reader) follow(t *testing.T, path string) string {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(data), "\n")
	var right []string
	at := 0
	for _, f := range fences(t, lines) {
		right = append(right, lines[at:f.from]...)
		put := lines[f.from:f.to]
		switch {
		case f.kind == "console":
			put = r.session(t, f.from, put)
		case f.file != "":
			if err := os.WriteFile(f.file, []byte(strings.Join(put, "\n")+"\n"), 0o644); err != nil {
				t.Fatal(err)
			}
		case f.show != "":
			put = shows(t, f, put)
		case f.kind == "sh":
			copied(t, f, put, r.env.Book)
		case f.planned:
			plans(t, f, put)
		default:
			t.Errorf("%s, line %d: nothing tells how this block is tried", filepath.Base(path), f.from)
		}
		right, at = append(right, put...), f.to
	}
	right = append(right, lines[at:]...)
	if *update {
		if err := files.Write(path, []byte(strings.Join(right, "\n")), files.Over{Force: true}); err != nil {
			t.Fatal(err)
		}
	}
	return string(data)
}

// shows holds a block against the file it shows lines of.
func shows(t *testing.T, f fence, lines []string) []string {
	data, err := os.ReadFile(f.show)
	if err != nil {
		t.Fatalf("line %d: %v", f.from, err)
	}
	right, wrong := fits(lines, printed(string(data)))
	if wrong != "" && !*update {
		t.Errorf("line %d: %s is shown otherwise than it is (-shown +is):%s", f.from, f.show, wrong)
	}
	return right
}

// copied gives the lines of a block to a shell, as a reader does who copies them.
func copied(t *testing.T, f fence, lines []string, book string) {
	sh, err := exec.LookPath("sh")
	if err != nil {
		t.Log("no sh to run the lines of line ", f.from, " with")
		return
	}
	if slices.ContainsFunc(lines, func(line string) bool { return strings.HasPrefix(line, "python3 ") }) {
		outside.Tool(t, "python3")
	}
	c := program(book, sh, "-ec", strings.Join(lines, "\n"))
	c.Dir = ""
	if out, err := c.CombinedOutput(); err != nil {
		t.Errorf("line %d: %v:\n%s", f.from, err, out)
	}
}

// The comparison itself finds what it must, and -update would put it right.
func TestFits(t *testing.T) {
	got := []string{"a", "b 12", "c", "d", "e"}
	for _, c := range []struct {
		shown, right string
		ok           bool
	}{
		{"a|b 12|c|d|e", "a|b 12|c|d|e", true},
		{"a|b…|c|d|e", "a|b…|c|d|e", true},
		{"a|...|d|e", "a|...|d|e", true},
		{"...|c|...", "...|c|...", true},
		{"...|b 12|c|...|e", "...|b 12|c|...|e", true},
		{"...", "...", true},
		{"a|b 12|c|d", "a|b 12|c|d|e", false},
		{"a|b 13|c|d|e", "a|b 12|c|d|e", false},
		{"b 12|...", "a|...", false},
		{"...|d|...|c|...", "...|d|...|c", false},
		{"...|b 12|x|...", "...|b 12|c|...", false},
		{"...|d", "...|d|e", false},
		{"a|b 12|c|d|e|f", "a|b 12|c|d|e", false},
		{"", "a|b 12|c|d|e", false},
	} {
		var shown []string
		if c.shown != "" {
			shown = strings.Split(c.shown, "|")
		}
		right, wrong := fits(shown, got)
		if (wrong == "") != c.ok || strings.Join(right, "|") != c.right {
			t.Errorf("%s: %q, wrong %q; want %s, ok %v", c.shown, strings.Join(right, "|"), wrong, c.right, c.ok)
		}
	}
}
