package checks

import (
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"slices"
	"testing"

	"handback/checks/calc"
	"handback/testdata/outside"
)

const (
	conformityFile   = "../testdata/reference/conformity.json"
	conformityScript = "../testdata/reference/conformity.py"
)

type conformityReference struct {
	Cases []struct {
		Value     float64
		Halves    []float64
		Low, High *float64
		ChanceOut float64 `json:"chance_out"`
		True      float64
	}
}

func readConformity(t *testing.T, data []byte) conformityReference {
	t.Helper()
	var r conformityReference
	if err := json.Unmarshal(data, &r); err != nil {
		t.Fatal(err)
	}
	if len(r.Cases) == 0 {
		t.Fatal("no reference values")
	}
	return r
}

// The chance of being out against scipy's uniform and beta distributions (JCGM
// 106:2012, 7), and within 1 % of what the rectangles themselves give by convolution,
// which a single reading and what lies beyond the sum of the half-widths meets.
func TestChanceOut_scipy(t *testing.T) {
	data, err := os.ReadFile(conformityFile)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range readConformity(t, data).Cases {
		l := *Between(math.NaN(), math.NaN(), "")
		if c.Low != nil {
			l.Low = *c.Low
		}
		if c.High != nil {
			l.High = *c.High
		}
		s := rectangles(c.Halves)
		got := chanceOut(c.Value, s, l)
		if !(math.Abs(got-c.ChanceOut) <= calc.LeastChance+1e-9*c.ChanceOut) || got != 0 && got < calc.LeastChance {
			t.Errorf("%v ± %v against %v to %v: chance %v, scipy %v", c.Value, s, l.Low, l.High, got, c.ChanceOut)
		}
		near := 0.01
		if len(c.Halves) == 1 {
			near = 1e-9
		}
		if !(math.Abs(got-c.True) <= near) {
			t.Errorf("%v ± %v against %v to %v: chance %v, by convolution %v", c.Value, s, l.Low, l.High, got, c.True)
		}
	}
}

// rectangles is the spread of a sum of independent rectangles of these half-widths.
func rectangles(halves []float64) calc.Spread {
	s, squares := calc.Spread{}, 0.0
	for _, a := range halves {
		s.Most += a
		squares += a * a
	}
	s.Standard = math.Sqrt(squares / 3)
	s.U = math.Min(2*s.Standard, s.Most)
	return s
}

// The committed values are what the script gives today.
func TestChanceOut_scipyAnew(t *testing.T) {
	outside.Long(t)
	python := outside.Tool(t, "/usr/bin/python3", "-c", "import scipy.stats")
	fresh, err := exec.Command(python, conformityScript).Output()
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(conformityFile)
	if err != nil {
		t.Fatal(err)
	}
	was, is := readConformity(t, data).Cases, readConformity(t, fresh).Cases
	if len(was) != len(is) {
		t.Fatalf("%d cases committed, %d made anew", len(was), len(is))
	}
	for i := range was {
		if !(math.Abs(was[i].ChanceOut-is[i].ChanceOut) <= 1e-12) || was[i].Value != is[i].Value || !slices.Equal(was[i].Halves, is[i].Halves) {
			t.Errorf("case %d: committed %+v, made anew %+v", i+1, was[i], is[i])
		}
	}
}
