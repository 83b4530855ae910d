package plan

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"

	"handback/checks/quantity"
)

// floor is a row of the table of what a plan may give: a limit, tolerance, window,
// threshold, rating or accuracy beyond which a judgement shows nothing, or would
// let somebody be hurt. Values are in unit, or parts of what of gives.
type floor struct {
	Path        string  // kind.key of what a check is given, or plant.transformers.impedance
	Low, High   float64 // what any plan may give
	Least, Most float64 // how far it may go with a named reason
	unit        string
	of          func(Site) (low, high float64) // what low and high are parts of; NaN where the plan does not say
	judges      bool                           // a reading is held against it
	Source      string
}

// Row is a row beyond which no plan may go.
func Row(path, unit string, low, high float64, source string) floor {
	return floor{Path: path, Low: low, High: high, Least: low, Most: high, unit: unit, Source: source}
}

// LimitRow is a row of what readings are held against.
func LimitRow(path, unit string, low, high float64, source string) floor {
	f := Row(path, unit, low, high, source)
	f.judges = true
	return f
}

// Reasoned lets a plan go as far as least and most where its check says why.
func (f floor) Reasoned(least, most float64) floor {
	f.Least, f.Most = least, most
	return f
}

// Times makes the bounds parts of another value of the plan.
func (f floor) Times(of func(Site) (low, high float64)) floor {
	f.of = of
	return f
}

// Site is where in a plan a value stands.
type Site struct {
	Plan    *Plan
	Check   *Check // nil for plant and instruments
	of      string // the quantity of the range it stands in
	holders []any  // what it stands in, the innermost last
}

// value is a number of a plan.
type value struct {
	path string
	x    float64
	unit string
	set  func(x float64)
}

// Enclosing is the nearest thing of one type that a value stands in.
func Enclosing[T any](s Site) (t T, ok bool) {
	for i := len(s.holders) - 1; i >= 0 && !ok; i-- {
		t, ok = s.holders[i].(T)
	}
	return t, ok
}

// floorsAt are the rows of a value: its own for the quantity, its own for any, or,
// for a value of any quantity, those of the quantity.
func floorsAt(path, of string, amount bool) []floor {
	for _, key := range []string{path + "/" + of, path} {
		if rows := floorTable[key]; rows != nil {
			return rows
		}
	}
	if amount {
		return floorTable["any/"+of]
	}
	return nil
}

// floors holds every value of a plan against the table.
func (n *Notes) floors(p *Plan) {
	for path, part := range map[string]any{"system": p.System, "plant": p.Plant, "instruments": p.Meters, "network": p.Network} {
		n.floorsIn(path, path, reflect.ValueOf(part), Site{Plan: p})
	}
	for _, it := range p.items {
		if s := it.Does(); s != nil {
			n.floorsIn(s.Path+".planned", "step.planned", reflect.ValueOf(s.Planned), Site{Plan: p})
		}
	}
	n.frequency(p)
	for _, c := range p.Checks() {
		if c.Kind == nil {
			continue // noted already
		}
		s := Site{Plan: p, Check: c}
		n.floorsIn(c.Path+".given", c.Kind.Name, reflect.ValueOf(c.Given), s)
		life := "check.life"
		if floorTable[c.Kind.Name+".life"] != nil {
			life = c.Kind.Name + ".life"
		}
		n.floorsIn(c.Path+".life", life, reflect.ValueOf(c.Life), s)
		n.beyond(c)
	}
}

// networks are the frequencies of power networks, in Hz.
var networks = []quantity.Hertz{16.7, 25, 50, 60, 400}

// networkPattern is one of the frequencies of networks, in Hz.
const networkPattern = `^\s*\+?0*(16[.,]70*|(25|50|60|400)([.,]0*)?)\s*[Hh][Zz]\s*$`

// frequency holds the nominal frequency, which is one of a few.
func (n *Notes) frequency(p *Plan) {
	const path = "system.frequency"
	switch f := p.System.Frequency; {
	case f == 0 || f == 50 || f == 60 || n.has(path):
	case slices.Contains(networks, f):
		n.warn(path, "%s: limits and factors here are those of 50 and 60 Hz networks", quantity.Neat(float64(f), "Hz"))
	case inside(float64(f), 16, 400):
		n.Object(path, "%s is the frequency of no power network: 50 Hz and 60 Hz are, and 16.7, 25 and 400 Hz", quantity.Neat(float64(f), "Hz"))
	}
}

