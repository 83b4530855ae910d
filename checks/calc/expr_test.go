package calc

import (
	"math"
	"slices"
	"testing"
)

func leaf(key, unit string) *Expr { return Reading(key, key, unit) }

func from(values map[string]float64) func(string) float64 {
	return func(k string) float64 { return values[k] }
}

func TestExpr_render(t *testing.T) {
	a, b, c := leaf("a", "V"), leaf("b", "V"), leaf("c", "V")
	at := from(map[string]float64{"a": 6, "b": -2, "c": 0.5})
	for _, k := range []struct {
		e              *Expr
		words, numbers string
		value          float64
	}{
		{a.Add(b).Sub(c), "a + b − c", "6 + (−2) − 0.5", 3.5},
		{a.Sub(b.Sub(c)), "a − (b − c)", "6 − ((−2) − 0.5)", 8.5},
		{a.Sub(b.Add(c)), "a − (b + c)", "6 − ((−2) + 0.5)", 7.5},
		{a.Add(b).Mul(c), "(a + b) × c", "(6 + (−2)) × 0.5", 2},
		{a.Mul(b).Add(c), "a × b + c", "6 × (−2) + 0.5", -11.5},
		{a.Div(b.Mul(c)), "a / (b × c)", "6 / ((−2) × 0.5)", -6},
		{a.Div(b).Div(c), "a / b / c", "6 / (−2) / 0.5", -6},
		{a.Div(b.Div(c)), "a / (b / c)", "6 / ((−2) / 0.5)", -1.5},
		{a.Sub(b).Div(b).Times(100), "(a − b) / b × 100", "(6 − (−2)) / (−2) × 100", -400},
		{b.Pow(2), "b^2", "(−2)^2", 4},
		{a.Add(b).Pow(2), "(a + b)^2", "(6 + (−2))^2", 16},
		{b.Pow(2).Pow(4), "(b^2)^4", "((−2)^2)^4", 256},
		{a.Pow(-1), "a^(−1)", "6^(−1)", 1.0 / 6},
		{K(0.5).PowOf(c.Sub(a).Div(b)), "0.5^((c − a) / b)", "0.5^((0.5 − 6) / (−2))", 0.14865088937534013}, // 0.5^2.75
		{Sqrt(a.Sub(b).Times(2)), "√((a − b) × 2)", "√((6 − (−2)) × 2)", 4},
		{Abs(b), "abs(b)", "abs(−2)", 2},
		{Max(a, b, c), "max(a; b; c)", "max(6; −2; 0.5)", 6},
		{Min(a, b, c), "min(a; b; c)", "min(6; −2; 0.5)", -2},
		{Mean(a, b, c), "mean(a; b; c)", "mean(6; −2; 0.5)", 1.5},
		{Sum(a, b, c), "a + b + c", "6 + (−2) + 0.5", 4.5},
		{Datum("rated LV", 433, "V").Mul(a), "rated LV × a", "433 × 6", 2598},
		{CosDeg(K(60)), "cos(60)", "cos(60)", 0.5},
		{SinDeg(K(-30)), "sin(−30)", "sin(−30)", -0.5},
		{ArcCosDeg(K(0.5)), "arccos(0.5)", "arccos(0.5)", 60},
		{ArcSinDeg(K(0.5)), "arcsin(0.5)", "arcsin(0.5)", 30},
	} {
		if got := k.e.render(0, nil); got != k.words {
			t.Errorf("words %q, want %q", got, k.words)
		}
		if got := k.e.render(0, at); got != k.numbers {
			t.Errorf("numbers %q, want %q", got, k.numbers)
		}
		if got := k.e.Eval(at); !(math.Abs(got-k.value) <= 1e-12*math.Max(1, math.Abs(k.value))) {
			t.Errorf("%s is %v, want %v", k.words, got, k.value)
		}
	}
}

