package checks

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
)

// rangeFor is the range that reads x: the smallest whose top holds it.
// ok is false when no range of that quantity does.
func (m *Meter) rangeFor(of string, x float64) (Range, bool) {
	var best Range
	found := false
	for _, r := range m.Ranges {
		if r.To.Of != of || math.Abs(x) > r.To.Value*(1+slack) || r.From != nil && math.Abs(x) < r.From.Value*(1-slack) {
			continue
		}
		if !found || r.To.Value < best.To.Value {
			best, found = r, true
		}
	}
	return best, found
}

// measures tells whether the meter has any range of the quantity.
func (m *Meter) measures(of string) bool {
	for _, r := range m.Ranges {
		if r.To.Of == of {
			return true
		}
	}
	return false
}

// error gives the half-widths of a reading's error: gain grows with the reading
// and is shared by all readings of one instrument, step is each reading's own.
//
//	gain = reading % · |x|      step = digits · resolution + of_range % · top
//
// known is false when the range states no accuracy.
func (r Range) error(x float64) (gain, step float64, known bool) {
	if r.Reading != nil {
		gain, known = float64(*r.Reading)/100*math.Abs(x), true
	}
	if r.Digits != nil {
		step, known = *r.Digits*r.Resolution.Value, true
	}
	if r.OfRange != nil {
		step, known = step+float64(float64(*r.OfRange)/100*r.To.Value), true
	}
	return gain, step, known
}

// outOfDate says why an instrument does not count at a time, "" when it does.
// A calibration holds to the end of its due day.
func (m *Meter) outOfDate(at time.Time) string {
	y, mo, d := m.Due.Date()
	end := time.Date(y, mo, d+1, 0, 0, 0, 0, at.Location())
	if at.Before(end) {
		return ""
	}
	return fmt.Sprintf("%s (serial %s) was due for calibration on %s", m.Name, m.Serial, m.Due.Format("2006-01-02"))
}

// spread is the expanded uncertainty U = 2u of e, from
//
//	u² = Σ_instruments (a/√3)²      a = G + √(Σ s²)
//
//	G  how far e moves when all readings of one instrument move together by
//	   their gain error: it is common to them (JCGM 100:2008 F.1.2.3), so the
//	   difference of two readings of one meter is known far better than either
//	s  how far e moves when one reading alone moves by its step error
//
// each the larger of up and down. The two parts are added as the maker adds them,
// so a single reading has a = reading % + digits, rectangular (JCGM 100:2008
// 4.3.7). NaN when any reading's accuracy is not known; 0 when e reads nothing.
func (w *Work) spread(e *Expr) float64 {
	parts, known := w.errorParts(e)
	if !known {
		return math.NaN()
	}
	return w.spreadOf(e, parts)
}

// errorPart is what one instrument's readings of one quantity bring to an
// uncertainty. Readings without an error are left out.
type errorPart struct {
	meter, of string
	gains     []stepError // moved together, each by its own amount
	steps     []stepError // moved one by one
}

// stepError is how far a reading may be moved, in its base unit.
type stepError struct {
	key string
	by  float64
}

// errorParts lists the parts in the order of the readings; known is false when
// any reading's accuracy is not known.
func (w *Work) errorParts(e *Expr) (parts []errorPart, known bool) {
	for _, k := range e.readings() {
		r := w.sources[k]
		if r.exact {
			continue
		}
		if !r.known {
			return nil, false
		}
		i := slices.IndexFunc(parts, func(p errorPart) bool { return p.meter == r.meter && p.of == r.of })
		if i < 0 {
			i, parts = len(parts), append(parts, errorPart{meter: r.meter, of: r.of})
		}
		p := &parts[i]
		if r.share != 0 {
			p.gains = append(p.gains, stepError{k, r.share / 100 * w.value(k)})
		}
		if r.step != 0 {
			p.steps = append(p.steps, stepError{k, r.step})
		}
	}
	return parts, true
}

func (w *Work) spreadOf(e *Expr, parts []errorPart) float64 {
	base, sum := e.eval(w.value), 0.0
	for _, p := range parts {
		squares := 0.0
		for i := range p.steps {
			squares += square(w.move(e, base, p.steps[i:i+1]))
		}
		sum += square(w.move(e, base, p.gains) + math.Sqrt(squares))
	}
	return 2 * math.Sqrt(sum/3)
}

func square(x float64) float64 { return float64(x * x) }

// move is how far e goes when the named readings shift by the given amounts, up
// or down: where one way leads out of e's domain (an arc cosine of more than 1),
// the other tells. NaN when neither does.
func (w *Work) move(e *Expr, base float64, by []stepError) float64 {
	if len(by) == 0 {
		return 0
	}
	up, down := math.Abs(base-e.eval(moved(w.value, by, 1))), math.Abs(base-e.eval(moved(w.value, by, -1)))
	switch {
	case math.IsNaN(up):
		return down
	case math.IsNaN(down):
		return up
	}
	return math.Max(up, down)
}

// moved gives readings moved by their errors, up (1) or down (-1).
func moved(at func(key string) float64, by []stepError, sign float64) func(key string) float64 {
	return func(key string) float64 {
		x := at(key)
		for _, s := range by {
			if s.key == key {
				x += sign * s.by
			}
		}
		return x
	}
}

// guards tells whether e is judged guarded: the plan does not say simple, and the
// accuracy of every reading is known. An uncertainty that cannot be worked out
// all the same leaves a guarded value inconclusive.
func (w *Work) guards(e *Expr) bool {
	for _, k := range e.readings() {
		if s := w.sources[k]; !s.exact && !s.known {
			return false
		}
	}
	return w.Plan.Rule != "simple"
}

// InDate tells whether the calibration holds at a time.
func (m *Meter) InDate(at time.Time) bool { return m.outOfDate(at) == "" }

// Words is the range with its accuracy, such as "to 600 V: ±(0.5 % of reading + 3 digits of 0.1 V)".
func (r Range) Words() string {
	span := "to " + spell(r.To.Value, BaseUnit(r.To.Of))
	if r.From != nil {
		span = spell(r.From.Value, BaseUnit(r.To.Of)) + " " + span
	}
	var parts []string
	if r.Reading != nil {
		parts = append(parts, spell(float64(*r.Reading), "%")+" of reading")
	}
	if r.Digits != nil {
		parts = append(parts, significant(*r.Digits, 3)+" digits of "+spell(r.Resolution.Value, BaseUnit(r.To.Of)))
	}
	if r.OfRange != nil {
		parts = append(parts, spell(float64(*r.OfRange), "%")+" of range")
	}
	if len(parts) == 0 {
		return span + ": accuracy not stated"
	}
	return span + ": ±(" + strings.Join(parts, " + ") + ")"
}
