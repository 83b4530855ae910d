package kinds

import (
	"fmt"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// joints is what a joints check is given.
type joints struct {
	Tool   string  `plan:"tool" ref:"instrument" doc:"id of the torque tool; the check's instrument when not given"`
	Action string  `plan:"action" one:"tighten|check" doc:"tighten when not given; check for a check torque on joints already tight, which has targets of its own"`
	Source string  `plan:"source" doc:"the maker's document that gives the targets, for joints that name none"`
	Joints []joint `plan:"joints,need" doc:"the joints, one by one or by the count, 400 torques at most"`
	Second bool    `plan:"second_person" doc:"yes when a second person must look at every joint"`
	Moved  string  `plan:"links_of" ref:"tap-links" doc:"the tap-links check that moved these links: moved again, they are torqued again"`
}

// joint is one joint with its maker's torque.
type joint struct {
	ID        string               `plan:"id,need" doc:"short name used in answers"`
	Name      string               `plan:"name,need" doc:"what the joint is called on the sheet"`
	Count     *int                 `plan:"count" doc:"how many alike there are, such as 48: bar-1 to bar-48; one that bears the name alone when not given"`
	First     *int                 `plan:"first" doc:"the number of the first of them, where it is not 1"`
	Bolts     *int                 `plan:"bolts" doc:"how many bolts each has, each with a torque of its own; one torque for the joint when not given"`
	Target    quantity.NewtonMetre `plan:"target,need,pos" doc:"torque from the maker's data, such as 40 N·m"`
	Tolerance quantity.Percent     `plan:"tolerance,need,pos" doc:"tolerance from the maker's data, such as 10 %"`
	Source    string               `plan:"source" doc:"the maker's document that gives the target"`
	Bolt      *bolt                `plan:"bolt" doc:"the bolt, for a cross-check of the target; never for an insert"`
	Insert    bool                 `plan:"insert" doc:"yes for an insert cast in resin, whose own low limit is the maker's alone"`
}

// maxReadings is as many readings as one sitting and one sheet hold (our choice).
const maxReadings = 400

var _ = checks.Define(checks.Spec[joints]{
	About: plan.About{
		Name: "joints", Title: "Bolted joints", Group: "Dead checks", Dead: true,
		Cautions: []string{deadCaution, "Surfaces, washers, lubrication as the maker says: a torque is right for these only. Hold a cast-in insert with a second spanner where asked."},
		Sources: []string{
			"targets and tolerances: the maker's data named in the plan",
			"tool used at 20 to 100 % of its range, and its accuracy where the plan states none, ±4 % of the reading (±6 % for a maximum of 10 N·m or less): ISO 6789",
			"bolt cross-check: T = K·d·F at 75 % of the proof load, ISO 898-1, K 0.20 dry and 0.15 lubricated common practice",
		},
	},
	Validate: validateJoints,
	Predict:  predictJoints,
	Form:     jointsForm,
	Doubts:   doubtTorques,
	Judge:    judgeJoints,
})

func validateJoints(p *plan.Plan, c *plan.Check, g *joints, say plan.Say) {
	if n := g.torques(); n < 1 || n > maxReadings {
		say("joints", "%d torques: 1 to %d are wanted; give more in a check of their own", n, maxReadings)
	}
	needTwoPeople(p, "second_person", g.Second, say)
	needSeries(g.series(), say)
	needOwnKeys(g, say)
	tool := needPlanned(p, c, "tool", g.Tool, say)
	if tool != nil && !tool.Measures("torque") {
		say("tool", "%s has no torque range: give its top, such as 100 N·m", tool.Name)
		tool = nil
	}
	for i, j := range g.Joints {
		key := fmt.Sprintf("joints[%d]", i+1)
		if j.Source == "" && g.Source == "" {
			say(key+".source", "missing: the maker's document that gives the target; there is no torque for every bolt")
		}
		if j.Tolerance >= 100 {
			say(key+".tolerance", "%v %% is no tolerance: a few per cent are", float64(j.Tolerance))
		}
		if j.Insert && j.Bolt != nil {
			say(key+".bolt", "not for an insert: its limit is the maker's, however strong the bolt")
		}
		if tool == nil {
			continue
		}
		if r, ok := tool.RangeFor("torque", float64(j.Target)); !ok || !holdsTorque(r, float64(j.Target)) {
			say(key+".target", "%s lies outside 20 to 100 %% of a range of %s: plan another tool", quantity.Spell(float64(j.Target), "N·m"), tool.Name)
		}
	}
}

func (g *joints) torqueName() string {
	if g.Action == "check" {
		return "check torque"
	}
	return "torque"
}

// limit is the joint's torque with its tolerance.
func (g *joints) limit(j joint) *checks.Limit {
	source := j.Source
	if source == "" {
		source = g.Source
	}
	t, share := float64(j.Target), float64(j.Tolerance)/100
	return checks.Between(t*(1-share), t*(1+share), source)
}

func jointsForm(in checks.Input, g *joints) []checks.Field {
	out := []checks.Field{{Key: "tool", Label: "torque tool", Sort: checks.MeterUsed, Need: true, Default: planned(in.Check, g.Tool),
		Hint: "the tool in your hand, by its id in the plan", Example: "wrench-1"}}
	if g.Second {
		out = append(out, whoField("who tightened"))
	}
	for _, r := range g.rows() {
		l := g.limit(r.joint)
		for _, t := range r.torques {
			out = append(out, checks.Field{Key: t.field, Label: t.label, Sort: checks.Measured, Unit: "N·m", Need: true, Meter: "tool", Row: r.id, Hint: r.hint,
				Example: quantity.Significant(float64(r.joint.Target), 4), Expect: &checks.Expect{Value: float64(r.joint.Target), Low: l.Low, High: l.High, Source: l.Source}})
		}
		out = append(out, checks.Field{Key: r.mark, Label: r.name + ", " + r.marked, Sort: checks.Choice, Options: checks.YesNo, Need: true, Row: r.after, Example: "yes"})
		if g.Second {
			out = append(out, checks.Field{Key: r.second, Label: r.name + ", second person", Sort: checks.Initials, Need: true, Row: r.after, Example: "ben"})
		}
	}
	return out
}

// farOff is how many times off its target a torque is doubted (our choice): a
// decimal point slips by ten, and near means within 15 %.
const farOff = 8

// doubtTorques names torques that are none, or many times off their target.
func doubtTorques(in checks.Input, g *joints) []checks.Doubt {
	var out []checks.Doubt
	for _, r := range g.each() {
		key, t := r.field, float64(r.joint.Target)
		a, ok := in.Answers[key]
		joint, read := checks.Word("joint", r.name), checks.Num("read", a.Value, "N·m")
		switch {
		case !ok:
		case !(a.Value > 0):
			out = append(out, checks.Doubt{Fields: []string{key}, Said: checks.Say("torque-not-above-zero", joint, read)})
		case a.Value >= farOff*t || a.Value <= t/farOff:
			out = append(out, checks.Doubt{Fields: []string{key}, Said: checks.Say("torque-far-off", joint, read, checks.Num("target", t, "N·m"))})
		}
	}
	return out
}

// judgeJoints passes when every joint carries a witness mark, was seen by a
// second person where the plan asks, and has its torque T within
//
//	T_s·(1 − tol/100) ≤ T ≤ T_s·(1 + tol/100)
//
//	T_s  target of the maker's data     N·m  > 0
//	tol  tolerance of the maker's data  %    > 0
//
// and within 20 to 100 % of the tool's range. Limits include their own value.
// Where the plan states no accuracy of the tool, the largest deviation ISO 6789
// allows stands in, with a caution. A torque above what brings the bolt to 75 %
// of its proof load is a caution, never a verdict, and never for an insert.
func judgeJoints(w *checks.Work, g *joints) {
	tool := w.Plan.Meter(w.Word("tool"))
	if tool != nil && len(tool.Ranges) == 0 {
		w.Say(checks.Fail, "tool", "tool-without-range", checks.Word("tool", tool.Name))
	}
	assumeTorqueErrors(w, g, tool)
	inserts := false
	for _, r := range g.rows() {
		inserts = inserts || r.joint.Insert
		for _, t := range r.torques {
			judgeTorque(w, g, t, tool)
		}
		judgeRow(w, r)
	}
	warnBolts(w, g)
	if inserts {
		w.Caution("inserts")
	}
}

// assumeTorqueErrors gives readings of a tool of unknown accuracy what ISO 6789
// lets it deviate.
func assumeTorqueErrors(w *checks.Work, g *joints, tool *plan.Meter) {
	if tool == nil {
		return
	}
	said := map[float64]bool{}
	for _, t := range g.each() {
		key := t.field
		r, ok := tool.RangeFor("torque", w.Value(key))
		if !ok || !w.Has(key) {
			continue
		}
		if _, _, assumed := torqueError(r, w.Value(key)); !assumed {
			continue
		}
		w.AssumeShare(key, assumedShare(r))
		if share := assumedShare(r); !said[share] {
			said[share] = true
			w.Caution("accuracy-assumed", checks.Word("tool", tool.Name), checks.Num("share", share, "%"))
		}
	}
}

func judgeTorque(w *checks.Work, g *joints, t torque, tool *plan.Meter) {
	w.HoldField(t.field, t.key, t.name+", "+g.torqueName(), "N·m", w.Read(t.field), g.limit(t.joint))
	if tool == nil || !w.Has(t.field) {
		return
	}
	x := w.Value(t.field)
	if r, ok := tool.RangeFor("torque", x); ok && !holdsTorque(r, x) {
		w.Say(checks.Fail, t.field, "below-tool-range", checks.Word("joint", t.name), checks.Num("read", x, "N·m"), checks.Num("share", 100*leastOfRange, "%"), checks.Num("top", r.To.Value, "N·m"), checks.Word("tool", tool.Name))
	}
}

// judgeRow judges what is asked once for the torques of a row.
func judgeRow(w *checks.Work, r jointRow) {
	if w.Word(r.mark) == "yes" {
		w.Want(checks.WordIs(r.mark, "yes"), "marked", checks.Word("joint", r.name))
	} else if w.Has(r.mark) {
		w.Want(checks.WordIs(r.mark, "yes"), "not-marked", checks.Word("joint", r.name))
	}
	if w.Has("who", r.second) && w.Word("who") == w.Word(r.second) {
		w.Want(checks.OtherWord(r.second, "who"), "one-person", checks.Word("joint", r.name))
	}
}

// warnBolts cautions of a torque above what the bolt suggests: of joints alike once, by
// the first.
func warnBolts(w *checks.Work, g *joints) {
	said := map[string]bool{}
	for _, t := range g.each() {
		b, x := t.joint.Bolt, w.Value(t.field)
		if b == nil || said[t.joint.ID] || !(x > b.torque()) {
			continue
		}
		said[t.joint.ID] = true
		w.Caution("more-than-bolt", checks.Word("joint", t.name), checks.Num("torque", x, "N·m"), checks.Num("most", b.torque(), "N·m"),
			checks.Word("thread", b.thread()), checks.Word("size", b.Size), checks.Word("class", b.Class))
	}
}

// predictJoints prints each joint's limits and what the planned tool can show,
// and warns where the target is more than the bolt suggests.
func predictJoints(p *plan.Plan, c *plan.Check, g *joints) []plan.Prediction {
	tool := p.Meter(planned(c, g.Tool))
	var out []plan.Prediction
	for _, j := range g.Joints {
		l := g.limit(j)
		pr := plan.Prediction{Name: j.all(), Source: l.Source, Text: checks.Between(l.Low, l.High, "").Text("N·m")}
		r, ok := tool.RangeFor("torque", float64(j.Target))
		if low, high := accepted(r, l); ok && p.Rule != "simple" {
			pr.Warn = !(low <= high)
			pr.Text += fmt.Sprintf("; %s shows it from %s to %s", tool.Name, quantity.Show(low, "", 1), quantity.Show(high, "N·m", 1))
			if pr.Warn {
				pr.Text = fmt.Sprintf("%s; no reading of %s can show it: the tool's uncertainty is wider than the tolerance", checks.Between(l.Low, l.High, "").Text("N·m"), tool.Name)
			}
		}
		out = append(out, pr)
		if t, b := float64(j.Target), j.Bolt; b != nil && t > b.torque() {
			out = append(out, plan.Prediction{Name: j.Name, Source: "ISO 898-1, common practice", Warn: true,
				Text: fmt.Sprintf("%s: %s is more than the %s that brings a %s %s bolt of class %s to 75 %% of its proof load (ISO 898-1; nut factor common practice): look at the maker's data again",
					j.Name, quantity.Spell(t, "N·m"), quantity.Show(b.torque(), "N·m", quantity.Decimals(b.torque(), t)), b.thread(), b.Size, b.Class)})
		}
	}
	return out
}