func TestExpr_working(t *testing.T) {
	hv, u := leaf("HV", "V"), leaf("L1-L2", "V")
	at := from(map[string]float64{"HV": 11200, "L1-L2": 440.9})
	predicted := Named("predicted volts", "V", hv.Mul(Datum("rated LV", 433, "V")).Div(Datum("HV of tap 2", 11000, "V")))
	// 11.2 kV on 11/0.433 kV: 440.873 V; 440.9 V is 0.00619 % above (by hand).
	want := []string{
		"predicted volts = HV × rated LV / HV of tap 2 = 11200 × 433 / 11000 = 440.873 V",
		"deviation = (L1-L2 − predicted volts) / predicted volts × 100 = (440.9 − 440.873) / 440.873 × 100 = 0.00618608 %",
	}
	if got := u.Sub(predicted).Div(predicted).Times(100).Working("deviation", "%", at); !slices.Equal(got, want) {
		t.Errorf("working\n%q, want\n%q", got, want)
	}
	for _, c := range []struct {
		e    *Expr
		want string
	}{
		{u, "x = 440.9 V"},
		{predicted, "x = HV × rated LV / HV of tap 2 = 11200 × 433 / 11000 = 440.873 V"},
		{K(2).Times(3), "x = 2 × 3 = 6 V"},
		{Solve("nearest point", func(x []float64) float64 { return 2 * x[0] }, u), "x = 881.8 V, nearest point"},
		{Sqrt(K(-1).Mul(u)), "x = √((−1) × L1-L2) = √((−1) × 440.9) = not a number V"},
	} {
		if got := c.e.Working("x", "V", at); len(got) != 1 || got[0] != c.want {
			t.Errorf("working %q, want %q", got, c.want)
		}
	}
}

// A reading told in its field's unit works like one in the base unit.
func TestExpr_in(t *testing.T) {
	r := leaf("R60", "MΩ").InOwnUnit()
	at := from(map[string]float64{"R60": 1.2e9})
	if got := r.Eval(at); !(math.Abs(got-1200) <= 1e-9) {
		t.Errorf("1.2 GΩ is %v MΩ", got)
	}
	if got, want := r.Mul(K(2)).Working("x", "MΩ", at), []string{"x = R60 × 2 = 1200 × 2 = 2400 MΩ"}; !slices.Equal(got, want) {
		t.Errorf("working %q, want %q", got, want)
	}
}

func TestExpr_readings(t *testing.T) {
	a, b := leaf("a", ""), leaf("b", "")
	e := Named("n", "", b.Sub(a)).Div(Named("n", "", b.Sub(a)).Add(Max(a, K(1))))
	if got := e.Readings(); !slices.Equal(got, []string{"b", "a"}) {
		t.Errorf("reads %q", got)
	}
	if got := K(1).Add(Datum("x", 2, "")).Readings(); len(got) != 0 {
		t.Errorf("constants read %q", got)
	}
}

// Not a number goes through every operation, so that it never passes.
func TestExpr_notANumber(t *testing.T) {
	a, bad := K(2), leaf("bad", "")
	at := from(map[string]float64{"bad": nan})
	for name, e := range map[string]*Expr{
		"add": a.Add(bad), "sub": a.Sub(bad), "mul": a.Mul(bad), "div": a.Div(bad), "pow": bad.Pow(2), "pow 4": bad.Pow(4), "pow 3": bad.Pow(3), "power of it": a.PowOf(bad),
		"sqrt": Sqrt(bad), "sqrt of a negative": Sqrt(K(-1)), "abs": Abs(bad), "max": Max(a, bad), "max the other way": Max(bad, a), "min": Min(a, bad), "mean": Mean(a, bad),
		"sum": Sum(a, bad), "cos": CosDeg(bad), "arccos beyond 1": ArcCosDeg(K(1.1)), "arcsin beyond 1": ArcSinDeg(K(1.1)), "named": Named("n", "", bad), "0/0": K(0).Div(K(0)),
	} {
		if got := e.Eval(at); !math.IsNaN(got) {
			t.Errorf("%s gives %v", name, got)
		}
	}
}

var nan = math.NaN()
