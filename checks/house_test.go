package checks

import (
	"bytes"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// Our choice: what is longer than this is hard to keep in mind.
const mostFileLines, mostFunctionLines = 400, 60

// Files and functions stay short enough to read in one go, and imports stand in three
// groups: the standard library, other people's, ours. Tests are held to the imports.
func TestHouse(t *testing.T) {
	files := 0
	err := filepath.WalkDir("..", func(file string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(file, ".go") {
			return err
		}
		files++
		src, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		fset := token.NewFileSet()
		tree, err := parser.ParseFile(fset, file, src, 0)
		if err != nil {
			return err
		}
		houseImports(t, file, fset, tree)
		houseStart(t, file, fset, tree)
		if strings.HasSuffix(file, "_test.go") {
			return nil
		}
		if n := bytes.Count(src, []byte("\n")); n > mostFileLines {
			t.Errorf("%s has %d lines, at most %d are wanted: part it by what it holds", file, n, mostFileLines)
		}
		for _, d := range tree.Decls {
			f, ok := d.(*ast.FuncDecl)
			if !ok {
				continue
			}
			if n := fset.Position(f.End()).Line - fset.Position(f.Pos()).Line + 1; n > mostFunctionLines {
				t.Errorf("%s: %s has %d lines, at most %d are wanted", file, f.Name.Name, n, mostFunctionLines)
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if files < 100 {
		t.Errorf("%d files were read: that is not all of them", files)
	}
}

// houseImports holds that a blank line stands where the group changes, nowhere else, and
// that the groups come in order.
func houseImports(t *testing.T, file string, fset *token.FileSet, tree *ast.File) {
	group := func(s *ast.ImportSpec) int {
		path, err := strconv.Unquote(s.Path.Value)
		switch first, _, _ := strings.Cut(path, "/"); {
		case err != nil:
			t.Error(err)
		case strings.HasPrefix(path+"/", ours):
			return 3
		case strings.Contains(first, "."):
			return 2
		}
		return 1
	}
	for i, s := range tree.Imports[min(1, len(tree.Imports)):] {
		before, line := tree.Imports[i], fset.Position(s.Pos()).Line
		if a, b := group(before), group(s); b < a || line-fset.Position(before.End()).Line != 1+min(b-a, 1) {
			t.Errorf("%s:%d: %s is out of its group: the standard library, other people's, ours, a blank line between", file, line, s.Path.Value)
		}
	}
}

// houseStart holds that nothing of ours compiles a pattern when the program starts: every
// command would pay for it.
func houseStart(t *testing.T, file string, fset *token.FileSet, tree *ast.File) {
	if strings.HasSuffix(file, "_test.go") || strings.Contains(file, "testdata") {
		return
	}
	for _, d := range tree.Decls {
		if _, ok := d.(*ast.GenDecl); !ok {
			continue
		}
		ast.Inspect(d, func(n ast.Node) bool {
			if _, later := n.(*ast.FuncLit); later {
				return false
			}
			if call, ok := n.(*ast.SelectorExpr); ok && call.Sel.Name == "MustCompile" {
				t.Errorf("%s compiles a pattern at the start of the program: have sync.OnceValue do it when it is first wanted", fset.Position(n.Pos()))
			}
			return true
		})
	}
}
