package checks

import (
	"math"

	"handback/checks/power"
)

// unbalance is what an unbalance check is given.
type unbalance struct {
	Limit  *Percent `plan:"limit,pos" doc:"greatest negative-sequence unbalance u2; when not given 2 %, a level of supplies, or 1 % with motors: yes"`
	Motors bool     `plan:"motors" doc:"yes where the volts feed motors that run for long: they stand 1 %"`
	Source string   `plan:"source" doc:"where the plan's own limit comes from; plan when not given"`
	From   string   `plan:"volts_from" doc:"id of the lv-volts check that read the same volts: its readings are expected again"`
}

// The limits of u2 in per cent when the plan gives none: what a supply may have, and
// what motors stand for long.
const supplyUnbalance, motorUnbalance = 2, 1

var _ = register(&Kind{
	Name: "unbalance", Title: "Voltage unbalance", Group: "Live checks", Live: true,
	Cautions: []string{liveCaution},
	Sources: []string{"u2 from three line-to-line volts: IEC 61000-4-30, 5.7.1", "limit of u2 2 %, a level of supplies: IEC 61000-2-2 and EN 50160, as means over 10 min; or the plan",
		"limit of u2 1 % for motors: IEC 60034-1 7.2.1.1",
		"greatest deviation from the mean: NEMA MG 1, shown beside it; the two differ, so a limit names its definition"},
	Given: func() any { return &unbalance{} },
	Validate: func(p *Plan, c *Check, say func(key, format string, args ...any)) {
		g := c.Given.(*unbalance)
		if g.Limit != nil && *g.Limit >= 100 {
			say("limit", "%v %%: u2 goes from 0 to 100 %%, and a limit is a few per cent", float64(*g.Limit))
		}
		if g.Motors && g.Limit != nil && *g.Limit > motorUnbalance {
			say("limit", "%v %%: motors stand %d %% for long (IEC 60034-1); leave out limit or motors", float64(*g.Limit), motorUnbalance)
		}
		needEarlier(p, c, "volts_from", g.From, "lv-volts", say)
		if g.Limit == nil && g.Source != "" {
			say("source", "says where a limit comes from, but no limit is given")
		}
	},
	Form: func(in Input) []Field {
		out := append([]Field{meterField(in)}, lineVolts(in, "", "", true, nil)...)
		out = append(out, phaseVolts(in, "", "", false, nil)...)
		in.expectAgain(out, in.Check.Given.(*unbalance).From)
		return out
	},
	Doubts: func(in Input) []Doubt {
		var boards, transformers []string
		if c := in.Plan.Check(in.Check.Given.(*unbalance).From); c != nil {
			g := c.Given.(*lvVolts)
			boards, transformers = []string{g.Board}, []string{g.Transformer}
		}
		return in.doubtSide("", in.levels(boards, transformers))
	},
	Judge: judgeUnbalance,
	Predict: func(p *Plan, c *Check) []Prediction {
		l := c.Given.(*unbalance).limit()
		return []Prediction{{Name: "negative-sequence unbalance u2", Text: l.text("%"), Source: l.Source}}
	},
})

func (g *unbalance) limit() *Limit {
	switch {
	case g.Limit == nil && g.Motors:
		return AtMost(motorUnbalance, "motors for long, IEC 60034-1 7.2.1.1")
	case g.Limit == nil:
		return AtMost(supplyUnbalance, "level of supplies, IEC 61000-2-2 and EN 50160")
	}
	if g.Source != "" {
		return AtMost(float64(*g.Limit), g.Source)
	}
	return AtMost(float64(*g.Limit), "plan")
}

