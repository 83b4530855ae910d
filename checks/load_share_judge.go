package checks

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"time"
)

const (
	// balanceSlack is how far, as a share of the larger current, currents that
	// meet at a bar may miss each other as bare numbers: parts whose power
	// factors differ as 0.8 and 1 do leave 5 % (our choice).
	balanceSlack = 0.05

	// nothingShare is the part of what its rating would give under which an
	// incomer carries nothing (our choice).
	nothingShare = 0.05

	dropsHalf = "opening on an incomer that carries nothing would drop half the board"
)

// judgeLoadShare passes when every section can be left to its own incomer. On
// every phase:
//
//	s = 100·I_r/I_p             s ≥ least       I_p from V = (Σ E_i/Z_i − I)/Σ 1/Z_i, I_i = (E_i − V)/Z_i, I = Σ I_i
//	L = Σ I_side ± I_c          L ≥ −(U + 5 % of Σ I_side);  |L − L_read| ≤ U + 5 % of the larger
//	I_t ≤ after_limit           I_t = L, or the transformer's part of L by the same network
//	T = now − closed            0 ≤ T ≤ time_limit
//
//	I_r, I_p   current of the returning incomer, read and predicted               A
//	I_side     currents of the incomers of one section                            A
//	I_c        coupler current, + into the section, − out of it                   A
//	L, L_read  load of the section, worked out and, where it can be, read         A
//	E, Z       no-load volts on the tap in use and ohms of each transformer       V, Ω
//
// Currents are added as numbers, which is never less than their true sum: the
// section the coupler feeds is judged on the safe side; the other one gives load
// away, and its L is right where both sections have like power factors. Where the
// load was read as well, the larger counts. Limits include their own value.
//
// Stops: an incomer that is open, or carries less than 5 % of what its rating would
// give on any phase; a section that would overload a transformer. With no load at
// all nothing is shown: inconclusive.
func judgeLoadShare(w *Work) {
	g := w.Check.Given.(*loadShare)
	w.shareTime(g)
	if w.Word("coupler_closed") == "no" {
		w.Want(wordIs("coupler_closed", "yes"), "the coupler is open: nothing is in parallel, so nothing shows that the incomers share")
		return
	}
	in := w.shareStates(g)
	if len(in) == 0 {
		return
	}
	for k := 1; k <= 3; k++ {
		w.sharePhase(g, in, k)
	}
	for _, side := range g.sides() {
		w.shareBalance(g, side)
		w.shareAfter(g, in, side)
	}
}

// shareTime holds the time in parallel.
func (w *Work) shareTime(g *loadShare) {
	if !w.Has("closed_at", "now_at") {
		return
	}
	took := w.Answers["now_at"].Time().Sub(w.Answers["closed_at"].Time())
	if took < 0 {
		w.Say(Fail, "now_at", "the currents were read %s before the incomers were in parallel", -took)
		return
	}
	e := Datum("time in parallel", took.Seconds(), "s")
	if g.TimeLimit == nil {
		w.Show("in_parallel", "time in parallel", "s", e)
		return
	}
	limit := time.Duration(float64(*g.TimeLimit) * float64(time.Second))
	w.HoldField("now_at", "in_parallel", "time in parallel", "s", e, AtMost(limit.Seconds(), "plan"))
}

// shareStates gives the incomers that are closed and stops on a section that has none.
func (w *Work) shareStates(g *loadShare) []incomer {
	var closed []incomer
	for _, i := range g.Incomers {
		if w.Word(keyOf(i.Transformer)+"_closed") != "no" {
			closed = append(closed, i)
		} else if i.Transformer == g.Returning {
			w.Stop("%s: the returning incomer %s is open", dropsHalf, i.Transformer)
		}
	}
	for _, side := range g.sides() {
		if !slices.ContainsFunc(closed, func(i incomer) bool { return i.Side == side }) {
			w.Stop("%s: no incomer of section %s is closed", dropsHalf, side)
		}
	}
	return closed
}

func (w *Work) amps(key string, k int) *Expr { return w.Read(fmt.Sprintf("%s_i%d", key, k)) }

// sharePhase stops on an incomer that carries nothing and holds the share of the
// returning one, on phase k from 1.
func (w *Work) sharePhase(g *loadShare, in []incomer, k int) {
	lines, _ := w.Plan.Conductors()
	var each []*Expr
	ratings := 0.0
	for _, i := range in {
		each = append(each, w.amps(keyOf(i.Transformer), k))
		ratings += float64(w.Plan.Transformer(i.Transformer).Rating)
	}
	total := Named("load of both sections, "+lines[k-1], "A", Sum(each...))
	if !w.answered(total) {
		return
	}
	load := total.eval(w.value)
	if load == 0 {
		w.Say(Inconclusive, each[0].key, "no incomer carries anything on %s: without load no share can be shown", lines[k-1])
		return
	}
	at := -1
	for n, i := range in {
		if i.Transformer == g.Returning {
			at = n
		}
		part := load * float64(w.Plan.Transformer(i.Transformer).Rating) / ratings
		if x := each[n].eval(w.value); load > 0 && !(x > nothingShare*part) {
			w.Stop("%s: %s carries %s on %s, of %s in all", dropsHalf, i.Transformer, spell(x, "A"), lines[k-1], spell(load, "A"))
		}
	}
	if at < 0 {
		return
	}
	predicted := w.part(in, at, total)
	name := "share of " + g.Returning + " on " + lines[k-1]
	w.Show(fmt.Sprintf("predicted_l%d", k), "predicted "+name, "A", predicted)
	w.HoldField(each[at].key, fmt.Sprintf("share_l%d", k), name+", of predicted", "%",
		each[at].Div(Named("predicted "+name, "A", predicted)).Times(100), AtLeast(or(g.Least, 50), givenOr(g.Least != nil, "common practice")))
}

