package network

// Plant is a network that was found free of mistakes, laid out for searching. It is never changed.
type Plant struct {
	net     Network
	node    map[string]int
	device  map[string]int
	source  map[string]int
	ends    [][2]int // nodes of each device, in order; an earth has its node twice
	near    [][]int  // devices at each node, no earths
	at      []int    // node of each source
	supply  []bool   // of each source
	earthed []int    // the devices that earth
}

// New checks a network and lays it out. With problems there is no plant.
func New(n Network) (*Plant, Problems) {
	found := validate(n)
	if len(found) > 0 {
		return nil, found
	}
	p := layOut(n)
	if found = p.startFaults(); len(found) > 0 {
		return nil, found
	}
	return p, nil
}

// Network is what the plant was made of.
func (p *Plant) Network() Network { return p.net }

func layOut(n Network) *Plant {
	p := &Plant{net: n, node: map[string]int{}, device: map[string]int{}, source: map[string]int{}, near: make([][]int, len(n.Nodes))}
	for i, x := range n.Nodes {
		p.node[x.ID] = i
	}
	for i, d := range n.Devices {
		p.device[d.ID] = i
		a, b := p.node[d.Between[0]], p.node[d.Between[len(d.Between)-1]]
		p.ends = append(p.ends, [2]int{a, b})
		if d.earths() {
			p.earthed = append(p.earthed, i)
			continue
		}
		p.near[a], p.near[b] = append(p.near[a], i), append(p.near[b], i)
	}
	for i, s := range n.Sources {
		p.source[s.ID] = i
		p.at = append(p.at, p.node[s.At])
		p.supply = append(p.supply, s.Kind != Capacitor)
	}
	return p
}

// frame is the standing of each device in the order of the network, for one look.
type frame []Standing

func (p *Plant) frame(s State) frame {
	f := make(frame, len(p.net.Devices))
	for i, d := range p.net.Devices {
		f[i] = s[d.ID]
	}
	return f
}

// pass tells of a device, by its number, whether a search goes over it.
type pass func(device int) bool

// The searches. Each is one reading of what lets through.
func (p *Plant) carrying(f frame) pass {
	return func(d int) bool { return p.net.Devices[d].carries(f[d]) }
}

func (p *Plant) perhaps(f frame) pass {
	return func(d int) bool { return p.net.Devices[d].mayCarry(f[d]) }
}

func (p *Plant) gapless(f frame) pass {
	return func(d int) bool { return !p.net.Devices[d].gap(f[d]) }
}

func (p *Plant) unsecured(f frame) pass {
	return func(d int) bool { return !p.net.Devices[d].secured(f[d]) }
}

// flat is a search that stops at transformers, as earth does.
func (p *Plant) flat(over pass) pass {
	return func(d int) bool { return !p.net.Devices[d].transformer() && over(d) }
}

// other is the node across a device.
func (p *Plant) other(device, node int) int {
	if p.ends[device][0] == node {
		return p.ends[device][1]
	}
	return p.ends[device][0]
}

// spread marks what is reached from the nodes already marked, over devices that pass, entering no node that is barred.
func (p *Plant) spread(marked []bool, over pass, barred []bool) {
	var todo []int
	for n, yes := range marked {
		if yes {
			todo = append(todo, n)
		}
	}
	for len(todo) > 0 {
		n := todo[len(todo)-1]
		todo = todo[:len(todo)-1]
		for _, d := range p.near[n] {
			m := p.other(d, n)
			if marked[m] || barred != nil && barred[m] || !over(d) {
				continue
			}
			marked[m] = true
			todo = append(todo, m)
		}
	}
}

// from marks what is reached from one node.
func (p *Plant) from(node int, over pass) []bool {
	marked := make([]bool, len(p.net.Nodes))
	marked[node] = true
	p.spread(marked, over, nil)
	return marked
}

// parts numbers the nodes: those with one number are joined over devices that pass.
func (p *Plant) parts(over pass) []int {
	up := make([]int, len(p.net.Nodes))
	for i := range up {
		up[i] = i
	}
	top := func(n int) int {
		for up[n] != n {
			up[n] = up[up[n]]
			n = up[n]
		}
		return n
	}
	for d, e := range p.ends {
		if !p.net.Devices[d].earths() && over(d) {
			up[top(e[0])] = top(e[1])
		}
	}
	for i := range up {
		up[i] = top(i)
	}
	return up
}

// charge charges every capacitor that a supply, or another charged capacitor, may reach. It tells whether one was not charged before.
func (p *Plant) charge(f frame, m Memory) bool {
	part := p.parts(p.perhaps(f))
	hot := map[int]bool{}
	for i, s := range p.net.Sources {
		hot[part[p.at[i]]] = hot[part[p.at[i]]] || p.supply[i] || m.Charged[s.ID]
	}
	changed := false
	for i, s := range p.net.Sources {
		if !p.supply[i] && hot[part[p.at[i]]] {
			changed = changed || !m.Charged[s.ID]
			m.Charged[s.ID] = true
		}
	}
	return changed
}
