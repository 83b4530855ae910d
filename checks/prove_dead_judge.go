package checks

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// treatAsLive ends every stop of this kind.
const treatAsLive = "nothing it said counts; treat the plant as live"

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
func judgeProveDead(w *Work) {
	g := w.Check.Given.(*proveDead)
	if m := w.Plan.Meter(w.Word("tester")); m != nil {
		for _, why := range g.unfit(m) {
			w.plainSay(Fail, "tester", "%s", why)
		}
		if why := g.uncategorised(m); why != "" {
			w.plainSay(Fail, "tester", "%s", why)
		}
	}
	live, at := w.livePoints(g)
	w.unlikePoints(g)
	void := w.brokenProof(g)
	w.window(g, len(void) == 0)
	w.deadCautions(g)
	for _, b := range void {
		w.plainSay(Void, b.field, "%s", b.why)
	}
	var stop []string
	if len(live) > 0 {
		stop = append(stop, "live: "+strings.Join(live, ", ")+"; stop work, keep clear and tell the person in charge")
	}
	shown := at
	for _, b := range void { // what is only missing yet does not drown a live point
		if len(live) == 0 || b.field != "" {
			stop, shown = append(stop, b.why+": "+treatAsLive), append(shown, strings.Fields(b.field)...)
			break
		}
	}
	if len(stop) > 0 {
		w.plainStopAt(shown, "%s", strings.Join(stop, "; also, "))
		if len(void) == 0 {
			w.follows(at...)
		}
	}
}

// livePoints judges every point and names those that are live, with their fields.
func (w *Work) livePoints(g *proveDead) (live, fields []string) {
	for _, f := range w.deadPoints() {
		if !w.Has(f.Key) {
			continue
		}
		if f.Sort == Choice {
			if w.plainWant(wordIs(f.Key, seenNotLive), "%s: %s", f.Label, w.Word(f.Key)) == Fail {
				live, fields = append(live, f.Label), append(fields, f.Key)
			}
			continue
		}
		u := Abs(w.Read(f.Key))
		v := w.HoldBounded(f.Key, "volts_"+f.Key, f.Label, "V", u, g.limit())
		a := w.Answers[f.Key]
		if v == Fail || a.Bound != "<" && math.Abs(a.Value) > g.limit().High*(1+slack) {
			live, fields = append(live, f.Label+" "+a.Bound+spell(math.Abs(a.Value), "V")), append(fields, f.Key)
		}
	}
	return live, fields
}

// unlikePoints says where the volts of three points cannot stand together: of two
// conductors and earth, or the neutral, no pair differs by more than the third
// reading. What is live stays live; the other reading is not to be trusted either.
func (w *Work) unlikePoints(g *proveDead) {
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
		a, b, c := math.Abs(w.value(t[0])), math.Abs(w.value(t[1])), math.Abs(w.value(t[2]))
		if math.Abs(a-b) > c+g.limit().High || c > a+b+g.limit().High {
			f := make([]string, 3)
			for i, key := range t {
				field, _ := FieldNamed(w.form, key)
				f[i] = field.Label + " " + spell(w.value(key), "V")
			}
			w.plainSay(Inconclusive, strings.Join(t[:], " "), "%s, %s and %s cannot stand together: one of them was not read where it is said; test again, and treat all as live", f[0], f[1], f[2])
		}
	}
}

// window judges the time from proof to proof; before the second proof it says as
// soon as it can be known that the first is too old.
func (w *Work) window(g *proveDead, sound bool) {
	switch {
	case sound && w.Has("before_at", "after_at"):
		w.Hold("span", "time from proof to proof", "min", Datum("time from proof to proof", w.between("before_at", "after_at").Minutes(), "min"), g.window())
	case w.Has("before_at", "points_at") && !w.Has("after_at"):
		if m := w.between("before_at", "points_at").Minutes(); m > g.window().High*(1+slack) {
			w.plainSay(Fail, "points_at", "the proof before was made %s before the last point, more than %s: prove again and test every point again",
				spell(m, "min"), spell(g.window().High, "min")+" ("+g.window().Source+")")
		}
	}
}

// brokenness is one reason why the proofs do not carry the points, with the field
// that shows it; "" where an answer is missing.
type brokenness struct{ field, why string }

// brokenProof says why the proofs do not carry the points; nothing when they do,
// or when nothing was answered yet.
func (w *Work) brokenProof(g *proveDead) []brokenness {
	var out []brokenness
	begun := w.Has("before") || w.Has("after")
	for _, f := range w.deadPoints() {
		begun = begun || w.Has(f.Key)
	}
	for _, p := range []struct{ key, missing, failed string }{
		{"after", "the tester was not proved again after the points", "the tester did not prove again"},
		{"before", "the tester was not proved before the points", "the tester did not prove before the points"},
	} {
		volts, shown := w.Answers[p.key+"_volts"]
		switch {
		case !begun:
		case !w.Has(p.key):
			out = append(out, brokenness{"", p.missing})
		case w.Word(p.key) != seenLive:
			out = append(out, brokenness{p.key, p.failed})
		case shown && !(volts.Value >= g.proofLeast()*(1-slack) && volts.Value > g.limit().High):
			out = append(out, brokenness{p.key + "_volts", p.failed + ": " + g.shortProof(volts.Value)})
		}
	}
	for _, pair := range [][2]string{{"before_at", "points_at"}, {"points_at", "after_at"}, {"before_at", "after_at"}} {
		if begun && w.Has(pair[0], pair[1]) && w.between(pair[0], pair[1]) < 0 {
			out = append(out, brokenness{pair[1], "the times do not run from proof to points to proof"})
			break
		}
	}
	if why := w.wrongSource(g); why != "" {
		out = append(out, brokenness{"source", why})
	}
	return out
}

