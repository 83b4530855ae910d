package cmd

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"handback"
	"handback/checks"
	"handback/checks/plan"
	"handback/cmd/session"
	"handback/templates"
	"handback/testdata/outside"
)

const root = ".."

var (
	codeSpan = regexp.MustCompile("`([^`\n]+)`")
	fileName = regexp.MustCompile(`^\.?[\w*-]+(/[\w*.-]+)+/?$|^[\w*-]+\.(go|md|yaml|txt|json|xlsx|db|tmpl|mod|png)$`)
	goName   = regexp.MustCompile(`^[a-zA-Z]+[A-Z]\w*$|^[a-z]+\.[A-Z]\w*$`)
	linkTo   = regexp.MustCompile(`\]\(([^)#]+)\)`)
	// shellLine finds handback commands in blocks and spans, behind a prompt or not.
	shellLine = regexp.MustCompile(`^(?:\$ )?(?:handback|go run -v \./cmd/handback)((?: .*)?)$`)
)

func TestDocuments(t *testing.T) {
	for _, name := range []string{"DEVELOPERS.md", "CHANGELOG.md", "SECURITY.md"} {
		t.Run(name, func(t *testing.T) { namesExist(t, filepath.Join(root, name), root) })
	}
}

// What SECURITY.md has typed to check a release checks one that was signed as .ci/release
// signs, and refuses one of which a byte was changed.
func TestSecurity_release(t *testing.T) {
	outside.Long(t)
	keygen := outside.Tool(t, "ssh-keygen")
	document, err := filepath.Abs(filepath.Join(root, "SECURITY.md"))
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	t.Chdir(dir)
	shell := func(lines string) error {
		out, err := exec.Command("sh", "-ec", lines).CombinedOutput()
		if err != nil {
			err = fmt.Errorf("%w:\n%s", err, out)
		}
		return err
	}
	if err := shell("echo program >handback.zip; sha256sum handback.zip >SHA256SUMS\n" + keygen + " -q -t ed25519 -N '' -f key\n" +
		keygen + " -q -Y sign -f key -n handback-release SHA256SUMS\n" + `echo "release namespaces=\"handback-release\" $(cat key.pub)" >signers`); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(newReader(dir).follow(t, document), "\n")
	block := fences(t, lines)[0]
	typed := strings.Join(lines[block.from:block.to], "\n")
	for _, file := range []string{"handback.zip", "SHA256SUMS"} {
		if err := shell("cp " + file + " kept; echo >>" + file); err != nil {
			t.Fatal(err)
		}
		if shell(typed) == nil {
			t.Errorf("%s with one byte more is taken", file)
		}
		if err := shell("mv kept " + file); err != nil {
			t.Fatal(err)
		}
	}
	if err := shell(typed); err != nil {
		t.Error(err)
	}
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
	declared := sync.OnceValue(func() map[string]bool { return goNames(t, dirs[0]) })
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
			case strings.Contains(span, "NAME") || strings.Contains(span, "KIND") || strings.Contains(span, "COMMAND") || strings.Contains(span, "TOPIC"): // a pattern
			case fileName.MatchString(span):
				fileExists(t, i+1, span, dirs)
			case goName.MatchString(span):
				if !declared()[span] {
					t.Errorf("line %d: no Go name %s", i+1, span)
				}
			}
		}
	}
	if seen == 0 {
		t.Error("no names were found: the document is not read as it should be")
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

// pointsOf are the words before the colons of the points under a heading of a topic.
func pointsOf(t *testing.T, topic, heading string) []string {
	t.Helper()
	text, err := templates.Topic(topic)
	if err != nil {
		t.Fatal(err)
	}
	_, under, ok := strings.Cut(text, "\n## "+heading+"\n")
	if !ok {
		t.Fatalf("topic %s has no heading %s", topic, heading)
	}
	under, _, _ = strings.Cut(under, "\n## ")
	var out []string
	for _, line := range strings.Split(under, "\n") {
		if point, ok := strings.CutPrefix(line, "- "); ok {
			word, _, _ := strings.Cut(point, ":")
			out = append(out, word)
		}
	}
	if len(out) == 0 {
		t.Fatalf("nothing is listed under %s", heading)
	}
	return out
}

// The topic about plans lists every kind.
func TestHelp_kinds(t *testing.T) {
	got := map[string]bool{}
	for _, m := range pointsOf(t, "plan", "Kinds of checks") {
		got[strings.Trim(m, "`")] = true
	}
	for _, name := range plan.KindNames() {
		if !got[name] {
			t.Errorf("kind %s is not listed", name)
		}
		delete(got, name)
	}
	for name := range got {
		t.Errorf("%s is listed, there is no such kind", name)
	}
}

// The topic about scripts lists the exit statuses that help lists.
func TestHelp_statuses(t *testing.T) {
	number := regexp.MustCompile(`\b(\d+) `)
	var want []string
	for _, m := range number.FindAllStringSubmatch(exitHelp, -1) {
		want = append(want, m[1])
	}
	if got := pointsOf(t, "json", "Exit statuses"); len(want) < 5 || !slices.Equal(got, want) {
		t.Errorf("the topic lists %q, help lists %q", got, want)
	}
}

// Every module that the project asks for is told with why, and no other.
func TestDependencies(t *testing.T) {
	data, err := os.ReadFile("../DEVELOPERS.md")
	if err != nil {
		t.Fatal(err)
	}
	_, section, found := strings.Cut(string(data), "\n## Dependencies\n")
	section, _, _ = strings.Cut(section, "\n## ")
	told := map[string]bool{}
	for line := range strings.Lines(section) {
		if names, why, ok := strings.Cut(strings.TrimPrefix(line, "- "), ": "); ok && strings.HasPrefix(line, "- ") && why != "" {
			for _, name := range strings.Split(names, " and ") {
				told[name] = true
			}
		}
	}
	asked := 0
	for line := range strings.Lines(handback.Modules) {
		words := strings.Fields(strings.TrimPrefix(line, "require "))
		if len(words) != 2 || !strings.HasPrefix(words[1], "v") {
			continue
		}
		if asked++; !told[words[0]] {
			t.Errorf("%s: DEVELOPERS.md does not say what for", words[0])
		}
		delete(told, words[0])
	}
	if len(told) > 0 || asked == 0 || !found {
		t.Errorf("told and not asked for: %v; %d are asked for", told, asked)
	}
}
