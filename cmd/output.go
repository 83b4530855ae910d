package cmd

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"reflect"
	"strings"

	"github.com/spf13/cobra"

	"handback/cmd/session"
	"handback/report/files"
	"handback/report/schema"
)

// output is a file that a command is about to make.
type output struct {
	path    string                  // "" for none
	earlier func(data []byte) error // tells why a file there is no earlier output of the same sort
	to      stdoutSort              // what becomes of the name -
}

// stdoutSort is how an output may go to stdout.
type stdoutSort int

const (
	fileOnly stdoutSort = iota // it may not
	textOut                    // as text, as everything that is printed
	bytesOut                   // as it is, and not onto a terminal
)

// over says what an output of this command may be written over.
func over(env *session.Env, out output, force bool) files.Over {
	return files.Over{Book: env.Book, Earlier: out.earlier, Force: force, Made: env.Made}
}

// once is over for a command that replaces nothing.
func once(env *session.Env) files.Over {
	return files.Over{Book: env.Book, Once: true, Made: env.Made}
}

// mayWrite refuses outputs that would destroy something, before the first is written.
func mayWrite(env *session.Env, force bool, outs ...output) error {
	taken := map[string]string{}
	for _, out := range outs {
		switch out.path {
		case "":
			continue
		case "-":
			if out.to == fileOnly {
				return session.Usagef("-: this does not go to stdout; name a file, or ./- for one of that name")
			}
			if _, err := stdoutFor(env, out); err != nil {
				return err
			}
		}
		target, err := "-", error(nil)
		if out.path != "-" {
			target, err = over(env, out, force).Target(out.path)
		}
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
	return write(env, data, output{path: cmp.Or(path, "-"), to: textOut}, force)
}

// write writes a file, or sends it to stdout where it is called -.
func write(env *session.Env, data []byte, out output, force bool) error {
	return stream(env, out, force, func(w io.Writer) error { _, err := w.Write(data); return err })
}

// stream is write of what is written as it is made.
func stream(env *session.Env, out output, force bool, give func(io.Writer) error) error {
	if out.path != "-" {
		return files.Stream(out.path, over(env, out, force), give)
	}
	to, err := stdoutFor(env, out)
	if err != nil {
		return err
	}
	return give(to)
}

// stdoutFor is stdout as an output of that sort takes it.
func stdoutFor(env *session.Env, out output) (io.Writer, error) {
	a, plain := env.Out.(*answer)
	switch {
	case out.to == textOut:
		return env.Out, nil
	case !plain:
		return nil, session.Usagef("-: the answer to --json goes to stdout; name a file")
	case a.Terminal() != nil:
		return nil, session.Usagef("-: this is nothing to read: send it to another program, or name a file")
	}
	return asItIs{a}, nil
}

// asItIs is stdout for what is no text: nothing of it is written out another way.
type asItIs struct{ *answer }

func (w asItIs) Write(b []byte) (int, error) {
	w.began = true
	n, err := w.Writer.(*session.PlainWriter).To.Write(b)
	if w.err == nil {
		w.err = err
	}
	return n, err
}

// answer is stdout, and remembers the first error there: a command whose answer was
// lost has not done what it was asked for.
type answer struct {
	io.Writer
	began bool
	err   error
}

func (a *answer) Write(b []byte) (int, error) {
	a.began = true
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

// asData has what follows written as it is, but for signs that do not show: a program reads it.
func (a *answer) asData() {
	if p, ok := a.Writer.(*session.PlainWriter); ok {
		p.Marks = false
	}
}

// whole has an answer that is told in many small pieces written in a few: each is a call of
// the system, and wakes who reads it.
func whole(w io.Writer, tell func(io.Writer) error) error {
	b := bufio.NewWriterSize(w, 1<<15)
	err := tell(b)
	return cmp.Or(b.Flush(), err)
}

// printJSON writes one indented document, an empty list as []. An object says in v which
// version of its schema it fits.
func printJSON(w io.Writer, v any) error { return encoded(w, v, "  ") }

// printLine is printJSON on one line.
func printLine(w io.Writer, v any) error { return encoded(w, v, "") }

func encoded(w io.Writer, v any, indent string) error {
	var text bytes.Buffer
	enc := json.NewEncoder(&text)
	enc.SetIndent("", indent)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(listed(reflect.ValueOf(v)).Interface()); err != nil {
		return err
	}
	if a, ok := w.(*answer); ok {
		a.asData()
	}
	rest := text.Bytes()
	if reflect.TypeOf(v).Kind() == reflect.Struct {
		rest = rest[1:]
		start := fmt.Sprintf(`{"v":%d,`, schema.Version)
		if indent != "" {
			start = fmt.Sprintf("{\n%s\"v\": %d,", indent, schema.Version)
		}
		if _, err := io.WriteString(w, start); err != nil {
			return err
		}
	}
	_, err := w.Write(rest)
	return err
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
