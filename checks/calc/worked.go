package calc

import (
	"math"
	"slices"
)

// Worked is a computation worked out once, with the value of every part of it. What a
// shifted reading leaves as it is, is not worked out again.
type Worked struct {
	at    func(key string) float64
	parts []part
	of    []int32       // the arguments of all parts, one part's after the other's
	index map[*Expr]int // of every part; nil while there are few
	base  []float64     // the value of each part
	now   []float64     // that while readings are shifted, of the parts that differ
	x     []float64     // arguments of the part in hand
}

// part is one node of a computation, after those it needs.
type part struct {
	*Expr
	from, to int32  // its arguments in of
	key      string // what a leaf is shifted by, "" where it cannot be
	moved    bool   // its value differs from the base
}

// few is up to how many parts a look through them is faster than a table.
const few = 12

// WorkOut works a computation out with readings taken from at.
func WorkOut(e *Expr, at func(key string) float64) *Worked {
	w := &Worked{at: at, parts: make([]part, 0, few), of: make([]int32, 0, few), base: make([]float64, 0, few)}
	w.add(e)
	w.now = make([]float64, len(w.base))
	return w
}

// add gives a node its place behind its arguments, and its value.
func (w *Worked) add(e *Expr) int {
	if i := w.find(e); i >= 0 {
		return i
	}
	p := part{Expr: e}
	var value float64
	switch n := e.node.(type) {
	case *reading:
		p.key, value = n.key, n.eval(w.at)
	case *constant:
		if value = n.value; n.isUncertain() {
			p.key, value = n.key(), n.eval(w.at)
		}
	default:
		var room [8]int32
		of := room[:0]
		for _, a := range e.args() {
			of = append(of, int32(w.add(a)))
		}
		p.from = int32(len(w.of))
		w.of = append(w.of, of...)
		p.to = int32(len(w.of))
		value = w.over(p, w.valueOf)
	}
	w.parts, w.base = append(w.parts, p), append(w.base, value)
	if w.index != nil {
		w.index[e] = len(w.parts) - 1
	} else if len(w.parts) > few {
		w.index = map[*Expr]int{}
		for i, q := range w.parts {
			w.index[q.Expr] = i
		}
	}
	return len(w.parts) - 1
}

// find is the place of a node, below 0 while it has none.
func (w *Worked) find(e *Expr) int {
	if w.index != nil {
		if i, ok := w.index[e]; ok {
			return i
		}
		return -1
	}
	return slices.IndexFunc(w.parts, func(p part) bool { return p.Expr == e })
}

// over works a part out over what its arguments come to.
func (w *Worked) over(p part, of func(i int) float64) float64 {
	w.x = w.x[:0]
	for _, i := range w.of[p.from:p.to] {
		w.x = append(w.x, of(int(i)))
	}
	return p.node.over(w.x)
}

func (w *Worked) valueOf(i int) float64 { return w.base[i] }

func (w *Worked) valueNow(i int) float64 {
	if w.parts[i].moved {
		return w.now[i]
	}
	return w.base[i]
}

// Value is what the computation comes to.
func (w *Worked) Value() float64 { return w.base[len(w.base)-1] }

// shifted is what it comes to with readings shifted up (1) or down (-1).
func (w *Worked) shifted(by []shift, sign float64) float64 {
	at := moved(w.at, by, sign)
	for i := range w.parts {
		p := &w.parts[i]
		switch {
		case p.key != "" && slices.ContainsFunc(by, func(s shift) bool { return s.key == p.key }):
			w.now[i], p.moved = p.eval(at), true
		case slices.ContainsFunc(w.of[p.from:p.to], func(a int32) bool { return w.parts[a].moved }):
			w.now[i], p.moved = w.over(*p, w.valueNow), true
		default:
			p.moved = false
		}
		if p.moved && math.Float64bits(w.now[i]) == math.Float64bits(w.base[i]) {
			p.moved = false
		}
	}
	return w.valueNow(len(w.parts) - 1)
}

// readings lists the keys it reads, each once, in order of use.
func (w *Worked) readings() []string {
	var keys []string
	for _, p := range w.parts {
		if r, ok := p.node.(*reading); ok && !slices.Contains(keys, r.key) {
			keys = append(keys, r.key)
		}
	}
	return keys
}

// uncertain lists the data that may be off, each once.
func (w *Worked) uncertain() []*constant {
	var out []*constant
	for _, p := range w.parts {
		if c, ok := p.node.(*constant); ok && c.isUncertain() && !slices.ContainsFunc(out, func(d *constant) bool { return d.label == c.label }) {
			out = append(out, c)
		}
	}
	return out
}
