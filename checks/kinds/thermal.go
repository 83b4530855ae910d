package kinds

import (
	"fmt"
	"math"
	"strings"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// thermal is what a thermal check is given.
type thermal struct {
	Groups  []likeJoints      `plan:"groups,need" doc:"joints of like make that carry like current, each group compared in itself"`
	Least   *quantity.Percent `plan:"least_load,pos" doc:"minimum load at which a survey shows anything, of the rated current; 40 % when not given (common practice)"`
	Similar *quantity.Amount  `plan:"over_similar" doc:"highest rise over the coolest similar joint, such as 10 K; the bands of ANSI/NETA ATS when not given"`
	Ambient *quantity.Amount  `plan:"over_ambient" doc:"highest rise over the ambient, such as 60 K; when not given 70 K for joints with similar ones (IEC 61439-1), and the bands of ANSI/NETA ATS for a joint with none"`
	Source  string            `plan:"source" doc:"where the plan's own limits come from; plan when not given"`
}

// likeJoints are similar joints under one load.
type likeJoints struct {
	ID     string       `plan:"id,need" doc:"short name of the group, such as incomer"`
	Name   string       `plan:"name" doc:"what the group is called on site"`
	Joints []namedJoint `plan:"joints,need" doc:"the joints of the group"`
}

type namedJoint struct {
	ID   string `plan:"id,need" doc:"short name of the joint, such as l1"`
	Name string `plan:"name" doc:"what the joint is called on site"`
}

// heatBand is a band of rise; its name stands for what it says of a joint.
type heatBand struct {
	above float64 // K, not itself in the band
	name  string
}

// heatBands are the bands of one comparison, rising. A rise in the last one fails.
type heatBands struct {
	over    string  // what the joint is compared with: similar or ambient
	of      string  // the same in words
	decides float64 // K above which an engineer decides
	bands   []heatBand
}

// The bands of ANSI/NETA ATS, table of actions after a thermographic survey (from
// memory). The table gives whole kelvins (1 to 3, 4 to 15, over 15); what lies
// between belongs to the band above.
var (
	overSimilar = heatBands{"similar", "the coolest similar joint", 3, []heatBand{{1, "possible"}, {3, "probable"}, {15, "major"}}}
	overAmbient = heatBands{"ambient", "the ambient", 10, []heatBand{{1, "possible"}, {10, "probable"}, {20, "watch"}, {40, "major"}}}
)

// terminalRise is how far joints that are alike may all stand over the ambient, K:
// what terminals for outside conductors may at rated current.
const (
	terminalRise   = 70.0
	terminalSource = "IEC 61439-1, terminals"
)

var _ = checks.Define(checks.Spec[thermal]{
	About: plan.About{
		Name: "thermal", Title: "Thermal survey", Group: "Live checks", Live: true,
		Cautions: []string{liveCaution,
			"Open covers only where the local rules allow it with the plant live. Bare bright metal looks colder than it is: aim at paint, tape or insulation, the same on every joint of a group."},
		Sources: []string{"rise over a similar joint, and of a joint with none similar over the ambient: ANSI/NETA ATS bands, or the plan",
			"rise of similar joints over the ambient 70 K: IEC 61439-1, terminals, or the plan", "minimum load 40 %: common practice"},
	},
	Validate: validateThermal,
	Predict: func(p *plan.Plan, c *plan.Check, g *thermal) []plan.Prediction {
		similar, ambient := g.limits()
		out := []plan.Prediction{{Name: "rise over the coolest similar joint", Text: similar.Text("K"), Source: similar.Source},
			{Name: "rise over the ambient", Text: ambient.Text("K"), Source: ambient.Source}}
		if g.Ambient == nil {
			out[1].Name = "rise over the ambient, a joint with none similar"
			out = append(out, plan.Prediction{Name: "rise over the ambient, similar joints", Text: checks.AtMost(terminalRise, terminalSource).Text("K"), Source: terminalSource})
		}
		return out
	},
	Form:   formThermal,
	Doubts: doubtThermal,
	Judge:  judgeThermal,
})

func validateThermal(p *plan.Plan, c *plan.Check, g *thermal, say plan.Say) {
	if len(g.Groups) == 0 {
		say("groups", "none: at least one group of joints is wanted")
	}
	keys := map[string]string{"meter": "the instrument", "ambient": "the ambient"}
	once := func(at, key, name string) {
		if first, ok := keys[key]; ok {
			say(at, "%q is asked for under the same key as %s: rename one", name, first)
		}
		keys[key] = name
	}
	for n, group := range g.Groups {
		at := fmt.Sprintf("groups[%d]", n+1)
		if !plan.IDShape(strings.ToLower(group.ID)) {
			say(at+".id", "%q: letters, digits and hyphens are accepted, 40 at most", group.ID)
		}
		once(at+".id", group.loadKey(), group.ID)
		if len(group.Joints) == 0 {
			say(at+".joints", "none: a group holds at least one joint")
		}
		for i, j := range group.Joints {
			key := fmt.Sprintf("%s.joints[%d].id", at, i+1)
			if !plan.IDShape(strings.ToLower(j.ID)) {
				say(key, "%q: letters, digits and hyphens are accepted, 40 at most", j.ID)
			}
			once(key, group.key(j), j.ID)
		}
	}
	if g.Least != nil && *g.Least > 100 {
		say("least_load", "%v %%: more than the rated current", float64(*g.Least))
	}
	needKelvins("over_similar", g.Similar, say)
	needKelvins("over_ambient", g.Ambient, say)
	if g.Source != "" && g.Similar == nil && g.Ambient == nil {
		say("source", "says where limits come from, but none is given")
	}
}

// needKelvins demands a rise above zero, in K: °C would be a temperature.
func needKelvins(key string, a *quantity.Amount, say plan.Say) {
	if a != nil && (a.Unit != "K" || !(kelvins(a) > 0)) {
		say(key, "a rise above zero in K is wanted, such as 10 K")
	}
}

// kelvins is a rise given in K; an amount holds temperatures in °C.
func kelvins(a *quantity.Amount) float64 { return quantity.FromBase(a.Value, "K") }

// limits are the rises above which a joint fails.
func (g *thermal) limits() (similar, ambient *checks.Limit) {
	limit := func(a *quantity.Amount, b heatBands) *checks.Limit {
		if a == nil {
			return checks.AtMost(b.bands[len(b.bands)-1].above, "last band of ANSI/NETA ATS")
		}
		if g.Source != "" {
			return checks.AtMost(kelvins(a), g.Source)
		}
		return checks.AtMost(kelvins(a), "plan")
	}
	return limit(g.Similar, overSimilar), limit(g.Ambient, overAmbient)
}

func (g likeJoints) loadKey() string { return keyOf(g.ID) + "_load" }

func (g likeJoints) key(j namedJoint) string { return keyOf(g.ID) + "_" + keyOf(j.ID) }

// label is what the group is called.
func (g likeJoints) label() string {
	if g.Name != "" {
		return g.Name
	}
	return g.ID
}

func (g likeJoints) jointLabel(j namedJoint) string {
	if j.Name != "" {
		return g.label() + " " + j.Name
	}
	return g.label() + " " + j.ID
}

// joint is a joint by the field of its temperature.
func (g likeJoints) joint(j namedJoint) checks.Arg {
	return checks.Label("joint", checks.Field{Key: g.key(j), Label: g.jointLabel(j)})
}

func formThermal(in checks.Input, given *thermal) []checks.Field {
	out := []checks.Field{meterField(in),
		{Key: "ambient", Label: "ambient", Sort: checks.Measured, Unit: "°C", Need: true, Meter: "meter", Example: "21.5", Hint: "beside the plant, out of its warm air"}}
	for _, g := range given.Groups {
		out = append(out, checks.Field{Key: g.loadKey(), Label: "load of " + g.label(), Sort: checks.Measured, Unit: "%", Need: true, Example: "72", Hint: "of the rated current, steady for the last hour or longer"})
		for _, j := range g.Joints {
			out = append(out, checks.Field{Key: g.key(j), Label: g.jointLabel(j), Sort: checks.Measured, Unit: "°C", Need: true, Row: g.loadKey(), Meter: "meter", Example: "34.2"})
		}
		out[len(out)-len(g.Joints)].Hint = "hottest spot of each joint"
	}
	return out
}

const (
	mostLoad      = 150.0 // %; beyond it a load is doubted (our choice)
	colderThanAir = 5.0   // K under the ambient at which a joint is doubted (our choice)
)

// doubtThermal names readings that cannot be right.
func doubtThermal(in checks.Input, given *thermal) []checks.Doubt {
	out := doubtAmbient(in, "ambient")
	doubt := func(key, code string, args ...checks.Arg) {
		out = append(out, checks.Doubt{Fields: []string{key}, Said: checks.Say(code, args...)})
	}
	air, hasAir := in.Answers["ambient"]
	for _, g := range given.Groups {
		if a, ok := in.Answers[g.loadKey()]; ok && !(a.Value >= 0 && a.Value <= mostLoad) {
			doubt(g.loadKey(), "no-load-of-plant", checks.Num("read", a.Value, "%"), checks.Num("most", mostLoad, "%"))
		}
		for _, j := range g.Joints {
			a, ok := in.Answers[g.key(j)]
			switch {
			case !ok:
			case a.Value < quantity.AbsoluteZero:
				doubt(g.key(j), "below-absolute-zero", checks.Num("read", a.Value, "°C"))
			case hasAir && a.Value < air.Value-colderThanAir:
				doubt(g.key(j), "joint-colder-than-air", g.joint(j), checks.Num("read", a.Value, "°C"), checks.Num("ambient", air.Value, "°C"))
			}
		}
		out = append(out, doubtCold(in, limitOf("thermal.least_load", given.Least).Low, g)...)
	}
	return out
}

// doubtCold names a group of which no joint is warmer than the air though it carries
// the load at which a survey counts.
func doubtCold(in checks.Input, least float64, g likeJoints) []checks.Doubt {
	air, ok := in.Answers["ambient"]
	load, loaded := in.Answers[g.loadKey()]
	if !ok || !loaded || !(load.Value >= least) {
		return nil
	}
	keys := []string{g.loadKey()}
	for _, j := range g.Joints {
		if a, ok := in.Answers[g.key(j)]; !ok || a.Value > air.Value {
			return nil
		}
		keys = append(keys, g.key(j))
	}
	return []checks.Doubt{{Fields: keys, Said: checks.Say("group-cold", checks.Word("group", g.label()), checks.Num("ambient", air.Value, "°C"), checks.Num("load", load.Value, "%"))}}
}

// judgeThermal passes when no joint stands far over the coolest similar one:
//
//	d = T − min(T of the group)      d ≤ 15 K, and up to 3 K with no more ado
//	a = T − T_a                      a ≤ 70 K (IEC 61439-1, terminals, from memory); where a
//	                                 group holds one joint a ≤ 40 K, and up to 10 K with no more ado
//
//	T, T_a  temperature of the joint and of the ambient    °C
//
// Limits include their own value. Above 3 K (10 K) the band is a probable deficiency
// and the finding inconclusive: an engineer decides. Each rise of more than 1 K says
// its band. A rise that the plan limits is held against that limit alone, without a
// band; a limit of the rise over the ambient then counts for every joint. A joint at full
// load may stand at more than 40 K and be sound: a plan that surveys single joints
// gives its own. Under the least load (40 % when not given, common practice)
// nothing is shown by joints that stay cold: inconclusive, but a joint that is too
// hot all the same fails. Source: bands of ANSI/NETA ATS (from memory).
func judgeThermal(w *checks.Work, g *thermal) {
	least := limitOf("thermal.least_load", g.Least)
	for _, group := range g.Groups {
		if load := w.Value(group.loadKey()); w.Has(group.loadKey()) && !quantity.NotBelow(load, least.Low) {
			w.Say(checks.Inconclusive, group.loadKey(), "survey-load-low", checks.Word("group", group.label()), checks.Num("load", load, "%"),
				checks.Num("least", least.Low, "%"), checks.Word("source", least.Source))
		}
		thermalGroup(w, g, group)
	}
}

// thermalGroup holds the joints of one group.
func thermalGroup(w *checks.Work, g *thermal, group likeJoints) {
	similar, ambient := g.limits()
	var all []*calc.Expr
	for _, j := range group.Joints {
		all = append(all, w.Read(group.key(j)))
	}
	for i, j := range group.Joints {
		key, name := group.key(j), group.jointLabel(j)
		if len(all) > 1 {
			heat(w, group.joint(j), "similar_"+key, name, all[i].Sub(calc.Named("coolest of "+group.label(), "°C", calc.Min(all...))), similar, overSimilar, g.Similar != nil)
		}
		over := all[i].Sub(w.Read("ambient"))
		if len(all) > 1 && g.Ambient == nil {
			w.HoldField(key, "ambient_"+key, name+" over the ambient", "K", over, checks.AtMost(terminalRise, terminalSource))
			continue
		}
		heat(w, group.joint(j), "ambient_"+key, name, over, ambient, overAmbient, g.Ambient != nil)
	}
}

// heat holds a rise of a joint against its limit and, unless that is the plan's own,
// says its band.
func heat(w *checks.Work, joint checks.Arg, key, called string, rise *calc.Expr, limit *checks.Limit, b heatBands, own bool) {
	field := joint.Value.Field
	v := w.HoldField(field, key, called+" over "+b.of, "K", rise, limit)
	if v == checks.Missing || own {
		return
	}
	x, in := rise.Eval(w.Value), ""
	for _, band := range b.bands {
		if quantity.Above(x, band.above) {
			in = band.name
		}
	}
	if in == "" || math.IsInf(x, 0) {
		return
	}
	code := "in-band"
	if v == checks.Pass && quantity.Above(x, b.decides) {
		v, code = checks.Inconclusive, "in-band-to-decide"
	}
	w.SayOn(v, []string{field}, rise.Readings(), checks.Say(code, joint, checks.Word("over", b.over), checks.Num("rise", x, "K"), checks.Word("band", in)))
}
