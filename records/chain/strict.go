package chain

import (
	"bytes"
	"encoding"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strings"
	"sync"

	"github.com/gowebpki/jcs"
)

// DecodeStrict reads one JSON document into the value that into points to, and only
// a document that says everything once and exactly: keys in their own spelling,
// none twice, none unknown; every field without omitempty or omitzero present; no
// field null; arrays of fixed length full; nothing after the end; valid UTF-8.
// encoding/json alone takes "X_OHM" for "x_ohm", the last of two equal keys, and
// leaves what is absent at 0, which a limit may well accept.
//
// The inside of a field that is free in form (any, json.RawMessage, a type with its
// own unmarshaller) is checked for repeated keys only. On error *into is untouched.
// Errors name the place, as in "points[2].volts: missing".
func DecodeStrict(data []byte, into any) error {
	target := reflect.ValueOf(into)
	if target.Kind() != reflect.Pointer || target.IsNil() {
		return fmt.Errorf("decode into %T: a pointer is wanted", into)
	}
	if len(data) == 0 {
		return errors.New("decode: no data")
	}
	// For what encoding/json lets through: repeated keys, bad UTF-8, lone surrogates.
	if _, err := jcs.Transform(data); err != nil {
		return fmt.Errorf("decode: %w", err)
	}
	elem := target.Elem()
	if err := checkShape(elem.Type(), bytes.TrimSpace(data), ""); err != nil {
		return err
	}
	fresh := reflect.New(elem.Type())
	if err := json.Unmarshal(data, fresh.Interface()); err != nil {
		return fmt.Errorf("decode: %w", err)
	}
	elem.Set(fresh.Elem())
	return nil
}

var (
	jsonUnmarshaler = reflect.TypeFor[json.Unmarshaler]()
	textUnmarshaler = reflect.TypeFor[encoding.TextUnmarshaler]()
)

// checkShape compares the JSON in raw, known to be well formed, with the type t.
// Kinds of plain values are left to encoding/json.
func checkShape(t reflect.Type, raw []byte, path string) error {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if bytes.Equal(raw, []byte("null")) && t.Kind() != reflect.Interface {
		return fault(path, "null, a value is wanted")
	}
	if p := reflect.PointerTo(t); p.Implements(jsonUnmarshaler) || p.Implements(textUnmarshaler) {
		return nil
	}
	switch {
	case t.Kind() == reflect.Struct && raw[0] == '{':
		return checkStruct(t, raw, path)
	case t.Kind() == reflect.Map && raw[0] == '{':
		var items map[string]json.RawMessage
		if err := json.Unmarshal(raw, &items); err != nil {
			return fault(path, err.Error())
		}
		for _, key := range slices.Sorted(maps.Keys(items)) {
			if err := checkShape(t.Elem(), items[key], join(path, key)); err != nil {
				return err
			}
		}
	case (t.Kind() == reflect.Slice || t.Kind() == reflect.Array) && raw[0] == '[':
		var items []json.RawMessage
		if err := json.Unmarshal(raw, &items); err != nil {
			return fault(path, err.Error())
		}
		if t.Kind() == reflect.Array && len(items) != t.Len() {
			return fault(path, fmt.Sprintf("%d values, exactly %d are wanted", len(items), t.Len()))
		}
		for i, item := range items {
			if err := checkShape(t.Elem(), item, fmt.Sprintf("%s[%d]", path, i)); err != nil {
				return err
			}
		}
	}
	return nil
}

func checkStruct(t reflect.Type, raw []byte, path string) error {
	var have map[string]json.RawMessage
	if err := json.Unmarshal(raw, &have); err != nil {
		return fault(path, err.Error())
	}
	fields := jsonFields(t)
	known := make([]string, 0, len(fields))
	for _, f := range fields {
		known = append(known, f.name)
	}
	for _, key := range slices.Sorted(maps.Keys(have)) {
		if !slices.Contains(known, key) {
			return fault(join(path, key), "unknown; accepted are "+strings.Join(known, ", "))
		}
	}
	for _, f := range fields {
		value, ok := have[f.name]
		switch {
		case !ok && f.optional:
			continue
		case !ok:
			return fault(join(path, f.name), "missing")
		case bytes.Equal(value, []byte("null")):
			return fault(join(path, f.name), "null, a value is wanted")
		}
		if err := checkShape(f.typ, value, join(path, f.name)); err != nil {
			return err
		}
	}
	return nil
}

type jsonField struct {
	name     string
	optional bool
	typ      reflect.Type
}

// jsonFields lists the fields of a struct under their JSON names, embedded ones
// included, in the order they are declared.
func jsonFields(t reflect.Type) []jsonField {
	if known, ok := fieldsRead.Load(t); ok {
		return known.([]jsonField)
	}
	fields := readFields(t)
	fieldsRead.Store(t, fields)
	return fields
}

// fieldsRead keeps the fields of each struct type once they were read: a job's
// entries are all of the same few types.
var fieldsRead sync.Map // reflect.Type → []jsonField

func readFields(t reflect.Type) []jsonField {
	var fields []jsonField
	for i := range t.NumField() {
		f := t.Field(i)
		tag := f.Tag.Get("json")
		name, options, _ := strings.Cut(tag, ",")
		if tag == "-" {
			continue
		}
		if inner := f.Type; f.Anonymous && name == "" {
			if inner.Kind() == reflect.Pointer {
				inner = inner.Elem()
			}
			if inner.Kind() == reflect.Struct {
				fields = append(fields, readFields(inner)...)
				continue
			}
		}
		if !f.IsExported() {
			continue
		}
		if name == "" {
			name = f.Name
		}
		words := strings.Split(options, ",")
		fields = append(fields, jsonField{name, slices.Contains(words, "omitempty") || slices.Contains(words, "omitzero"), f.Type})
	}
	return fields
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

func fault(path, what string) error {
	if path == "" {
		return errors.New("decode: " + what)
	}
	return fmt.Errorf("%s: %s", path, what)
}
