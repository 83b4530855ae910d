package plan

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"unicode/utf8"

	"handback/checks/power"
	"handback/checks/quantity"
)

// IDShape tells whether s may name a check, hold, person or plan.
func IDShape(s string) bool {
	if s == "" || len(s) > 40 || s[0] == '-' {
		return false
	}
	for _, c := range s {
		if !(c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c == '-') {
			return false
		}
	}
	return true
}

// items turns raw steps into checks, holds and plain steps and notes what is wrong in them.
func (n *Notes) items(list string, steps []rawStep) []Item {
	var out []Item
	var above []string
	for i, s := range steps {
		path := fmt.Sprintf("%s[%d]", list, i+1)
		named := slices.DeleteFunc([]string{s.Check, s.Hold, s.Step}, func(id string) bool { return id == "" })
		switch {
		case len(named) > 1:
			n.At(path, "%s: a step is a check, a hold or a plain step, one of the three", strings.Join(named, " and "))
		case s.Check != "":
			n.foreign(path, "check", s.Check, reflect.TypeFor[checkKeys]())
			c := &Check{ID: s.Check, Title: s.Title, At: s.At, Meter: s.Meter, Note: s.Note, Node: s.Node, Device: s.Device, Tried: s.Tried,
				Beyond: s.Beyond, DeadBy: s.DeadBy, LiveFrom: s.LiveFrom, Life: s.Life, Photos: s.Photos, Planned: s.Planned, Follows: s.Follows, Path: path}
			c.Kind = n.kindOf(path, s)
			if c.Kind != nil {
				n.given(c, s)
			}
			above = append(above, s.Check)
			out = append(out, Item{Check: c})
		case s.Hold != "":
			n.foreign(path, "hold", s.Hold, reflect.TypeFor[holdKeys]())
			h := &Hold{Step: n.act(path, s.Hold, s), Needs: s.Needs, Telephone: s.Telephone}
			if s.Needs == nil {
				h.Needs = slices.Clone(above)
			}
			n.needs(path, h, above)
			out = append(out, Item{Hold: h})
		case s.Step != "":
			n.foreign(path, "step", s.Step, reflect.TypeFor[stepKeys]())
			step := n.act(path, s.Step, s)
			out = append(out, Item{Step: &step})
		default:
			n.At(path, "neither check nor hold nor step: one of the three keys is wanted")
		}
	}
	return out
}

func (n *Notes) needs(path string, h *Hold, above []string) {
	if len(h.Needs) == 0 {
		n.At(path+".needs", "hold %s needs no check: put the checks it waits for above it", h.ID)
	}
	for i, id := range h.Needs {
		if !slices.Contains(above, id) {
			n.At(fmt.Sprintf("%s.needs[%d]", path, i+1), "no check %q stands above hold %s%s", id, h.ID, Nearest(id, above))
		}
	}
}

func (n *Notes) kindOf(path string, s rawStep) *Traits {
	if s.Kind == "" {
		n.At(path+".kind", "missing: the kind of check %s, one of %s", s.Check, strings.Join(KindNames(), ", "))
		return nil
	}
	k := TraitsNamed(s.Kind)
	if k == nil {
		n.At(path+".kind", "unknown kind %q%s", s.Kind, Nearest(s.Kind, KindNames()))
	}
	return k
}

func (n *Notes) given(c *Check, s rawStep) {
	if c.Title == "" {
		c.Title = c.Kind.Title
	}
	c.Given = c.Kind.Given()
	v := reflect.ValueOf(c.Given).Elem()
	if s.Given == nil {
		for _, f := range FieldsOf(v) {
			if f.need {
				n.At(Join(c.Path+".given", f.Name), "missing: %s", f.doc)
			}
		}
		return
	}
	n.decode(c.Path+".given", s.Given, v)
}

