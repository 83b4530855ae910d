package checks

import (
	"math"
	"testing"
	"time"
)

// bench is a check of one measure kind with readings of two meters, each
// ±(0.6 % + 1 digit of 0.1 V).
func bench(t *testing.T, readings map[string]struct {
	meter string
	volts float64
}) *Work {
	t.Helper()
	share, digits := Percent(0.6), 1.0
	ranges := []Range{{To: Amount{600, "voltage", "V"}, Resolution: &Amount{0.1, "voltage", "V"}, Reading: &share, Digits: &digits}}
	p := &Plan{Meters: []Meter{{ID: "a", Name: "a", Ranges: ranges}, {ID: "b", Name: "b", Ranges: ranges}, {ID: "unknown", Name: "unknown", Ranges: []Range{{To: Amount{600, "voltage", "V"}}}}}}
	w := &Work{Input: Input{Plan: p, Check: &Check{Kind: &Kind{}}, Answers: Answers{}, At: time.Unix(0, 0)}, sources: map[string]source{}}
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
		e    *Expr
		want float64
	}{
		// Bell, example 6-2: ±(0.6 % + 1 digit) at 20 V is ±0.22 V; u = 0.22/√3 = 0.1270, U = 0.2540 (JCGM 100:2008, 4.3.7).
		{"one reading", x, 0.254034},
		{"one reading times a number", x.Times(10), 2.54034},
		{"a negative reading", w.Read("minus"), k * aOf(400)},
		// The 0.6 % is common to both (JCGM 100:2008, F.1.2.3): 0.006·1 V is left of it, and two digits in quadrature.
		{"difference of two readings of one meter", z.Sub(y), k * (0.006 + 0.1*math.Sqrt2)},
		{"sum of two readings of one meter", z.Add(y), k * (0.006*801 + 0.1*math.Sqrt2)},
		{"ratio of two readings of one meter", z.Div(y), k * math.Hypot(0.1/(400-0.1)*401.0/400, 0.1/400)},
		{"difference of readings of two meters", q.Sub(y), k * math.Hypot(aOf(401), aOf(400))},
		{"a value against itself", y.Sub(y), 0},
		{"no reading at all", K(3), 0},
		{"a reading squared", y.Pow(2), k * (math.Pow(402.4, 2) - 160000 + math.Pow(400.1, 2) - 160000)},
	} {
		if got := w.spread(c.e); !(math.Abs(got-c.want) <= 2e-6*math.Max(1, c.want)) {
			t.Errorf("%s: U is %.7g, want %.7g", c.name, got, c.want)
		}
	}
	if u := w.spread(z.Sub(y)); !(u < w.spread(y)/10) {
		t.Errorf("the difference of two readings of one meter has U %v, hardly less than a reading's %v", u, w.spread(y))
	}
	for name, e := range map[string]*Expr{"a meter whose accuracy is not known": w.Read("blind"), "such a one among others": y.Sub(w.Read("blind"))} {
		if u := w.spread(e); !math.IsNaN(u) {
			t.Errorf("%s: U is %v, want not a number", name, u)
		}
	}
}

// At the edge of a function's domain one direction has no value: the other tells.
// Where neither has, a guarded value is inconclusive, not judged as if exact.
func TestSpread_edgeOfDomain(t *testing.T) {
	w := bench(t, map[string]readingOf{"x": {"a", 400}, "y": {"a", 400}, "blind": {"unknown", 400}})
	x, y := w.Read("x"), w.Read("y")
	angle := ArcCosDeg(x.Div(y)) // one digit less above or more below: acos(399.9/400) = 1.2813°, by calculator
	if got, want := w.spread(angle), 2/math.Sqrt(3)*math.Sqrt2*1.2813; !(math.Abs(got-want) <= 1e-3) {
		t.Errorf("U of acos(400/400) is %v, want %v", got, want)
	}
	only := Solve("a point", func(v []float64) float64 {
		if v[0] == 400 {
			return 1
		}
		return math.NaN()
	}, x)
	for _, c := range []struct {
		name string
		rule string
		e    *Expr
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
	if text := w.found.Reasons[0].Text; text != "value 1 V cannot be told from the limit at most 500 V (plan): its uncertainty cannot be worked out here" {
		t.Errorf("says %q", text)
	}
}

func TestRange_error(t *testing.T) {
	pct, ofTop, digits := Percent(0.5), Percent(1), 3.0
	res := &Amount{0.1, "voltage", "V"}
	for _, c := range []struct {
		name       string
		r          Range
		gain, step float64
		known      bool
	}{
		{"reading and digits", Range{Reading: &pct, Digits: &digits, Resolution: res}, 1.25, 0.3, true},
		{"reading only", Range{Reading: &pct}, 1.25, 0, true},
		{"share of the top only, as on a pointer instrument", Range{To: Amount{600, "voltage", "V"}, OfRange: &ofTop}, 0, 6, true},
		{"all three", Range{To: Amount{600, "voltage", "V"}, Reading: &pct, Digits: &digits, Resolution: res, OfRange: &ofTop}, 1.25, 6.3, true},
		{"none", Range{}, 0, 0, false},
	} {
		gain, step, known := c.r.error(-250)
		if !(math.Abs(gain-c.gain) <= 1e-12) || !(math.Abs(step-c.step) <= 1e-12) || known != c.known {
			t.Errorf("%s: %v, %v, %v; want %v, %v, %v", c.name, gain, step, known, c.gain, c.step, c.known)
		}
	}
}

func TestMeter_rangeFor(t *testing.T) {
	low := Amount{20, "torque", "N·m"}
	m := Meter{Ranges: []Range{{To: Amount{600, "voltage", "V"}}, {To: Amount{60, "voltage", "V"}}, {To: Amount{100, "torque", "N·m"}, From: &low}}}
	for _, c := range []struct {
		of   string
		x    float64
		want float64 // top; 0 for none
	}{
		{"voltage", 59, 60}, {"voltage", 60, 60}, {"voltage", 60.1, 600}, {"voltage", -400, 600}, {"voltage", 601, 0}, {"voltage", 0, 60},
		{"torque", 20, 100}, {"torque", 100, 100}, {"torque", 19.9, 0}, {"torque", 15, 0}, // a 20-100 N·m tool set to 15
		{"current", 1, 0},
	} {
		r, ok := m.rangeFor(c.of, c.x)
		if ok != (c.want != 0) || r.To.Value != c.want {
			t.Errorf("%v of %s is read in the range to %v (%v), want %v", c.x, c.of, r.To.Value, ok, c.want)
		}
	}
}

func TestMeter_outOfDate(t *testing.T) {
	zone := time.FixedZone("", 8*3600)
	m := Meter{Name: "meter", Serial: "1", Due: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)}
	for at, out := range map[time.Time]bool{
		time.Date(2026, 3, 2, 23, 59, 59, 0, time.UTC): false,
		time.Date(2026, 3, 3, 0, 0, 0, 0, time.UTC):    true,
		time.Date(2026, 3, 2, 23, 59, 59, 0, zone):     false, // the day where the work is done
		time.Date(2026, 3, 3, 0, 0, 0, 0, zone):        true,
	} {
		if why := m.outOfDate(at); (why != "") != out {
			t.Errorf("at %v: %q", at, why)
		}
	}
}
