package calc

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"handback/checks/quantity"
)

// Ledger is what a finding's values rest on, laid out so that each can be worked
// again cell by cell: what was read and given, and the steps between.
type Ledger struct {
	Rows  []Row // each after what it needs
	at    func(key string) float64
	nodes map[*Expr]int // the row of every node that has one
	known map[string]int
}

// Row is a reading, a datum, a named step or a solved node.
type Row struct {
	Part        Part
	Label, Unit string // Unit is a reading's base unit
	Value       float64
	Expr        *Expr
	Key, Meter  string // of a reading: its field, or check/field, and its instrument
}

// NewLedger lays out what computations rest on.
func NewLedger(sources Readings, values []*Expr) *Ledger {
	l := &Ledger{at: sources.At, nodes: map[*Expr]int{}, known: map[string]int{}}
	for _, e := range values {
		e.walk(func(e *Expr) { l.add(e, sources) })
	}
	return l
}

// add gives a node its row; equal nodes share one.
func (l *Ledger) add(e *Expr, sources Readings) {
	if _, done := l.nodes[e]; done {
		return
	}
	r, id := Row{Part: e.part(), Expr: e}, ""
	switch n := e.node.(type) {
	case *reading:
		s := sources[n.key]
		id = "reading " + n.key
		r.Label, r.Key, r.Value, r.Unit, r.Meter = s.Label, n.key, s.Value, quantity.BaseUnit(s.Of), s.Meter
	case *constant:
		if n.label == "" {
			return
		}
		id, r.Label, r.Unit, r.Value = fmt.Sprint("datum ", n.label, n.unit, n.value, n.low, n.high), n.label, n.unit, n.value
	case *step:
		id, r.Label, r.Unit, r.Value = "step "+n.label+n.unit+l.Formula(n.body[0], rowName), n.label, n.unit, l.Value(e)
	case *solved:
		id, r.Label, r.Value = "solved "+strconv.Itoa(len(l.Rows)), n.how, l.Value(e) // its function is not to be compared
	default:
		return
	}
	row, ok := l.known[id]
	if !ok {
		row = len(l.Rows)
		l.known[id], l.Rows = row, append(l.Rows, r)
	}
	l.nodes[e] = row
}

func rowName(row int) string { return "row" + strconv.Itoa(row) }

// Readings lists the rows of the readings that a computation rests on.
func (l *Ledger) Readings(e *Expr) []int { return l.leaves(e, PartReading) }

// Given lists the rows of the readings and data that a computation rests on.
func (l *Ledger) Given(e *Expr) []int { return l.leaves(e, PartReading, PartDatum) }

func (l *Ledger) leaves(e *Expr, parts ...Part) []int {
	var out []int
	e.walk(func(f *Expr) {
		if row, ok := l.nodes[f]; ok && slices.Contains(parts, f.part()) && !slices.Contains(out, row) {
			out = append(out, row)
		}
	})
	return out
}

// Value is a computation's value, as judged.
func (l *Ledger) Value(e *Expr) float64 { return e.Eval(l.at) }

// Formula writes a computation as a spreadsheet formula without its leading =, over
// the addresses that cell gives the rows it needs.
func (l *Ledger) Formula(e *Expr, cell func(row int) string) string {
	return e.Formula(func(n *Expr) string {
		row, ok := l.nodes[n]
		if !ok {
			return ""
		}
		if r, ok := n.node.(*reading); ok && r.in != "" {
			return "(" + FromBaseFormula(cell(row), r.in) + ")"
		}
		return cell(row)
	})
}

// ToBaseFormula and FromBaseFormula write the change of a cell's value to and from
// the base unit, without the leading =.
func ToBaseFormula(cell, symbol string) string {
	u, _ := quantity.BySymbol(symbol)
	s := cell
	if u.Factor != 1 && u.Factor != 0 {
		s += "*" + FormulaNumber(u.Factor)
	}
	if u.Offset != 0 {
		s += "+" + FormulaNumber(u.Offset)
	}
	return s
}

// FromBaseFormula is FromBase as a formula.
func FromBaseFormula(cell, symbol string) string {
	u, _ := quantity.BySymbol(symbol)
	s := cell
	if u.Offset != 0 {
		s = "(" + s + "-" + FormulaNumber(u.Offset) + ")"
	}
	if u.Factor != 1 && u.Factor != 0 {
		s += "/" + FormulaNumber(u.Factor)
	}
	return s
}

// FormulaNumber writes a number as formulas hold it.
func FormulaNumber(x float64) string {
	s := strings.Replace(strconv.FormatFloat(x, 'g', -1, 64), "e", "E", 1)
	if strings.HasPrefix(s, "-") {
		return "(" + s + ")"
	}
	return s
}