// validate notes what is wrong between the parts of a plan.
func (n *Notes) validate(p *Plan) {
	if len(p.System.Conductors) != 0 && len(p.System.Conductors) != 3 {
		n.At("system.conductors", "%d names: three are wanted, in phase sequence", len(p.System.Conductors))
	}
	if p.ID != "" && !IDShape(p.ID) {
		n.At("id", "%q: lower-case letters, digits and hyphens are accepted, 40 at most", p.ID)
	}
	seen := map[string]string{}
	for i, q := range p.People {
		n.unique(seen, fmt.Sprintf("people[%d].id", i+1), "person", q.ID)
	}
	n.signKeys(p.People)
	for i := range p.Meters {
		n.meter(fmt.Sprintf("instruments[%d]", i+1), &p.Meters[i], seen)
	}
	for i := range p.Plant.Transformers {
		path := fmt.Sprintf("plant.transformers[%d]", i+1)
		n.unique(seen, path+".id", "plant", p.Plant.Transformers[i].ID)
		n.transformer(path, &p.Plant.Transformers[i])
	}
	for i, x := range p.Plant.Incomers {
		n.unique(seen, fmt.Sprintf("plant.incomers[%d].id", i+1), "plant", x.ID)
	}
	for i, b := range p.Plant.Boards {
		path := fmt.Sprintf("plant.boards[%d]", i+1)
		n.unique(seen, path+".id", "plant", b.ID)
		if b.ShortTime != nil && b.Peak != nil && *b.Peak < *b.ShortTime {
			n.At(path+".peak", "a peak of %s is below the short-time current of %s: a peak is the larger", quantity.Neat(float64(*b.Peak), "A"), quantity.Neat(float64(*b.ShortTime), "A"))
		}
	}
	n.supply(p.Plant.Supply)
	for i, it := range p.items {
		n.item(i, it, p, seen)
	}
	n.baseline(p)
}

func (n *Notes) item(i int, it Item, p *Plan, seen map[string]string) {
	n.photos(fmt.Sprintf("steps[%d]", i+1), it)
	if it.Check == nil {
		key := map[bool]string{true: "hold", false: "step"}[it.Hold != nil]
		n.unique(seen, fmt.Sprintf("steps[%d].%s", i+1, key), "step", it.ID())
		return
	}
	c := it.Check
	n.unique(seen, c.Path+".check", "step", c.ID)
	if c.Meter != "" && p.Meter(c.Meter) == nil {
		n.At(c.Path+".instrument", "no instrument %q%s", c.Meter, Nearest(c.Meter, IDsOf(p.Meters, func(m Meter) string { return m.ID })))
	}
}

// photos notes photographs that nobody could tell apart, or take.
func (n *Notes) photos(path string, it Item) {
	all := it.Photos()
	for i, name := range all {
		at := fmt.Sprintf("%s.photos[%d]", path, i+1)
		switch {
		case strings.Join(strings.Fields(name), " ") != name || name == "" || utf8.RuneCountInString(name) > mostPhotoName:
			n.At(at, "%q: one line of at most %d characters that says what it shows is wanted", name, mostPhotoName)
		case it.Photo(name) != name || slices.Contains(all[:i], name):
			n.At(at, "%q stands twice: each photograph once", name)
		}
	}
	if len(all) > mostPhotos {
		n.At(path+".photos", "%d: at most %d are asked for one check or step", len(all), mostPhotos)
	}
}

// What a check or step may ask of photographs (our choice): what one person takes and names.
const (
	mostPhotos    = 40
	mostPhotoName = 120
)

// unique notes an id of the wrong shape, or one that stood before.
func (n *Notes) unique(seen map[string]string, path, space, id string) {
	if id == "" {
		return
	}
	shaped := IDShape
	if space == "plant" { // plant is called what the switchroom calls it: T1, MB-A
		shaped = func(s string) bool { return IDShape(strings.ToLower(s)) }
	}
	if !shaped(id) {
		n.At(path, "%q: letters, digits and hyphens are accepted, 40 at most%s", id, map[bool]string{true: "", false: ", lower case"}[space == "plant"])
		return
	}
	key := space + " " + id
	if first, ok := seen[key]; ok {
		n.At(path, "%q stands already at %s: ids stand once", id, n.lineOf(first))
		return
	}
	seen[key] = path
}

