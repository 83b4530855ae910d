package checks

import (
	"math"
	"strings"
	"testing"
	"time"

	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// bench is a check of one measure kind with readings of two meters, each
// ±(0.6 % + 1 digit of 0.1 V).
func bench(t *testing.T, readings map[string]struct {
	meter string
	volts float64
}) *Work {
	t.Helper()
	share, class, five, digits, none := quantity.Percent(0.6), quantity.Percent(2.5), quantity.Percent(5), 1.0, 0.0
	to := func(x float64) quantity.Amount { return quantity.Amount{Value: x, Of: "voltage", Unit: "V"} }
	ten := to(10)
	more := []plan.Meter{{ID: "pointer", Ranges: []plan.Range{{To: to(1000), OfRange: &class}}}, {ID: "two", Ranges: []plan.Range{{To: to(1000), Reading: &five}, {To: to(10000), Reading: &five}}},
		{ID: "one", Ranges: []plan.Range{{To: to(10000), Reading: &five}}}, {ID: "coarse", Ranges: []plan.Range{{To: to(600), Resolution: &ten, Digits: &none}}},
		{ID: "digit", Ranges: []plan.Range{{To: to(600), Resolution: &quantity.Amount{Value: 1, Of: "voltage", Unit: "V"}}}}}
	ranges := []plan.Range{{To: quantity.Amount{Value: 600, Of: "voltage", Unit: "V"}, Resolution: &quantity.Amount{Value: 0.1, Of: "voltage", Unit: "V"}, Reading: &share, Digits: &digits}}
	p := &plan.Plan{Meters: []plan.Meter{{ID: "a", Name: "a", Ranges: ranges}, {ID: "b", Name: "b", Ranges: ranges}, {ID: "unknown", Name: "unknown", Ranges: []plan.Range{{To: quantity.Amount{Value: 600, Of: "voltage", Unit: "V"}}}}}}
	p.Meters = append(p.Meters, more...)
	w := &Work{Input: Input{Plan: p, Check: &plan.Check{Kind: &plan.Traits{}}, Answers: Answers{}, At: time.Unix(0, 0)}, sources: map[string]calc.Source{}}
	for key, r := range readings {
		w.Answers[key] = Answer{Value: r.volts, Unit: "V"}
		w.Answers["meter_"+key] = Answer{Word: r.meter}
		f := Field{Key: key, Label: key, Sort: Measured, Unit: "V", Meter: "meter_" + key}
		w.form = append(w.form, f)
		w.sources[key] = w.sourceOf(f, w.Answers[key])
	}
	return w
}

type readingOf = struct {
	meter string
	volts float64
}

func TestSpread(t *testing.T) {
	w := bench(t, map[string]readingOf{"x": {"a", 20}, "y": {"a", 400}, "z": {"a", 401}, "q": {"b", 401}, "blind": {"unknown", 400}, "minus": {"a", -400}})
	x, y, z, q := w.Read("x"), w.Read("y"), w.Read("z"), w.Read("q")
	aOf := func(v float64) float64 { return 0.006*v + 0.1 }
	k := 2 / math.Sqrt(3)
	for _, c := range []struct {
		name string
		e    *calc.Expr
		want float64
	}{
		// Bell, example 6-2: ±(0.6 % + 1 digit) at 20 V is ±0.22 V, and no error is larger.
		{"one reading", x, 0.22},
		{"one reading times a number", x.Times(10), 2.2},
		{"a negative reading", w.Read("minus"), aOf(400)},
		// The 0.6 % is common to both (JCGM 100:2008, F.1.2.3): 0.006·1 V is left of it, and two digits in quadrature.
		{"difference of two readings of one meter", z.Sub(y), k * (0.006 + 0.1*math.Sqrt2)},
		{"sum of two readings of one meter", z.Add(y), 0.006*801 + 0.1 + 0.1},
		{"ratio of two readings of one meter", z.Div(y), k * math.Hypot(0.1/(400-0.1)*401.0/400, 0.1/400)},
		{"difference of readings of two meters", q.Sub(y), k * math.Hypot(aOf(401), aOf(400))},
		{"a value against itself", y.Sub(y), 0},
		{"no reading at all", calc.K(3), 0},
		{"a reading squared", y.Pow(2), math.Pow(402.4, 2) - 160000 + math.Pow(400.1, 2) - 160000},
	} {
		if got := w.Spread(c.e); !(math.Abs(got-c.want) <= 2e-6*math.Max(1, c.want)) {
			t.Errorf("%s: U is %.7g, want %.7g", c.name, got, c.want)
		}
	}
	if u := w.Spread(z.Sub(y)); !(u < w.Spread(y)/10) {
		t.Errorf("the difference of two readings of one meter has U %v, hardly less than a reading's %v", u, w.Spread(y))
	}
	if u := w.Spread(w.Read("blind")); !math.IsNaN(u) {
		t.Errorf("a meter whose accuracy is not known: U is %v, want not a number", u)
	}
	if u, want := w.Spread(y.Sub(w.Read("blind"))), aOf(400); !(math.Abs(u-want) <= 1e-9) {
		t.Errorf("such a one among others: U is %v, want the known part %v", u, want)
	}
}

// u = 0.22/√3 = 0.1270 V of the same reading (Bell, example 6-2; JCGM 100:2008, 4.3.7).
func TestSpread_standard(t *testing.T) {
	w := bench(t, map[string]readingOf{"x": {"a", 20}})
	b, _ := w.sources.Budget(calc.WorkOut(w.Read("x"), w.Value))
	if s := b.Spread(20); !(math.Abs(s.Standard-0.1270) <= 5e-5) || !(math.Abs(s.Most-0.22) <= 1e-12) {
		t.Errorf("%+v, want u 0.1270 and 0.22 at most", s)
	}
}

// Errors of one range are common, those of two ranges are not; no U is above the sum
// of the half-widths, and none is the rounding of the computer. Worked by hand.
func TestSpread_ranges(t *testing.T) {
	w := bench(t, map[string]readingOf{"ic": {"pointer", 400}, "i1": {"pointer", 600}, "low": {"two", 950}, "high": {"two", 1430}, "one": {"one", 950}, "other": {"one", 1430},
		"q": {"b", 400}, "y": {"a", 400}, "coarse": {"coarse", 400}})
	read := w.Read
	for _, c := range []struct {
		name string
		e    *calc.Expr
		want float64
	}{
		// 2.5 % of 1000: ±25 V each, ±50 V together; 2·50/√3 = 57.7 is above the 50 that can be.
		{"a class error moves both readings of a range alike", read("i1").Add(read("ic")), 50},
		// Alike it cancels; a bent scale leaves 25·√2, 2·25·√2/√3 = 40.825.
		{"and may still bend between them", read("i1").Sub(read("ic")), 40.8248290463863},
		// 1430/950 = 1.505263: 5 % of one and 1/0.95 − 1 of the other, by themselves: 2·√(0.0752632² + 0.0792244²)/√3.
		{"a quotient over two ranges", read("high").Div(read("low")), 0.126180},
		{"a quotient in one range", read("other").Div(read("one")), 0},
		// a of 400 V is 2.5 V each: 2·√(2·2.5²)/√3 = 4.0825, under 5.
		{"two like instruments", read("q").Add(read("y")), 4.08248},
		// 25 and 2.5: 2·√(25² + 2.5²)/√3 = 29.01 is above the 27.5 that can be.
		{"a poor and a good instrument", read("i1").Add(read("y")), 27.5},
		{"half of the last digit at the least", read("coarse"), 5},
	} {
		if got := w.Spread(c.e); !(math.Abs(got-c.want) <= 2e-6*math.Max(1, c.want)) {
			t.Errorf("%s: U is %.9g, want %.9g", c.name, got, c.want)
		}
	}
}

// Less said never makes it easier to pass: one reading of unknown accuracy leaves the
// known part of the uncertainty as guard band.
func TestHold_knownPart(t *testing.T) {
	w := bench(t, map[string]readingOf{"y": {"a", 400}, "blind": {"unknown", 100}, "digit": {"digit", 499.7}})
	for _, c := range []struct {
		rule, want string
		e          *calc.Expr
		limit      *Limit
		verdict    Verdict
		says       string
	}{
		// 400 + 100 with ±(0.6 % + 0.1 V) of 400: 500 ± at least 2.5 V.
		{"", RulePart, w.Read("y").Add(w.Read("blind")), AtMost(502, "plan"), Inconclusive, "value 500.0 ± at least 2.5 V cannot be told from the limit at most 502 V (plan): the limit lies inside the known part of its uncertainty: a more accurate instrument is needed"},
		{"", RulePart, w.Read("y").Add(w.Read("blind")), AtMost(502.5, "plan"), Pass, "value 500.0 ± at least 2.5 V is at most 502.5 V (plan), guarded by the known part of the uncertainty"},
		{"simple", RuleSimple, w.Read("y").Add(w.Read("blind")), AtMost(502, "plan"), Pass, "value 500.0 V is at most 502 V (plan)"},
		{"", RuleSimple, w.Read("blind"), AtMost(100, "plan"), Pass, "value 100 V is at most 100 V (plan)"},
		{"", RuleGuarded, w.Read("y"), AtMost(402.5, "plan"), Pass, "value 400.0 ± 2.5 V is at most 402.5 V (plan)"},
		// of a meter whose last digit alone is known, 1 V, half of it is
		{"", RulePart, w.Read("digit"), AtMost(500, "plan"), Inconclusive, "the limit lies inside the known part of its uncertainty: a more accurate instrument is needed"},
	} {
		w.Plan.Rule, w.found = c.rule, Finding{}
		v := w.Hold("k", "value", "V", c.e, c.limit)
		if d := w.found.Derived[0]; v != c.verdict || d.Rule != c.want || !strings.Contains(Wording(nil, w.found.Reasons[0].Said), c.says) {
			t.Errorf("%q: %s by %q: %q; want %s by %q: %q", c.rule, v, d.Rule, Wording(nil, w.found.Reasons[0].Said), c.verdict, c.want, c.says)
		}
		if d := w.found.Derived[0]; math.IsNaN(d.ChanceOut) != (d.Known != calc.KnownWhole) {
			t.Errorf("a chance of %v of being out, of which %v is known", d.ChanceOut, d.Known)
		}
	}
}

// A datum that may be off moves wherever it stands, by its own width each way.
func TestSpread_uncertainDatum(t *testing.T) {
	w := bench(t, map[string]readingOf{"y": {"a", 400}, "blind": {"unknown", 400}})
	z := func() *calc.Expr { return calc.Uncertain("impedance", 5, 4.5, 5.5, "%") }
	pf := calc.Uncertain("power factor", 0.8, 0.7, 1, "")
	for _, c := range []struct {
		name string
		e    *calc.Expr
		want float64
	}{
		{"alone", z(), 0.5},
		{"twice the same", z().Add(z()), 1},
		{"the same cancels", z().Div(z()), 0},
		{"the wider way counts", pf, 0.2},
		{"two", z().Add(pf), 2 / math.Sqrt(3) * math.Hypot(0.5, 0.2)},
		{"with a reading", z().Times(10).Add(w.Read("y")), 2 / math.Sqrt(3) * math.Hypot(5, 2.5)},
	} {
		if got := w.Spread(c.e); !(math.Abs(got-c.want) <= 1e-9) {
			t.Errorf("%s: U is %.9g, want %.9g", c.name, got, c.want)
		}
	}
	if u := w.Spread(z().Add(w.Read("blind"))); !math.IsNaN(u) {
		t.Errorf("beside a reading of which nothing is known: U is %v, want not a number", u)
	}
}

// At the edge of a function's domain one direction has no value: the other tells.
// Where neither has, a guarded value is inconclusive, not judged as if exact.
func TestSpread_edgeOfDomain(t *testing.T) {
	w := bench(t, map[string]readingOf{"x": {"a", 400}, "y": {"a", 400}, "blind": {"unknown", 400}})
	x, y := w.Read("x"), w.Read("y")
	angle := calc.ArcCosDeg(x.Div(y)) // one digit less above or more below: acos(399.9/400) = 1.2813°, by calculator
	// Both move by one digit alone: 2·√2·1.2813/√3 = 2.0924, under 2·1.2813.
	if got, want := w.Spread(angle), 2/math.Sqrt(3)*math.Sqrt2*1.2813; !(math.Abs(got-want) <= 1e-3) {
		t.Errorf("U of acos(400/400) is %v, want %v", got, want)
	}
	only := calc.Solve("a point", func(v []float64) float64 {
		if v[0] == 400 {
			return 1
		}
		return math.NaN()
	}, x)
	for _, c := range []struct {
		name string
		rule string
		e    *calc.Expr
		want Verdict
	}{
		{"no direction has a value", "", only, Inconclusive},
		{"the same by the simple rule", "simple", only, Pass},
		{"accuracy not known", "", w.Read("blind"), Pass},
	} {
		w.Plan.Rule = c.rule
		if got := w.Hold("k", "value", "V", c.e, AtMost(500, "plan")); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
	if text := Wording(nil, w.found.Reasons[0].Said); text != "value 1 V cannot be told from the limit at most 500 V (plan): its uncertainty cannot be worked out here" {
		t.Errorf("says %q", text)
	}
}

func TestRange_error(t *testing.T) {
	pct, ofTop, digits, none := quantity.Percent(0.5), quantity.Percent(1), 3.0, 0.0
	res := &quantity.Amount{Value: 0.1, Of: "voltage", Unit: "V"}
	for _, c := range []struct {
		name             string
		r                plan.Range
		gain, span, step float64
		known            bool
	}{
		{"reading and digits", plan.Range{Reading: &pct, Digits: &digits, Resolution: res}, 1.25, 0, 0.3, true},
		{"reading only", plan.Range{Reading: &pct}, 1.25, 0, 0, true},
		{"reading, and the display's last digit", plan.Range{Reading: &pct, Resolution: res}, 1.25, 0, 0.05, true},
		{"no digit stated as error", plan.Range{Digits: &none, Resolution: res}, 0, 0, 0.05, true},
		{"share of the top only, as on a pointer instrument", plan.Range{To: quantity.Amount{Value: 600, Of: "voltage", Unit: "V"}, OfRange: &ofTop}, 0, 6, 0, true},
		{"all three", plan.Range{To: quantity.Amount{Value: 600, Of: "voltage", Unit: "V"}, Reading: &pct, Digits: &digits, Resolution: res, OfRange: &ofTop}, 1.25, 6, 0.3, true},
		{"none", plan.Range{}, 0, 0, 0, false},
		{"only the last digit", plan.Range{Resolution: res}, 0, 0, 0.05, false},
	} {
		gain, span, step, known := c.r.ErrorAt(-250)
		if !(math.Abs(gain-c.gain) <= 1e-12) || !(math.Abs(span-c.span) <= 1e-12) || !(math.Abs(step-c.step) <= 1e-12) || known != c.known {
			t.Errorf("%s: %v, %v, %v, %v; want %v, %v, %v, %v", c.name, gain, span, step, known, c.gain, c.span, c.step, c.known)
		}
	}
}

func TestMeter_rangeFor(t *testing.T) {
	low := quantity.Amount{Value: 20, Of: "torque", Unit: "N·m"}
	m := plan.Meter{Ranges: []plan.Range{{To: quantity.Amount{Value: 600, Of: "voltage", Unit: "V"}}, {To: quantity.Amount{Value: 60, Of: "voltage", Unit: "V"}}, {To: quantity.Amount{Value: 100, Of: "torque", Unit: "N·m"}, From: &low}}}
	for _, c := range []struct {
		of   string
		x    float64
		want float64 // top; 0 for none
	}{
		{"voltage", 59, 60}, {"voltage", 60, 60}, {"voltage", 60.1, 600}, {"voltage", -400, 600}, {"voltage", 601, 0}, {"voltage", 0, 60},
		{"torque", 20, 100}, {"torque", 100, 100}, {"torque", 19.9, 0}, {"torque", 15, 0}, // a 20-100 N·m tool set to 15
		{"current", 1, 0},
	} {
		r, ok := m.RangeFor(c.of, c.x)
		if ok != (c.want != 0) || r.To.Value != c.want {
			t.Errorf("%v of %s is read in the range to %v (%v), want %v", c.x, c.of, r.To.Value, ok, c.want)
		}
	}
}

func TestMeter_outOfDate(t *testing.T) {
	zone := time.FixedZone("", 8*3600)
	m := plan.Meter{Name: "meter", Serial: "1", Due: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)}
	for at, out := range map[time.Time]bool{
		time.Date(2026, 3, 2, 23, 59, 59, 0, time.UTC): false,
		time.Date(2026, 3, 3, 0, 0, 0, 0, time.UTC):    true,
		time.Date(2026, 3, 2, 23, 59, 59, 0, zone):     false, // the day where the work is done
		time.Date(2026, 3, 3, 0, 0, 0, 0, zone):        true,
	} {
		if why := m.OutOfDate(at); (why != "") != out {
			t.Errorf("at %v: %q", at, why)
		}
	}
}
