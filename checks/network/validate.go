package network

import (
	"fmt"
	"slices"
	"strings"
)

// Problem is one mistake in a network: where, the value met, what is accepted. Lists count from 1.
type Problem struct {
	Path     string `json:"path"`
	Met      string `json:"met"`
	Accepted string `json:"accepted"`
}

// Problems is every mistake found, in the order of the network.
type Problems []Problem

func (p Problems) Error() string {
	var lines []string
	for _, q := range p {
		lines = append(lines, fmt.Sprintf("%s: %s: accepted is %s", q.Path, q.Met, q.Accepted))
	}
	return strings.Join(lines, "\n")
}

// reader goes through a network and notes what is wrong.
type reader struct {
	net     Network
	nodes   map[string]Node
	devices map[string]Device
	found   Problems
}

func (r *reader) note(path, met, accepted string) {
	r.found = append(r.found, Problem{path, met, accepted})
}

// validate names each mistake of a network, what a search would fall over first.
func validate(n Network) Problems {
	r := &reader{net: n, nodes: map[string]Node{}, devices: map[string]Device{}}
	r.readNodes()
	for i, d := range n.Devices {
		path := fmt.Sprintf("devices[%d]", i+1)
		r.name(path, d.ID, r.devices[d.ID].ID != "")
		if d.ID == InHand {
			r.note(path+".id", InHand, "another name: this one says where a key is")
		}
		r.devices[d.ID] = d
		r.device(path, d)
		r.normal(path+".normal", d)
	}
	r.readSources()
	for i, x := range n.Interlocks {
		r.interlock(fmt.Sprintf("interlocks[%d]", i+1), x)
	}
	r.readKeys()
	if n.Life.Proved < 0 {
		r.note("life.proved", n.Life.Proved.String(), "no time below zero")
	}
	if n.Life.Phased < 0 {
		r.note("life.phased", n.Life.Phased.String(), "no time below zero")
	}
	return r.found
}

func (r *reader) name(path, id string, twice bool) {
	if id == "" {
		r.note(path+".id", "empty", "a name")
	} else if twice {
		r.note(path+".id", id+" twice", "each name once")
	}
}

func (r *reader) node(path, id string) bool {
	_, ok := r.nodes[id]
	if !ok {
		r.note(path, fmt.Sprintf("unknown node %q", id), "a node of the network")
	}
	return ok
}

func (r *reader) readNodes() {
	if len(r.net.Nodes) == 0 {
		r.note("nodes", "none", "one or more")
	}
	for i, x := range r.net.Nodes {
		r.name(fmt.Sprintf("nodes[%d]", i+1), x.ID, r.nodes[x.ID].ID != "")
		r.nodes[x.ID] = x
	}
}

func (r *reader) readSources() {
	seen := map[string]bool{}
	for i, s := range r.net.Sources {
		path := fmt.Sprintf("sources[%d]", i+1)
		r.name(path, s.ID, seen[s.ID])
		seen[s.ID] = true
		r.node(path+".at", s.At)
		if s.Kind != "" && s.Kind != Supply && s.Kind != Capacitor {
			r.note(path+".kind", string(s.Kind), "supply, capacitor")
		}
		if s.Charged && s.Kind != Capacitor {
			r.note(path+".charged", "a supply", "a capacitor")
		}
	}
}

// device checks what a device joins and what is said of its kind.
func (r *reader) device(path string, d Device) {
	if !slices.Contains(kinds, d.Kind) {
		r.note(path+".kind", fmt.Sprintf("%q", d.Kind), fmt.Sprint(kinds))
		return
	}
	ends := 2
	if d.earths() {
		ends = 1
	}
	known := len(d.Between) == ends
	if !known {
		r.note(path+".between", fmt.Sprintf("%d nodes at a device of kind %s", len(d.Between), d.Kind), fmt.Sprint(ends))
	}
	for i, id := range d.Between {
		known = r.node(fmt.Sprintf("%s.between[%d]", path, i+1), id) && known
	}
	if known && ends == 2 {
		r.join(path+".between", d)
	}
	fixed := d.earths() || d.transformer()
	if fixed && d.Isolates != nil {
		r.note(path+".isolates", string(d.Kind), "a device that opens")
	}
	if fixed && d.Withdraws != nil {
		r.note(path+".withdraws", string(d.Kind), "a device that opens")
	}
	if fixed && d.Breaks != "" {
		r.note(path+".breaks", string(d.Kind), "a device that opens")
	}
	if !slices.Contains([]Break{"", BreaksNothing, BreaksCharging, BreaksLoad}, d.Breaks) {
		r.note(path+".breaks", string(d.Breaks), "nothing, charging, load")
	}
	if d.BackFeed && !d.transformer() {
		r.note(path+".back_feed", string(d.Kind), "a transformer")
	}
}

