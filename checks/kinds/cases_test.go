package kinds

import (
	"math"
	"strings"
	"testing"

	"handback/checks"
	"handback/checks/plan"
	"handback/testdata/cases"
)

func TestCases(t *testing.T) {
	for _, name := range plan.KindNames() {
		t.Run(name, func(t *testing.T) {
			f := cases.Read(t, name)
			seen := map[checks.Verdict]int{}
			atLimit := 0
			for _, c := range f.Cases {
				t.Run(c.Name, func(t *testing.T) {
					runCase(t, f, c)
				})
				if c.Want.Error == "" {
					seen[c.Want.Verdict]++
				}
				if c.AtLimit {
					atLimit++
				}
				if c.Source == "" {
					t.Errorf("%s: no source: say where the expected outcome comes from", c.Name)
				}
			}
			for _, v := range []checks.Verdict{checks.Pass, checks.Fail, checks.Inconclusive, checks.Missing} {
				wants(f, t, v.String(), seen[v])
			}
			wants(f, t, "at_limit", atLimit)
		})
	}
}

// wants demands that some case shows what, or that the file says why none can.
func wants(f cases.File, t *testing.T, what string, shown int) {
	t.Helper()
	if why := f.Never[what]; (why == "") == (shown == 0) {
		t.Errorf("%d cases come to %s, never says %q: one or the other is wanted", shown, what, why)
	}
}

func runCase(t *testing.T, f cases.File, c cases.Case) {
	trial, err := plan.LoadTrial(f.Kind+".json", f.Trial(t, c.Set))
	var in checks.Input
	var got checks.Finding
	if err == nil {
		in, got, err = checks.JudgeTrial(trial)
	}
	if c.Want.Error != "" {
		if err == nil || !strings.Contains(err.Error(), c.Want.Error) {
			t.Fatalf("error %v, want one that says %q", err, c.Want.Error)
		}
		return
	}
	if err != nil {
		t.Fatal(err)
	}
	if in.Check.Kind.Name != f.Kind {
		t.Fatalf("judged a %s", in.Check.Kind.Name)
	}
	if got.Verdict != c.Want.Verdict {
		t.Errorf("verdict %s, want %s; reasons %q", got.Verdict, c.Want.Verdict, cases.ToldReasons(in.Check.Kind, got))
	}
	kind := in.Check.Kind
	stop, reasons := cases.Wording(kind, got.Stop), strings.Join(cases.ToldReasons(kind, got), "\n")
	if c.Want.Stop == "" && stop != "" || !strings.Contains(stop, c.Want.Stop) {
		t.Errorf("stop %q, want %q", stop, c.Want.Stop)
	}
	for _, s := range c.Want.Says {
		if !strings.Contains(reasons, s) {
			t.Errorf("no reason says %q; reasons %q", s, reasons)
		}
	}
	cautions := strings.Join(cases.ToldCautions(kind, got), "\n")
	for _, s := range c.Want.Caution {
		if !strings.Contains(cautions, s) {
			t.Errorf("no caution says %q; cautions %q", s, cautions)
		}
	}
	for _, s := range c.Want.Silent {
		if strings.Contains(reasons+cautions+stop, s) {
			t.Errorf("%q is said; reasons %q, cautions %q, stop %q", s, reasons, cautions, stop)
		}
	}
	if c.Want.Doubt != "" {
		doubts := cases.ToldDoubts(in)
		if !strings.Contains(doubts, c.Want.Doubt) {
			t.Errorf("doubts %q, want one that says %q", doubts, c.Want.Doubt)
		}
	}
	for key, want := range c.Want.Derived {
		checkDerived(t, got, key, want)
	}
}

func checkDerived(t *testing.T, f checks.Finding, key string, want cases.Want) {
	t.Helper()
	d, ok := f.Value(key)
	if !ok {
		t.Errorf("no derived value %s", key)
		return
	}
	if want.Value != nil {
		tol := want.Within
		if tol == 0 {
			tol = 1e-6 * math.Abs(*want.Value)
		}
		if !(math.Abs(d.Value-*want.Value) <= tol) {
			t.Errorf("%s is %.9g, want %.9g within %.2g", key, d.Value, *want.Value, tol)
		}
	}
	if want.U != nil && !(math.Abs(d.U-*want.U) <= math.Max(want.Within, 1e-3**want.U)) {
		t.Errorf("%s has U %.9g, want %.9g", key, d.U, *want.U)
	}
	if want.Verdict != nil && d.Verdict != *want.Verdict {
		t.Errorf("%s is judged %s, want %s", key, d.Verdict, *want.Verdict)
	}
}

var nan = math.NaN()
