package power_test

import (
	"encoding/json"
	"fmt"
	"math"
	"math/cmplx"
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"handback/checks/power"
	"handback/testdata/outside"
)

// spiceCase is one pair of systems solved by ngspice; see testdata/reference/cross_spice.py.
type spiceCase struct {
	Name   string        `json:"name"`
	Fault  string        `json:"fault"`
	Perm   [3]int        `json:"perm"`
	Turn   float64       `json:"turn_deg"`
	Dead   *int          `json:"dead"`
	A      [3][2]float64 `json:"a"`
	B      [3][2]float64 `json:"b"`
	PhaseA [3]float64    `json:"a_ln"`
	LineA  [3]float64    `json:"a_ll"`
	Cross  [3][3]float64 `json:"cross"`
}

var referenceDir = filepath.Join("..", "..", "testdata", "reference")

func readSpiceCases(t *testing.T, raw []byte) []spiceCase {
	t.Helper()
	var f struct {
		Source string      `json:"source"`
		Cases  []spiceCase `json:"cases"`
	}
	if err := json.Unmarshal(raw, &f); err != nil {
		t.Fatal(err)
	}
	if f.Source == "" || len(f.Cases) == 0 {
		t.Fatalf("source %q, %d cases", f.Source, len(f.Cases))
	}
	return f.Cases
}

func committedSpiceCases(t *testing.T) []spiceCase {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join(referenceDir, "cross.json"))
	if err != nil {
		t.Fatal(err)
	}
	return readSpiceCases(t, raw)
}

// The phasors found from what nine voltmeters read are those of the network.
func TestJudgeCross_ngspice(t *testing.T) {
	faults := map[string]power.CrossFault{"in phase": power.CrossInPhase, "crossed": power.CrossSwapped, "rolled": power.CrossRolled,
		"displaced": power.CrossDisplaced, "not tied": power.CrossOffset, "dead": power.CrossDead}
	seen := map[string]bool{}
	for _, c := range committedSpiceCases(t) {
		seen[c.Fault] = true
		t.Run(c.Name, func(t *testing.T) {
			want, ok := faults[c.Fault]
			if !ok {
				t.Fatalf("fault %q is not known here", c.Fault)
			}
			got := must[power.CrossFinding](t)(power.JudgeCross(power.CrossVolts{LineA: c.LineA, Across: c.Cross, PhaseA: c.PhaseA}, crossTolerance))
			if got.Fault != want || !got.Mapped || got.Perm != c.Perm {
				t.Errorf("fault %d, mapping %v (known: %v), want %d and %v", got.Fault, got.Perm, got.Mapped, want, c.Perm)
			}
			if c.Dead != nil && got.State[*c.Dead] != power.CrossAtNeutral {
				t.Errorf("conductor %d is in state %d, want dead", *c.Dead+1, got.State[*c.Dead])
			}
			var a, b [3]complex128
			for i := range 3 {
				a[i], b[i] = complex(c.A[i][0], c.A[i][1]), complex(c.B[i][0], c.B[i][1])
			}
			_, pos, _ := power.Sequence(a)
			turn := cmplx.Conj(pos) / complex(cmplx.Abs(pos), 0) // our frame has A's positive sequence at 0°
			for i := range 3 {
				withinZ(t, fmt.Sprint("A ", i+1), got.Fit.A[i], a[i]*turn, outsideTolerance*cmplx.Abs(pos))
				withinZ(t, fmt.Sprint("B ", i+1), got.Fit.B[i], b[i]*turn, outsideTolerance*cmplx.Abs(pos))
			}
			within(t, "displacement", got.Turn, c.Turn, 1) // what was asked of the sources, before their phases were made uneven
			if c.Dead == nil {
				within(t, "offset", got.Offset, cmplx.Abs(b[0]+b[1]+b[2])/3, outsideTolerance*cmplx.Abs(pos))
			}
		})
	}
	for fault := range faults {
		if !seen[fault] {
			t.Errorf("no case is %s", fault)
		}
	}
}

// The committed figures are those ngspice gives today.
func TestOutside_ngspiceCross(t *testing.T) {
	outside.Tool(t, "ngspice")
	python := outside.Tool(t, "/usr/bin/python3", "-c", "import json")
	cmd := exec.Command(python, "-B", filepath.Join(referenceDir, "cross_spice.py"))
	cmd.Stderr = os.Stderr
	raw, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	fresh, committed := readSpiceCases(t, raw), committedSpiceCases(t)
	if len(fresh) != len(committed) {
		t.Fatalf("%d cases, %d are committed", len(fresh), len(committed))
	}
	for n, f := range fresh {
		c := committed[n]
		if f.Name != c.Name || f.Fault != c.Fault || f.Perm != c.Perm || f.Turn != c.Turn {
			t.Errorf("case %d is %q (%s), committed %q (%s)", n, f.Name, f.Fault, c.Name, c.Fault)
		}
		scale := math.Max(f.LineA[0], 1)
		for i := range 3 {
			within(t, f.Name+" line volts", f.LineA[i], c.LineA[i], outsideTolerance*scale)
			within(t, f.Name+" phase volts", f.PhaseA[i], c.PhaseA[i], outsideTolerance*scale)
			for k := range 2 {
				within(t, f.Name+" A", f.A[i][k], c.A[i][k], outsideTolerance*scale)
				within(t, f.Name+" B", f.B[i][k], c.B[i][k], outsideTolerance*scale)
			}
			for j := range 3 {
				within(t, fmt.Sprintf("%s %d to %d", f.Name, i+1, j+1), f.Cross[i][j], c.Cross[i][j], outsideTolerance*scale)
			}
		}
	}
}
