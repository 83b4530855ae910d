package kinds

import (
	"fmt"
	"math"
	"slices"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
)

// factorSlack is how far a power factor may be from what its meter shows and from
// that of the single phase it is used for (our choice).
const factorSlack = 0.02

// sectionFlow is what meets at the bar of a section on one phase. Currents are
// phasors and only their magnitudes are read, so that the section's load L is known
// within the bounds of a triangle (of a polygon with more incomers than one):
//
//	| I − I_c | ≤ L ≤ I + I_c
//
//	I     current of its incomers, added as numbers                               A
//	I_c   current of the coupler                                                  A
//
// What counts as its load after opening:
//
//	the coupler feeds it        L = I + I_c, the most there can be
//	the coupler takes from it   L = |I − I_c|, the least, right where the power
//	                            factors are alike; and the most, I + I_c, or with both
//	                            read √(I² + I_c² − 2·I·I_c·cos(φ + φ_c)): their angles
//	                            at the bar, lagging or leading, each as large as a
//	                            power factor 0.02 lower (our choice) makes it
//	its circuits were read      L as read, where the other section was read as well and
//	                            both together come to what the incomers bring; else the
//	                            larger of that and the above
//
// The least beyond a limit fails and stops, and so does all that the coupler brings.
// Where the most alone is beyond it, the readings do not decide: inconclusive.
type sectionFlow struct {
	own     []*calc.Expr // of its incomers
	brought *calc.Expr   // their sum
	through *calc.Expr   // the coupler
	out     bool         // the coupler takes current away
	read    *calc.Expr   // nil where the load was not read
	both    bool         // every section was read
	factor  *calc.Expr   // power factor of its one incomer, nil where not read
	coupler *calc.Expr   // power factor in the coupler
}

func sectionKey(side string, k int) string { return fmt.Sprintf("section_%s_i%d", keyOf(side), k) }

// flow is what meets at a section on phase k from 1.
func flow(w *checks.Work, g *loadShare, side string, k int) sectionFlow {
	f := sectionFlow{through: amps(w, "coupler", k), both: true}
	var factors []*calc.Expr
	for _, i := range g.Incomers {
		if i.Side != side {
			continue
		}
		f.own = append(f.own, amps(w, keyOf(i.id()), k))
		if key := factorKey(i); w.Has(key) {
			factors = append(factors, w.Read(key))
		}
	}
	f.brought = calc.Sum(f.own...)
	f.out = w.Word("direction") != g.towards(side) && w.Word("direction") != "none"
	if key := sectionKey(side, k); w.Has(key) {
		f.read = w.Read(key)
	}
	for _, s := range g.sides() {
		f.both = f.both && w.Has(sectionKey(s, k))
	}
	if len(f.own) == 1 && len(factors) == 1 && w.Has("coupler_pf") {
		f.factor, f.coupler = factors[0], w.Read("coupler_pf")
	}
	return f
}

// least and most are the bounds of the section's load.
func (f sectionFlow) least() *calc.Expr {
	if len(f.own) == 1 {
		return calc.Abs(f.brought.Sub(f.through))
	}
	all := append(slices.Clone(f.own), f.through)
	return calc.Max(calc.K(0), calc.Max(all...).Times(2).Sub(calc.Sum(all...)))
}

func (f sectionFlow) most() *calc.Expr {
	if f.factor == nil || !f.out {
		return f.brought.Add(f.through)
	}
	angle := func(pf *calc.Expr) *calc.Expr {
		return calc.ArcCosDeg(calc.Max(pf.Sub(calc.K(factorSlack)), calc.K(0)))
	}
	both := calc.CosDeg(angle(f.factor).Add(angle(f.coupler)))
	return calc.Sqrt(f.brought.Pow(2).Add(f.through.Pow(2)).Sub(f.brought.Mul(f.through).Times(2).Mul(both)))
}

