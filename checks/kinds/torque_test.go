package kinds

import (
	"math"
	"math/big"
	"strings"
	"testing"

	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/testdata/cases"
)

// rat reads an exact decimal.
func rat(t *testing.T, s string) *big.Rat {
	t.Helper()
	r, ok := new(big.Rat).SetString(s)
	if !ok {
		t.Fatalf("%q is no number", s)
	}
	return r
}

// Factors are exact products of definitions: 1 lb = 0.453 592 37 kg, g = 9.806 65
// m/s², 1 ft = 0.3048 m, 1 in = 0.0254 m, 16 oz in a lb (NIST SP 811, 2008, B.8).
func TestTorqueFactorsAreExact(t *testing.T) {
	lbf := new(big.Rat).Mul(rat(t, "0.45359237"), rat(t, "9.80665"))
	if lbf.Cmp(rat(t, "4.4482216152605")) != 0 {
		t.Errorf("lbf is %s N, want 4.4482216152605 (NIST SP 811)", lbf.FloatString(16))
	}
	kgf, ozf := rat(t, "9.80665"), new(big.Rat).Quo(lbf, rat(t, "16"))
	for _, c := range []struct {
		unit       string
		force, arm *big.Rat
	}{
		{"N·m", rat(t, "1"), rat(t, "1")}, {"kN·m", rat(t, "1000"), rat(t, "1")},
		{"lbf·ft", lbf, rat(t, "0.3048")}, {"lbf·in", lbf, rat(t, "0.0254")},
		{"kgf·m", kgf, rat(t, "1")}, {"kgf·cm", kgf, rat(t, "0.01")}, {"ozf·in", ozf, rat(t, "0.0254")},
	} {
		want, _ := new(big.Rat).Mul(c.force, c.arm).Float64()
		q, err := quantity.ParseQuantity("1 "+c.unit, "torque", "")
		if err != nil || math.Float64bits(q.Value) != math.Float64bits(want) {
			t.Errorf("1 %s is %.17g N·m (%v), want the nearest number to the exact %.17g", c.unit, q.Value, err, want)
		}
	}
	if units := quantity.UnitsOf("torque"); len(units) != 7 {
		t.Errorf("%d torque units %v: a new one belongs into this test", len(units), units)
	}
}

// Worked conversions: 40 and 240 lbf·in (a maker's manual); and the negative
// lesson of one that prints 428 lbf·in as 22 N·m.
func TestTorqueConversions(t *testing.T) {
	for typed, want := range map[string]float64{"40 lbf.in": 4.519393, "240 lbf.in": 27.116359, "428 in lbf": 48.3575} {
		q, err := quantity.ParseQuantity(typed, "torque", "")
		if err != nil || !(math.Abs(q.Value-want) <= 5e-5) {
			t.Errorf("%s is %.7g N·m (%v), want %.7g", typed, q.Value, err, want)
		}
	}
}

// Stress areas printed in ISO 898-1 to three figures; those marked are from
// memory of it.
func TestStressAreas(t *testing.T) {
	areas := map[string]float64{
		"M6": 20.1, "M8": 36.6, "M10": 58.0, "M12": 84.3, "M16": 157, "M20": 245, "M24": 353,
		"M5": 14.2, "M14": 115, "M18": 192, "M22": 303, "M27": 459, "M30": 561, // from memory
	}
	if len(areas) != len(threads) {
		t.Fatalf("%d areas for %d sizes", len(areas), len(threads))
	}
	for size := range threads {
		got := bolt{Size: size}.stressArea()
		if want := areas[size]; quantity.Significant(got, 3) != quantity.Significant(want, 3) {
			t.Errorf("%s: %.5g mm², want %g to three figures", size, got, want)
		}
	}
}

// Proof stress of class 8.8: 580 MPa to 16 mm, 600 above (ISO 898-1).
func TestProofStress(t *testing.T) {
	for size, want := range map[string]float64{"M6": 580, "M16": 580, "M18": 600, "M24": 600} {
		if got := (bolt{Size: size, Class: "8.8"}).proof(); got != want {
			t.Errorf("%s 8.8: %g MPa, want %g", size, got, want)
		}
	}
	for class, stress := range proofStress {
		if !(stress > 0) || (bolt{Size: "M10", Class: class}).torque() <= 0 {
			t.Errorf("class %s: no proof stress", class)
		}
	}
}

