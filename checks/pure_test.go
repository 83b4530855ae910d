package checks

import (
	"cmp"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// ours is the module's own import prefix.
const ours = "handback/"

// layers says which of our own packages each package may import: the whole drawing of
// the house. A package that is not here belongs nowhere.
var layers = map[string][]string{
	"cmd/handback":       {"cmd", "cmd/session", "records/archive/bucket", "records/archive/postgres"}, // the last under a build tag alone
	"cmd":                {"checks", "checks/calc", "checks/kinds", "checks/network", "checks/plan", "checks/quantity", "checks/trend", "checks/written", "cmd/review", "cmd/session", "cmd/walk", "records", "records/archive", "records/archive/tree", "records/bag", "records/carrier", "records/chain", "records/stamp", "report", "report/admit", "report/certificate", "report/export", "report/fieldsheet", "report/files", "report/fork", "report/form", "report/grid", "report/legend", "report/letter", "report/manual", "report/page", "report/photo", "report/recall", "report/review", "report/schema", "report/seal", "report/switching", "report/trust", "report/web", "report/workbook", "report/years", "templates", "testdata/demo"},
	"report":             {"checks", "checks/calc", "checks/kinds", "checks/network", "checks/plan", "checks/quantity", "records/bag", "records/chain", "report/fork", "report/form", "report/history", "report/oneline", "report/photo", "templates"},
	"testdata/rig":       {"checks", "checks/network", "checks/plan", "records", "records/chain", "report", "report/fork", "testdata/outside"},
	"report/workbook":    {"checks", "checks/alone", "checks/calc", "checks/network", "checks/quantity", "records/chain", "report", "report/certificate", "report/grid", "report/oneline", "report/scale"},
	"report/seal":        {"checks", "checks/plan", "records/bag", "records/chain", "records/stamp", "report", "report/accepted", "report/fork", "report/form", "report/grid", "report/legend", "report/page", "report/workbook", "templates"},
	"report/page":        {"checks", "checks/network", "checks/quantity", "checks/trend", "records/chain", "report", "report/certificate", "report/fork", "report/form", "report/oneline", "report/photo", "report/scale", "templates"},
	"report/fork":        {"records/chain"},
	"report/manual":      {"templates"},
	"report/legend":      {".", "checks", "checks/plan", "checks/quantity", "records/chain", "report", "report/schema", "templates"},
	"report/switching":   {"checks/network", "checks/plan", "checks/quantity", "report", "report/grid", "templates"}, // dry run and list of switching
	"report/certificate": {"checks", "records/chain", "report", "report/photo"},
	"report/export":      {"checks", "checks/plan", "checks/quantity", "records/archive", "report", "report/accepted"},
	"report/admit":       {"checks", "checks/plan", "checks/quantity", "records/archive", "records/bag", "records/chain", "records/stamp", "report", "report/seal", "report/trust"},
	"report/trust":       {"checks", "records/chain", "records/stamp", "report", "report/accepted"},
	"report/recall":      {"checks", "checks/plan", "checks/quantity", "records/chain", "report"},
	"report/accepted":    {"records/chain", "report"},
	"report/review":      {"checks", "records/chain", "report"},
	"report/schema":      {"checks", "records/chain", "report", "report/fork"},
	"report/oneline":     {"checks/network"},
	"report/form":        {"report/photo"},
	"report/history":     {"checks"},
	"report/letter":      {"checks/quantity", "report", "report/certificate"},
	"report/photo":       {"records/chain"},
	"report/scale":       {"checks", "checks/quantity", "checks/trend"},
	"report/years":       {"checks", "checks/quantity", "checks/trend", "report/scale"},
	"report/grid":        {"checks", "checks/quantity", "records/chain", "report", "report/form", "report/photo"},
	"report/files":       {"records", "records/bag", "records/disk"},
	"report/fieldsheet":  {"checks", "checks/plan", "checks/quantity", "report", "report/grid"},
	"cmd/review":         {"checks", "cmd/session", "records", "records/chain", "report", "report/review"},
	"cmd/walk":           {"checks", "checks/network", "checks/plan", "cmd/session", "records", "records/chain", "report"},
	"cmd/session":        {"checks", "checks/network", "checks/plan", "checks/quantity", "records", "records/chain", "report", "templates"},
	"records":            {"records/chain", "records/disk"}, // SQLite
	"records/bag":        {"records/chain"},                 // files
	"records/carrier":    {"records/chain"},                 // bytes alone
	"records/chain":      {},                                // bytes alone
	"records/disk":       {},                                // names and folders alone
	"records/stamp":      {},                                // likewise: time stamps
	"templates":          {"checks/quantity"},
	"testdata/demo":      {},                                                                      // the embedded demo scenario
	"testdata/cases":     {"checks", "checks/plan", "templates"},                                  // the cases of each kind as trials, for tests
	"testdata/network":   {},                                                                      // networks with their steps as plans, for tests
	"testdata/recalc":    {},                                                                      // LibreOffice, for tests
	"testdata/resaved":   {"testdata/outside"},                                                    // workbooks that other programs saved again, for tests
	"testdata/archives":  {"checks", "checks/plan", "records/archive", "records/chain", "report"}, // what every engine of an archive is held to, for tests
	"testdata/starters":  {},                                                                      // starter plans filled in, for tests
	"testdata/schemas":   {},                                                                      // JSON Schemas, and what fits them, for tests
	"testdata/outside":   {},                                                                      // programs that tests compare with
	"checks/trend":       {"checks", "checks/calc", "checks/quantity"},
	".":                  {},                                                                                                                                                                                                                                                                                                                                             // the licence and go.mod
	"testdata/measure":   {"checks", "checks/plan", "cmd/session", "records", "records/archive", "records/archive/postgres", "records/bag", "records/chain", "report", "report/admit", "report/fieldsheet", "report/files", "report/page", "report/seal", "report/workbook", "templates", "testdata/archives", "testdata/demo", "testdata/outside", "testdata/starters"}, // what the program takes, for people
	"checks/alone":       {"checks", "checks/calc", "checks/plan", "checks/quantity"},
	"checks/kinds":       {"checks", "checks/plan", "checks/calc", "checks/quantity", "checks/power"},
	"checks":             {"checks/plan", "checks/calc", "checks/quantity", "checks/power"},
	"checks/plan":        {"checks/quantity", "checks/power", "checks/network", "checks/written"},
	"checks/written":     {},
	"checks/calc":        {"checks/quantity"},
	"checks/quantity":    {},
	"checks/power":       {},
	"checks/network":     {},

	// what the program takes, for people

	"report/web":               {"records/archive", "records/bag"},
	"records/archive":          {"records/archive/tree", "records/disk"}, // SQLite and files; what servers are asked
	"records/archive/postgres": {"records/archive"},                      // the one that knows the driver of PostgreSQL
	"records/archive/bucket":   {"records/archive"},                      // the one that knows the driver of the S3 protocol
	"records/archive/tree":     {"records/chain"},                        // bytes alone: the log of an archive
}

// mostFiles is how many files that are no tests a package may need (our choice): what
// needs more is several packages. One file a command, and one or a few a kind, are the
// exceptions.
const mostFiles = 25

var manyFiles = []string{"cmd", "checks/kinds"}

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

// drawing is what imports what of ours: package to the packages it imports, each with
// a file that does.
func drawing(t *testing.T) map[string]map[string]string {
	t.Helper()
	out := map[string]map[string]string{}
	for _, s := range sources(t) {
		pkg := path.Dir(s.name)
		if out[pkg] == nil {
			out[pkg] = map[string]string{}
		}
		for _, what := range s.imports {
			own, ok := strings.CutPrefix(what+"/", ours)
			if own = cmp.Or(strings.TrimSuffix(own, "/"), "."); ok && own != pkg {
				out[pkg][own] = s.name
			}
		}
	}
	return out
}

// floors gives each package of the drawing its floor: one above the highest of what it
// may import. The error names packages that hold one another up.
func floors() (map[string]int, error) {
	out := map[string]int{}
	for range layers {
		for pkg, may := range layers {
			for _, below := range may {
				out[pkg] = max(out[pkg], out[below]+1)
			}
			if out[pkg] >= len(layers) {
				return nil, fmt.Errorf("%s stands on itself: its layers run in a circle", pkg)
			}
		}
	}
	return out, nil
}

// Packages depend on one another in one direction only.
func TestImports_layers(t *testing.T) {
	floor, err := floors()
	if err != nil {
		t.Fatal(err)
	}
	drawn := drawing(t)
	names := slices.SortedFunc(maps.Keys(drawn), func(a, b string) int {
		return cmp.Or(cmp.Compare(floor[b], floor[a]), cmp.Compare(a, b))
	})
	for _, pkg := range names {
		may, listed := layers[pkg]
		if !listed {
			t.Errorf("%s belongs to no layer: say in layers what it may import", pkg)
			continue
		}
		t.Logf("%d %s: %v", floor[pkg], pkg, slices.Sorted(maps.Keys(drawn[pkg])))
		for what, file := range drawn[pkg] {
			if !slices.Contains(may, what) {
				t.Errorf("%s imports %s: %s may import %v", file, what, pkg, may)
			}
		}
	}
	for pkg := range layers {
		if drawn[pkg] == nil && pkg != "testdata/outside" {
			t.Errorf("no source of %s was read: take it out of layers", pkg)
		}
	}
}

// A plan is judged by the kinds that registered themselves: a program that does not
// import them knows none.
func TestImports_kinds(t *testing.T) {
	drawn, seen := drawing(t), map[string]bool{}
	var reach func(pkg string)
	reach = func(pkg string) {
		for what := range drawn[pkg] {
			if !seen[what] {
				seen[what] = true
				reach(what)
			}
		}
	}
	for _, pkg := range []string{"report", "cmd/handback"} {
		clear(seen)
		reach(pkg)
		if !seen["checks/kinds"] {
			t.Errorf("%s does not come to checks/kinds: it would judge no check", pkg)
		}
	}
}

// No package is a hall.
func TestFiles_few(t *testing.T) {
	files := map[string]int{}
	for _, s := range sources(t) {
		files[path.Dir(s.name)]++
	}
	for pkg, n := range files {
		if n > mostFiles && !slices.Contains(manyFiles, pkg) {
			t.Errorf("%s has %d files: at most %d are accepted, part it", pkg, n, mostFiles)
		}
	}
}

// The record is bytes: what hashes, chains and reads it opens no file, data base or
// connection.
func TestChain_pure(t *testing.T) {
	for _, s := range sources(t) {
		for _, what := range s.imports {
			if path.Dir(s.name) == "records/chain" && slices.Contains([]string{"database/sql", "net", "net/http", "os", "os/exec", "io/fs", "modernc.org/sqlite"}, what) {
				t.Errorf("%s imports %s", s.name, what)
			}
		}
	}
}

// pureStd are the standard packages that checks and all below it may use: none reaches a file, the
// network, the environment or chance.
var pureStd = []string{"bytes", "cmp", "encoding/base64", "encoding/json", "errors", "fmt", "io", "iter", "maps", "math", "math/cmplx", "reflect", "regexp", "slices", "sort", "strconv", "strings", "sync", "time", "unicode", "unicode/utf8"}

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
		if pkg := path.Dir(s.name); pkg != "checks" && !strings.HasPrefix(pkg, "checks/") {
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
	if files < 60 {
		t.Errorf("%d files were read: that is not all of checks", files)
	}
}
