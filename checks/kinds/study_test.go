package kinds

import (
	"math"
	"os"
	"strings"
	"testing"

	"handback/checks/plan"
)

func loadStudyPlan(t *testing.T, change ...string) *plan.Plan {
	t.Helper()
	data, err := os.ReadFile("../../testdata/demo/plan.yaml")
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Load("plan.yaml", []byte(strings.NewReplacer(change...).Replace(string(data))))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestStudies_circulating(t *testing.T) {
	s := Studies(loadStudyPlan(t))
	if len(s) != 1 || s[0].A != "T1" || s[0].B != "T2" {
		t.Fatalf("studies %+v: want one of T1 and T2", s)
	}
	taps := s[0].Taps
	if len(taps.Pct) != 3 || len(taps.Pct[0]) != 3 || taps.Allowed == nil || *taps.Allowed != 12 {
		t.Fatalf("taps %+v: want 3 by 3 with 12 %% allowed", taps)
	}
	// |E_A − E_B|/|Z_A + Z_B| over 400 kVA at 400 V, by complex arithmetic in python.
	for _, c := range []struct {
		row, col int
		want     float64
	}{{0, 1, 38.031122}, {0, 2, 78.012558}, {2, 2, 0}} {
		if got := taps.Pct[c.row][c.col]; !(math.Abs(got-c.want) <= 1e-5) {
			t.Errorf("taps %s and %s: %.6f %%, want %.6f", taps.A[c.row], taps.B[c.col], got, c.want)
		}
		if got, back := taps.Pct[c.row][c.col], taps.Pct[c.col][c.row]; !(math.Abs(got-back) <= 1e-9) {
			t.Errorf("the table is not the same both ways: %v and %v", got, back)
		}
	}
}

// Published: 1000 kVA of 5 % beside 1500 kVA of 8 % share 1937.5 kVA when the
// first is full, 1000 and 937.5; so of 2500 kVA the first takes 129.03 % of its
// rating and the second 80.65 % (handbook example, equal X/R).
func TestStudies_share(t *testing.T) {
	p := loadStudyPlan(t, "- id: T1\n      rating: 630 kVA", "- id: T1\n      rating: 1000 kVA", "impedance: 3.85 %", "impedance: 5 %", "load_loss: 8.1 kW", "load_loss: 10 kW",
		"- id: T2\n      rating: 400 kVA", "- id: T2\n      rating: 1500 kVA", "impedance: 3.97 %", "impedance: 8 %", "load_loss: 4.7 kW", "load_loss: 24 kW")
	s := Studies(p)[0]
	last := s.Shares[len(s.Shares)-1]
	if !(math.Abs(last.APct-129.0323) <= 1e-3) || !(math.Abs(last.BPct-80.6452) <= 1e-3) {
		t.Errorf("at both ratings %.4f %% and %.4f %%, want 129.0323 and 80.6452", last.APct, last.BPct)
	}
	for _, f := range s.Findings {
		if want := f.Name != "impedances"; f.OK != want {
			t.Errorf("%s: ok %v, want %v (%s)", f.Name, f.OK, want, f.Text)
		}
	}
}

func TestStudies_groupsClash(t *testing.T) {
	p := loadStudyPlan(t, "group: Dyn1\n      impedance: 3.97 %", "group: Dyn5\n      impedance: 3.97 %")
	f := Studies(p)[0].Findings[0]
	if f.OK || !strings.Contains(f.Text, "clock number") {
		t.Errorf("groups Dyn1 and Dyn5: %+v", f)
	}
	// A 120° clash drives √3 times one side's volts round the loop: many times rated.
	if pct := Studies(p)[0].Taps.Pct[0][0]; !(pct > 1000) {
		t.Errorf("circulating current of clashing groups %v %%", pct)
	}
}

func TestStudies_faultAndVolts(t *testing.T) {
	s := Studies(loadStudyPlan(t, "short_time: 80 kA", "short_time: 31.5 kA"))[0]
	if len(s.Faults) != 3 || s.Faults[2].OK || !s.Faults[0].OK {
		t.Errorf("faults %+v: both in should exceed 31.5 kA, one alone should not", s.Faults)
	}
	// 6.6 kV on 6.765/0.4 kV gives 390.24 V; 6.7 kV on 6.435 kV gives 416.47 V (by hand).
	if len(s.Volts) != 6 || !(math.Abs(s.Volts[0].Usual-390.2439024) <= 1e-6) || !(math.Abs(s.Volts[2].High-416.4724165) <= 1e-6) {
		t.Errorf("volts %+v", s.Volts)
	}
}
