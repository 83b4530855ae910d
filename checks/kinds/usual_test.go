package kinds

import (
	"slices"
	"strings"
	"testing"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// The words of a key and the sources of its kind name the limit that stands in.
func TestUsualLimits(t *testing.T) {
	if len(usualLimits) == 0 {
		t.Fatal("no usual limits")
	}
	for path, u := range usualLimits {
		name, key, _ := strings.Cut(path, ".")
		k := checks.KindNamed(name)
		if k == nil {
			t.Errorf("%s: no such kind", path)
			continue
		}
		keys := k.Parameters()
		i := slices.IndexFunc(keys, func(p plan.Parameter) bool { return p.Name == key })
		value := strings.TrimSpace(quantity.Significant(u.limit, 3) + " " + u.unit)
		if i < 0 || !strings.Contains(keys[i].Doc, "; "+value+" when n") {
			t.Errorf("%s: the words of the key do not say %q stands in: %v", path, value, keys)
		}
		if !strings.Contains(strings.Join(k.Sources, "; "), " "+value) {
			t.Errorf("%s: the sources do not name %q: %q", path, value, k.Sources)
		}
	}
}