// part is the current of one of the incomers when together they carry a load.
func (w *Work) part(in []incomer, at int, load *Expr) *Expr {
	pf, how := K(assumedPowerFactor), " assumed"
	if w.Has("pf") {
		pf, how = w.Read("pf"), " read"
	}
	feeds, err := w.feedsOf(in)
	words := "network solve of the transformers on their taps, power factor" + how
	if err != nil {
		words = err.Error()
	}
	return Solve(words, func(x []float64) float64 {
		if err != nil {
			return math.NaN()
		}
		currents, err := share(feeds, x[0], x[1])
		if err != nil {
			return math.NaN()
		}
		return cmplx.Abs(currents[at])
	}, load, pf)
}

// sectionLoad is what a section draws on phase k: its incomers and what the coupler
// brings, less what the coupler takes away.
func (w *Work) sectionLoad(g *loadShare, side string, k int) (own, load *Expr) {
	var each []*Expr
	for _, i := range g.Incomers {
		if i.Side == side {
			each = append(each, w.amps(keyOf(i.Transformer), k))
		}
	}
	own = Sum(each...)
	switch w.Word("direction") {
	case g.towards(side):
		return own, own.Add(w.amps("coupler", k))
	case "none":
		return own, own.Add(K(0).Mul(w.amps("coupler", k)))
	}
	return own, own.Sub(w.amps("coupler", k))
}

// shareBalance says whether the currents that meet at a section add up.
func (w *Work) shareBalance(g *loadShare, side string) {
	lines, _ := w.Plan.Conductors()
	for k := 1; k <= 3; k++ {
		own, load := w.sectionLoad(g, side, k)
		if !w.answered(load) || !w.Has("direction") {
			return
		}
		x, brought, through := load.eval(w.value), own.eval(w.value), w.value(fmt.Sprintf("coupler_i%d", k))
		if u := w.within(own); w.Word("direction") == "none" && !(through <= u+float64(balanceSlack*brought)) {
			w.Say(Inconclusive, "direction", "the coupler carries %s on %s, but no direction was given", spell(through, "A"), lines[k-1])
			return
		}
		if u := w.within(load); !(x >= -u-float64(balanceSlack*brought)) {
			w.Say(Fail, "direction", "current balance does not hold at section %s on %s: the coupler takes away %s, its incomers bring %s. Look at the direction and at the readings",
				side, lines[k-1], spell(through, "A"), spell(brought, "A"))
			return
		}
		key := fmt.Sprintf("section_%s_i%d", keyOf(side), k)
		if !w.Has(key) {
			continue
		}
		read := w.Read(key)
		miss := load.Sub(read)
		if u := w.within(miss); !(math.Abs(miss.eval(w.value)) <= u+float64(balanceSlack*math.Max(x, w.value(key)))) {
			w.Say(Fail, key, "current balance does not hold at section %s on %s: incomers and coupler give %s, its circuits read %s", side, lines[k-1], spell(x, "A"), spell(w.value(key), "A"))
			return
		}
	}
	w.Say(Pass, "", "current balance holds at section %s", side)
}

// within is the uncertainty of e, 0 when it is not known.
func (w *Work) within(e *Expr) float64 {
	if u := w.spread(e); !math.IsNaN(u) {
		return u
	}
	return 0
}

// shareAfter holds what each transformer of a section would carry once the coupler
// is open, and stops on an overload.
func (w *Work) shareAfter(g *loadShare, in []incomer, side string) {
	if !w.Has("direction") {
		return
	}
	var own []incomer
	for _, i := range in {
		if i.Side == side {
			own = append(own, i)
		}
	}
	lines, _ := w.Plan.Conductors()
	over := map[string]bool{}
	for k := 1; k <= 3; k++ {
		_, load := w.sectionLoad(g, side, k)
		if key := fmt.Sprintf("section_%s_i%d", keyOf(side), k); w.Has(key) {
			load = Max(load, w.Read(key))
		}
		name := "load of section " + side + ", " + lines[k-1]
		load = Named(name, "A", load)
		w.Show(fmt.Sprintf("section_%s_l%d", keyOf(side), k), name, "A", load)
		for n, i := range own {
			t, e := w.Plan.Transformer(i.Transformer), load
			if len(own) > 1 {
				e = w.part(own, n, load)
			}
			limit := afterLimit(g.After, t)
			key := fmt.Sprintf("after_%s_l%d", keyOf(t.ID), k)
			if w.Hold(key, t.ID+" after opening, "+lines[k-1], "A", e, limit) == Fail && !over[t.ID] {
				over[t.ID] = true
				d, _ := w.found.Value(key)
				w.Stop("after opening %s would carry %s on %s, %s", t.ID, Show(d.Value, "A", Decimals(d.Value, limit.High)), lines[k-1], limit.outside(d.Value, "A"))
				w.follows(key)
			}
		}
	}
}
