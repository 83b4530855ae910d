package kinds

import (
	"strings"
	"testing"
)

func TestPredictLoadShare(t *testing.T) {
	incomers := []any{map[string]any{"transformer": "T1", "side": "A"}, map[string]any{"transformer": "T2", "side": "B"}}
	// 1000 kVA 5 % with 1500 kVA 8 %: the second carries 937.5 for each 1000 of the first (printed exercise), so of 2500 kVA
	// 1290.3 and 1209.7 kVA: 1862 A, 129 % and 1746 A, 80.65 % at 400 V; 110 % of 1443.4 A is 1587.7 A.
	p, c := plates(t, map[string]any{"check": "share", "kind": "load-share", "answers": map[string]any{},
		"given": map[string]any{"incomers": incomers, "returning": "T2", "after_limit": "110 %"}},
		[5]float64{1000, 5, 0.1, 400, 11000}, [5]float64{1500, 8, 0.1, 400, 11000})
	said := predictions(p, c)
	for _, want := range []string{
		"! share of load, T1: 1862 A, 129 % of its rating, of a load of 2500 kVA",
		"  share of load, T2: 1746 A, 80.65 % of its rating",
		"  maximum load in parallel: 2797 A, 1937.5 kVA",
		"  after opening, T1: at most 1587.71 A (110 % of the rated current of T1, plan)",
	} {
		if !strings.Contains(said, want) {
			t.Errorf("predictions do not say %q:\n%s", want, said)
		}
	}
}

// Of a generator no share is foretold, which is no fault of the plan; what it may carry
// after opening is, 500 kVA/(√3·400 V) = 721.69 A.
func TestLoadSharePredict_generator(t *testing.T) {
	got := predicted(t, "load-share", map[string]any{"plant.incomers": []any{map[string]any{"id": "G1", "rated": "400 V", "rating": "500 kVA"}}, "given.returning": "G1",
		"given.incomers.1": map[string]any{"incomer": "G1", "side": "B"}, "answers": map[string]any{}})
	for _, says := range []string{"share of load: G1 is no transformer", "after opening, T1: at most 1099.71 A", "after opening, G1: at most 721.688 A"} {
		if !strings.Contains(got, says) {
			t.Errorf("predicts\n%s\nwant %q", got, says)
		}
	}
	if strings.Contains(got, "! ") {
		t.Errorf("a warning stands in\n%s", got)
	}
}