// Stress area times proof stress gives the printed proof loads of ISO 898-1, coarse
// thread, N, within 0.7 % for their rounding and that of the areas; 0 where none is printed.
func TestProofLoads(t *testing.T) {
	classes := []string{"4.6", "4.8", "5.6", "5.8", "6.8", "8.8", "9.8", "10.9", "12.9"}
	for size, loads := range map[string][]float64{
		"M6":  {4520, 6230, 5630, 7640, 8840, 11600, 13100, 16700, 19500},
		"M10": {13000, 18000, 16200, 22000, 25500, 33700, 37700, 48100, 56300},
		"M16": {35300, 48700, 44000, 59700, 69100, 91000, 102000, 130000, 152000},
		"M24": {79400, 109000, 98800, 134000, 155000, 212000, 0, 293000, 342000},
	} {
		for i, want := range loads {
			b := bolt{Size: size, Class: classes[i]}
			if got := b.proof() * b.stressArea(); want > 0 && !(math.Abs(got/want-1) <= 0.007) {
				t.Errorf("%s %s: %.0f N, want %.0f", size, b.Class, got, want)
			}
		}
	}
}

// T = K·d·F: M12 8.8 at 70 % of proof, K 0.2 (engineering reference): 34 225.8 N,
// 82.14 N·m; and 0.334 in², 85 000 psi, 0.75 in, 85 %, K 0.2: 3619.73 lbf·in =
// 408.97 N·m (Wentzell, Machine Design, example 6.1).
func TestNutTorque(t *testing.T) {
	if got := nutTorque(0.2, 0.012, 34225.8); !(math.Abs(got-82.14) <= 0.005) {
		t.Errorf("M12 8.8 at 70 %%: %.4f N·m, want 82.14", got)
	}
	m12 := bolt{Size: "M12", Class: "8.8"}
	if got := m12.torque() * 0.70 / clampShare; !(math.Abs(got-82.14) <= 0.001*82.14) {
		t.Errorf("M12 8.8 by the formula, at 70 %%: %.3f N·m, want 82.14 within 0.1 %%, which the rounded area leaves", got)
	}
	inch := nutTorque(0.2, 0.75, 0.85*85000*0.334)
	if !(math.Abs(inch-3619.73) <= 0.01) {
		t.Errorf("3/4 in: %.3f lbf·in, want 3619.73", inch)
	}
	q, err := quantity.ParseQuantity("3619.73 lbf.in", "torque", "")
	if err != nil || !(math.Abs(q.Value-408.97) <= 0.01) {
		t.Errorf("3619.73 lbf·in is %.4f N·m (%v), want 408.97", q.Value, err)
	}
}

// predictedJoints loads a joints plan and prints what to expect of it.
func predictedJoints(t *testing.T, set map[string]any) []plan.Prediction {
	t.Helper()
	f := cases.Read(t, "joints")
	trial, err := plan.LoadTrial("joints.json", f.Trial(t, set))
	if err != nil {
		t.Fatal(err)
	}
	c := trial.Plan.Checks()[0]
	return c.Kind.Predict(trial.Plan, c)
}

// 40 N·m ±10 % with a ±4 % tool: 36/(1 − 0.04) = 37.5 to
// 44/(1 + 0.04) = 42.308 passes. With ±3.9 % as the tolerance none does:
// 38.44/0.96 = 40.04 is above 41.56/1.04 = 39.96.
func TestJointsPredict(t *testing.T) {
	first := predictedJoints(t, nil)[0]
	if first.Warn || first.Text != "36 to 44 N·m; torque wrench shows it from 37.5 to 42.3 N·m" || first.Source != "maker's data, example sheet 1" {
		t.Errorf("predicted %+v", first)
	}
	tight := predictedJoints(t, map[string]any{"given.joints.0.tolerance": "3.9 %"})[0]
	if !tight.Warn || !strings.Contains(tight.Text, "wider than the tolerance") {
		t.Errorf("a tolerance no tool can show is not warned of: %+v", tight)
	}
	strong := predictedJoints(t, map[string]any{"given.joints.0.target": "60 N·m"})
	if !strong[1].Warn || !strings.Contains(strong[1].Text, "more than the 50.45 N·m") {
		t.Errorf("a target above the bolt's strength is not warned of: %+v", strong)
	}
	for _, p := range predictedJoints(t, nil) {
		if strings.Contains(p.Name, "insert") && strings.Contains(p.Text, "proof") {
			t.Errorf("a bolt's strength is offered for an insert: %+v", p)
		}
	}
}

func TestJointsRefuseTooMany(t *testing.T) {
	many := make([]any, maxReadings+1)
	for i := range many {
		many[i] = map[string]any{"id": "j" + quantity.Significant(float64(i), 3), "name": "joint", "target": "40 N·m", "tolerance": "10 %", "source": "maker's data"}
	}
	f := cases.Read(t, "joints")
	if _, err := plan.LoadTrial("joints.json", f.Trial(t, map[string]any{"given.joints": many})); err == nil || !strings.Contains(err.Error(), "401 torques: 1 to 400 are wanted") {
		t.Errorf("401 joints: error %v", err)
	}
	if _, err := plan.LoadTrial("joints.json", f.Trial(t, map[string]any{"given.joints": many[:maxReadings]})); err != nil {
		t.Errorf("400 joints: %v", err)
	}
}
