package cmd

import (
	"bufio"
	"cmp"
	"encoding/json"
	"io"
	"os"
	"reflect"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/report/files"
)

// output is a file that a command is about to make.
type output struct {
	path    string                  // "" for none
	earlier func(data []byte) error // tells why a file there is no earlier output of the same sort
}

// over says what an output of this command may be written over.
func over(env *session.Env, out output, force bool) files.Over {
	return files.Over{Book: env.Book, Earlier: out.earlier, Force: force}
}

// once is over for a command that replaces nothing.
func once(env *session.Env) files.Over { return files.Over{Book: env.Book, Once: true} }

// mayWrite refuses outputs that would destroy something, before the first is written.
func mayWrite(env *session.Env, force bool, outs ...output) error {
	taken := map[string]string{}
	for _, out := range outs {
		switch out.path {
		case "":
			continue
		case "-":
			return session.Usagef("-: this does not go to stdout; name a file, or ./- for one of that name")
		}
		target, err := over(env, out, force).Target(out.path)
		if err != nil {
			return err
		}
		name := strings.ToLower(target) // one name on some systems
		if first, twice := taken[name]; twice {
			return session.Usagef("two outputs would go to one file: %s and %s; name two", first, out.path)
		}
		taken[name] = out.path
	}
	return nil
}

// forceFlag adds --force to a command that makes files.
func forceFlag(c *cobra.Command, on *bool) {
	c.Flags().BoolVar(on, "force", false, "replace a file that is there, whatever it is; never a record book or a key")
}

// outputFlag adds -o to a command that prints a file.
func outputFlag(c *cobra.Command, path *string, force *bool) {
	c.Flags().StringVarP(path, "output", "o", "", "file to write instead of printing it; in UTF-8, whatever the shell makes of > FILE")
	forceFlag(c, force)
}

// print writes a file that was asked for with -o, or prints it.
func print(env *session.Env, data []byte, path string, force bool) error {
	if path == "" || path == "-" {
		_, err := env.Out.Write(data)
		return err
	}
	return files.Write(path, data, over(env, output{path: path}, force))
}

// answer is stdout, and remembers the first error there: a command whose answer was
// lost has not done what it was asked for.
type answer struct {
	io.Writer
	err error
}

func (a *answer) Write(b []byte) (int, error) {
	n, err := a.Writer.Write(b)
	if a.err == nil {
		a.err = err
	}
	return n, err
}

// Terminal is the terminal behind, nil when it is none.
func (a *answer) Terminal() *os.File {
	if t, ok := a.Writer.(interface{ Terminal() *os.File }); ok {
		return t.Terminal()
	}
	return nil
}

// Style passes a style on to the terminal behind.
func (a *answer) Style(code string) {
	if s, ok := a.Writer.(*session.PlainWriter); ok {
		s.Style(code)
	}
}

// whole has an answer that is told in many small pieces written in a few: each is a call of
// the system, and wakes who reads it.
func whole(w io.Writer, tell func(io.Writer) error) error {
	b := bufio.NewWriterSize(w, 1<<15)
	err := tell(b)
	return cmp.Or(b.Flush(), err)
}

// printJSON writes one indented document, an empty list as [].
func printJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(listed(reflect.ValueOf(v)).Interface())
}

// printLine is printJSON on one line.
func printLine(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	return enc.Encode(listed(reflect.ValueOf(v)).Interface())
}

// listed is a copy of a value in which every list that is nil is an empty one.
func listed(v reflect.Value) reflect.Value {
	t := v.Type()
	if t.Implements(reflect.TypeFor[json.Marshaler]()) {
		return v
	}
	out := reflect.New(t).Elem()
	switch t.Kind() {
	case reflect.Slice:
		out.Set(reflect.MakeSlice(t, v.Len(), v.Len()))
		for i := range v.Len() {
			out.Index(i).Set(listed(v.Index(i)))
		}
	case reflect.Struct:
		out.Set(v)
		for i := range t.NumField() {
			if t.Field(i).IsExported() {
				out.Field(i).Set(listed(v.Field(i)))
			}
		}
	case reflect.Map:
		if v.IsNil() {
			return v
		}
		out.Set(reflect.MakeMap(t))
		for _, key := range v.MapKeys() {
			out.SetMapIndex(key, listed(v.MapIndex(key)))
		}
	case reflect.Pointer:
		if v.IsNil() {
			return v
		}
		out.Set(reflect.New(t.Elem()))
		out.Elem().Set(listed(v.Elem()))
	default:
		return v
	}
	return out
}
