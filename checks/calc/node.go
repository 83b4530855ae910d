package calc

import (
	"fmt"
	"math"
	"strings"

	"handback/checks/quantity"
)

// node is what an expression may be: one of the six below and nothing else.
type node interface {
	args() []*Expr
	on(args []*Expr) node // the same on other arguments
	part() Part
	name() string // its label, or what a solved one does; "" of what has none
	eval(at func(key string) float64) float64
	over(x []float64) float64 // its value over those of its arguments; of a leaf it is not asked
	// render writes the node; with at nil in words, else with numbers. outer is the
	// level of what stands around it: see operator.
	render(outer int, at func(key string) float64) string
	// formula is the node over the formulas of its arguments; it panics for one that
	// must have a cell of its own, which is our own mistake.
	formula(args []string) string
}

// constant is a bare number, or a datum where it has a label. One with low below high
// may lie anywhere between them.
type constant struct {
	label, unit      string
	value, low, high float64
}

func (c *constant) isUncertain() bool { return c.low < c.high }

func (c *constant) bounds() (low, high float64) {
	if !c.isUncertain() {
		return c.value, c.value
	}
	return c.low, c.high
}

// key is what an uncertain datum is moved by.
func (c *constant) key() string { return "datum " + c.label }

func (c *constant) name() string    { return c.label }
func (c *constant) args() []*Expr   { return nil }
func (c *constant) on([]*Expr) node { return c }
func (c *constant) part() Part {
	if c.label == "" {
		return PartPlain
	}
	return PartDatum
}
func (c *constant) eval(at func(string) float64) float64 {
	if c.isUncertain() && at != nil {
		if x := at(c.key()); !math.IsNaN(x) { // moved
			return x
		}
	}
	return c.value
}
func (c *constant) render(outer int, at func(string) float64) string {
	if at == nil && c.label != "" {
		return c.label
	}
	return inBrackets(c.value, outer)
}
func (c *constant) over([]float64) float64  { panic("calc: a constant is over nothing") }
func (c *constant) formula([]string) string { return FormulaNumber(c.value) }

// reading is what was read for a field.
type reading struct {
	key, label, unit string
	in               string // unit it is told in, its base unit when ""
}

func (r *reading) name() string    { return r.label }
func (r *reading) args() []*Expr   { return nil }
func (r *reading) on([]*Expr) node { return r }
func (r *reading) part() Part      { return PartReading }
func (r *reading) eval(at func(string) float64) float64 {
	if r.in != "" {
		return quantity.FromBase(at(r.key), r.in)
	}
	return at(r.key)
}
func (r *reading) render(outer int, at func(string) float64) string {
	return leafText(r, outer, at)
}
func (r *reading) over([]float64) float64  { panic("calc: a reading is over nothing") }
func (r *reading) formula([]string) string { panic("calc: reading " + r.key + " has no cell") }

// step is a part with its own line in the working.
type step struct {
	label, unit string
	body        [1]*Expr
}

func (s *step) name() string                         { return s.label }
func (s *step) args() []*Expr                        { return s.body[:] }
func (s *step) on(args []*Expr) node                 { return &step{s.label, s.unit, [1]*Expr(args)} }
func (s *step) part() Part                           { return PartStep }
func (s *step) eval(at func(string) float64) float64 { return s.body[0].Eval(at) }
func (s *step) over(x []float64) float64             { return x[0] }
func (s *step) render(outer int, at func(string) float64) string {
	return leafText(s, outer, at)
}
func (s *step) formula([]string) string { panic("calc: step " + s.label + " has no cell") }

// operation is an operator between two expressions.
type operation struct {
	*operator
	of [2]*Expr
}

func (o *operation) name() string         { return "" }
func (o *operation) args() []*Expr        { return o.of[:] }
func (o *operation) on(args []*Expr) node { return &operation{o.operator, [2]*Expr(args)} }
func (o *operation) part() Part           { return PartPlain }
func (o *operation) eval(at func(string) float64) float64 {
	return o.gives(o.of[0].Eval(at), o.of[1].Eval(at))
}
func (o *operation) over(x []float64) float64 { return o.gives(x[0], x[1]) }
func (o *operation) render(outer int, at func(string) float64) string {
	s := o.of[0].render(o.before, at) + o.sign + o.of[1].render(o.after, at)
	if o.level < outer {
		return "(" + s + ")"
	}
	return s
}
func (o *operation) formula(args []string) string { return fmt.Sprintf(o.sheet, args[0], args[1]) }

// call is a function of expressions, shown as name(arguments).
type call struct {
	*function
	of []*Expr
}

func (c *call) name() string                         { return "" }
func (c *call) args() []*Expr                        { return c.of }
func (c *call) on(args []*Expr) node                 { return &call{c.function, args} }
func (c *call) part() Part                           { return PartPlain }
func (c *call) eval(at func(string) float64) float64 { return c.gives(values(c.of, at)) }
func (c *call) over(x []float64) float64             { return c.gives(x) }
func (c *call) render(_ int, at func(string) float64) string {
	parts := make([]string, len(c.of))
	for i, a := range c.of {
		parts[i] = a.render(0, at)
	}
	return c.function.name + "(" + strings.Join(parts, "; ") + ")"
}
func (c *call) formula(args []string) string { return fmt.Sprintf(c.sheet, strings.Join(args, ",")) }

// solved is a computation in several steps; how says in words what it does.
type solved struct {
	how   string
	gives func([]float64) float64
	of    []*Expr
}

func (s *solved) name() string                         { return s.how }
func (s *solved) args() []*Expr                        { return s.of }
func (s *solved) on(args []*Expr) node                 { return &solved{s.how, s.gives, args} }
func (s *solved) part() Part                           { return PartSolved }
func (s *solved) eval(at func(string) float64) float64 { return s.gives(values(s.of, at)) }
func (s *solved) over(x []float64) float64             { return s.gives(x) }
func (s *solved) render(outer int, at func(string) float64) string {
	return leafText(s, outer, at)
}
func (s *solved) formula([]string) string { panic("calc: " + s.how + " has no cell") }

func values(of []*Expr, at func(string) float64) []float64 {
	x := make([]float64, len(of))
	for i, e := range of {
		x[i] = e.Eval(at)
	}
	return x
}

// leafText writes what stands in a line by its name, or by its value.
func leafText(n node, outer int, at func(string) float64) string {
	if at == nil {
		return n.name()
	}
	return inBrackets(n.eval(at), outer)
}

// inBrackets writes a number, a negative one within a computation in brackets.
func inBrackets(x float64, outer int) string {
	s := quantity.Significant(x, 6)
	if strings.HasPrefix(s, "−") && outer > 0 {
		return "(" + s + ")"
	}
	return s
}
