package plan

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"sync"
	"time"

	"handback/checks/quantity"
)

// references visits what a value that stands under path refers to by its ref tags: a
// transformer, another incomer or either, a board, an instrument, or an earlier check of the kind that ref names.
// What is not given is left out.
func references(path string, v reflect.Value, visit func(path, ref, id string)) {
	l := layoutOf(v.Type())
	for _, n := range l.refers {
		f, is := l.tags[n], v.FieldByIndex(l.at[n])
		sub := Join(path, f.Name)
		if is.Kind() == reflect.String {
			if is.String() != "" {
				visit(sub, f.ref, is.String())
			}
			continue
		}
		for i := range is.Len() {
			item := is.Index(i)
			at := fmt.Sprintf("%s[%d]", sub, i+1)
			switch {
			case item.Kind() == reflect.Struct:
				references(at, item, visit)
			case item.String() != "":
				visit(at, f.ref, item.String())
			}
		}
	}
}

// refer notes what a check refers to and the plan does not have.
func (n *Notes) refer(p *Plan, c *Check) {
	references(c.Path+".given", reflect.ValueOf(c.Given).Elem(), func(path, ref, id string) {
		what, where, known := ref, "", []string(nil)
		switch ref {
		case "transformer":
			known = IDsOf(p.Plant.Transformers, func(t Transformer) string { return t.ID })
		case "incomer":
			what = "transformer or other incomer"
			known = IDsOf(p.AllRated(), func(x *Rated) string { return x.ID })
		case "board":
			known = IDsOf(p.Plant.Boards, func(b Board) string { return b.ID })
		case "instrument":
			known = IDsOf(p.Meters, func(m Meter) string { return m.ID })
		default:
			what, where, known = ref+" check", " above this one", p.above(c, ref)
		}
		if !slices.Contains(known, id) {
			n.At(path, "no %s %q%s%s", what, id, where, Nearest(id, known))
		}
	})
}

// above are the checks of a kind that stand above c.
func (p *Plan) above(c *Check, kind string) []string {
	var out []string
	for _, d := range p.Checks() {
		if d == c {
			break
		}
		if d.Kind.Name == kind {
			out = append(out, d.ID)
		}
	}
	return out
}

// Baseline is what a value of a check was before, as the factory's sheet or an earlier
// job has it.
type Baseline struct {
	Check  string           `plan:"check,need" doc:"id of the check"`
	Key    string           `plan:"key,need" doc:"key of a value that the check works out, or of a number that it asks"`
	Was    quantity.Amount  `plan:"was,need" doc:"what it was, with its unit; a bare number such as a ratio has unit 1: 27.5 1"`
	Source string           `plan:"source,need" doc:"where that stands: the sheet or certificate with its number, or the earlier job"`
	Date   time.Time        `plan:"date,need" doc:"when it was measured, such as 2019-03-02"`
	Change *quantity.Amount `plan:"change" doc:"how far it may have changed: a share of what it was, such as 2 %, or an amount in its unit; shown and not judged when not given"`
	Only   string           `plan:"only" one:"rise|fall" doc:"rise or fall: the change that is judged; both when not given"`
}

// Baselines are those of a check.
func (p *Plan) Baselines(check string) []Baseline {
	var out []Baseline
	for _, b := range p.Before {
		if b.Check == check {
			out = append(out, b)
		}
	}
	return out
}

// Most is how far a value may have changed: a share of what it was, in per cent, or an
// amount in a unit of its quantity.
func (b Baseline) Most(unit string) (most float64, share bool) {
	if b.Change.Of == "share" {
		return b.Change.Value, true
	}
	base := b.Change.Value - quantity.ToBase(0, b.Change.Unit) // a difference knows no offset
	return quantity.FromBase(base, unit) - quantity.FromBase(0, unit), false
}

// mostChange is the greatest share that a plan may let a value change by (our choice:
// beyond it the limit says nothing).
const mostChange = 100.0

