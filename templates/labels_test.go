package templates

import (
	"strings"
	"testing"
)

// What stands in a template is a label, what an action places is not; marks around a
// label, tags and actions stay as they are.
func TestLabelled(t *testing.T) {
	signs := func(english string) string { return "⟦" + english + "⟧" }
	for source, want := range map[string]string{
		`<dt>work done</dt><dd>{{.Doc.Work}}</dd>`:                                               `<dt>⟦work done⟧</dt><dd>{{.Doc.Work}}</dd>`,
		`<p>entry {{.Entry}}, by {{.By}}: {{.Why}}.</p>`:                                         `<p>⟦entry⟧ {{.Entry}}, ⟦by⟧ {{.By}}: {{.Why}}.</p>`,
		`<div class="wide" aria-label="{{.Name}}, table"{{if .A}} b{{end}}>`:                     `<div class="wide" aria-label="{{.Name}}, ⟦table⟧"{{if .A}} b{{end}}>`,
		`<html lang="en" xml:lang="en">`:                                                         `<html lang="⟦en⟧" xml:lang="⟦en⟧">`,
		`{{template "mark" "pass"}}{{if eq .A "stop"}}STOP{{end}}`:                               `{{template "mark" "pass"}}{{if eq .A "stop"}}⟦STOP⟧{{end}}`,
		`{{template "item" (printf "%s, attempt %d: %s" .A .B .C)}}`:                             `{{template "item" (printf "⟦%s, attempt %d: %s⟧" .A .B .C)}}`,
		`{{printf "%-12s  %s" .A .B}} {{plural "entry" "entries" .N}}`:                           `{{printf "%-12s  %s" .A .B}} {{plural "⟦entry⟧" "⟦entries⟧" .N}}`,
		"<style>h1 { color: red; }\n@top { content: \"page \" counter(page) \" of \"; }</style>": "<style>h1 { color: red; }\n@top { content: \"⟦page⟧ \" counter(page) \" ⟦of⟧ \"; }</style>",
		`<p>{{/* said once }} */}}in one
  line</p>`: `<p>{{/* said once }} */}}⟦in one line⟧</p>`,
		`<td>&lt;1 &amp; more</td>`: `<td>⟦&lt;1 &amp; more⟧</td>`,
		`{{with .Class}} class="{{.}}"{{end}}{{with .Span}} colspan="{{.}}"{{end}}`: `{{with .Class}} class="{{.}}"{{end}}{{with .Span}} colspan="{{.}}"{{end}}`,
		`<td>12 ± {{.U}}</td>`: `<td>12 ± {{.U}}</td>`,
	} {
		if got := labelled(source, true, signs); got != want {
			t.Errorf("%s\nbecomes %s\nwant    %s", source, got, want)
		}
		if got := labelled(source, true, nil); got != source {
			t.Errorf("in English %s becomes %s", source, got)
		}
	}
	if got, want := labelled("HOLD POINTS\n  none in the plan{{end}}", false, signs), "⟦HOLD POINTS⟧\n  ⟦none in the plan⟧{{end}}"; got != want {
		t.Errorf("text becomes %q, want %q", got, want)
	}
}

// The words that a template compares with, and the names of templates, are no labels.
func TestFixedWords(t *testing.T) {
	words, err := FixedWords()
	if err != nil || len(words) < 100 {
		t.Fatalf("%d labels: %v", len(words), err)
	}
	for _, w := range words {
		if strings.ContainsAny(w, "{}<>") {
			t.Errorf("%q is a label and holds signs of a template", w)
		}
	}
}
