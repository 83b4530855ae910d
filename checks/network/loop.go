package network

import "slices"

// edge is one edge of the graph of what carries; one to the common point behind the supplies has device -1.
type edge struct{ a, b, device int }

// loops gives the transformers that lie on one live loop, in groups of two or more: they share load and may circulate current. All supplies
// count as tied behind their terminals.
//
// Two edges lie on one loop when they are in the same block of the graph (Tarjan 1972: a block ends where nothing below a node reaches back above
// it). The search begins at the common point, so it meets live plant alone.
func (p *Plant) loops(f frame) [][]string {
	g := blocks{root: len(p.net.Nodes), near: make([][]int, len(p.net.Nodes)+1), low: make([]int, len(p.net.Nodes)+1), met: make([]int, len(p.net.Nodes)+1)}
	for i, n := range p.at {
		if p.supply[i] {
			g.join(g.root, n, -1)
		}
	}
	for d, e := range p.ends {
		if x := p.net.Devices[d]; !x.earths() && x.carries(f[d]) {
			g.join(e[0], e[1], d)
		}
	}
	g.found = func(block []edge) {
		var group []int
		for _, l := range block {
			if l.device >= 0 && p.net.Devices[l.device].transformer() {
				group = append(group, l.device)
			}
		}
		if len(group) > 1 {
			g.groups = append(g.groups, p.devices(group))
		}
	}
	g.visit(g.root, -1)
	slices.SortFunc(g.groups, slices.Compare)
	return g.groups
}

// blocks searches a graph for its blocks.
type blocks struct {
	root   int
	links  []edge
	near   [][]int // links at each node
	met    []int   // when each node was met, from 1
	low    []int   // the earliest node that a node's branch reaches back to
	clock  int
	stack  []int // links not yet in a block
	found  func([]edge)
	groups [][]string
}

func (g *blocks) join(a, b, device int) {
	i := len(g.links)
	g.links = append(g.links, edge{a, b, device})
	g.near[a], g.near[b] = append(g.near[a], i), append(g.near[b], i)
}

func (g *blocks) visit(n, by int) {
	g.clock++
	g.met[n], g.low[n] = g.clock, g.clock
	for _, l := range g.near[n] {
		m := g.links[l].a + g.links[l].b - n
		switch {
		case l == by:
		case g.met[m] == 0:
			depth := len(g.stack)
			g.stack = append(g.stack, l)
			g.visit(m, l)
			g.low[n] = min(g.low[n], g.low[m])
			if g.low[m] >= g.met[n] {
				block := make([]edge, 0, len(g.stack)-depth)
				for _, i := range g.stack[depth:] {
					block = append(block, g.links[i])
				}
				g.stack = g.stack[:depth]
				g.found(block)
			}
		case g.met[m] < g.met[n]:
			g.stack = append(g.stack, l)
			g.low[n] = min(g.low[n], g.met[m])
		}
	}
}
