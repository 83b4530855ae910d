package kinds

import (
	"fmt"
	"strings"

	"handback/checks"
	"handback/checks/calc"
	"handback/checks/plan"
	"handback/checks/quantity"
)

// tapLinks is what a tap-links check is given.
type tapLinks struct {
	Transformer string         `plan:"transformer,need" ref:"transformer" doc:"the transformer whose off-circuit taps are looked at"`
	From        string         `plan:"from" doc:"tap position it is to be found on; the transformer's own when not given"`
	To          string         `plan:"to,need" doc:"tap position it is to be left on; the same as from for a look alone"`
	Purpose     string         `plan:"purpose" one:"raise-lv|lower-lv|none" doc:"what the change is for; a lower HV tap raises the LV volts"`
	Wanted      *quantity.Volt `plan:"wanted,pos" doc:"wanted no-load LV line-to-line volts"`
	Band        *Band          `plan:"band" doc:"band the LV line-to-line volts should keep"`
	Board       string         `plan:"board" ref:"board" doc:"the board whose nominal volts a published band is drawn around"`
	HVFrom      string         `plan:"hv_from" ref:"measure" doc:"id of the measure check that read the HV volts; the supply's usual volts when not given"`
}

var (
	foundKeys = [3]string{"found_l1", "found_l2", "found_l3"}
	leftKeys  = [3]string{"left_l1", "left_l2", "left_l3"} // leftTap reads them
)

var _ = checks.Define(checks.Spec[tapLinks]{
	About: plan.About{
		Name: "tap-links", Title: "Tap links", Group: "Dead checks", Dead: true,
		Cautions: []string{deadCaution, "Move off-circuit taps only with the transformer dead on both sides."},
		Sources:  []string{"positions: the plan", "LV volts: the nameplate's ratio at each tap, at no load", "bands: IEC 60038, GB statute, ANSI C84.1 or the plan"},
	},
	Validate: validateTapLinks,
	Predict:  predictTapLinks,
	Form:     tapLinksForm,
	Judge:    judgeTapLinks,
})

func validateTapLinks(p *plan.Plan, c *plan.Check, g *tapLinks, say plan.Say) {
	needHVVolts(p, "hv_from", g.HVFrom, say)
	g.Band.validate("band", say)
	if g.Band != nil && g.Band.Standard != "" && g.Board == "" {
		say("board", "missing: a published band is drawn around a board's nominal volts")
	}
	t := p.Transformer(g.Transformer)
	if t == nil {
		return
	}
	if len(t.Taps) == 0 {
		say("transformer", "%s has no tap list: give its positions with their HV volts", t.ID)
		return
	}
	if g.from(p) == "" {
		say("from", "missing: neither given here nor as the tap of transformer %s", t.ID)
	}
	needTap(p, "from", g.Transformer, g.From, say)
	needTap(p, "to", g.Transformer, g.To, say)
	from, to := t.TapAt(g.from(p)), t.TapAt(g.To)
	if from != nil && to != nil && g.Purpose != "" && g.aim() != direction(from, to) {
		say("purpose", "%s, but %s", g.Purpose, change(from, to))
	}
}

func (g *tapLinks) from(p *plan.Plan) string {
	if t := p.Transformer(g.Transformer); g.From == "" && t != nil {
		return t.Tap
	}
	return g.From
}

// aim is the direction the purpose asks of the LV volts: 1 up, -1 down, 0 none.
func (g *tapLinks) aim() int {
	return map[string]int{"raise-lv": 1, "lower-lv": -1}[g.Purpose]
}

// direction is where the LV volts go with a change of tap: the same HV volts on
// a tap of lower HV volts give more LV volts.
func direction(from, to *plan.Tap) int {
	switch {
	case to.HV < from.HV:
		return 1
	case to.HV > from.HV:
		return -1
	}
	return 0
}

// lvGoes is what a change of tap does to the LV volts.
var lvGoes = map[int]string{1: "raised", -1: "lowered", 0: "kept"}

// change says in words what a change of tap does to the LV volts.
func change(from, to *plan.Tap) string {
	what := map[int]string{1: "raises the LV volts", -1: "lowers the LV volts", 0: "leaves the LV volts as they were"}[direction(from, to)]
	return fmt.Sprintf("tap %s (%s) to tap %s (%s) %s", from.Position, quantity.Spell(float64(from.HV), "V"), to.Position, quantity.Spell(float64(to.HV), "V"), what)
}

func tapLinksForm(in checks.Input, g *tapLinks) []checks.Field {
	t := in.Plan.Transformer(g.Transformer)
	positions := plan.IDsOf(t.Taps, func(t plan.Tap) string { return t.Position })
	c, _ := in.Plan.Conductors()
	out := []checks.Field{whoField("who looked at the links")}
	for _, row := range []struct {
		name, keys string
		fields     [3]string
		example    string
	}{{"as found", "found", foundKeys, g.from(in.Plan)}, {"as left", "left", leftKeys, g.To}} {
		for i, key := range row.fields {
			out = append(out, checks.Field{Key: key, Label: c[i] + " " + row.name, Sort: checks.Choice, Options: positions, Need: true, Row: row.keys,
				Hint: "the position of the link, read at the link itself", Wanted: "planned " + row.example, Example: row.example})
		}
	}
	return out
}

