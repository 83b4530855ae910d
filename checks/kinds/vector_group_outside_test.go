package kinds

import (
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"slices"
	"strings"
	"testing"

	"handback/checks"
	"handback/checks/plan"
	"handback/testdata/cases"
	"handback/testdata/outside"
)

// tiedScript reads transformers of every clock number with 1U and 2U tied: the low voltage
// is the high one with its positive sequence turned back and its negative one forwards.
const tiedScript = `
import json, sys
import numpy as np
a = np.exp(2j * np.pi / 3)
M = np.array([[1, 1, 1], [1, a**2, a], [1, a, a**2]])
feeds = {"three-phase": {"": [236, 226 * np.exp(-2.06j), 231 * np.exp(2.16j)]}, "single-phase": {"uv_": [205, -195, 15], "uw_": [190, -10, -210]}}
out = []
for supply, ways in feeds.items():
    for clock in range(12):
        for crossed in (False, True):
            r = {}
            for prefix, h in ways.items():
                h = np.array(h, dtype=complex)
                _, p, n = np.linalg.solve(M, h)
                turn = np.exp(-1j * np.pi / 6 * clock)
                low = M @ np.array([0, p * turn, n * np.conj(turn)]) * 433 / 11000
                if crossed: low = low[[0, 2, 1]]
                h, low = h - h[0], low - low[0]
                values = [h[0] - h[1], h[1] - h[2], h[2] - h[0]] + [h[i] - low[j] for i in (1, 2) for j in (1, 2)]
                for key, x in zip(["hv_uv", "hv_vw", "hv_wu", "vv", "vw", "wv", "ww"], values): r[prefix + key] = "%.2f" % abs(x)
            out.append(dict(supply=supply, clock=clock, crossed=crossed, readings=r))
json.dump(out, sys.stdout)
`

// Whatever stands on the plate, a transformer is found as what it is: 24 ways to stand by
// two supplies, unbalanced ones, on the plates of all windings.
func TestOutside_numpyVectorGroup(t *testing.T) {
	python := outside.Tool(t, "/usr/bin/python3", "-c", "import numpy")
	cmd := exec.Command(python, "-c", tiedScript)
	cmd.Stderr = os.Stderr
	output, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var stood []struct {
		Supply   string
		Clock    int
		Crossed  bool
		Readings map[string]string
	}
	if err := json.Unmarshal(output, &stood); err != nil {
		t.Fatal(err)
	}
	if len(stood) != 48 {
		t.Fatalf("%d transformers", len(stood))
	}
	f := cases.Read(t, "vector-group")
	passed := 0
	for _, s := range stood {
		for _, plate := range []string{"Dyn11", "YNd1", "Yyn0", "Dd6", "Yzn7"} {
			answers := map[string]any{"meter": "dmm"}
			for k, v := range s.Readings {
				answers[k] = v
			}
			trial, err := plan.LoadTrial("vector-group.json", f.Trial(t, map[string]any{"plant.transformers.0.group": plate, "given.supply": s.Supply, "answers": answers}))
			if err != nil {
				t.Fatal(err)
			}
			in, got, err := checks.JudgeTrial(trial)
			if err != nil {
				t.Fatal(err)
			}
			stands := fmt.Sprintf("%s%d", strings.TrimRight(plate, "0123456789"), s.Clock)
			reasons := strings.Join(cases.ToldReasons(in.Check.Kind, got), "\n")
			want := "reads as " + stands + ", and not as"
			switch even := s.Clock%2 == 0; {
			case s.Crossed:
				want = "reads as no group, two terminals"
			case even != slices.Contains([]string{"Yyn0", "Dd6"}, plate):
				want = fmt.Sprintf("reads as clock number %d, which", s.Clock)
			case stands == plate:
				want = "reads as " + plate + ", and as no other"
				passed++
			}
			if (got.Verdict == checks.Pass) != (stands == plate && !s.Crossed) || got.Verdict == checks.Inconclusive || !strings.Contains(reasons, want) {
				t.Errorf("%s, clock %d, crossed %v, plate %s: %s, %s; want %q", s.Supply, s.Clock, s.Crossed, plate, got.Verdict, reasons, want)
			}
		}
	}
	if passed != 10 {
		t.Errorf("%d of 10 plates were right", passed)
	}
}