// beyond holds the reason a check gives for going beyond a bound.
func (n *Notes) beyond(c *Check) {
	if c.Beyond == "" {
		return
	}
	if err := Reasoned(c.Beyond); err != nil {
		n.Object(c.Path+".beyond", "%v", err)
	} else if len(c.Stretched) == 0 {
		n.warn(c.Path+".beyond", "no value of check %s goes beyond what any plan may give: leave the reason out", c.ID)
	}
}

// floorsIn walks through v, which stands under path and has its rows under row.
// Only what the plan gives is held: defaults are the kinds' own.
func (n *Notes) floorsIn(path, row string, v reflect.Value, s Site) {
	for v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return
		}
		if v.Elem().Kind() == reflect.Struct {
			s.holders = append(s.holders, v.Interface())
		}
		v = v.Elem()
	}
	switch t := v.Type(); {
	case t == timeType:
	case t == amountType:
		n.floorAmount(path, row, v, s)
	case t.Kind() == reflect.Float64:
		n.floorValue(value{path, v.Float(), quantity.BaseUnit(quantity.Measured[t]), v.SetFloat}, floorsAt(row, s.of, false), s)
	case t.Kind() == reflect.Int:
		n.floorValue(value{path, float64(v.Int()), "", nil}, floorsAt(row, s.of, false), s)
	case t.Kind() == reflect.Slice:
		for i := range v.Len() {
			n.floorsIn(fmt.Sprintf("%s[%d]", path, i+1), row, v.Index(i), s)
		}
	case t.Kind() == reflect.Struct:
		s.holders = append(s.holders, v.Interface())
		if r, ok := v.Interface().(Range); ok {
			s.of = r.To.Of
		}
		for _, f := range FieldsOf(v) {
			n.floorsIn(Join(path, f.Name), Join(row, f.Name), f.V, s)
		}
	}
}

// floorAmount holds a value of any quantity. A rise in K is no temperature.
func (n *Notes) floorAmount(path, row string, v reflect.Value, s Site) {
	a := v.Interface().(quantity.Amount)
	if a.Of == "" {
		return // noted already
	}
	rows, unit := floorsAt(row, a.Of, true), quantity.BaseUnit(a.Of)
	if len(rows) > 0 && rows[0].unit == "K" {
		unit = "K"
	}
	set := func(x float64) {
		v.Set(reflect.ValueOf(quantity.Amount{Value: quantity.ToBase(x, unit), Of: a.Of, Unit: a.Unit}))
	}
	n.floorValue(value{path, quantity.FromBase(a.Value, unit), unit, set}, rows, s)
}

func (n *Notes) floorValue(v value, rows []floor, s Site) {
	if _, given := n.places[v.path]; !given || n.has(v.path) {
		return
	}
	for _, f := range rows {
		if !n.floor(v, f, s) {
			return
		}
	}
}

// scaled is the row in the unit of its value; ok is false where what it is a part of
// is not known.
func (f floor) scaled(s Site) (out floor, ok bool) {
	if f.of == nil {
		return f, true
	}
	low, high := f.of(s)
	f.Low, f.Least, f.High, f.Most = f.Low*low, f.Least*low, f.High*high, f.Most*high
	return f, !math.IsNaN(low) && !math.IsNaN(high)
}

// floor holds a value against one row; ok is false when the plan must not be worked by.
func (n *Notes) floor(v value, f floor, s Site) (ok bool) {
	f, known := f.scaled(s)
	if !known || inside(v.x, f.Low, f.High) {
		return true
	}
	side, bound, end, or := "above", f.High, f.Most, "or less"
	if v.x < f.Low {
		side, bound, end, or = "below", f.Low, f.Least, "or more"
	}
	met := fmt.Sprintf("%s is %s %s (%s)", quantity.Neat(v.x, v.unit), side, quantity.Neat(bound, v.unit), f.Source)
	switch {
	case n.trial && f.judges && v.set != nil:
		n.drawIn(v, f, met, end, s)
		return true
	case s.Check == nil || bound == end:
		n.Object(v.path, "%s: no plan goes beyond that, give %s %s", met, quantity.Neat(bound, v.unit), or)
		return false
	case !inside(v.x, f.Least, f.Most):
		n.Object(v.path, "%s: give %s %s; no reason lets a plan go beyond %s", met, quantity.Neat(bound, v.unit), or, quantity.Neat(end, v.unit))
		return false
	}
	why := s.reason()
	if why == "" {
		n.Object(v.path, "%s: give %s %s, or say in this check why and who decided it, with beyond: REASON", met, quantity.Neat(bound, v.unit), or)
		return false
	}
	s.stretched(v, "%s; the plan's reason: %s", met, why)
	n.warn(v.path, "%s; shown with the finding, with the plan's reason: %s", met, why)
	return true
}

