package network

import "slices"

// proveDead takes a proof, but where the network says live: then the drawing or the tester is wrong.
func (t *trial) proveDead() {
	i, ok := t.p.node[t.step.Node]
	if !ok {
		t.refuse(Refusal{Rule: RuleState, Why: WhyUnknown, Nodes: []string{t.step.Node}})
		return
	}
	n := t.before.Nodes[i]
	if len(n.MayLive) > 0 {
		t.refuse(Refusal{Rule: RuleNoProof, Why: WhyLive, Nodes: []string{n.ID}, Sources: n.MayLive, Cure: t.p.cutting(t.was, t.old, i, t.p.gapless(t.was))})
	}
	t.mem.Proofs[n.ID] = Proof{At: t.step.At, By: t.step.By}
}

// discharge takes the charge of a capacitor, but while a supply may reach it. A supply always reaches itself.
func (t *trial) discharge() {
	i, ok := t.p.source[t.step.Source]
	if !ok {
		t.refuse(Refusal{Rule: RuleState, Why: WhyUnknown, Sources: []string{t.step.Source}})
		return
	}
	n := t.before.Nodes[t.p.at[i]]
	if on := t.supplies(n.MayLive); len(on) > 0 {
		t.refuse(Refusal{Rule: RuleNoProof, Why: WhyLive, Nodes: []string{n.ID}, Sources: on, Cure: t.p.cutting(t.was, t.old, t.p.at[i], t.p.gapless(t.was))})
	}
	t.mem.Charged[t.step.Source] = false
}

// phase takes a phasing across an open device with both sides live.
func (t *trial) phase() {
	a, b := t.before.Nodes[t.p.ends[t.d][0]], t.before.Nodes[t.p.ends[t.d][1]]
	if !t.was[t.d].open() {
		t.refuse(Refusal{Rule: RuleNoProof, Why: WhyNotOpen, Cure: []Step{{Act: ActOpen, Device: t.dev.ID}}})
	}
	var dead []string
	for _, n := range []NodeView{a, b} {
		if len(n.Supply) == 0 {
			dead = append(dead, n.ID)
		}
	}
	if len(dead) > 0 {
		t.refuse(Refusal{Rule: RuleNoProof, Why: WhyDead, Nodes: dead})
	}
	t.mem.Phasings[t.dev.ID] = Phasing{At: t.step.At, By: t.step.By, Supplies: [2][]string{a.Supply, b.Supply}}
}

// lapse drops the proofs and phasings that the new state ends.
func (t *trial) lapse() {
	before, after := t.p.parts(t.p.perhaps(t.was)), t.p.parts(t.p.perhaps(t.is))
	for id := range t.mem.Proofs {
		i, ok := t.p.node[id]
		if !ok { // of a plan since amended
			delete(t.mem.Proofs, id)
			continue
		}
		was, is := t.before.Nodes[i], t.after.Nodes[i]
		grown := false
		for n := range after {
			grown = grown || after[n] == after[i] && before[n] != before[i]
		}
		if grown || len(is.MayLive) > 0 || was.Isolated && !is.Isolated || len(was.Earths) > 0 && len(is.Earths) == 0 {
			delete(t.mem.Proofs, id)
		}
	}
	for id, x := range t.mem.Phasings {
		d, ok := t.p.device[id]
		if !ok {
			delete(t.mem.Phasings, id)
			continue
		}
		for side, n := range t.p.ends[d] {
			if !slices.Equal(t.after.Nodes[n].Supply, x.Supplies[side]) {
				delete(t.mem.Phasings, id)
			}
		}
	}
}
