package kinds

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// loadShare is what a load-share check is given.
type loadShare struct {
	Incomers  []incomer         `plan:"incomers,need" doc:"the incomers in parallel, each with its transformer, or other incomer of the plant, and the section it feeds"`
	Returning string            `plan:"returning,need" doc:"the incomer that came back and must be seen to carry its share"`
	Least     *quantity.Percent `plan:"least,pos" doc:"minimum share of each incomer, of its predicted share; 50 % when not given (our choice)"`
	TimeLimit *quantity.Second  `plan:"time_limit,pos" doc:"longest time in parallel, such as 10 min, from the step that closed to the one that opened where the job records them; shown and not judged when not given"`
	After     *quantity.Percent `plan:"after_limit,pos" doc:"most an incomer may carry after opening, of its rated current; 100 % when not given"`
}

// incomer is one transformer, generator or feeder and the section of the board it feeds.
type incomer struct {
	Transformer string `plan:"transformer" ref:"transformer" doc:"id of the transformer"`
	Incomer     string `plan:"incomer" ref:"incomer" doc:"id of the incomer, where it is no transformer"`
	Tap         string `plan:"tap" doc:"tap position in use; the transformer's own when not given"`
	TapFrom     string `plan:"tap_from" ref:"tap-links" doc:"id of the tap-links check whose left position is in use"`
	Side        string `plan:"side,need" doc:"name of the section it feeds once the coupler is open, such as A"`
}

var _ = checks.Define(checks.Spec[loadShare]{
	About: plan.About{
		Name: "load-share", Title: "Load share before the coupler opens", Group: "Live checks", Live: true,
		Joins: true,
		Cautions: []string{liveCaution,
			"Do not open the coupler on this check alone: a closed indication does not show that an incomer carries load."},
		Sources: []string{"share 50 % of predicted: our choice", "after opening: the rating, or the plan", "time in parallel: the plan"},
	},
	Validate: validateLoadShare,
	Predict: func(p *plan.Plan, c *plan.Check, g *loadShare) []plan.Prediction {
		in := checks.Input{Plan: p, Check: c}
		feeds, err := feedsOf(in, g.Incomers)
		var out []plan.Prediction
		switch why := foretells(in, g.Incomers); {
		case why != nil:
			out = []plan.Prediction{{Name: "share of load", Text: why.Error(), Source: "nameplates"}}
		case err != nil:
			return []plan.Prediction{{Name: "share of load", Text: err.Error(), Source: "nameplates", Warn: true}}
		default:
			out = predictShare(feeds)
		}
		for _, i := range g.Incomers {
			l := afterLimit(g.After, p.Rated(i.id()))
			out = append(out, plan.Prediction{Name: "after opening, " + i.id(), Text: l.Text("A"), Source: l.Source})
		}
		return out
	},
	Form:    formLoadShare,
	Doubts:  doubtLoadShare,
	Judge:   judgeLoadShare,
	Running: inParallel,
})

// keyOf is a plant id as part of a field key.
func keyOf(id string) string { return strings.ReplaceAll(strings.ToLower(id), "-", "_") }

// sides are the two sections in the order of their incomers.
func (g *loadShare) sides() []string {
	var out []string
	for _, i := range g.Incomers {
		if !slices.Contains(out, i.Side) {
			out = append(out, i.Side)
		}
	}
	return out
}

// towards is the word of the direction field for current that goes into a side.
func (g *loadShare) towards(side string) string {
	s := g.sides()
	if side == s[0] {
		return s[1] + " to " + s[0]
	}
	return s[0] + " to " + s[1]
}

// id is that of its transformer or of the other incomer.
func (i incomer) id() string { return cmp.Or(i.Transformer, i.Incomer) }

// need demands that it names one of the two, and no tap of what has none.
func (i incomer) need(p *plan.Plan, at func(key string) string, say plan.Say) {
	switch isTransformer := p.Transformer(i.id()) != nil; {
	case i.id() == "":
		say(at("transformer"), "missing: the id of the transformer, or of another incomer under incomer")
	case i.Transformer != "" && i.Incomer != "":
		say(at("incomer"), "%s is given beside transformer %s: give one of the two", i.Incomer, i.Transformer)
	case i.Incomer != "" && isTransformer:
		say(at("incomer"), "%s is a transformer: give it as transformer", i.Incomer)
	case i.Incomer != "" && (i.Tap != "" || i.TapFrom != ""):
		say(at("tap"), "%s has no taps", i.Incomer)
	}
}

func feedsOf(in checks.Input, incomers []incomer) ([]feed, error) {
	var out []feed
	for _, i := range incomers {
		f, err := feedOf(in, i.id(), i.Tap, i.TapFrom)
		if err != nil {
			return nil, err
		}
		out = append(out, f)
	}
	return out, nil
}

