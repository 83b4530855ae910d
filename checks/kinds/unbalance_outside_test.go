package kinds

import (
	"encoding/json"
	"fmt"
	"math/cmplx"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"testing"

	"handback/checks/power"
	"handback/testdata/outside"
)

// phasorScript works the sequence components of three phasors with numpy, by the matrix and not by our formulas.
const phasorScript = `
import json, sys
import numpy as np
a = np.exp(2j * np.pi / 3)
to_sequence = np.linalg.inv(np.array([[1, 1, 1], [1, a**2, a], [1, a, a**2]]))
out = []
for re, im in json.load(sys.stdin):
    v = np.array(re) + 1j * np.array(im)
    zero, pos, neg = np.abs(to_sequence @ v)
    line = np.abs(v - np.roll(v, -1))
    out.append(dict(ll=line.tolist(), ln=np.abs(v).tolist(), u2=neg / pos, u0=zero / pos, dev=np.max(np.abs(line / line.mean() - 1))))
json.dump(out, sys.stdout)
`

func TestOutside_numpyUnbalance(t *testing.T) {
	outside.Long(t)
	python := outside.Tool(t, "/usr/bin/python3", "-c", "import numpy")
	source := rand.New(rand.NewPCG(1, 2)) // a fixed seed: the same systems on every run
	var phasors [][2][3]float64
	for range 200 {
		var p [2][3]float64
		u1 := 200 + 60*source.Float64()
		u2 := power.Polar(u1*0.3*source.Float64(), 360*source.Float64())
		u0 := power.Polar(u1*0.5*source.Float64(), 360*source.Float64())
		for i := range 3 {
			turn := power.Polar(1, -120*float64(i))
			v := complex(u1, 0)*turn + u2*cmplx.Conj(turn) + u0
			p[0][i], p[1][i] = real(v), imag(v)
		}
		phasors = append(phasors, p)
	}
	input, err := json.Marshal(phasors)
	if err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(python, "-c", phasorScript)
	cmd.Stdin = strings.NewReader(string(input))
	cmd.Stderr = os.Stderr
	output, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var want []struct {
		LL, LN      [3]float64
		U2, U0, Dev float64
	}
	if err := json.Unmarshal(output, &want); err != nil {
		t.Fatal(err)
	}
	if len(want) != len(phasors) {
		t.Fatalf("%d answers for %d systems", len(want), len(phasors))
	}
	for i, w := range want {
		u2, deviation := unbalanceOf(w.LL)
		wantNear(t, fmt.Sprint(i, " u2"), u2, 100*w.U2, 1e-3*w.U2)
		wantNear(t, fmt.Sprint(i, " deviation"), deviation, 100*w.Dev, 1e-3*w.Dev)
		wantNear(t, fmt.Sprint(i, " u0"), neutralOff(true)(append(w.LL[:], w.LN[:]...)), 100*w.U0, 1e-3*w.U0)
	}
}
