package kinds

import (
	"fmt"
	"math"
	"slices"

	"handback/checks"
	"handback/checks/calc"
)

// balanceSlack is how far, as a share of the larger current, currents that meet at
// a bar may miss each other beyond their uncertainty: loads move while they are
// read one after the other (our choice).
const balanceSlack = 0.05

// judgeLoadShare passes when every section can be left to its own incomer. On
// every phase:
//
//	s = 100·I_i/I_p             s ≥ least       I_p from V = (Σ E_i/Z_i − I)/Σ 1/Z_i, I_i = (E_i − V)/Z_i
//	I_t ≤ after_limit           I_t = L, or the transformer's part of L by the same network
//	T = to − closed             0 ≤ T ≤ time_limit
//
//	I_i, I_p   current of each incomer, read and predicted                        A
//	I          load of both sections: the one at which the predicted currents,
//	           with what circulates between unlike units, have the sum read       A
//	L          load of a section once the coupler is open                         A
//	E, Z       no-load volts on the tap in use and ohms of each transformer       V, Ω
//	T          from the recorded step that closed to the one that opened the
//	           coupler, or the reading as long as none is recorded                s
//
// The power factor of I is that against the bar, 0.8 where none was read. What the
// loads of the sections are, and how currents are held against each other, is told
// at sectionFlow. Limits include their own value. An impedance of the plate and an
// assumed power factor count in the uncertainty of I_p and I_t (see currentOf); s takes
// I_p exactly, as its limit is low because plates may be off.
//
// Where an incomer is no transformer, no share is foretold nor judged: a caution says so,
// and all else holds.
//
// Stops: an incomer that is open, or carries less than 5 % of what its rating would
// give on any phase; a section that would overload a transformer. With less than 3 %
// of the rated currents nothing is shown: inconclusive.
func judgeLoadShare(w *checks.Work, g *loadShare) {
	shareTime(w, g)
	if w.Word("coupler_closed") == "no" {
		w.Want(checks.WordIs("coupler_closed", "yes"), "nothing-in-parallel")
		return
	}
	in := shareStates(w, g)
	if len(in) == 0 {
		return
	}
	if why := foretells(w.Input, in); why != nil {
		w.Caution("share-not-foretold", checks.Shown("why", why.Error()))
	}
	for k := 1; k <= 3; k++ {
		sharePhase(w, g, in, k)
	}
	for _, side := range g.sides() {
		shareBalance(w, g, in, side)
	}
	boardBalance(w, g, in)
	for _, side := range g.sides() {
		shareAfter(w, g, in, side)
	}
}

// shareStates gives the incomers that are closed and stops on a section that has none.
func shareStates(w *checks.Work, g *loadShare) []incomer {
	var closed []incomer
	for _, i := range g.Incomers {
		if w.Word(keyOf(i.id())+"_closed") != "no" {
			closed = append(closed, i)
		} else if i.id() == g.Returning {
			w.Stop("returning-incomer-open", checks.Word("incomer", i.id()))
		}
	}
	for _, side := range g.sides() {
		if !slices.ContainsFunc(closed, func(i incomer) bool { return i.Side == side }) {
			w.Stop("no-incomer-closed", checks.Word("section", side))
		}
	}
	return closed
}

func amps(w *checks.Work, key string, k int) *calc.Expr { return w.Read(fmt.Sprintf("%s_i%d", key, k)) }

// sharePhase stops on an incomer that carries nothing and holds the share of each
// against its prediction, on phase k from 1.
func sharePhase(w *checks.Work, g *loadShare, in []incomer, k int) {
	lines, _ := w.Plan.Conductors()
	var each []*calc.Expr
	ratings, rated := 0.0, 0.0
	for _, i := range in {
		each = append(each, amps(w, keyOf(i.id()), k))
		t := w.Plan.Rated(i.id())
		ratings, rated = ratings+float64(t.Rating), rated+ratedAmps(t).Eval(nil)
	}
	total := calc.Named("sum of the incomers, "+lines[k-1], "A", calc.Sum(each...))
	if !w.Answered(total) {
		return
	}
	load := total.Eval(w.Value)
	if load == 0 {
		w.Say(checks.Inconclusive, each[0].Key(), "no-load", checks.Word("conductor", lines[k-1]))
		return
	}
	for n, i := range in {
		part := load * float64(w.Plan.Rated(i.id()).Rating) / ratings
		if x := each[n].Eval(w.Value); load > 0 && !(x > nothingShare*part) {
			w.Stop("incomer-carries-nothing", checks.Word("incomer", i.id()), checks.Num("read", x, "A"), checks.Word("conductor", lines[k-1]), checks.Num("all", load, "A"))
		}
	}
	if !(load >= noLoadShare*rated) {
		w.Say(checks.Inconclusive, each[0].Key(), "too-little-load", checks.Num("all", load, "A"), checks.Word("conductor", lines[k-1]), checks.Num("least", 100*noLoadShare, "%"))
	}
	if foretells(w.Input, in) != nil {
		return
	}
	foretold := partsOf(w, in, total)
	for n, i := range in {
		name, key := "share of "+i.id()+" on "+lines[k-1], fmt.Sprintf("_l%d", k)
		if i.id() != g.Returning {
			key = "_" + keyOf(i.id()) + key
		}
		predicted := foretold[n]
		w.Show("predicted"+key, "predicted "+name, "A", predicted)
		w.HoldField(each[n].Key(), "share"+key, name+", of predicted", "%",
			each[n].Div(calc.Named("predicted "+name, "A", calc.Exactly(predicted))).Times(100), limitOf("load-share.least", g.Least))
	}
}

// foretells is why no share can be foretold of incomers of which one has no impedance on
// its plate: a generator's governor or the network behind a feeder decides there. nil
// where all are transformers.
func foretells(in checks.Input, incomers []incomer) error {
	for _, i := range incomers {
		if in.Plan.Transformer(i.id()) == nil {
			_, err := feedOf(in, i.id(), "", "")
			return err
		}
	}
	return nil
}

// partsOf are the currents of the incomers when their readings add up to a sum.
func partsOf(w *checks.Work, in []incomer, sum *calc.Expr) []*calc.Expr {
	return network(w, in, sum, ", what circulates between them taken off the load", shareOfSum)
}

// parts are the currents of the incomers when together they carry a load.
func parts(w *checks.Work, in []incomer, load *calc.Expr) []*calc.Expr {
	return network(w, in, load, "", share)
}

// network is the currents of the incomers as solve finds them for a current and the power
// factor.
func network(w *checks.Work, in []incomer, amps *calc.Expr, more string, solve func([]feed, float64, float64) ([]complex128, error)) []*calc.Expr {
	pf, how := assumedFactor(), " assumed"
	if w.Has("pf") {
		pf, how = w.Read("pf"), " read"
	}
	feeds, err := feedsOf(w.Input, in)
	if err != nil {
		none := make([]*calc.Expr, len(in))
		for n := range none {
			none[n] = calc.Solve(err.Error(), func([]float64) float64 { return math.NaN() }, amps)
		}
		return none
	}
	return currentsOf("network solve of the transformers on their taps"+more+", power factor"+how, feeds, amps, pf, solve)
}
