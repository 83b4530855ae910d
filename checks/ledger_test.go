package checks

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

// ledgers judges the base and every case of every kind that loads.
func ledgers(t *testing.T, visit func(name string, f Finding)) {
	t.Helper()
	for _, kind := range KindNames() {
		f := readCases(t, kind)
		for _, c := range append(f.Cases, kindCase{Name: "base"}) {
			trial, err := LoadTrial(kind, f.trial(t, c.Set))
			if err != nil {
				continue
			}
			if _, found, err := trial.Judge(); err == nil {
				visit(kind+", "+c.Name, found)
			}
		}
	}
}

// What the ledger lays out gives the uncertainties of the finding again: each from
// its moves alone, as JCGM 100:2008 adds them (see spread).
func TestLedger_gives_every_uncertainty(t *testing.T) {
	alone, together := 0, 0
	ledgers(t, func(name string, f Finding) {
		l := f.Ledger()
		for i, d := range f.Derived {
			v := l.Values[i]
			u := math.NaN()
			switch {
			case !v.Known:
			case v.Alone >= 0:
				alone++
				r := l.Rows[v.Alone]
				u = r.Share/100*math.Abs(r.Value) + r.Span + r.Step
				if told := v.Told(d); told != "" {
					u *= FromBase(1, told) - FromBase(0, told)
				}
			default:
				together += len(v.Parts)
				u = ledgerSpread(l, d, v)
			}
			if !(math.Abs(u-d.U) <= 1e-9*math.Max(d.U, 1e-6*math.Abs(d.Value))) && !(math.IsNaN(u) && math.IsNaN(d.U)) {
				t.Errorf("%s, %s: U %v from the ledger, %v judged", name, d.Key, u, d.U)
			}
		}
	})
	if alone < 100 || together < 100 {
		t.Errorf("%d values alone, %d parts of others: the cases have more", alone, together)
	}
}

func ledgerSpread(l *Ledger, d Derived, v LedgerValue) float64 {
	sum, most, base := 0.0, 0.0, l.Value(d.Expr)
	move := func(i int) float64 {
		up, down := math.Abs(base-l.Moved(d.Expr, i, 1)), math.Abs(base-l.Moved(d.Expr, i, -1))
		if math.IsNaN(up) || !math.IsNaN(down) && down > up {
			return down
		}
		return up
	}
	together := func(i int) float64 {
		if i < 0 {
			return 0
		}
		return move(i)
	}
	each := func(shifts []int) (root, sum float64) {
		squares := 0.0
		for _, i := range shifts {
			squares += square(move(i))
			sum += move(i)
		}
		return math.Sqrt(squares), sum
	}
	for _, p := range v.Parts {
		bendRoot, bends := each(p.Bends)
		stepRoot, steps := each(p.Steps)
		sum += square(together(p.Gain) + math.Max(together(p.Span), bendRoot) + stepRoot)
		most += together(p.Gain) + math.Max(together(p.Span), bends) + steps
	}
	if U := math.Min(2*math.Sqrt(sum/3), most); !(U <= noise*math.Abs(base)) {
		return U
	}
	return 0
}

// Every row stands after what it needs, its formula names rows and numbers alone,
// keys of values stand once, and every reason has its basis.
func TestLedger_is_complete(t *testing.T) {
	ledgers(t, func(name string, f Finding) {
		if len(f.Bases) != len(f.Reasons) {
			t.Fatalf("%s: %d bases of %d reasons", name, len(f.Bases), len(f.Reasons))
		}
		l, keys := f.Ledger(), map[string]bool{}
		for i, r := range l.Rows {
			if r.Part == PartStep {
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
		}
		for i, b := range f.Bases {
			if b.Value != "" && !keys[b.Value] {
				t.Errorf("%s: reason %q hangs on %q, which is no value", name, f.Reasons[i].Code, b.Value)
			}
		}
	})
}
