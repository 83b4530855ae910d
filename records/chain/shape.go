package chain

import (
	"bytes"
	"encoding"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// shape is what the JSON of a type must be like. Kinds of plain values are left to
// encoding/json.
type shape struct {
	sort   reflect.Kind // Struct, Map, Slice, Array; Interface where null is a value; Invalid for all else
	opaque bool         // free in form: what stands inside is its own affair
	elem   *shape       // of maps, slices and arrays
	length int          // of arrays
	fields []jsonField  // of structs
}

type jsonField struct {
	name     string
	optional bool
	shape    *shape
}

// shapes keeps the shape of each type once it was read: a job's entries are all of the
// same few types.
var shapes sync.Map // reflect.Type → *shape

var (
	jsonUnmarshaler = reflect.TypeFor[json.Unmarshaler]()
	textUnmarshaler = reflect.TypeFor[encoding.TextUnmarshaler]()
)

func shapeOf(t reflect.Type) *shape {
	if known, ok := shapes.Load(t); ok {
		return known.(*shape)
	}
	known := map[reflect.Type]*shape{} // a type may hold itself
	s := readShape(t, known)
	shapes.Store(t, s)
	return s
}

func readShape(t reflect.Type, known map[reflect.Type]*shape) *shape {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if s := known[t]; s != nil {
		return s
	}
	s := &shape{}
	known[t] = s
	p := reflect.PointerTo(t)
	s.opaque = p.Implements(jsonUnmarshaler) || p.Implements(textUnmarshaler)
	switch k := t.Kind(); k {
	case reflect.Interface:
		s.sort = k
	case reflect.Struct:
		if s.sort = k; !s.opaque {
			s.fields = readFields(t, known)
		}
	case reflect.Map, reflect.Slice:
		s.sort, s.elem = k, readShape(t.Elem(), known)
	case reflect.Array:
		s.sort, s.elem, s.length = k, readShape(t.Elem(), known), t.Len()
	}
	return s
}

// readFields lists the fields of a struct under their JSON names, embedded ones
// included, in the order they are declared.
func readFields(t reflect.Type, known map[reflect.Type]*shape) []jsonField {
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
				fields = append(fields, readFields(inner, known)...)
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
		fields = append(fields, jsonField{name, slices.Contains(words, "omitempty") || slices.Contains(words, "omitzero"), readShape(f.Type, known)})
	}
	return fields
}

// misfit is what is wrong at a place in a document; the place is put together on the way out.
type misfit struct {
	what string
	at   []string // from the inside out: .key of a member, [0] of an item
}

func (m *misfit) in(key string) *misfit { m.at = append(m.at, "."+key); return m }

func (m *misfit) item(i int) *misfit { m.at = append(m.at, "["+strconv.Itoa(i)+"]"); return m }

func (m *misfit) Error() string {
	if len(m.at) == 0 {
		return "decode: " + m.what
	}
	at := slices.Clone(m.at)
	slices.Reverse(at)
	return strings.TrimPrefix(strings.Join(at, ""), ".") + ": " + m.what
}

var null = []byte("null")

// holds compares canonical JSON with a shape; nil where it fits.
func (s *shape) holds(raw []byte) *misfit {
	if s.sort != reflect.Interface && bytes.Equal(raw, null) {
		return &misfit{what: "null, a value is wanted"}
	}
	if s.opaque {
		return nil
	}
	switch {
	case s.sort == reflect.Struct && raw[0] == '{':
		return s.holdsStruct(raw)
	case s.sort == reflect.Map && raw[0] == '{':
		for in, key, value := firstPart(raw); value != nil; key, value = in.next() {
			if m := s.elem.holds(value); m != nil {
				return m.in(textOf(key))
			}
		}
	case (s.sort == reflect.Slice || s.sort == reflect.Array) && raw[0] == '[':
		n := 0
		for in, _, value := firstPart(raw); value != nil; _, value = in.next() {
			n++
		}
		if s.sort == reflect.Array && n != s.length {
			return &misfit{what: fmt.Sprintf("%d values, exactly %d are wanted", n, s.length)}
		}
		n = 0
		for in, _, value := firstPart(raw); value != nil; _, value = in.next() {
			if m := s.elem.holds(value); m != nil {
				return m.item(n)
			}
			n++
		}
	}
	return nil
}

// holdsStruct looks for what is unknown first, then at each field in turn.
func (s *shape) holdsStruct(raw []byte) *misfit {
	var room [24][]byte
	values := room[:min(len(s.fields), len(room))]
	if len(s.fields) > len(room) {
		values = make([][]byte, len(s.fields))
	}
	for in, key, value := firstPart(raw); value != nil; key, value = in.next() {
		at := slices.IndexFunc(s.fields, func(f jsonField) bool { return string(key[1:len(key)-1]) == f.name })
		if at < 0 {
			var known []string
			for _, f := range s.fields {
				known = append(known, f.name)
			}
			return (&misfit{what: "unknown; accepted are " + strings.Join(known, ", ")}).in(textOf(key))
		}
		values[at] = value
	}
	for i, f := range s.fields {
		value := values[i]
		switch {
		case value == nil && f.optional:
			continue
		case value == nil:
			return (&misfit{what: "missing"}).in(f.name)
		case bytes.Equal(value, null):
			return (&misfit{what: "null, a value is wanted"}).in(f.name)
		}
		if m := f.shape.holds(value); m != nil {
			return m.in(f.name)
		}
	}
	return nil
}

// textOf is the text that a key with its quotes stands for.
func textOf(key []byte) string {
	var text string
	if err := json.Unmarshal(key, &text); err != nil {
		return string(key)
	}
	return text
}

// parts goes through the members of an object, or the items of a list, in canonical JSON.
type parts struct {
	raw []byte
	i   int
}

func firstPart(raw []byte) (p parts, key, value []byte) {
	p = parts{raw, 1}
	key, value = p.next()
	return p, key, value
}

// next is the key of a member as it is written, and its value; nil behind the last.
func (p *parts) next() (key, value []byte) {
	if p.i >= len(p.raw)-1 {
		return nil, nil
	}
	if p.raw[0] == '{' {
		end := valueEnd(p.raw, p.i)
		key, p.i = p.raw[p.i:end], end+1
	}
	end := valueEnd(p.raw, p.i)
	value = p.raw[p.i:end]
	p.i = end + 1 // over the comma
	return key, value
}

// valueEnd is the end of the value that begins at i.
func valueEnd(raw []byte, i int) int {
	for deep := 0; i < len(raw); i++ {
		switch raw[i] {
		case '"':
			for i++; raw[i] != '"'; i++ {
				if raw[i] == '\\' {
					i++
				}
			}
		case '{', '[':
			deep++
			continue
		case '}', ']':
			if deep == 0 {
				return i // of the number or the word before
			}
			deep--
		case ',':
			if deep == 0 {
				return i
			}
			continue
		default:
			continue
		}
		if deep == 0 {
			return i + 1
		}
	}
	return i
}
