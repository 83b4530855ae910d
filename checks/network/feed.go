package network

import "slices"

// Feed is one way in which a dead node could become live: over a device that does not carry but is no gap, from the sources behind it.
type Feed struct {
	Node    string   `json:"node"`
	Device  string   `json:"device"`
	Sources []string `json:"sources"`
	Through []string `json:"through,omitempty"` // transformers that it would pass from the low side to the high side, nearest the node first
}

// feeds lists the ways in which a node that is not isolated could become live. Behind the device everything without a gap counts as closed.
func (p *Plant) feeds(f frame, node int) []Feed {
	inside := p.from(node, p.perhaps(f))
	behind := p.gapless(f)
	way := p.ways(node, inside, p.perhaps(f))
	var out []Feed
	for _, d := range p.rim(inside, behind) {
		if p.net.Devices[d].gap(f[d]) {
			continue
		}
		near, far := p.ends[d][0], p.ends[d][1]
		if !inside[near] {
			near, far = far, near
		}
		fed := make([]bool, len(inside))
		fed[far] = true
		p.spread(fed, behind, inside)
		x := Feed{Node: p.net.Nodes[node].ID, Device: p.net.Devices[d].ID}
		for i, s := range p.net.Sources {
			if p.supply[i] && fed[p.at[i]] {
				x.Sources = append(x.Sources, s.ID)
			}
		}
		slices.Sort(x.Sources)
		for n := near; n != node; n = p.other(way[n], n) {
			if e := p.ends[way[n]]; p.net.Devices[way[n]].transformer() && e[1] == n {
				x.Through = append(x.Through, p.net.Devices[way[n]].ID)
			}
		}
		slices.Reverse(x.Through) // found from the device inwards
		out = append(out, x)
	}
	return out
}

// ways gives for each node inside the device over which a shortest way from the start comes to it.
func (p *Plant) ways(start int, inside []bool, over pass) map[int]int {
	way := map[int]int{start: -1}
	for todo := []int{start}; len(todo) > 0; todo = todo[1:] {
		n := todo[0]
		for _, d := range p.near[n] {
			m := p.other(d, n)
			if _, met := way[m]; met || !inside[m] || !over(d) {
				continue
			}
			way[m] = d
			todo = append(todo, m)
		}
	}
	return way
}

// cutting gives the steps that would cut a node off: of each device nearest it that can be a gap and lets a supply through by the reading asked,
// what it lacks of a locked gap; of a charged capacitor, its discharge.
func (p *Plant) cutting(f frame, m Memory, node int, through pass) []Step {
	fixed := func(d int) bool { return !p.net.Devices[d].isolates() && !p.net.Devices[d].withdraws() }
	var out []Step
	for _, d := range p.border(node, fixed, through) {
		if through(d) {
			out = append(out, p.net.Devices[d].isolate(f[d])...)
		}
	}
	joined := p.from(node, p.perhaps(f))
	for i, s := range p.net.Sources {
		if !p.supply[i] && m.Charged[s.ID] && joined[p.at[i]] {
			out = append(out, Step{Act: ActDischarge, Source: s.ID})
		}
	}
	return out
}

// forward marks what the sources that count reach when transformers pass from the high side to the low side alone, but those that the plan
// lets be fed backwards.
func (p *Plant) forward(over pass, counts func(source int) bool) []bool {
	marked := make([]bool, len(p.net.Nodes))
	var todo []int
	for i, n := range p.at {
		if counts(i) && !marked[n] {
			marked[n] = true
			todo = append(todo, n)
		}
	}
	for len(todo) > 0 {
		n := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		for _, d := range p.near[n] {
			m, x := p.other(d, n), p.net.Devices[d]
			backwards := x.transformer() && !x.BackFeed && p.ends[d][1] == n
			if marked[m] || backwards || !over(d) {
				continue
			}
			marked[m] = true
			todo = append(todo, m)
		}
	}
	return marked
}

// backFed names the transformers whose high side is live with nothing but transformers fed backwards between it and every source.
func (p *Plant) backFed(f frame, m Memory) []string {
	over := p.carrying(f)
	live := make([]bool, len(p.net.Nodes))
	counts := p.counts(m)
	for i, n := range p.at {
		live[n] = live[n] || counts(i)
	}
	p.spread(live, over, nil)
	return p.devices(p.onlyBack(live, p.forward(over, counts)))
}

// onlyBack gives the transformers whose high side is live and not live forwards.
func (p *Plant) onlyBack(live, forward []bool) []int {
	var out []int
	for d, x := range p.net.Devices {
		high := p.ends[d][0]
		if x.transformer() && !x.BackFeed && live[high] && !forward[high] {
			out = append(out, d)
		}
	}
	return out
}
