package cmd

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"handback/checks"
	"handback/checks/plan"
	"handback/cmd/session"
)

const root = ".."

var (
	codeSpan = regexp.MustCompile("`([^`\n]+)`")
	fileName = regexp.MustCompile(`^\.?[\w*-]+(/[\w*.-]+)+/?$|^[\w*-]+\.(go|md|yaml|txt|json|xlsx|db|tmpl|mod|png)$`)
	goName   = regexp.MustCompile(`^[a-zA-Z]+[A-Z]\w*$|^[a-z]+\.[A-Z]\w*$`)
	linkTo   = regexp.MustCompile(`\]\(([^)#]+)\)`)
	// shellLine finds handback commands in blocks and spans, behind a prompt or not.
	shellLine = regexp.MustCompile(`^(?:\$ )?(?:handback|go run \./cmd/handback)((?: .*)?)$`)
)

func TestDevelopers(t *testing.T) {
	namesExist(t, filepath.Join(root, "DEVELOPERS.md"), root)
}

// namesExist holds a document to the tree: every command and flag it shows, every
// file it names under one of the folders, and every Go name is there.
func namesExist(t *testing.T, path string, dirs ...string) {
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(data), "\n")
	inside := map[int]bool{}
	for _, f := range fences(t, lines) {
		for i := f.from - 1; i <= f.to; i++ {
			inside[i] = true
			if m := shellLine.FindStringSubmatch(lines[i]); m != nil && f.kind != "text" {
				commandExists(t, i+1, m[1])
			}
		}
	}
	declared := goNames(t, dirs[0])
	seen := 0
	for i, line := range lines {
		if inside[i] {
			continue
		}
		for _, m := range linkTo.FindAllStringSubmatch(line, -1) {
			if !strings.Contains(m[1], "://") {
				fileExists(t, i+1, m[1], dirs)
			}
		}
		for _, m := range codeSpan.FindAllStringSubmatch(line, -1) {
			seen++
			span := m[1]
			switch c := shellLine.FindStringSubmatch(span); {
			case c != nil:
				commandExists(t, i+1, c[1])
			case strings.Contains(span, "NAME") || strings.Contains(span, "KIND"): // a pattern
			case fileName.MatchString(span):
				fileExists(t, i+1, span, dirs)
			case goName.MatchString(span):
				if !declared[span] {
					t.Errorf("line %d: no Go name %s", i+1, span)
				}
			}
		}
	}
	if seen < 20 {
		t.Errorf("%d names were found: the document is not read as it should be", seen)
	}
}

func fileExists(t *testing.T, line int, name string, dirs []string) {
	for _, dir := range dirs {
		if found, err := filepath.Glob(filepath.Join(dir, filepath.FromSlash(name))); err == nil && len(found) > 0 {
			return
		}
	}
	t.Errorf("line %d: no file %s", line, name)
}

// commandExists demands the command that args begin with, and their flags.
func commandExists(t *testing.T, line int, args string) {
	words := slices.DeleteFunc(strings.Fields(args), func(w string) bool { return w == "--help" || w == "--version" })
	tree := newRoot(&session.Env{})
	c, rest, err := tree.Find(words)
	if err != nil || c == tree && len(rest) > 0 && !strings.HasPrefix(rest[0], "-") {
		t.Errorf("line %d: no command handback%s", line, args)
		return
	}
	for _, w := range rest {
		if long, ok := strings.CutPrefix(w, "--"); ok {
			long, _, _ = strings.Cut(long, "=")
			if c.Flag(long) == nil {
				t.Errorf("line %d: %s has no flag --%s", line, c.CommandPath(), long)
			}
		}
	}
	if name := c.Name(); (name == "try" || name == "kinds") && len(rest) > 0 && !strings.Contains(rest[0], "KIND") && checks.KindNamed(rest[0]) == nil {
		t.Errorf("line %d: no kind %s", line, rest[0])
	}
}

