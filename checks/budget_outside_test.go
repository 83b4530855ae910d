package checks

import (
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"testing"

	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
	"handback/testdata/outside"
)

const (
	budgetFile   = "../testdata/reference/budget.json"
	budgetScript = "../testdata/reference/budget.py"
)

type budgetCase struct {
	Value         string
	Readings      []float64
	Meters        string
	Share, Digits float64
	At, U         float64
}

func readBudgets(t *testing.T, data []byte) []budgetCase {
	t.Helper()
	var r struct{ Cases []budgetCase }
	if err := json.Unmarshal(data, &r); err != nil {
		t.Fatal(err)
	}
	if len(r.Cases) == 0 {
		t.Fatal("no reference values")
	}
	return r.Cases
}

// Budgets come to the standard uncertainty that drawing the errors gives (JCGM 101:2008,
// by numpy): to 1 % where a group has one sort of error; where it has two, no less and
// no more than √2 times as much, for they are added as the maker adds them.
func TestBudget_MonteCarlo(t *testing.T) {
	data, err := os.ReadFile(budgetFile)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range readBudgets(t, data) {
		const within = 0.01 // of 400 000 draws
		e, w := c.computation(t)
		b, _ := w.sources.Budget(calc.WorkOut(e, w.Value))
		at := e.Eval(w.Value)
		u, most := b.Spread(at).Standard, 1.0
		if c.Share > 0 && c.Digits > 0 {
			most = math.Sqrt2
		}
		if !(math.Abs(at-c.At) <= 1e-9*c.At) || !(u >= c.U*(1-within)) || !(u <= c.U*most*(1+within)) {
			t.Errorf("%s of %v by %s, ±(%v %% + %v): %v with u %v, numpy %v with %v", c.Value, c.Readings, c.Meters, c.Share, c.Digits, at, u, c.At, c.U)
		}
	}
}

// computation is the case as a kind would build it.
func (c budgetCase) computation(t *testing.T) (*calc.Expr, *Work) {
	t.Helper()
	share, one := quantity.Percent(c.Share), 1.0
	r := plan.Range{To: quantity.Amount{Value: 600, Of: "voltage", Unit: "V"}, Reading: &share}
	if c.Digits > 0 {
		r.Resolution, r.Digits = &quantity.Amount{Value: c.Digits, Of: "voltage", Unit: "V"}, &one
	}
	ranges, readings := map[string]plan.Range{}, map[string]readingOf{}
	for i, volts := range c.Readings {
		meter := c.Meters[i : i+1]
		ranges[meter], readings[string(rune('p'+i))] = r, readingOf{meter, volts}
	}
	w := budgetBench("V", ranges, readings)
	var x []*calc.Expr
	for i := range c.Readings {
		x = append(x, w.Read(string(rune('p'+i))))
	}
	switch c.Value {
	case "difference":
		return x[0].Sub(x[1]), w
	case "sum":
		return calc.Sum(x...), w
	case "quotient":
		return x[0].Div(x[1]), w
	case "square":
		return x[0].Pow(2), w
	case "unbalance":
		return calc.NegativeShare(x), w
	}
	t.Fatalf("no such value: %s", c.Value)
	return nil, nil
}

// The committed values are what the script gives today, to the noise of its draws.
func TestBudget_MonteCarloAnew(t *testing.T) {
	outside.Long(t)
	python := outside.Tool(t, "/usr/bin/python3", "-c", "import numpy")
	fresh, err := exec.Command(python, budgetScript).Output()
	if err != nil {
		t.Fatal(err)
	}
	data, err := os.ReadFile(budgetFile)
	if err != nil {
		t.Fatal(err)
	}
	was, is := readBudgets(t, data), readBudgets(t, fresh)
	if len(was) != len(is) {
		t.Fatalf("%d cases committed, %d made anew", len(was), len(is))
	}
	for i := range was {
		if !(math.Abs(was[i].U-is[i].U) <= 0.005*was[i].U) || !(math.Abs(was[i].At-is[i].At) <= 1e-9*was[i].At) {
			t.Errorf("case %d: committed %+v, made anew %+v", i+1, was[i], is[i])
		}
	}
}
