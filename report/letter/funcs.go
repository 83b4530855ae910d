package letter

import (
	"errors"
	"fmt"
	"html/template"
	"maps"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"sync"
	text "text/template"

	"github.com/Masterminds/sprig/v3"
)

// allowed are the functions of sprig that a template may use. None reaches the
// environment, files, network, clock, chance or keys, none makes lists or text many times
// as long as what it is given. Left out on purpose is default: it takes a true 0 for
// nothing.
var allowed = []string{
	"abbrev", "add", "cat", "ceil", "contains", "div", "first", "float64", "floor", "has", "hasPrefix", "hasSuffix", "initial", "int",
	"last", "lower", "max", "min", "mod", "mul", "plural", "quote", "rest", "round", "sortAlpha", "splitList", "squote", "sub", "ternary",
	"title", "toString", "trim", "trimAll", "trimPrefix", "trimSuffix", "trunc", "uniq", "upper",
}

// builtin are those of Go's templates that make text; they are bounded like the others.
var builtin = map[string]any{
	"print": fmt.Sprint, "println": fmt.Sprintln, "printf": printf, "html": text.HTMLEscaper, "js": text.JSEscaper, "urlquery": text.URLQueryEscaper,
	"indent": indent, "replace": replace, "join": join,
}

// What a function may be given and give (our choice): a page of a handbook is 4 KiB.
const (
	maxText   = 1 << 20
	maxFormat = 4 << 10
	maxIndent = 80
)

var wide = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(`%[^a-zA-Z%]*(\*|[0-9]{4})`) })

func printf(format string, values ...any) (string, error) {
	if len(format) > maxFormat || wide().MatchString(format) {
		return "", fmt.Errorf("printf %.60q: a format of at most %d bytes and widths of three digits is taken", format, maxFormat)
	}
	return fmt.Sprintf(format, values...), nil
}

func indent(by int, s string) (string, error) {
	if by < 0 || by > maxIndent || by*strings.Count(s, "\n") > maxText {
		return "", fmt.Errorf("indent %d: 0 to %d is taken", by, maxIndent)
	}
	pad := strings.Repeat(" ", by)
	return pad + strings.ReplaceAll(s, "\n", "\n"+pad), nil
}

func replace(old, with, s string) (string, error) {
	if strings.Count(s, old)*len(with) > maxText {
		return "", errors.New("replace would make too long a text")
	}
	return strings.ReplaceAll(s, old, with), nil
}

func join(between string, list any) (string, error) {
	v := reflect.ValueOf(list)
	if v.Kind() != reflect.Slice || v.Len()*len(between) > maxText {
		return "", errors.New("join takes a list, and no more text between its items than a page holds")
	}
	parts := make([]string, v.Len())
	for i := range parts {
		parts[i] = fmt.Sprint(v.Index(i).Interface())
	}
	return strings.Join(parts, between), nil
}

// Functions lists what a template may call, beside what the language itself has.
func Functions() []string {
	return slices.Sorted(maps.Keys(functions(func() error { return nil })))
}

// functions are those that a template may call. Each takes a step before it does anything.
func functions(step func() error) template.FuncMap {
	out := template.FuncMap{}
	hermetic := sprig.HermeticTxtFuncMap()
	for _, name := range allowed {
		out[name] = bounded(name, hermetic[name], step)
	}
	for name, f := range builtin {
		out[name] = bounded(name, f, step)
	}
	return out
}

// bounded is a function that takes a step and refuses too much text, in or out. A panic
// is an error of the template.
func bounded(name string, f any, step func() error) any {
	fn := reflect.ValueOf(f)
	return reflect.MakeFunc(fn.Type(), func(args []reflect.Value) []reflect.Value {
		if err := step(); err != nil {
			panic(err)
		}
		size := 0
		for _, a := range args {
			size += sizeOf(a)
		}
		if size > maxText {
			panic(fmt.Errorf("%s is given %d bytes: at most %d are taken", name, size, maxText))
		}
		call := fn.Call
		if fn.Type().IsVariadic() {
			call = fn.CallSlice
		}
		out := call(args)
		if n := sizeOf(out[0]); n > 8*maxText {
			panic(fmt.Errorf("%s gives %d bytes: at most %d are taken", name, n, 8*maxText))
		}
		return out
	}).Interface()
}

// sizeOf is how much text a value holds.
func sizeOf(v reflect.Value) int {
	switch v.Kind() {
	case reflect.String:
		return v.Len()
	case reflect.Interface, reflect.Pointer:
		if !v.IsNil() {
			return sizeOf(v.Elem())
		}
	case reflect.Slice, reflect.Array:
		n := 0
		for i := range v.Len() {
			n += sizeOf(v.Index(i))
		}
		return n
	case reflect.Struct:
		n := 0
		for i := range v.NumField() {
			n += sizeOf(v.Field(i))
		}
		return n
	case reflect.Map:
		n := 0
		for _, k := range v.MapKeys() {
			n += sizeOf(k) + sizeOf(v.MapIndex(k))
		}
		return n
	}
	return 0
}