// goNames are the names declared in our packages, alone and behind their package.
func goNames(t *testing.T, dir string) map[string]bool {
	out := map[string]bool{}
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || filepath.Ext(path) != ".go" {
			return err
		}
		tree, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(tree, func(n ast.Node) bool {
			var id *ast.Ident
			switch n := n.(type) {
			case *ast.FuncDecl:
				id = n.Name
			case *ast.TypeSpec:
				id = n.Name
			case *ast.ValueSpec:
				id = n.Names[0]
			default:
				return true
			}
			out[id.Name], out[tree.Name.Name+"."+id.Name] = true, true
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// rows are the cells of the table under the first line that begins with head.
func rows(t *testing.T, head string) [][]string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(root, "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, table, ok := strings.Cut(string(data), "\n"+head)
	if !ok {
		t.Fatalf("no table %s", head)
	}
	var out [][]string
	for _, line := range strings.Split(table, "\n")[2:] {
		if !strings.HasPrefix(line, "|") {
			break
		}
		var cells []string
		for _, cell := range strings.Split(strings.Trim(line, "|"), "|") {
			cells = append(cells, strings.TrimSpace(cell))
		}
		out = append(out, cells)
	}
	if len(out) == 0 {
		t.Fatalf("the table %s is empty", head)
	}
	return out
}

// The table of commands lists every command as its help does, with every flag.
func TestReadme_commands(t *testing.T) {
	want := map[string][]string{}
	var walk func(c *cobra.Command)
	walk = func(c *cobra.Command) {
		for _, sub := range c.Commands() {
			walk(sub)
		}
		if c.HasSubCommands() || c.Name() == "help" || c.Name() == "completion" {
			return
		}
		use, _, _ := strings.Cut(c.UseLine(), " --")
		flags := []string{}
		c.LocalFlags().VisitAll(func(f *pflag.Flag) {
			if f.Name != "help" {
				flags = append(flags, "--"+f.Name)
			}
		})
		use = strings.TrimSuffix(strings.TrimPrefix(use, "handback "), " [flags]")
		slices.Sort(flags)
		want[use] = flags
	}
	walk(newRoot(&session.Env{}))
	got := map[string][]string{}
	for _, cells := range rows(t, "| command |") {
		flags := []string{}
		for _, m := range codeSpan.FindAllStringSubmatch(cells[2], -1) {
			flags = append(flags, m[1])
		}
		slices.Sort(flags)
		got[strings.Trim(cells[0], "`")] = flags
	}
	for _, use := range slices.Sorted(maps.Keys(want)) {
		flags, ok := got[use]
		if !ok || !slices.Equal(flags, want[use]) {
			t.Errorf("command %s: the table lists %q, it has %q", use, flags, want[use])
		}
		delete(got, use)
	}
	for use := range got {
		t.Errorf("the table lists %s, there is no such command", use)
	}
}

// The table of kinds lists every kind by its title.
func TestReadme_kinds(t *testing.T) {
	got := map[string]bool{}
	for _, cells := range rows(t, "| kind |") {
		name := strings.Trim(cells[0], "`")
		got[name] = true
		if k := checks.KindNamed(name); k == nil {
			t.Errorf("the table lists %s, there is no such kind", name)
		}
	}
	for _, name := range plan.KindNames() {
		if !got[name] {
			t.Errorf("kind %s is not in the table", name)
		}
	}
}

// The table of exit statuses lists those that help lists.
func TestReadme_statuses(t *testing.T) {
	number := regexp.MustCompile(`\b(\d+) `)
	var want, got []string
	for _, m := range number.FindAllStringSubmatch(exitHelp, -1) {
		want = append(want, m[1])
	}
	for _, cells := range rows(t, "| exit status |") {
		got = append(got, cells[0])
	}
	if len(want) < 5 || !slices.Equal(got, want) {
		t.Errorf("the table lists %q, help lists %q", got, want)
	}
}
