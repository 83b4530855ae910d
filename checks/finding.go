package checks

import (
	"math"
	"slices"
	"strings"
	"time"

	"handback/checks/calc"
)

// Limit is what a derived value is held against. A side without a limit is NaN.
type Limit struct {
	Low, High float64
	Source    string // plan, maker's data, common practice, or a standard
}

// AtMost, AtLeast and Between make limits.
func AtMost(high float64, source string) *Limit { return &Limit{math.NaN(), high, source} }
func AtLeast(low float64, source string) *Limit { return &Limit{low, math.NaN(), source} }
func Between(low, high float64, source string) *Limit {
	return &Limit{low, high, source}
}

// Derived is a value worked out from answers.
type Derived struct {
	Key         string
	Name        string
	Value       float64
	Unit        string
	calc.Spread         // NaN when no accuracy is known
	Limit       *Limit  // nil when shown only
	ChanceOut   float64 // chance that the true value is beyond the limit; NaN when not wholly known
	Verdict     Verdict // of a value with a limit
	Expr        *calc.Expr
	Known       calc.Knowledge // how much of its uncertainty is
	Rule        string         // how it was judged: RuleGuarded, RulePart or RuleSimple; "" when shown only
	Condition   bool           // what the test is taken at, not what it shows
	Bound       string         // ">" or "<" where it is known as such a bound
	Budget      calc.Budget    // what its uncertainty is made of
	Since       *Since         // of a change from the plan's baseline, nil for every other value
	sources     calc.Readings
}

// Working is the value's computation, line by line, with what was read as it was judged.
func (d Derived) Working() []string {
	if d.Expr == nil {
		return nil
	}
	return d.Expr.Working(d.Name, d.Unit, d.sources.At)
}

// Guarded tells whether a value was judged with its uncertainty as guard band.
func (d Derived) Guarded() bool { return d.Rule == RuleGuarded || d.Rule == RulePart }

// Reason is one point of why, with the fields it is about.
type Reason struct {
	Said
	Verdict Verdict
	Fields  []string
}

// Finding is what judging the answers of a check gives.
type Finding struct {
	Verdict  Verdict
	Stop     Said // a stop nobody may pass over; says nothing when there is none
	Reasons  []Reason
	Bases    []Basis // what the verdict of each reason hangs on, in their order
	Derived  []Derived
	Cautions []Said    // of this finding, beside those of its kind
	Rule     string    // the decision rule used
	Until    time.Time // the finding goes stale after this; zero means never
	Soon     bool      // that is within hours, and worth a word where the finding is told
	Diagram  *Diagram  // nil when the kind places no volts in a plane
	Course   *Course   // nil when nothing is read over time
	sources  calc.Readings
}

// Value finds a derived value by key.
func (f Finding) Value(key string) (Derived, bool) {
	for _, d := range f.Derived {
		if d.Key == key {
			return d, true
		}
	}
	return Derived{}, false
}

// Uses names the earlier checks whose readings the values of the finding rest on.
func (f Finding) Uses() []string {
	var out []string
	for _, d := range f.Derived {
		for _, key := range d.Expr.Readings() {
			if check, _, ok := strings.Cut(key, "/"); ok && !slices.Contains(out, check) {
				out = append(out, check)
			}
		}
	}
	return out
}

// Why is the reason that decided the verdict: the first that is as bad as it.
func (f Finding) Why() Said {
	if !f.Stop.None() {
		return f.Stop
	}
	for _, r := range f.Reasons {
		if r.Verdict == f.Verdict {
			return r.Said
		}
	}
	return Said{}
}

// The cells of a comparison, with CellChanged.
const (
	CellValue = "value"
	CellU     = "U"
	CellLow   = "low"
	CellHigh  = "high"
)

