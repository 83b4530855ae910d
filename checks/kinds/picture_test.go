package kinds

import (
	"fmt"
	"math"
	"math/cmplx"
	"strings"
	"testing"

	"handback/checks"
	"handback/testdata/cases"
)

// tips are the points of a diagram, side by side in order.
func tips(t *testing.T, f checks.Finding, want int) []complex128 {
	t.Helper()
	if f.Diagram == nil || len(f.Diagram.Phasors) != want {
		t.Fatalf("diagram %v, want %d phasors", f.Diagram, want)
	}
	var out []complex128
	for _, p := range f.Diagram.Phasors {
		out = append(out, complex(p.Re, p.Im))
	}
	return out
}

func near2(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: %v, want %v within %v", what, got, want, within)
	}
}

// Tips stand as far apart as was read between the conductors: plane geometry.
func TestDiagram_tips_stand_as_far_apart_as_was_read(t *testing.T) {
	t.Run("lv-volts", func(t *testing.T) {
		// an equal triangle of 430 V with the neutral 3 V off its centre towards L1
		in, f := judgedCase(t, "lv-volts", map[string]any{"answers.l1l2": "430", "answers.l2l3": "430", "answers.l3l1": "430",
			"answers.l1n": "245.26", "answers.l2n": "249.77", "answers.l3n": "249.77"})
		p := tips(t, f, 3)
		for i := range 3 {
			near2(t, lineKeys[i], cmplx.Abs(p[i]-p[(i+1)%3]), in.Answers[lineKeys[i]].Value, 1e-6)
			near2(t, phaseKeys[i], cmplx.Abs(p[i]), in.Answers[phaseKeys[i]].Value, 0.01)
		}
	})
	t.Run("parallel-balance", func(t *testing.T) {
		in, f := judgedCase(t, "parallel-balance", nil)
		p := tips(t, f, 6)
		for i := range 3 {
			near2(t, "a_"+lineKeys[i], cmplx.Abs(p[i]-p[(i+1)%3]), in.Answers["a_"+lineKeys[i]].Value, 1e-6)
			near2(t, "b_"+lineKeys[i], cmplx.Abs(p[3+i]-p[3+(i+1)%3]), in.Answers["b_"+lineKeys[i]].Value, 1e-6)
		}
		if !strings.Contains(f.Diagram.How, "ASSUMED") {
			t.Errorf("the angle between the sides is not known here, and the diagram does not say so: %s", f.Diagram.How)
		}
	})
	t.Run("cross-volts", func(t *testing.T) {
		in, f := judgedCase(t, "cross-volts", nil)
		p := tips(t, f, 6)
		for i := range 3 {
			for j := range 3 {
				near2(t, crossKey(i, j), cmplx.Abs(p[i]-p[3+j]), in.Answers[crossKey(i, j)].Value, 0.3) // volts typed to 0.1 V
			}
		}
		if strings.Contains(f.Diagram.How, "NOT tied") {
			t.Error(f.Diagram.How)
		}
	})
}

func TestDiagram_says_when_the_neutrals_are_not_tied(t *testing.T) {
	_, f := judgedCase(t, "cross-volts", map[string]any{"given.neutrals_tied": "no"})
	if f.Diagram == nil || !strings.Contains(f.Diagram.How, "NOT tied") {
		t.Errorf("diagram %v", f.Diagram)
	}
}

// Volts that are no triangle, and volts across that contradict one another, are not
// drawn as if they were.
func TestDiagram_is_left_out(t *testing.T) {
	for _, c := range []struct {
		kind string
		set  map[string]any
	}{
		{"parallel-balance", map[string]any{"answers.a_l1l2": "1200", "kept.a_l1l2": "it reads so"}},
		{"lv-volts", map[string]any{"answers.l1l2": "1200", "kept.l1l2": "it reads so"}},
		{"lv-volts", map[string]any{"answers.l1n": "24.5", "kept.l1n": "it reads so"}},
		{"cross-volts", map[string]any{"answers.x12": "219.7", "kept.x12": "it reads so"}},
	} {
		t.Run(fmt.Sprint(c.kind, c.set), func(t *testing.T) {
			if _, f := judgedCase(t, c.kind, c.set); f.Diagram != nil {
				t.Errorf("drawn: %v", f.Diagram)
			}
		})
	}
}

// The curve and the limit are those judged by; expected numbers: scipy, see the
// sources in the case file.
func TestCourse_shows_the_soak(t *testing.T) {
	in, f := judgedCase(t, "soak", nil)
	c := f.Course
	if c == nil || c.Curve == nil || len(c.Lines) != 1 || len(c.Values) != 9 || len(c.Minutes) != 9 {
		t.Fatalf("course %+v", c)
	}
	near2(t, "last minute", c.Minutes[8], 180, 1e-9)
	near2(t, "last reading", c.Values[8], in.Answers["t9_temp"].Value, 1e-9)
	near2(t, "final", c.Curve(1e9), 94.3357, 1e-3)
	near2(t, "limit", c.Lines[0].Value, 114.5, 1e-9) // 100 K over the mean of 14.4 and 14.6 °C
	_, f = judgedCase(t, "soak", map[string]any{"answers.t5_load": "400"})
	if f.Course == nil || f.Course.Curve != nil {
		t.Fatalf("an unsteady load gives no curve: %+v", f.Course)
	}
	if why, _ := f.Course.How.Values.Named("why"); why.Part == nil || why.Part.Code != "load-moved" {
		t.Errorf("an unsteady load gives no curve: %+v", f.Course)
	}
}

// A load that no form accepts gives no curve either.
func TestSoakUnsteady_loadNoNumber(t *testing.T) {
	in, _ := judgedCase(t, "soak", nil)
	in.Answers["t2_load"] = checks.Answer{Value: math.Inf(1), Unit: "A"}
	w := checks.NewWork(in)
	g := in.Check.Given.(*soak)
	if why := cases.Wording(in.Check.Kind, soakUnsteady(w, g, soakRows(w, g))); why != "the load is not a number of amperes" {
		t.Errorf("told %q", why)
	}
}
