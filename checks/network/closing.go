package network

import "slices"

// earthOn judges an earth by the node it goes on.
func (t *trial) earthOn() {
	i := t.p.ends[t.d][0]
	n := t.before.Nodes[i]
	at := []string{n.ID}
	cure := t.p.cutting(t.was, t.old, i, t.p.gapless(t.was))
	if len(n.MayLive) > 0 {
		t.refuse(Refusal{Rule: RuleLiveEarth, Nodes: at, Sources: n.MayLive, Cure: cure})
	}
	if !n.Isolated {
		t.refuse(Refusal{Rule: RuleNotIsolated, Nodes: at, Feeds: t.p.feeds(t.was, i), Cure: cure})
	}
	if !n.Proved {
		t.unproved(n, "")
	}
}

func (t *trial) unproved(n NodeView, w Why) {
	if _, was := t.old.Proofs[n.ID]; was {
		w = WhyLapsed
	}
	t.refuse(Refusal{Rule: RuleNotProved, Why: w, Nodes: []string{n.ID}, Cure: []Step{{Act: ActProveDead, Node: n.ID}}})
}

// closing judges a close by which two nodes are joined. In test place, and over a device that was closed, nothing is.
func (t *trial) closing() {
	if !t.dev.carries(t.is[t.d]) || t.dev.carries(t.was[t.d]) {
		return
	}
	t.ontoEarth()
	t.joinsUnproved()
	t.parallel()
	t.backFeed()
}

// ontoEarth refuses what makes a node live and earthed, for certain or perhaps. Each reading is held against its own before: a fault that was
// possible hides none that becomes certain.
func (t *trial) ontoEarth() {
	r := Refusal{Rule: RuleOntoEarth}
	sure := func(n NodeView) bool { return len(n.Live) > 0 && len(n.Earths) > 0 }
	perhaps := func(n NodeView) bool { return len(n.MayLive) > 0 && n.MayEarthed }
	marked := make([]bool, len(t.after.Nodes))
	for i, n := range t.after.Nodes {
		was := t.before.Nodes[i]
		if sure(n) && !sure(was) || perhaps(n) && !perhaps(was) {
			marked[i] = true
			r.Nodes = append(r.Nodes, n.ID)
			r.Sources = append(r.Sources, n.MayLive...)
		}
	}
	if len(r.Nodes) == 0 {
		return
	}
	t.p.spread(marked, t.p.flat(t.p.perhaps(t.is)), nil)
	for _, d := range t.p.earthed {
		if !t.is[d].open() && marked[t.p.ends[d][0]] {
			r.Devices = append(r.Devices, t.p.net.Devices[d].ID)
			r.Cure = append(r.Cure, Step{Act: ActEarthOff, Device: t.p.net.Devices[d].ID})
		}
	}
	slices.Sort(r.Sources)
	r.Sources = slices.Compact(r.Sources)
	t.refuse(r)
}

// joinsUnproved refuses to earth a part by joining it to an earthed one, when it was not proved dead.
func (t *trial) joinsUnproved() {
	for _, i := range t.p.ends[t.d] {
		was, is := t.before.Nodes[i], t.after.Nodes[i]
		if len(is.Earths) > 0 && len(was.Earths) == 0 && len(was.MayLive) == 0 && !was.Proved {
			t.unproved(was, WhyJoining)
		}
	}
}

// parallel asks for phasing of every close with both sides live, from one supply or two: a ring may have crossed cores.
func (t *trial) parallel() {
	var from []string
	for _, i := range t.p.ends[t.d] {
		mine := t.supplies(t.before.Nodes[i].MayLive)
		if len(mine) == 0 {
			return
		}
		from = append(from, mine...)
	}
	phased, was := t.old.Phasings[t.dev.ID]
	if was && holds(phased.At, t.step.At, t.p.net.Life.Phased, phasedFor) {
		return
	}
	slices.Sort(from)
	r := Refusal{Rule: RuleParallel, Why: WhyNever, Nodes: t.dev.Between, Sources: slices.Compact(from), Cure: []Step{{Act: ActPhased, Device: t.dev.ID}}}
	if was {
		r.Why = WhyLapsed
	}
	if t.was[t.d].unknown() { // what may be closed cannot be phased across
		r.Cure = append([]Step{{Act: ActOpen, Device: t.dev.ID}}, r.Cure...)
	}
	t.refuse(r)
}

// supplies leaves the supplies among sources.
func (t *trial) supplies(list []string) []string {
	return slices.DeleteFunc(slices.Clone(list), func(id string) bool { return !t.p.supply[t.p.source[id]] })
}

// backFeed refuses a close by which the high side of a transformer becomes live with nothing but transformers fed backwards between it and every
// source. It may be two of them side by side.
func (t *trial) backFeed() {
	live := make([]bool, len(t.after.Nodes))
	for i := range live {
		live[i] = len(t.after.Nodes[i].MayLive) > 0 && len(t.before.Nodes[i].MayLive) == 0
	}
	for _, d := range t.p.onlyBack(live, t.p.forward(t.p.perhaps(t.is), t.p.counts(t.old))) {
		high := t.p.ends[d][0]
		r := Refusal{Rule: RuleBackFeed, Nodes: []string{t.p.net.Nodes[high].ID}, Devices: []string{t.p.net.Devices[d].ID}, Sources: t.after.Nodes[high].MayLive}
		beside := func(x int) bool { return !t.p.net.Devices[x].transformer() && x != t.d }
		inside := t.p.from(high, func(x int) bool { return beside(x) && t.p.perhaps(t.was)(x) })
		for _, x := range t.p.rim(inside, beside) {
			if beside(x) {
				r.Cure = append(r.Cure, Step{Act: ActClose, Device: t.p.net.Devices[x].ID})
			}
		}
		t.refuse(r)
	}
}

// offLoad refuses to move live what breaks no current, unless its ends stay joined by another way. A link is moved dead alone.
func (t *trial) offLoad() {
	if t.dev.breaks() != BreaksNothing || t.dev.mayCarry(t.was[t.d]) == t.dev.mayCarry(t.is[t.d]) {
		return
	}
	a, b := t.p.ends[t.d][0], t.p.ends[t.d][1]
	from := slices.Concat(t.before.Nodes[a].MayLive, t.before.Nodes[b].MayLive)
	if len(from) == 0 {
		return
	}
	carrying := t.p.flat(t.p.carrying(t.was))
	if t.dev.Kind != Link && t.p.from(a, func(d int) bool { return d != t.d && carrying(d) })[b] {
		return
	}
	slices.Sort(from)
	t.refuse(Refusal{Rule: RuleOffLoad, Nodes: t.dev.Between, Sources: slices.Compact(from)})
}