// Comparison chooses the verdict of a value against a limit, of which a side without a
// limit holds no number.
//
// simple: pass when low ≤ x ≤ high.
// guarded (ILAC-G8:09/2019, guard band w = U): pass when low+U ≤ x ≤ high−U,
// fail when x < low−U or x > high+U, else inconclusive.
//
// Limits include their own value with a relative slack of 1e-9. What is no number where
// it matters is inconclusive, never pass. What would pass in a workbook of which something
// that it rests on was changed is Unreached: the uncertainty is that of the record.
//
// Of a value known as a bound only, ">" or "<", what lies beyond it is not known:
//
//	>x   passes when x does and there is no upper limit; fails when x is above the upper limit
//	<x   passes when x does and there is no lower limit; fails when x is below the lower limit
//
// Everything else is inconclusive.
func Comparison(guarded bool, bound string) calc.Choice {
	pass, fail, open := calc.Word(Pass.Shown()), calc.Word(Fail.Shown()), calc.Word(Inconclusive.Shown())
	guard, known := "", calc.Numbers{CellValue}
	if guarded {
		guard, known = CellU, append(known, CellU)
	}
	side := func(s calc.Side, limit string) calc.Test {
		return calc.Compare{Side: s, Value: CellValue, Limit: limit, Guard: guard}
	}
	var inside calc.Test = Inside(guarded)
	beyondLow, beyondHigh := side(calc.BeyondLow, CellLow), side(calc.BeyondHigh, CellHigh)
	within := unlessChanged(pass)
	beyond := func(t calc.Test) calc.Choice { return calc.If{Test: t, Then: fail, Else: open} }
	var otherwise calc.Choice = fail
	switch {
	case bound == ">":
		inside, otherwise = calc.All{calc.Not{Test: calc.Number(CellHigh)}, inside}, beyond(beyondHigh)
	case bound == "<":
		inside, otherwise = calc.All{calc.Not{Test: calc.Number(CellLow)}, inside}, beyond(beyondLow)
	case guarded:
		otherwise = beyond(calc.Any{calc.Equals{Cell: CellU}, beyondLow, beyondHigh})
	}
	return calc.If{Test: calc.All{known, calc.SomeNumber{CellLow, CellHigh}},
		Then: calc.If{Test: inside, Then: within, Else: otherwise}, Else: open}
}

// comparisons are all there are.
var comparisons = func() map[bool]map[string]calc.Choice {
	out := map[bool]map[string]calc.Choice{}
	for _, guarded := range []bool{false, true} {
		out[guarded] = map[string]calc.Choice{}
		for _, bound := range []string{"", ">", "<"} {
			out[guarded][bound] = Comparison(guarded, bound)
		}
	}
	return out
}()

// Inside holds where a value stands within both sides of a limit.
func Inside(guarded bool) calc.All {
	guard := ""
	if guarded {
		guard = CellU
	}
	return calc.All{calc.Compare{Side: calc.InsideLow, Value: CellValue, Limit: CellLow, Guard: guard},
		calc.Compare{Side: calc.InsideHigh, Value: CellValue, Limit: CellHigh, Guard: guard}}
}

// Decide judges x with expanded uncertainty U against a limit, see Comparison. A value
// without end is none.
func Decide(x, U float64, l Limit, guarded bool) Verdict { return decide(x, U, l, guarded, "") }

func decide(x, U float64, l Limit, guarded bool, bound string) Verdict {
	if math.IsInf(x, 0) {
		x = math.NaN()
	}
	return chosen(comparisons[guarded][bound], func(cell string) (c calc.Content) {
		switch cell {
		case CellValue:
			c.Number = x
		case CellU:
			c.Number = U
		case CellLow:
			c.Number = l.Low
		case CellHigh:
			c.Number = l.High
		}
		return c
	})
}

// chanceOut is the chance that the true value lies beyond the limit (JCGM 106:2012,
// 7). The error is taken as spread by the symmetric beta distribution between −Most
// and +Most with standard deviation u (our choice), of shape
//
//	p = ((Most/u)² − 1)/2
//
// which is the rectangle for a single reading (p = 1) and comes near the normal
// distribution for a sum of many; beyond the sum of the half-widths it is exactly 0.
// What is below 1e-6 is 0. With no uncertainty it is 0 or 1; with one that is not
// known NaN.
func chanceOut(x float64, s calc.Spread, l Limit) float64 {
	if math.IsNaN(x) || math.IsNaN(s.U) || math.IsNaN(l.Low) && math.IsNaN(l.High) {
		return math.NaN()
	}
	if s.U == 0 {
		if Decide(x, 0, l, false) == Pass {
			return 0
		}
		return 1
	}
	out := 0.0
	if !math.IsNaN(l.High) {
		out += s.ChanceAbove(l.High - x)
	}
	if !math.IsNaN(l.Low) {
		out += s.ChanceAbove(x - l.Low)
	}
	if out < calc.LeastChance {
		return 0
	}
	return math.Min(out, 1)
}

// Ledger lays out what the values of a finding rest on, as they were judged.
func (f Finding) Ledger() *calc.Ledger {
	values := make([]*calc.Expr, len(f.Derived))
	for i, d := range f.Derived {
		values[i] = d.Expr
	}
	return calc.NewLedger(f.sources, values)
}

// The rules a value may be judged by.
const (
	RuleGuarded = "guarded"
	RulePart    = "guarded by the known part of the uncertainty"
	RuleSimple  = "simple"
)