// judgeTapLinks passes when the links of all three phases were found on one
// position and left on the plan's to. Found on another than the plan's from, such as
// after a change the wrong way, is told as what it is: what is left decides. With a
// purpose given, a change from the plan's from the other way fails and says so. It
// then shows, for every tap,
//
//	U_lv = U_hv · U_lv,rated / U_hv,tap
//
//	U_hv      HV line-to-line volts read, else the supply's usual  V
//	U_lv      rated no-load LV line-to-line volts                  V
//	U_hv,tap  HV volts of the tap                                  V
//
// and, for the tap left, the LV volts at the lowest and highest expected HV
// volts. Volts outside the band, or another tap nearer to the wanted volts, are
// cautions: the position is what the plan decides.
func judgeTapLinks(w *checks.Work, g *tapLinks) {
	t := w.Plan.Transformer(g.Transformer)
	from, left := t.TapAt(g.from(w.Plan)), t.TapAt(onAll(w, leftKeys))
	if at := onAll(w, foundKeys); at != "" && at != from.Position {
		foundElsewhere(w, at, from.Position)
	} else {
		positions(w, foundKeys, from.Position, "phases-found-apart")
	}
	positions(w, leftKeys, g.To, "phases-left-apart")
	if left != nil && w.Has(foundKeys[:]...) && g.Purpose != "" && g.aim() != direction(from, left) {
		w.Say(checks.Fail, "", "wrong-direction", checks.Word("purpose", g.Purpose), checks.Word("from", from.Position), checks.Num("from_hv", float64(from.HV), "V"),
			checks.Word("to", left.Position), checks.Num("to_hv", float64(left.HV), "V"), checks.Word("effect", lvGoes[direction(from, left)]))
	}
	if left == nil {
		left = t.TapAt(g.To)
	}
	hv, ok := w.Past(g.HVFrom, "value")
	if !ok && w.Plan.Plant.Supply != nil {
		hv, ok = calc.Datum("usual HV", float64(w.Plan.Plant.Supply.Usual), "V"), true
	}
	if ok {
		for i := range t.Taps {
			tap := &t.Taps[i]
			w.Show(fmt.Sprintf("lv_tap_%d", i+1), "LV volts at no load on tap "+tap.Position, "V", lvOn(t, tap, hv))
		}
	}
	if s := w.Plan.Plant.Supply; s != nil && s.Low != nil && s.High != nil {
		w.Show("lv_low", "LV volts on tap "+left.Position+" at the lowest HV volts", "V", lvOn(t, left, calc.Datum("lowest HV", float64(*s.Low), "V")))
		w.Show("lv_high", "LV volts on tap "+left.Position+" at the highest HV volts", "V", lvOn(t, left, calc.Datum("highest HV", float64(*s.High), "V")))
	}
	adviseTap(w, g, left)
}

// lvOn is the no-load LV line-to-line volts that HV volts give on a tap.
func lvOn(t *plan.Transformer, tap *plan.Tap, hv *calc.Expr) *calc.Expr {
	return hv.Mul(calc.Datum("rated LV", float64(t.LV), "V")).Div(calc.Datum("HV of tap "+tap.Position, float64(tap.HV), "V"))
}

// foundElsewhere tells links that were all found on one position other than the
// plan's.
func foundElsewhere(w *checks.Work, at, planned string) {
	for i, key := range foundKeys {
		f, _ := checks.FieldNamed(w.Form(), key)
		w.Want(checks.SameWord(key, foundKeys[(i+1)%3]), "found-alike", checks.Label("link", f), checks.Word("position", at), checks.Word("planned", planned))
	}
	w.Caution("found-elsewhere", checks.Word("position", at), checks.Word("planned", planned))
}

// positions judges the links of one row against the position planned for all; apart is
// the code that says that they differ.
func positions(w *checks.Work, keys [3]string, planned, apart string) {
	seen := map[string]bool{}
	for _, key := range keys {
		if !w.Has(key) {
			continue
		}
		seen[w.Word(key)] = true
		f, _ := checks.FieldNamed(w.Form(), key)
		w.Want(checks.WordIs(key, planned), "link-position", checks.Label("link", f), checks.Word("position", w.Word(key)), checks.Word("planned", planned))
	}
	if len(seen) > 1 {
		w.Say(checks.Fail, strings.Join(keys[:], " "), apart)
		w.Follows(keys[:]...)
	}
}

// onAll is the one position a row stands on, "" when the phases differ or one
// was not answered.
func onAll(w *checks.Work, keys [3]string) string {
	at := w.Word(keys[0])
	if w.Word(keys[1]) != at || w.Word(keys[2]) != at {
		return ""
	}
	return at
}
