package kinds

import (
	"math"
	"strings"
	"time"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// judgeProveDead passes when the tester is fit for the system, proved live on
// the source before and after, and every planned point between was dead:
//
//	|U| ≤ U_t      t_before ≤ t_points ≤ t_after      t_after − t_before ≤ window
//	U_proof ≥ 0.8·U_n/√3, where the tester shows volts
//
//	U_n     nominal volts of the system  V
//	U_t     dead threshold               V    50 when the plan gives none (common practice);
//	                                          never more than 50 a.c. or 120 d.c.
//	window  from proof to proof          min  30 when the plan gives none (our choice);
//	                                          never more than 60 (our choice)
//
// Limits include their own value. A point above the threshold is live whatever
// the uncertainty; one that may be above it is inconclusive. With a lamp, and
// always above 1 kV, a point is dead when not live is seen. A live point fails and
// stops the work, whatever is still open. A proof that fails, is missing beside
// other answers, was made on anything but a proving unit or known live point, or
// stands in another order makes the check void and stops the work: nothing the
// tester said counts.
//
// Sources: HSE GS38, HSG85; EN 50110-1; NFPA 70E 120.5.
func judgeProveDead(w *checks.Work, g *proveDead) {
	if m, tester := w.Plan.Meter(w.Word("tester")), []string{"tester"}; m != nil {
		for _, why := range g.unfit(m) {
			w.SayOn(checks.Fail, tester, tester, why.Said)
		}
		if why := g.uncategorised(m); !why.None() {
			w.SayOn(checks.Fail, tester, tester, why.Said)
		}
	}
	live, at := livePoints(w, g)
	unlikePoints(w, g)
	void := brokenProof(w, g)
	window(w, g, len(void) == 0)
	deadCautions(w, g)
	for _, b := range void {
		w.SayOn(checks.Void, b.fields, b.fields, b.why)
	}
	var stop []checks.Said
	if len(live) > 0 {
		stop = append(stop, checks.Say("live-points", checks.Inners("points", live...)))
	}
	shown := at
	for _, b := range void { // what is only missing yet does not drown a live point
		if len(live) == 0 || b.fields != nil {
			stop, shown = append(stop, checks.Say("proof-void", checks.Inner("why", b.why))), append(shown, b.fields...)
			break
		}
	}
	if len(stop) > 0 {
		w.StopAt(shown, "stop-work", checks.Inners("why", stop...))
		if len(void) == 0 {
			w.Follows(at...)
		}
	}
}

// livePoints judges every point and names those that are live, with their fields.
func livePoints(w *checks.Work, g *proveDead) (live []checks.Said, fields []string) {
	for _, f := range deadPoints(w.Input, g) {
		if !w.Has(f.Key) {
			continue
		}
		if f.Sort == checks.Choice {
			if w.Want(checks.WordIs(f.Key, seenNotLive), "point-shows", checks.Label("point", f), checks.Word("shown", w.Word(f.Key))) == checks.Fail {
				live, fields = append(live, checks.Say("live-point", checks.Label("point", f))), append(fields, f.Key)
			}
			continue
		}
		u := calc.Abs(w.Read(f.Key))
		v := w.HoldBounded(f.Key, "volts_"+f.Key, f.Label, "V", u, g.limit())
		a := w.Answers[f.Key]
		if v == checks.Fail || a.Bound != "<" && quantity.Above(math.Abs(a.Value), g.limit().High) {
			live, fields = append(live, checks.Say("point-volts", checks.Label("point", f), checks.Word("bound", a.Bound), checks.Num("read", math.Abs(a.Value), "V"))), append(fields, f.Key)
		}
	}
	return live, fields
}

// unlikePoints says where the volts of three points cannot stand together: of two
// conductors and earth, or the neutral, no pair differs by more than the third
// reading. What is live stays live; the other reading is not to be trusted either.
func unlikePoints(w *checks.Work, g *proveDead) {
	if g.lamp() {
		return
	}
	for _, t := range [][3]string{
		{"l1e", "l2e", "l1l2"}, {"l2e", "l3e", "l2l3"}, {"l3e", "l1e", "l3l1"},
		{"l1e", "ne", "l1n"}, {"l2e", "ne", "l2n"}, {"l3e", "ne", "l3n"},
		{"l1n", "l2n", "l1l2"}, {"l2n", "l3n", "l2l3"}, {"l3n", "l1n", "l3l1"},
	} {
		if !w.Has(t[:]...) || w.Answers[t[0]].Bound+w.Answers[t[1]].Bound+w.Answers[t[2]].Bound != "" {
			continue
		}
		a, b, c := math.Abs(w.Value(t[0])), math.Abs(w.Value(t[1])), math.Abs(w.Value(t[2]))
		if math.Abs(a-b) > c+g.limit().High || c > a+b+g.limit().High {
			var read []checks.Said
			for _, key := range t {
				f, _ := checks.FieldNamed(w.Form(), key)
				read = append(read, checks.Say("point-volts", checks.Label("point", f), checks.Word("bound", ""), checks.Num("read", w.Value(key), "V")))
			}
			w.Say(checks.Inconclusive, strings.Join(t[:], " "), "points-disagree", checks.Inners("points", read...))
		}
	}
}

// window judges the time from proof to proof; before the second proof it says as
// soon as it can be known that the first is too old.
func window(w *checks.Work, g *proveDead, sound bool) {
	switch {
	case sound && w.Has("before_at", "after_at"):
		w.HoldCondition("", "span", "time from proof to proof", "min", calc.Datum("time from proof to proof", between(w, "before_at", "after_at").Minutes(), "min"), g.window())
	case w.Has("before_at", "points_at") && !w.Has("after_at"):
		if m := between(w, "before_at", "points_at").Minutes(); quantity.Above(m, g.window().High) {
			w.Say(checks.Fail, "points_at", "proof-before-too-old", checks.Num("span", m, "min"), checks.Num("most", g.window().High, "min"), checks.Word("source", g.window().Source))
		}
	}
}

// brokenness is one reason why the proofs do not carry the points, with the field
// that shows it; none where an answer is missing.
type brokenness struct {
	fields []string
	why    checks.Said
}

// brokenProof says why the proofs do not carry the points; nothing when they do,
// or when nothing was answered yet.
func brokenProof(w *checks.Work, g *proveDead) []brokenness {
	var out []brokenness
	begun := w.Has("before") || w.Has("after")
	for _, f := range deadPoints(w.Input, g) {
		begun = begun || w.Has(f.Key)
	}
	for _, when := range []string{"after", "before"} {
		volts, shown := w.Answers[when+"_volts"]
		switch {
		case !begun:
		case !w.Has(when):
			out = append(out, brokenness{nil, checks.Say("not-proved", checks.Word("when", when))})
		case w.Word(when) != seenLive:
			out = append(out, brokenness{[]string{when}, checks.Say("proof-failed", checks.Word("when", when))})
		case shown && g.proofShort(volts.Value):
			out = append(out, brokenness{[]string{when + "_volts"}, g.shortProof(when, volts.Value)})
		}
	}
	for _, pair := range [][2]string{{"before_at", "points_at"}, {"points_at", "after_at"}, {"before_at", "after_at"}} {
		if begun && w.Has(pair[0], pair[1]) && between(w, pair[0], pair[1]) < 0 {
			out = append(out, brokenness{[]string{pair[1]}, checks.Say("times-out-of-order")})
			break
		}
	}
	if why := wrongSource(w.Input, g); !why.None() {
		out = append(out, brokenness{[]string{"source"}, why})
	}
	return out
}

// proofShort tells whether volts shown at a proof prove nothing: those of no live source.
func (g *proveDead) proofShort(volts float64) bool {
	return !(quantity.NotBelow(volts, g.proofLeast()) && volts > g.limit().High)
}

// shortProof says why volts shown at a proof prove nothing.
func (g *proveDead) shortProof(when string, volts float64) checks.Said {
	args := []checks.Arg{checks.Word("when", when), checks.Num("read", volts, "V")}
	switch {
	case volts < 0:
		return checks.Say("proof-below-zero", args...)
	case quantity.NotAbove(volts, g.limit().High):
		return checks.Say("proof-shows-dead", args...)
	}
	return checks.Say("proof-low", append(args, checks.Num("least", g.proofLeast(), "V"), checks.Num("share", proofShare, ""), checks.Num("system", float64(g.System), "V"))...)
}

// wrongSource says why the tester was not proved on a source: on itself, on a
// thing that proves no tester, or on one that nobody says is a source while the
// plan names another. Nothing when it was, or is not answered.
func wrongSource(in checks.Input, g *proveDead) checks.Said {
	tester, source := in.Plan.Meter(in.Answers["tester"].Word), in.Plan.Meter(in.Answers["source"].Word)
	if source == nil {
		return checks.Said{}
	}
	if tester != nil && tester.SameThing(source) {
		return checks.Say("proved-on-itself")
	}
	if why := checks.Unproving(source, float64(g.System)); !why.None() {
		return checks.Say("proved-on-no-source", checks.Inner("why", why.Said))
	}
	if planned := in.Plan.Meter(g.Source); planned != nil && planned.ID != source.ID && !source.Proves() {
		return checks.Say("source-unknown", checks.Word("planned", planned.Name), checks.Word("source", source.Name))
	}
	return checks.Said{}
}

// refuseProof refuses, before a point is tested, a tester that is no voltage detector
// and a source that proves nothing.
func refuseProof(in checks.Input, g *proveDead) []checks.Doubt {
	if m := in.Plan.Meter(in.Answers["tester"].Word); m != nil && !undetecting(m).None() {
		return []checks.Doubt{{Fields: []string{"tester"}, Said: undetecting(m).Said}}
	}
	if why := wrongSource(in, g); !why.None() {
		return []checks.Doubt{{Fields: []string{"source"}, Said: why}}
	}
	return nil
}

// doubtProveDead names times later than now, proofs and points all told to one
// second, and proofs beyond what the tester is rated for or said to be live with volts
// that no live source shows: a slip of the pen there would make the whole proof void.
func doubtProveDead(in checks.Input, g *proveDead) []checks.Doubt {
	out := checks.DoubtInstants(in, "before_at", "points_at", "after_at")
	before, points, after := in.Answers["before_at"], in.Answers["points_at"], in.Answers["after_at"]
	if n := len(deadPoints(in, g)); n >= manyPoints && before.Word != "" && before.Word == points.Word && points.Word == after.Word && toTheSecond(after) {
		out = append(out, checks.Doubt{Fields: []string{"before_at", "points_at", "after_at"}, Said: checks.Say("all-in-one-second", checks.Num("points", float64(n), ""), checks.At("read", after.Time()))})
	}
	m := in.Plan.Meter(in.Answers["tester"].Word)
	for _, when := range []string{"before", "after"} {
		key := when + "_volts"
		a, ok := in.Answers[key]
		switch {
		case !ok:
		case in.Answers[when].Word == seenLive && g.proofShort(a.Value):
			out = append(out, checks.Doubt{Fields: []string{key}, Said: g.shortProof(when, a.Value)})
		case m != nil && m.HighRating != nil && quantity.Above(a.Value, float64(*m.HighRating)):
			out = append(out, checks.Doubt{Fields: []string{key}, Said: checks.Say("proof-above-rating", checks.Num("read", a.Value, "V"), checks.Num("rated", float64(*m.HighRating), "V"), checks.Word("instrument", m.Name))})
		}
	}
	return out
}

// manyPoints are more than anybody tests between two proofs in one second (our choice).
const manyPoints = 6

// toTheSecond tells whether a time was told to the second, not to the minute.
func toTheSecond(a checks.Answer) bool {
	return strings.EqualFold(a.Typed, "now") || a.Time().Second() != 0 || len(a.Typed) == len("14:05:30") && strings.Count(a.Typed, ":") == 2
}

func between(w *checks.Work, from, to string) time.Duration {
	return w.Answers[to].Time().Sub(w.Answers[from].Time())
}

// deadCautions says what even a pass leaves open.
func deadCautions(w *checks.Work, g *proveDead) {
	system := float64(g.System)
	if g.lamp() && system > plan.LVMost {
		w.Caution("detector-may-stay-unlit", checks.Num("volts", 0.1*system/math.Sqrt(3), "V"))
	}
	if !isYes(g.Earth) {
		w.Caution("no-point-to-earth")
	}
	if !isYes(g.Pairs) {
		w.Caution("no-pair")
	}
	if used, planned := w.Plan.Meter(w.Word("source")), w.Plan.Meter(g.Source); used != nil && planned != nil && used.ID != planned.ID {
		w.Caution("source-other-than-planned", checks.Word("source", used.Name), checks.Word("planned", planned.Name))
	}
	if m := w.Plan.Meter(w.Word("tester")); m != nil && system <= plan.LVMost && g.Category == "" && m.Category == "III" {
		w.Caution("category-at-origin", checks.Word("instrument", m.Name))
	}
}
