package checks_test

import (
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/testdata/cases"
)

// judged are the findings of ledgers, which are the same for every test.
var judged = map[string]checks.Finding{}

// ledgers judges the base and every case of every kind that loads.
func ledgers(t *testing.T, visit func(name string, f checks.Finding)) {
	t.Helper()
	if len(judged) > 0 {
		for name, f := range judged {
			visit(name, f)
		}
		return
	}
	for _, kind := range plan.KindNames() {
		f := cases.Read(t, kind)
		for _, c := range append(f.Cases, cases.Case{Name: "base"}) {
			trial, err := plan.LoadTrial(kind, f.Trial(t, c.Set))
			if err != nil {
				continue
			}
			if _, found, err := checks.JudgeTrial(trial); err == nil {
				judged[kind+", "+c.Name] = found
				visit(kind+", "+c.Name, found)
			}
		}
	}
}

// Every row stands after what it needs, its formula names rows and numbers alone,
// keys of values stand once, every reading a value rests on has its row, and every
// reason has its basis.
func TestLedger_is_complete(t *testing.T) {
	ledgers(t, func(name string, f checks.Finding) {
		if len(f.Bases) != len(f.Reasons) {
			t.Fatalf("%s: %d bases of %d reasons", name, len(f.Bases), len(f.Reasons))
		}
		l, keys := f.Ledger(), map[string]bool{}
		for i, r := range l.Rows {
			if r.Part == calc.PartStep {
				l.Formula(r.Expr.Body(), func(row int) string {
					if row >= i {
						t.Errorf("%s: row %d needs row %d", name, i, row)
					}
					return "A" + strconv.Itoa(row+1)
				})
			}
		}
		for _, d := range f.Derived {
			if keys[d.Key] {
				t.Errorf("%s: the value %s stands twice", name, d.Key)
			}
			keys[d.Key] = true
			if s := l.Formula(d.Expr, rowName); strings.ContainsAny(s, "=\"'") {
				t.Errorf("%s, %s: formula %s", name, d.Key, s)
			}
			var read []string
			for _, row := range l.Readings(d.Expr) {
				read = append(read, l.Rows[row].Key)
			}
			if want := d.Expr.Readings(); !slices.Equal(read, want) {
				t.Errorf("%s, %s: rests on the rows of %q, reads %q", name, d.Key, read, want)
			}
		}
		for i, b := range f.Bases {
			if b.Value != "" && !keys[b.Value] {
				t.Errorf("%s: reason %q hangs on %q, which is no value", name, f.Reasons[i].Code, b.Value)
			}
		}
	})
}

// Whoever adds up what a budget shows, |c| times a, line by line as its letters say,
// comes to the uncertainty that was judged by: of every value of every case. Every
// budget tells of what nothing is stated.
func TestBudget_adds_up_to_every_uncertainty(t *testing.T) {
	lines, short := 0, 0
	ledgers(t, func(name string, f checks.Finding) {
		for _, d := range f.Derived {
			squares, most := 0.0, 0.0
			for _, g := range d.Budget.Groups {
				var common, together, bent, bends, alone, each float64
				for _, c := range g.Contributions {
					lines++
					far := c.Sensitivity() * c.Half
					switch c.Sort {
					case calc.GainError:
						common += far
					case calc.RangeError:
						together += far
					case calc.BendError:
						bent, bends = math.Hypot(bent, far), bends+far
					case calc.DigitError, calc.DatumError:
						alone, each = math.Hypot(alone, far), each+far
					}
				}
				squares += math.Pow(common+math.Max(together, bent)+alone, 2)
				most += common + math.Max(together, bends) + each
			}
			u := math.Min(2*math.Sqrt(squares/3), most)
			if u <= 1e-10*math.Abs(d.Value) {
				u = 0
			}
			if d.Known == calc.KnownNot {
				u = math.NaN()
			}
			if !(math.Abs(u-d.U) <= 1e-12*d.U) && !(math.IsNaN(u) && math.IsNaN(d.U)) {
				t.Errorf("%s, %s: U %v by its budget, %v judged", name, d.Key, u, d.U)
			}
			if d.Known == calc.KnownPart {
				short++
			}
			if (d.Known == calc.KnownPart) != (len(d.Budget.Unstated) > 0) {
				t.Errorf("%s, %s: %v of its uncertainty is known, not stated: %q", name, d.Key, d.Known, d.Budget.Unstated)
			}
		}
	})
	if lines < 1000 || short == 0 {
		t.Errorf("%d lines of budgets, %d of them a known part: the cases have more", lines, short)
	}
}

// A reason that only follows from a failure says so: the stop of a wrong rotation falls
// with the reading that brought it.
func TestBasis_follows(t *testing.T) {
	followed := map[string]bool{}
	ledgers(t, func(name string, f checks.Finding) {
		kind, _, _ := strings.Cut(name, ",")
		for i, b := range f.Bases {
			if len(b.After) > 0 && f.Reasons[i].Verdict != checks.Pass {
				followed[kind] = true
			}
			for _, key := range b.After {
				if !slices.ContainsFunc(f.Bases, func(c checks.Basis) bool { return c.Value == key }) &&
					!slices.ContainsFunc(f.Reasons, func(r checks.Reason) bool { return slices.Contains(r.Fields, key) }) {
					t.Errorf("%s: %q follows %s, of which nothing is said", name, f.Reasons[i].Code, key)
				}
			}
		}
	})
	for _, kind := range []string{"rotation", "phase-presence", "after-opening", "restore", "prove-dead", "tap-links"} {
		if !followed[kind] {
			t.Errorf("no reason of a failed %s follows from another", kind)
		}
	}
}

func rowName(row int) string { return "row" + strconv.Itoa(row) }