// baseline notes what is wrong in what values were before.
func (n *Notes) baseline(p *Plan) {
	ids := IDsOf(p.Checks(), func(c *Check) string { return c.ID })
	seen := map[string]bool{}
	for i, b := range p.Before {
		path := fmt.Sprintf("baseline[%d]", i+1)
		if b.Check != "" && !slices.Contains(ids, b.Check) {
			n.At(path+".check", "no check %q%s", b.Check, Nearest(b.Check, ids))
		}
		if name := b.Check + " " + b.Key; seen[name] {
			n.At(path, "%s of check %s has a baseline already: one is held against", b.Key, b.Check)
		} else {
			seen[name] = true
		}
		switch c := b.Change; {
		case c == nil && b.Only != "":
			n.At(path+".only", "%s: it goes with change", b.Only)
		case c == nil || c.Of == "" || b.Was.Of == "":
		case c.Of == "share" && !(c.Value > 0 && c.Value <= mostChange):
			n.At(path+".change", "%s: more than 0 %% and at most %v %% is accepted", quantity.Neat(c.Value, "%"), mostChange)
		case c.Of == "share" && b.Was.Value == 0:
			n.At(path+".change", "a share of nothing: it was 0; give an amount")
		case c.Of != "share" && c.Of != b.Was.Of:
			n.At(path+".change", "%s, and it was %s: a share, or an amount of the same quantity, is wanted", quantity.WithArticle(c.Of), quantity.WithArticle(b.Was.Of))
		case c.Of != "share":
			if most, _ := b.Most(c.Unit); !(most > 0) {
				n.At(path+".change", "%s: more than none is wanted", quantity.Neat(c.Value, c.Unit))
			}
		}
	}
}

// tag is what a struct field's tags say of it.
type tag struct {
	Name string
	need bool // must be given
	pos  bool // must be above zero
	One  []string
	ref  string // what it names: a transformer, board or instrument, or a check above of this kind
	doc  string
}

func tagOf(f reflect.StructField) tag {
	parts := strings.Split(f.Tag.Get("plan"), ",")
	t := tag{Name: parts[0], ref: f.Tag.Get("ref"), doc: f.Tag.Get("doc")}
	for _, p := range parts[1:] {
		t.need = t.need || p == "need"
		t.pos = t.pos || p == "pos"
	}
	if o := f.Tag.Get("one"); o != "" {
		t.One = strings.Split(o, "|")
	}
	return t
}

// namedField is a struct field that stands in files under a name.
type namedField struct {
	tag
	V reflect.Value
}

// FieldsOf lists the fields of a struct value, those of embedded structs among
// them; fields without a name stay out of files.
func FieldsOf(v reflect.Value) []namedField {
	known := layoutOf(v.Type())
	out := make([]namedField, len(known.tags))
	for i, t := range known.tags {
		out[i] = namedField{t, v.FieldByIndex(known.at[i])}
	}
	return out
}

// keysOf are the names of a struct's fields. They are read only.
func keysOf(t reflect.Type) []string { return layoutOf(t).keys }

// layout is what the fields of a struct type are.
type layout struct {
	keys []string
	tags []tag
	at   [][]int // index of each, through embedded structs

	refers []int // which of them name something of the plan, or hold what does
}

// layouts keeps what was read of each type: every command loads a plan, and a plan is many
// structs of few types.
var layouts sync.Map // reflect.Type → *layout

func layoutOf(t reflect.Type) *layout {
	if known, ok := layouts.Load(t); ok {
		return known.(*layout)
	}
	l := &layout{}
	l.read(t, nil)
	layouts.Store(t, l)
	return l
}

func (l *layout) read(t reflect.Type, above []int) {
	for i := range t.NumField() {
		f, at := t.Field(i), append(slices.Clone(above), i)
		if f.Anonymous {
			l.read(f.Type, at)
			continue
		}
		if g := tagOf(f); g.Name != "" {
			if refers(f.Type, g) {
				l.refers = append(l.refers, len(l.tags))
			}
			l.keys, l.tags, l.at = append(l.keys, g.Name), append(l.tags, g), append(l.at, at)
		}
	}
}

func refers(t reflect.Type, g tag) bool {
	switch {
	case t.Kind() == reflect.String:
		return g.ref != ""
	case t.Kind() == reflect.Slice && t.Elem().Kind() == reflect.Struct:
		return len(layoutOf(t.Elem()).refers) > 0
	}
	return t.Kind() == reflect.Slice && g.ref != ""
}
