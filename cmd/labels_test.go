package cmd

import (
	"context"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"html"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode"

	"github.com/xuri/excelize/v2"

	"handback/checks"
	"handback/cmd/session"
	"handback/report"
	"handback/report/certificate"
	"handback/report/form"
	"handback/report/workbook"
	"handback/templates"
)

// No fixed label of a handover is hard-wired. The demo's handover is made with a file of
// labels that puts signs around every label of the file that ships: what then stands in
// workbook, page or text without signs around it is of the record or of what the program
// says about it (see wordsOf), a verdict, or a sign and no word.
func TestLabels_reach_everything(t *testing.T) {
	dir := t.TempDir()
	demo := played(t, theDemo)
	labels := filepath.Join(dir, "signs.yaml")
	if err := os.WriteFile(labels, signedLabels(t), 0o644); err != nil {
		t.Fatal(err)
	}
	file := func(name string) string { return filepath.Join(dir, name) }
	book := filepath.Join(demo, "book.db")
	got := play(t, "", "handover", "--book", book, "t2-return-1", "-o", file("h.xlsx"), "--page", file("h.html"), "--text", file("h.txt"), "--labels", labels)
	if got.status != exitDone {
		t.Fatal(got.err)
	}
	known := wordsOf(t, book)
	for name, texts := range map[string][]string{"workbook": cellsOf(t, file("h.xlsx")), "page": pageTexts(t, file("h.html")), "text": textLines(t, file("h.txt"))} {
		signs := 0
		var bare []string
		for _, text := range texts {
			signs += strings.Count(text, "⟦")
			bare = append(bare, known.fixed(text)...)
		}
		slices.Sort(bare)
		bare = slices.Compact(bare)
		if signs < 20 {
			t.Errorf("%s: %d labels have signs around them: the file was not used", name, signs)
		}
		for _, b := range bare {
			t.Errorf("%s: %q is no label of the file, and not of the record", name, b)
		}
	}
	if got := play(t, "", "verify", "--book", book, file("h.xlsx")); got.status != exitDone {
		t.Errorf("verify ends with %d: %s%s", got.status, got.out, got.err)
	}
}

// signedLabels is a file of labels that puts signs around each label of the file that ships.
func signedLabels(t *testing.T) []byte {
	t.Helper()
	data, err := templates.LabelFile("de")
	if err != nil {
		t.Fatal(err)
	}
	l, err := form.ReadLabels(data)
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	out.WriteString("language: xx\nlabels:\n")
	for _, english := range l.English() {
		fmt.Fprintf(&out, "  %q: %q\n", english, "⟦"+english+"⟧")
	}
	return []byte(out.String())
}

// recordWords are the texts of a document, by their words.
type recordWords map[string]bool

// wordsOf are all texts that the document of the job has: of the record, and the
// sentences that are made of it. The catalogue of words, not a file of labels, says those
// in another language. Verdicts are compared by formulas.
func wordsOf(t *testing.T, book string) recordWords {
	t.Helper()
	ctx := context.Background()
	s, err := session.OpenRead(ctx, &session.Env{Book: book, Named: true}, "t2-return-1")
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	readFiles(s, ctx)
	d, err := report.NewDocument(s.Job, s.Job.Head().At)
	if err != nil {
		t.Fatal(err)
	}
	out := recordWords{}
	for i := range checks.Verdicts() {
		out.add(checks.Verdict(i).String())
	}
	for _, words := range workbook.VerdictHeads {
		out.add(words)
	}
	for _, words := range []string{report.Deferral, "conceded", // what a check stands as is compared
		"in service", "withdrawn", "closed", "open", "live", "not live", "not known"} { // how plant stands: templates/plant
		out.add(words)
	}
	for _, words := range []string{"a bound", "full line", "full dot", "dashed line", "hollow dot", "ring", "minutes after the first reading"} { // drawn in pictures
		out.add(words)
	}
	for _, x := range certificate.Statements(d) { // what is counted in it makes it a sentence
		if x[0] == "departures" {
			out.add(x[1])
		}
	}
	gatherText(out.add, reflect.ValueOf(d), 0)
	for _, p := range d.Pages() { // what a kind of check calls what it computes with
		for _, a := range p.Attempts {
			if a.Finding != nil {
				for _, r := range a.Finding.Ledger().Rows {
					out.add(r.Label)
				}
			}
		}
	}
	return out
}

func (w recordWords) add(text string) {
	for _, part := range append(strings.FieldsFunc(text, parting), strings.Split(text, "\n")...) {
		w[strings.Join(comparedWords(part), " ")] = true
	}
	w[strings.Join(comparedWords(text), " ")] = true
}

// parting tells the signs that part a text.
func parting(r rune) bool { return strings.ContainsRune("\n;:(),.", r) }

// comparedWords are the words of a text as they are compared: without capitals and marks.
func comparedWords(text string) []string {
	return strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '-' && r != '_' })
}

func gatherText(tell func(string), v reflect.Value, depth int) {
	if depth > 12 {
		return
	}
	if v.CanInterface() {
		if s, ok := v.Interface().(fmt.Stringer); ok && v.Kind() != reflect.Pointer && v.Kind() != reflect.Struct {
			tell(s.String())
		}
	}
	switch v.Kind() {
	case reflect.String:
		tell(v.String())
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			gatherText(tell, v.Elem(), depth+1)
		}
	case reflect.Slice, reflect.Array:
		if v.Type().Elem().Kind() != reflect.Uint8 {
			for i := range v.Len() {
				gatherText(tell, v.Index(i), depth+1)
			}
		}
	case reflect.Map:
		for _, k := range v.MapKeys() {
			gatherText(tell, k, depth+1)
			gatherText(tell, v.MapIndex(k), depth+1)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				gatherText(tell, v.Field(i), depth+1)
			}
		}
	}
}

