package checks

import (
	"math"
	"slices"
	"strings"
)

// Expr is a computation kept as a tree, so that one source gives the value, its
// uncertainty and its working: the worked line on the sheet cannot differ from
// what was computed.
type Expr struct {
	op    op
	args  []*Expr
	value float64 // constant
	label string  // name of a reading, constant or named step
	unit  string
	key   string // field of a reading
	in    string // unit a reading is told in, its base unit when ""

	low, high float64 // where a constant may lie; both its value when it is exact
	fn        func([]float64) float64
}

type op int

const (
	opConst op = iota
	opReading
	opNamed // a step with its own line in the working
	opAdd
	opSub
	opMul
	opDiv
	opPow
	opCall // sqrt, abs, max, … shown as name(args)
	opSolve
)

// K is a bare number of a formula.
func K(x float64) *Expr { return &Expr{op: opConst, value: x} }

// Datum is a value from the plan or an earlier check, in its base unit.
func Datum(label string, x float64, unit string) *Expr {
	return &Expr{op: opConst, value: x, label: label, unit: unit}
}

// reading is a leaf that reads a field, or check/field of an earlier check.
func reading(key, label, unit string) *Expr {
	return &Expr{op: opReading, key: key, label: label, unit: unit}
}

// inOwnUnit tells a reading in the unit its field is shown in and not in the base unit.
func (e *Expr) inOwnUnit() *Expr {
	e.in = e.unit
	return e
}

// Uncertain is a Datum that may lie anywhere from low to high, such as an impedance
// within its tolerance. Data of one label are one and the same: they move together.
func Uncertain(label string, x, low, high float64, unit string) *Expr {
	return &Expr{op: opConst, value: x, label: label, unit: unit, key: "datum " + label, low: low, high: high}
}

// exactly is a computation with every Uncertain datum taken as it stands.
func exactly(e *Expr) *Expr {
	f := *e
	f.low, f.high = 0, 0
	f.args = make([]*Expr, len(e.args))
	for i, a := range e.args {
		f.args[i] = exactly(a)
	}
	return &f
}

func (e *Expr) isUncertain() bool { return e.op == opConst && e.low < e.high }

// Named gives an expression a line of its own in the working.
func Named(label, unit string, e *Expr) *Expr {
	return &Expr{op: opNamed, args: []*Expr{e}, label: label, unit: unit}
}

func (e *Expr) Add(f *Expr) *Expr     { return &Expr{op: opAdd, args: []*Expr{e, f}} }
func (e *Expr) Sub(f *Expr) *Expr     { return &Expr{op: opSub, args: []*Expr{e, f}} }
func (e *Expr) Mul(f *Expr) *Expr     { return &Expr{op: opMul, args: []*Expr{e, f}} }
func (e *Expr) Div(f *Expr) *Expr     { return &Expr{op: opDiv, args: []*Expr{e, f}} }
func (e *Expr) Pow(x float64) *Expr   { return &Expr{op: opPow, args: []*Expr{e, K(x)}} }
func (e *Expr) PowOf(f *Expr) *Expr   { return &Expr{op: opPow, args: []*Expr{e, f}} }
func (e *Expr) Times(x float64) *Expr { return e.Mul(K(x)) }
func call(name string, fn func([]float64) float64, args ...*Expr) *Expr {
	return &Expr{op: opCall, label: name, fn: fn, args: args}
}

// Sqrt is the square root; of a negative number NaN, which never passes.
func Sqrt(e *Expr) *Expr { return call("√", func(x []float64) float64 { return math.Sqrt(x[0]) }, e) }

// Abs is the magnitude.
func Abs(e *Expr) *Expr { return call("abs", func(x []float64) float64 { return math.Abs(x[0]) }, e) }

// Max is the largest of its arguments, NaN when one is NaN.
func Max(e ...*Expr) *Expr { return call("max", reduce(math.Max), e...) }

// Min is the smallest of its arguments, NaN when one is NaN.
func Min(e ...*Expr) *Expr { return call("min", reduce(math.Min), e...) }

// Mean is the arithmetic mean.
func Mean(e ...*Expr) *Expr {
	return call("mean", func(x []float64) float64 {
		s := 0.0
		for _, v := range x {
			s += v
		}
		return s / float64(len(x))
	}, e...)
}

// Sum adds its arguments.
func Sum(e ...*Expr) *Expr {
	s := e[0]
	for _, f := range e[1:] {
		s = s.Add(f)
	}
	return s
}

// CosDeg and SinDeg take degrees; ArcCosDeg and ArcSinDeg give them.
func CosDeg(e *Expr) *Expr {
	return call("cos", func(x []float64) float64 { return math.Cos(x[0] * math.Pi / 180) }, e)
}
func SinDeg(e *Expr) *Expr {
	return call("sin", func(x []float64) float64 { return math.Sin(x[0] * math.Pi / 180) }, e)
}
func ArcCosDeg(e *Expr) *Expr {
	return call("arccos", func(x []float64) float64 { return math.Acos(x[0]) * 180 / math.Pi }, e)
}
func ArcSinDeg(e *Expr) *Expr {
	return call("arcsin", func(x []float64) float64 { return math.Asin(x[0]) * 180 / math.Pi }, e)
}

