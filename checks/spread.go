package checks

import (
	"math"
	"slices"
)

// Knowledge is how much of a value's uncertainty is known, by its readings: counts
// and data of the plan are always known.
type Knowledge int

const (
	KnownNot   Knowledge = iota // the accuracy of none of its readings
	KnownPart                   // of some of its readings: a lower bound
	KnownWhole                  // of every reading
)

// Spread is how far a value may be off.
type Spread struct {
	Standard float64 // standard uncertainty u
	Most     float64 // the sum of the half-widths: no error is larger
	U        float64 // expanded uncertainty: 2u, and never more than Most
}

var unknownSpread = Spread{math.NaN(), math.NaN(), math.NaN()}

// noise is the part of a value under which an uncertainty is the rounding of the
// computer and no error of an instrument.
const noise = 1e-10

// spread is the expanded uncertainty U of e, from
//
//	u² = Σ_groups a²/3      a = G + max(O, √Σo²) + √Σs²      U = min(2u, Σ_groups (G + max(O, Σo) + Σs))
//
//	group  the readings of one quantity by one instrument in one range
//	G      how far e moves when they all move together by their gain error: it is
//	       common to them (JCGM 100:2008 F.1.2.3), so the difference of two readings
//	       in one range is known far better than either; ranges err by themselves
//	O, o   how far e moves when they all move together by the error of their range,
//	       and when one of them does alone. The scale may stand off as a whole or
//	       bend in between, so the worse of both counts (our choice)
//	s      how far e moves when one reading alone moves by the error of its digits
//
// each the larger of up and down. The parts of a group are added as the maker adds
// them, so a single reading has the maker's limit of error as its half-width a,
// rectangular: u = a/√3 (JCGM 100:2008 4.3.7), and U = a and not 2a/√3, as no error
// is larger than a. A value of the plan that lies between two others (see Uncertain)
// is a group of its own. The known part when some accuracy is not known, NaN when
// none is; 0 when e reads nothing.
func (w *Work) spread(e *Expr) float64 {
	parts, known := w.errorParts(e)
	if known == KnownNot {
		return math.NaN()
	}
	return w.spreadOf(e, parts).U
}

// errorPart is what one group brings to an uncertainty. Readings without an error
// are left out.
type errorPart struct {
	meter, of string
	in        [2]float64  // its range: bottom and top
	gains     []stepError // moved together, each by its own amount
	spans     []stepError // moved together, and one by one
	steps     []stepError // moved one by one
}

// stepError is how far a value may be moved, in its base unit.
type stepError struct {
	key      string
	from     float64 // where it stands
	up, down float64
}

// evenly is a stepError of the same size up and down.
func evenly(key string, x, by float64) stepError { return stepError{key, x, by, by} }

// errorParts lists the groups in the order of the readings, and how much of the
// accuracy is known.
func (w *Work) errorParts(e *Expr) (parts []errorPart, known Knowledge) {
	stated, not := 0, 0
	for _, k := range e.readings() {
		r := w.sources[k]
		switch {
		case r.exact:
			continue
		case !r.known:
			not++
		}
		if r.known || r.step != 0 {
			stated++
		}
		parts = r.addTo(parts, k, w.value(k))
	}
	for _, u := range e.uncertain() {
		parts = append(parts, errorPart{steps: []stepError{{u.key, u.value, u.high - u.value, u.value - u.low}}})
	}
	switch {
	case not == 0:
		return parts, KnownWhole
	case stated > 0:
		return parts, KnownPart
	}
	return nil, KnownNot
}

// addTo adds a reading's errors to its group.
func (s source) addTo(parts []errorPart, key string, x float64) []errorPart {
	i := slices.IndexFunc(parts, func(p errorPart) bool { return p.meter == s.meter && p.of == s.of && p.in == s.in })
	if i < 0 {
		i, parts = len(parts), append(parts, errorPart{meter: s.meter, of: s.of, in: s.in})
	}
	p := &parts[i]
	if s.share != 0 {
		p.gains = append(p.gains, evenly(key, x, s.share/100*x))
	}
	if s.span != 0 {
		p.spans = append(p.spans, evenly(key, x, s.span))
	}
	if s.step != 0 {
		p.steps = append(p.steps, evenly(key, x, s.step))
	}
	return parts
}

func (w *Work) spreadOf(e *Expr, parts []errorPart) Spread {
	base, squares := e.eval(w.value), 0.0
	s := Spread{}
	for _, p := range parts {
		half, most := w.halfWidth(e, base, p)
		squares += square(half)
		s.Most += most
	}
	s.Standard = math.Sqrt(squares / 3)
	s.U = math.Min(2*s.Standard, s.Most)
	if s.U <= noise*math.Abs(base) {
		s = Spread{}
	}
	return s
}

// halfWidth is how far a group takes e, and how far at the very most.
func (w *Work) halfWidth(e *Expr, base float64, p errorPart) (half, most float64) {
	gain, span := w.move(e, base, p.gains), w.move(e, base, p.spans)
	ownRoot, own := w.moveEach(e, base, p.spans)
	stepRoot, step := w.moveEach(e, base, p.steps)
	return gain + math.Max(span, ownRoot) + stepRoot, gain + math.Max(span, own) + step
}

// moveEach moves one reading after the other: the root of the sum of the squares, and
// the sum.
func (w *Work) moveEach(e *Expr, base float64, by []stepError) (root, sum float64) {
	squares := 0.0
	for i := range by {
		x := w.move(e, base, by[i:i+1])
		squares += square(x)
		sum += x
	}
	return math.Sqrt(squares), sum
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
		for _, s := range by {
			switch {
			case s.key != key:
			case sign > 0:
				return s.from + s.up
			default:
				return s.from - s.down
			}
		}
		return at(key)
	}
}

// The rules a value may be judged by.
const (
	RuleGuarded = "guarded"
	RulePart    = "guarded by the known part of the uncertainty"
	RuleSimple  = "simple"
)

// ruleOf is how a value is judged: guarded by what is known of its uncertainty, simply
// where nothing is or the plan says so. Less said never makes it easier to pass. An
// uncertainty that cannot be worked out all the same leaves a guarded value
// inconclusive.
func (w *Work) ruleOf(known Knowledge) string {
	switch {
	case w.Plan.Rule == RuleSimple || known == KnownNot:
		return RuleSimple
	case known == KnownPart:
		return RulePart
	}
	return RuleGuarded
}
