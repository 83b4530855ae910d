package calc

import (
	"math"
	"slices"

	"handback/checks/quantity"
)

// Expr is a computation kept as a tree, so that one source gives the value, its
// uncertainty and its working: the worked line on the sheet cannot differ from
// what was computed.
type Expr struct{ node }

// K is a bare number of a formula.
func K(x float64) *Expr { return &Expr{&constant{value: x}} }

// Datum is a value from the plan or an earlier check, in its base unit.
func Datum(label string, x float64, unit string) *Expr {
	return &Expr{&constant{label: label, value: x, unit: unit}}
}

// Uncertain is a Datum that may lie anywhere from low to high, such as an impedance
// within its tolerance. Data of one label are one and the same: they move together.
func Uncertain(label string, x, low, high float64, unit string) *Expr {
	return &Expr{&constant{label, unit, x, low, high}}
}

// Exactly is a computation with every Uncertain datum taken as it stands.
func Exactly(e *Expr) *Expr {
	if c, ok := e.node.(*constant); ok {
		return &Expr{&constant{c.label, c.unit, c.value, 0, 0}}
	}
	args := slices.Clone(e.args())
	for i, a := range args {
		args[i] = Exactly(a)
	}
	return &Expr{e.on(args)}
}

// Bounds are what a datum may lie between: its value twice where it is exact.
func (e *Expr) Bounds() (low, high float64) { return e.node.(*constant).bounds() }

// Reading is a leaf that reads a field, or check/field of an earlier check.
func Reading(key, label, unit string) *Expr {
	return &Expr{&reading{key: key, label: label, unit: unit}}
}

// Key is that of a reading.
func (e *Expr) Key() string { return e.node.(*reading).key }

// Label is the name of a reading, a datum or a step.
func (e *Expr) Label() string { return e.name() }

// InOwnUnit is a reading told in the unit its field is shown in and not in the base unit.
func (e *Expr) InOwnUnit() *Expr {
	r := *e.node.(*reading)
	r.in = r.unit
	return &Expr{&r}
}

// Named gives an expression a line of its own in the working.
func Named(label, unit string, e *Expr) *Expr { return &Expr{&step{label, unit, [1]*Expr{e}}} }

func (e *Expr) Add(f *Expr) *Expr     { return &Expr{&operation{&add, [2]*Expr{e, f}}} }
func (e *Expr) Sub(f *Expr) *Expr     { return &Expr{&operation{&sub, [2]*Expr{e, f}}} }
func (e *Expr) Mul(f *Expr) *Expr     { return &Expr{&operation{&mul, [2]*Expr{e, f}}} }
func (e *Expr) Div(f *Expr) *Expr     { return &Expr{&operation{&div, [2]*Expr{e, f}}} }
func (e *Expr) PowOf(f *Expr) *Expr   { return &Expr{&operation{&pow, [2]*Expr{e, f}}} }
func (e *Expr) Pow(x float64) *Expr   { return e.PowOf(K(x)) }
func (e *Expr) Times(x float64) *Expr { return e.Mul(K(x)) }

// Sqrt is the square root; of a negative number NaN, which never passes.
func Sqrt(e *Expr) *Expr { return &Expr{&call{&sqrt, []*Expr{e}}} }

// Abs is the magnitude.
func Abs(e *Expr) *Expr { return &Expr{&call{&abs, []*Expr{e}}} }

// Max is the largest of its arguments, NaN when one is NaN.
func Max(e ...*Expr) *Expr { return &Expr{&call{&largest, e}} }

// Min is the smallest of its arguments, NaN when one is NaN.
func Min(e ...*Expr) *Expr { return &Expr{&call{&smallest, e}} }

// Mean is the arithmetic mean.
func Mean(e ...*Expr) *Expr { return &Expr{&call{&mean, e}} }

// Sum adds its arguments.
func Sum(e ...*Expr) *Expr {
	s := e[0]
	for _, f := range e[1:] {
		s = s.Add(f)
	}
	return s
}

// CosDeg and SinDeg take degrees; ArcCosDeg and ArcSinDeg give them.
func CosDeg(e *Expr) *Expr    { return &Expr{&call{&cos, []*Expr{e}}} }
func SinDeg(e *Expr) *Expr    { return &Expr{&call{&sin, []*Expr{e}}} }
func ArcCosDeg(e *Expr) *Expr { return &Expr{&call{&arccos, []*Expr{e}}} }
func ArcSinDeg(e *Expr) *Expr { return &Expr{&call{&arcsin, []*Expr{e}}} }

// Solve is a computation in several steps that no single line holds; how says
// in words what it does, for the working.
func Solve(how string, fn func([]float64) float64, args ...*Expr) *Expr {
	return &Expr{&solved{how, Once(fn), args}}
}

// Once is fn that works the same numbers out only once: values share what they are solved
// from, and a reading that is shifted leaves most as it was. fn hangs on nothing else.
func Once[T any](fn func([]float64) T) func([]float64) T {
	known := map[string]T{} // by the bits of the numbers
	return func(x []float64) T {
		var room [128]byte
		key := room[:0]
		for _, v := range x {
			for bits, n := math.Float64bits(v), 0; n < 8; bits, n = bits>>8, n+1 {
				key = append(key, byte(bits))
			}
		}
		y, ok := known[string(key)]
		if !ok {
			y = fn(x)
			known[string(key)] = y
		}
		return y
	}
}

// Eval computes the tree with readings taken from at.
func (e *Expr) Eval(at func(key string) float64) float64 { return e.eval(at) }

// Readings lists the keys the tree reads, each once, in order of use.
func (e *Expr) Readings() []string {
	var keys []string
	e.walk(func(f *Expr) {
		if r, ok := f.node.(*reading); ok && !slices.Contains(keys, r.key) {
			keys = append(keys, r.key)
		}
	})
	return keys
}

func (e *Expr) walk(visit func(*Expr)) {
	for _, a := range e.args() {
		a.walk(visit)
	}
	visit(e)
}

// Working gives the lines a colleague redoes the value from: first every named
// step, then the value itself, each as words and as numbers.
func (e *Expr) Working(label, unit string, at func(string) float64) []string {
	var lines []string
	seen := map[*Expr]bool{}
	e.walk(func(f *Expr) {
		if s, ok := f.node.(*step); ok && f != e && !seen[f] {
			seen[f] = true
			lines = append(lines, f.line(s.label, s.unit, s.body[0], at))
		}
	})
	return append(lines, e.line(label, unit, e, at))
}

func (e *Expr) line(label, unit string, body *Expr, at func(string) float64) string {
	if s, ok := body.node.(*step); ok {
		body = s.body[0]
	}
	value := quantity.Spell(e.Eval(at), unit)
	switch n := body.node.(type) {
	case *constant, *reading:
		in, holds := quantity.Larger(unit, e.Eval(at))
		return label + " = " + quantity.Spell(e.Eval(at)/holds, in)
	case *solved:
		return label + " = " + value + ", " + n.how
	}
	words, numbers := body.render(0, nil), body.render(0, at)
	if words == numbers {
		return label + " = " + numbers + " = " + value
	}
	return label + " = " + words + " = " + numbers + " = " + value
}
