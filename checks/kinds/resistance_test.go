package kinds_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"handback/checks"
	"handback/checks/calc"
)

// One meter's error as a share of the reading moves a single value by that share,
// and quotients of its readings not at all (JCGM 100:2008 F.1.2.3), for readings
// drawn at random.
func TestResistance_commonError(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range 40 {
		share := 0.05 + 2*rng.Float64() // %
		U := share / 100                // no error is larger than the maker's limit
		ranges := func(to string) []any {
			return []any{tree{"to": to, "reading": fmt.Sprintf("%v %%", share)}}
		}
		draw := func(around float64) string { return number(around * (0.9 + 0.2*rng.Float64())) }

		f := tried(t, ranges("1000 1"), "ratio", "Dyn11", 11000, 11000, 433, tree{"transformer": "T"}, tree{"meter": "m", "l1": draw(44), "l2": draw(44), "l3": draw(44)})
		for _, key := range []string{"l1", "l2", "l3"} {
			d, n := value(t, f, "deviation_"+key), value(t, f, "nominal")
			spreads(t, i, "deviation", d, U*(100+d.Value)) // d + 100 % is the reading over nominal
			spreads(t, i, "nominal", n, 0)
		}

		f = tried(t, ranges("1 kΩ"), "winding-resistance", "Dyn11", 11000, 11000, 433, tree{"transformer": "T", "winding": "hv", "material": "copper"},
			tree{"meter": "m", "temp": "20", "l1l2": draw(0.8), "l2l3": draw(0.8), "l3l1": draw(0.8)})
		spreads(t, i, "spread of a winding", value(t, f, "spread"), 0)
		d := value(t, f, "ref_l1l2")
		spreads(t, i, "ohms whose thermometer's accuracy is not known, in part", d, U*d.Value)
		if d.Known != calc.KnownPart {
			t.Errorf("%d: %v of U is known though no thermometer's accuracy is", i, d.Known)
		}

		f = tried(t, ranges("1 TΩ"), "insulation", "Dyn11", 11000, 11000, 433, tree{"plant": "other", "volts": "1 kV", "minimum": "1 MΩ", "times": []any{"60 s", "600 s"},
			"combinations": []any{tree{"id": "a", "name": "core"}}}, tree{"meter": "m", "temp": "20", "a_volts": "1000", "a_r60": draw(900), "a_r600": draw(2000), "discharged": "yes"})
		r60 := value(t, f, "r60_a")
		spreads(t, i, "insulation", r60, U*r60.Value)
		spreads(t, i, "polarisation index", value(t, f, "polarisation_a"), 0)

		f = tried(t, ranges("1 Ω"), "contact-resistance", "Dyn11", 11000, 11000, 433, tree{"groups": []any{tree{"group": "joints", "maximum": "1 mΩ",
			"joints": []any{tree{"id": "a", "name": "a"}, tree{"id": "b", "name": "b"}}}}}, tree{"meter": "m", "a_ohms": draw(20), "b_ohms": draw(20)})
		a := value(t, f, "ohms_a")
		spreads(t, i, "joint", a, U*a.Value)
		spreads(t, i, "resistance ÷ lowest", value(t, f, "times_b"), 0)
	}
}

func value(t *testing.T, f checks.Finding, key string) checks.Derived {
	t.Helper()
	d, ok := f.Value(key)
	if !ok {
		t.Fatalf("no derived value %s; %q", key, f.Reasons)
	}
	return d
}

func spreads(t *testing.T, i int, name string, d checks.Derived, want float64) {
	t.Helper()
	if !(math.Abs(d.U-want) <= 1e-9*math.Max(1, math.Abs(d.Value))) {
		t.Errorf("%d: %s %v has U %v, want %v", i, name, d.Value, d.U, want)
	}
}