// load is the section's load at like power factors, or as it was read.
func (f sectionFlow) load() *calc.Expr {
	load := f.brought.Add(f.through)
	if f.out {
		load = f.least()
	}
	switch {
	case f.read == nil:
		return load
	case f.both:
		return calc.Max(f.read, f.least())
	}
	return calc.Max(f.read, load)
}

// bounded tells whether the load is no more than the least there can be.
func (f sectionFlow) bounded() bool { return f.out && f.read == nil }

// shareBalance says whether the currents that meet at a section can.
func shareBalance(w *checks.Work, g *loadShare, in []incomer, side string) {
	if !w.Has("direction") {
		return
	}
	lines, _ := w.Plan.Conductors()
	for k := 1; k <= 3; k++ {
		f := flow(w, g, side, k)
		if !w.Answered(f.most()) {
			return
		}
		brought, through := f.brought.Eval(w.Value), f.through.Eval(w.Value)
		if u := within(w, f.brought); w.Word("direction") == "none" && !(through <= u+float64(balanceSlack*brought)) {
			w.Say(checks.Inconclusive, "direction", "no-direction", checks.Num("read", through, "A"), checks.Word("conductor", lines[k-1]))
			return
		}
		u := within(w, f.brought.Sub(f.through)) + circulates(w, in, side)
		if f.out && !(through <= brought+u+float64(balanceSlack*brought)) {
			w.Say(checks.Fail, "direction", "more-taken-than-brought", checks.Word("section", side), checks.Word("conductor", lines[k-1]), checks.Num("taken", through, "A"), checks.Num("brought", brought, "A"))
			return
		}
		if f.read == nil {
			continue
		}
		read, least, most := f.read.Eval(w.Value), f.least().Eval(w.Value), f.brought.Add(f.through).Eval(w.Value)
		slip := float64(balanceSlack * math.Max(most, read))
		if !(read <= most+within(w, f.brought.Add(f.through).Sub(f.read))+slip) || !(read >= least-within(w, f.least().Sub(f.read))-slip) {
			w.Say(checks.Fail, sectionKey(side, k), "circuits-off-balance", checks.Word("section", side), checks.Word("conductor", lines[k-1]),
				checks.Num("least", least, "A"), checks.Num("most", most, "A"), checks.Num("read", read, "A"))
			return
		}
	}
	w.Say(checks.Pass, "", "balance-holds", checks.Word("section", side))
}

// circulates is the current that goes round between the transformers at no load, in
// those of a section: it comes in through one section and goes out by the other, A.
func circulates(w *checks.Work, in []incomer, side string) float64 {
	feeds, err := feedsOf(w.Input, in)
	if err != nil {
		return 0
	}
	idle, err := share(feeds, 0, 1)
	sum := 0.0
	for n, i := range in {
		if err == nil && i.Side == side {
			sum += sumOfMagnitudes(idle[n : n+1])
		}
	}
	return sum
}

// boardBalance fails sections that were both read and together draw less than the
// incomers bring: one of their circuits was left out, or a reading is wrong.
func boardBalance(w *checks.Work, g *loadShare, in []incomer) {
	lines, _ := w.Plan.Conductors()
	feeds, err := feedsOf(w.Input, in)
	for k := 1; k <= 3; k++ {
		var sections, incomers []*calc.Expr
		for _, side := range g.sides() {
			if !w.Has(sectionKey(side, k)) {
				return
			}
			sections = append(sections, w.Read(sectionKey(side, k)))
		}
		for _, i := range in {
			incomers = append(incomers, amps(w, keyOf(i.id()), k))
		}
		drawn, sum := calc.Sum(sections...), calc.Sum(incomers...)
		if err != nil || !w.Answered(sum) {
			return
		}
		brought, err := leastCarried(feeds, sum.Eval(w.Value))
		if u := within(w, sum.Sub(drawn)); err == nil && !(drawn.Eval(w.Value) >= float64(brought*(1-balanceSlack))-u) {
			w.Say(checks.Fail, sectionKey(g.sides()[0], k), "circuits-left-out", checks.Word("conductor", lines[k-1]), checks.Num("read", drawn.Eval(w.Value), "A"), checks.Num("brought", brought, "A"))
			return
		}
	}
}