var signed = regexp.MustCompile(`⟦[^⟦⟧]*⟧`)

// fixed are the parts of a text without signs around them that the program has put there:
// they hold a word, and neither stand in the record nor have anything of the record or a
// number in them. One that has is a sentence, and no label.
func (w recordWords) fixed(text string) []string {
	for signed.MatchString(text) {
		text = signed.ReplaceAllString(text, "\n")
	}
	var out []string
	for _, piece := range strings.Split(text, "\n") {
		if w.in(comparedWords(piece)) {
			continue
		}
		for _, part := range strings.FieldsFunc(piece, parting) {
			words := comparedWords(part)
			if !strings.ContainsFunc(part, unicode.IsDigit) && slices.ContainsFunc(words, func(s string) bool { return len([]rune(s)) > 2 }) && !w.in(words) {
				out = append(out, strings.TrimSpace(part))
			}
		}
	}
	return out
}

// in tells whether words are a text of the record, or hold one of several words.
func (w recordWords) in(words []string) bool {
	if w[strings.Join(words, " ")] {
		return true
	}
	for i := range words {
		for n := i + 2; n <= len(words); n++ {
			if w[strings.Join(words[i:n], " ")] {
				return true
			}
		}
	}
	return false
}

func cellsOf(t *testing.T, file string) []string {
	t.Helper()
	f, err := excelize.OpenFile(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var out []string
	for _, sheet := range f.GetSheetList() {
		if visible, err := f.GetSheetVisible(sheet); err != nil || !visible {
			continue
		}
		out = append(out, sheet)
		rows, err := f.GetRows(sheet)
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range rows {
			out = append(out, row...)
		}
	}
	return out
}

var (
	inTags = regexp.MustCompile(`(?s)<style>.*?</style>|<[^>]*>`)
	spoken = regexp.MustCompile(`(?:aria-label|alt)="([^"]*)"`)
)

func pageTexts(t *testing.T, file string) []string {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, m := range spoken.FindAllSubmatch(data, -1) {
		out = append(out, html.UnescapeString(string(m[1])))
	}
	for _, text := range inTags.Split(string(data), -1) {
		out = append(out, html.UnescapeString(text))
	}
	return out
}

// goesOn is the end of a line that goes on in the next: it stands further in.
var goesOn = regexp.MustCompile(`(?m)(^\S.{60,})\n  |\n    `)

// textLines are the lines of a text, what goes on in the next joined to it.
func textLines(t *testing.T, file string) []string {
	t.Helper()
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(goesOn.ReplaceAllString(string(data), "$1 "), "\n")
}

// The file that ships has every label: those of the templates, and those that the workbook
// lays out by what puts a label into the language of the form.
func TestLabels_complete(t *testing.T) {
	data, err := templates.LabelFile("de")
	if err != nil {
		t.Fatal(err)
	}
	l, err := form.ReadLabels(data)
	if err != nil {
		t.Fatal(err)
	}
	want, err := templates.FixedWords()
	if err != nil {
		t.Fatal(err)
	}
	for _, dir := range []string{"../report/grid", "../report/workbook"} {
		files, err := filepath.Glob(filepath.Join(dir, "*.go"))
		if err != nil {
			t.Fatal(err)
		}
		for _, file := range files {
			if !strings.HasSuffix(file, "_test.go") {
				want = append(want, labelsIn(t, file)...)
			}
		}
	}
	if len(want) < 350 {
		t.Fatalf("%d labels found: the files were not read", len(want))
	}
	has := l.English()
	for _, w := range want {
		if !slices.Contains(has, w) {
			t.Errorf("templates/labels/de.yaml has no label for %q", w)
		}
	}
}

// labellers are the functions that put a constant into the language of the form.
var labellers = map[string]bool{"Label": true, "Heading": true, "Said": true, "Sheet": true, "certSection": true, "says": true, "annex": true}

func labelsIn(t *testing.T, file string) []string {
	t.Helper()
	tree, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	ast.Inspect(tree, func(n ast.Node) bool {
		call, ok := n.(*ast.CallExpr)
		if !ok {
			return true
		}
		name := ""
		switch f := call.Fun.(type) {
		case *ast.SelectorExpr:
			name = f.Sel.Name
		case *ast.Ident:
			name = f.Name
		}
		if !labellers[name] {
			return true
		}
		for _, arg := range call.Args[:min(2, len(call.Args))] {
			if words, ok := constant(arg); ok {
				out = append(out, words)
				break
			}
		}
		return true
	})
	return out
}

// constant is a text constant, joined where it is written in pieces.
func constant(e ast.Expr) (string, bool) {
	switch e := e.(type) {
	case *ast.BasicLit:
		words, err := strconv.Unquote(e.Value)
		return words, err == nil && e.Kind == token.STRING
	case *ast.BinaryExpr:
		a, ok := constant(e.X)
		b, also := constant(e.Y)
		return a + b, ok && also && e.Op == token.ADD
	}
	return "", false
}
