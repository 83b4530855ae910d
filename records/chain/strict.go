package chain

import (
	"encoding/json"
	"errors"
	"fmt"
	"reflect"

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
	plain := data // in canonical form
	if end, ok := canonical(data, 0, 0); !ok || end != len(data) {
		// For what encoding/json lets through: repeated keys, bad UTF-8, lone surrogates.
		var err error
		if plain, err = jcs.Transform(data); err != nil {
			return fmt.Errorf("decode: %w", err)
		}
	}
	elem := target.Elem()
	if m := shapeOf(elem.Type()).holds(plain); m != nil {
		return m
	}
	fresh := reflect.New(elem.Type())
	if err := json.Unmarshal(data, fresh.Interface()); err != nil {
		return fmt.Errorf("decode: %w", err)
	}
	elem.Set(fresh.Elem())
	return nil
}
