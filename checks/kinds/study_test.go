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
	if len(taps.Pct) != 5 || len(taps.Pct[0]) != 5 || taps.Allowed == nil || *taps.Allowed != 10 {
		t.Fatalf("taps %+v: want 5 by 5 with 10 %% allowed", taps)
	}
	// |E_A − E_B|/|Z_A + Z_B| over 800 kVA at 420 V, by complex arithmetic in python.
	for _, c := range []struct {
		row, col int
		want     float64
	}{{0, 1, 23.702900}, {0, 4, 102.296726}, {2, 2, 0}} {
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
	p := loadStudyPlan(t, "- id: T1\n      rating: 800 kVA", "- id: T1\n      rating: 1000 kVA", "impedance: 4.8 %", "impedance: 5 %", "load_loss: 8.2 kW", "load_loss: 10 kW",
		"- id: T2\n      rating: 800 kVA", "- id: T2\n      rating: 1500 kVA", "impedance: 5.0 %", "impedance: 8 %", "load_loss: 8.4 kW", "load_loss: 24 kW")
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
	p := loadStudyPlan(t, "group: Dyn11\n      impedance: 5.0 %", "group: Dyn3\n      impedance: 5.0 %")
	f := Studies(p)[0].Findings[0]
	if f.OK || !strings.Contains(f.Text, "clock number") {
		t.Errorf("groups Dyn11 and Dyn3: %+v", f)
	}
	// A 120° clash drives √3 times one side's volts round the loop: many times rated.
	if pct := Studies(p)[0].Taps.Pct[0][0]; !(pct > 1000) {
		t.Errorf("circulating current of clashing groups %v %%", pct)
	}
}

func TestStudies_faultAndVolts(t *testing.T) {
	s := Studies(loadStudyPlan(t, "short_time: 50 kA", "short_time: 40 kA"))[0]
	if len(s.Faults) != 3 || s.Faults[2].OK || !s.Faults[0].OK {
		t.Errorf("faults %+v: both in should exceed 40 kA, one alone should not", s.Faults)
	}
	// 11 kV on 11.55/0.42 kV gives 400 V; 11.1 kV on 10.45 kV gives 446.12 V (by hand).
	if len(s.Volts) != 10 || !(math.Abs(s.Volts[0].Usual-400) <= 1e-9) || !(math.Abs(s.Volts[4].High-446.1244019) <= 1e-6) {
		t.Errorf("volts %+v", s.Volts)
	}
}
