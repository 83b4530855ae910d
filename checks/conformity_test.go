package checks

import (
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"testing"

	"handback/testdata/outside"
)

const (
	conformityFile   = "../testdata/reference/conformity.json"
	conformityScript = "../testdata/reference/conformity.py"
)

type conformityReference struct {
	Cases []struct {
		Value, U  float64
		Low, High *float64
		ChanceOut float64 `json:"chance_out"`
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

// The chance of being out against scipy's normal distribution (JCGM 106:2012, 7).
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
		if got := chanceOut(c.Value, c.U, l); !(math.Abs(got-c.ChanceOut) <= 1e-12+1e-9*c.ChanceOut) {
			t.Errorf("%v ± %v against %v to %v: chance %v, scipy %v", c.Value, c.U, l.Low, l.High, got, c.ChanceOut)
		}
	}
}

// The committed values are what the script gives today.
func TestChanceOut_scipyAnew(t *testing.T) {
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
		if !(math.Abs(was[i].ChanceOut-is[i].ChanceOut) <= 1e-12) || was[i].Value != is[i].Value || was[i].U != is[i].U {
			t.Errorf("case %d: committed %+v, made anew %+v", i+1, was[i], is[i])
		}
	}
}
