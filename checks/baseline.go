package checks

import (
	"math"
	"slices"
	"strings"
	"time"

	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// Since is what a value was before, of the derived value that tells its change.
type Since struct {
	Key    string // of the value that changed
	Was    float64
	Unit   string
	Source string
	Date   time.Time
}

// ChangeKey is the key of the change of a value.
func ChangeKey(key string) string { return key + "_change" }

// baseline works out how values changed from what they were before by the plan, and
// holds the change against its limit where the plan gives one:
//
//	c = 100·(x − x0)/|x0|   in %, or
//	c = x − x0              in the unit of x, where the limit is an amount or x0 is 0
//
//	x   the value as judged, or the reading       its unit
//	x0  what it was, taken as exact (our choice)  the same quantity
//
// The limit is on both sides, or on that of a rise or a fall; it includes its own value.
// Where nothing can be compared a change that is to be judged is inconclusive. A change
// alone makes no finding: where its kind judged nothing, nothing was.
func (w *Work) baseline() {
	if w.judged == 0 {
		defer func() { w.judged = 0 }()
	}
	for _, b := range w.Plan.Baselines(w.Check.ID) {
		d, ok := w.compared(b.Key)
		switch {
		case ok && quantity.QuantityOf(d.Unit) == b.Was.Of:
			w.since(d, b)
		case b.Change == nil:
		case ok:
			w.SayOn(Inconclusive, nil, nil, Say("baseline-other", Word("name", d.Name), Word("quantity", b.Was.Of), Word("source", b.Source)))
		default:
			w.SayOn(Inconclusive, nil, nil, Say("baseline-none", Word("key", b.Key), Word("source", b.Source)))
		}
	}
}

// compared is a value of the finding by its key, or a reading that is a number.
func (w *Work) compared(key string) (Derived, bool) {
	if d, ok := w.found.Value(key); ok {
		if d.Unit == "" {
			d.Unit = "1"
		}
		return d, d.Expr != nil
	}
	f, asked := FieldNamed(w.form, key)
	a, ok := w.Answers[key]
	if !asked || !ok || f.Sort != Measured {
		return Derived{}, false
	}
	return Derived{Key: key, Name: f.Label, Unit: f.Unit, Bound: a.Bound, Value: quantity.FromBase(a.Value, f.Unit), Expr: w.ReadIn(key)}, true
}

// since works out the change of a value and puts it behind it.
func (w *Work) since(d Derived, b plan.Baseline) {
	was := quantity.FromBase(b.Was.Value, d.Unit)
	on := b.Date.Format("2006-01-02")
	e, unit := d.Expr.Sub(calc.Datum(d.Name+" on "+on, was, d.Unit)), d.Unit
	most, share := math.NaN(), was != 0
	if b.Change != nil {
		most, share = b.Most(d.Unit)
	}
	if share {
		e, unit = e.Div(calc.K(math.Abs(was))).Times(100), "%"
	}
	name := strings.TrimSuffix(d.Name, boundWords[d.Bound]) + ", change (was " + quantity.Spell(was, d.Unit) + ", " + b.Source + ", " + on + ")"
	before := len(w.found.Derived)
	if b.Change == nil {
		w.ShowBound(d.Bound, ChangeKey(d.Key), name, unit, e)
	} else {
		w.HoldBound(d.Bound, "", ChangeKey(d.Key), name, unit, e, changeLimit(most, b.Only))
	}
	if len(w.found.Derived) == before {
		return // not answered, which is said already
	}
	change := w.found.Derived[before]
	change.Since = &Since{d.Key, was, d.Unit, b.Source, b.Date}
	at := before
	if i := slices.IndexFunc(w.found.Derived, func(x Derived) bool { return x.Key == d.Key }); i >= 0 {
		at = i + 1
	}
	w.found.Derived = slices.Insert(w.found.Derived[:before:before], at, change)
}

// changeLimit is the limit of a change, of a rise or a fall alone where only says so.
func changeLimit(most float64, only string) *Limit {
	const source = "plan, from its baseline"
	switch only {
	case "rise":
		return AtMost(most, source)
	case "fall":
		return AtLeast(-most, source)
	}
	return Between(-most, most, source)
}

// ChangeText is a change with what the value was before, a rise with its sign.
func (d Derived) ChangeText() string {
	sign := ""
	if d.Value > 0 && strings.ContainsAny(d.number(), "123456789") {
		sign = "+"
	}
	return d.Name + " " + sign + d.Text()
}

// Changes are the values of a finding that tell a change from the plan's baseline.
func (f Finding) Changes() []Derived {
	return slices.DeleteFunc(slices.Clone(f.Derived), func(d Derived) bool { return d.Since == nil })
}
