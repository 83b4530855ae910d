package checks

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// proveDead is what a prove-dead check is given.
type proveDead struct {
	Tester     string  `plan:"tester" doc:"id of the voltage detector or tester; the check's instrument when not given"`
	Source     string  `plan:"source,need" doc:"id of the proving source; never the tester itself, whose self-test does not prove its measuring circuit"`
	System     Volt    `plan:"system_voltage,need,pos" doc:"nominal line-to-line volts of the system, such as 11 kV; the tester's rating must hold it"`
	Neutral    bool    `plan:"neutral,need" doc:"yes when there is a neutral: it is tested as a conductor, as on every LV system that has one"`
	Earth      *bool   `plan:"earth" doc:"each conductor to earth; yes when not given"`
	Pairs      *bool   `plan:"pairs" doc:"each pair of conductors; yes when not given, no only for a single-pole detector, which cannot"`
	Threshold  *Volt   `plan:"threshold,pos" doc:"most volts a dead point may show; 50 V when not given (common practice)"`
	Window     *Second `plan:"window,pos" doc:"most time from proof to proof; 30 min when not given (common practice)"`
	Category   string  `plan:"category" one:"III|IV" doc:"least measurement category of the tester (IEC 61010-1), on LV"`
	Indication string  `plan:"indication" one:"volts|lamp" doc:"volts when the tester shows them, lamp when it shows only live or not live; volts when not given"`
}

// The options of a proof or of a point where only an indication is seen.
const (
	seenLive    = "live"
	seenNotLive = "not live"
)

var _ = register(&Kind{
	Name: "prove-dead", Title: "Proving dead", Group: "Dead checks", Live: true, Proves: true,
	Cautions: []string{
		"Live until proved dead: every conductor counts as live until the tester has proved again after the last point. An unlit indicator alone is never proof.",
		liveCaution,
	},
	Sources: []string{
		"dead threshold 50 V a.c. and 30 min from proof to proof: common practice; 50 V marks a hazard, not the absence of a supply",
		"proof before and after with the same tester: HSE GS38, HSG85, EN 50110-1, NFPA 70E 120.5",
		"measurement category: IEC 61010-1",
	},
	Given:    func() any { return &proveDead{} },
	Validate: validateProveDead,
	Form:     proveDeadForm,
	Doubts:   func(in Input) []Doubt { return doubtInstants(in, "before_at", "points_at", "after_at") },
	AtOnce:   liveAtOnce,
	Judge:    judgeProveDead,
	Predict: func(p *Plan, c *Check) []Prediction {
		g := c.Given.(*proveDead)
		points := Input{Plan: p, Check: c}.deadPoints()
		labels := make([]string, len(points))
		for i, f := range points {
			labels[i] = f.Label
		}
		return []Prediction{{Name: "points to prove", Source: g.limit().Source,
			Text: fmt.Sprintf("%d: %s, each %s", len(points), strings.Join(labels, ", "), g.wanted())}}
	},
})

func validateProveDead(p *Plan, c *Check, say func(key, format string, args ...any)) {
	g := c.Given.(*proveDead)
	needMeter(p, "source", g.Source, say)
	if m := needPlanned(p, c, "tester", g.Tester, say); m != nil {
		for _, why := range g.unfit(m) {
			say("tester", "%s", why)
		}
		if m.ID == g.Source {
			say("source", "%s is the tester itself: its self-test does not prove the measuring circuit", m.Name)
		}
	}
	if most := float64(g.System) / math.Sqrt(3); g.Threshold != nil && !(float64(*g.Threshold) < most) {
		say("threshold", "%s is not below the %s of a live conductor to earth", spell(float64(*g.Threshold), "V"), spell(most, "V"))
	}
	if !isYes(g.Earth) && !isYes(g.Pairs) {
		say("earth", "neither conductors to earth nor pairs: nothing would be proved")
	}
}

// isYes reads a yes/no of the plan that is yes when not given.
func isYes(b *bool) bool { return b == nil || *b }