// shortProof says why volts shown at a proof prove nothing.
func (g *proveDead) shortProof(volts float64) string {
	switch {
	case volts < 0:
		return fmt.Sprintf("it showed %s, and a proof shows volts above zero", spell(volts, "V"))
	case volts <= g.limit().High*(1+slack):
		return fmt.Sprintf("it showed %s, no more than a dead point may", spell(volts, "V"))
	}
	return fmt.Sprintf("it showed %s, less than the %s that 0.8 of %s to earth make (our choice)", spell(volts, "V"), spell(g.proofLeast(), "V"), spell(float64(g.System), "V"))
}

// wrongSource says why the tester was not proved on a source: on itself, on a
// thing that proves no tester, or on one that nobody says is a source while the
// plan names another. "" when it was, or is not answered.
func (in Input) wrongSource(g *proveDead) string {
	tester, source := in.Plan.Meter(in.Answers["tester"].Word), in.Plan.Meter(in.Answers["source"].Word)
	if source == nil {
		return ""
	}
	if tester != nil && tester.sameThing(source) {
		return "the tester was proved on itself, and a self-test does not prove the measuring circuit"
	}
	if why := source.unproving(float64(g.System)); why != "" {
		return "the tester was not proved: " + why
	}
	if planned := in.Plan.Meter(g.Source); planned != nil && planned.ID != source.ID && !source.proves() {
		return fmt.Sprintf("the tester was not proved on %s, which the plan names, and nothing says that %s is a proving unit or a known live point", planned.Name, source.Name)
	}
	return ""
}

// refuseProof refuses, before a point is tested, a tester that is no voltage detector
// and a source that proves nothing.
func refuseProof(in Input) []Doubt {
	if m := in.Plan.Meter(in.Answers["tester"].Word); m != nil && m.undetecting() != "" {
		return []Doubt{{Fields: []string{"tester"}, Said: plain(m.undetecting())}}
	}
	if why := in.wrongSource(in.Check.Given.(*proveDead)); why != "" {
		return []Doubt{{Fields: []string{"source"}, Said: plain(why)}}
	}
	return nil
}

// doubtProveDead names times later than now, proofs and points all told to one
// second, and proofs beyond what the tester is rated for.
func doubtProveDead(in Input) []Doubt {
	out := doubtInstants(in, "before_at", "points_at", "after_at")
	before, points, after := in.Answers["before_at"], in.Answers["points_at"], in.Answers["after_at"]
	if n := len(in.deadPoints()); n >= manyPoints && before.Word != "" && before.Word == points.Word && points.Word == after.Word && toTheSecond(after) {
		out = append(out, Doubt{Fields: []string{"before_at", "points_at", "after_at"}, Said: plain(fmt.Sprintf("two proofs and %d points all stand at %s: nobody tests that in one second", n, clock(after.Time())))})
	}
	for _, key := range []string{"before_volts", "after_volts"} {
		m := in.Plan.Meter(in.Answers["tester"].Word)
		if a, ok := in.Answers[key]; ok && m != nil && m.HighRating != nil && a.Value > float64(*m.HighRating)*(1+slack) {
			out = append(out, Doubt{Fields: []string{key}, Said: plain(fmt.Sprintf("%s is more than the %s that %s is rated for", spell(a.Value, "V"), spell(float64(*m.HighRating), "V"), m.Name))})
		}
	}
	return out
}

// manyPoints are more than anybody tests between two proofs in one second (our choice).
const manyPoints = 6

// toTheSecond tells whether a time was told to the second, not to the minute.
func toTheSecond(a Answer) bool {
	return strings.EqualFold(a.Typed, "now") || a.Time().Second() != 0 || len(a.Typed) == len("14:05:30") && strings.Count(a.Typed, ":") == 2
}

func (w *Work) between(from, to string) time.Duration {
	return w.Answers[to].Time().Sub(w.Answers[from].Time())
}

// deadCautions says what even a pass leaves open.
func (w *Work) deadCautions(g *proveDead) {
	system := float64(g.System)
	if g.lamp() && system > lvMost {
		w.plainCaution("A capacitive detector may stay unlit below a tenth of the nominal volts: %s to earth may still be there (IEC 61243). Earth before touching.", spell(0.1*system/math.Sqrt(3), "V"))
	}
	if !isYes(g.Earth) {
		w.plainCaution("No point to earth was planned: volts that all conductors share are not seen.")
	}
	if !isYes(g.Pairs) {
		w.plainCaution("No pair of conductors was planned: the tester tells each conductor to earth only.")
	}
	if used, planned := w.Plan.Meter(w.Word("source")), w.Plan.Meter(g.Source); used != nil && planned != nil && used.ID != planned.ID {
		w.plainCaution("The tester was proved on %s; the plan names %s.", used.Name, planned.Name)
	}
	if m := w.Plan.Meter(w.Word("tester")); m != nil && system <= lvMost && g.Category == "" && m.Category == "III" {
		w.plainCaution("%s is of measurement category III: at the origin of the supply, the LV terminals of a transformer or an incomer, IV is wanted (IEC 61010-1).", m.Name)
	}
}
