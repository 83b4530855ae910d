package fork

import (
	"encoding/json"
	"maps"
	"reflect"
	"time"

	"handback/records/chain"
)

// sameWithin is how far apart what was typed on two devices may be in time and be the same
// (our choice): as far as their clocks may stand from one another.
const sameWithin = 10 * time.Minute

// aside are members that say nothing of what was read or done, by the kind of the entry.
var aside = map[string][]string{
	"read": {"attempt", "why", "past_hold", "typed", "from"}, "correct": {"attempt", "why", "typed", "from"},
	"step": {"taken"}, "undo": {"done"}, "found": {"seen"}, "defect": {"defect"}, "remark": {"remark", "about", "attempt"},
}

// Same is the entry of a line behind a number that says the same as one of another
// continuation, 0 for none: of the same check, with the same instrument, values and time; the
// same step; or that entry itself, adopted.
func Same(line []chain.Entry, after int, e chain.Entry) int {
	is, err := Inner(e)
	if err != nil {
		return 0
	}
	var said any
	if json.Unmarshal(is.Data, &said) != nil {
		return 0
	}
	said = bare(said, aside[is.Kind])
	for _, here := range line[min(after, len(line)):] {
		was, err := Inner(here)
		if err != nil {
			continue
		}
		if was.Hash == is.Hash {
			return here.Seq
		}
		var other any
		if was.Kind != is.Kind || was.Check != is.Check || was.At.Sub(is.At).Abs() > sameWithin || json.Unmarshal(was.Data, &other) != nil {
			continue
		}
		if reflect.DeepEqual(said, bare(other, aside[is.Kind])) {
			return here.Seq
		}
	}
	return 0
}

// bare is data without what is left aside, at every depth.
func bare(v any, aside []string) any {
	switch v := v.(type) {
	case map[string]any:
		out := maps.Clone(v)
		for _, name := range aside {
			delete(out, name)
		}
		for name, x := range out {
			out[name] = bare(x, aside)
		}
		return out
	case []any:
		out := make([]any, len(v))
		for i, x := range v {
			out[i] = bare(x, aside)
		}
		return out
	}
	return v
}
