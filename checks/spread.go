package checks

import (
	"math"

	"handback/checks/calc"
)

// budget is what every error of the readings brings to e.
func (w *Work) budget(e *calc.Expr) (calc.Budget, calc.Knowledge) {
	return calc.Readings{Sources: w.sources, At: w.Value}.Budget(e)
}

// Spread is the expanded uncertainty U of e: the known part of it when some accuracy is
// not known, NaN when none is; 0 when e reads nothing.
func (w *Work) Spread(e *calc.Expr) float64 {
	b, known := w.budget(e)
	if known == calc.KnownNot {
		return math.NaN()
	}
	return b.Spread(e.Eval(w.Value)).U
}

// ruleOf is how a value is judged: guarded by what is known of its uncertainty, simply
// where nothing is or the plan says so. Less said never makes it easier to pass. An
// uncertainty that cannot be worked out all the same leaves a guarded value
// inconclusive.
func (w *Work) ruleOf(known calc.Knowledge) string {
	switch {
	case w.Plan.Rule == RuleSimple || known == calc.KnownNot:
		return RuleSimple
	case known == calc.KnownPart:
		return RulePart
	}
	return RuleGuarded
}

// derive works a value out, with its budget.
func (w *Work) derive(key, name, unit string, e *calc.Expr) Derived {
	d := Derived{Key: key, Name: name, Unit: unit, Value: e.Eval(w.Value), Spread: calc.UnknownSpread,
		ChanceOut: math.NaN(), Expr: e}
	if !w.lean {
		d.Working = e.Working(name, unit, w.Value)
	}
	if d.Budget, d.Known = w.budget(e); d.Known != calc.KnownNot {
		d.Spread = d.Budget.Spread(d.Value)
	}
	return d
}
