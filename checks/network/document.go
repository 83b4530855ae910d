package network

import (
	"maps"
	"slices"
)

// issue puts a document in force over nodes that are made safe for it. It names the points and the earths that stand now.
func (t *trial) issue() {
	doc := Document{Type: t.step.Type, Nodes: slices.Compact(slices.Sorted(slices.Values(t.step.Nodes)))}
	if _, ok := t.old.Documents[t.step.Document]; ok {
		t.refuse(Refusal{Rule: RuleState, Why: WhyAlready, Document: t.step.Document})
	}
	known := t.step.Document != "" && len(doc.Nodes) > 0 && (doc.Type == Permit || doc.Type == TestSanction)
	for _, id := range doc.Nodes {
		i, ok := t.p.node[id]
		if !ok {
			known = false
			continue
		}
		t.safe(i)
		doc.Points = append(doc.Points, t.before.Nodes[i].Points...)
		doc.Earths = append(doc.Earths, t.before.Nodes[i].Earths...)
	}
	if !known {
		t.refuse(Refusal{Rule: RuleState, Why: WhyUnknown, Document: t.step.Document, Nodes: doc.Nodes})
	}
	for _, id := range slices.Sorted(maps.Keys(t.old.Documents)) {
		other := t.old.Documents[id]
		both := slices.DeleteFunc(slices.Clone(doc.Nodes), func(n string) bool { return !slices.Contains(other.Nodes, n) })
		if len(both) > 0 && (doc.Type == TestSanction || other.Type == TestSanction) {
			t.refuse(Refusal{Rule: RuleDocuments, Why: WhyMixed, Document: id, Nodes: both, Cure: ending(id, other)})
		}
	}
	slices.Sort(doc.Points)
	slices.Sort(doc.Earths)
	doc.Points, doc.Earths = slices.Compact(doc.Points), slices.Compact(doc.Earths)
	t.mem.Documents[t.step.Document] = doc
}

// ending gives the acts that take a document out of force.
func ending(id string, x Document) []Step {
	if x.Cleared {
		return []Step{{Act: ActCancel, Document: id}}
	}
	return []Step{{Act: ActClear, Document: id}, {Act: ActCancel, Document: id}}
}

// safe judges one node that a document is to be issued over.
func (t *trial) safe(i int) {
	n := t.before.Nodes[i]
	unsafe := func(r Refusal) {
		r.Rule, r.Nodes, r.Document = RuleNotSafe, []string{n.ID}, t.step.Document
		t.refuse(r)
	}
	cure := t.p.cutting(t.was, t.old, i, t.p.unsecured(t.was))
	if len(n.MayLive) > 0 {
		unsafe(Refusal{Why: WhyLive, Sources: n.MayLive, Cure: cure})
	}
	if !n.Secured {
		unsafe(Refusal{Why: WhyUnsecured, Feeds: t.p.feeds(t.was, i), Cure: cure})
	}
	if t.step.Type != Permit || len(n.Earths) > 0 {
		return
	}
	if low := t.p.net.Nodes[i].Low; !low {
		unsafe(Refusal{Why: WhyUnearthed, Cure: t.earthing(i)})
	} else if !n.Proved {
		unsafe(Refusal{Why: WhyUnproved, Cure: []Step{{Act: ActProveDead, Node: n.ID}}})
	}
}

// earthing gives the earths that could be put on at a node or at one joined to it.
func (t *trial) earthing(i int) []Step {
	var out []Step
	joined := t.p.from(i, t.p.flat(t.p.carrying(t.was)))
	for _, d := range t.p.earthed {
		if joined[t.p.ends[d][0]] {
			out = append(out, Step{Act: ActEarthOn, Device: t.p.net.Devices[d].ID})
		}
	}
	return out
}

// clear is the holder's word that the work is done; the document stays in force.
func (t *trial) clear() {
	doc, ok := t.old.Documents[t.step.Document]
	if !ok || doc.Cleared {
		w := WhyAlready
		if !ok {
			w = WhyUnknown
		}
		t.refuse(Refusal{Rule: RuleState, Why: w, Document: t.step.Document})
		return
	}
	doc.Cleared = true
	t.mem.Documents[t.step.Document] = doc
}

// cancel is the issuer's act that takes a cleared document out of force.
func (t *trial) cancel() {
	doc, ok := t.old.Documents[t.step.Document]
	switch {
	case !ok:
		t.refuse(Refusal{Rule: RuleState, Why: WhyUnknown, Document: t.step.Document})
	case !doc.Cleared:
		t.refuse(Refusal{Rule: RuleDocuments, Why: WhyNotCleared, Document: t.step.Document, Cure: []Step{{Act: ActClear, Document: t.step.Document}}})
	}
	delete(t.mem.Documents, t.step.Document)
}

// underDocuments refuses what takes from a document in force something that it counts on. Another point or earth that remains does not help:
// what it names stays as it was.
func (t *trial) underDocuments() {
	for _, id := range slices.Sorted(maps.Keys(t.old.Documents)) {
		doc := t.old.Documents[id]
		lost := map[Why][]string{}
		for _, name := range doc.Nodes {
			i, ok := t.p.node[name]
			if !ok { // a plan amended under a document: nothing is known of this node, so nothing moves
				lost[WhyUnknown] = append(lost[WhyUnknown], name)
				continue
			}
			was, is := t.before.Nodes[i], t.after.Nodes[i]
			lose := func(w Why, had, has bool) {
				if had && !has {
					lost[w] = append(lost[w], name)
				}
			}
			lose(WhyLive, len(was.MayLive) == 0, len(is.MayLive) == 0)
			lose(WhyIsolation, was.Isolated || was.Secured, (is.Isolated || !was.Isolated) && (is.Secured || !was.Secured))
			lose(WhyUnearthed, doc.Type == Permit && len(was.Earths) > 0, len(is.Earths) > 0)
		}
		for _, w := range []Why{WhyUnknown, WhyLive, WhyIsolation, WhyUnearthed} {
			if len(lost[w]) > 0 {
				t.refuse(Refusal{Rule: RuleUnderDocument, Why: w, Document: id, Nodes: lost[w], Cure: ending(id, doc)})
			}
		}
		t.pinned(id, doc)
	}
}

// pinned refuses to move or free the points and earths that a document names. Under a sanction for test, earths are free.
func (t *trial) pinned(id string, doc Document) {
	was, is := t.was[t.d], t.is[t.d]
	r := Refusal{Rule: RuleUnderDocument, Document: id, Cure: ending(id, doc)}
	if slices.Contains(doc.Points, t.dev.ID) && t.dev.secured(was) && !t.dev.secured(is) {
		r.Why = WhyPoint
		t.refuse(r)
	}
	freed := was.closed() && !is.closed() || len(was.Locks) > 0 && len(is.Locks) == 0
	if doc.Type == Permit && slices.Contains(doc.Earths, t.dev.ID) && freed {
		r.Why = WhyEarth
		t.refuse(r)
	}
}
