// Package cases makes trials of the files in this folder: a base and what each
// case sets otherwise.
package cases

import (
	"encoding/json"
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// Trial is the base of a file with some of its values set. A path in set is dotted;
// answers, given and kept belong to the last check; nil takes a value away.
func Trial(base, set map[string]any) (map[string]any, error) {
	data, err := json.Marshal(base)
	if err != nil {
		return nil, err
	}
	var tree map[string]any
	if err := json.Unmarshal(data, &tree); err != nil {
		return nil, err
	}
	list, ok := tree["checks"].([]any)
	if !ok || len(list) == 0 {
		return nil, errors.New("base has no checks")
	}
	last := list[len(list)-1].(map[string]any)
	for path, v := range set {
		root := any(tree)
		switch strings.Split(path, ".")[0] {
		case "answers", "given", "kept":
			root = last
		}
		if err := put(root, strings.Split(path, "."), v); err != nil {
			return nil, fmt.Errorf("set %s: %w", path, err)
		}
	}
	return tree, nil
}

func put(node any, path []string, v any) error {
	switch n := node.(type) {
	case map[string]any:
		if len(path) == 1 {
			if v == nil {
				delete(n, path[0])
			} else {
				n[path[0]] = v
			}
			return nil
		}
		if n[path[0]] == nil {
			n[path[0]] = map[string]any{}
		}
		return put(n[path[0]], path[1:], v)
	case []any:
		i, err := strconv.Atoi(path[0])
		if err != nil || i < 0 || i >= len(n) {
			return fmt.Errorf("no item %s", path[0])
		}
		if len(path) == 1 {
			n[i] = v
			return nil
		}
		return put(n[i], path[1:], v)
	}
	return fmt.Errorf("%s is not inside a list or a mapping", path[0])
}