// within is the uncertainty of e, 0 when it is not known.
func within(w *checks.Work, e *calc.Expr) float64 {
	if u := w.Spread(e); !math.IsNaN(u) {
		return u
	}
	return 0
}

// shareAfter holds what each incomer of a section would carry once the coupler
// is open, and stops on an overload.
func shareAfter(w *checks.Work, g *loadShare, in []incomer, side string) {
	if !w.Has("direction") {
		return
	}
	own := incomersOf(in, side)
	lines, _ := w.Plan.Conductors()
	over := map[string]bool{}
	for k := 1; k <= 3; k++ {
		f := flow(w, g, side, k)
		name := "load of section " + side + ", " + lines[k-1]
		load := calc.Named(name, "A", f.load())
		w.Show(fmt.Sprintf("section_%s_l%d", keyOf(side), k), name, "A", load)
		for n, i := range own {
			t := w.Plan.Rated(i.id())
			carried := func(load *calc.Expr) *calc.Expr {
				if len(own) > 1 {
					return parts(w, own, load)[n]
				}
				return load
			}
			limit, key := afterLimit(g.After, t), fmt.Sprintf("after_%s_l%d", keyOf(t.ID), k)
			what := t.ID + " after opening, " + lines[k-1]
			if f.bounded() {
				what += ", at like power factors"
			}
			if w.Hold(key, what, "A", carried(load), limit) == checks.Fail && !over[t.ID] {
				over[t.ID] = true
				d, _ := w.Finding().Value(key)
				w.Stop("overload-after-opening", checks.Word("transformer", t.ID), checks.Word("conductor", lines[k-1]), checks.OfValue("value", d))
				w.Follows(key)
			} else if f.bounded() && !over[t.ID] {
				holdSection(w, t, lines[k-1], k, carried(calc.Named("most that section "+side+" may draw, "+lines[k-1], "A", f.most())), f, limit)
			}
		}
	}
}

func incomersOf(in []incomer, side string) []incomer {
	var own []incomer
	for _, i := range in {
		if i.Side == side {
			own = append(own, i)
		}
	}
	return own
}

// holdSection holds the most that an incomer may come to carry, of whose section
// the coupler takes current away at an angle that was not read. Beyond the limit it
// shows no overload, only that none is ruled out.
func holdSection(w *checks.Work, t *plan.Rated, line string, k int, most *calc.Expr, f sectionFlow, limit *checks.Limit) {
	what := t.ID + " after opening, " + line + " at any power factors"
	if f.factor != nil {
		what = t.ID + " after opening, " + line + " by the power factors read"
	}
	w.HoldMost(fmt.Sprintf("most_%s_l%d", keyOf(t.ID), k), what, "A", most, limit, checks.Say("circuits-or-factors-decide"))
}

// factorsDecide tells whether power factors are of use: the currents are all
// there, a section that gives current away was not read, and the most it may draw is
// beyond what its transformer may carry.
func factorsDecide(in checks.Input, g *loadShare) bool {
	value := func(key string) float64 { return in.Answers[key].Value }
	way := in.Answers["direction"].Word
	for _, i := range g.Incomers {
		t := in.Plan.Rated(i.id())
		if way == "" || way == "none" || way == g.towards(i.Side) || t == nil {
			continue
		}
		for k := 1; k <= 3; k++ {
			_, read := in.Answers[sectionKey(i.Side, k)]
			sum := value(keyOf(i.id())+ampKeys[k-1]) + value("coupler"+ampKeys[k-1])
			if !read && !(sum <= afterLimit(g.After, t).High*(1-balanceSlack)) {
				return true
			}
		}
	}
	return false
}
