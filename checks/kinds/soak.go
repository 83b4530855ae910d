package kinds

import (
	"fmt"
	"math"
	"time"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// soak is what a soak check is given.
type soak struct {
	Point       string            `plan:"point,need" doc:"where the temperature is read, such as hottest winding"`
	Transformer string            `plan:"transformer" ref:"transformer" doc:"id of the transformer: its rated current, and its insulation class when none is given here"`
	Minutes     []float64         `plan:"minutes" doc:"minutes after the first reading at which it is read, such as [0, 15, 30, 60]"`
	Every       *quantity.Second  `plan:"every,pos" doc:"interval of the readings, such as 15 min, in place of minutes"`
	Readings    int               `plan:"readings" doc:"how many readings at that interval"`
	Class       string            `plan:"class" one:"A|E|B|F|H|200|220" doc:"insulation class whose rise over the ambient is the limit (IEC 60076-11)"`
	Limit       *quantity.Celsius `plan:"limit" doc:"highest temperature, such as 130 °C"`
	Source      string            `plan:"source" doc:"where the highest temperature comes from; plan when not given"`
	Ambient     bool              `plan:"ambient" doc:"yes when the ambient temperature is read as well; a class needs it"`
}

// classRise is the highest average winding rise over the ambient by insulation
// class, K (IEC 60076-11, table of temperature-rise limits; classes 200 and 220 from a
// maker's table of it).
var classRise = map[string]float64{"A": 60, "E": 75, "B": 80, "F": 100, "H": 125, "200": 135, "220": 150}

const (
	fewestSoak = 4  // readings: one more than the curve has unknowns
	mostSoak   = 60 // readings one form holds

	// slipStep is how far, as a share of the reading before, ten times or a tenth of
	// a reading may lie from it to look like a slipped decimal: a winding warms by
	// less from one reading to the next (our choice).
	slipStep = 0.35

	// warmLoad is the load, as a share of the rated current, that warms a winding by
	// coldRise at least by the end, K: a quarter of the current makes a sixteenth of
	// the load loss beside what the core gives (our choice).
	warmLoad = 0.25
	coldRise = 1.0
)

var _ = checks.Define(checks.Spec[soak]{
	About: plan.About{
		Name: "soak", Title: "Soak under load", Group: "Live checks", Live: true,
		Cautions: []string{liveCaution,
			"Valid for the load carried: under more the winding runs hotter. A sensor reads one spot; the class limits are for the mean of a winding."},
		Sources: []string{"rise of the average winding over an ambient of at most 40 °C, by insulation class: IEC 60076-11",
			"where US practice rules, the limits are others: give limit", "steady at 1 K an hour: IEC 60076-11", "highest temperature: the plan"},
	},
	Validate: validateSoak,
	Predict: func(p *plan.Plan, c *plan.Check, g *soak) []plan.Prediction {
		at := g.minutes()
		out := []plan.Prediction{{Name: "readings", Text: fmt.Sprintf("%d over %s min", len(at), quantity.Significant(at[len(at)-1], 5)), Source: "plan"}}
		if l := g.tempLimit(); l != nil {
			out = append(out, plan.Prediction{Name: "temperature of " + g.Point, Text: l.Text("°C"), Source: l.Source})
		}
		if l := g.riseLimit(p); l != nil {
			out = append(out, plan.Prediction{Name: "rise of " + g.Point + " over the ambient", Text: l.Text("K"), Source: l.Source})
		}
		return out
	},
	Form:   formSoak,
	Doubts: doubtSoak,
	Judge:  judgeSoak,
	Due:    dueSoak,
})

func validateSoak(p *plan.Plan, c *plan.Check, g *soak, say plan.Say) {
	listed, even := len(g.Minutes) > 0, g.Every != nil || g.Readings != 0
	switch n := len(g.minutes()); {
	case listed && even:
		say("minutes", "give minutes, or every and readings, not both")
	case !listed && (g.Every == nil || g.Readings == 0):
		say("minutes", "missing: minutes after the first reading, or every and readings")
	case n < fewestSoak || n > mostSoak:
		say(map[bool]string{true: "minutes", false: "readings"}[listed], "%d readings: %d to %d are asked, fewer give no curve", n, fewestSoak, mostSoak)
	}
	for i, m := range g.Minutes {
		if i == 0 && m != 0 {
			say("minutes[1]", "%v: the minutes count from the first reading, at 0", m)
		}
		if i > 0 && !(m > g.Minutes[i-1]) {
			say(fmt.Sprintf("minutes[%d]", i+1), "%v does not come after %v", m, g.Minutes[i-1])
		}
	}
	class := g.class(p)
	if _, known := classRise[class]; class != "" && !known {
		say("transformer", "insulation class %q of %s has no limit here: give limit", class, g.Transformer)
	}
	switch {
	case g.Class == "" && class != "" && g.Limit != nil: // the plate's class gives way to the plan's own limit
	case class != "" && !g.Ambient:
		say("ambient", "class %s limits the rise over the ambient: read it with ambient: yes, or give limit", class)
	case class == "" && g.Limit == nil:
		say("", "give class or limit: a temperature without a limit shows nothing")
	}
	if g.Source != "" && g.Limit == nil {
		say("source", "says where a limit comes from, but no limit is given")
	}
}

// minutes are the times of the readings after the first.
func (g *soak) minutes() []float64 {
	if g.Every == nil || len(g.Minutes) > 0 {
		return g.Minutes
	}
	var out []float64
	for k := range max(0, min(g.Readings, mostSoak+1)) {
		out = append(out, float64(k)*float64(*g.Every)/60)
	}
	return out
}

// class is the insulation class, from the transformer's plate where the plan
// gives none here.
func (g *soak) class(p *plan.Plan) string {
	if t := p.Transformer(g.Transformer); t != nil && g.Class == "" {
		return t.Class
	}
	return g.Class
}

// tempLimit is the plan's highest temperature, nil when it gives none.
func (g *soak) tempLimit() *checks.Limit {
	if g.Limit == nil {
		return nil
	}
	if g.Source != "" {
		return checks.AtMost(float64(*g.Limit), g.Source)
	}
	return checks.AtMost(float64(*g.Limit), "plan")
}

// riseLimit is the highest rise over the ambient, nil where no class or no ambient
// is to be read.
func (g *soak) riseLimit(p *plan.Plan) *checks.Limit {
	class := g.class(p)
	rise, ok := classRise[class]
	if !ok || !g.Ambient {
		return nil
	}
	return checks.AtMost(rise, "IEC 60076-11, class "+class)
}

func soakKey(k int, what string) string { return fmt.Sprintf("t%d_%s", k+1, what) }

func formSoak(in checks.Input, g *soak) []checks.Field {
	out := []checks.Field{meterField(in)}
	for k, m := range g.minutes() {
		label := quantity.Significant(m, 5) + " min: "
		f := func(what, words string, sort checks.Sort, unit, meter, example string) checks.Field {
			return checks.Field{Key: soakKey(k, what), Label: label + words, Sort: sort, Unit: unit, Need: true, Row: fmt.Sprintf("t%d", k+1), Meter: meter, Example: example}
		}
		at := f("at", "time", checks.Instant, "", "", "14:05")
		at.Default = "now"
		out = append(out, at, f("temp", g.Point, checks.Measured, "°C", "meter", "62.7"), f("load", "load", checks.Measured, "A", "", "640"))
		if g.Ambient {
			out = append(out, f("amb", "ambient", checks.Measured, "°C", "meter", "24.5"))
		}
	}
	return out
}

// keys are the fields of reading k from 0: time, temperature, load and, where it is
// read, ambient.
func (g *soak) keys(k int) []string {
	out := []string{soakKey(k, "at"), soakKey(k, "temp"), soakKey(k, "load")}
	if g.Ambient {
		out = append(out, soakKey(k, "amb"))
	}
	return out
}

// dueSoak is when the first reading still open falls due. ok is false before the
// first was begun and after the last.
func dueSoak(in checks.Input, g *soak) (due time.Time, ok bool) {
	first := in.Answers[soakKey(0, "at")].Time()
	if first.IsZero() {
		return time.Time{}, false
	}
	for k, m := range g.minutes() {
		for _, key := range g.keys(k) {
			if _, has := in.Answers[key]; !has {
				return first.Add(time.Duration(m * float64(time.Minute))), true
			}
		}
	}
	return time.Time{}, false
}

// soakRow is one reading in full.
type soakRow struct {
	minutes float64 // after the first
	temp    *calc.Expr
	load    float64    // A
	ambient *calc.Expr // nil when it is not read
}

// soakRows are the readings given in full, in order.
func soakRows(w *checks.Work, g *soak) []soakRow {
	first := w.Answers[soakKey(0, "at")].Time()
	var out []soakRow
	for k := range g.minutes() {
		keys := g.keys(k)
		if !w.Has(keys...) || first.IsZero() {
			continue
		}
		r := soakRow{minutes: w.Answers[keys[0]].Time().Sub(first).Minutes(), temp: w.Read(keys[1]), load: w.Value(keys[2])}
		if g.Ambient {
			r.ambient = w.Read(keys[3])
		}
		out = append(out, r)
	}
	return out
}

// doubtSoak names readings that cannot be right.
func doubtSoak(in checks.Input, g *soak) []checks.Doubt {
	var out []checks.Doubt
	doubt := func(said checks.Said, fields ...string) { out = append(out, checks.Doubt{Fields: fields, Said: said}) }
	var instants []string
	last := len(g.minutes()) - 1
	for k := range g.minutes() {
		at, temp, load, amb := soakKey(k, "at"), soakKey(k, "temp"), soakKey(k, "load"), soakKey(k, "amb")
		instants = append(instants, at)
		out = append(append(append(out, doubtAmbient(in, amb)...), doubtCool(in, temp, amb, k == last)...), doubtAmps(in, in.Plan.Rated(g.Transformer), load)...)
		for _, key := range []string{temp, amb} {
			if a, ok := in.Answers[key]; ok && a.Value < quantity.AbsoluteZero {
				doubt(checks.Say("below-absolute-zero", checks.Num("read", a.Value, "°C")), key)
			}
		}
		y, hasTemp := in.Answers[temp]
		if k == 0 {
			continue
		}
		t, before := in.Answers[at].Time(), in.Answers[soakKey(k-1, "at")].Time()
		if !t.IsZero() && !before.IsZero() && !t.After(before) {
			doubt(checks.Say("reading-not-later", checks.At("read", t), checks.At("before", before)), at, soakKey(k-1, "at"))
		}
		if was := in.Answers[soakKey(k-1, "temp")].Value; hasTemp && was > 5 && (math.Abs(y.Value*10-was) <= slipStep*was || math.Abs(y.Value/10-was) <= slipStep*was) {
			doubt(checks.Say("slip-since-last", checks.Num("read", y.Value, "°C"), checks.Num("before", was, "°C")), temp)
		}
	}
	out = append(out, doubtUnwarmed(in, g)...)
	return append(out, checks.DoubtInstants(in, instants...)...)
}

// doubtUnwarmed names a winding that stays as cold as its ambient under a load that
// warms it.
func doubtUnwarmed(in checks.Input, g *soak) []checks.Doubt {
	t := in.Plan.Transformer(g.Transformer)
	if t == nil {
		return nil
	}
	least := math.Inf(1)
	for k := range g.minutes() {
		least = math.Min(least, in.Answers[soakKey(k, "load")].Value) // 0 where it is missing
	}
	last := len(g.minutes()) - 1
	y, read := in.Answers[soakKey(last, "temp")]
	air, hasAir := in.Answers[soakKey(last, "amb")]
	rise := y.Value - air.Value
	if !read || !hasAir || !(least >= warmLoad*ratedAmps(t.Rated()).Eval(nil)) || !(rise >= 0 && rise < coldRise) {
		return nil
	}
	return []checks.Doubt{{Fields: []string{soakKey(last, "temp"), soakKey(last, "amb")}, Said: checks.Say("not-warmed", checks.Word("point", g.Point), checks.Num("rise", rise, "K"), checks.Num("load", least, "A"))}}
}
