package kinds

import (
	"fmt"

	"handback/checks"
	"handback/checks/plan"
	"handback/checks/power"
	"handback/checks/quantity"
)

// connection is the winding's letter, D, Y or Z, and whether its neutral is out.
func (g *windingResistance) connection(t *plan.Transformer) (letter byte, neutral bool) {
	v, err := power.ParseGroup(t.Group)
	if err != nil {
		return 'D', false // already noted
	}
	if g.Winding == "hv" {
		return v.HV, v.HVNeutral
	}
	return v.LV, v.LVNeutral
}

// terminals are the keys and labels of the three readings of a winding.
func (g *windingResistance) terminals(p *plan.Plan, t *plan.Transformer) (keys, labels [3]string) {
	c, n := p.Conductors()
	_, out := g.connection(t)
	if g.Between == "neutral" || g.Between == "" && out {
		return phaseKeys, [3]string{c[0] + "-" + n, c[1] + "-" + n, c[2] + "-" + n}
	}
	return lineKeys, [3]string{c[0] + "-" + c[1], c[1] + "-" + c[2], c[2] + "-" + c[0]}
}

// unit is what the readings are typed and shown in.
func (g *windingResistance) unit() string {
	if g.Winding == "lv" {
		return "mΩ"
	}
	return "Ω"
}

// reads lists the tap positions of the readings; the LV winding has none.
func (g *windingResistance) reads(in checks.Input) []tapRead {
	if g.Winding == "lv" {
		return []tapRead{{}}
	}
	return tapReads(in, g.Transformer, &g.tapChoice)
}

// makerAt is the maker's resistance on a tap, nil when there is none.
func (g *windingResistance) makerAt(tap *plan.Tap) *makerResistance {
	for i, m := range g.Maker {
		if m.Tap == "" || tap != nil && m.Tap == tap.Position {
			return &g.Maker[i]
		}
	}
	return nil
}

// makerLimit holds a referred resistance to the maker's, in the readings' unit.
func (g *windingResistance) makerLimit(m *makerResistance) *checks.Limit {
	r, share := quantity.FromBase(float64(m.Value), g.unit()), float64(*g.Tolerance)/100
	return checks.Between(r*(1-share), r*(1+share), g.Source)
}

// makerResistance is the maker's resistance on one tap.
type makerResistance struct {
	Tap   string       `plan:"tap" doc:"tap position it is for; left out where the check is on one"`
	Value quantity.Ohm `plan:"value,need,pos" doc:"resistance of each phase at the reference temperature, such as 0.512 Ω"`
}

func (g *windingResistance) validateMaker(p *plan.Plan, t *plan.Transformer, say plan.Say) {
	if len(g.Maker) == 0 {
		if g.Tolerance != nil || g.Source != "" {
			say("maker", "missing: tolerance and source belong to the maker's resistances")
		}
		return
	}
	if g.Tolerance == nil {
		say("tolerance", "missing: how far a reading may deviate from the maker's resistance")
	} else if *g.Tolerance >= 100 {
		say("tolerance", "%v %% is no tolerance: a few per cent are", float64(*g.Tolerance))
	}
	if g.Source == "" {
		say("source", "missing: the maker's document that gives the resistances")
	}
	seen := map[string]bool{}
	for i, m := range g.Maker {
		key := fmt.Sprintf("maker[%d].tap", i+1)
		switch {
		case g.several() && m.Tap == "":
			say(key, "missing: the check is on several taps")
		case m.Tap != "" && g.Winding == "lv":
			say(key, "not for the lv winding: the taps are on the HV side")
		case seen[m.Tap]:
			say(key, "%q stands twice: one resistance a tap", m.Tap)
		}
		seen[m.Tap] = true
		needTap(p, key, t.ID, m.Tap, say)
	}
	if seen[""] && len(g.Maker) > 1 {
		say("maker", "a resistance for no tap stands beside others: say which tap each is for")
	}
}
