package checks

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Ledger is what a finding's values rest on, laid out so that each can be worked
// again cell by cell: what was read and given, the steps between, and how the
// readings are moved for the uncertainties.
type Ledger struct {
	Rows   []Row         // each after what it needs
	Shifts []Shift       // each is made up and down
	Values []LedgerValue // of the finding's derived values, in their order
	at     func(key string) float64
	nodes  map[*Expr]int // the row of every node that has one
	reads  map[*Expr][]string
	worked map[working]float64
	known  map[string]int
}

// Row is a reading, a datum, a named step or a solved node.
type Row struct {
	Part        Part
	Label, Unit string // Unit is a reading's base unit
	Value       float64
	Expr        *Expr

	// Of a reading: its field, or check/field; its error.
	Key         string
	Meter       string
	Share       float64 // % of the reading
	Span, Step  float64 // error of its range and of its own digits, in its base unit
	Known       bool    // its accuracy is stated
	Exact       bool    // a count
	Low, High   float64 // of a datum that may be off: where it may lie
	IsUncertain bool
}

// Shift moves readings by their error, or a datum that may be off to where it may lie.
type Shift struct {
	Sort  ShiftSort
	Meter string // of a shared move
	Of    string
	Top   float64 // top of the range
	Row   int     // of a single one: the row of the reading or datum, -1 for a shared move
	Step  float64 // of a reading alone
	in    [2]float64
	by    []stepError
}

// ShiftSort is what is moved by what.
type ShiftSort int

const (
	ShiftGain  ShiftSort = iota // all readings of a range, each by its share of the reading
	ShiftSpan                   // all readings of a range by the error of the range
	ShiftBend                   // one reading by the error of the range
	ShiftStep                   // one reading by the error of its digits
	ShiftDatum                  // a datum to its high and to its low
)

// LedgerValue says how the uncertainty of a derived value is worked out.
type LedgerValue struct {
	Known bool // some of it is
	Alone int  // row of the one reading that the value, or its size, is; -1 for others
	Parts []LedgerPart
}

// LedgerPart is what a group of readings brings to U, as indices of shifts: G, O, o
// and s of Work.spread.
type LedgerPart struct {
	Gain, Span   int // -1 for none
	Bends, Steps []int
}

// Shifts lists those of a part.
func (p LedgerPart) Shifts() []int {
	var out []int
	for _, n := range []int{p.Gain, p.Span} {
		if n >= 0 {
			out = append(out, n)
		}
	}
	return append(append(out, p.Bends...), p.Steps...)
}

// Ledger lays out what the values of a finding rest on, as they were judged.
func (f Finding) Ledger() *Ledger {
	l := &Ledger{nodes: map[*Expr]int{}, reads: map[*Expr][]string{}, worked: map[working]float64{}, known: map[string]int{}}
	l.at = func(key string) float64 {
		s, ok := f.sources[key]
		if !ok {
			return math.NaN()
		}
		return s.value
	}
	for _, d := range f.Derived {
		d.Expr.walk(func(e *Expr) { l.add(e, f.sources) })
		l.Values = append(l.Values, l.value(d))
	}
	return l
}

// add gives a node its row; equal nodes share one.
func (l *Ledger) add(e *Expr, sources map[string]source) {
	if _, done := l.nodes[e]; done || e.Part() == PartPlain {
		return
	}
	r := Row{Part: e.Part(), Label: e.label, Unit: e.unit, Expr: e}
	var id string
	switch r.Part {
	case PartReading:
		s := sources[e.key]
		id = "reading " + e.key
		r.Label, r.Key, r.Value, r.Unit = s.label, e.key, s.value, BaseUnit(s.of)
		r.Meter, r.Share, r.Span, r.Step, r.Known, r.Exact = s.meter, s.share, s.span, s.step, s.known, s.exact
	case PartDatum:
		id, r.Value = fmt.Sprint("datum ", e.label, e.unit, e.value, e.low, e.high), e.value
		r.Low, r.High, r.IsUncertain = e.low, e.high, e.isUncertain()
	case PartStep:
		id, r.Value = "step "+e.label+e.unit+l.Formula(e.Body(), rowName), l.Value(e)
	case PartSolved:
		id, r.Value = "solved "+strconv.Itoa(len(l.Rows)), e.eval(l.at) // its function is not to be compared
	}
	row, ok := l.known[id]
	if !ok {
		row = len(l.Rows)
		l.known[id], l.Rows = row, append(l.Rows, r)
	}
	l.nodes[e] = row
	if r.IsUncertain {
		l.known["reading "+e.key] = row
	}
}

