package checks

import (
	"fmt"
	"strings"
)

// Part is what a node of a computation is to whoever lays it out in cells.
type Part int

const (
	PartPlain   Part = iota // an operation or a bare number: written out in place
	PartReading             // a reading, by Key
	PartDatum               // a value from the plan, by Label
	PartStep                // a named step: one formula in a cell of its own
	PartSolved              // a computation in several steps that no formula holds
)

// Part tells what the node is.
func (e *Expr) Part() Part {
	switch {
	case e.op == opReading:
		return PartReading
	case e.op == opConst && e.label != "":
		return PartDatum
	case e.op == opNamed:
		return PartStep
	case e.op == opSolve:
		return PartSolved
	}
	return PartPlain
}

// Body is the computation of a named step.
func (e *Expr) Body() *Expr { return e.args[0] }

// Args are what an operation, a function or a solved node works on.
func (e *Expr) Args() []*Expr { return e.args }

// functions are the spreadsheet names of the functions (ISO/IEC 29500-1 18.17.7,
// also in OpenFormula). Angles go through degrees.
var functions = map[string]string{"√": "SQRT(%s)", "abs": "ABS(%s)", "max": "MAX(%s)", "min": "MIN(%s)", "mean": "AVERAGE(%s)",
	"cos": "COS(RADIANS(%s))", "sin": "SIN(RADIANS(%s))", "arccos": "DEGREES(ACOS(%s))", "arcsin": "DEGREES(ASIN(%s))"}

// Formula writes the computation as a spreadsheet formula without its leading =.
// cell gives the address of a node that has a cell of its own, "" for one to be
// written out; every reading, step and solved node must have one. A function
// without a spreadsheet name is our own mistake and panics.
func (e *Expr) Formula(cell func(*Expr) string) string {
	if at := cell(e); at != "" {
		return at
	}
	switch e.op {
	case opConst:
		return FormulaNumber(e.value)
	case opReading, opNamed, opSolve:
		panic("checks: " + e.label + " has no cell")
	}
	args := make([]string, len(e.args))
	for i, a := range e.args {
		args[i] = a.Formula(cell)
	}
	switch e.op {
	case opAdd:
		return "(" + args[0] + "+" + args[1] + ")"
	case opSub:
		return "(" + args[0] + "-" + args[1] + ")"
	case opMul:
		return "(" + args[0] + "*" + args[1] + ")"
	case opDiv:
		return "(" + args[0] + "/" + args[1] + ")"
	case opPow:
		return "POWER(" + args[0] + "," + args[1] + ")"
	}
	form, ok := functions[e.label]
	if !ok {
		panic("checks: function " + e.label + " has no spreadsheet name")
	}
	return fmt.Sprintf(form, strings.Join(args, ","))
}
