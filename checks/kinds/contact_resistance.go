package kinds

import (
	"fmt"
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// contactResistance is what a contact-resistance check is given.
type contactResistance struct {
	Groups  []contactGroup   `plan:"groups,need" doc:"groups of similar joints: the same design, size and material, measured over the same length"`
	Factor  *float64         `plan:"factor,pos" doc:"maximum resistance as a multiple of the lowest of the group; 1.5 when not given"`
	Source  string           `plan:"source" doc:"where the plan's own limits come from; plan when not given"`
	Current *quantity.Ampere `plan:"current,pos" doc:"minimum test current, asked and judged when given"`
}

// contactGroup is joints that should have nearly one resistance.
type contactGroup struct {
	Group   string         `plan:"group,need" doc:"what the joints have in common, such as bar joints"`
	Joints  []contactJoint `plan:"joints,need" doc:"the joints; at least two, or one with the maker's maximum"`
	Maximum *quantity.Ohm  `plan:"maximum,pos" doc:"the maker's maximum resistance, such as 30 µΩ"`
}

type contactJoint struct {
	ID    string `plan:"id,need" doc:"short name used in answers"`
	Name  string `plan:"name,need" doc:"what the joint is called on the sheet"`
	Count *int   `plan:"count" doc:"how many alike there are, such as 48: bar-1 to bar-48; one that bears the name alone when not given"`
	First *int   `plan:"first" doc:"the number of the first of them, where it is not 1"`
}

// each are the joints of a group, those that a count stands for one by one.
func (g contactGroup) each() []contactJoint {
	var out []contactJoint
	for _, j := range g.Joints {
		ids, names := j.series().each()
		for i := range ids {
			out = append(out, contactJoint{ID: ids[i], Name: names[i]})
		}
	}
	return out
}

func (j contactJoint) series() series {
	return series{id: j.ID, name: j.Name, count: j.Count, first: j.First}
}

// defaultFactor: a joint more than 50 % above the lowest of similar ones is to be
// looked into, ANSI/NETA ATS.
const defaultFactor = 1.5

var _ = checks.Define(checks.Spec[contactResistance]{
	About: plan.About{
		Name: "contact-resistance", Title: "Resistance of joints and contacts", Group: "Dead checks", Dead: true,
		Cautions: []string{deadCaution, testCaution, "Current leads on before the current flows, off after it stopped.",
			"Earths and other paths beside a joint take test current and hide a bad one: lift what the permit lets be lifted, one side at a time."},
		Sources: []string{"at most 1.5 × the lowest of similar joints: ANSI/NETA ATS (50 %), or the plan", "maximum resistance: the maker's data"},
	},
	Validate: validateContactResistance,
	Predict: func(p *plan.Plan, c *plan.Check, g *contactResistance) []plan.Prediction {
		l := g.limit()
		out := []plan.Prediction{{Name: "resistance ÷ lowest of its group", Text: l.Text("1"), Source: l.Source}}
		for _, group := range g.Groups {
			if l := g.maximum(group); l != nil {
				out = append(out, plan.Prediction{Name: group.Group, Text: l.Text("µΩ"), Source: l.Source})
			}
		}
		return out
	},
	Form:   contactResistanceForm,
	Doubts: doubtContacts,
	Judge:  judgeContactResistance,
})

func validateContactResistance(p *plan.Plan, c *plan.Check, g *contactResistance, say plan.Say) {
	if g.Factor != nil && !(*g.Factor > 1 && *g.Factor <= 10) {
		say("factor", "%v: the lowest joint itself is 1 × the lowest; 1.5 is usual", *g.Factor)
	}
	if len(g.Groups) == 0 {
		say("groups", "none: at least one is wanted")
	}
	var all []series
	seen, many := map[string]bool{}, 0
	for i, group := range g.Groups {
		key := fmt.Sprintf("groups[%d]", i+1)
		if seen[group.Group] {
			say(key+".group", "%q stands twice: put its joints together", group.Group)
		}
		seen[group.Group] = true
		n := 0
		for i, j := range group.Joints {
			all = append(all, j.series())
			all[len(all)-1].at = fmt.Sprintf("%s.joints[%d]", key, i+1)
			n += j.series().size()
		}
		if n == 0 || n == 1 && group.Maximum == nil {
			say(key+".joints", "%d joints: two or more are compared with one another; give a single one the maker's maximum", n)
		}
		many += n
	}
	if many > maxReadings {
		say("groups", "%d joints: %d at most; give more in a check of their own", many, maxReadings)
	}
	needSeries(all, say)
	needReads(p, "", c.Meter, "resistance", say)
}

func (g *contactResistance) source() string {
	if g.Source != "" {
		return g.Source
	}
	return "plan"
}

// limit holds a resistance as a multiple of the lowest of its group.
func (g *contactResistance) limit() *checks.Limit {
	if g.Factor == nil {
		return checks.AtMost(defaultFactor, "ANSI/NETA ATS")
	}
	return checks.AtMost(*g.Factor, g.source())
}

// maximum holds a group's resistances in µΩ, nil where the maker gives none.
func (g *contactResistance) maximum(group contactGroup) *checks.Limit {
	if group.Maximum == nil {
		return nil
	}
	source := "maker's data"
	if g.Source != "" {
		source = g.Source
	}
	return checks.AtMost(quantity.FromBase(float64(*group.Maximum), "µΩ"), source)
}

// field is the key of a joint's resistance.
func (j contactJoint) field() string { return fieldKey(j.ID, "ohms") }

func contactResistanceForm(in checks.Input, g *contactResistance) []checks.Field {
	out := []checks.Field{meterField(in)}
	if g.Current != nil {
		out = append(out, checks.Field{Key: "current", Label: "test current", Sort: checks.Measured, Unit: "A", Need: true, Example: quantity.Significant(float64(*g.Current), 4),
			Side: checks.AtLeast(float64(*g.Current), g.source())})
	}
	for i, group := range g.Groups {
		for n, j := range group.each() {
			row := fmt.Sprintf("group%d", i+1)
			if n >= perRow {
				row += fmt.Sprintf("-%d", n/perRow+1)
			}
			out = append(out, checks.Field{Key: j.field(), Label: j.Name, Sort: checks.Measured, Unit: "µΩ", Need: true, Meter: "meter", Row: row,
				Hint: "voltage leads inside the current leads, at the same places on every joint", Example: "22"})
		}
	}
	return out
}

// Bounds of readings, our choice: no micro-ohmmeter feeds more current than the
// greatest, and bolted copper has more ohms than the least.
const (
	mostTestCurrent = 1000.0 // A
	leastContact    = 0.05e-6
)

// doubtContacts names readings that no joint has: zero or next to it, or an eighth
// or less of its group's middle one, which would judge all others against itself;
// and a test current no instrument feeds. A reading far above the others is what
// the check looks for, no doubt.
func doubtContacts(in checks.Input, g *contactResistance) []checks.Doubt {
	var out []checks.Doubt
	if a, ok := in.Answers["current"]; ok && g.Current != nil && !(a.Value > 0 && a.Value <= max(mostTestCurrent, 10*float64(*g.Current))) {
		out = append(out, checks.Doubt{Fields: []string{"current"}, Said: checks.Say("no-test-current",
			checks.Num("read", a.Value, "A"), checks.Num("least", float64(*g.Current), "A"), checks.Num("most", max(mostTestCurrent, 10*float64(*g.Current)), "A"))})
	}
	for _, group := range g.Groups {
		var known []float64
		joints := group.each()
		for _, j := range joints {
			if a, ok := in.Answers[j.field()]; ok && a.Value > 0 {
				known = append(known, a.Value)
			}
		}
		slices.Sort(known)
		for _, j := range joints {
			a, ok := in.Answers[j.field()]
			joint, read := checks.Word("joint", j.Name), checks.NumIn("read", a.Value, "µΩ")
			switch {
			case !ok:
			case !(a.Value > 0):
				out = append(out, checks.Doubt{Fields: []string{j.field()}, Said: checks.Say("ohms-not-above-zero", joint, read)})
			case a.Value < leastContact:
				out = append(out, checks.Doubt{Fields: []string{j.field()}, Said: checks.Say("next-to-no-ohms", joint, read)})
			case len(known) >= 3 && a.Value <= known[len(known)/2]/farOff:
				out = append(out, checks.Doubt{Fields: []string{j.field()}, Said: checks.Say("far-below-group", joint, read, checks.NumIn("middle", known[len(known)/2], "µΩ"))})
			}
		}
	}
	return out
}

// judgeContactResistance passes when every joint's resistance R is at most the
// factor times the lowest of its group, and at most the maker's maximum:
//
//	R/R_lowest ≤ factor     R ≤ maximum
//
//	R         µΩ  > 0
//	factor    1.5 when the plan gives none (ANSI/NETA ATS: more than 50 % above the
//	          lowest of similar joints is to be looked into)
//	maximum   the maker's, where the plan gives it
//
// Limits include their own value: 30.0 passes beside 20. A single joint has
// nothing to be compared with and is held to the maximum alone. One instrument
// reads all of a group, so the reading share of its error falls out of the
// quotient. A group with a reading that is no joint's is not compared.
func judgeContactResistance(w *checks.Work, g *contactResistance) {
	inDoubt := checks.Doubted(w.Doubts())
	if g.Current != nil {
		w.HoldCondition("current", "current", "test current", "A", w.Read("current"), checks.AtLeast(float64(*g.Current), g.source()))
	}
	for _, group := range g.Groups {
		joints := group.each()
		ohms, sound := make([]*calc.Expr, len(joints)), true
		for i, j := range joints {
			ohms[i] = w.ReadIn(j.field())
			sound = sound && !inDoubt(j.field())
		}
		lowest := calc.Named("lowest of "+group.Group, "µΩ", calc.Min(ohms...))
		for i, j := range joints {
			key := strings.ReplaceAll(j.ID, "-", "_")
			if l := g.maximum(group); l != nil && !inDoubt(j.field()) {
				w.HoldField(j.field(), "ohms_"+key, j.Name, "µΩ", ohms[i], l)
			}
			if sound && len(joints) > 1 {
				w.HoldField(j.field(), "times_"+key, j.Name+", resistance ÷ lowest of "+group.Group, "1", ohms[i].Div(lowest), g.limit())
			}
		}
	}
}
