package templates

import (
	"fmt"
	"strings"
	"sync"
	"text/template"
)

// catalogues are the words of each kind: those of all, and its own block.
var catalogues sync.Map

// Said are the words of a code that a kind's finding may hold, filled in with values.
// The error names the kind, code or value there is not.
func Said(kind, code string, values map[string]any) (string, error) {
	t, err := catalogue(kind)
	if err != nil {
		return "", err
	}
	var s strings.Builder
	if err := t.ExecuteTemplate(&s, code, values); err != nil {
		return "", fmt.Errorf("words of %s, code %s: %w", kind, code, err)
	}
	return strings.TrimSpace(s.String()), nil
}

func catalogue(kind string) (*template.Template, error) {
	if t, ok := catalogues.Load(kind); ok {
		return t.(*template.Template), nil
	}
	t, err := template.New(kind).Funcs(Funcs()).Option("missingkey=error").ParseFS(files, "said/*.tmpl", "kinds/"+kind+".tmpl")
	if err != nil {
		return nil, fmt.Errorf("words of kind %s: %w", kind, err)
	}
	catalogues.Store(kind, t)
	return t, nil
}

// groups are the words of each folder of codes that no finding holds.
var groups sync.Map

// Group are the words of a code of a folder of templates, such as plant, filled in with
// values. The error names the code or value there is not.
func Group(folder, code string, values map[string]any) (string, error) {
	t, err := group(folder)
	if err != nil {
		return "", fmt.Errorf("words of %s: %w", folder, err)
	}
	var s strings.Builder
	if err := t.ExecuteTemplate(&s, code, values); err != nil {
		return "", fmt.Errorf("words of %s, code %s: %w", folder, code, err)
	}
	return strings.TrimSpace(s.String()), nil
}

func group(folder string) (*template.Template, error) {
	if t, ok := groups.Load(folder); ok {
		return t.(*template.Template), nil
	}
	t, err := template.New(folder).Funcs(Funcs()).Option("missingkey=error").ParseFS(files, folder+"/*.tmpl")
	if err == nil {
		groups.Store(folder, t)
	}
	return t, err
}

// legend is what the members of entries are, by part and member.
var legend = sync.OnceValue(func() map[string]string {
	text, err := files.ReadFile("legend.txt")
	if err != nil {
		panic("templates: " + err.Error())
	}
	out := map[string]string{}
	for line := range strings.Lines(string(text)) {
		if key, words, ok := strings.Cut(line, " "); ok && key != "#" {
			out[key] = strings.TrimSpace(words)
		}
	}
	return out
})

// Legend tells what a member of a part of the record is, or what the part is where member
// is "". The error names what nobody has told.
func Legend(part, member string) (string, error) {
	keys := []string{part + "." + member, member}
	if member == "" {
		keys = []string{part + ":"}
	}
	for _, key := range keys {
		if words, ok := legend()[key]; ok {
			return words, nil
		}
	}
	return "", fmt.Errorf("legend.txt does not tell what %s is", keys[0])
}
