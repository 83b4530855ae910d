package letter

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	html "html/template"
	"io"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"text/template"
	"text/template/parse"
	"time"
	"unicode/utf8"

	"handback/report"
)

// What a template may be and take (our choice).
const (
	MaxTemplate = 256 << 10
	MaxOutput   = 16 << 20
	MaxTime     = 30 * time.Second // on a busy machine, too, the steps run out first
	maxSteps    = 1_000_000
	maxNested   = 8 // loops in loops: looking at HTML takes twice as long for each
)

// Form of a template.
type Form int

const (
	Text Form = iota + 1
	HTML
)

// FormOf tells by its ending whether a file is a text or an HTML template.
func FormOf(file string) (Form, error) {
	name := strings.TrimSuffix(strings.ToLower(filepath.Base(file)), ".tmpl")
	switch filepath.Ext(name) {
	case ".html", ".htm", ".xhtml":
		return HTML, nil
	case ".txt", ".text", ".md", ".csv", ".eml", ".tex":
		return Text, nil
	}
	return 0, fmt.Errorf("%s: its ending says whether it is text or HTML: .txt, .text, .md, .csv, .eml, .tex or .html, .htm, .xhtml, each also with .tmpl behind", file)
}

// Name is what a file that was filled in is called after its template.
func Name(file string) string { return strings.TrimSuffix(filepath.Base(file), ".tmpl") }

var (
	errSteps = errors.New("the template takes too many steps: a loop in a loop?")
	errTime  = fmt.Errorf("the template takes longer than %s", MaxTime)
	errNest  = fmt.Errorf("more than %d loops stand in one another", maxNested)
	errLong  = fmt.Errorf("the template gives more than %d MiB", MaxOutput>>20)
)

// Fill fills a template in. name is what its errors call it. It ends after MaxTime, after
// so many steps, or when ctx does: every turn of a loop, every template that is called,
// every function and every piece of output looks at that.
//
// Errors: what is wrong in the template, with its line and what could stand there.
func Fill(ctx context.Context, name string, f Form, source []byte, data Data) ([]byte, error) {
	switch {
	case len(source) > MaxTemplate:
		return nil, fmt.Errorf("%s: %d bytes: a template has at most %d KiB", name, len(source), MaxTemplate>>10)
	case !utf8.Valid(source):
		return nil, fmt.Errorf("%s: it is not UTF-8 text", name)
	}
	ctx, cancel := context.WithTimeoutCause(ctx, MaxTime, errTime)
	defer cancel()
	r := &run{ctx: ctx, done: make(chan error, 1)}
	go func() { r.done <- r.fill(name, f, string(source), data) }()
	select {
	case err := <-r.done:
		if err != nil && err != r.stopped {
			err = explained(err)
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		return []byte(report.Plain(r.out.String())), nil
	case <-ctx.Done(): // what runs on ends at its next step
		return nil, fmt.Errorf("%s: %w", name, context.Cause(ctx))
	}
}

// run is one filling in: its output, and the steps it took.
type run struct {
	ctx     context.Context
	out     bytes.Buffer
	steps   int
	stopped error
	done    chan error
}

func (r *run) fill(name string, f Form, source string, data Data) error {
	t, err := r.parse(name, f, source)
	if err == nil {
		err = t.Execute(r, data)
	}
	if r.stopped != nil {
		return r.stopped
	}
	return err
}

// step counts what the template does, and stops it.
func (r *run) step() error {
	r.steps++
	switch {
	case r.stopped != nil:
	case r.steps > maxSteps:
		r.stopped = errSteps
	case r.ctx.Err() != nil:
		r.stopped = context.Cause(r.ctx)
	}
	return r.stopped
}

func (r *run) Write(b []byte) (int, error) {
	if r.out.Len()+len(b) > MaxOutput && r.stopped == nil {
		r.stopped = errLong
	}
	if err := r.step(); err != nil {
		return 0, err
	}
	return r.out.Write(b)
}

// filler is a template of either form.
type filler interface {
	Execute(w io.Writer, data any) error
}

// tick is the step that stands at the head of every body that may be gone through again.
// A variable that is set is no output, so that HTML is escaped as without it.
const tick = "handbackStep"

func (r *run) parse(name string, f Form, source string) (filler, error) {
	funcs := functions(r.step)
	funcs[tick] = func() (string, error) { return "", r.step() }
	trees, err := parse.Parse(tick, "{{$"+tick+" := "+tick+"}}", "", "", map[string]any(funcs))
	if err != nil {
		panic("letter: " + err.Error())
	}
	step := trees[tick].Root.Nodes[0]
	if f == HTML {
		t, err := html.New(name).Funcs(funcs).Option("missingkey=error").Parse(source)
		if err != nil {
			return nil, err
		}
		for _, each := range t.Templates() {
			err = errors.Join(err, stepping(each.Tree, step))
		}
		return t, err
	}
	t, err := template.New(name).Funcs(template.FuncMap(funcs)).Option("missingkey=error").Parse(source)
	if err != nil {
		return nil, err
	}
	for _, each := range t.Templates() {
		err = errors.Join(err, stepping(each.Tree, step))
	}
	return t, err
}

// stepping puts a step at the head of a template and of everything in it that may be gone
// through again.
func stepping(tree *parse.Tree, step parse.Node) error {
	if tree == nil || tree.Root == nil {
		return nil
	}
	return steppingIn(tree.Root, step, 0)
}

func steppingIn(list *parse.ListNode, step parse.Node, nested int) error {
	if list == nil {
		return nil
	}
	if nested > maxNested {
		return errNest
	}
	var err error
	both := func(b *parse.BranchNode, nested int) {
		err = errors.Join(err, steppingIn(b.List, step, nested), steppingIn(b.ElseList, step, nested))
	}
	for _, n := range list.Nodes {
		switch n := n.(type) {
		case *parse.RangeNode:
			both(&n.BranchNode, nested+1)
		case *parse.IfNode:
			both(&n.BranchNode, nested)
		case *parse.WithNode:
			both(&n.BranchNode, nested)
		}
	}
	list.Nodes = append([]parse.Node{step.Copy()}, list.Nodes...)
	return err
}

var (
	noField = sync.OnceValue(func() *regexp.Regexp {
		return regexp.MustCompile(`can't evaluate field \S+ in type \*?(?:letter\.)?(\S+)`)
	})
	noFunction = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`function "[^"]*" not defined`) })
	noKey      = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`map has no entry for key`) })
)

// explained says beside an error of a template what could stand there.
func explained(err error) error {
	words := strings.NewReplacer("in type letter.", "in ", "in type *letter.", "in ").Replace(strings.TrimPrefix(err.Error(), "template: "))
	words = strings.TrimPrefix(words, "html/template:")
	switch {
	case noFunction().MatchString(words):
		return fmt.Errorf("%s; functions here: %s", words, strings.Join(Functions(), ", "))
	case noKey().MatchString(words):
		return fmt.Errorf("%s; its keys are those of .Identity that the plan gives", words)
	}
	if m := noField().FindStringSubmatch(err.Error()); m != nil {
		if names := fieldsIn(m[1]); len(names) > 0 {
			return fmt.Errorf("%s; fields here: %s", words, strings.Join(names, ", "))
		}
	}
	return errors.New(words)
}