// drawIn judges a trial by the bound itself where its limit goes beyond: nothing is
// opened with a trial, and what it reads is shown, but no limit makes it pass.
func (n *Notes) drawIn(v value, f floor, met string, end float64, s Site) {
	if inside(v.x, f.Least, f.Most) {
		s.stretched(v, "%s", met)
		return
	}
	v.set(end)
	s.stretched(v, "%s: judged by %s", met, quantity.Neat(end, v.unit))
}

// stretched keeps for the finding that a value goes beyond what any plan may give.
func (s Site) stretched(v value, format string, args ...any) {
	key := strings.TrimPrefix(strings.TrimPrefix(v.path, s.Check.Path+"."), "given.")
	s.Check.Stretched = append(s.Check.Stretched, key+": "+fmt.Sprintf(format, args...))
}

// reason is why a check goes beyond a bound: in its own words, or by the document it
// names as the source of its limits. "" when neither says anything.
func (s Site) reason() string {
	for _, why := range []string{s.Check.Beyond, s.sourceOf()} {
		if why != "" && Reasoned(why) == nil {
			return why
		}
	}
	return ""
}

// sourceOf is the source that what holds a limit names, the nearest one.
func (s Site) sourceOf() string {
	for i := len(s.holders) - 1; i >= 0; i-- {
		v := reflect.Indirect(reflect.ValueOf(s.holders[i]))
		for _, f := range FieldsOf(v) {
			if f.Name == "source" && f.V.Kind() == reflect.String && f.V.String() != "" {
				return f.V.String()
			}
		}
	}
	return ""
}

// inside tells whether low ≤ x ≤ high, both sides inclusive.
func inside(x, low, high float64) bool {
	return quantity.NotBelow(x, low) && quantity.NotAbove(x, high)
}

// boundsOf says in words what a plan may give under a path, "" where nothing bounds it.
func boundsOf(path string) string {
	var out []string
	for _, f := range floorTable[path] {
		if f.of != nil {
			continue // what it is a part of stands elsewhere in the plan
		}
		text := span(f.Low, f.High, f.unit)
		if wide := span(f.Least, f.Most, f.unit); text != "" && wide != text {
			text += ", with a named reason " + wide
		}
		if text != "" {
			out = append(out, text)
		}
	}
	return strings.Join(out, "; ")
}

func span(low, high float64, unit string) string {
	switch lowest, highest := math.IsInf(low, -1), math.IsInf(high, 1); {
	case lowest && highest:
		return ""
	case lowest:
		return "at most " + quantity.Neat(high, unit)
	case highest:
		return "at least " + quantity.Neat(low, unit)
	}
	return quantity.Neat(low, unit) + " to " + quantity.Neat(high, unit)
}

// describeUnits tells in what units a value of a plan is given.
func describeUnits(t reflect.Type) string {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	if of, ok := quantity.Measured[t]; ok {
		return "; " + unitsOf(of)
	}
	if t == amountType {
		return "; a number with its unit"
	}
	return ""
}

func unitsOf(of string) string {
	return quantity.WithArticle(of) + " with its unit: " + strings.Join(quantity.UnitsOf(of), ", ")
}

// measured describes a number with a unit of one quantity, within its bounds.
func (s schemaOf) measured(of string, f tag, path string) shape {
	out := s.define(strings.ReplaceAll(of, " ", "-"), func() shape {
		out := shape{"type": "string", "pattern": quantity.QuantityPattern(quantity.UnitPatterns(of))}
		if !s.bounds {
			out["description"] = unitsOf(of)
		}
		return out
	})
	if !s.bounds {
		return out
	}
	var none []any
	if f.pos {
		none = append(none, shape{"pattern": notPositive})
	}
	for _, row := range rowsOf(path) {
		if quantity.QuantityOf(row.unit) != of {
			continue
		}
		if row.Least >= 0 && !f.pos {
			none = append(none, shape{"pattern": `^\s*[-−]`})
		}
		if row.Least > 0 {
			none = append(none, shape{"pattern": quantity.BelowPattern(of, row.Least, row.unit)})
		}
		if row.Most > 0 && !math.IsInf(row.Most, 1) {
			none = append(none, shape{"pattern": quantity.AbovePattern(of, row.Most, row.unit)})
		}
	}
	if len(none) > 0 {
		out["not"] = shape{"anyOf": none}
	}
	return out
}
