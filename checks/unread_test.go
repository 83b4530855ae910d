package checks_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"handback/checks"
)

// What people sign says which source a limit has; that nobody here has read it is said
// in one place, and of sources that are named.
func TestUnread(t *testing.T) {
	named := map[string]bool{}
	files, err := filepath.Glob("*.go")
	below, _ := filepath.Glob("*/*.go")
	if files = append(files, below...); err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") || file == "unread.go" {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		ast.Inspect(f, func(n ast.Node) bool {
			lit, ok := n.(*ast.BasicLit)
			if !ok || lit.Kind != token.STRING {
				return true
			}
			if strings.Contains(lit.Value, "from memory") || strings.Contains(lit.Value, "second-hand") {
				t.Errorf("%s: %s: name the source in unread.go", file, lit.Value)
			}
			for _, u := range checks.Unread {
				named[u.Source] = named[u.Source] || checks.Mentions(lit.Value, u.Source)
			}
			return true
		})
	}
	topic, err := os.ReadFile("../templates/help/limits.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, u := range checks.Unread {
		if !named[u.Source] {
			t.Errorf("no limit names %s", u.Source)
		}
		if !strings.Contains(string(topic), "\n- "+u.Source+", "+u.How+": "+u.What+"\n") {
			t.Errorf("the topic about limits does not list %s, %s: %s", u.Source, u.How, u.What)
		}
	}
	if checks.Mentions("IEC 60076-11, class F", "IEC 60076-1") || !checks.Mentions("IEC 60076-11 and IEC 60076-1", "IEC 60076-1") {
		t.Error("a number that goes on is another source's")
	}
	if got := checks.UnreadOf(checks.KindNamed("unbalance")); len(got) != 3 {
		t.Errorf("unbalance takes limits from %v", got)
	}
}