func (n *Notes) meter(path string, m *Meter, seen map[string]string) {
	n.unique(seen, path+".id", "instrument", m.ID)
	if m.LowRating != nil && m.HighRating != nil && *m.LowRating > *m.HighRating {
		n.At(path+".rated_from", "%s is above rated_to %s", quantity.Neat(float64(*m.LowRating), "V"), quantity.Neat(float64(*m.HighRating), "V"))
	}
	for i, r := range m.Ranges {
		if r.To.Of == "" {
			continue // already noted
		}
		p := fmt.Sprintf("%s.ranges[%d]", path, i+1)
		for key, a := range map[string]*quantity.Amount{"from": r.From, "resolution": r.Resolution} {
			if a != nil && a.Of != r.To.Of {
				n.At(p+"."+key, "a %s, but the range is a %s", a.Of, r.To.Of)
			}
		}
		if r.To.Of != "temperature" && !(r.To.Value > 0) {
			n.At(p+".to", "%v is not above zero: the top of a range is", r.To.Value)
		}
		if r.From != nil && r.From.Value >= r.To.Value {
			n.At(p+".from", "is not below to")
		}
		if r.Digits != nil && r.Resolution == nil {
			n.At(p+".digits", "needs a resolution: what one digit is worth")
		}
		if r.Resolution != nil && !(r.Resolution.Value > 0) {
			n.At(p+".resolution", "is not above zero")
		}
		if r.Reading != nil && *r.Reading < 0 || r.Digits != nil && *r.Digits < 0 || r.OfRange != nil && *r.OfRange < 0 {
			n.At(p, "accuracy below zero: write 0.5 %% for ±0.5 %%")
		}
	}
}

func (n *Notes) transformer(path string, t *Transformer) {
	if t.Rating <= 0 || t.LV <= 0 || t.HV <= 0 || t.Impedance <= 0 {
		return // already noted
	}
	if _, err := power.ParseGroup(t.Group); t.Group != "" && err != nil {
		n.At(path+".group", "%v", err)
	}
	if r := 100 * float64(t.LoadLoss) / float64(t.Rating); !(r < float64(t.Impedance)) {
		n.At(path+".load_loss", "%s is %s of the rating, which no impedance of %s can hold: the resistance is part of it",
			quantity.Neat(float64(t.LoadLoss), "W"), quantity.Spell(r, "%"), quantity.Spell(float64(t.Impedance), "%"))
	}
	if t.HV <= t.LV {
		n.At(path+".hv", "%s is not above the LV of %s", quantity.Neat(float64(t.HV), "V"), quantity.Neat(float64(t.LV), "V"))
	}
	seen := map[string]bool{}
	for i, tap := range t.Taps {
		p := fmt.Sprintf("%s.taps[%d]", path, i+1)
		if seen[tap.Position] {
			n.At(p+".position", "%q stands twice: a position stands once", tap.Position)
		}
		seen[tap.Position] = true
	}
	if t.Tap != "" && t.TapAt(t.Tap) == nil {
		n.At(path+".tap", "no tap %q%s", t.Tap, Nearest(t.Tap, IDsOf(t.Taps, func(t Tap) string { return t.Position })))
	}
}

func (n *Notes) supply(s *Supply) {
	if s == nil {
		return
	}
	if s.Low != nil && *s.Low > s.Usual {
		n.At("plant.supply.low", "%s is above the usual %s", quantity.Neat(float64(*s.Low), "V"), quantity.Neat(float64(s.Usual), "V"))
	}
	if s.High != nil && *s.High < s.Usual {
		n.At("plant.supply.high", "%s is below the usual %s", quantity.Neat(float64(*s.High), "V"), quantity.Neat(float64(s.Usual), "V"))
	}
}

// validateKinds lets each check's kind say what it misses in the plan.
func (n *Notes) validateKinds(p *Plan) {
	for _, c := range p.Checks() {
		n.refer(p, c)
		if c.Kind.Validate == nil {
			continue
		}
		c.Kind.Validate(p, c, func(key, format string, args ...any) {
			n.At(Join(c.Path+".given", key), format, args...)
		})
	}
	if len(n.found) > 0 {
		return // a form needs sound parameters
	}
	for _, c := range p.Checks() {
		if c.Kind.Object != nil {
			c.Kind.Object(p, c, func(key, format string, args ...any) {
				n.Object(Join(c.Path+".given", key), format, args...)
			})
		}
	}
	n.imports(p)
	for _, r := range rules {
		r(n, p)
	}
}

// rule notes what is wrong in a plan whose checks are given sound parameters.
type rule func(n *Notes, p *Plan)

var rules []rule

// AddRule adds a rule at package-variable time: a plan knows no forms, and what judges
// its checks knows them.
func AddRule(r rule) bool {
	rules = append(rules, r)
	return true
}

func IDsOf[T any](list []T, idOf func(T) string) []string {
	out := make([]string, len(list))
	for i, x := range list {
		out[i] = idOf(x)
	}
	return out
}