// Solve is a computation in several steps that no single line holds; how says
// in words what it does, for the working.
func Solve(how string, fn func([]float64) float64, args ...*Expr) *Expr {
	return &Expr{op: opSolve, label: how, fn: fn, args: args}
}

func reduce(f func(a, b float64) float64) func([]float64) float64 {
	return func(x []float64) float64 {
		m := x[0]
		for _, v := range x[1:] {
			m = f(m, v)
		}
		return m
	}
}

// eval computes the tree with readings taken from at.
func (e *Expr) eval(at func(key string) float64) float64 {
	switch e.op {
	case opConst:
		if e.isUncertain() && at != nil {
			if x := at(e.key); !math.IsNaN(x) { // moved
				return x
			}
		}
		return e.value
	case opReading:
		if e.in != "" {
			return FromBase(at(e.key), e.in)
		}
		return at(e.key)
	case opNamed:
		return e.args[0].eval(at)
	}
	x := make([]float64, len(e.args))
	for i, a := range e.args {
		x[i] = a.eval(at)
	}
	return e.apply(x)
}

// apply is what an operation, a function or a solved node makes of its arguments.
func (e *Expr) apply(x []float64) float64 {
	switch e.op {
	case opAdd:
		return x[0] + x[1]
	case opSub:
		return x[0] - x[1]
	case opMul:
		return float64(x[0] * x[1]) // no fused rounding: verdicts agree on every machine
	case opDiv:
		return x[0] / x[1]
	case opPow:
		return power2(x[0], x[1])
	}
	return e.fn(x)
}

// power2 keeps small whole powers exact products.
func power2(x, n float64) float64 {
	switch n {
	case 2:
		return x * x
	case 4:
		return float64(x*x) * float64(x*x)
	}
	return math.Pow(x, n)
}

// readings lists the keys the tree reads, each once, in order of use.
func (e *Expr) readings() []string {
	var keys []string
	e.walk(func(f *Expr) {
		if f.op == opReading && !slices.Contains(keys, f.key) {
			keys = append(keys, f.key)
		}
	})
	return keys
}

// uncertain lists the data that may be off, each once.
func (e *Expr) uncertain() []*Expr {
	var out []*Expr
	e.walk(func(f *Expr) {
		if f.isUncertain() && !slices.ContainsFunc(out, func(g *Expr) bool { return g.key == f.key }) {
			out = append(out, f)
		}
	})
	return out
}

func (e *Expr) walk(visit func(*Expr)) {
	for _, a := range e.args {
		a.walk(visit)
	}
	visit(e)
}

// working gives the lines a colleague redoes the value from: first every named
// step, then the value itself, each as words and as numbers.
func (e *Expr) working(label, unit string, at func(string) float64) []string {
	var lines []string
	seen := map[*Expr]bool{}
	e.walk(func(f *Expr) {
		if f.op == opNamed && f != e && !seen[f] {
			seen[f] = true
			lines = append(lines, f.line(f.label, f.unit, f.args[0], at))
		}
	})
	return append(lines, e.line(label, unit, e, at))
}

func (e *Expr) line(label, unit string, body *Expr, at func(string) float64) string {
	if body.op == opNamed {
		body = body.args[0]
	}
	value := spell(e.eval(at), unit)
	switch body.op {
	case opConst, opReading:
		return label + " = " + value
	case opSolve:
		return label + " = " + value + ", " + body.label
	}
	words, numbers := body.render(0, nil), body.render(0, at)
	if words == numbers {
		return label + " = " + numbers + " = " + value
	}
	return label + " = " + words + " = " + numbers + " = " + value
}

func spell(x float64, unit string) string { return significant(x, 6) + withUnit(unit) }

// level orders operators so that only needed brackets are printed.
var level = map[op]int{opAdd: 1, opSub: 1, opMul: 2, opDiv: 2, opPow: 3}

// render writes the tree; with at nil in words, else with numbers.
func (e *Expr) render(outer int, at func(string) float64) string {
	text := func(x float64) string {
		s := significant(x, 6)
		if strings.HasPrefix(s, "−") && outer > 0 {
			return "(" + s + ")"
		}
		return s
	}
	switch e.op {
	case opConst:
		if at == nil && e.label != "" {
			return e.label
		}
		return text(e.value)
	case opReading, opNamed:
		if at == nil {
			return e.label
		}
		return text(e.eval(at))
	case opSolve:
		if at == nil {
			return e.label
		}
		return text(e.eval(at))
	case opCall:
		parts := make([]string, len(e.args))
		for i, a := range e.args {
			parts[i] = a.render(0, at)
		}
		return e.label + "(" + strings.Join(parts, "; ") + ")"
	}
	mine := level[e.op]
	left, right := mine, mine
	if e.op == opSub || e.op == opDiv || e.op == opPow {
		right = mine + 1
	}
	sign := map[op]string{opAdd: " + ", opSub: " − ", opMul: " × ", opDiv: " / ", opPow: "^"}[e.op]
	if e.op == opPow {
		left = mine + 1
	}
	s := e.args[0].render(left, at) + sign + e.args[1].render(right, at)
	if mine < outer {
		return "(" + s + ")"
	}
	return s
}
