// Package schemas holds the JSON Schemas of this program as they are printed, and holds
// documents against them, for tests.
package schemas

import (
	"bytes"
	"fmt"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// Fits tells why a JSON document does not fit a JSON Schema, nil when it does. The
// schema is itself held against that of schemas.
func Fits(schema, document []byte) error {
	about, err := jsonschema.UnmarshalJSON(bytes.NewReader(schema))
	if err != nil {
		return fmt.Errorf("schema: %w", err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	c.AssertFormat()
	id, _ := about.(map[string]any)["$id"].(string)
	if err := c.AddResource(id, about); err != nil {
		return fmt.Errorf("schema: %w", err)
	}
	s, err := c.Compile(id)
	if err != nil {
		return fmt.Errorf("schema: %w", err)
	}
	v, err := jsonschema.UnmarshalJSON(bytes.NewReader(document))
	if err != nil {
		return err
	}
	return s.Validate(v)
}