func validateLoadShare(p *plan.Plan, c *plan.Check, g *loadShare, say plan.Say) {
	keys := map[string]string{"coupler": "the coupler"}
	known := false
	for n, i := range g.Incomers {
		at := func(key string) string { return fmt.Sprintf("incomers[%d].%s", n+1, key) }
		i.need(p, at, say)
		needTap(p, at("tap"), i.id(), i.Tap, say)
		needTapFrom(p, at("tap_from"), i.id(), i.TapFrom, say)
		needTapKnown(p, at("tap"), i.id(), i.Tap, i.TapFrom, say)
		if first, ok := keys[keyOf(i.id())]; ok {
			say(at("transformer"), "%q is asked for under the same key as %s: name each once, apart by more than capitals", i.id(), first)
		}
		keys[keyOf(i.id())] = i.id()
		if !plan.IDShape(strings.ToLower(i.Side)) {
			say(at("side"), "%q: letters, digits and hyphens are accepted, 40 at most", i.Side)
		}
		known = known || i.id() == g.Returning
	}
	for _, side := range g.sides() {
		if first, ok := keys["section_"+keyOf(side)]; ok {
			say("incomers", "sides %s and %s are asked for under the same key: name them apart by more than capitals", first, side)
		}
		keys["section_"+keyOf(side)] = side
	}
	if len(g.sides()) != 2 {
		say("incomers", "the sides name %s: two sections are wanted, one on each side of the coupler", strings.Join(g.sides(), ", "))
	}
	if !known {
		say("returning", "%q is none of the incomers%s", g.Returning, plan.Nearest(g.Returning, plan.IDsOf(g.Incomers, incomer.id)))
	}
}

func formLoadShare(in checks.Input, g *loadShare) []checks.Field {
	out := []checks.Field{meterField(in)}
	closed := func(key, label string) {
		out = append(out, checks.Field{Key: key + "_closed", Label: label + " closed", Sort: checks.Choice, Options: checks.YesNo, Need: true, Row: "closed", Example: "yes"})
	}
	for _, i := range g.Incomers {
		closed(keyOf(i.id()), "incomer "+i.id())
	}
	closed("coupler", "coupler")
	out = append(out, closedField(in),
		checks.Field{Key: "now_at", Label: "currents read at", Sort: checks.Instant, Need: true, Default: "now", Example: "now"})
	for n, i := range g.Incomers {
		at := len(out)
		out = append(out, ampFields(in, keyOf(i.id()), i.id(), true, "612", "605", "598")...)
		for k := range 3 {
			out[at+k].Expect = expectShare(in, g, n, k+1)
		}
	}
	out = append(out, ampFields(in, "coupler", "coupler", true, "301", "296", "305")...)
	s := g.sides()
	out = append(out, checks.Field{Key: "direction", Label: "current in the coupler goes", Sort: checks.Choice, Options: []string{g.towards(s[1]), g.towards(s[0]), "none"}, Need: true,
		Example: g.towards(s[1]), Hint: "from the section that gives current to the section that takes it"})
	for _, side := range s {
		at := len(out)
		out = append(out, ampFields(in, "section_"+keyOf(side), "load of section "+side, false, "905", "902", "910")...)
		out[at].Hint = "on its outgoing circuits; of both sections or none, to compare them"
	}
	return append(out, factorFields(in, g)...)
}

// ampFields asks the three currents of one place.
func ampFields(in checks.Input, key, label string, need bool, examples ...string) []checks.Field {
	lines, _ := in.Plan.Conductors()
	var out []checks.Field
	for i, line := range lines {
		out = append(out, checks.Field{Key: key + ampKeys[i], Label: label + " " + line, Sort: checks.Measured, Unit: "A", Need: need, Row: key, Meter: "meter", Example: examples[i]})
	}
	return out
}

// factorFields asks the power factors: that of the load, on which the predicted share
// hangs a little, and those that tell what a section draws which gives current
// away. The latter are passed over as long as the currents decide without them.
func factorFields(in checks.Input, g *loadShare) []checks.Field {
	pf := func(key, label, hint string) checks.Field {
		return checks.Field{Key: key, Label: label, Sort: checks.Measured, Unit: "1", Row: "pf", Example: "0.85", Hint: hint}
	}
	out := []checks.Field{pf("pf", "power factor of the load", "lagging; it changes the share little")}
	open := factorsDecide(in, g)
	for _, i := range g.Incomers {
		out = append(out, pf(factorKey(i), "power factor of "+i.id(), "as its meter shows it, the lowest of the three phases, whether it lags or leads"))
		out[len(out)-1].Known = !open
	}
	out = append(out, pf("coupler_pf", "power factor in the coupler", "as its meter shows it, the lowest of the three phases, whether it lags or leads"))
	out[len(out)-1].Known = !open
	return out
}