func rowName(row int) string { return "row" + strconv.Itoa(row) }

// value lays out the uncertainty of a derived value.
func (l *Ledger) value(d Derived) LedgerValue {
	v := LedgerValue{Known: d.Known != KnownNot, Alone: -1}
	if !v.Known {
		return v
	}
	if row, ok := l.alone(d); ok {
		v.Alone = row
		return v
	}
	for _, p := range d.parts {
		part := LedgerPart{Gain: l.shared(ShiftGain, p, p.gains), Span: l.shared(ShiftSpan, p, p.spans)}
		for _, s := range p.spans {
			if len(p.spans) > 1 { // one alone moves as all do
				part.Bends = append(part.Bends, l.single(ShiftBend, s))
			}
		}
		for _, s := range p.steps {
			sort := ShiftStep
			if p.meter == "" && l.Rows[l.known["reading "+s.key]].IsUncertain {
				sort = ShiftDatum
			}
			part.Steps = append(part.Steps, l.single(sort, s))
		}
		if len(part.Shifts()) > 0 {
			v.Parts = append(v.Parts, part)
		}
	}
	return v
}

// alone tells whether a value is a reading as it stands, or its size. Its half-width
// then is share·|x| + span + step and needs no moving.
func (l *Ledger) alone(d Derived) (row int, ok bool) {
	e := d.Expr
	if e.op == opCall && e.label == "abs" {
		e = e.args[0]
	}
	if e.op != opReading {
		return 0, false
	}
	row = l.nodes[e]
	for _, p := range d.parts {
		for _, s := range p.steps {
			ok = ok || s.up != l.Rows[row].Step
		}
	}
	return row, !ok
}

// shared finds the common move of a group's readings, which values with other
// readings of the group share; -1 where nothing moves.
func (l *Ledger) shared(sort ShiftSort, p errorPart, by []stepError) int {
	if len(by) == 0 {
		return -1
	}
	at := slices.IndexFunc(l.Shifts, func(s Shift) bool {
		return s.Sort == sort && s.Meter == p.meter && s.Of == p.of && s.in == p.in
	})
	if at < 0 {
		at = len(l.Shifts)
		l.Shifts = append(l.Shifts, Shift{Sort: sort, Meter: p.meter, Of: p.of, Top: p.in[1], Row: -1, in: p.in})
	}
	s := &l.Shifts[at]
	for _, g := range by {
		if !s.moves(g.key) {
			s.by = append(s.by, g)
		}
	}
	return at
}

func (l *Ledger) single(sort ShiftSort, by stepError) int {
	for i, s := range l.Shifts {
		if s.Sort == sort && s.by[0] == by {
			return i
		}
	}
	l.Shifts = append(l.Shifts, Shift{Sort: sort, Row: l.known["reading "+by.key], Step: by.up, by: []stepError{by}})
	return len(l.Shifts) - 1
}

func (s Shift) moves(key string) bool {
	for _, m := range s.by {
		if m.key == key {
			return true
		}
	}
	return false
}

// Moves tells whether a shift moves any reading that a computation hangs on.
func (l *Ledger) Moves(s Shift, e *Expr) bool {
	keys, ok := l.reads[e]
	if !ok {
		keys = e.moving()
		l.reads[e] = keys
	}
	return slices.ContainsFunc(keys, s.moves)
}

