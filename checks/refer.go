package checks

import (
	"math"
	"strings"
)

// liveCaution stands on every check taken on or near live conductors.
const liveCaution = "Live conductors. Local rules, the permit and the person licensed to decide come first. Use leads and probes fit for the circuit's category, and the protection the local rules ask for; keep the other hand and loose metal away; do not work alone where the rules forbid it."

// deadCaution stands on every check taken on plant that must be dead.
const deadCaution = "Only on plant proved dead and earthed under the permit. Stop if anything stands other than the permit says."

type sayFunc = func(key, format string, args ...any)

func needTransformer(p *Plan, key, id string, say sayFunc) {
	if id != "" && p.Transformer(id) == nil {
		say(key, "no transformer %q%s", id, nearest(id, idsOf(p.Plant.Transformers, func(t Transformer) string { return t.ID })))
	}
}

func needBoard(p *Plan, key, id string, say sayFunc) {
	if id != "" && p.Board(id) == nil {
		say(key, "no board %q%s", id, nearest(id, idsOf(p.Plant.Boards, func(b Board) string { return b.ID })))
	}
}

func needTap(p *Plan, key, transformer, tap string, say sayFunc) {
	t := p.Transformer(transformer)
	if t == nil || tap == "" {
		return
	}
	if t.TapAt(tap) == nil {
		say(key, "transformer %s has no tap %q%s", t.ID, tap, nearest(tap, idsOf(t.Taps, func(t Tap) string { return t.Position })))
	}
}

func needMeter(p *Plan, key, id string, say sayFunc) {
	if id != "" && p.Meter(id) == nil {
		say(key, "no instrument %q%s", id, nearest(id, idsOf(p.Meters, func(m Meter) string { return m.ID })))
	}
}

// needEarlier demands that id names a check of one of the kinds above c.
func needEarlier(p *Plan, c *Check, key, id, kinds string, say sayFunc) {
	if id == "" {
		return
	}
	var fit []string
	for _, d := range p.Checks() {
		if d == c {
			break
		}
		for _, k := range strings.Split(kinds, "|") {
			if d.Kind.Name == k {
				fit = append(fit, d.ID)
				if d.ID == id {
					return
				}
			}
		}
	}
	say(key, "no %s check %q above this one%s", strings.ReplaceAll(kinds, "|", " or "), id, nearest(id, fit))
}

// nominal is a board's nominal line-to-line volts, NaN for no board.
func (in Input) nominal(board string) float64 {
	b := in.Plan.Board(board)
	if b == nil {
		return math.NaN()
	}
	return float64(b.Nominal)
}

// transformerOnTap finds a transformer and the tap it stands on: the position
// an earlier tap-links check left, the plan's, or the nameplate's own. A
// transformer without a tap list stands on its rated HV volts.
func (in Input) transformerOnTap(id, planned, from string) (*Transformer, *Tap) {
	t := in.Plan.Transformer(id)
	if t == nil {
		return nil, nil
	}
	if left := in.leftTap(from); left != "" {
		return t, t.TapAt(left)
	}
	if planned == "" {
		planned = t.Tap
	}
	if planned == "" && len(t.Taps) == 0 {
		return t, &Tap{Position: "rated", HV: t.HV}
	}
	return t, t.TapAt(planned)
}

// leftTap is the one position an earlier tap-links check left on all phases, or
// "" when it was not taken or the phases differ.
func (in Input) leftTap(check string) string {
	left := in.Before[check].Answers
	a := left["left_l1"].Word
	if a == "" || left["left_l2"].Word != a || left["left_l3"].Word != a {
		return ""
	}
	return a
}