// unfit says why a tester cannot prove this system dead.
func (g *proveDead) unfit(m *Meter) []string {
	var out []string
	system := float64(g.System)
	switch {
	case m.LowRating == nil || m.HighRating == nil:
		out = append(out, fmt.Sprintf("%s states no rated voltages: rated_from and rated_to must hold %s", m.Name, spell(system, "V")))
	case !(float64(*m.LowRating) <= system*(1+slack)) || !(system <= float64(*m.HighRating)*(1+slack)):
		out = append(out, fmt.Sprintf("%s is rated for %s to %s, which does not hold %s", m.Name, spell(float64(*m.LowRating), "V"), spell(float64(*m.HighRating), "V"), spell(system, "V")))
	}
	if g.Category != "" && len(m.Category) == 0 {
		out = append(out, fmt.Sprintf("%s states no measurement category: at least %s is wanted", m.Name, g.Category))
	} else if g.Category != "" && (m.Category == "II" || g.Category == "IV" && m.Category != "IV") {
		out = append(out, fmt.Sprintf("%s is of measurement category %s: at least %s is wanted", m.Name, m.Category, g.Category))
	}
	return out
}

func (g *proveDead) limit() *Limit {
	if g.Threshold != nil {
		return AtMost(float64(*g.Threshold), "plan")
	}
	return AtMost(50, "common practice")
}

func (g *proveDead) window() *Limit {
	if g.Window != nil {
		return AtMost(float64(*g.Window)/60, "plan")
	}
	return AtMost(30, "common practice")
}

func (g *proveDead) wanted() string {
	if g.Indication == "lamp" {
		return seenNotLive
	}
	return g.limit().text("V")
}

// deadPoints are the points to prove: each conductor to earth, then each pair.
// Three conductors and earth make 6 points, with a neutral 10.
func (in Input) deadPoints() []Field {
	g := in.Check.Given.(*proveDead)
	c, n := in.Plan.Conductors()
	var out []Field
	add := func(row, key, label string) {
		f := Field{Key: key, Label: label, Row: row, Need: true}
		if g.Indication == "lamp" {
			f.Sort, f.Options, f.Example = Choice, []string{seenNotLive, seenLive}, seenNotLive
			f.Hint = "anything but a clear indication of not live is live"
		} else {
			f.Sort, f.Unit, f.Meter, f.Bounds, f.Example = Measured, "V", "tester", true, "0.4"
			f.Expect = &Expect{Value: 0, Low: 0, High: g.limit().High, Source: g.limit().Source}
		}
		out = append(out, f)
	}
	if isYes(g.Earth) {
		for i, key := range []string{"l1e", "l2e", "l3e"} {
			add("earth", key, c[i]+"-E")
		}
		if g.Neutral {
			add("earth", "ne", n+"-E")
		}
	}
	if isYes(g.Pairs) {
		for i, key := range lineKeys {
			add("line", key, c[i]+"-"+c[(i+1)%3])
		}
		for i, key := range phaseKeys {
			if g.Neutral {
				add("phase", key, c[i]+"-"+n)
			}
		}
	}
	return out
}

func proveDeadForm(in Input) []Field {
	g := in.Check.Given.(*proveDead)
	proof := func(key, when string) []Field {
		out := []Field{{Key: key, Label: "proof " + when + ", tester on the proving source", Sort: Choice, Options: []string{seenLive, seenNotLive}, Need: true,
			Hint: "what the tester shows on the proving source, not its self-test", Example: seenLive}}
		if g.Indication != "lamp" {
			out = append(out, Field{Key: key + "_volts", Label: "volts shown at the proof " + when, Sort: Measured, Unit: "V", Meter: "tester", Example: "240"})
		}
		return append(out, Field{Key: key + "_at", Label: "time of the proof " + when, Sort: Instant, Need: true, Example: "14:05"})
	}
	out := []Field{
		{Key: "tester", Label: "voltage tester", Sort: MeterUsed, Need: true, Default: in.Check.planned(g.Tester), Hint: "the tester in your hand, by its id in the plan", Example: "tester-1"},
		{Key: "source", Label: "proving source", Sort: MeterUsed, Need: true, Default: g.Source, Hint: "the proving unit or known live point, by its id in the plan", Example: "source-1"},
	}
	out = append(out, proof("before", "before")...)
	out = append(out, in.deadPoints()...)
	out = append(out, Field{Key: "points_at", Label: "time the last point was tested", Sort: Instant, Need: true, Example: "14:10"})
	return append(out, proof("after", "after")...)
}

// treatAsLive ends every stop of this kind.
const treatAsLive = "nothing it said counts; treat the plant as live"

