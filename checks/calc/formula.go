package calc

// Part is what a node of a computation is to whoever lays it out in cells.
type Part int

const (
	PartPlain   Part = iota // an operation or a bare number: written out in place
	PartReading             // a reading, by its key
	PartDatum               // a value from the plan, by its label
	PartStep                // a named step: one formula in a cell of its own
	PartSolved              // a computation in several steps that no formula holds
)

// Body is the computation of a named step.
func (e *Expr) Body() *Expr { return e.node.(*step).body[0] }

// Args are what an operation, a function or a solved node works on.
func (e *Expr) Args() []*Expr { return e.args() }

// Formula writes the computation as a spreadsheet formula without its leading =.
// cell gives the address of a node that has a cell of its own, "" for one to be
// written out; every reading, step and solved node must have one.
func (e *Expr) Formula(cell func(*Expr) string) string {
	if at := cell(e); at != "" {
		return at
	}
	var args []string
	for _, a := range e.args() {
		args = append(args, a.Formula(cell))
	}
	return e.formula(args)
}
