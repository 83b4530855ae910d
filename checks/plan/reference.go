package plan

import (
	"fmt"
	"reflect"
	"slices"
)

// references visits what a value that stands under path refers to by its ref tags: a
// transformer, another incomer or either, a board, an instrument, or an earlier check of the kind that ref names.
// What is not given is left out.
func references(path string, v reflect.Value, visit func(path, ref, id string)) {
	for _, f := range FieldsOf(v) {
		sub := Join(path, f.Name)
		switch {
		case f.V.Kind() == reflect.String && f.ref != "" && f.V.String() != "":
			visit(sub, f.ref, f.V.String())
		case f.V.Kind() == reflect.Slice:
			for i := range f.V.Len() {
				item := f.V.Index(i)
				at := fmt.Sprintf("%s[%d]", sub, i+1)
				switch {
				case item.Kind() == reflect.Struct:
					references(at, item, visit)
				case f.ref != "" && item.String() != "":
					visit(at, f.ref, item.String())
				}
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
