package checks

import (
	"math"

	"handback/checks/calc"
)

// Spread is the expanded uncertainty U of e: the known part of it when some accuracy is
// not known, NaN when none is; 0 when e reads nothing.
func (w *Work) Spread(e *calc.Expr) float64 {
	worked := calc.WorkOut(e, w.Value)
	b, known := w.sources.Budget(worked)
	if known == calc.KnownNot {
		return math.NaN()
	}
	return b.Spread(worked.Value()).U
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
	worked := calc.WorkOut(e, w.Value)
	d := Derived{Key: key, Name: name, Unit: unit, Value: worked.Value(), Spread: calc.UnknownSpread,
		ChanceOut: math.NaN(), Expr: e, sources: w.sources}
	if d.Budget, d.Known = w.sources.Budget(worked); d.Known != calc.KnownNot {
		d.Spread = d.Budget.Spread(d.Value)
	}
	return d
}
