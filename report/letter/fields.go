package letter

import (
	"reflect"
	"strings"
)

// Field is something that a template may place.
type Field struct {
	Path string `json:"path"` // such as .Checks[].Attempts[].By
	Type string `json:"type"` // text, number, yes or no, list, or texts by key
	Doc  string `json:"doc"`
}

// Fields lists everything that a template may place, read from the data themselves.
func Fields() []Field {
	var out []Field
	fieldsOf(reflect.TypeFor[Data](), "", func(f Field) { out = append(out, f) })
	return out
}

func fieldsOf(t reflect.Type, path string, tell func(Field)) {
	for i := range t.NumField() {
		f := t.Field(i)
		at := path + "." + f.Name
		if f.Type.Kind() == reflect.Slice {
			at += "[]"
		}
		tell(Field{at, sortOf(f.Type), f.Tag.Get("doc")})
		if f.Type.Kind() == reflect.Slice && f.Type.Elem().Kind() == reflect.Struct {
			fieldsOf(f.Type.Elem(), at, tell)
		}
	}
}

func sortOf(t reflect.Type) string {
	switch t.Kind() {
	case reflect.String:
		return "text"
	case reflect.Bool:
		return "yes or no"
	case reflect.Int, reflect.Float64:
		return "number"
	case reflect.Map:
		return "texts by key"
	case reflect.Slice:
		if t.Elem().Kind() == reflect.Struct {
			return "list"
		}
		return "list of texts"
	}
	panic("letter: " + t.String() + " is no plain data")
}

// fieldsIn names the fields of one of the structs of Data.
func fieldsIn(name string) []string {
	var out []string
	var look func(t reflect.Type)
	look = func(t reflect.Type) {
		if t.Name() == strings.TrimSuffix(name, ":") && out == nil {
			for i := range t.NumField() {
				out = append(out, "."+t.Field(i).Name)
			}
		}
		for i := range t.NumField() {
			if f := t.Field(i).Type; f.Kind() == reflect.Slice && f.Elem().Kind() == reflect.Struct {
				look(f.Elem())
			}
		}
	}
	look(reflect.TypeFor[Data]())
	return out
}