// join checks the voltages of the two sides of a device.
func (r *reader) join(path string, d Device) {
	a, b := r.nodes[d.Between[0]], r.nodes[d.Between[1]]
	switch {
	case a.ID == b.ID:
		r.note(path, "the same node twice", "two nodes")
	case d.transformer() && a.Low && !b.Low:
		r.note(path, "low side above 1 kV, high side up to 1 kV", "the high side first")
	case !d.transformer() && a.Low != b.Low:
		r.note(path, "one side above 1 kV, one up to 1 kV", "both above or both up to 1 kV, or a transformer")
	}
}

// normal checks the standing at the start.
func (r *reader) normal(path string, d Device) {
	s := d.Normal
	if d.transformer() {
		if s.open() || s.Pos == Unknown || s.Place != "" && s.Place != Service || len(s.Locks) > 0 {
			r.note(path, "a transformer that does not carry", "nothing: it always does")
		}
		return
	}
	if !slices.Contains([]Position{"", Open, Closed, Unknown}, s.Pos) {
		r.note(path+".pos", string(s.Pos), "open, closed, unknown")
	}
	if !slices.Contains([]Place{"", Service, Test, Withdrawn}, s.Place) {
		r.note(path+".place", string(s.Place), "service, test, withdrawn")
	}
	if (s.Place == Test || s.Place == Withdrawn) && (!d.withdraws() || d.earths()) {
		r.note(path+".place", string(s.Place), "service: it does not withdraw")
	}
	if s.Place == Withdrawn && !s.open() {
		r.note(path+".pos", fmt.Sprintf("%q, withdrawn", s.Pos), "open: no closed device withdraws")
	}
	for i, l := range s.Locks {
		if l == "" || slices.Contains(s.Locks[:i], l) {
			r.note(fmt.Sprintf("%s.locks[%d]", path, i+1), fmt.Sprintf("%q", l), "the number of each lock once")
		}
	}
	if len(s.Locks) > 0 && s.unknown() {
		r.note(path+".pos", fmt.Sprintf("%q with a lock on", s.Pos), "open, closed")
	}
}

// condition checks what an interlock needs or what frees a key.
func (r *reader) condition(path string, c Condition) {
	d, ok := r.devices[c.Device]
	if !ok {
		r.note(path+".device", fmt.Sprintf("unknown device %q", c.Device), "a device of the network")
		return
	}
	if c.Pos == "" && c.Place == "" {
		r.note(path, "no position and no place", "one or both")
	}
	if !slices.Contains([]Position{"", Open, Closed}, c.Pos) {
		r.note(path+".pos", string(c.Pos), "open, closed")
	}
	if !slices.Contains([]Place{"", Service, Test, Withdrawn}, c.Place) {
		r.note(path+".place", string(c.Place), "service, test, withdrawn")
	}
	if d.transformer() || (c.Place == Test || c.Place == Withdrawn) && !d.Can(ActWithdraw) {
		r.note(path, "a standing that "+d.ID+" never has", "one that it can be brought to")
	}
}

func (r *reader) interlock(path string, x Interlock) {
	d, ok := r.devices[x.Device]
	if !ok {
		r.note(path+".device", fmt.Sprintf("unknown device %q", x.Device), "a device of the network")
	} else if !slices.Contains(moves, x.Act) || !d.Can(x.Act) {
		r.note(path+".act", fmt.Sprintf("%q on a device of kind %s", x.Act, d.Kind), "an act that moves it")
	}
	r.condition(path+".needs", x.Needs)
}

func (r *reader) readKeys() {
	seen := map[string]bool{}
	for i, k := range r.net.Keys {
		path := fmt.Sprintf("keys[%d]", i+1)
		r.name(path, k.ID, seen[k.ID])
		seen[k.ID] = true
		if _, ok := r.devices[k.Home]; !ok {
			r.note(path+".home", fmt.Sprintf("unknown device %q", k.Home), "a device of the network")
		} else if _, ok := k.of(k.Home); !ok {
			r.note(path+".home", k.Home, "a device named in free")
		}
		for j, c := range k.Free {
			sub := fmt.Sprintf("%s.free[%d]", path, j+1)
			if other, _ := k.of(c.Device); other != c {
				r.note(sub+".device", c.Device+" twice", "each device once")
			}
			r.condition(sub, c)
		}
	}
}
