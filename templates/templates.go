// Package templates holds the words and starter files that go out with handback:
// one block a kind, starter plans, help topics, the phrases of reports, of a plant's state and of the
// rules of its steps, of what an owner asks of many jobs. Numbers and dates come in formatted; a template only places them
// among words.
package templates

import (
	"embed"
	"fmt"
	html "html/template"
	"io/fs"
	"maps"
	"strings"
	"text/template"

	"github.com/Masterminds/sprig/v3"

	"handback/checks/quantity"
)

//go:embed help kinds legend.txt plans plant recall report said trend
var files embed.FS

// allowed are the only helpers of sprig that a template may use: none reads the clock,
// the environment or chance, and none guesses at numbers.
var allowed = []string{"indent", "join", "plural", "quote", "trim", "upper"}

// own are helpers of ours.
var own = template.FuncMap{"article": quantity.WithArticle, "wrap": Wrap}

// Funcs gives the allowed helpers.
func Funcs() template.FuncMap {
	all := sprig.HermeticTxtFuncMap()
	out := template.FuncMap{}
	for _, name := range allowed {
		out[name] = all[name]
	}
	maps.Copy(out, own)
	return out
}

// Block is a kind's template block.
type Block struct {
	Shows string // what a pass shows, one sentence
	How   string // how it is judged, in plain words
	Trial string // an example file that try accepts and passes
}

// Kind reads a kind's block; the error names what it lacks.
func Kind(name string) (Block, error) {
	t, err := template.New(name).Funcs(Funcs()).Option("missingkey=error").ParseFS(files, "kinds/"+name+".tmpl")
	if err != nil {
		return Block{}, fmt.Errorf("template block of kind %s: %w", name, err)
	}
	var b Block
	for part, into := range map[string]*string{"shows": &b.Shows, "how": &b.How, "trial": &b.Trial} {
		var s strings.Builder
		if err := t.ExecuteTemplate(&s, part, nil); err != nil {
			return Block{}, fmt.Errorf("template block of kind %s: %w", name, err)
		}
		*into = strings.TrimSpace(s.String())
		if *into == "" {
			return Block{}, fmt.Errorf("template block of kind %s: %q is empty", name, part)
		}
	}
	b.Trial += "\n"
	return b, nil
}

// Report fills in a report's words, its labels in the language of label. The error names
// what the data lacks.
func Report(name string, data any, label Label) (string, error) {
	source, err := files.ReadFile("report/" + name + ".tmpl")
	if err != nil {
		return "", fmt.Errorf("report template %s: %w", name, err)
	}
	t, err := template.New(name).Funcs(Funcs()).Option("missingkey=error").Parse(labelled(string(source), false, label))
	if err != nil {
		return "", fmt.Errorf("report template %s: %w", name, err)
	}
	var s strings.Builder
	if err := t.Execute(&s, data); err != nil {
		return "", fmt.Errorf("report template %s: %w", name, err)
	}
	return s.String(), nil
}

// Page fills in a page: the template of that name among all of report's .html files, its
// labels in the language of label. Data is escaped for where it stands. The error names
// what the data lacks.
func Page(name string, data any, label Label) (string, error) {
	if label == nil {
		label = func(english string) string { return english }
	}
	t := html.New("").Funcs(Funcs()).Funcs(html.FuncMap{"label": label}).Option("missingkey=error")
	sources, err := fs.Glob(files, "report/*.html")
	for _, source := range sources {
		if err == nil {
			err = parsePage(t, source, label)
		}
	}
	if err != nil {
		return "", fmt.Errorf("page template %s: %w", name, err)
	}
	var s strings.Builder
	if err := t.ExecuteTemplate(&s, name, data); err != nil {
		return "", fmt.Errorf("page template %s: %w", name, err)
	}
	return s.String(), nil
}

func parsePage(t *html.Template, source string, label Label) error {
	data, err := files.ReadFile(source)
	if err != nil {
		return err
	}
	_, err = t.New(source).Parse(labelled(string(data), true, label))
	return err
}

// Plans lists the starter plans by the work they are for.
func Plans() []string {
	entries, err := fs.ReadDir(files, "plans")
	if err != nil {
		panic("templates: " + err.Error())
	}
	var out []string
	for _, e := range entries {
		out = append(out, strings.TrimSuffix(e.Name(), ".yaml"))
	}
	return out
}

// Plan gives a starter plan.
func Plan(work string) ([]byte, error) {
	data, err := files.ReadFile("plans/" + work + ".yaml")
	if err != nil {
		return nil, fmt.Errorf("no starter plan %q: there are %s", work, strings.Join(Plans(), ", "))
	}
	return data, nil
}
