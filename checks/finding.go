package checks

import (
	"math"
	"slices"
	"strings"
	"time"
)

// slack is the relative slack of a limit: limits include their own value, and a
// decimal such as 44.0 may stand a binary fraction beyond it.
const slack = 1e-9

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
	Key       string
	Name      string
	Value     float64
	Unit      string
	Spread            // NaN when no accuracy is known
	Limit     *Limit  // nil when shown only
	ChanceOut float64 // chance that the true value is beyond the limit; NaN when not wholly known
	Verdict   Verdict // of a value with a limit
	Working   []string
	Expr      *Expr
	Known     Knowledge // how much of its uncertainty is
	Rule      string    // how it was judged: RuleGuarded, RulePart or RuleSimple; "" when shown only
	Bound     string    // ">" or "<" where it was judged as such a bound
	Budget    Budget    // what its uncertainty is made of
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
	sources  map[string]source
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
		for _, key := range d.Expr.readings() {
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

// decide judges x with expanded uncertainty U against a limit.
//
// simple: pass when low ≤ x ≤ high.
// guarded (ILAC-G8:09/2019, guard band w = U): pass when low+U ≤ x ≤ high−U,
// fail when x < low−U or x > high+U, else inconclusive.
//
// Limits include their own value with a relative slack of 1e-9. A NaN anywhere
// it matters is inconclusive, never pass.
func decide(x, U float64, l Limit, guarded bool) Verdict {
	if !guarded {
		U = 0
	}
	if math.IsNaN(x) || math.IsInf(x, 0) || math.IsNaN(U) || math.IsNaN(l.Low) && math.IsNaN(l.High) {
		return Inconclusive
	}
	inside, beyond := true, false
	if !math.IsNaN(l.Low) {
		s := slack * math.Abs(l.Low)
		inside = inside && x >= l.Low+U-s
		beyond = beyond || x < l.Low-U-s
	}
	if !math.IsNaN(l.High) {
		s := slack * math.Abs(l.High)
		inside = inside && x <= l.High-U+s
		beyond = beyond || x > l.High+U+s
	}
	switch {
	case inside:
		return Pass
	case beyond || U == 0:
		return Fail
	}
	return Inconclusive
}