// judgeProveDead passes when the tester is fit for the system, proved live on
// the source before and after, and every planned point between was dead:
//
//	|U| ≤ U_t      t_before ≤ t_points ≤ t_after      t_after − t_before ≤ window
//
//	U_t     dead threshold            V    50 when the plan gives none (common practice)
//	window  from proof to proof       min  30 when the plan gives none (common practice)
//
// Limits include their own value. A point above the threshold is live whatever
// the uncertainty; one that may be above it is inconclusive. With a lamp a point
// is dead when not live is seen. A live point fails and stops the work. A proof
// that fails, is missing beside other answers, or stands in another order makes
// the check void and stops the work: nothing the tester said counts.
//
// Sources: HSE GS38, HSG85; EN 50110-1; NFPA 70E 120.5.
func judgeProveDead(w *Work) {
	g := w.Check.Given.(*proveDead)
	if m := w.Plan.Meter(w.Word("tester")); m != nil {
		for _, why := range g.unfit(m) {
			w.Say(Fail, "tester", "%s", why)
		}
	}
	live, at := w.livePoints(g)
	void := w.brokenProof(g)
	if len(void) == 0 && w.Has("before_at", "after_at") {
		w.Hold("span", "time from proof to proof", "min", Datum("time from proof to proof", w.between("before_at", "after_at").Minutes(), "min"), g.window())
	}
	w.deadCautions(g)
	for _, why := range void {
		w.Say(Void, "", "%s", why)
	}
	var stop []string
	if len(live) > 0 {
		stop = append(stop, "live: "+strings.Join(live, ", ")+"; stop work, keep clear and tell the person in charge")
	}
	if len(void) > 0 {
		stop = append(stop, void[0]+": "+treatAsLive)
	}
	if len(stop) > 0 {
		w.Stop("%s", strings.Join(stop, "; also, "))
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
			if w.Want(wordIs(f.Key, seenNotLive), "%s: %s", f.Label, w.Word(f.Key)) == Fail {
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

// brokenProof says why the proofs do not carry the points; nothing when they do,
// or when nothing was answered yet.
func (w *Work) brokenProof(g *proveDead) []string {
	begun := w.Has("before") || w.Has("after")
	for _, f := range w.deadPoints() {
		begun = begun || w.Has(f.Key)
	}
	if !begun {
		return nil
	}
	var out []string
	for _, p := range []struct{ key, missing, failed string }{
		{"after", "the tester was not proved again after the points", "the tester did not prove again"},
		{"before", "the tester was not proved before the points", "the tester did not prove before the points"},
	} {
		volts, shown := w.Answers[p.key+"_volts"]
		switch {
		case !w.Has(p.key):
			out = append(out, p.missing)
		case w.Word(p.key) != seenLive:
			out = append(out, p.failed)
		case shown && !(math.Abs(volts.Value) > g.limit().High):
			out = append(out, fmt.Sprintf("%s: it showed %s, no more than a dead point may", p.failed, spell(volts.Value, "V")))
		}
	}
	for _, pair := range [][2]string{{"before_at", "points_at"}, {"points_at", "after_at"}, {"before_at", "after_at"}} {
		if w.Has(pair[0], pair[1]) && w.between(pair[0], pair[1]) < 0 {
			out = append(out, "the times do not run from proof to points to proof")
			break
		}
	}
	if w.Has("tester", "source") && w.Word("tester") == w.Word("source") {
		out = append(out, "the tester was proved on itself, and a self-test does not prove the measuring circuit")
	}
	return out
}

func (w *Work) between(from, to string) time.Duration {
	return w.Answers[to].Time().Sub(w.Answers[from].Time())
}

// deadCautions says what even a pass leaves open.
func (w *Work) deadCautions(g *proveDead) {
	if system := float64(g.System); g.Indication == "lamp" && system > 1000 {
		w.Caution("A capacitive detector may stay unlit below a tenth of the nominal volts: %s to earth may still be there (IEC 61243). Earth before touching.", spell(0.1*system/math.Sqrt(3), "V"))
	}
	if !isYes(g.Earth) {
		w.Caution("No point to earth was planned: volts that all conductors share are not seen.")
	}
	if !isYes(g.Pairs) {
		w.Caution("No pair of conductors was planned: the tester tells each conductor to earth only.")
	}
}
