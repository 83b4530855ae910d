package kinds

import (
	"fmt"
	"slices"
	"strings"

	"handback/checks"
	"handback/checks/plan"
)

// tapChoice says on which tap positions a check is taken.
type tapChoice struct {
	Tap     string   `plan:"tap" doc:"tap position it is taken on; the transformer's own when not given"`
	TapFrom string   `plan:"tap_from" ref:"tap-links" doc:"id of the tap-links check whose left position it is taken on"`
	Taps    []string `plan:"taps" doc:"the tap positions, when it is taken on several"`
	Every   bool     `plan:"every_tap" doc:"yes when it is taken on every position of the transformer"`
}

// tapRead is one tap position of a check: where its fields stand and what they
// are called. The tap is nil when it is not known.
type tapRead struct {
	prefix, name string
	tap          *plan.Tap
}

// given lists which of the four ways to name a position the plan uses.
func (g *tapChoice) given() []string {
	var out []string
	for key, is := range map[string]bool{"tap": g.Tap != "", "tap_from": g.TapFrom != "", "taps": g.Taps != nil, "every_tap": g.Every} {
		if is {
			out = append(out, key)
		}
	}
	slices.Sort(out)
	return out
}

func (g *tapChoice) validate(p *plan.Plan, transformer string, say plan.Say) {
	t := p.Transformer(transformer)
	if t == nil {
		return
	}
	if used := g.given(); len(used) > 1 {
		say(used[1], "%s are given: one of them says which tap positions are meant", strings.Join(used, " and "))
		return
	}
	needTap(p, "tap", transformer, g.Tap, say)
	if (g.Every || g.Taps != nil) && len(t.Taps) == 0 {
		say("", "transformer %s has no tap list: give its positions with their HV volts", t.ID)
		return
	}
	if g.Taps != nil && len(g.Taps) == 0 {
		say("taps", "none: at least one position is wanted")
	}
	for i, position := range g.Taps {
		key := fmt.Sprintf("taps[%d]", i+1)
		needTap(p, key, transformer, position, say)
		if slices.Contains(g.Taps[:i], position) {
			say(key, "%q stands twice: a position is taken once", position)
		}
	}
	if len(g.given()) == 0 && t.Tap == "" && len(t.Taps) > 0 {
		say("tap", "missing: neither given here nor as the tap of transformer %s", t.ID)
	}
}

// tapReads lists the tap positions a check is taken on, in the transformer's
// order. Several carry their number in the tap list in their fields' keys.
func tapReads(in checks.Input, transformer string, g *tapChoice) []tapRead {
	if !g.several() {
		_, tap := transformerOnTap(in, transformer, g.Tap, g.TapFrom)
		return []tapRead{{tap: tap}}
	}
	var out []tapRead
	t := in.Plan.Transformer(transformer)
	for i := range t.Taps {
		if tap := &t.Taps[i]; g.Every || slices.Contains(g.Taps, tap.Position) {
			out = append(out, tapRead{fmt.Sprintf("t%d_", i+1), "tap " + tap.Position + ", ", tap})
		}
	}
	return out
}

// words names the position, for a check on one as well.
func (r tapRead) words() string {
	if r.tap == nil {
		return "tap not known"
	}
	return "tap " + r.tap.Position
}

// several tells whether more than one position may be meant.
func (g *tapChoice) several() bool { return g.Every || g.Taps != nil }
