package kinds

import (
	"testing"

	"handback/checks/plan"
)

// An insulation class tells that the transformer that has it is dry, and no other.
func TestInsulation_solid(t *testing.T) {
	p := &plan.Plan{}
	p.Plant.Transformers = []plan.Transformer{{ID: "T1", Class: "F"}, {ID: "T2"}}
	for _, c := range []struct {
		plant, transformer string
		want               bool
	}{
		{anyTransformer, "T1", true}, {anyTransformer, "T2", false}, {anyTransformer, "", true},
		{dryTransformer, "T2", true}, {liquidTransformer, "T1", false},
	} {
		g := &insulation{Plant: c.plant, Transformer: c.transformer}
		if got := g.solid(p); got != c.want {
			t.Errorf("%s %s: solid %v", c.plant, c.transformer, got)
		}
	}
}
