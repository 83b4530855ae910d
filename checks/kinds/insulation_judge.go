package kinds

import (
	"slices"

	"handback/checks"
	"handback/checks/quantity"
)

// judgeInsulation passes when every combination was tested at its volts, its
// resistance after 60 s at the reference temperature is at least the minimum,
// every index with a limit is at least that, and the plant was discharged:
//
//	R_ref = R60·0.5^((θref − θ)/10) ≥ minimum     PI = R600/R60     R60/R30     R60/R15
//
//	θ        temperature of the insulation, °C, −60 to 200
//	θref     the plan's; else 20 °C for transformers, 40 °C for rotating machines;
//	         other plant is not corrected where the plan gives none
//	volts    from the plan's to 25 % above (our choice)
//
// A reading above θref is raised to it only for liquid-immersed and rotating plant,
// or by the maker's curve; else it is judged as read: halving per 10 K is 1.25 to
// 3.2 times too kind to solid insulation between 30 and 70 °C.
//
// Limits include their own value. Readings of one test have one temperature, so
// indices are of readings as they are. A reading such as ">2 GΩ" is a lower bound
// and judged as one; a quotient of two readings is known as far as its parts are,
// and of two lower bounds not at all. From the plan's index_below on, indices are
// shown and not judged. Halving per 10 K is a rule of thumb: the form of IEEE 43
// (from memory). Plant left charged is a stop, and so is what was opened for the test
// and not remade. Where the plan asks for it, the discharge lasts four times the
// longest test or more (IEEE 43, from memory).
func judgeInsulation(w *checks.Work, g *insulation) {
	inDoubt := checks.Doubted(slices.Concat(doubtTemperature(w.Input, "temp"), doubtOhms(w.Input, g)))
	for _, c := range g.combinations() {
		volts, v := fieldKey(c.ID, "volts"), float64(*g.volts(c))
		w.HoldCondition(volts, c.key("volts"), c.Name+", test volts", "V", w.Read(volts), checks.Between(v, v*voltsAbove, "plan, up to 25 % above"))
		if !inDoubt(c.field(60)) && !inDoubt("temp") {
			field := c.field(60)
			e, name := atReference(w, g, w.ReadIn(field), c.Name+", after 60 s")
			key := c.key("r60")
			if asRead(w, g) && !g.solid(w.Plan) {
				w.ShowBound(w.Answers[field].Bound, key, c.Name+", after 60 s at "+quantity.Spell(g.reference(), "°C")+", were it immersed in oil", "MΩ", w.ReadIn(field).Mul(halved(w, g)))
				key = c.key("read60")
			}
			w.HoldBounded(field, key, name, "MΩ", e, checks.AtLeast(quantity.FromBase(float64(*g.minimum(c)), "MΩ"), g.source()))
		}
		for _, x := range g.indices() {
			if g.reads(x.over, x.under) && !inDoubt(c.field(x.over)) && !inDoubt(c.field(x.under)) {
				judgeIndex(w, g, c, x, inDoubt("temp"))
			}
		}
	}
	if usual, is := g.unusualReference(); is {
		w.Caution("unusual-reference", checks.Num("reference", g.reference(), "°C"), checks.Word("plant", g.Plant), checks.Num("usual", usual, "°C"))
	}
	if !inDoubt("temp") {
		correctionCaution(w, g)
	}
	if g.Timed && w.Has("discharge") {
		w.HoldCondition("discharge", "discharge", "time of the discharge", "min", w.ReadIn("discharge"), g.dischargeLimit())
	}
	judgeOpened(w, g.Opened)
	switch w.Word("discharged") {
	case "yes":
		w.Want(checks.WordIs("discharged", "yes"), "discharged")
	case "no":
		w.StopAt([]string{"discharged"}, "not-discharged")
	}
}

// judgeIndex judges one quotient of a combination's readings, or shows it where it has
// no limit, the insulation is good beyond it, or a doubted temperature leaves open
// whether it is.
func judgeIndex(w *checks.Work, g *insulation, c combination, x index, tempInDoubt bool) {
	over, under := c.field(x.over), c.field(x.under)
	if !w.Has(over, under) {
		return
	}
	key, name := c.key(x.key), c.Name+", "+x.name
	bound, ok := checks.QuotientBound(w.Answers[over], w.Answers[under])
	code := "index-of-bounds"
	if w.Value(under) == 0 {
		ok, code = false, "index-over-zero"
	}
	args := []checks.Arg{checks.Word("test", c.Name), checks.Num("later", float64(x.over), "s"), checks.Num("earlier", float64(x.under), "s")}
	e := w.ReadIn(over).Div(w.ReadIn(under))
	judged := x.least != nil && !(g.IndexBelow != nil && (tempInDoubt || goodBeyond(w, g, c)))
	switch {
	case !ok && judged:
		w.Say(checks.Inconclusive, over+" "+under, code, args...)
	case !ok:
		w.Caution("index-not-shown", checks.Inner("why", checks.Say(code, args...)))
	case judged:
		w.HoldBound(bound, over, key, name, "1", e, checks.AtLeast(*x.least, g.source()))
	default:
		w.ShowBound(bound, key, name, "1", e)
	}
}

// goodBeyond tells whether the corrected 60 s resistance is known to be at least
// the plan's index_below.
func goodBeyond(w *checks.Work, g *insulation, c combination) bool {
	field := c.field(60)
	if !w.Has(field, "temp") || w.Answers[field].Bound == "<" {
		return false
	}
	e, _ := atReference(w, g, w.ReadIn(field), "")
	return checks.Decide(e.Eval(w.Value), 0, *checks.AtLeast(quantity.FromBase(float64(*g.IndexBelow), "MΩ"), ""), false) == checks.Pass
}
