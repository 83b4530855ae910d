package templates

import (
	"embed"
	"fmt"
	"html"
	"io/fs"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"
)

//go:embed labels
var labelFiles embed.FS

// Languages are the languages that labels ship in beside English.
func Languages() []string {
	entries, err := fs.ReadDir(labelFiles, "labels")
	if err != nil {
		panic("templates: " + err.Error())
	}
	var out []string
	for _, e := range entries {
		out = append(out, strings.TrimSuffix(e.Name(), ".yaml"))
	}
	return out
}

// LabelFile is the file of labels that ships for a language.
func LabelFile(language string) ([]byte, error) {
	data, err := labelFiles.ReadFile("labels/" + language + ".yaml")
	if err != nil {
		return nil, fmt.Errorf("no labels ship in %q: there are %s", language, strings.Join(Languages(), ", "))
	}
	return data, nil
}

// Label puts a fixed label into another language; nil leaves it in English.
type Label func(english string) string

// FixedWords lists every label that stands in the templates of page and text.
func FixedWords() ([]string, error) {
	var out []string
	gather := func(english string) string {
		if !slices.Contains(out, english) {
			out = append(out, english)
		}
		return english
	}
	names, err := fs.Glob(files, "report/*.html")
	if err != nil {
		return nil, err
	}
	for _, name := range append(names, "report/summary.tmpl") {
		source, err := files.ReadFile(name)
		if err != nil {
			return nil, err
		}
		labelled(string(source), strings.HasSuffix(name, ".html"), gather)
	}
	slices.Sort(out)
	return out, nil
}

// labelled is a template with its labels in another language. What stands in a template
// outside its actions is a label, or several where marks part them; so are the words that
// an action prints, and what markup says to a screen reader. What actions place comes
// from the record and is not touched.
func labelled(source string, markup bool, label Label) string {
	if label == nil {
		return source
	}
	var out strings.Builder
	style := false
	for len(source) > 0 {
		n := 0
		switch {
		case strings.HasPrefix(source, "{{"):
			n = actionEnd(source)
			out.WriteString(inAction(source[:n], label))
		case markup && source[0] == '<':
			n = tagEnd(source)
			tag := source[:n]
			style = strings.HasPrefix(tag, "<style") || style && !strings.HasPrefix(tag, "</style")
			out.WriteString(inTag(tag, label))
		case style:
			if n = strings.Index(source, "</style"); n < 0 {
				n = len(source)
			}
			out.WriteString(inStyle(source[:n], label))
		default:
			for n < len(source) && !strings.HasPrefix(source[n:], "{{") && !(markup && source[n] == '<') {
				n++
			}
			out.WriteString(inText(source[:n], markup, label))
		}
		source = source[n:]
	}
	return out.String()
}

// actionEnd is where an action ends; }} within quotes does not end it.
func actionEnd(s string) int {
	quote := byte(0)
	for i := 2; i < len(s); i++ {
		switch c := s[i]; {
		case quote == '"' && c == '\\':
			i++
		case quote != 0:
			if c == quote {
				quote = 0
			}
		case strings.HasPrefix(s[i:], "/*"):
			if end := strings.Index(s[i:], "*/"); end > 0 {
				i += end
			}
		case c == '"' || c == '`':
			quote = c
		case strings.HasPrefix(s[i:], "}}"):
			return i + 2
		}
	}
	return len(s)
}

// tagEnd is where a tag ends; actions within it may hold anything.
func tagEnd(s string) int {
	for i := 1; i < len(s); i++ {
		switch {
		case strings.HasPrefix(s[i:], "{{"):
			i += actionEnd(s[i:]) - 1
		case s[i] == '>':
			return i + 1
		}
	}
	return len(s)
}

var (
	printed = sync.OnceValue(func() *regexp.Regexp {
		return regexp.MustCompile(`\b(?:printf?|plural|label)(?:\s+"(?:[^"\\]|\\.)*")+`)
	})
	literal   = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`"(?:[^"\\]|\\.)*"`) })
	attribute = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`\b(?:aria-label|alt|lang)="(?:\{\{.*?\}\}|[^"{])*"`) })
	content   = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`content:[^;]*;`) })
	// a piece of a tag in a template of its own
	attributeName = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`^"?\s*[a-z-]+="$`) })
	quoted        = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`"(?:\{\{.*?\}\}|[^"{])*"`) })
)

// inAction puts the words that an action prints into the other language.
func inAction(action string, label Label) string {
	return printed().ReplaceAllStringFunc(action, func(call string) string {
		return literal().ReplaceAllStringFunc(call, func(lit string) string {
			words, err := strconv.Unquote(lit)
			if err != nil {
				return lit // the parser of templates says what is wrong
			}
			return strconv.Quote(oneLabel(words, label))
		})
	})
}

// inTag does so with what a screen reader says, inStyle with what print adds.
func inTag(tag string, label Label) string {
	return attribute().ReplaceAllStringFunc(tag, func(a string) string {
		name, value, _ := strings.Cut(strings.TrimSuffix(a, `"`), `="`)
		return name + `="` + between(value, label) + `"`
	})
}

func inStyle(style string, label Label) string {
	return content().ReplaceAllStringFunc(style, func(rule string) string {
		return quoted().ReplaceAllStringFunc(rule, func(text string) string { return `"` + between(text[1:len(text)-1], label) + `"` })
	})
}

// between goes through the text between the actions of a quoted value.
func between(value string, label Label) string {
	var out strings.Builder
	for len(value) > 0 {
		n := actionEnd(value)
		if !strings.HasPrefix(value, "{{") {
			if n = strings.Index(value, "{{"); n < 0 {
				n = len(value)
			}
			out.WriteString(inText(value[:n], true, label))
		} else {
			out.WriteString(value[:n])
		}
		value = value[n:]
	}
	return out.String()
}

// inText goes through plain text: in markup it is one label, else each line is.
func inText(text string, markup bool, label Label) string {
	if markup && attributeName().MatchString(text) {
		return text
	}
	if markup {
		is := html.UnescapeString(text)
		if own := oneLabel(is, label); own != is {
			return html.EscapeString(own)
		}
		return text
	}
	lines := strings.Split(text, "\n")
	for i, line := range lines {
		lines[i] = oneLabel(line, label)
	}
	return strings.Join(lines, "\n")
}

// Marks before and behind a label that are none of it.
const before, behind = " \t\n,;:.()[]", " \t\n,;:([]"

// oneLabel puts the words of a text into the other language and keeps the marks around
// them.
func oneLabel(text string, label Label) string {
	words := strings.TrimRight(strings.TrimLeft(text, before), behind)
	if !strings.ContainsFunc(noPlaces(words), unicode.IsLetter) {
		return text
	}
	at := strings.Index(text, words)
	return text[:at] + label(strings.Join(strings.Fields(words), " ")) + text[at+len(words):]
}

var place = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`%(\[\d+\])?-?\d*[a-z]`) })

func noPlaces(s string) string { return place().ReplaceAllString(s, "") }