// Reads lists the keys of the readings and uncertain data that a computation hangs on.
func (l *Ledger) Reads(e *Expr) []string { return e.moving() }

// MovedReading is a reading in its base unit with the nth shift made up (1) or down (-1).
func (l *Ledger) MovedReading(key string, n int, sign float64) float64 {
	return moved(l.at, l.Shifts[n].by, sign)(key)
}

// Value is a computation's value, as judged.
func (l *Ledger) Value(e *Expr) float64 { return e.eval(l.at) }

// Moved is its value with the nth shift made up (1) or down (-1).
func (l *Ledger) Moved(e *Expr, n int, sign float64) float64 {
	return l.work(e, moved(l.at, l.Shifts[n].by, sign), working{e, n, sign})
}

// working is a node under a shift.
type working struct {
	node  *Expr
	shift int
	sign  float64
}

// work is eval that works a solved node out once for each shift: several values rest
// on one, and it takes long.
func (l *Ledger) work(e *Expr, at func(key string) float64, under working) float64 {
	if e.op == opConst || e.op == opReading {
		return e.eval(at)
	}
	under.node = e
	if v, ok := l.worked[under]; ok {
		return v
	}
	x := make([]float64, len(e.args))
	for i, a := range e.args {
		x[i] = l.work(a, at, under)
	}
	if e.op == opNamed {
		return x[0]
	}
	v := e.apply(x)
	if e.op == opSolve {
		l.worked[under] = v
	}
	return v
}

// Row finds the row of a node; ok is false for one that is written out in place.
func (l *Ledger) Row(e *Expr) (row int, ok bool) {
	row, ok = l.nodes[e]
	return row, ok
}

// Formula writes a computation as a spreadsheet formula without its leading =, over
// the addresses that cell gives the rows it needs.
func (l *Ledger) Formula(e *Expr, cell func(row int) string) string {
	return e.Formula(func(n *Expr) string {
		row, ok := l.nodes[n]
		switch {
		case !ok:
			return ""
		case n.op == opReading && n.in != "":
			return "(" + FromBaseFormula(cell(row), n.in) + ")"
		}
		return cell(row)
	})
}

// Told is the unit that the one reading of a value stands in where it is not the
// base unit, "" where it is.
func (v LedgerValue) Told(d Derived) string {
	e := d.Expr
	if e.op == opCall {
		e = e.args[0]
	}
	return e.in
}

// ToBaseFormula and FromBaseFormula write the change of a cell's value to and from
// the base unit, without the leading =.
func ToBaseFormula(cell, symbol string) string {
	u, _ := bySymbol(symbol)
	s := cell
	if u.factor != 1 && u.factor != 0 {
		s += "*" + FormulaNumber(u.factor)
	}
	if u.offset != 0 {
		s += "+" + FormulaNumber(u.offset)
	}
	return s
}

// FromBaseFormula is FromBase as a formula.
func FromBaseFormula(cell, symbol string) string {
	u, _ := bySymbol(symbol)
	s := cell
	if u.offset != 0 {
		s = "(" + s + "-" + FormulaNumber(u.offset) + ")"
	}
	if u.factor != 1 && u.factor != 0 {
		s += "/" + FormulaNumber(u.factor)
	}
	return s
}

// StretchFormula turns a difference in the base unit into one in another.
func StretchFormula(text, symbol string) string {
	if u, _ := bySymbol(symbol); u.factor != 1 && u.factor != 0 {
		text += "/" + FormulaNumber(u.factor)
	}
	return text
}

// FormulaNumber writes a number as formulas hold it.
func FormulaNumber(x float64) string {
	s := strings.Replace(strconv.FormatFloat(x, 'g', -1, 64), "e", "E", 1)
	if strings.HasPrefix(s, "-") {
		return "(" + s + ")"
	}
	return s
}
