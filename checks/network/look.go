package network

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// View is what a state of the plant comes to.
type View struct {
	Nodes    []NodeView `json:"nodes"`    // in the order of the network
	Parallel [][]string `json:"parallel"` // supplies joined, two or more
	Loops    [][]string `json:"loops"`    // transformers on one live loop, two or more; supplies count as tied behind their terminals
	BackFed  []string   `json:"back_fed"` // transformers with the high side live from the low side alone, though the plan does not let them
}

// NodeView is what a state comes to at one node. Names are sorted.
type NodeView struct {
	ID         string   `json:"id"`
	Supply     []string `json:"supply"`   // supplies that reach it
	Live       []string `json:"live"`     // sources that reach it, charged capacitors too
	MayLive    []string `json:"may_live"` // the same with unknown positions closed
	Isolated   bool     `json:"isolated"`
	Gaps       []string `json:"gaps"` // of an isolated node: those nearest with a supply behind
	Secured    bool     `json:"secured"`
	Points     []string `json:"points"` // of a secured node: its points of isolation
	Earths     []string `json:"earths"` // that earth it
	MayEarthed bool     `json:"may_earthed"`
	Proved     bool     `json:"proved"` // dead, by a proof still good
}

// Node finds a node by its name; the zero view, which is never safe, when there is none.
func (v View) Node(id string) NodeView {
	i := slices.IndexFunc(v.Nodes, func(n NodeView) bool { return n.ID == id })
	if i < 0 {
		return NodeView{}
	}
	return v.Nodes[i]
}

// Look tells what a state comes to at a time.
func (p *Plant) Look(s State, m Memory, now time.Duration) View {
	return p.look(p.frame(s), m, now)
}

func (p *Plant) look(f frame, m Memory, now time.Duration) View {
	all := func(int) bool { return true }
	supplies := func(i int) bool { return p.supply[i] }
	sources := p.counts(m)
	carrying, perhaps := p.parts(p.carrying(f)), p.parts(p.perhaps(f))
	supply, live, may := p.reaching(carrying, supplies), p.reaching(carrying, sources), p.reaching(perhaps, sources)
	gapless, unsecured := p.parts(p.gapless(f)), p.parts(p.unsecured(f))
	fed, unlocked := p.reaching(gapless, supplies), p.reaching(unsecured, supplies)
	earths, perhapsEarthed := p.earths(f)
	gaps, points := bordersOf(gapless), bordersOf(unsecured)
	v := View{Nodes: make([]NodeView, len(p.net.Nodes))}
	for i, n := range p.net.Nodes {
		x := NodeView{
			ID: n.ID, Supply: supply(i), Live: live(i), MayLive: may(i), Isolated: len(fed(i)) == 0, Secured: len(unlocked(i)) == 0,
			Earths: earths(i), MayEarthed: perhapsEarthed(i), Proved: p.proved(m, n.ID, now),
		}
		if x.Isolated {
			x.Gaps = gaps(i, func() []string { return p.devices(p.border(i, p.gapless(f), all)) })
		}
		if x.Secured {
			x.Points = points(i, func() []string { return p.devices(p.border(i, p.unsecured(f), all)) })
		}
		v.Nodes[i] = x
	}
	v.Parallel = p.parallel(v)
	v.Loops = p.loops(f)
	v.BackFed = p.backFed(f, m)
	return v
}

// proved tells whether a proof at a node is still good.
func (p *Plant) proved(m Memory, node string, now time.Duration) bool {
	proof, ok := m.Proofs[node]
	return ok && holds(proof.At, now, p.net.Life.Proved, provedFor)
}

// reaching gives the names of the sources that stand in the same part as a node.
func (p *Plant) reaching(part []int, counts func(source int) bool) func(node int) []string {
	names := map[int][]string{}
	for i, s := range p.net.Sources {
		if counts(i) {
			at := part[p.at[i]]
			names[at] = append(names[at], s.ID)
		}
	}
	for _, list := range names {
		slices.Sort(list)
	}
	return func(node int) []string { return names[part[node]] }
}

// earths gives the earths closed in a node's part, and tells whether one may be closed there.
func (p *Plant) earths(f frame) (func(node int) []string, func(node int) bool) {
	sure, perhaps := p.parts(p.flat(p.carrying(f))), p.parts(p.flat(p.perhaps(f)))
	names, may := map[int][]string{}, map[int]bool{}
	for _, d := range p.earthed {
		n := p.ends[d][0]
		if f[d].closed() {
			names[sure[n]] = append(names[sure[n]], p.net.Devices[d].ID)
		}
		if !f[d].open() {
			may[perhaps[n]] = true
		}
	}
	for _, list := range names {
		slices.Sort(list)
	}
	return func(node int) []string { return names[sure[node]] }, func(node int) bool { return may[perhaps[node]] }
}

// border gives the devices on the edge of what is joined to a node: those that do not pass, with a supply behind them by another way.
func (p *Plant) border(node int, inside, behind pass) []int {
	return p.rim(p.from(node, inside), behind)
}

// rim is border for what is marked already.
func (p *Plant) rim(inside []bool, behind pass) []int {
	fed := make([]bool, len(inside))
	for i, n := range p.at {
		fed[n] = fed[n] || p.supply[i] && !inside[n]
	}
	p.spread(fed, behind, inside)
	var out []int
	for d, e := range p.ends {
		if inside[e[0]] != inside[e[1]] && (fed[e[0]] || fed[e[1]]) {
			out = append(out, d)
		}
	}
	return out
}

// bordersOf asks once for each part: all its nodes have the same border.
func bordersOf(part []int) func(node int, ask func() []string) []string {
	seen := map[int][]string{}
	return func(node int, ask func() []string) []string {
		list, ok := seen[part[node]]
		if !ok {
			list = ask()
			seen[part[node]] = list
		}
		return list
	}
}

// devices gives the names of devices, sorted.
func (p *Plant) devices(list []int) []string {
	out := make([]string, len(list))
	for i, d := range list {
		out[i] = p.net.Devices[d].ID
	}
	slices.Sort(out)
	return out
}

// parallel gives the sets of two or more supplies that some node is live from.
func (p *Plant) parallel(v View) [][]string {
	var out [][]string
	for _, n := range v.Nodes {
		if len(n.Supply) > 1 {
			out = append(out, n.Supply)
		}
	}
	slices.SortFunc(out, slices.Compare)
	return slices.CompactFunc(out, slices.Equal)
}

// counts tells of a source whether it makes live: a supply always, a capacitor while it is charged.
func (p *Plant) counts(m Memory) func(source int) bool {
	return func(i int) bool { return p.supply[i] || m.Charged[p.net.Sources[i].ID] }
}

// startFaults names the nodes that may be live and earthed in the normal standing.
func (p *Plant) startFaults() Problems {
	s, m := p.Start()
	var out Problems
	for i, n := range p.look(p.frame(s), m, 0).Nodes {
		if len(n.MayLive) > 0 && n.MayEarthed {
			out = append(out, Problem{fmt.Sprintf("nodes[%d]", i+1), fmt.Sprintf("%s may be live from %s and earthed at the start", n.ID, strings.Join(n.MayLive, ", ")), "one of the two"})
		}
	}
	return out
}
