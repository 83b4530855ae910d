package templates_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// saying are the functions of checks that take a code of the catalogue, with the place
// of the code among their arguments.
var saying = map[string]int{"Say": 0, "Want": 1, "Stop": 0, "StopAt": 1, "Caution": 0, "sayOf": 2, "objecting": 0}

var defined = regexp.MustCompile(`\{\{-? *define "([^"]+)"`)

// Every code that a kind may say has words, and no words are left over from a code
// that went.
func TestSaid_codes(t *testing.T) {
	words := map[string][]string{} // code → files that define it
	for _, pattern := range []string{"said/*.tmpl", "kinds/*.tmpl"} {
		files, err := filepath.Glob(pattern)
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %v %v", pattern, files, err)
		}
		for _, file := range files {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range defined.FindAllStringSubmatch(string(data), -1) {
				words[m[1]] = append(words[m[1]], file)
			}
		}
	}
	codes, texts := codesOf(t)
	if len(codes) < 20 {
		t.Fatalf("only %d codes were found: the functions of saying were renamed", len(codes))
	}
	for code, at := range codes {
		if words[code] == nil {
			t.Errorf("%s: code %q has no words in templates/said or templates/kinds", at, code)
		}
	}
	called := templatesCalled(t)
	for code, files := range words {
		if !texts[code] && !called[code] && !slices.Contains(blocksOfKind, code) {
			t.Errorf("%v: words of %q, which nothing says", files, code)
		}
		common := slices.ContainsFunc(files, func(f string) bool { return strings.HasPrefix(f, "said") })
		if common && len(files) > 1 {
			t.Errorf("code %q stands in %v: words of all kinds and of one", code, files)
		}
	}
}

// codesOf are the codes said in the sources of checks with a place of each, and every
// text there is.
func codesOf(t *testing.T) (codes map[string]string, texts map[string]bool) {
	t.Helper()
	codes, texts = map[string]string{}, map[string]bool{}
	set := token.NewFileSet()
	err := filepath.WalkDir("../checks", func(file string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.HasSuffix(file, ".go") || strings.HasSuffix(file, "_test.go") {
			return err
		}
		tree, err := parser.ParseFile(set, file, nil, 0)
		if err != nil {
			return err
		}
		ast.Inspect(tree, func(n ast.Node) bool {
			if lit, ok := n.(*ast.BasicLit); ok && lit.Kind == token.STRING {
				if s, err := strconv.Unquote(lit.Value); err == nil {
					texts[s] = true
				}
			}
			call, ok := n.(*ast.CallExpr)
			if !ok {
				return true
			}
			name := ""
			switch f := call.Fun.(type) {
			case *ast.Ident:
				name = f.Name
			case *ast.SelectorExpr:
				name = f.Sel.Name
				if name == "Say" { // of Work: verdict and fields come first
					name = "Work.Say"
				}
			}
			at, ok := saying[name]
			if name == "Work.Say" {
				at, ok = 2, len(call.Args) > 2
			}
			if !ok || at >= len(call.Args) {
				return true
			}
			if lit, ok := call.Args[at].(*ast.BasicLit); ok {
				if s, err := strconv.Unquote(lit.Value); err == nil {
					codes[s] = set.Position(lit.Pos()).String()
				}
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return codes, texts
}

var calls = regexp.MustCompile(`\{\{-? *template "([^"]+)"`)

func templatesCalled(t *testing.T) map[string]bool {
	t.Helper()
	out := map[string]bool{}
	for _, pattern := range []string{"said/*.tmpl", "kinds/*.tmpl"} {
		files, _ := filepath.Glob(pattern)
		for _, file := range files {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range calls.FindAllStringSubmatch(string(data), -1) {
				out[m[1]] = true
			}
		}
	}
	return out
}
