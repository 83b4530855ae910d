package checks

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// The plant of an insulation check, as far as its correction for temperature goes.
const (
	anyTransformer    = "transformer"
	dryTransformer    = "dry-type transformer"
	liquidTransformer = "liquid-immersed transformer"
	rotatingMachine   = "rotating machine"
)

// curvePoint is one point of the maker's correction curve.
type curvePoint struct {
	At     *Celsius `plan:"at,need" doc:"temperature of the insulation"`
	Factor float64  `plan:"factor,need,pos" doc:"what a reading there is multiplied by; 1 at the reference"`
}

// solid tells whether the plant is known to be of dry type: the plan says so, or
// gives the insulation class of the transformer tested; where the check names none,
// of any transformer of the plan.
func (g *insulation) solid(p *Plan) bool {
	if g.Plant != anyTransformer {
		return g.Plant == dryTransformer
	}
	return slices.ContainsFunc(p.Plant.Transformers, func(t Transformer) bool {
		return t.Class != "" && (g.Transformer == "" || t.ID == g.Transformer)
	})
}

// raises tells whether a reading above the reference may be raised to it by halving
// per 10 K: that is the law of liquid-immersed plant and of rotating machines. It
// is several times too kind to solid insulation, so what the plan leaves open is
// taken as it was read.
func (g *insulation) raises() bool { return g.Plant == liquidTransformer || g.Plant == rotatingMachine }

// usual is the reference usual for the plant.
func (g *insulation) usual() (celsius float64, ok bool) {
	switch g.Plant {
	case anyTransformer, dryTransformer, liquidTransformer:
		return 20, true // common practice
	case rotatingMachine:
		return 40, true // IEEE 43
	}
	return 0, false
}

// atReference corrects a resistance to the reference temperature, and names it:
//
//	R_ref = R·0.5^((θref − θ)/10)   below the reference, and above it for plant that
//	                                is liquid-immersed or rotates
//	R_ref = R·f(θ)                  by the maker's curve, straight between its points
//	R_ref = R                       above the reference without either, and for plant
//	                                that has no reference
func (w *Work) atReference(g *insulation, r *Expr, name string) (*Expr, string) {
	ref, temp := g.reference(), w.value("temp")
	if math.IsNaN(ref) {
		return r, name + ", not corrected for temperature"
	}
	to := name + " at " + spell(ref, "°C")
	switch {
	case len(g.Curve) > 0:
		factor, ok := w.onCurve(g, temp)
		if !ok {
			return r, name + ", as read beyond the maker's curve"
		}
		return r.Mul(Named(fmt.Sprintf("factor to %s (maker's curve)", spell(ref, "°C")), "1", factor)), to
	case w.asRead(g):
		return r, fmt.Sprintf("%s, as read at %s", name, spell(temp, "°C"))
	}
	return r.Mul(w.halved(g)), to
}

// asRead tells whether readings stand above the reference and nothing raises them.
func (w *Work) asRead(g *insulation) bool {
	return len(g.Curve) == 0 && w.value("temp") > g.reference() && !g.raises()
}

// halved is the factor to the reference by halving per 10 K.
func (w *Work) halved(g *insulation) *Expr {
	ref, whose := g.reference(), "usual for a "+g.Plant
	if g.Reference != nil {
		whose = "plan"
	}
	return Named(fmt.Sprintf("factor to %s (%s)", spell(ref, "°C"), whose), "1", K(0.5).PowOf(Datum("θref", ref, "°C").Sub(w.Read("temp")).Div(K(10))))
}

// onCurve is the factor between the two points of the maker's curve that hold a
// temperature; ok is false beyond its ends.
func (w *Work) onCurve(g *insulation, temp float64) (factor *Expr, ok bool) {
	for i := 1; i < len(g.Curve); i++ {
		a, b := g.Curve[i-1], g.Curve[i]
		low, high := float64(*a.At), float64(*b.At)
		if !(temp >= low-slack && temp <= high+slack) {
			continue
		}
		rise := Datum("factor at "+spell(high, "°C"), b.Factor, "1").Sub(Datum("factor at "+spell(low, "°C"), a.Factor, "1"))
		share := w.Read("temp").Sub(Datum("θ1", low, "°C")).Div(K(high - low))
		return Datum("factor at "+spell(low, "°C"), a.Factor, "1").Add(rise.Mul(share)), true
	}
	return nil, false
}

// correctionCaution says how readings were taken to the reference, where that is
// not what the plan may have meant.
func (w *Work) correctionCaution(g *insulation) {
	ref, temp := g.reference(), w.value("temp")
	switch {
	case math.IsNaN(ref) || math.IsNaN(temp):
	case len(g.Curve) > 0:
		if _, ok := w.onCurve(g, temp); !ok {
			w.Say(Inconclusive, "temp", "beyond-curve", Num("temp", temp, "°C"), Num("low", float64(*g.Curve[0].At), "°C"),
				Num("high", float64(*g.Curve[len(g.Curve)-1].At), "°C"))
		}
	case w.asRead(g):
		code := "as-read-unstated"
		if g.solid(w.Plan) {
			code = "as-read-dry"
		}
		w.Caution(code, Num("temp", temp, "°C"), Num("reference", ref, "°C"))
	}
}

// validateCurve says what is wrong with the maker's curve.
func (g *insulation) validateCurve(say sayFunc) {
	if g.Curve == nil {
		return
	}
	if math.IsNaN(g.reference()) {
		say("curve", "no reference: a curve leads to one")
		return
	}
	if len(g.Curve) < 2 {
		say("curve", "%d points: two or more are wanted", len(g.Curve))
	}
	for i := 1; i < len(g.Curve); i++ {
		if a, b := g.Curve[i-1], g.Curve[i]; !(*a.At < *b.At) || !(a.Factor < b.Factor) {
			say(fmt.Sprintf("curve[%d]", i+1), "%s with %v stands after %s with %v: temperatures and factors rise",
				spell(float64(*b.At), "°C"), b.Factor, spell(float64(*a.At), "°C"), a.Factor)
		}
	}
}

// unusualReference tells whether the plan refers plant to another temperature than
// is usual for it, and which is.
func (g *insulation) unusualReference() (usual float64, is bool) {
	usual, ok := g.usual()
	return usual, ok && g.Reference != nil && float64(*g.Reference) != usual
}

// earthedLink tells whether a combination tests a winding to earth whose neutral is
// usually linked to earth.
func (c combination) earthedLink() bool { return c.ID == "lv" || strings.HasPrefix(c.Name, "LV-") }