func factorKey(i incomer) string { return keyOf(i.id()) + "_pf" }

// doubtLoadShare names readings that cannot be right.
func doubtLoadShare(in checks.Input, g *loadShare) []checks.Doubt {
	out := append(checks.DoubtInstants(in, "closed_at", "now_at"), doubtParallel(in)...)
	for _, i := range g.Incomers {
		key := keyOf(i.id())
		out = append(out, doubtFlow(in, key, i.id())...)
		out = append(out, doubtAmps(in, in.Plan.Rated(i.id()), withPrefix(key, ampKeys)...)...)
	}
	out = append(out, doubtFlow(in, "coupler", "")...)
	for _, side := range g.sides() {
		out = append(out, doubtFlow(in, "section_"+keyOf(side), "")...)
	}
	for _, f := range factorFields(in, g) {
		out = append(out, doubtPowerFactor(in, f.Key)...)
	}
	return append(out, doubtLone(in, g)...)
}

// doubtLone names a conductor that carries far less than the others of its place
// say: of an incomer each is held against what all incomers carry on it, since they
// share every conductor's load alike.
func doubtLone(in checks.Input, g *loadShare) []checks.Doubt {
	var out []checks.Doubt
	var total [3]float64
	most := 0.0
	for _, i := range g.Incomers {
		for k, key := range ampKeys {
			x := in.Answers[keyOf(i.id())+key].Value
			total[k], most = total[k]+x, max(most, x)
		}
	}
	for _, i := range g.Incomers {
		if in.Answers[keyOf(i.id())+"_closed"].Word != "no" {
			out = append(out, doubtLonePhase(in, keyOf(i.id()), atTransformer(i.id()), total, loneShare)...)
		}
	}
	through, ok := three(in, "coupler", ampKeys)
	if largest := slices.Max(through[:]); ok && largest > nothingShare*most { // what little a coupler carries may stand on one conductor
		out = append(out, doubtLonePhase(in, "coupler", atCoupler(), alike, nothingShare)...)
	} else if way := in.Answers["direction"].Word; ok && largest == 0 && way != "" && way != "none" && in.Answers["coupler_closed"].Word == "yes" {
		out = append(out, checks.Doubt{Fields: append(withPrefix("coupler", ampKeys), "direction"), Said: checks.Say("direction-without-current")})
	}
	for _, side := range g.sides() {
		out = append(out, doubtLonePhase(in, "section_"+keyOf(side), atSection(side), alike, nothingShare)...)
	}
	return out
}

// afterLimit is the most an incomer may carry after opening, A: a share of its
// rated LV current, all of it when the plan gives no share.
func afterLimit(share *quantity.Percent, t *plan.Rated) *checks.Limit {
	rated := float64(t.Rating) / math.Sqrt(3) / float64(t.Volts)
	pct, source := or(share, 100), "rated current of "+t.ID
	if share != nil {
		source = quantity.Significant(pct, 4) + " % of the rated current of " + t.ID + ", plan"
	}
	return checks.AtMost(pct/100*rated, source)
}

// expectShare is what incomer n carries on phase k beside what the first was read
// to carry: from the least the plan allows to as much over. nil for the first.
func expectShare(in checks.Input, g *loadShare, n, k int) *checks.Expect {
	first, ok := in.Answers[fmt.Sprintf("%s_i%d", keyOf(g.Incomers[0].id()), k)]
	feeds, err := feedsOf(in, g.Incomers)
	if n == 0 || !ok || err != nil {
		return nil
	}
	pf := assumedPowerFactor
	if a, ok := in.Answers["pf"]; ok {
		pf = a.Value
	}
	// The load that gives the first incomer its reading, by halving: its current
	// rises with the load once the load outgrows what circulates.
	low, high := 0.0, 4*float64(len(feeds))*math.Max(first.Value, feeds[0].amps)
	var currents []complex128
	for range 60 {
		mid := (low + high) / 2
		if currents, err = share(feeds, mid, pf); err != nil {
			return nil
		}
		if cmplx.Abs(currents[0]) < first.Value {
			low = mid
		} else {
			high = mid
		}
	}
	x, least := cmplx.Abs(currents[n]), limitOf("load-share.least", g.Least).Low/100
	return &checks.Expect{Value: x, Low: x * least, High: x * (2 - least), Source: "network solve beside the " + quantity.Spell(first.Value, "A") + " of " + g.Incomers[0].id()}
}