// judgeUnbalance passes when the negative-sequence unbalance is at most the limit:
//
//	u2 = 100·√((1 − r)/(1 + r))     r = √(3 − 6β)     β = ΣU⁴/(ΣU²)²
//
//	U      line-to-line volts, V, able to close a triangle
//	u2     negative over positive sequence, 0 (balanced) to 100 % (one conductor dead)
//	limit  2 % when the plan gives none, a level of supplies (IEC 61000-2-2, EN 50160,
//	       from memory); 1 % with motors: yes (IEC 60034-1 7.2.1.1, second-hand);
//	       the limit itself passes
//
// Shown beside it and not judged: the greatest deviation 100·max|U − Um|/Um from
// the mean Um (NEMA MG 1), and, where the line-to-neutral volts were read, how
// far the neutral lies from the middle of the three conductors, in volts and in
// per cent of the positive sequence. Volts that close no triangle are doubted
// beforehand. The levels are means of the fundamental over 10 min; one r.m.s. reading
// is neither, which the finding says. Three magnitudes cannot tell the sequence: rotation is a check of
// its own. Source: IEC 61000-4-30:2015, 5.7.1.
func judgeUnbalance(w *Work) {
	w.Caution("one-reading")
	u := []*Expr{w.Read("l1l2"), w.Read("l2l3"), w.Read("l3l1")}
	w.Hold("u2", "negative-sequence unbalance u2", "%", negativeShare(u), w.Check.Given.(*unbalance).limit())
	w.Show("greatest_deviation", "greatest deviation from the mean (NEMA MG 1)", "%", greatestDeviation(u))
	all := w.sixVolts()
	w.Show("u0_volts", "displacement of the neutral from the middle", "V",
		Solve("distance from the middle of the volt triangle to the point nearest to all three line-to-neutral readings", neutralOff(false), all...))
	w.Show("u0", "zero-sequence unbalance u0", "%", w.neutralShare())
}

// sixVolts are the line-to-line and the line-to-neutral volts.
func (w *Work) sixVolts() []*Expr {
	var out []*Expr
	for _, k := range append(lineKeys[:], phaseKeys[:]...) {
		out = append(out, w.Read(k))
	}
	return out
}

// neutralShare is how far the neutral stands from the middle of the conductors, in per
// cent of the positive sequence volts.
func (w *Work) neutralShare() *Expr {
	return Solve("displacement of the neutral over the positive sequence volts", neutralOff(true), w.sixVolts()...)
}

// negativeShare is u2 in per cent, in a form that is the standard's without its
// difference of two nearly equal numbers, which would spoil a small unbalance:
//
//	q = 6β − 2 = 2·Σ(Ui² − Uj²)²/(ΣU²)²      r = √(1 − q)      u2 = 100·√q/(1 + r)
//
// Rounding may carry q a hair above 1, where the root has no value: it stops there.
func negativeShare(u []*Expr) *Expr {
	squares, apart := make([]*Expr, 3), make([]*Expr, 3)
	for i, e := range u {
		squares[i] = e.Pow(2)
	}
	for i := range u {
		apart[i] = squares[i].Sub(squares[(i+1)%3]).Pow(2)
	}
	q := Named("q", "", Min(K(1), K(2).Mul(Sum(apart...)).Div(Sum(squares...).Pow(2))))
	root := Named("r", "", Sqrt(K(1).Sub(q)))
	return Sqrt(q).Div(K(1).Add(root)).Times(100)
}

// greatestDeviation is the greatest deviation from the mean in per cent of it.
func greatestDeviation(u []*Expr) *Expr {
	mean := Named("mean of the line-to-line volts", "V", Mean(u...))
	return Max(Abs(u[0].Sub(mean)), Abs(u[1].Sub(mean)), Abs(u[2].Sub(mean))).Div(mean).Times(100)
}

// neutralOff gives the displacement of the neutral from six volts, L-L then L-N:
// in V, or as share of the positive sequence in per cent. NaN when the volts are
// impossible.
func neutralOff(share bool) func([]float64) float64 {
	return func(v []float64) float64 {
		points, err := power.Triangle([3]float64(v[:3]))
		if err != nil {
			return math.NaN()
		}
		n, _, err := power.Neutral(points, [3]float64(v[3:]))
		if err != nil {
			return math.NaN()
		}
		volts, ratio, err := power.ZeroSequence(points, n)
		if err != nil {
			return math.NaN()
		}
		if share {
			return 100 * ratio
		}
		return volts
	}
}
