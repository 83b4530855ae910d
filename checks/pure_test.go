package checks

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// ours is the module's own import prefix.
const ours = "handback/"

// layers says which of our own packages each package may import. Packages below
// one of them follow its rule; the command's main package imports cmd alone.
var layers = map[string][]string{
	"cmd/handback":      {"cmd"},
	"cmd":               {"report", "records", "checks", "templates", "testdata/demo"},
	"report":            {"checks", "records", "templates"},
	"records":           {},
	"templates":         {},
	"testdata/demo":     {}, // the embedded demo scenario
	"testdata/cases":    {}, // the cases of each kind as trials, for tests
	"testdata/recalc":   {}, // LibreOffice, for tests
	"testdata/starters": {}, // starter plans filled in, for tests
	"testdata/outside":  {}, // programs that tests compare with
	"checks/power":      {},
	"checks":            {"checks/power"},
}

// sourceFile is one Go file that is no test.
type sourceFile struct {
	name    string // from the module's root, with slashes
	imports []string
	tree    *ast.File
}

func sources(t *testing.T) []sourceFile {
	t.Helper()
	var out []sourceFile
	root := ".."
	err := filepath.WalkDir(root, func(file string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name, err := filepath.Rel(root, file)
		if err != nil {
			return err
		}
		if d.IsDir() && name != "." && strings.HasPrefix(d.Name(), ".") {
			return fs.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(name, ".go") || strings.HasSuffix(name, "_test.go") {
			return nil
		}
		tree, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		if err != nil {
			return err
		}
		s := sourceFile{name: filepath.ToSlash(name), tree: tree}
		for _, i := range tree.Imports {
			what, err := strconv.Unquote(i.Path.Value)
			if err != nil {
				return err
			}
			s.imports = append(s.imports, what)
		}
		out = append(out, s)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// layerOf is the longest layer that holds a package, "" for none.
func layerOf(pkg string) string {
	for p := pkg; p != "." && p != "/"; p = path.Dir(p) {
		if _, ok := layers[p]; ok {
			return p
		}
	}
	return ""
}

// Packages depend on one another in one direction only.
func TestImports_layers(t *testing.T) {
	seen := map[string]bool{}
	for _, s := range sources(t) {
		layer := layerOf(path.Dir(s.name))
		if layer == "" {
			t.Errorf("%s belongs to no layer: say in layers what it may import", s.name)
			continue
		}
		seen[layer] = true
		for _, what := range s.imports {
			pkg, own := strings.CutPrefix(what, ours)
			if !own || layerOf(pkg) == layer {
				continue
			}
			if !slices.Contains(layers[layer], layerOf(pkg)) {
				t.Errorf("%s imports %s: %s may import %v", s.name, what, layer, layers[layer])
			}
		}
	}
	for _, layer := range []string{"checks", "checks/power", "records", "templates"} {
		if !seen[layer] {
			t.Errorf("no source of %s was read", layer)
		}
	}
}

// pureStd are the standard packages checks may use: none reaches a file, the
// network, the environment or chance.
var pureStd = []string{"bytes", "cmp", "encoding/base64", "encoding/json", "errors", "fmt", "io", "iter", "maps", "math", "math/cmplx", "reflect", "regexp", "slices", "sort", "strconv", "strings", "time", "unicode", "unicode/utf8"}

// clocks are the names of package time that read the clock or wait for it.
var clocks = []string{"Now", "Since", "Until", "After", "AfterFunc", "NewTicker", "NewTimer", "Sleep", "Tick", "Local", "LoadLocation"}

// printing are the names of package fmt that write to the process's own output or
// read its input.
var printing = []string{"Print", "Printf", "Println", "Scan", "Scanf", "Scanln"}

// A judgement is the same on every machine and at every hour: checks reads no
// clock, file, network, environment or random source.
func TestChecks_pure(t *testing.T) {
	files := 0
	for _, s := range sources(t) {
		if layer := layerOf(path.Dir(s.name)); layer != "checks" && layer != "checks/power" {
			continue
		}
		files++
		for _, what := range s.imports {
			if !strings.HasPrefix(what, ours) && what != "go.yaml.in/yaml/v3" && !slices.Contains(pureStd, what) {
				t.Errorf("%s imports %s: accepted are %v and go.yaml.in/yaml/v3", s.name, what, pureStd)
			}
		}
		for _, i := range s.tree.Imports {
			if i.Name != nil {
				t.Errorf("%s imports %s as %s: a renamed package hides what is used of it", s.name, i.Path.Value, i.Name.Name)
			}
		}
		ast.Inspect(s.tree, func(n ast.Node) bool {
			use, ok := n.(*ast.SelectorExpr)
			if !ok {
				return true
			}
			pkg, ok := use.X.(*ast.Ident)
			if !ok {
				return true
			}
			if pkg.Name == "time" && slices.Contains(clocks, use.Sel.Name) || pkg.Name == "fmt" && slices.Contains(printing, use.Sel.Name) {
				t.Errorf("%s uses %s.%s", s.name, pkg.Name, use.Sel.Name)
			}
			return true
		})
	}
	if files < 20 {
		t.Errorf("%d files were read: that is not all of checks", files)
	}
}
