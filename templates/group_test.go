package templates_test

import (
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// Every code that is said of many jobs has words in its folder, and no words are left over
// from a code that went.
func TestGroup_codes(t *testing.T) {
	for folder, pkg := range map[string]string{"trend": "../checks/trend", "recall": "../report/recall"} {
		said, texts := map[string]bool{}, map[string]bool{}
		files, err := filepath.Glob(pkg + "/*.go")
		if err != nil || len(files) == 0 {
			t.Fatalf("%s: %v %v", pkg, files, err)
		}
		for _, file := range files {
			tree, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
			if err != nil {
				t.Fatal(err)
			}
			ast.Inspect(tree, func(n ast.Node) bool {
				switch n := n.(type) {
				case *ast.BasicLit:
					if text, err := strconv.Unquote(n.Value); err == nil {
						texts[text] = true
					}
				case *ast.CallExpr:
					is, ok := n.Fun.(*ast.SelectorExpr)
					if !ok || is.Sel.Name != "Say" && is.Sel.Name != "say" || len(n.Args) == 0 {
						return true
					}
					if code, ok := n.Args[0].(*ast.BasicLit); ok {
						text, _ := strconv.Unquote(code.Value)
						said[text] = true
					}
				}
				return true
			})
		}
		if len(said) < 10 {
			t.Fatalf("%s: only %d codes were found: the functions of saying were renamed", pkg, len(said))
		}
		words, called := map[string]bool{}, map[string]bool{}
		blocks, err := filepath.Glob(folder + "/*.tmpl")
		if err != nil || len(blocks) == 0 {
			t.Fatalf("%s: %v %v", folder, blocks, err)
		}
		for _, file := range blocks {
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range defined.FindAllStringSubmatch(string(data), -1) {
				words[m[1]] = true
			}
			for _, m := range calls.FindAllStringSubmatch(string(data), -1) {
				called[m[1]] = true
			}
		}
		for code := range said {
			if !words[code] {
				t.Errorf("%s: code %q has no words in templates/%s", pkg, code, folder)
			}
		}
		for code := range words {
			if !texts[code] && !called[code] {
				t.Errorf("templates/%s: words of %q, which nothing says", folder, code)
			}
		}
	}
}
